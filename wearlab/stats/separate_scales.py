"""Ratio of lives with a scatter of its own on each side: Welch's idea for censored lives.

A life regression with one scale for both sides alarms far too often when the smaller side scatters more. Here each side
is fitted alone; its variance is corrected for the fitted location and its degrees of freedom are its failures less one.
With complete lognormal lives it is Welch's t on the logs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.design import FloatArray
from wearlab.stats.lives import Lives
from wearlab.stats.two_groups import TwoSample


@dataclass(frozen=True)
class _Side:
    """Location of one side with the variance that Welch's formula needs."""

    location: float
    variance: float
    df: float


def welch_lives(a: Lives, b: Lives, distribution: str = "lognormal") -> TwoSample:
    """Difference of ln median lives, a - b, with a scale of its own on each side.

    Parameters
    ----------
    a, b : Lives
    distribution : str
        As in `fit_lives`.

    Returns
    -------
    TwoSample
        On the scale of ln life.

    Raises
    ------
    Refusal
        When a side has fewer than two failures or no scatter.

    Examples
    --------
    >>> result = welch_lives(Lives([40, 52, 61], [40, 52, 61]), Lives.right_censored([30, 35, 50, 55], [1, 1, 1, 0]))
    >>> round(result.difference, 3), round(result.df, 1)
    (0.153, 3.3)
    """
    fits = [fit_lives(np.ones((len(one), 1)), one, distribution) for one in (a, b)]
    first, second = (_side(fit) for fit in fits)
    variance = first.variance + second.variance
    df = variance**2 / (first.variance**2 / first.df + second.variance**2 / second.df)
    sd = math.sqrt(sum(fit.sigma**2 * fit.failures for fit in fits) / sum(fit.df for fit in fits))
    difference = first.location - second.location
    return TwoSample(difference, math.sqrt(variance), df, len(a), len(b), sd, "Welch t of censored lives")


def welch_lives_p_values(
    location: tuple[ArrayLike, ArrayLike],
    variance: tuple[ArrayLike, ArrayLike],
    failures: tuple[ArrayLike, ArrayLike],
) -> FloatArray:
    """p values of many pairs of sides from their ln medians, Wald variances and failures, shape (B,).

    Parameters
    ----------
    location, variance, failures : pair of array_like, shape (B,)
        Of the two sides, as separate one-sample life regressions give them.
    """
    from scipy.special import stdtr

    counts = [np.asarray(one, dtype=float) for one in failures]
    spread = [np.asarray(v, dtype=float) * n / (n - 1) for v, n in zip(variance, counts, strict=True)]
    both = spread[0] + spread[1]
    df = both**2 / (spread[0] ** 2 / (counts[0] - 1) + spread[1] ** 2 / (counts[1] - 1))
    t = (np.asarray(location[0], dtype=float) - np.asarray(location[1], dtype=float)) / np.sqrt(both)
    return np.asarray(2 * stdtr(df, -np.abs(t)), dtype=float)


def _side(fit: LifeRegression) -> _Side:
    """ln median of one side, its Wald variance enlarged as a variance with one fitted location is."""
    from wearlab.stats.scatter import scatter_law

    z = scatter_law(fit.distribution).quantile(0.5)
    gradient = np.array([1.0, z * fit.sigma])
    wald = float(gradient @ fit.covariance @ gradient)
    return _Side(fit.log_quantile([1.0]), wald * fit.failures / (fit.failures - 1), fit.failures - 1.0)
