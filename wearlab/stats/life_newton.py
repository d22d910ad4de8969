"""Newton's method for life regressions, many replicates at once.

With gamma = beta / sigma and tau = 1 / sigma every standardised bound is linear in theta = (gamma, tau), and
the log-likelihood is concave (Olsen's parametrisation, from memory; the derivatives are checked against
differences and the fits against R's survreg). A replicate counts as converged only when its Newton decrement
is small and not negative; a negative decrement means a curvature lost to rounding, not an optimum.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearlab.stats.design import FloatArray
from wearlab.stats.scatter import ScatterLaw

STEPS = 60
"""Newton steps after which a replicate is given up."""
SMALL = 1e-13
"""Newton decrement (twice the log-likelihood still to be gained) at which the last step is taken."""
QUARTERINGS = 40
"""How often a step that does not climb is cut to a quarter."""
CREEP = 1e-5
"""A step cut below this share of itself that gains nothing visible ends the search: the next would be the same."""
COLLAPSED = 1e9
"""A tau times the spread of the ln lives beyond this means that sigma runs to zero, below its inverse to infinity."""


@dataclass(frozen=True)
class LifeProblem:
    """Rows of B replicates: `n` rows with one shared design each.

    Attributes
    ----------
    Z : array, shape (n, p)
        Prepared design.
    law : ScatterLaw
        Law of scatter.
    first : array, shape (B, n)
        Ln of the bound that counts: the life, the lower bound, or the upper one of a left-censored row.
    second : array, shape (B, n)
        Ln of the upper bound of the rows known between two looks; anything elsewhere.
    kind : int8 array, shape (B, n)
        0 exact, 1 right, 2 left, 3 between.
    weights : array, shape (B, n), or None
        How often each row counts.
    """

    Z: FloatArray
    law: ScatterLaw
    first: FloatArray
    second: FloatArray
    kind: NDArray[np.int8]
    weights: FloatArray | None

    @property
    def replicates(self) -> int:
        """Number of replicates."""
        return self.first.shape[0]

    def subset(self, rows: NDArray[np.intp]) -> LifeProblem:
        """Some of the replicates."""
        weights = None if self.weights is None else self.weights[rows]
        return replace(
            self, first=self.first[rows], second=self.second[rows], kind=self.kind[rows], weights=weights
        )

    @cached_property
    def places(self) -> list[NDArray[np.intp] | slice]:
        """Flat positions of the rows of each kind; a full slice when there is one kind only."""
        flat = self.kind.ravel()
        found = [np.flatnonzero(flat == kind) for kind in range(4)]
        return [slice(None) if len(place) == flat.size else place for place in found]

    @cached_property
    def width(self) -> FloatArray:
        """Ln of upper over lower bound of the rows between two looks, in flat order."""
        return (self.second - self.first).ravel()[self.places[3]]

    @cached_property
    def exact_weight(self) -> FloatArray:
        """Number of exact rows, shape (B,)."""
        exact = self.kind == 0
        return (exact if self.weights is None else exact * self.weights).sum(axis=1).astype(float)

    @cached_property
    def products(self) -> FloatArray:
        """Products of the design's columns, shape (n, p * p)."""
        n, p = self.Z.shape
        return (self.Z[:, :, None] * self.Z[:, None, :]).reshape(n, p * p)

    @cached_property
    def spread(self) -> FloatArray:
        """Spread of the ln lives, shape (B,)."""
        return np.ptp(self.first, axis=1)


Derivatives = tuple[FloatArray, FloatArray, FloatArray]


def derivatives(problem: LifeProblem, theta: FloatArray) -> Derivatives:
    """Log-likelihood of ln life, its gradient and its Hessian at `theta`.

    Parameters
    ----------
    problem : LifeProblem
    theta : array, shape (B, p + 1)
        gamma and, last, tau.

    Returns
    -------
    tuple of array
        Shapes (B,), (B, p + 1) and (B, p + 1, p + 1).
    """
    B, n = problem.first.shape
    p = problem.Z.shape[1]
    tau = theta[:, p]
    u = (tau[:, None] * problem.first - theta[:, :p] @ problem.Z.T).ravel()
    value, slope, bend = np.zeros((3, B * n))
    for kind, terms in ((0, problem.law.exact), (1, problem.law.right), (2, problem.law.left)):
        place = problem.places[kind]
        if isinstance(place, slice) or len(place):
            value[place], slope[place], bend[place] = terms(u[place])
    own = (slope, bend)
    along = _between(problem, u, tau, value, own) if _has_brackets(problem) else None
    return _assemble(problem, theta, value, own, along)


