"""Distributions of the largest of several t statistics, by fixed quadrature.

The studentised range (Tukey, Games-Howell) and the two-sided Dunnett distribution for any sizes: an inner integral
over what the statistics share, an outer one over the estimated scatter. Nothing is random, so p values reproduce.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray


def studentised_range_sf(q: float, k: int, df: float) -> float:
    """P(range of k standard normal means over an estimated scatter exceeds q).

    Parameters
    ----------
    q : float
        Studentised range.
    k : int
        Number of means, at least 2.
    df : float
        Degrees of freedom of the scatter; may be broken.

    Returns
    -------
    float

    Examples
    --------
    >>> round(studentised_range_sf(3.958, 4, 20), 4)
    0.05
    """
    from scipy.special import ndtr

    if k < 2 or not df > 0:
        raise ArgumentError(
            f"{k} means, {df:g} degrees of freedom", where="studentised range", allowed="2 or more, above 0"
        )
    if q <= 0:
        return 1.0
    s, weight = scatter_rule(df)
    z, density = _normal_rule()
    gap = ndtr(z[None, :]) - ndtr(z[None, :] - q * s[:, None])
    # One less the power, so that small tails keep their digits.
    beyond = 1.0 - k * (gap ** (k - 1)) @ density
    return float(np.clip(weight @ beyond, 0.0, 1.0))


def normal_range_sf(w: ArrayLike, k: int) -> FloatArray:
    """P(range of k standard normal values exceeds each w).

    Examples
    --------
    >>> normal_range_sf([2.77], 2).round(3).tolist()
    [0.05]
    """
    from scipy.special import ndtr

    reach = np.atleast_1d(np.asarray(w, dtype=float))
    z, density = _normal_rule()
    gap = ndtr(z[None, :]) - ndtr(z[None, :] - reach[:, None])
    return 1.0 - k * (gap ** (k - 1)) @ density


def studentised_range_quantile(level: float, k: int, df: float) -> float:
    """Studentised range that is exceeded with probability 1 - level.

    Examples
    --------
    >>> round(studentised_range_quantile(0.95, 4, 20), 3)
    3.958
    """
    return _quantile(lambda q: studentised_range_sf(q, k, df), level)


def dunnett_sf(t: float, shared: ArrayLike, df: float) -> float:
    """P(largest |t| of several comparisons with one standard exceeds t).

    Parameters
    ----------
    t : float
        Largest |t|.
    shared : array_like, shape (k,)
        Loading of each comparison on the standard, sqrt(n_i / (n_i + n_0)): the correlation of two comparisons is the
        product of theirs.
    df : float
        Degrees of freedom of the common scatter.

    Returns
    -------
    float

    Notes
    -----
    Derived from the one-factor form of the joint distribution; checked against R multcomp.

    Examples
    --------
    >>> round(dunnett_sf(2.681, [0.5**0.5] * 3, 12), 3)
    0.05
    """
    from scipy.special import ndtr

    loading = np.asarray(shared, dtype=float)
    if not (loading.size and df > 0 and (loading > 0).all() and (loading < 1).all()):
        raise ArgumentError(
            f"loadings {loading.tolist()}, {df:g} degrees of freedom",
            where="Dunnett",
            allowed="0 to 1, above 0",
        )
    if t <= 0:
        return 1.0
    s, weight = scatter_rule(df)
    z, density = _normal_rule()
    inside = np.ones((len(s), len(z)))
    for one in loading:
        own = math.sqrt(1.0 - one**2)
        reach = t * s[:, None]
        inside *= ndtr((reach - one * z) / own) - ndtr((-reach - one * z) / own)
    return float(np.clip(weight @ (1.0 - inside @ density), 0.0, 1.0))


def dunnett_quantile(level: float, shared: ArrayLike, df: float) -> float:
    """Largest |t| of several comparisons with one standard that is exceeded with probability 1 - level."""
    return _quantile(lambda t: dunnett_sf(t, shared, df), level)


def scatter_rule(df: float, largest: float = math.inf) -> tuple[FloatArray, FloatArray]:
    """Points and weights for averaging over s = sqrt(chi-square / df), up to `largest`."""
    from scipy.special import gammaln

    sd = 1 / math.sqrt(2 * df)
    low, high = max(0.0, 1 - 12 * sd), min(1 + 12 * sd, largest)
    if high <= low:
        return np.zeros(1), np.zeros(1)
    nodes, weights = _legendre(120)
    unit, share = (nodes + 1) / 2, weights / 2
    middle = low + (high - low) / 4
    # The first quarter by its fourth root: few degrees of freedom leave a fractional power of s at 0.
    s = np.concatenate([low + (middle - low) * unit**4, middle + (high - middle) * unit])
    width = np.concatenate([(middle - low) * 4 * unit**3 * share, (high - middle) * share])
    log_density = (
        math.log(2) + df / 2 * math.log(df / 2) - gammaln(df / 2) + (df - 1) * np.log(s) - df * s**2 / 2
    )
    return s, width * np.exp(log_density)


def _normal_rule() -> tuple[FloatArray, FloatArray]:
    nodes, weights = _legendre(200)
    z = 9.0 * nodes
    return z, weights * 9.0 * np.exp(-0.5 * z**2) / math.sqrt(2 * math.pi)


@lru_cache(maxsize=4)
def _legendre(n: int) -> tuple[FloatArray, FloatArray]:
    from scipy.special import roots_legendre

    nodes, weights = roots_legendre(n)
    return np.asarray(nodes), np.asarray(weights)


def _quantile(upper_tail: object, level: float) -> float:
    from scipy.optimize import brentq

    assert callable(upper_tail)
    high = 4.0
    while upper_tail(high) > 1 - level:
        high *= 2
    return float(brentq(lambda x: upper_tail(x) - (1 - level), 0.0, high, xtol=1e-12, rtol=1e-13))
