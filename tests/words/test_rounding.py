"""Figures rounded to what they support."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.interval import Interval
from wearlab.words.rounding import MISSING, decimals_for, fixed, kept_apart, p_text, quantity, range_text, significant


@pytest.mark.parametrize(
    ("estimate", "low", "high", "shown"),
    [
        (2.7888, 2.0922, 3.7765, "2.8"),
        (0.28260, 0.24620, 0.33571, "0.28"),
        (62.565, 59.597, 65.144, "63"),
        (1.1, 1.02, 1.19, "1.10"),
        (0.00162, 0.00129, 0.00184, "0.0016"),
        (12345.0, 11000.0, 14000.0, "12300"),
    ],
)
def test_an_estimate_is_printed_to_the_digits_of_its_interval(
    estimate: float, low: float, high: float, shown: str
) -> None:
    assert fixed(estimate, decimals_for(estimate, low, high)) == shown


def test_without_an_interval_three_digits_are_kept() -> None:
    assert fixed(48.1428, decimals_for(48.1428, -math.inf, math.inf)) == "48.1"


@given(st.floats(0.01, 1e4), st.floats(1.01, 10.0))
def test_rounding_moves_an_estimate_by_less_than_a_third_of_its_half_width(estimate: float, factor: float) -> None:
    low, high = estimate / factor, estimate * factor
    half = (high - low) / 2
    shown = float(fixed(estimate, decimals_for(estimate, low, high)))
    assert abs(shown - estimate) <= max(0.5 * half, 0.05 * estimate) + 1e-12


@given(st.floats(0.5, 3.0))
def test_a_figure_never_rounds_onto_one_unless_it_is_one(value: float) -> None:
    if abs(value - 1.0) > 1e-4:
        assert float(kept_apart(value, 0, (1.0,))) != 1.0


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_missing_figure_is_a_dash(value: float) -> None:
    assert significant(value) == fixed(value, 2) == quantity(value, "land") == MISSING


def test_open_sides_are_said() -> None:
    assert range_text(Interval(-math.inf, math.inf, 0.95, "t"), 1) == "anything is possible"
    assert range_text(Interval(0.15, math.inf, 0.95, "t"), 2) == "0.15 or more"
    assert range_text(Interval(0.0, 0.4, 0.95, "t"), 2, unit="times") == "anything up to 0.40 times"


@pytest.mark.parametrize(
    ("p", "text"), [(0.0, "< 0.001"), (0.00099, "< 0.001"), (0.0499, "0.050"), (0.3, "0.30"), (1.0, "1.00")]
)
def test_p_is_never_nothing(p: float, text: str) -> None:
    assert p_text(p) == text


@pytest.mark.parametrize(
    ("value", "kind", "inch"),
    [
        (25.4, "length", "1 in"),
        (0.254, "land", "10 thou"),
        (25.4, "deviation", "1 thou"),
        (30.48, "speed", "100 sfm"),
        (16.387064, "volume", "1 in³"),
        (0.3048, "cut_length", "1 ft"),
        (254.0, "feed_rate", "10 in/min"),
        (0.745699871582, "power", "1 hp"),
        (12.5, "minutes", "12.5 min"),
    ],
)
def test_units_of_the_inch_reader(value: float, kind: str, inch: str) -> None:
    """Factors exact by definition: inch 25.4 mm, foot 0.3048 m, cubic inch 16.387064 cm3."""
    assert quantity(value, kind, "inch") == inch


def test_a_rate_is_converted_in_both_of_its_units() -> None:
    assert quantity(0.0254, "land_per_minutes") == "25.4 µm/min"
    assert quantity(0.0254, "land_per_minutes", "inch") == "1 thou/min"
    assert quantity(0.0254, "land_per_volume", "inch") == f"{16.387064:.3g} thou/in³"
    assert quantity(0.001, "land_per_parts") == "1 µm/part"
