"""Estimates of several groups taken together: heterogeneity, a typical value, and shrunken estimates.

The typical value has the t interval of Hartung, Knapp, Sidik and Jonkman (from memory; checked against R metafor): the
ordinary random-effects interval covers too little with a handful of groups. Shrunken estimates borrow strength from the
other groups and are given without an interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector

METHODS = ("dersimonian-laird", "paule-mandel")
"""Ways to find the variance between groups."""


@dataclass(frozen=True)
class Pooled:
    """Several estimates together.

    Attributes
    ----------
    mean, se : float
        Typical value and its standard error with the random-effects weights.
    se_t : float
        Standard error from the spread of the estimates, for the t interval.
    between : float
        Variance between groups.
    q : float
        Cochran's heterogeneity statistic, chi-square on `df` if all groups are alike.
    df : int
        Groups less one.
    common : float
        Inverse-variance mean, right only if all groups are alike.
    shrunken : array, shape (k,)
        Estimate of each group drawn towards the mean.
    """

    mean: float
    se: float
    se_t: float
    between: float
    q: float
    df: int
    common: float
    shrunken: FloatArray

    @property
    def heterogeneity_p(self) -> float:
        """p of all groups being alike."""
        from scipy.special import chdtrc

        return float(chdtrc(self.df, self.q))

    def interval(self, level: float = 0.95) -> Interval:
        """t interval of the typical value."""
        from scipy.special import stdtrit

        half = float(stdtrit(self.df, 0.5 + check_level(level) / 2)) * self.se_t
        return Interval(self.mean - half, self.mean + half, level, "Hartung-Knapp t")


def pool(estimates: ArrayLike, variances: ArrayLike, method: str = "dersimonian-laird") -> Pooled:
    """Take the estimates of several groups together.

    Parameters
    ----------
    estimates, variances : array_like, shape (k,)
        Estimate of each group and its variance.
    method : str
        One of `METHODS`.

    Returns
    -------
    Pooled

    Raises
    ------
    ArgumentError
        When a variance is not positive, lengths differ, or the method is not known.
    Refusal
        When there are fewer than two groups.

    Examples
    --------
    >>> together = pool([-4.21, -3.52, -4.88, -3.95, -4.4], [0.16, 0.22, 0.3, 0.12, 0.25])
    >>> round(together.mean, 3), round(together.between, 4)
    (-4.125, 0.0081)
    """
    values = as_vector(estimates, "estimates")
    spread = as_vector(variances, "variances", len(values))
    if method not in METHODS:
        raise ArgumentError(f"method {method!r}", where="method", allowed=", ".join(METHODS))
    if len(values) < 2:
        raise Refusal(f"{len(values)} groups", where="estimates taken together", allowed="at least two")
    if (spread <= 0).any():
        raise ArgumentError(f"a variance of {spread.min():g}", where="variances", allowed="above 0")
    weight = 1.0 / spread
    common = float(weight @ values / weight.sum())
    q = float(weight @ (values - common) ** 2)
    between = _moment(weight, q) if method == METHODS[0] else _paule_mandel(values, spread, q)
    share = 1.0 / (spread + between)
    mean = float(share @ values / share.sum())
    df = len(values) - 1
    se_t = math.sqrt(float(share @ (values - mean) ** 2) / (df * share.sum()))
    shrunken = mean + between * share * (values - mean)
    return Pooled(mean, 1 / math.sqrt(share.sum()), se_t, between, q, df, common, shrunken)


def _moment(weight: FloatArray, q: float) -> float:
    df = len(weight) - 1
    return max((q - df) / float(weight.sum() - (weight**2).sum() / weight.sum()), 0.0)


def _paule_mandel(values: FloatArray, spread: FloatArray, q: float) -> float:
    """Variance between groups at which the heterogeneity is what chance expects."""
    from scipy.optimize import brentq

    df = len(values) - 1
    if q <= df:
        return 0.0

    def excess(between: float) -> float:
        share = 1.0 / (spread + between)
        mean = share @ values / share.sum()
        return float(share @ (values - mean) ** 2) - df

    high = float(values.var()) + 1e-12
    while excess(high) > 0:
        high *= 2
    return float(brentq(excess, 0.0, high, xtol=1e-15, rtol=1e-13))
