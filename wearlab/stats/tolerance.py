"""Lower tolerance bounds: a life that a share of all exceed, and how sure one is of it.

Complete lognormal lives have the exact factor from the noncentral t distribution, at one condition or at any point of
a fitted line. Censored and Weibull lives use the profile likelihood, cut where refits to resamples say: the
signed root of the deviance stays sound where a refitted scatter comes near zero, which (estimate - truth) / refitted
scatter does not. With few failures the data do not say which law holds in the tail, so the smaller of the lognormal
and the Weibull bound is what a change interval may rest on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.design import FloatArray
from wearlab.stats.life_prediction import RESAMPLES
from wearlab.stats.life_resampling import refit_many
from wearlab.stats.line import LinearFit
from wearlab.stats.lives import Lives


@dataclass(frozen=True)
class ToleranceBound:
    """A lower bound on the life that a share of all exceed.

    Attributes
    ----------
    bound : float
        On the scale of life; 0 where `why_missing` says why.
    estimate : float
        Estimated life that the share exceeds.
    reliability, confidence : float
        The share, and how sure the bound is.
    distribution : str
        Law of life.
    method : str
        How the bound was found.
    failures : int
        Failures behind it.
    why_missing : str or None
        Why there is no bound.
    """

    bound: float
    estimate: float
    reliability: float
    confidence: float
    distribution: str
    method: str
    failures: int
    why_missing: str | None = None


def normal_factor(n: int, reliability: float = 0.9, confidence: float = 0.9) -> float:
    """One-sided normal tolerance factor k: mean - k sd is the bound.

    Parameters
    ----------
    n : int
        Sample size, at least 2.
    reliability, confidence : float
        Share beyond the bound, and how sure.

    Returns
    -------
    float

    Examples
    --------
    >>> [round(normal_factor(n), 3) for n in (3, 5, 8, 12, 20)]
    [4.258, 2.742, 2.219, 1.966, 1.765]
    """
    if n < 2:
        raise ArgumentError(f"a sample of {n}", where="tolerance factor", allowed="at least 2")
    return leverage_factor(1.0 / n, n - 1, reliability, confidence)


def leverage_factor(leverage: float, df: int, reliability: float = 0.9, confidence: float = 0.9) -> float:
    """One-sided normal tolerance factor at a point of a fitted line: fitted - k sigma is the bound.

    Parameters
    ----------
    leverage : float
        Leverage of the point.
    df : int
        Residual degrees of freedom.
    reliability, confidence : float
        Share beyond the bound, and how sure.

    Notes
    -----
    k = t'(confidence; df, z / sqrt(h)) sqrt(h), with t' the noncentral t quantile.
    """
    from scipy.special import ndtri

    _check_shares(reliability, confidence)
    if not leverage > 0 or df < 1:
        raise ArgumentError(
            f"leverage {leverage:g}, {df} degrees of freedom",
            where="tolerance factor",
            allowed="both above 0",
        )
    z = float(ndtri(reliability))
    return _noncentral_quantile(confidence, df, z / math.sqrt(leverage)) * math.sqrt(leverage)


def line_bound(
    fit: LinearFit, x: ArrayLike, reliability: float = 0.9, confidence: float = 0.9
) -> ToleranceBound:
    """Exact lower tolerance bound of life at a point of a line fitted to ln life.

    Parameters
    ----------
    fit : LinearFit
        Fit to ln life.
    x : array_like, shape (p,)
        Design row.
    reliability, confidence : float
        Share beyond the bound, and how sure.

    Returns
    -------
    ToleranceBound
    """
    from scipy.special import ndtri

    _check_shares(reliability, confidence)
    method = "noncentral t"
    if fit.why_missing is not None:
        return ToleranceBound(
            0.0, math.nan, reliability, confidence, "lognormal", method, fit.n, fit.why_missing
        )
    centre = fit.estimate(x)
    factor = leverage_factor(fit.leverage_at(x), fit.df, reliability, confidence)
    estimate = math.exp(centre - float(ndtri(reliability)) * fit.sigma)
    return ToleranceBound(
        math.exp(centre - factor * fit.sigma), estimate, reliability, confidence, "lognormal", method, fit.n
    )


def life_bound(
    fit: LifeRegression,
    x: ArrayLike,
    reliability: float = 0.9,
    confidence: float = 0.9,
    resamples: int = RESAMPLES,
    rng: np.random.Generator | int | None = None,
) -> ToleranceBound:
    """Lower tolerance bound of life at a design row of a life regression.

    The exact factor for complete lognormal lives; otherwise the profile likelihood of the quantile, cut where the
    refits to resamples say, and where lives were withdrawn not nearer than the F cut.

    Parameters
    ----------
    fit : LifeRegression
    x : array_like, shape (p,)
        Design row (offset 0).
    reliability, confidence : float
        Share beyond the bound, and how sure.
    resamples : int
        Refits.
    rng : Generator or int, optional

    Returns
    -------
    ToleranceBound

    Raises
    ------
    Refusal
        When most resamples cannot be fitted.
    """
    _check_shares(reliability, confidence)
    row = np.asarray(x, dtype=float)
    estimate = fit.quantile(row, 1 - reliability)
    if fit.distribution == "lognormal" and bool(fit.lives.exact.all()):
        leverage = float(row @ fit.covariance[:-1, :-1] @ row) / fit.sigma**2
        sd = fit.sigma * math.sqrt(fit.n / fit.df)
        bound = fit.estimate(row) - leverage_factor(leverage, fit.df, reliability, confidence) * sd
        method = "noncentral t"
    else:
        size, refits = _resampled_size(fit, row, 1 - reliability, confidence, resamples, rng)
        bound = fit.signed_limit(row, size, 1 - reliability)
        method = f"signed root of the deviance, {refits} refits"
    return ToleranceBound(
        math.exp(bound), estimate, reliability, confidence, fit.distribution, method, fit.failures
    )


def _resampled_size(
    fit: LifeRegression,
    row: FloatArray,
    p: float,
    confidence: float,
    resamples: int,
    rng: np.random.Generator | int | None,
) -> tuple[float, int]:
    """Signed size of the deviance at which the profile of a quantile is cut, and the refits behind it."""
    from scipy.special import stdtrit

    many, _ = refit_many(fit, resamples, rng)
    sizes = many.signed_sizes(row, fit.log_quantile(row, p), p)
    sizes = sizes[~np.isnan(sizes)]
    size = float(np.quantile(sizes, confidence))
    # Withdrawals leave some speeds with few failures, where the refits alone promise too much.
    return (max(size, float(stdtrit(fit.df, confidence))) if fit.lives.right.any() else size), len(sizes)


def smaller_bound(
    X: ArrayLike,
    lives: Lives,
    x: ArrayLike,
    reliability: float = 0.9,
    confidence: float = 0.9,
    resamples: int = RESAMPLES,
    rng: np.random.Generator | int | None = None,
    names: Sequence[str] | None = None,
) -> tuple[ToleranceBound, ToleranceBound]:
    """Lower tolerance bounds under the lognormal and the Weibull law, the smaller first.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix of ln life.
    lives : Lives
    x : array_like, shape (p,)
        Design row.
    reliability, confidence : float
        Share beyond the bound, and how sure.
    resamples : int
        Refits of each law.
    rng : Generator or int, optional
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    tuple of ToleranceBound
    """
    generator = np.random.default_rng(rng)
    bounds = [
        life_bound(fit_lives(X, lives, law, names), x, reliability, confidence, resamples, generator)
        for law in ("lognormal", "weibull")
    ]
    first, second = sorted(bounds, key=lambda one: one.bound)
    return first, second


def shortest_life_confidence(n: int, reliability: float = 0.9) -> float:
    """How sure it is, without any law, that a share of all exceeds the shortest of n lives.

    Examples
    --------
    >>> [round(shortest_life_confidence(n), 2) for n in (3, 5, 10, 22)]
    [0.27, 0.41, 0.65, 0.9]
    """
    _check_shares(reliability, 0.5)
    if n < 1:
        raise ArgumentError(f"{n} lives", where="shortest life", allowed="at least 1")
    return 1.0 - reliability**n


def _noncentral_quantile(probability: float, df: int, distance: float) -> float:
    """Quantile of the noncentral t distribution, by averaging over the scatter."""
    from scipy.optimize import brentq
    from scipy.special import ndtr

    from wearlab.stats.simultaneous import scatter_rule

    s, weight = scatter_rule(df)

    def excess(t: float) -> float:
        return float(weight @ ndtr(t * s - distance)) - probability

    low, high = min(distance, 0.0) - 1.0, max(distance, 0.0) + 1.0
    while excess(low) > 0:
        low *= 2
    while excess(high) < 0:
        high *= 2
    return float(brentq(excess, low, high, xtol=1e-13, rtol=1e-14))


def _check_shares(reliability: float, confidence: float) -> None:
    for name, share in (("reliability", reliability), ("confidence", confidence)):
        if not 0 < share < 1:
            raise ArgumentError(f"{name} {share:g}", where=name, allowed="between 0 and 1, such as 0.9")
