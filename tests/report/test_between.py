"""Changes between two trials: their intervals against theory and simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.interval import Interval
from wearlab.report.between import difference


def test_two_normal_intervals_give_the_normal_interval_of_the_difference() -> None:
    """With known errors a and b the error of a difference is the root of the sum of squares."""
    z, a, b = 1.959963984540054, 0.3, 0.4
    one, other = ((x, Interval(x - z * e, x + z * e, 0.95, "z")) for x, e in ((5.0, a), (2.0, b)))
    found = difference(one, other)
    assert (found.low, found.high) == pytest.approx((3.0 - z * 0.5, 3.0 + z * 0.5))


def test_the_side_that_matters_is_taken() -> None:
    """A lower limit of now less then comes from the low side of now and the high side of then."""
    found = difference((2.0, Interval(1.9, 9.0, 0.95, "m")), (1.0, Interval(-8.0, 1.2, 0.95, "m")))
    assert found.low == pytest.approx(1.0 - math.hypot(0.1, 0.2))
    assert found.high == pytest.approx(1.0 + math.hypot(7.0, 9.0))


def test_an_open_side_stays_open() -> None:
    found = difference((2.0, Interval(1.0, math.inf, 0.95, "m")), (1.0, Interval(0.5, 1.5, 0.95, "m")))
    assert found.unbounded == "high"


@pytest.mark.parametrize(("n", "m", "ratio"), [(4, 4, 1.0), (3, 8, 1.0), (5, 5, 3.0)])
def test_it_holds_the_truth_as_often_as_it_says(n: int, m: int, ratio: float) -> None:
    """20,000 pairs of means with t intervals: 95 % intervals of the difference, two standard errors of the count."""
    rng = np.random.default_rng(8)
    t = {3: 4.302653, 4: 3.182446, 5: 2.776445, 8: 2.364624}  # 0.975 points of t, n - 1 degrees: any table
    x, y = rng.normal(0.0, ratio, (20_000, n)), rng.normal(0.0, 1.0, (20_000, m))
    half = [t[k] * one.std(axis=1, ddof=1) / math.sqrt(k) for one, k in ((x, n), (y, m))]
    gap = x.mean(axis=1) - y.mean(axis=1)
    wide = np.hypot(*half)
    first = difference(
        (x[0].mean(), Interval(x[0].mean() - half[0][0], x[0].mean() + half[0][0], 0.95, "t")),
        (y[0].mean(), Interval(y[0].mean() - half[1][0], y[0].mean() + half[1][0], 0.95, "t")),
    )
    assert (first.low, first.high) == pytest.approx((gap[0] - wide[0], gap[0] + wide[0]))
    held = float((np.abs(gap) <= wide).mean())
    assert held >= 0.95 - 2 * math.sqrt(0.95 * 0.05 / 20_000)
