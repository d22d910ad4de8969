"""Draws of a life regression against the t posterior in closed form, and against each other."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import kstest, t

from wearlab.core.errors import ArgumentError
from wearlab.decide.posterior import draw_coefficients
from wearlab.stats.censored import fit_lives
from wearlab.stats.life_resampling import refit_resamples
from wearlab.stats.lives import Lives

LIVES = np.array([41.0, 55.0, 47.0, 62.0, 88.0, 120.0, 97.0, 110.0])
X = np.eye(2)[[0, 0, 0, 0, 1, 1, 1, 1]]


def test_complete_lognormal_lives_have_the_pooled_t_posterior() -> None:
    fit = fit_lives(X, Lives(LIVES, LIVES))
    beta, sigma = draw_coefficients(fit, 40_000, 1)
    logs = np.log(LIVES)
    pooled = math.sqrt((logs[:4].var(ddof=1) + logs[4:].var(ddof=1)) / 2)
    standard = (beta[:, 0] - logs[:4].mean()) / (pooled / 2)
    assert kstest(standard, t(6).cdf).pvalue > 0.01
    ratio = (beta[:, 1] - beta[:, 0] - (logs[4:].mean() - logs[:4].mean())) / (pooled / math.sqrt(2))
    assert kstest(ratio, t(6).cdf).pvalue > 0.01
    assert np.median(sigma) == pytest.approx(pooled * math.sqrt(6 / 5.348), rel=0.02)  # median of chi-square(6)


def test_turned_pivots_of_refits_are_the_same_posterior() -> None:
    """The route that censored lives take, on lives that do not need it."""
    fit = fit_lives(X, Lives(LIVES, LIVES))
    refits = refit_resamples(fit, 8000, np.random.default_rng(2))
    by_pivots = fit.beta - (refits.beta - fit.beta) * (fit.sigma / refits.sigma)[:, None]
    direct, _ = draw_coefficients(fit, 8000, 3)
    for share in (0.025, 0.25, 0.5, 0.75, 0.975):
        a, b = np.quantile(by_pivots[:, 0], share), np.quantile(direct[:, 0], share)
        assert a == pytest.approx(b, abs=0.02)


def test_censored_lives_reach_further_up() -> None:
    upper = np.where(np.arange(8) == 7, np.inf, LIVES)
    fit = fit_lives(X, Lives(LIVES, upper))
    beta, _ = draw_coefficients(fit, 2000, 4)
    complete, _ = draw_coefficients(fit_lives(X, Lives(LIVES, LIVES)), 2000, 4)
    assert np.quantile(beta[:, 1], 0.95) > np.quantile(complete[:, 1], 0.95)


def test_same_seed_same_draws_and_few_are_refused() -> None:
    fit = fit_lives(X, Lives(LIVES, LIVES), "weibull")
    assert np.array_equal(draw_coefficients(fit, 200, 5)[0], draw_coefficients(fit, 200, 5)[0])
    with pytest.raises(ArgumentError, match="at least 100"):
        draw_coefficients(fit, 10)
