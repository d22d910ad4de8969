"""The bound that is left when one side of a comparison never failed."""

from __future__ import annotations

import math
from collections.abc import Sequence

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
    from scipy.special import stdtrit

    matrix, labels = as_matrix(X, names)
    check_level(level)
    distance = _distance(matrix[:, column], lives, labels[column])
    side = 1.0 if distance.max() > 0 else -1.0
    others = np.delete(matrix, column, axis=1)
    other_names = [name for j, name in enumerate(labels) if j != column]
    bounded = distance == 0
    best = fit_lives(others[bounded], lives.take(bounded), distribution, other_names)
    df = best.failures - matrix.shape[1]
    if df < 1:
        raise Refusal(
            f"{best.failures} failures for {matrix.shape[1]} coefficients",
            where="limit of a life regression",
            allowed=f"at least {matrix.shape[1] + 1}",
        )
    cut = best.failures * math.log1p(float(stdtrit(df, 0.5 + level / 2)) ** 2 / df)

    def excess(value: float) -> float:
        held = fit_lives(others, lives, distribution, other_names, offset=value * distance)
        return 2 * (best.loglik - held.loglik) - cut

    size = np.abs(distance).max()
    inner, outer = (side * 8 * best.sigma / size, -side * 8 * best.sigma / size)
    while excess(inner) > 0:
        inner *= 2
    while excess(outer) < 0:
        outer *= 2
    limit = float(brentq(excess, min(inner, outer), max(inner, outer), xtol=1e-12, rtol=1e-12))
    method = "profile likelihood, F cut, one side without failures"
    return Interval(limit, math.inf, level, method) if side > 0 else Interval(-math.inf, limit, level, method)


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
