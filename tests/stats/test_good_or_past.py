"""Lives of which each cutter tells only that it was still good, or already past, at its one look."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from wearlab.core.errors import Refusal
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives

X12 = np.column_stack([np.ones(12), np.repeat(np.log([100.0, 130, 160]), 4)])
LOOK = [58.71, 63.75, 133.33, 58.63, 20.4, 27.07, 19.99, 27.68, 6.42, 6.05, 5.3, 7.52]
GOOD = [0, 0, 0, 1, 0, 1, 1, 0, 1, 1, 1, 1]
LAWS = {"lognormal": stats.norm, "weibull": stats.gumbel_l, "loglogistic": stats.logistic}


def lives_of(look, good) -> Lives:
    look, good = np.array(look), np.array(good, dtype=bool)
    return Lives(np.where(good, look, 0.0), np.where(good, math.inf, look))


def brute_loglik(law: str, slope: float) -> float:
    """Greatest log-likelihood with the slope held, by a search that knows no code of ours."""
    good, x, y = np.array(GOOD, dtype=bool), X12[:, 1] - X12[:, 1].mean(), np.log(LOOK)

    def loss(at):
        z = (y - slope * x) / math.exp(min(at[1], 600.0)) - at[0]
        return -np.where(good, LAWS[law].logsf(z), LAWS[law].logcdf(z)).sum()

    tries = [
        optimize.minimize(loss, [0.0, start], method="Nelder-Mead", options={"maxiter": 4000, "xatol": 1e-9})
        for start in (0.0, 4.0, 9.0)
    ]
    return -min(one.fun for one in tries)


@pytest.mark.parametrize("law", LAWS)
def test_too_few_looks_bound_the_slope_on_neither_side(law):
    """The deviance of any slope, however far, stays below the cut: the likelihood has a limit at endless scatter."""
    fit = fit_lives(X12, lives_of(LOOK, GOOD), law)
    found = fit.interval([0, 1])
    assert found.unbounded == "both"
    cut = fit.failures * math.log1p(stats.t.ppf(0.975, fit.df) ** 2 / fit.df)
    for slope in (-300.0, -30.0, 30.0, 300.0):
        assert 2 * (fit.loglik - brute_loglik(law, slope)) < cut
    # A level at which the cut is small is bounded, at the value where the searched deviance meets it.
    narrow = fit.interval([0, 1], 0.5)
    cut = fit.failures * math.log1p(stats.t.ppf(0.75, fit.df) ** 2 / fit.df)
    ends = [one for one in (narrow.low, narrow.high) if math.isfinite(one)]
    assert ends
    for end in ends:
        assert 2 * (fit.loglik - brute_loglik(law, end)) == pytest.approx(cut, abs=1e-5)


@pytest.mark.parametrize("law", LAWS)
def test_no_interval_is_refused(law):
    """Each fit that can be had has its limits, finite or not; before, one trial in three was refused."""
    rng = np.random.default_rng(7)
    median = np.exp(4.1 - 4 * (X12[:, 1] - math.log(100)))
    had = 0
    for _ in range(25):
        life, look = (median * np.exp(sd * rng.standard_normal(12)) for sd in (0.25, 0.4))
        try:
            fit = fit_lives(X12, lives_of(look, life > look), law)
        except Refusal:
            continue
        had += 1
        slope, tail = fit.interval([0, 1]), fit.quantile_interval([1, math.log(100)], 0.1)
        limits = slope, tail, fit.setting_interval([1, 0], 1, 60)
        for one in limits:
            assert one.low <= one.high
    assert had >= 10


def test_one_condition():
    """The median of one group: with the intercept alone no direction is left when tau is held."""
    look = [40.0, 45, 50, 55, 60, 65, 70, 75]
    fit = fit_lives(np.ones((8, 1)), lives_of(look, [1, 1, 0, 1, 1, 0, 0, 0]))
    found = fit.quantile_interval([1.0])
    assert found.low < fit.median([1.0]) < found.high
    assert found.unbounded in (None, "low", "high", "both")
