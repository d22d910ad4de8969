"""Limits from the profile likelihood of a life regression, many replicates at once.

A quantity of the form N(theta) / D(theta), both linear in theta = (beta / sigma, 1 / sigma), covers
coefficients, ln quantiles of life and the setting that gives a wanted life. Holding it at v is one linear
constraint, so each profile point is again a concave problem; the points beyond which the deviance exceeds a
cut are found by a guarded Newton search on a t-like scale, on which complete lognormal lives make the search
linear.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearlab.stats.design import FloatArray
from wearlab.stats.life_newton import LifeProblem, Optimum, derivatives, maximise, newton_step

FARTHEST = 1e6
"""A limit farther than this many standard errors from the estimate is given as infinite."""
HOPELESS = 100.0
"""A start this far below the greatest log-likelihood is looked over again."""
ENDLESS = 1e-8
"""A tau times the spread of the ln lives below this stands for scatter without end."""
CLOSE = 1e-10
"""A limit is found when the next step is smaller than this share of the standard error."""


@dataclass(frozen=True)
class Fraction:
    """The quantity (top @ theta + top_constant) / (bottom @ theta), for each of B replicates.

    Attributes
    ----------
    top, bottom : array, shape (B, q)
    top_constant : float
    """

    top: FloatArray
    bottom: FloatArray
    top_constant: float = 0.0

    def value(self, theta: FloatArray) -> FloatArray:
        """The quantity at `theta`, shape (B,)."""
        return (_dot(self.top, theta) + self.top_constant) / _dot(self.bottom, theta)

    def take(self, rows: NDArray[np.intp]) -> Fraction:
        """The quantity for some of the replicates."""
        return Fraction(self.top[rows], self.bottom[rows], self.top_constant)


@dataclass(frozen=True)
class Cut:
    """Where the profile is cut, for each of B replicates.

    Attributes
    ----------
    failures, df : array, shape (B,)
        Rows that ended in failure, and that number less the coefficients.
    quantile : array, shape (B,)
        Size of the t-like statistic at the limit.
    """

    failures: FloatArray
    df: FloatArray
    quantile: FloatArray

    def size(self, deviance: FloatArray) -> FloatArray:
        """The t-like statistic of a deviance: exact Student t for complete lognormal lives."""
        return np.sqrt(self.df * np.expm1(np.maximum(deviance, 0.0) / self.failures))

    def take(self, rows: NDArray[np.intp]) -> Cut:
        """The cut for some of the replicates."""
        return Cut(self.failures[rows], self.df[rows], self.quantile[rows])


def f_cut(failures: FloatArray, p: int, level: float) -> Cut:
    """Cut calibrated by F: a deviance of failures * ln(1 + t^2 / (failures - p)).

    It gives the exact t interval when every life is known and lognormal.
    """
    from scipy.special import stdtrit

    df = failures - p
    return Cut(failures, df, np.asarray(stdtrit(df, 0.5 + level / 2), dtype=float))


def chi_square_cut(failures: FloatArray, p: int, level: float) -> Cut:
    """Cut of large samples: a deviance of the chi-square quantile with one degree of freedom."""
    from scipy.special import chdtri

    df = failures - p
    quantile = np.asarray(np.sqrt(df * np.expm1(chdtri(1, 1 - level) / failures)), dtype=float)
    return Cut(failures, df, quantile)


def profile_limits(
    problem: LifeProblem, optimum: Optimum, fraction: Fraction, cut: Cut
) -> tuple[FloatArray, FloatArray]:
    """Lower and upper limits of a quantity, shape (B,) each; infinite where there is none.

    Parameters
    ----------
    problem : LifeProblem
    optimum : Optimum
        Its unconstrained optimum.
    fraction : Fraction
        The quantity.
    cut : Cut
        Where to cut the profile.

    Returns
    -------
    tuple of array
        NaN where a profile point could not be found.
    """
    error = _standard_error(optimum, fraction)
    limits = [_search(problem, optimum, fraction, cut, error, side) for side in (-1.0, 1.0)]
    everywhere = _passes_zero(problem, optimum, fraction, cut)
    return np.where(everywhere, -np.inf, limits[0]), np.where(everywhere, np.inf, limits[1])


def signed_limit(problem: LifeProblem, optimum: Optimum, fraction: Fraction, cut: Cut) -> FloatArray:
    """Value of the quantity whose signed t-like size is `cut.quantile`, shape (B,).

    The size is positive below the estimate: a positive quantile gives a lower limit, a negative one an upper limit.
    """
    error = _standard_error(optimum, fraction)
    below = cut.quantile > 0
    size = Cut(cut.failures, cut.df, np.abs(cut.quantile))
    if below.all():
        return _search(problem, optimum, fraction, size, error, -1.0)
    if not below.any():
        return _search(problem, optimum, fraction, size, error, 1.0)
    low, high = (_search(problem, optimum, fraction, size, error, side) for side in (-1.0, 1.0))
    return np.where(below, low, high)


def deviance_at(
    problem: LifeProblem, optimum: Optimum, fraction: Fraction, value: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Deviance of holding the quantity at `value`, and its derivative by the value; NaN where not found.

    Without a known life the scatter may run to infinity: the likelihood has a limit there, and stays level beyond.
    """
    weight = fraction.top - value[:, None] * fraction.bottom
    start, basis, pivot = _constrained(problem, optimum, weight, -fraction.top_constant)
    held = maximise(problem, start, basis)
    theta, loglik, gradient = held.theta, np.where(held.converged, held.loglik, np.nan), held.gradient
    edge = np.flatnonzero(~held.converged & (problem.exact_weight == 0) & (theta[:, -1] * problem.spread < ENDLESS))
    if len(edge):
        found = _endless_scatter(problem.subset(edge), theta[edge], basis[edge], weight[edge], pivot[edge])
        theta, gradient = theta.copy(), gradient.copy()
        theta[edge], gradient[edge] = found.theta, found.gradient
        loglik[edge] = np.where(found.converged, found.loglik, np.nan)
    rows = np.arange(len(start))
    pull = gradient[rows, pivot] / weight[rows, pivot]
    return 2 * (optimum.loglik - loglik), -2 * pull * _dot(fraction.bottom, theta)


