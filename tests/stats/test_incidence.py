from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.incidence import cumulative_incidence
from wearlab.stats.lives import Lives
from wearlab.stats.survival import kaplan_meier


class TestIncidence:
    T = (12, 20, 20, 25, 31, 31, 40, 44, 52, 60, 60, 60)
    CAUSE = (1, 2, 1, 0, 1, 2, 2, 0, 1, 0, 0, 0)

    def test_against_r(self):
        """R 4.2.2 survival 3.5-3, survfit(Surv(t, factor(cause)) ~ 1): shares and standard errors."""
        one, other = cumulative_incidence(self.T, self.CAUSE, 1), cumulative_incidence(self.T, self.CAUSE, 2)
        assert one.times.tolist() == [12, 20, 31, 40, 52]
        assert one.incidence.tolist() == pytest.approx(
            [0.0833333333333, 0.1666666666667, 0.2604166666667, 0.2604166666667, 0.3776041666667]
        )
        assert other.incidence.tolist() == pytest.approx(
            [0, 0.0833333333333, 0.1770833333333, 0.2708333333333, 0.2708333333333]
        )
        assert np.sqrt(one.variance).tolist() == pytest.approx(
            [0.07978559231, 0.10758287073, 0.13001722086, 0.13001722086, 0.15239474900]
        )
        assert np.sqrt(other.variance).tolist() == pytest.approx(
            [0.0, 0.07978559231, 0.11400977028, 0.13387206700, 0.13387206700]
        )

    def test_causes_add_up_to_what_kaplan_meier_leaves(self):
        curve = kaplan_meier(Lives.right_censored(self.T, np.array(self.CAUSE) > 0))
        together = sum(cumulative_incidence(self.T, self.CAUSE, k).incidence for k in (1, 2))
        np.testing.assert_allclose(together, 1 - curve.survival, rtol=1e-12)

    def test_without_censoring_it_is_a_share_with_the_binomial_variance(self):
        found = cumulative_incidence([1, 2, 3, 4, 5.0], [1, 2, 1, 2, 2], 1)
        assert found.incidence[-1] == pytest.approx(0.4)
        assert found.variance[-1] == pytest.approx(0.4 * 0.6 / 5)
        limits = found.interval(5.0)
        assert 0 < limits.low < 0.4 < limits.high < 1

    def test_none_yet_has_the_exact_bound(self):
        found = cumulative_incidence([5, 6, 7, 8, 9.0], [0, 0, 2, 0, 0], 1)
        assert found.at(9.0) == 0.0
        assert found.interval(9.0, 0.9).high == pytest.approx(1 - 0.05 ** (1 / 5))
        assert found.interval(9.0).low == 0.0

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="2 times and 1 causes"):
            cumulative_incidence([1.0, 2.0], [1], 1)
        with pytest.raises(ArgumentError, match="times above 0"):
            cumulative_incidence([0.0, 2.0], [1, 0], 1)
