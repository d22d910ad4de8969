from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.line import fit_line
from wearlab.stats.prior import with_prior

SPEED = np.repeat(np.log([110.0, 140, 180]), 3)
X9 = np.column_stack([np.ones(9), SPEED])
LIFE = np.log([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


class TestPrior:
    def test_pseudo_observations_give_the_same(self):
        """The prior slope as one weighted row of least squares (derived)."""
        found = with_prior(SPEED, LIFE, 0.25, 0.1, sigma=0.2, sigma_df=6)
        k0 = (0.2 / (0.1 / 0.25**2)) ** 2
        X = np.vstack([np.column_stack([np.ones(9), SPEED - SPEED.mean()]), [0.0, math.sqrt(k0)]])
        fit = fit_line(X, np.append(LIFE, math.sqrt(k0) * -4))
        assert found.slope == pytest.approx(fit.beta[1], rel=1e-12)
        assert found.sigma**2 == pytest.approx((6 * 0.04 + fit.rss) / 14, rel=1e-12)

    def test_a_vague_prior_is_no_prior(self):
        found = with_prior(SPEED, LIFE, 0.25, 1e4, sigma=1e-4, sigma_df=1e-9)
        assert found.slope == pytest.approx(fit_line(X9, LIFE).beta[1], rel=1e-8)

    def test_conflict(self):
        assert (
            with_prior(SPEED, LIFE, 0.9, 0.06).conflict_p
            < 0.05
            < with_prior(SPEED, LIFE, 0.26, 0.06).conflict_p
        )

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match=r"a spread of 0\.03; allowed: at least 0\.06"):
            with_prior(SPEED, LIFE, 0.25, 0.03)
        with pytest.raises(ArgumentError, match="n -1; allowed: above 0"):
            with_prior(SPEED, LIFE, -1)
        with pytest.raises(ArgumentError, match="scatter 0"):
            with_prior(SPEED, LIFE, 0.25, sigma=0.0)
        with pytest.raises(Refusal, match="3 observations at one speed"):
            with_prior(SPEED[:3], LIFE[:3], 0.25)
