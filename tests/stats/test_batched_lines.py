from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.stats.batched_lines import fit_lines
from wearlab.stats.line import fit_line


def _constant(x):
    return np.column_stack([np.ones(len(x)), x])


class TestLines:
    @settings(max_examples=30, deadline=None)
    @given(st.integers(0, 10_000), st.sampled_from([0.0, 1e6]))
    def test_each_unit_is_its_own_fit(self, seed, offset):
        rng = np.random.default_rng(seed)
        sizes = rng.integers(3, 9, 12)
        starts = np.append(0, np.cumsum(sizes)[:-1])
        x = offset + np.concatenate([np.cumsum(rng.integers(1, 9, n)) for n in sizes]).astype(float)
        y = 0.01 * (x - offset) + 0.005 * rng.normal(size=len(x))
        lines = fit_lines(x, y, starts)
        for k, (first, n) in enumerate(zip(starts, sizes, strict=True)):
            one = fit_line(_constant(x[first : first + n]), y[first : first + n])
            assert lines.slope[k] == pytest.approx(one.beta[1], rel=1e-10)
            assert lines.slope_se[k] == pytest.approx(one.standard_errors[1], rel=1e-9)
            low, high = (side[k] for side in lines.limits(0.9))
            theirs = one.interval([0, 1], 0.9)
            assert (low, high) == pytest.approx((theirs.low, theirs.high), rel=1e-8)

    def test_equal_sizes_take_the_other_road_to_the_same_place(self):
        rng = np.random.default_rng(1)
        x, y = rng.uniform(0, 30, 40), rng.normal(size=40)
        equal = fit_lines(x, y, np.arange(0, 40, 8))
        ragged = fit_lines(np.append(x, [1.0, 2.0]), np.append(y, [1.0, 2.0]), np.arange(0, 41, 8))
        for name in ("slope", "intercept", "slope_se", "sigma", "sxx"):
            np.testing.assert_allclose(getattr(equal, name), getattr(ragged, name)[:5], rtol=1e-10)

    def test_crossing_and_its_error(self):
        """Delta method by differences of the line's own covariance."""
        rng = np.random.default_rng(2)
        x = np.arange(5.0, 45, 5)
        y = 0.02 + 0.006 * x + 0.004 * rng.normal(size=8)
        at, error = (side[0] for side in fit_lines(x, y, [0]).crossing(0.3))
        fit = fit_line(_constant(x), y)
        assert fit.beta @ [1, at] == pytest.approx(0.3)
        gradient = np.array([-1.0, -at]) / fit.beta[1]
        assert error == pytest.approx(math.sqrt(gradient @ fit.covariance @ gradient), rel=1e-9)

    def test_units_that_have_no_line(self):
        lines = fit_lines([5.0, 5, 5, 1, 1, 2, 4, 6], [1.0, 2, 3, 9, 1, 2, 2, 2], [0, 3, 4, 6])
        assert np.isnan(lines.slope).tolist() == [True, True, False, False]
        assert np.isnan(lines.slope_se).all()
        assert lines.n.tolist() == [3, 1, 2, 2]
        low, high = lines.limits()
        assert np.isneginf(low).all()
        assert np.isposinf(high).all()
        at, error = lines.crossing(3.0)
        assert np.isnan(at[[0, 1, 3]]).all()
        assert at[2] == pytest.approx(3.0)
        assert np.isnan(error).all()

    def test_nothing_gives_nothing(self):
        assert fit_lines([], [], []).slope.size == 0

    def test_faults_are_named(self):
        for starts in ([1], [0, 0], [0, 3], []):
            with pytest.raises(ArgumentError, match="starts"):
                fit_lines([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], starts)
