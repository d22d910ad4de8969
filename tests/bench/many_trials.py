"""Prediction and tolerance limits of many made-up trials of one design at once, for the calibration.

`next_life` and `life_bound` answer for one trial; a thousand of them spend their time on calls. Here the refits of many
trials go through one fit, with the draws and the cuts of those two functions; the calibration compares the first trials
of each cell with what the functions themselves answer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.special import stdtrit

from wearlab.stats.censored_many import LifeRegressions, fit_lives_many
from wearlab.stats.life_profile import Cut, signed_limit
from wearlab.stats.life_resampling import draw_lives
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law

ROWS = 120_000
"""Lives in one fit, about."""
SHARE, CONFIDENCE = 0.1, 0.9
"""The bound on the life that nine in ten exceed, 90 % sure."""


@dataclass(frozen=True)
class Answers:
    """For each trial, NaN where there is no answer.

    Attributes
    ----------
    low, high : array
        ln limits of the next life; NaN when not asked for.
    slope_low, slope_high : array
        Percentile limits of the slope.
    holds : array
        1 where the lower tolerance bound lies below the true quantile.
    """

    low: np.ndarray
    high: np.ndarray
    slope_low: np.ndarray
    slope_high: np.ndarray
    holds: np.ndarray


def answers(
    trial: Any, row: np.ndarray, law: str, true_quantile: float, resamples: int, following: bool
) -> Answers:
    """Limits of every trial under one law; the seed of a trial is its place."""
    fits = fit_lives_many(trial.X, trial.lower, trial.upper, law)
    size = len(trial.lower)
    made = Answers(*(np.full(size, np.nan) for _ in range(5)))
    at_truth = fits.signed_sizes(row, true_quantile, SHARE)
    rows = np.flatnonzero(fits.converged)
    chunk = max(1, ROWS // (resamples * trial.X.shape[0]))
    for first in range(0, len(rows), chunk):
        some = rows[first : first + chunk]
        draws = [_draw(trial, fits, k, row, resamples) for k in some]
        lower, upper = (np.concatenate([one[at] for one in draws]) for at in (0, 1))
        refits = fit_lives_many(trial.X, lower, upper, law)
        enough = refits.converged.reshape(len(some), -1).mean(axis=1) >= 0.5
        sizes = _quantile_sizes(refits, row, np.repeat(fits.log_quantile(row, SHARE)[some], resamples))
        _bounds(made, fits, refits, some, sizes.reshape(len(some), -1), trial, at_truth)
        if following:
            further = np.concatenate([one[2] for one in draws])
            _next(made, fits, some, (lower, upper, further), trial, row)
        for values in (made.low, made.high, made.slope_low, made.slope_high, made.holds):
            values[some[~enough]] = np.nan
    return made


def _draw(trial: Any, fits: LifeRegressions, k: int, row: np.ndarray, resamples: int) -> tuple[np.ndarray, ...]:
    """Lives drawn from one fit, and a further life of each resample, in the order in which the package draws them."""
    generator = np.random.default_rng(int(k))
    lives = Lives(trial.lower[k], trial.upper[k])
    fit = SimpleNamespace(
        X=trial.X, beta=fits.beta[k], sigma=fits.sigma[k], offset=None, n=len(lives), lives=lives,
        distribution=fits.distribution,
    )  # fmt: skip
    lower, upper = draw_lives(fit, resamples, generator)
    scatter = scatter_law(fits.distribution).draw(generator, (resamples, 1))
    return lower, upper, np.exp(np.clip(row @ fit.beta + fit.sigma * scatter, -600.0, 600.0))


def _quantile_sizes(refits: LifeRegressions, row: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Signed sizes of the fitted quantile in each refit."""
    square, _ = refits.squared_sizes(row, value, SHARE)
    return np.sign(refits.log_quantile(row, SHARE) - value) * np.sqrt(square)


