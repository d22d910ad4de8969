from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.sloped_limits import sloped_limits

AGES = np.array([5.0, 40.0, 80.0])


def cutters(rng: np.random.Generator, number: int) -> list[tuple[np.ndarray, np.ndarray]]:
    slopes = 0.010 * np.exp(0.15 * rng.standard_normal(number))
    starts = 0.02 * rng.standard_normal(number)
    return [(AGES, a + b * AGES + 0.02 * rng.standard_normal(3)) for a, b in zip(starts, slopes, strict=True)]


def test_false_alarms_are_no_more_than_promised() -> None:
    """One reading of a further cutter of the same kind, at an age between: outside in at most 1 - level of cases."""
    rng = np.random.default_rng(31)
    outside = total = 0
    for _ in range(400):
        limits = sloped_limits(cutters(rng, 6))
        for ages, values in cutters(rng, 10):
            outside += not limits.interval(float(ages[2]), 0.95).contains(float(values[2]))
            total += 1
    # 4,000 readings: standard error 0.0034.
    assert outside / total < 0.05 + 3 * 0.0034


def test_a_cutter_that_wears_twice_as_fast_is_seen() -> None:
    limits = sloped_limits(cutters(np.random.default_rng(1), 8))
    assert not limits.interval(80.0, 0.99).contains(0.010 * 2 * 80)


def test_limits_slope_with_the_trend() -> None:
    limits = sloped_limits(cutters(np.random.default_rng(2), 8))
    table = limits.to_frame()
    assert (np.diff(table["low"] + table["high"]) > 0).all()
    assert limits.cutters == 8
    assert (limits.least, limits.most) == (5.0, 80.0)


def test_units_move_the_limits_along() -> None:
    curves = cutters(np.random.default_rng(3), 6)
    mm = sloped_limits(curves).interval(60.0)
    um = sloped_limits([(t, 1000 * v) for t, v in curves]).interval(60.0)
    assert um.low == pytest.approx(1000 * mm.low, rel=1e-9)
    assert um.high == pytest.approx(1000 * mm.high, rel=1e-9)


def test_too_few_cutters_and_uneven_readings() -> None:
    with pytest.raises(Refusal, match="2 cutters"):
        sloped_limits([*cutters(np.random.default_rng(4), 2), (np.array([5.0]), np.array([0.0]))])
    with pytest.raises(ArgumentError, match="one each"):
        sloped_limits([([1.0, 2.0], [0.1])])
