from __future__ import annotations

import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.shop import MEANINGS, STATED_IN_FILE, ShopCosts, read_cost_words, read_costs
from wearlab.logbook.settings import _SECTIONS


def test_missing_costs_are_asked_for_by_name_all_at_once() -> None:
    with pytest.raises(Refusal, match=r"change_min \(minutes to change.*; failure \(money that a cutter"):
        ShopCosts(machine_per_min=1.0).need("machine_per_min", "change_min", "failure")


def test_a_stated_zero_is_a_figure_and_not_missing() -> None:
    assert read_costs({"failure": 0}).figure("failure") == 0.0


def test_every_cost_has_a_meaning_and_the_file_knows_those_it_may_hold() -> None:
    assert set(MEANINGS) == set(ShopCosts.__slots__)
    assert set(STATED_IN_FILE) == set(_SECTIONS["cost"]) & set(MEANINGS) >= {"failure", "scrap"}


def test_what_stands_beside_the_file_counts_more() -> None:
    assert read_costs({"scrap": 35}, {"scrap": "20"}).scrap == 20.0


@pytest.mark.parametrize("value", ["-1", "abc", float("nan"), float("inf"), True])
def test_a_cost_that_is_no_amount_is_refused(value: object) -> None:
    with pytest.raises(ArgumentError, match="allowed: a number from 0"):
        read_costs({"scrap": value})


def test_an_unknown_cost_gets_the_nearest_name() -> None:
    with pytest.raises(ArgumentError, match="Did you mean change_min"):
        read_costs({"chang_min": 3})


def test_regrinds_are_whole() -> None:
    with pytest.raises(ArgumentError, match="whole number"):
        read_costs({"regrinds": 1.5})


def test_cost_words_need_an_equals_sign() -> None:
    with pytest.raises(ArgumentError, match="NAME=VALUE"):
        read_cost_words(("failure",))
