from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import fit_lives
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.tolerance import (
    leverage_factor,
    life_bound,
    line_bound,
    normal_factor,
    shortest_life_confidence,
)

X9 = np.column_stack([np.ones(9), np.repeat(np.log([110.0, 140, 180]), 3)])
T9 = np.array([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


class TestFactors:
    @pytest.mark.parametrize("n", [2, 4, 30, 1000])
    @pytest.mark.parametrize("reliability, confidence", [(0.9, 0.9), (0.99, 0.95), (0.5, 0.6)])
    def test_against_the_noncentral_t_of_scipy(self, n, reliability, confidence):
        from scipy.stats import nct, norm

        theirs = nct.ppf(confidence, n - 1, norm.ppf(reliability) * math.sqrt(n)) / math.sqrt(n)
        assert normal_factor(n, reliability, confidence) == pytest.approx(theirs, rel=1e-7)

    def test_a_line_at_its_mean_is_a_sample_with_fewer_degrees_of_freedom(self):
        assert leverage_factor(1 / 9, 8) == normal_factor(9)
        assert leverage_factor(1 / 9, 7) > normal_factor(9)

    def test_the_bound_of_a_line_covers(self):
        """20,000 made-up trials: the bound lies below the true 10th percentile in 90 % of them."""
        rng = np.random.default_rng(1)
        fit = fit_line(X9, np.log(T9))
        x = np.array([1.0, math.log(120)])
        factor = leverage_factor(fit.leverage_at(x), 7)
        y = rng.standard_normal((20_000, 9))
        beta = y @ np.linalg.pinv(X9).T
        sigma = np.sqrt(np.sum((y - beta @ X9.T) ** 2, axis=1) / 7)
        assert np.mean(beta @ x - factor * sigma < -1.2815515655446004) == pytest.approx(0.9, abs=4 * 0.0021)

    def test_line_and_regression_agree(self):
        x = [1.0, math.log(120)]
        line = line_bound(fit_line(X9, np.log(T9)), x)
        lives = life_bound(fit_lives(X9, Lives(T9, T9)), x)
        assert lives.bound == pytest.approx(line.bound, rel=1e-9)
        assert line.bound < line.estimate

    def test_a_line_without_scatter_says_why(self):
        bound = line_bound(fit_line(X9[::3], np.log(T9[::3]) * 0 + 3.0 + X9[::3, 1]), [1.0, 5.0])
        assert bound.bound == 0.0
        assert "no scatter" in bound.why_missing

    def test_shortest_life(self):
        assert shortest_life_confidence(22) == pytest.approx(1 - 0.9**22)
        with pytest.raises(ArgumentError, match="0 lives"):
            shortest_life_confidence(0)

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="a sample of 1"):
            normal_factor(1)
        with pytest.raises(ArgumentError, match="reliability 90; allowed: between 0 and 1"):
            normal_factor(5, 90)
        with pytest.raises(ArgumentError, match="leverage 0"):
            leverage_factor(0.0, 4)
