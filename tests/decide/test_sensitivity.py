from __future__ import annotations

import math

import pytest

from wearlab.core.errors import ArgumentError
from wearlab.decide.sensitivity import switching_value


def test_the_switch_lies_where_the_costs_are_equal() -> None:
    found = switching_value("price", 28.0, lambda p: {"a": 10.8 + (p + 3.6) / 12, "b": 11.4 + 31.6 / 30 + 31.6 / 80})
    assert found.then == "a"
    assert found.switch_at == pytest.approx(20.98, abs=0.005)
    assert found.factor == pytest.approx(found.switch_at / 28.0)


def test_the_nearer_of_two_switches_is_given() -> None:
    found = switching_value("x", 1.0, lambda x: {"a": 1.0, "b": 2.0 if 0.5 < x < 1.3 else 0.5})
    assert found.switch_at == pytest.approx(1.3, rel=1e-9)


def test_no_switch_within_reach_says_so() -> None:
    found = switching_value("x", 2.0, lambda x: {"a": 1.0, "b": 2.0 + x})
    assert math.isnan(found.switch_at)
    assert found.why_missing == "a stays the cheapest from 0.1 to 40"
    assert found.to_dict()["switch_at"] is None


def test_an_input_of_nothing_has_no_switch() -> None:
    assert switching_value("x", 0.0, lambda x: {"a": 1.0, "b": 2.0}).why_missing


def test_reach_must_be_above_1() -> None:
    with pytest.raises(ArgumentError, match="reach"):
        switching_value("x", 1.0, lambda x: {"a": 1.0, "b": 2.0}, reach=1.0)
