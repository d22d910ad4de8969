from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.lives import Lives
from wearlab.stats.separate_scales import welch_lives, welch_lives_p_values
from wearlab.stats.two_groups import welch


class TestSeparateScales:
    A, B = np.array([40.0, 52, 61, 47]), np.array([30.0, 35, 50])

    def test_complete_lives_are_welch_on_logs(self):
        mine, theirs = (
            welch_lives(Lives(self.A, self.A), Lives(self.B, self.B)),
            welch(np.log(self.A), np.log(self.B)),
        )
        assert (mine.difference, mine.se, mine.df) == pytest.approx(
            (theirs.difference, theirs.se, theirs.df), rel=1e-9
        )
        assert mine.p_value == pytest.approx(theirs.p_value, rel=1e-8)

    def test_in_batches(self):
        a, b = Lives.right_censored(self.A, [1, 1, 0, 1]), Lives(self.B, self.B)
        fits = [fit_lives_many(np.ones((len(one), 1)), one.lower, one.upper, "weibull") for one in (a, b)]
        z = math.log(math.log(2))
        location = [one.log_quantile([1.0]) for one in fits]
        variance = []
        for one in fits:
            gradient = np.column_stack([np.ones(1), z * one.sigma])
            variance.append(np.einsum("bi,bij,bj->b", gradient, one.covariance, gradient))
        p = welch_lives_p_values(tuple(location), tuple(variance), tuple(one.failures for one in fits))
        assert p[0] == pytest.approx(welch_lives(a, b, "weibull").p_value, rel=1e-9)

    def test_a_side_with_one_failure_is_refused(self):
        with pytest.raises(Refusal, match="1 failures for 1 coefficients"):
            welch_lives(Lives.right_censored(self.A, [1, 0, 0, 0]), Lives(self.B, self.B))
