"""The life of the next one: a prediction interval from a life regression.

Complete lognormal lives have the exact t interval. Otherwise the distribution of the pivot (ln life of the
next one - fitted location) / fitted sigma is found by refitting resamples of the fitted regression, equal
shares being left out on either side.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.interval import Interval, check_level
from wearlab.stats.censored import LifeRegression
from wearlab.stats.design import FloatArray
from wearlab.stats.life_resampling import Refits, refit_resamples
from wearlab.stats.scatter import ScatterLaw, scatter_law

RESAMPLES = 2000
"""Resamples when no number is given."""


def next_life(
    fit: LifeRegression,
    x: ArrayLike,
    level: float = 0.95,
    resamples: int = RESAMPLES,
    rng: np.random.Generator | int | None = None,
) -> Interval:
    """Prediction interval for one further life at a design row.

    Parameters
    ----------
    fit : LifeRegression
    x : array_like, shape (p,)
        Design row (offset 0).
    level : float
        Confidence level.
    resamples : int
        Refits; not used for complete lognormal lives.
    rng : Generator or int, optional
        Source of the draws.

    Returns
    -------
    Interval
        On the scale of life.

    Raises
    ------
    Refusal
        When most resamples cannot be fitted.

    Notes
    -----
    Pivot after Lawless (from memory): its distribution does not depend on the parameters for complete lives
    and nearly not under censoring; coverage is checked in tests/bench/calibration_fits.py.
    """
    row = np.asarray(x, dtype=float)
    centre = fit.estimate(row)
    check_level(level)
    if fit.distribution == "lognormal" and bool(fit.lives.exact.all()):
        return _exact(fit, row, centre, level)
    refits = refit_resamples(fit, resamples, rng)
    pivots = pivot_quantiles(fit, refits, row, [0.5 - level / 2, 0.5 + level / 2])
    low, high = (centre + fit.sigma * pivot for pivot in pivots)
    return Interval(low, high, level, f"pivot of {len(refits.sigma)} refits").exp()


def _exact(fit: LifeRegression, row: FloatArray, centre: float, level: float) -> Interval:
    from scipy.special import stdtrit

    unscaled = row @ fit.covariance[:-1, :-1] @ row / fit.sigma**2
    sd = fit.sigma * math.sqrt(fit.n / fit.df)
    half = float(stdtrit(fit.df, 0.5 + level / 2)) * sd * math.sqrt(1.0 + unscaled)
    return Interval(centre - half, centre + half, level, "t for the next observation").exp()


def pivot_quantiles(fit: LifeRegression, refits: Refits, row: FloatArray, shares: list[float]) -> list[float]:
    """Quantiles of (ln next life - refitted location) / refitted sigma, the next life being averaged over."""
    moved, scale = (refits.beta - fit.beta) @ row / fit.sigma, refits.sigma / fit.sigma
    return [_pivot_quantile(scatter_law(fit.distribution), moved, scale, share) for share in shares]


def _pivot_quantile(law: ScatterLaw, moved: FloatArray, scale: FloatArray, share: float) -> float:
    from scipy.optimize import brentq

    def excess(w: float) -> float:
        return float(np.mean(np.exp(law.left(moved + w * scale)[0]))) - share

    low = high = law.quantile(share)
    while excess(low) > 0:
        low -= 1.0 + abs(low)
    while excess(high) < 0:
        high += 1.0 + abs(high)
    return float(brentq(excess, low, high, xtol=1e-10)) if low < high else low
