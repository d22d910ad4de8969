"""The bound that is left when one side of a comparison never failed."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.censored import fit_lives
from wearlab.stats.design import FloatArray, as_matrix
from wearlab.stats.lives import Lives


def one_sided_limit(
    X: ArrayLike,
    lives: Lives,
    column: int,
    level: float = 0.95,
    distribution: str = "lognormal",
    names: Sequence[str] | None = None,
) -> Interval:
    """Limit of a coefficient that runs off to infinity because no row that it lengthens has failed.

    All failures share one value of the column; the rows with another value were all still good. The profile
    likelihood then rises towards one side without end, and falls below the F cut on the other.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix of ln life.
    lives : Lives
    column : int
        The column in question.
    level : float
        Confidence level of the two-sided interval whose limit this is.
    distribution : str
        As in `fit_lives`.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    Interval
        Infinite on one side.

    Raises
    ------
    Refusal
        When the failures do not share one value of the column, the rows lie on both sides of it, or the other
        coefficients cannot be had.

    Examples
    --------
    >>> X = np.column_stack([np.ones(8), np.repeat([0.0, 1.0], 4)])
    >>> lives = Lives.right_censored([40, 52, 47, 61, 70, 70, 70, 70], [1, 1, 1, 1, 0, 0, 0, 0])
    >>> limit = one_sided_limit(X, lives, 1)
    >>> round(limit.low, 3), limit.high
    (0.156, inf)
    """
    from scipy.optimize import brentq

    rest = _rest(X, lives, column, distribution, names)
    check_level(level)
    cut = rest.cut(level)
    size = np.abs(rest.distance).max()
    inner, outer = (rest.side * 8 * rest.sigma / size, -rest.side * 8 * rest.sigma / size)
    while rest.deviance(inner) > cut:
        inner *= 2
    while rest.deviance(outer) < cut:
        outer *= 2
    limit = float(
        brentq(lambda one: rest.deviance(one) - cut, min(inner, outer), max(inner, outer), xtol=1e-12, rtol=1e-12)
    )
    method = "profile likelihood, F cut, one side without failures"
    return Interval(limit, math.inf, level, method) if rest.side > 0 else Interval(-math.inf, limit, level, method)


def one_sided_p(
    X: ArrayLike, lives: Lives, column: int, value: float = 0.0, distribution: str = "lognormal"
) -> tuple[float, float, float]:
    """p of a value of such a coefficient, the degrees of freedom behind it, and the scale of ln life.

    The p is that of the level whose limit is the value: `one_sided_limit` leaves out every value with a smaller one.

    Examples
    --------
    >>> X = np.column_stack([np.ones(8), np.repeat([0.0, 1.0], 4)])
    >>> lives = Lives.right_censored([40, 52, 47, 61, 70, 70, 70, 70], [1, 1, 1, 1, 0, 0, 0, 0])
    >>> p, df, _ = one_sided_p(X, lives, 1)
    >>> round(one_sided_limit(X, lives, 1, 1 - p).low, 6), df
    (0.0, 2)
    """
    from scipy.special import stdtr

    rest = _rest(X, lives, column, distribution, None)
    t = math.sqrt(rest.df * math.expm1(max(rest.deviance(value), 0.0) / rest.failures))
    return float(2 * stdtr(rest.df, -t)), rest.df, rest.sigma


@dataclass(frozen=True, slots=True)
class _Rest:
    """What is left of the fit when the coefficient has run off: the failures, and the rows that they bound."""

    distance: FloatArray
    side: float
    df: int
    failures: int
    sigma: float
    deviance: Callable[[float], float]

    def cut(self, level: float) -> float:
        """Deviance at the limit of this level."""
        from scipy.special import stdtrit

        return self.failures * math.log1p(float(stdtrit(self.df, 0.5 + level / 2)) ** 2 / self.df)


def _rest(X: ArrayLike, lives: Lives, column: int, distribution: str, names: Sequence[str] | None) -> _Rest:
    matrix, labels = as_matrix(X, names)
    distance = _distance(matrix[:, column], lives, labels[column])
    others = np.delete(matrix, column, axis=1)
    other_names = [name for j, name in enumerate(labels) if j != column % len(labels)]
    bounded = distance == 0
    best = fit_lives(others[bounded], lives.take(bounded), distribution, other_names)
    df = best.failures - matrix.shape[1]
    if df < 1:
        raise Refusal(
            f"{best.failures} failures for {matrix.shape[1]} coefficients",
            where="limit of a life regression",
            allowed=f"at least {matrix.shape[1] + 1}",
        )

    def deviance(value: float) -> float:
        held = fit_lives(others, lives, distribution, other_names, offset=value * distance)
        return 2 * (best.loglik - held.loglik)

    return _Rest(distance, 1.0 if distance.max() > 0 else -1.0, df, best.failures, best.sigma, deviance)


def _distance(values: FloatArray, lives: Lives, name: str) -> FloatArray:
    """Distance of each row from the value that all failures share."""
    failed = np.unique(values[~lives.right])
    if len(failed) != 1:
        raise Refusal(
            f"{len(failed)} values of it among the failures", where=name, allowed="one, for a one-sided limit"
        )
    distance = values - failed[0]
    if not distance.any() or (distance.min() < 0 < distance.max()):
        raise Refusal("the rows without failures do not lie on one side of those with", where=name)
    return distance
