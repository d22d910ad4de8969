from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.batched_taylor import fit_power_laws
from wearlab.stats.line import fit_line


def _constant(x):
    return np.column_stack([np.ones(len(x)), x])


class TestPowerLaws:
    @pytest.mark.parametrize("shared", [True, False])
    def test_each_row_is_its_own_fit(self, shared):
        rng = np.random.default_rng(3)
        x = np.log([110, 125, 140, 160, 180.0])
        wide = x if shared else x + 0.1 * rng.normal(size=(20, 5))
        y = 22 - 4 * wide + 0.25 * rng.normal(size=(20, 5))
        fits = fit_power_laws(wide, y)
        for k in range(20):
            one = fit_line(_constant(x if shared else wide[k]), y[k])
            slope, mean = one.interval([0, 1]), one.mean([1, 5.0])
            found = [
                fits.slope[k],
                fits.intercept[k],
                fits.sigma[k],
                fits.limits()[0][k],
                fits.mean_limits(5.0)[1][k],
            ]
            assert found == pytest.approx(
                [one.beta[1], one.beta[0], one.sigma, slope.low, mean.high], rel=1e-9
            )
            if slope.high < 0:
                low, high = (side[k] for side in fits.exponent_limits())
                assert (low, high) == pytest.approx((-1 / slope.low, -1 / slope.high), rel=1e-9)

    def test_a_slope_that_may_be_flat_leaves_n_open(self):
        low, high = fit_power_laws([1.0, 2.0, 3.0], [[1.0, 3.0, 1.1]]).exponent_limits()
        assert (low[0], high[0]) == (-math.inf, math.inf)

    def test_faults_are_named(self):
        with pytest.raises(Refusal, match="does not vary"):
            fit_power_laws([1.0, 1.0, 1.0], [[1.0, 2.0, 3.0]])
        with pytest.raises(Refusal, match="2 observations"):
            fit_power_laws([1.0, 2.0], [[1.0, 2.0]])
        with pytest.raises(ArgumentError, match=r"x of shape \(2,\)"):
            fit_power_laws([1.0, 2.0], [[1.0, 2.0, 3.0]])
