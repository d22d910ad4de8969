"""A published exponent as a prior: conjugate normal-inverse-gamma regression of one slope, closed form.

Never the default answer: it stands beside the fit without it, and the spread of the prior may not be smaller than 0.06
on the scale of n, because a published spread is the spread inside one book, not between a book and a shop.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import as_vector

SMALLEST_SPREAD = 0.06
"""Smallest prior standard deviation of n."""


@dataclass(frozen=True)
class Posterior:
    """Posterior of a line with a prior on its slope.

    Attributes
    ----------
    slope, intercept : float
        Posterior means; the intercept is the level at the mean of x.
    se_slope : float
        Scale of the slope's t distribution.
    sigma : float
        Posterior scale of the scatter.
    df : float
        Degrees of freedom.
    centre : float
        Mean of x.
    weight : float
        Share of the prior in the slope, 0 to 1.
    conflict_p : float
        How likely a difference as large as that between prior and data is, were both right.
    """

    slope: float
    intercept: float
    se_slope: float
    sigma: float
    df: float
    centre: float
    weight: float
    conflict_p: float

    def interval(self, level: float = 0.95) -> Interval:
        """Credible interval of the slope."""
        from scipy.special import stdtrit

        half = float(stdtrit(self.df, 0.5 + check_level(level) / 2)) * self.se_slope
        return Interval(self.slope - half, self.slope + half, level, "t posterior")


def with_prior(
    x: ArrayLike,
    y: ArrayLike,
    n: float,
    spread: float = SMALLEST_SPREAD,
    sigma: float = 0.25,
    sigma_df: float = 4.0,
) -> Posterior:
    """Line of ln life on ln speed with a published n as a prior of its slope -1 / n.

    Parameters
    ----------
    x, y : array_like, shape (N,)
        ln speed and ln life.
    n : float
        Published exponent.
    spread : float
        Its prior standard deviation, at least 0.06.
    sigma, sigma_df : float
        Prior scatter of ln life, and the degrees of freedom that it is worth.

    Returns
    -------
    Posterior

    Raises
    ------
    ArgumentError
        When n, the spread or the prior scatter are out of bounds.
    Refusal
        When there are fewer than two observations or x does not vary.

    Notes
    -----
    Flat prior on the level; slope sd spread / n^2 (delta method); derived, checked against weighted pseudo-data in R.

    Examples
    --------
    >>> speed = np.log([110, 110, 140, 140, 180, 180])
    >>> posterior = with_prior(speed, np.log([60, 66, 25, 27, 9, 11]), 0.25)
    >>> round(posterior.slope, 2), round(posterior.weight, 2)
    (-3.8, 0.22)
    """
    speed = as_vector(x, "x")
    life = as_vector(y, "y", len(speed))
    _check_prior(n, spread, sigma, sigma_df)
    if len(speed) < 2 or np.ptp(speed) == 0:
        raise Refusal(
            f"{len(speed)} observations at one speed", where="line with a prior", allowed="two speeds or more"
        )
    centre = float(speed.mean())
    moved = speed - centre
    sxx = float(moved @ moved)
    slope = float(moved @ life) / sxx
    rss = float(np.sum((life - life.mean() - slope * moved) ** 2))
    prior_slope, prior_sd = -1.0 / n, spread / n**2
    k0 = (sigma / prior_sd) ** 2
    df = sigma_df + len(speed) - 1
    gap = k0 * sxx / (k0 + sxx) * (slope - prior_slope) ** 2
    variance = (sigma_df * sigma**2 + rss + gap) / df
    mean = (k0 * prior_slope + sxx * slope) / (k0 + sxx)
    return Posterior(
        mean, float(life.mean()), math.sqrt(variance / (k0 + sxx)), math.sqrt(variance), df, centre,
        k0 / (k0 + sxx), _conflict(gap, sigma_df * sigma**2 + rss, df - 1),
    )  # fmt: skip


def _check_prior(n: float, spread: float, sigma: float, sigma_df: float) -> None:
    if not 0 < n < math.inf:
        raise ArgumentError(f"n {n:g}", where="prior", allowed="above 0, such as 0.25")
    if not SMALLEST_SPREAD <= spread < math.inf:
        raise ArgumentError(f"a spread of {spread:g}", where="prior", allowed=f"at least {SMALLEST_SPREAD}")
    if not (0 < sigma < math.inf and 0 < sigma_df < math.inf):
        raise ArgumentError(
            f"scatter {sigma:g} on {sigma_df:g} degrees of freedom", where="prior", allowed="above 0"
        )


def _conflict(gap: float, rest: float, df: float) -> float:
    from scipy.special import stdtr

    return float(2 * stdtr(df, -math.sqrt(gap / (rest / df)))) if rest > 0 else math.nan