def _has_brackets(problem: LifeProblem) -> bool:
    place = problem.places[3]
    return isinstance(place, slice) or len(place) > 0


def _between(
    problem: LifeProblem,
    u: FloatArray,
    tau: FloatArray,
    value: FloatArray,
    own: tuple[FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Add the rows between two looks; return what their width adds to the derivatives by tau."""
    n = problem.first.shape[1]
    place = problem.places[3]
    rows = np.arange(len(u))[place] // n
    lower = u[place]
    value[place], by_a, by_b, aa, ab, bb = problem.law.between(lower, lower + tau[rows] * problem.width)
    slope, bend = own
    slope[place], bend[place] = by_a + by_b, aa + 2 * ab + bb
    by_width, cross, square = np.zeros((3, len(u)))
    by_width[place], cross[place], square[place] = (
        by_b * problem.width,
        (ab + bb) * problem.width,
        bb * problem.width**2,
    )
    return by_width, cross, square


def _assemble(
    problem: LifeProblem,
    theta: FloatArray,
    value: FloatArray,
    own: tuple[FloatArray, FloatArray],
    along: tuple[FloatArray, FloatArray, FloatArray] | None,
) -> Derivatives:
    """Sum rows into gradients and Hessians; `along` holds the parts that the widths of the brackets add."""
    B, n = problem.first.shape
    Z, y, tau, p = problem.Z, problem.first, theta[:, -1], problem.Z.shape[1]
    value, slope, bend = value.reshape(B, n), own[0].reshape(B, n), own[1].reshape(B, n)
    if problem.weights is not None:
        value, slope, bend = value * problem.weights, slope * problem.weights, bend * problem.weights
    bend_y = bend * y
    by_tau = np.einsum("bn,bn->b", slope, y)
    by_tau_tau = np.einsum("bn,bn->b", bend_y, y)
    if along is not None:
        width_1, cross, square = (part.reshape(B, n) for part in along)
        if problem.weights is not None:
            width_1, cross, square = (part * problem.weights for part in (width_1, cross, square))
        by_tau += width_1.sum(axis=1)
        by_tau_tau += 2 * np.einsum("bn,bn->b", cross, y) + square.sum(axis=1)
        bend_y = bend_y + cross
    gradient, hessian = np.empty((B, p + 1)), np.empty((B, p + 1, p + 1))
    gradient[:, :p], gradient[:, p] = -(slope @ Z), by_tau + problem.exact_weight / tau
    hessian[:, :p, :p] = (bend @ problem.products).reshape(B, p, p)
    hessian[:, :p, p] = hessian[:, p, :p] = -(bend_y @ Z)
    hessian[:, p, p] = by_tau_tau - problem.exact_weight / tau**2
    return value.sum(axis=1) + problem.exact_weight * np.log(tau), gradient, hessian


@dataclass(frozen=True)
class Optimum:
    """Where Newton's method came to rest, B replicates.

    Attributes
    ----------
    theta : array, shape (B, q)
    loglik : array, shape (B,)
        Log-likelihood of ln life.
    gradient, hessian : array
        Of the whole parameter, at the last step's start.
    converged : bool array, shape (B,)
    iterations : int array, shape (B,)
    """

    theta: FloatArray
    loglik: FloatArray
    gradient: FloatArray
    hessian: FloatArray
    converged: NDArray[np.bool_]
    iterations: NDArray[np.intp]

    def take(self, rows: NDArray[np.intp]) -> Optimum:
        """Where some of the replicates came to rest."""
        return Optimum(
            self.theta[rows], self.loglik[rows], self.gradient[rows], self.hessian[rows], self.converged[rows],
            self.iterations[rows],
        )  # fmt: skip


def maximise(problem: LifeProblem, start: FloatArray, basis: FloatArray | None = None) -> Optimum:
    """Maximise the log-likelihood from `start`, in the directions of `basis` where one is given.

    Parameters
    ----------
    problem : LifeProblem
    start : array, shape (B, q)
        Starting point with positive tau; it stays on its own side of any constraint that `basis` stands for.
    basis : array, shape (B, q, m), optional
        Directions that may be moved in; all when left out.

    Returns
    -------
    Optimum
    """
    B, q = start.shape
    out = Optimum(
        start.copy(), np.full(B, np.nan), np.zeros((B, q)), np.zeros((B, q, q)), np.zeros(B, dtype=bool),
        np.full(B, STEPS),
    )  # fmt: skip
    rows, spread, theta = np.arange(B), problem.spread, start
    loglik, gradient, hessian = derivatives(problem, theta)
    stuck = np.zeros(B, dtype=bool)
    for count in range(1, STEPS + 1):
        step, decrement = newton_step(gradient, hessian, basis)
        last = (decrement >= 0) & (decrement <= SMALL)
        size = theta[:, -1] * spread
        done = last | stuck | (size > COLLAPSED) | (size < 1.0 / COLLAPSED)
        if done.any() or count == STEPS:
            at = rows[done] if count < STEPS else rows
            leaves = done if count < STEPS else np.ones(len(rows), dtype=bool)
            out.theta[at] = theta[leaves] + np.where(last[leaves, None], step[leaves], 0.0)
            out.loglik[at] = loglik[leaves] + np.where(last[leaves], decrement[leaves] / 2, 0.0)
            out.gradient[at], out.hessian[at] = gradient[leaves], hessian[leaves]
            out.converged[at], out.iterations[at] = last[leaves], count
            if leaves.all():
                break
            stay = ~leaves
            rows, spread, theta, step, loglik = (
                rows[stay],
                spread[stay],
                theta[stay],
                step[stay],
                loglik[stay],
            )
            problem, basis = problem.subset(np.flatnonzero(stay)), None if basis is None else basis[stay]
        theta, (loglik, gradient, hessian), stuck = _climb(problem, theta, loglik, step)
    return out


def newton_step(
    gradient: FloatArray, hessian: FloatArray, basis: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Newton step and decrement, within the directions of `basis`; NaN decrements where curvature is lost."""
    if basis is not None:
        gradient = np.einsum("bqm,bq->bm", basis, gradient)
        hessian = np.swapaxes(basis, 1, 2) @ hessian @ basis
    # Scaling by the diagonal keeps badly matched columns from spoiling the solution; the ridge is below rounding.
    scale = np.sqrt(np.maximum(-np.einsum("bmm->bm", hessian), 1e-200))
    curvature = hessian / (scale[:, :, None] * -scale[:, None, :])
    curvature += 1e-14 * np.eye(scale.shape[1])
    right = (gradient / scale)[..., None]
    try:
        step = np.linalg.solve(curvature, right)[..., 0] / scale
    except np.linalg.LinAlgError:
        # One hopeless replicate must not take the others with it; it will not converge.
        step = np.linalg.solve(curvature + 1e-6 * np.eye(scale.shape[1]), right)[..., 0] / scale
    decrement = np.vecdot(step, gradient)
    return (step if basis is None else np.einsum("bqm,bm->bq", basis, step)), decrement


def _climb(
    problem: LifeProblem, theta: FloatArray, loglik: FloatArray, step: FloatArray
) -> tuple[FloatArray, Derivatives, NDArray[np.bool_]]:
    """Go along `step` as far as tau stays positive and the log-likelihood does not fall; say who stands still.

    A replicate that stands still has its optimum at infinity, or a likelihood whose slope is lost to rounding.
    """
    ahead = theta[:, -1] + step[:, -1]
    # Never through zero: at most nine tenths of the way there.
    share = np.ones(len(theta))
    short = ahead < 0.1 * theta[:, -1]
    if short.any():
        share[short] = -0.9 * theta[short, -1] / step[short, -1]
    floor = loglik - 1e-12 * (1.0 + np.abs(loglik))
    trial = theta + share[:, None] * step
    found = derivatives(problem, trial)
    worse = np.flatnonzero(~(found[0] >= floor))
    for _ in range(QUARTERINGS):
        if not len(worse):
            break
        share[worse] /= 4
        trial[worse] = theta[worse] + share[worse, None] * step[worse]
        again = derivatives(problem.subset(worse), trial[worse])
        for whole, part in zip(found, again, strict=True):
            whole[worse] = part
        worse = worse[~(again[0] >= floor[worse])]
    stuck = (share < CREEP) & (found[0] - loglik < 1e-10 * (1.0 + np.abs(loglik)))
    return trial, found, stuck