def _bounds(
    made: Answers, fits: LifeRegressions, refits: LifeRegressions, some: np.ndarray, sizes: np.ndarray, trial: Any,
    at_truth: np.ndarray,
) -> None:  # fmt: skip
    slopes = np.where(refits.converged, refits.beta[:, 1], np.nan).reshape(len(some), -1)
    known = np.isfinite(sizes).any(axis=1)
    made.slope_low[some[known]] = np.nanquantile(slopes[known], 0.025, axis=1)
    made.slope_high[some[known]] = np.nanquantile(slopes[known], 0.975, axis=1)
    cut = np.nanquantile(sizes[known], CONFIDENCE, axis=1)
    least = stdtrit(fits.failures[some[known]] - trial.X.shape[1], CONFIDENCE)
    withdrawn = np.isinf(trial.upper[some[known]]).any(axis=1)
    cut = np.where(withdrawn, np.maximum(cut, least), cut)
    made.holds[some[known]] = np.where(np.isnan(at_truth[some[known]]), np.nan, at_truth[some[known]] <= cut)


def _next(
    made: Answers, fits: LifeRegressions, some: np.ndarray, drawn: tuple[np.ndarray, ...], trial: Any, row: np.ndarray
) -> None:
    """Prediction limits: the signed root of the deviance of a further life, cut where the refits say."""
    X = np.column_stack([np.vstack([trial.X, row]), np.append(np.zeros(len(trial.X)), 1.0)])
    own = np.append(np.zeros(len(row)), 1.0)
    lower, upper, further = drawn
    refits = fit_lives_many(X, np.hstack([lower, further]), np.hstack([upper, further]), fits.distribution)
    sizes = refits.signed_sizes(own).reshape(len(some), -1)
    known = np.isfinite(sizes).any(axis=1)
    some, sizes = some[known], sizes[known]
    below, above = (np.nanquantile(sizes, share, axis=1) for share in (0.025, 0.975))
    least = stdtrit(fits.failures[some] - len(row), 0.975)
    grow = np.where(
        np.isinf(trial.upper[some]).any(axis=1), np.maximum(1.0, least / np.maximum(-below, above)), 1.0
    )
    middle = np.exp(fits.log_quantile(row, 0.5)[some])[:, None]
    wider = fit_lives_many(
        X, np.hstack([trial.lower[some], middle]), np.hstack([trial.upper[some], middle]), fits.distribution
    )
    fitted = np.flatnonzero(wider.converged)
    problem, optimum = wider.setup.problem.subset(fitted), wider.optimum.take(fitted)
    failures = wider.failures[fitted]
    ends = [
        signed_limit(
            problem, optimum, wider._combination(own, 0.0), Cut(failures, failures - len(own), (grow * size)[fitted])
        )
        for size in (above, below)
    ]
    at = np.log(middle[fitted, 0])
    made.low[some[fitted]], made.high[some[fitted]] = at - ends[1], at - ends[0]


def exact_answers(trial: Any, row: np.ndarray, true_quantile: float) -> Answers:
    """Complete lognormal lives: the closed forms, by least squares."""
    from wearlab.stats.tolerance import leverage_factor

    y, n, p = np.log(trial.lower), trial.X.shape[0], trial.X.shape[1]
    beta = np.linalg.solve(trial.X.T @ trial.X, trial.X.T @ y.T).T
    sd = np.sqrt(np.sum((y - beta @ trial.X.T) ** 2, axis=1) / (n - p))
    leverage = float(row @ np.linalg.solve(trial.X.T @ trial.X, row))
    half = float(stdtrit(n - p, 0.975)) * math.sqrt(1 + leverage) * sd
    bound = beta @ row - leverage_factor(leverage, n - p, 1 - SHARE, CONFIDENCE) * sd
    nothing = np.full(len(y), np.nan)
    centre = beta @ row
    return Answers(centre - half, centre + half, nothing, nothing, (bound <= true_quantile).astype(float))
