"""Laws of scatter of ln life: what one row adds to the log-likelihood, with first and second derivatives.

Every law here has a log-concave density, so each row's contribution is concave in the standardised bounds,
whichever way the life is known. All functions take and return arrays of one shape and stay finite for any
finite argument.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray

Terms = tuple[FloatArray, FloatArray, FloatArray]
"""Log-likelihood, first and second derivative with respect to the one bound."""
PairTerms = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]
"""Log-likelihood; derivatives by the lower, the upper bound; second ones lower-lower, lower-upper, upper-
upper.
"""

LARGEST = 300.0
"""Standardised values are clipped here before exponentials, far outside anything that a fit can hold."""


class ScatterLaw(Protocol):
    """Distribution of (ln life - location) / sigma."""

    @property
    def name(self) -> str:
        """Name of the distribution of life."""

    @property
    def mean(self) -> float:
        """Mean of the standardised scatter."""

    @property
    def sd(self) -> float:
        """Standard deviation of the standardised scatter."""

    def exact(self, u: FloatArray) -> Terms:
        """Terms of the log density."""

    def right(self, u: FloatArray) -> Terms:
        """Terms of ln P(beyond u)."""

    def left(self, u: FloatArray) -> Terms:
        """Terms of ln P(below u)."""

    def between(self, a: FloatArray, b: FloatArray) -> PairTerms:
        """Terms of ln P(between a and b)."""

    def quantile(self, p: float) -> float:
        """Standardised quantile."""

    def draw(self, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
        """Standardised random values."""


@dataclass(frozen=True)
class Normal:
    """Normal scatter of ln life: lognormal lives."""

    name: str = "lognormal"
    mean: float = 0.0
    sd: float = 1.0

    def exact(self, u: FloatArray) -> Terms:
        return -0.5 * u * u - 0.5 * math.log(2 * math.pi), -u, np.full_like(u, -1.0)

    def right(self, u: FloatArray) -> Terms:
        value, slope, bend = self.left(-u)
        return value, -slope, bend

    def left(self, u: FloatArray) -> Terms:
        from scipy.special import log_ndtr

        value = log_ndtr(u)
        ratio = np.exp(-0.5 * u * u - 0.5 * math.log(2 * math.pi) - value)
        return value, ratio, np.minimum(-ratio * (ratio + u), 0.0)

    def between(self, a: FloatArray, b: FloatArray) -> PairTerms:
        from scipy.special import log_ndtr

        # Both tails are computed as lower tails, where the logarithm keeps its digits.
        flip = a > 0
        low, high = np.where(flip, -b, a), np.where(flip, -a, b)
        top = log_ndtr(high)
        value = top + _log1mexp(np.maximum(top - log_ndtr(low), np.finfo(float).tiny))
        at_a = np.exp(-0.5 * a * a - 0.5 * math.log(2 * math.pi) - value)
        at_b = np.exp(-0.5 * b * b - 0.5 * math.log(2 * math.pi) - value)
        return value, -at_a, at_b, at_a * (a - at_a), at_a * at_b, -at_b * (b + at_b)

    def quantile(self, p: float) -> float:
        from scipy.special import ndtri

        return float(ndtri(p))

    def draw(self, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
        return rng.standard_normal(size)


@dataclass(frozen=True)
class SmallestExtreme:
    """Smallest-extreme-value scatter of ln life: Weibull lives; sigma is one over the shape."""

    name: str = "weibull"
    mean: float = -0.5772156649015329
    sd: float = math.pi / math.sqrt(6.0)

    def exact(self, u: FloatArray) -> Terms:
        u = np.clip(u, -LARGEST, LARGEST)
        e = np.exp(u)
        return u - e, 1.0 - e, -e

    def right(self, u: FloatArray) -> Terms:
        e = np.exp(np.clip(u, -LARGEST, LARGEST))
        return -e, -e, -e

    def left(self, u: FloatArray) -> Terms:
        e = np.exp(np.clip(u, -LARGEST, LARGEST))
        ratio = e / np.expm1(np.minimum(e, 700.0))
        return _log1mexp(e), ratio, np.minimum(ratio * (1.0 - e - ratio), 0.0)

    def between(self, a: FloatArray, b: FloatArray) -> PairTerms:
        a, width = np.clip(a, -LARGEST, LARGEST), np.clip(b - a, np.finfo(float).tiny, LARGEST)
        ea, grown = np.exp(a), np.expm1(width)
        gap = ea * grown
        # One over the relative width of the bracket in hazard; finite however small the probability.
        q = ea / np.expm1(np.minimum(gap, 700.0))
        up = q * (1.0 + grown)
        below = ea + q
        return (
            -ea + _log1mexp(np.maximum(gap, np.finfo(float).tiny)), -below, up,
            -below * (1.0 + q), up * below, up * (1.0 - (1.0 + grown) * below),
        )  # fmt: skip

    def quantile(self, p: float) -> float:
        return math.log(-math.log1p(-p))

    def draw(self, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
        return np.log(rng.standard_exponential(size))


@dataclass(frozen=True)
class Logistic:
    """Logistic scatter of ln life: loglogistic lives."""

    name: str = "loglogistic"
    mean: float = 0.0
    sd: float = math.pi / math.sqrt(3.0)

    def exact(self, u: FloatArray) -> Terms:
        from scipy.special import expit, log_expit

        below = expit(u)
        return log_expit(u) + log_expit(-u), 1.0 - 2.0 * below, -2.0 * below * expit(-u)

    def right(self, u: FloatArray) -> Terms:
        from scipy.special import expit, log_expit

        below = expit(u)
        return log_expit(-u), -below, -below * expit(-u)

    def left(self, u: FloatArray) -> Terms:
        value, slope, bend = self.right(-u)
        return value, -slope, bend

    def between(self, a: FloatArray, b: FloatArray) -> PairTerms:
        from scipy.special import expit, log_expit

        width = np.clip(b - a, np.finfo(float).tiny, 2 * LARGEST)
        grown = np.expm1(width)
        square = (1.0 + grown) / grown / grown
        return (
            log_expit(b) + log_expit(-a) + _log1mexp(width), -expit(a) - 1.0 / grown, expit(-b) + 1.0 / grown,
            -expit(a) * expit(-a) - square, square, -expit(b) * expit(-b) - square,
        )  # fmt: skip

    def quantile(self, p: float) -> float:
        return math.log(p) - math.log1p(-p)

    def draw(self, rng: np.random.Generator, size: tuple[int, ...]) -> FloatArray:
        return rng.logistic(size=size)


LAWS: dict[str, ScatterLaw] = {law.name: law for law in (Normal(), SmallestExtreme(), Logistic())}
"""Laws of scatter by the name of the distribution of life."""


def scatter_law(distribution: str) -> ScatterLaw:
    """The law of scatter of a distribution of life.

    Raises
    ------
    ArgumentError
        When there is no such distribution.

    Examples
    --------
    >>> round(scatter_law("weibull").quantile(0.5), 4)
    -0.3665
    """
    if distribution not in LAWS:
        raise ArgumentError(f"distribution {distribution!r}", where="distribution", allowed=", ".join(LAWS))
    return LAWS[distribution]


def _log1mexp(x: FloatArray) -> FloatArray:
    """ln(1 - exp(-x)) for positive x, without loss at either end."""
    small = x < math.log(2)
    return np.where(
        small, np.log(-np.expm1(-np.where(small, x, 1.0))), np.log1p(-np.exp(-np.where(small, 1.0, x)))
    )
