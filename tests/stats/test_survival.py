from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.lives import Lives
from wearlab.stats.survival import kaplan_meier, turnbull

TIMES = [42.5, 55.1, 61.0, 48.3, 70.0, 58.8, 64.2, 70.0, 70.0, 51.7]
FAILED = [1, 1, 1, 1, 0, 1, 1, 0, 0, 1]


class TestKaplanMeier:
    def test_against_scipy(self):
        from scipy.stats import CensoredData, ecdf

        rng = np.random.default_rng(1)
        times, failed = rng.integers(1, 12, 40).astype(float), rng.uniform(size=40) < 0.7
        curve = kaplan_meier(Lives.right_censored(times, failed))
        theirs = ecdf(CensoredData.right_censored(times, ~failed)).sf
        points = np.arange(0.5, 13, 0.5)
        np.testing.assert_allclose([curve.at(t) for t in points], theirs.evaluate(points), rtol=1e-13)
        ci = theirs.confidence_interval(0.9, method="log-log")
        for t in points[4:16]:
            limits = curve.interval(t, 0.9)
            assert (limits.low, limits.high) == pytest.approx(
                (float(ci.low.evaluate(t)), float(ci.high.evaluate(t))), rel=1e-10
            )

    def test_ends(self):
        curve = kaplan_meier(Lives([3.0, 5.0], [3.0, 5.0]))
        assert (curve.at(2.9), curve.at(3.0), curve.at(9.0)) == (1.0, 0.5, 0.0)
        assert (curve.interval(1.0).low, curve.interval(9.0).high) == (0.0, 1.0)
        assert kaplan_meier(Lives.right_censored([3, 5.0], [0, 0])).median() == math.inf

    def test_brackets_need_the_other_curve(self):
        with pytest.raises(Refusal, match="Use the curve of Turnbull"):
            kaplan_meier(Lives([1.0], [2.0]))


class TestTurnbull:
    def test_right_censored_lives_are_kaplan_meier(self):
        lives = Lives.right_censored(TIMES, FAILED)
        curve, plain = turnbull(lives), kaplan_meier(lives)
        np.testing.assert_allclose([curve.at(t) for t in plain.times], plain.survival, atol=1e-8)

    def test_shared_inspection_times(self):
        """Brackets that share their ends are half open: each span holds its own share (derived)."""
        lower, upper = [0, 10, 10, 20, 20, 20, 20], [10, 20, 20, 30, 30, np.inf, np.inf]
        curve = turnbull(Lives(lower, upper))
        assert [curve.at(t) for t in (10, 20)] == pytest.approx([6 / 7, 4 / 7])

    def test_it_maximises_the_likelihood(self):
        lives = Lives([0, 10, 10, 20, 15, 5, 20, 12], [10, 20, 20, np.inf, 25, 15, 30, 12])
        curve = turnbull(lives)

        def loglik(survival):
            def below(t):
                step = np.searchsorted(curve.times, t, side="right")
                return 1.0 if step == 0 else survival[step - 1]

            def before(t):
                step = np.searchsorted(curve.times, t, side="left")
                return 1.0 if step == 0 else survival[step - 1]

            masses = [
                before(a) - below(b) if a == b else below(a) - (0.0 if np.isinf(b) else below(b))
                for a, b in zip(lives.lower, lives.upper, strict=True)
            ]
            return np.log(np.maximum(masses, 1e-300)).sum()

        best = loglik(curve.survival)
        rng = np.random.default_rng(0)
        mass = -np.diff(np.append(1.0, curve.survival))
        for _ in range(300):
            other = mass * np.exp(0.05 * rng.standard_normal(len(mass)))
            assert loglik(1 - np.cumsum(other / other.sum())) <= best + 1e-9
        # R 4.2.2 survival 3.5-3 stops a little short: 0.8437, 0.37525.
        assert curve.at(12.0) == pytest.approx(0.375, abs=3e-4)

    def test_no_interval_and_why(self):
        curve = turnbull(Lives([0.0, 5.0], [5.0, 9.0]))
        assert "no interval" in curve.why_missing
        assert (curve.interval(6.0).low, curve.interval(6.0).high) == (0.0, 1.0)
