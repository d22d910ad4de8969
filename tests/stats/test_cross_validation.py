from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.censored import fit_lives
from wearlab.stats.cross_validation import compare_held_out, held_out_line, held_out_lives
from wearlab.stats.lives import Lives

SPEED = np.repeat(np.log([110.0, 140, 180]), 3)
X9 = np.column_stack([np.ones(9), SPEED])
LIFE = np.log([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


class TestHeldOut:
    GROUPS = ("a", "b", "c") * 3

    def test_squared_errors_by_hand(self):
        held = held_out_line(X9, LIFE, self.GROUPS)
        labels = np.array(self.GROUPS)
        for k, name in enumerate(held.groups):
            train = labels != name
            beta = np.polyfit(SPEED[train], LIFE[train], 1)
            assert held.score[k] == pytest.approx(
                -np.sum((LIFE[~train] - np.polyval(beta, SPEED[~train])) ** 2)
            )
        assert held.mean == pytest.approx(held.score.sum() / 9)

    def test_log_density_by_hand(self):
        from scipy.stats import norm

        lives = Lives.right_censored(np.minimum(np.exp(LIFE), 60), np.exp(LIFE) <= 60)
        held = held_out_lives(X9, lives, self.GROUPS)
        labels = np.array(self.GROUPS)
        train = labels != "b"
        fit = fit_lives(X9[train], lives.take(train))
        z = (np.log(lives.lower[~train]) - X9[~train] @ fit.beta) / fit.sigma
        failed = lives.exact[~train]
        expected = norm.logsf(z[~failed]).sum()
        expected += (norm.logpdf(z[failed]) - np.log(fit.sigma * lives.lower[~train][failed])).sum()
        assert held.score[1] == pytest.approx(expected, rel=1e-9)

    def test_the_right_model_wins(self):
        full, flat = held_out_line(X9, LIFE, self.GROUPS), held_out_line(np.ones((9, 1)), LIFE, self.GROUPS)
        gain = compare_held_out(full, flat)
        assert gain.difference > 0
        assert gain.p_value < 0.05

    def test_a_group_that_cannot_be_left_out_is_named(self):
        held = held_out_line(X9[:6], LIFE[:6], list("aaabcd"))
        assert math.isfinite(held.score[1])
        with pytest.raises(Refusal, match="no group can be left out"):
            held_out_line(X9[:6], LIFE[:6], list("aaabbb"))
        partly = held_out_line(X9[:4], LIFE[:4], list("abcd"))
        assert [reason[:9] for reason in partly.left_out] == ["without d"]
        assert math.isnan(partly.score[3])

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="groups: 2 groups; allowed: 9"):
            held_out_line(X9, LIFE, ["a", "b"])
        with pytest.raises(Refusal, match="1 groups"):
            held_out_line(X9, LIFE, ["a"] * 9)
        with pytest.raises(ArgumentError, match="different groups or kinds"):
            compare_held_out(
                held_out_line(X9, LIFE, self.GROUPS), held_out_line(X9[:6], LIFE[:6], list("xyzxyz"))
            )
