from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.stats.collinearity import collinearity

SPEED = np.repeat(np.log([110.0, 140, 180]), 3)
X9 = np.column_stack([np.ones(9), SPEED])


class TestCollinearity:
    def test_against_statsmodels(self):
        from statsmodels.stats.outliers_influence import variance_inflation_factor

        rng = np.random.default_rng(1)
        X = np.column_stack([np.ones(15), rng.normal(size=(15, 3)) @ [[1, 0.9, 0], [0, 0.3, 0.5], [0, 0, 1]]])
        found = collinearity(X)
        assert found.inflation == pytest.approx(
            [variance_inflation_factor(X, j) for j in (1, 2, 3)], rel=1e-10
        )

    def test_names(self):
        feed = 2 * SPEED + np.tile([0.0, 0.01, -0.01], 3)
        found = collinearity(np.column_stack([X9, feed, np.full(9, 3.0)]), ["one", "speed", "feed", "depth"])
        assert found.constant == ("depth",)
        assert found.hopeless == ("speed", "feed")
        same = collinearity(np.column_stack([X9, 2 * SPEED]), ["one", "speed", "feed"])
        assert same.inflation == (math.inf, math.inf)
        assert same.condition == math.inf
        assert collinearity(np.ones((4, 1))).names == ()

    def test_a_crossed_design_is_clean(self):
        found = collinearity(np.column_stack([X9, np.tile([1.0, 2, 3], 3)]))
        assert found.inflation == pytest.approx([1.0, 1.0])
        assert found.hopeless == found.doubtful == ()
