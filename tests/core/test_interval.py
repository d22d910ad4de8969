"""The one interval type: ends, maps, ratios, and no infinities in JSON."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level

ENDS = st.floats(-50, 50, allow_nan=False)


def test_ends_belong_to_contains_and_not_to_inside() -> None:
    interval = Interval(0.8, 1.25, 0.95, "t")
    assert interval.contains(0.8)
    assert interval.contains(1.25)
    assert not interval.contains(1.2500001)
    assert not interval.inside(0.8, 1.25)
    assert interval.inside(0.79, 1.26)
    assert not interval.inside(0.81, 1.26)
    assert not interval.inside(0.79, 1.24)


@given(ENDS, ENDS)
def test_a_falling_map_swaps_the_ends(a: float, b: float) -> None:
    interval = Interval(min(a, b), max(a, b), 0.9, "t")
    turned = interval.map(lambda x: -x)
    assert (turned.low, turned.high) == (-interval.high, -interval.low)
    assert (turned.level, turned.method) == (0.9, "t")
    raised = interval.map(lambda x: 2 * x + 1)
    assert (raised.low, raised.high) == (2 * interval.low + 1, 2 * interval.high + 1)


@given(ENDS, ENDS)
def test_exp_is_the_exponential_of_both_ends(a: float, b: float) -> None:
    ratio = Interval(min(a, b), max(a, b), 0.95, "t").exp()
    assert ratio.low == math.exp(min(a, b))
    assert ratio.high == math.exp(max(a, b))


def test_exp_of_an_unbounded_or_huge_end_is_no_error() -> None:
    ratio = Interval(-math.inf, 5000.0, 0.95, "t").exp()
    assert (ratio.low, ratio.high) == (0.0, math.inf)


def test_a_low_side_that_was_open_on_the_log_scale_stays_known_as_open() -> None:
    ratio = Interval(-math.inf, 0.5, 0.95, "t").exp()
    assert (ratio.low, ratio.unbounded) == (0.0, "low")
    assert ratio.to_dict()["low"] is None
    assert Interval(-math.inf, math.inf, 0.95, "t").exp().unbounded == "both"
    assert Interval(-3.0, 0.5, 0.95, "t").exp().unbounded is None


@pytest.mark.parametrize(
    ("low", "high", "word"), [(1, 2, None), (-math.inf, 2, "low"), (1, math.inf, "high"), (-math.inf, math.inf, "both")]
)
def test_json_names_the_side_that_is_unbounded(low: float, high: float, word: str | None) -> None:
    facts = Interval(low, high, 0.95, "t").to_dict()
    text = json.dumps(facts, allow_nan=False)
    assert json.loads(text)["unbounded"] == word
    assert (facts["low"] is None) == (word in ("low", "both"))
    assert (facts["high"] is None) == (word in ("high", "both"))


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1, 95.0, math.nan])
def test_what_is_no_level_is_refused(level: float) -> None:
    with pytest.raises(ArgumentError, match="confidence level"):
        check_level(level)


def test_a_level_passes_through() -> None:
    assert check_level(0.95) == 0.95
