"""From lives to the arrays that Newton's method works on, and the guards that say when a fit cannot be had."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearlab.core.errors import Refusal
from wearlab.stats.design import Design, FloatArray, first_dependent
from wearlab.stats.life_newton import LifeProblem
from wearlab.stats.scatter import ScatterLaw

NARROW = 1e-7
"""Brackets narrower than this share of the spread of the ln lives count as exact at their middle."""
IDENTIFIED = 1e3
"""A coefficient whose standard error exceeds this many sigma (columns of unit size) ran off to infinity."""


@dataclass(frozen=True)
class Setup:
    """A problem, its start, and what turns its parameters back into those of the columns as given.

    Attributes
    ----------
    problem : LifeProblem
    start : array, shape (B, p + 1)
    design : Design
    centre : array, shape (B,)
        What was taken from the ln lives.
    constant : array, shape (B,)
        What turns the log-likelihood of ln life into that of life.
    failures : array, shape (B,)
        Number of failures.
    """

    problem: LifeProblem
    start: FloatArray
    design: Design
    centre: FloatArray
    constant: FloatArray
    failures: FloatArray


def set_up(
    design: Design,
    law: ScatterLaw,
    lower: FloatArray,
    upper: FloatArray,
    offset: FloatArray | None = None,
    weights: FloatArray | None = None,
) -> Setup:
    """Classify the rows of B replicates (bounds of shape (B, n)) and find a start for each."""
    with np.errstate(divide="ignore"):
        low, high = np.log(lower), np.log(upper)
    left, right, exact = np.isneginf(low), np.isposinf(high), low == high
    kind = np.select([exact, right, left], [0, 1, 2], 3).astype(np.int8)
    first = np.where(left, high, low)
    second = np.where(kind == 3, high, first)
    # The density of ln life stands in the fit; that of life has 1 / life beside it in the exact rows.
    constant = -_sum(np.where(exact, first, 0.0), weights)
    if offset is not None:
        first, second = first - offset, second - offset
    narrow = (kind == 3) & (second - first <= NARROW * np.ptp(first, axis=1, keepdims=True))
    if narrow.any():
        constant = constant + _sum(
            np.where(narrow, np.log(np.where(narrow, second - first, 1.0)), 0.0), weights
        )
        first = np.where(narrow, (first + second) / 2, first)
        kind = np.where(narrow, 0, kind).astype(np.int8)
    centre = np.zeros(len(first))
    if design.intercept is not None:
        centre = first.mean(axis=1)
        first, second = first - centre[:, None], second - centre[:, None]
    problem = LifeProblem(design.Z, law, first, second, kind, weights)
    failures = _sum((~right).astype(float), weights)
    return Setup(problem, _start(problem, design.intercept), design, centre, constant, failures)


def _sum(values: FloatArray, weights: FloatArray | None) -> FloatArray:
    return np.asarray((values if weights is None else values * weights).sum(axis=-1), dtype=float)


def _start(problem: LifeProblem, intercept: int | None) -> FloatArray:
    """Least squares on the middles of the brackets and on the bounds of the rest, by the moments of the law."""
    Z, law = problem.Z, problem.law
    middle = (problem.first + problem.second) / 2
    gamma = np.linalg.solve(Z.T @ Z, Z.T @ middle.T).T
    left = middle - gamma @ Z.T
    sigma = np.sqrt(np.mean(left**2, axis=1)) / law.sd
    sigma = np.maximum(sigma, 1e-3 * problem.spread + 1e-300)
    if intercept is not None:
        gamma[:, intercept] -= law.mean * sigma / Z[0, intercept]
    return np.column_stack([gamma / sigma[:, None], 1.0 / sigma])


def refuse_inestimable(design: Design, kind: NDArray[np.int8], first: FloatArray, failures: float) -> None:
    """Refuse, with the reason, one set of lives from which the coefficients and sigma cannot be had.

    Raises
    ------
    Refusal
        When there are too few failures, when the failures do not vary in a column, or all lives are equal.
    """
    if failures < design.p + 1:
        raise Refusal(
            f"{_count(failures, 'failure')} for {_count(design.p, 'coefficient')} ({', '.join(design.names)})",
            where="life regression",
            allowed=f"at least {design.p + 1} failures",
        )
    column = first_dependent(design.Z[kind != 1])
    if column is not None:
        raise Refusal(
            "the failures do not vary in it apart from the other columns, so its coefficient cannot be had",
            where=design.names[column],
            allowed="failures at two or more of its levels",
        )
    if np.ptp(first) == 0 and (kind != 3).all():
        raise Refusal("all lives are equal: there is no scatter to fit", where="life regression")


def _count(number: float, word: str) -> str:
    return f"{number:g} {word}" + ("" if number == 1 else "s")


def estimable(problem: LifeProblem, failures: FloatArray) -> NDArray[np.bool_]:
    """Which replicates pass the guards of `refuse_inestimable`, shape (B,)."""
    p = problem.Z.shape[1]
    failed = (problem.kind != 1).astype(float)
    counted = failed if problem.weights is None else failed * problem.weights
    gram = (counted @ problem.products).reshape(-1, p, p) / np.maximum(failures, 1.0)[:, None, None]
    full = np.linalg.eigvalsh(gram)[:, 0] > 1e-12
    moving = (problem.spread > 0) | (problem.kind == 3).any(axis=1)
    return (failures >= p + 1) & full & moving
