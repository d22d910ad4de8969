from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.life_bound import one_sided_limit
from wearlab.stats.lives import Lives


class TestOneSidedLimit:
    X = np.column_stack([np.ones(8), np.repeat([0.0, 1.0], 4)])
    LIVES = Lives.right_censored([40, 52, 47, 61, 70, 70, 70, 70], [1, 1, 1, 1, 0, 0, 0, 0])

    def test_the_limit_is_where_the_profile_meets_the_cut(self):
        """By brute search over the level and the scale."""
        from scipy.optimize import minimize
        from scipy.stats import norm
        from scipy.stats import t as student

        limit = one_sided_limit(self.X, self.LIVES, 1, 0.9)
        y = np.log(self.LIVES.lower)

        def loss(par, ratio):
            z = (y - par[0] - ratio * self.X[:, 1]) / math.exp(par[1])
            return -(norm.logpdf(z[:4]) - par[1]).sum() - norm.logsf(z[4:]).sum()

        options = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 4000}
        held = [
            minimize(loss, [3.9, -1.5], args=(ratio,), method="Nelder-Mead", options=options).fun
            for ratio in (limit.low, 50.0)
        ]
        deviance = 2 * (held[0] - held[1])
        assert deviance == pytest.approx(4 * math.log1p(student.ppf(0.95, 2) ** 2 / 2), rel=1e-7)
        assert limit.unbounded == "high"

    def test_the_other_way_round(self):
        turned = np.column_stack([np.ones(8), 1 - self.X[:, 1]])
        limit, mirrored = one_sided_limit(self.X, self.LIVES, 1), one_sided_limit(turned, self.LIVES, 1)
        assert mirrored.high == pytest.approx(-limit.low, rel=1e-9)
        assert mirrored.unbounded == "low"

    def test_refusals(self):
        with pytest.raises(Refusal, match="coating: 2 values of it among the failures"):
            one_sided_limit(
                self.X,
                Lives.right_censored(self.LIVES.lower, [1, 1, 1, 0, 1, 0, 0, 0]),
                1,
                names=["all", "coating"],
            )
        with pytest.raises(Refusal, match="column 1: the rows without failures do not lie on one side"):
            one_sided_limit(self.X, self.LIVES, 0)
