"""Remaining life against closed forms and against cutters that were run on."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.decide.remaining import remaining_life


def test_weibull_in_closed_form() -> None:
    left = remaining_life("E7", 40.0, "weibull", [4.2], [0.25], 60.0)
    scale, shape = math.exp(4.2), 4.0
    expected = scale * ((40 / scale) ** shape + math.log(2)) ** (1 / shape) - 40
    assert left.median == pytest.approx(expected, rel=1e-6)
    assert left.chance_of_lasting(20.0) == pytest.approx(math.exp((40 / scale) ** 4 - (60 / scale) ** 4), rel=1e-9)


def test_a_memoryless_cutter_has_the_same_left_at_any_age() -> None:
    new, old = (remaining_life("E", age, "weibull", [4.0], [1.0]).median for age in (1e-9, 70.0))
    assert old == pytest.approx(new, rel=1e-6)


def test_the_interval_holds_what_happens() -> None:
    """Cutters of lognormal lives that were still good at 40: 90 % of them end inside."""
    rng = np.random.default_rng(8)
    lives = np.exp(4.0 + 0.3 * rng.standard_normal(200_000))
    survivors = lives[lives > 40.0] - 40.0
    limits = remaining_life("E", 40.0, "lognormal", [4.0], [0.3]).interval(0.9)
    assert np.mean((survivors > limits.low) & (survivors < limits.high)) == pytest.approx(0.9, abs=0.005)


def test_laws_that_the_age_speaks_against_count_less() -> None:
    both = remaining_life("E", 60.0, "lognormal", [3.5, 4.5], [0.2, 0.2])
    lasting = remaining_life("E", 60.0, "lognormal", [4.5], [0.2])
    assert both.median == pytest.approx(lasting.median, rel=0.05)


def test_overdue_is_negative() -> None:
    left = remaining_life("E", 65.0, "lognormal", [4.5], [0.2], 60.0)
    assert left.to_interval == -5.0
    assert left.to_dict()["chance_of_reaching_interval"] is None


def test_bad_ages() -> None:
    with pytest.raises(ArgumentError, match="age -1"):
        remaining_life("E", -1.0, "lognormal", [4.0], [0.2])
    with pytest.raises(ArgumentError, match="no plausible law reaches"):
        remaining_life("E", 1e9, "weibull", [4.0], [0.05])