def _endless_scatter(
    problem: LifeProblem, theta: FloatArray, basis: FloatArray, weight: FloatArray, pivot: NDArray[np.intp]
) -> Optimum:
    """Optimum under the constraint with tau held next to 0."""
    rows, start = np.arange(len(theta)), theta.copy()
    start[:, -1] = ENDLESS / problem.spread
    start[rows, pivot] -= _dot(weight, start - theta) / weight[rows, pivot]
    # The last direction of the basis is the one that moves tau.
    return maximise(problem, start, basis[:, :, :-1])


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.einsum("bq,bq->b", a, b)


def _constrained(
    problem: LifeProblem, optimum: Optimum, weight: FloatArray, level: float
) -> tuple[FloatArray, FloatArray, NDArray[np.intp]]:
    """A point with weight @ theta = level near the optimum, the directions that keep it there, and the
    pivot.
    """
    B, q = weight.shape
    rows = np.arange(B)
    pivot = np.argmax(np.abs(weight[:, :-1]), axis=1)
    basis = np.zeros((B, q, q - 1))
    columns = np.arange(q - 1)[None, :] + (np.arange(q - 1)[None, :] >= pivot[:, None])
    basis[rows[:, None], columns, np.arange(q - 1)[None, :]] = 1.0
    basis[rows, pivot] = -weight[rows[:, None], columns] / weight[rows, pivot][:, None]
    # The nearest point in the metric of the curvature, unless it would leave tau without room.
    excess = _dot(weight, optimum.theta) - level
    direction, size = newton_step(weight, optimum.hessian)
    near = optimum.theta - direction * (excess / size)[:, None]
    poor = ~(near[:, -1] > 0.1 * optimum.theta[:, -1])
    near[poor] = optimum.theta[poor]
    near[rows, pivot] -= (_dot(weight, near) - level) / weight[rows, pivot]
    return _less_steep(problem, optimum, near, weight, level, pivot), basis, pivot


def _less_steep(
    problem: LifeProblem,
    optimum: Optimum,
    start: FloatArray,
    weight: FloatArray,
    level: float,
    pivot: NDArray[np.intp],
) -> FloatArray:
    """Shrink starts at which the lives are all but impossible: far from the estimate sigma must be larger."""
    start, value = start.copy(), derivatives(problem, start)[0]
    lost = np.flatnonzero(~(value > optimum.loglik - HOPELESS))
    for share in (0.3, 0.1, 0.03, 0.01, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7):
        if not len(lost):
            break
        trial = share * start[lost]
        trial[np.arange(len(lost)), pivot[lost]] -= (_dot(weight[lost], trial) - level) / weight[
            lost, pivot[lost]
        ]
        found = derivatives(problem.subset(lost), trial)[0]
        better = found > np.where(np.isnan(value[lost]), -np.inf, value[lost])
        start[lost[better]], value[lost[better]] = trial[better], found[better]
        lost = lost[~(value[lost] > optimum.loglik[lost] - HOPELESS)]
    return start


