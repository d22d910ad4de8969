"""Models compared by what they say of rows that they have not seen, whole groups being held out together.

Readings, or cutters of one block, share what made them; holding out single rows would let a model peek. The group is
the cutter, or the block where there are blocks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.design import FloatArray, as_matrix, as_vector
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law
from wearlab.stats.two_groups import TwoSample, paired


@dataclass(frozen=True)
class HeldOut:
    """Scores of held-out rows, larger is better.

    Attributes
    ----------
    groups : tuple of str
        Groups in the order of their first row.
    score : array, shape (g,)
        Sum over the rows of each group; NaN where the rest could not be fitted without it.
    rows : array, shape (g,)
        Rows of each group.
    kind : str
        "log density of life" or "minus squared error".
    left_out : tuple of str
        Why groups have no score.
    """

    groups: tuple[str, ...]
    score: FloatArray
    rows: NDArray[np.intp]
    kind: str
    left_out: tuple[str, ...]

    @property
    def mean(self) -> float:
        """Mean score of a row, over the groups that have one."""
        good = ~np.isnan(self.score)
        return float(self.score[good].sum() / self.rows[good].sum()) if good.any() else float("nan")


def held_out_lives(
    X: ArrayLike,
    lives: Lives,
    groups: Sequence[object],
    distribution: str = "lognormal",
    names: Sequence[str] | None = None,
) -> HeldOut:
    """Log density (or probability, where a life is not known exactly) of each group under the fit to the others.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix of ln life.
    lives : Lives
    groups : sequence, length n
        What is held out together.
    distribution : str
        As in `fit_lives`.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    HeldOut

    Raises
    ------
    Refusal
        When there are fewer than two groups, or no fit without any one of them.
    """
    matrix, labels = as_matrix(X, names)

    def score(train: NDArray[np.bool_], test: NDArray[np.bool_]) -> float:
        fit = fit_lives(matrix[train], lives.take(train), distribution, labels)
        return float(log_scores(fit, matrix[test], lives.take(test)).sum())

    return _over_groups(groups, len(matrix), score, "log density of life")


def held_out_line(
    X: ArrayLike, y: ArrayLike, groups: Sequence[object], names: Sequence[str] | None = None
) -> HeldOut:
    """Minus the squared error of each group under the least-squares fit to the others.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix.
    y : array_like, shape (n,)
        Response.
    groups : sequence, length n
        What is held out together.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    HeldOut

    Examples
    --------
    >>> x = np.arange(6.0)
    >>> held = held_out_line(np.column_stack([np.ones(6), x]), 2 * x + [0.1, -0.1, 0, 0.1, -0.1, 0], list("aabbcc"))
    >>> held.groups, round(held.mean, 4)
    (('a', 'b', 'c'), -0.0112)
    """
    matrix, labels = as_matrix(X, names)
    response = as_vector(y, "y", len(matrix))

    def score(train: NDArray[np.bool_], test: NDArray[np.bool_]) -> float:
        fit = fit_line(matrix[train], response[train], labels)
        return -float(np.sum((response[test] - matrix[test] @ fit.beta) ** 2))

    return _over_groups(groups, len(matrix), score, "minus squared error")


def compare_held_out(a: HeldOut, b: HeldOut) -> TwoSample:
    """Paired difference of the scores of two models, a - b, over the groups that both could score.

    Raises
    ------
    ArgumentError
        When the scores are not of the same groups and kind.
    """
    if a.groups != b.groups or a.kind != b.kind:
        raise ArgumentError(
            "scores of different groups or kinds", where="held-out scores", allowed="the same"
        )
    both = ~(np.isnan(a.score) | np.isnan(b.score))
    return paired(a.score[both], b.score[both])


def log_scores(fit: LifeRegression, X: FloatArray, lives: Lives) -> FloatArray:
    """Log density of life of exact rows, log probability of the others, under a fit (offset 0)."""
    law = scatter_law(fit.distribution)
    location = X @ fit.beta
    with np.errstate(divide="ignore"):
        low, high = (np.log(lives.lower) - location) / fit.sigma, (np.log(lives.upper) - location) / fit.sigma
    scores = np.empty(len(lives))
    scores[lives.exact] = law.exact(low[lives.exact])[0] - np.log(fit.sigma * lives.lower[lives.exact])
    scores[lives.right] = law.right(low[lives.right])[0]
    scores[lives.left] = law.left(high[lives.left])[0]
    scores[lives.interval] = law.between(low[lives.interval], high[lives.interval])[0]
    return scores


def _over_groups(groups: Sequence[object], n: int, score: object, kind: str) -> HeldOut:
    assert callable(score)
    labels = np.array([str(one) for one in groups])
    if len(labels) != n:
        raise ArgumentError(f"{len(labels)} groups", where="groups", allowed=f"{n}, one a row")
    names = tuple(dict.fromkeys(labels.tolist()))
    if len(names) < 2:
        raise Refusal(f"{len(names)} groups", where="cross-validation", allowed="at least two")
    found, reasons = np.full(len(names), np.nan), []
    for k, name in enumerate(names):
        test = labels == name
        try:
            found[k] = score(~test, test)
        except Refusal as refusal:
            reasons.append(f"without {name}: {refusal.message()}")
    if np.isnan(found).all():
        raise Refusal(f"no group can be left out: {reasons[0]}", where="cross-validation")
    return HeldOut(
        names, found, np.array([int(np.sum(labels == name)) for name in names]), kind, tuple(reasons)
    )
