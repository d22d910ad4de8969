"""Chance of each verdict before the trial: exact under normal logs and a common scatter.

The estimate is normal about the truth and its estimated error is a chi variable, so each chance is an average of
normal probabilities over the estimated error (the integral behind the noncentral t; derived).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import check_level
from wearlab.stats.equivalence import VERDICTS
from wearlab.stats.simultaneous import scatter_rule

TIED_NODES = 40
"""Points a side of the product rule for tied scatters."""


@dataclass(frozen=True, slots=True)
class Precision:
    """What a design knows of one contrast.

    Attributes
    ----------
    error : float
        True standard error of the estimate (of ln ratio, or of a difference in its unit).
    df : float
        Degrees of freedom of the estimated error; below 1 there is no interval.
    inflation : float
        Mean estimated variance of the estimate over its true variance: above 1 where the analysis leaves a block
        effect in the scatter.
    tied : float
        Correlation of the two sides' values that the analysis leaves out: the estimated variance is then a mixture of
        two chi-squares with weights (1 + tied)/2 and (1 - tied)/2, each on half of the degrees of freedom.
    """

    error: float
    df: float
    inflation: float = 1.0
    tied: float = 0.0


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance of each verdict at one truth."""

    different: float
    small_but_real: float
    alike: float
    cannot_tell: float

    @property
    def shown(self) -> float:
        """The interval excludes no difference: the power of the two-sided test."""
        return self.different + self.small_but_real

    def of(self, verdict: str) -> float:
        """Chance of one verdict by its word."""
        return float(getattr(self, verdict))

    def to_dict(self) -> dict[str, float]:
        """By the words of a verdict."""
        return {verdict: self.of(verdict) for verdict in VERDICTS}


NO_VERDICT = Chances(0.0, 0.0, 0.0, 1.0)
"""A design without degrees of freedom."""


def verdict_chances(
    precision: Precision, truth: float, margin: float, level: float = 0.95, pairs: int = 1
) -> Chances:
    """Chance of each verdict.

    Parameters
    ----------
    precision : Precision
    truth : float
        True ln ratio (or difference).
    margin : float
        Ln of the smallest ratio worth acting on (or the difference).
    level : float
        Confidence level of the interval; that of the inner interval is one less twice the rest.
    pairs : int
        Contrasts that share the error (Bonferroni).

    Raises
    ------
    ArgumentError
        When the margin or the error is not above 0.

    Examples
    --------
    >>> import math
    >>> chances = verdict_chances(Precision(0.15 * math.sqrt(2 / 5), 8), math.log(1.3), math.log(1.25))
    >>> round(chances.shown, 6)
    0.679243
    """
    if not margin > 0 or not precision.error > 0 or pairs < 1:
        raise ArgumentError(
            f"margin {margin:g}, error {precision.error:g}, {pairs} pairs", where="chances", allowed="above 0"
        )
    if precision.df < 1:
        return NO_VERDICT
    outer, inner = _reach(precision, level, pairs)
    mean, edge = truth / precision.error, margin / precision.error
    # Whole pieces between the kinks of the integrand, so that the rule is exact to rounding.
    both, last = edge / (inner + outer), edge / inner
    shown = 1.0 - _mean_within(precision, math.inf, mean, 0.0, outer)
    inside = _mean_within(precision, last, mean, edge, -inner)
    alike = (
        _mean_within(precision, both, mean, 0.0, outer)
        + inside
        - _mean_within(precision, both, mean, edge, -inner)
    )
    small = max(inside - alike, 0.0)
    return Chances(max(shown - small, 0.0), small, alike, max(1.0 - shown - alike, 0.0))


@lru_cache(maxsize=1024)
def detectable(precision: Precision, power: float = 0.8, level: float = 0.95, pairs: int = 1) -> float:
    """Smallest true ln ratio (or difference) that is shown with the wanted chance; infinite without an interval.

    >>> import math
    >>> round(math.exp(detectable(Precision(0.15 * math.sqrt(2 / 5), 8))), 2)
    1.35
    """
    from scipy.optimize import brentq

    check_level(level)
    if precision.df < 1:
        return math.inf
    if not 1.0 - level < power < 1.0:
        raise ArgumentError(f"power {power:g}", where="power", allowed=f"between {1 - level:g} and 1")

    def gap(truth: float) -> float:
        return verdict_chances(precision, truth, 1.0, level, pairs).shown - power

    high = precision.error
    while gap(high) < 0:
        high *= 2.0
    return float(brentq(gap, 0.0, high, xtol=1e-12))


def _reach(precision: Precision, level: float, pairs: int) -> tuple[float, float]:
    """Half-widths of the two intervals in true standard errors, when the estimated error is the true one."""
    from scipy.special import stdtrit

    alpha = (1.0 - check_level(level)) / pairs
    scale = math.sqrt(precision.inflation)
    return float(stdtrit(precision.df, 1.0 - alpha / 2)) * scale, float(
        stdtrit(precision.df, 1.0 - alpha)
    ) * scale


def _mean_within(precision: Precision, largest: float, mean: float, start: float, slope: float) -> float:
    """Mean over the estimated error s, up to `largest`, of P(|Z + mean| <= start + slope s)."""
    from scipy.special import ndtr

    scatter, weight = _estimated(precision, largest)
    half = np.maximum(start + slope * scatter, 0.0)
    return float(np.sum(weight * (ndtr(half - mean) - ndtr(-half - mean))))


def _estimated(precision: Precision, largest: float) -> tuple[np.ndarray, np.ndarray]:
    """Values of the estimated error over its mean square, and their weights."""
    if precision.tied == 0.0:
        return scatter_rule(precision.df, largest)
    scatter, weight = _tied_rule(precision.df / 2, precision.tied)
    return scatter, np.where(scatter <= largest, weight, 0.0)


@lru_cache(maxsize=256)
def _tied_rule(half_df: float, tied: float) -> tuple[np.ndarray, np.ndarray]:
    """Product rule for the square root of a mixture of two chi-squares; far tails, below 1e-12, are left out."""
    from scipy.special import chdtr, chdtri

    nodes, weights = np.polynomial.legendre.leggauss(TIED_NODES)
    low, high = (math.sqrt(float(chdtri(half_df, tail)) / half_df) for tail in (1.0 - 1e-12, 1e-13))
    edges = low + (high - low) * (nodes + 1.0) / 2.0
    log_density = (half_df - 1.0) * np.log(edges) - half_df * edges**2 / 2.0
    weight = weights * np.exp(log_density - log_density.max())
    weight *= (chdtr(half_df, half_df * high**2) - chdtr(half_df, half_df * low**2)) / weight.sum()
    square = ((1.0 + tied) * edges[:, None] ** 2 + (1.0 - tied) * edges[None, :] ** 2) / 2.0
    return np.sqrt(square), weight[:, None] * weight[None, :]