def _standard_error(optimum: Optimum, fraction: Fraction) -> FloatArray:
    bottom = _dot(fraction.bottom, optimum.theta)
    slope = (fraction.top - fraction.value(optimum.theta)[:, None] * fraction.bottom) / bottom[:, None]
    return np.sqrt(np.maximum(newton_step(slope, optimum.hessian)[1], 0.0))


def _passes_zero(problem: LifeProblem, optimum: Optimum, fraction: Fraction, cut: Cut) -> NDArray[np.bool_]:
    """Whether the bottom of the fraction may be zero: then no value of it is out of reach."""
    if not np.any(fraction.bottom[:, :-1]):
        return np.zeros(problem.replicates, dtype=bool)
    start, basis, _ = _constrained(problem, optimum, fraction.bottom, 0.0)
    held = maximise(problem, start, basis)
    return ~(cut.size(2 * (optimum.loglik - held.loglik)) > cut.quantile)


@dataclass
class _Bracket:
    """State of the search for one limit."""

    at: FloatArray
    inner: FloatArray
    outer: FloatArray


def _search(
    problem: LifeProblem, optimum: Optimum, fraction: Fraction, cut: Cut, error: FloatArray, side: float
) -> FloatArray:
    """Find one limit of every replicate."""
    centre = fraction.value(optimum.theta)
    limit = np.full(len(centre), np.nan)
    rows = np.flatnonzero(optimum.converged & (error > 0) & np.isfinite(error))
    state = _Bracket(centre + side * cut.quantile * error, centre.copy(), np.full(len(centre), side * np.inf))
    for _ in range(100):
        if not len(rows):
            break
        some = optimum.take(rows)
        part = problem if len(rows) == problem.replicates else problem.subset(rows)
        deviance, slope = deviance_at(part, some, fraction.take(rows), state.at[rows])
        step = _next_step(deviance, slope, cut.take(rows), side)
        found = np.abs(step) <= (CLOSE + 1e-13 * np.abs(some.loglik)) * error[rows]
        limit[rows[found]] = (state.at[rows] + step)[found]
        _move(state, rows, step, centre, side)
        far = np.abs(state.at[rows] - centre[rows]) > FARTHEST * error[rows]
        limit[rows[far & ~found]] = side * np.inf
        rows = rows[~(found | far | np.isnan(step))]
    return limit


def _next_step(deviance: FloatArray, slope: FloatArray, cut: Cut, side: float) -> FloatArray:
    """Newton step towards the cut on the t-like scale; infinite outwards where the profile is flat."""
    size = cut.size(deviance)
    rate = np.abs(slope) * cut.df * np.exp(deviance / cut.failures) / (2 * cut.failures)
    away = side * (cut.quantile - size) * np.maximum(size, 1e-12)
    tiny = np.finfo(float).tiny
    return np.where(np.isnan(deviance), np.nan, away / np.maximum(rate, tiny))


def _move(state: _Bracket, rows: NDArray[np.intp], step: FloatArray, centre: FloatArray, side: float) -> None:
    """Take the step, or half the bracket where the step would leave it."""
    at = state.at[rows]
    inside = step * side > 0
    state.inner[rows] = np.where(inside, at, state.inner[rows])
    state.outer[rows] = np.where(inside, state.outer[rows], at)
    # Never more than ten times farther out than the best point so far.
    farthest = centre[rows] + 10 * (at - centre[rows])
    reach = np.where(np.isinf(state.outer[rows]), farthest, state.outer[rows])
    wanted = at + step
    beyond = (wanted - reach) * side >= 0
    behind = (wanted - state.inner[rows]) * side <= 0
    half = (state.inner[rows] + np.where(np.isinf(state.outer[rows]), reach, state.outer[rows])) / 2
    open_side = np.isinf(state.outer[rows])
    state.at[rows] = np.where(beyond & open_side, reach, np.where(beyond | behind, half, wanted))
