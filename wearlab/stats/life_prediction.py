"""The life of the next one: a prediction interval from a life regression.

Complete lognormal lives have the exact t interval. Otherwise the next life is added to the others with a coefficient of
its own, and the interval holds the lives for which that coefficient is not contradicted. Where to cut its profile comes
from resamples of the fitted regression, each with a next life of its own: equal shares are left out on either side, and
where lives were withdrawn no less than the F cut is asked for.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.interval import Interval, check_level
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.design import FloatArray
from wearlab.stats.life_resampling import refit_many, with_further_life
from wearlab.stats.lives import Lives

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
    check_level(level)
    if fit.distribution == "lognormal" and bool(fit.lives.exact.all()):
        return _exact(fit, row, level)
    many, _ = refit_many(fit, resamples, rng, row)
    own = np.append(np.zeros(len(row)), 1.0)
    sizes = many.signed_sizes(own)
    sizes = sizes[~np.isnan(sizes)]
    below, above = (float(np.quantile(sizes, share)) for share in (0.5 - level / 2, 0.5 + level / 2))
    if fit.lives.right.any():
        below, above = _at_least_f(fit, below, above, level)
    low, high = _limits(fit, row, below, above)
    return Interval(low, high, level, f"signed root of the deviance, {len(sizes)} refits").exp()


def _exact(fit: LifeRegression, row: FloatArray, level: float) -> Interval:
    from scipy.special import stdtrit

    centre = fit.estimate(row)
    unscaled = row @ fit.covariance[:-1, :-1] @ row / fit.sigma**2
    sd = fit.sigma * math.sqrt(fit.n / fit.df)
    half = float(stdtrit(fit.df, 0.5 + level / 2)) * sd * math.sqrt(1.0 + unscaled)
    return Interval(centre - half, centre + half, level, "t for the next observation").exp()


def _at_least_f(fit: LifeRegression, below: float, above: float, level: float) -> tuple[float, float]:
    """Both cuts widened in proportion until the wider one is that of F."""
    from scipy.special import stdtrit

    grow = max(1.0, float(stdtrit(fit.df, 0.5 + level / 2)) / max(-below, above))
    return grow * below, grow * above


def _limits(fit: LifeRegression, row: FloatArray, below: float, above: float) -> tuple[float, float]:
    """ln lives whose own coefficient has the signed sizes `below` and `above`.

    A next life y tests its coefficient d = 0 as a life y - d tests d; so one profile about any life gives all.
    """
    X, offset = with_further_life(fit, row)
    middle = fit.median(row)
    lives = Lives(np.append(fit.lives.lower, middle), np.append(fit.lives.upper, middle))
    wider = fit_lives(X, lives, fit.distribution, offset=offset)
    own = np.append(np.zeros(len(row)), 1.0)
    # A long next life leaves its coefficient high: large sizes belong to the upper limit.
    low_end, high_end = (wider.signed_limit(own, size) for size in (above, below))
    return math.log(middle) - high_end, math.log(middle) - low_end
