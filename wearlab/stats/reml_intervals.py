"""Intervals of the variance components of a measurement study, from the profile of the restricted likelihood.

Readings of one part by one operator differ by the repeatability alone, so the likelihood splits into that of the means
of these cells and that of the scatter inside them; the work grows with the number of cells, not of readings.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector
from wearlab.stats.gauge import Components
from wearlab.stats.gauge_reml import refuse_equal_repeats

NAMES = ("part", "operator", "interaction", "repeatability")
"""Order of the components in a combination."""
FARTHEST = 1e4
"""Upper limits beyond this many times the variance of all readings is given as infinite."""

FLOOR = np.array([0.0, 0.0, 0.0, 1e-8])
"""Least value of each component, as a share of the variance of all readings."""


@dataclass(frozen=True)
class _Cells:
    """Means of the readings of one part by one operator, and the scatter inside the cells."""

    mean: FloatArray
    count: FloatArray
    same_part: FloatArray
    same_operator: FloatArray
    ss_within: float
    df_within: int


def reml_interval(
    part: Sequence[object],
    operator: Sequence[object],
    value: ArrayLike,
    components: Components,
    contrast: Sequence[float],
    level: float = 0.95,
) -> Interval:
    """Interval of a sum of variance components with weights of 0 or more.

    Parameters
    ----------
    part, operator : sequence, length n
        As in `reml_study`.
    value : array_like, shape (n,)
        Readings.
    components : Components
        Their REML estimates.
    contrast : sequence of 4 float
        Weights of part, operator, interaction and repeatability.
    level : float
        Confidence level.

    Returns
    -------
    Interval
        On the scale of variances; 0 and infinity where the likelihood sets no limit.

    Raises
    ------
    ArgumentError
        When a weight is negative or all are 0.
    Refusal
        When the repeats agree to the last digit.

    Notes
    -----
    Likelihood ratio of the restricted likelihood against chi-square with one degree of freedom, the other components at
    their best. Its coverage is simulated in the tests.
    """
    from scipy.special import chdtri

    weight = np.asarray(contrast, dtype=float)
    if weight.shape != (4,) or (weight < 0).any() or not weight.any():
        raise ArgumentError(f"weights {contrast}", where="contrast", allowed="four, none below 0, not all 0")
    readings = as_vector(value, "value", len(part))
    scale = float(readings.std())
    cells = _cells(part, operator, (readings - readings.mean()) / scale)
    refuse_equal_repeats(cells.ss_within, cells.df_within)
    best = np.array([components.part, components.operator, components.interaction, components.repeatability])
    best = np.maximum(best / scale**2, FLOOR)
    top = _evaluate(cells, best)[0]
    cut = float(chdtri(1, 1 - check_level(level)))

    def excess(total: float) -> float:
        return 2 * (top - _held(cells, best, weight, total)) - cut

    low, high = _limits(excess, float(weight @ best))
    return Interval(low * scale**2, high * scale**2, level, "profile of the restricted likelihood")


def _cells(part: Sequence[object], operator: Sequence[object], value: FloatArray) -> _Cells:
    parts, operators = [str(one) for one in part], [str(one) for one in operator]
    keys = sorted(set(zip(parts, operators, strict=True)))
    place = {key: at for at, key in enumerate(keys)}
    at = np.array([place[key] for key in zip(parts, operators, strict=True)])
    count = np.bincount(at).astype(float)
    mean = np.bincount(at, value) / count
    first, second = np.array([a for a, _ in keys]), np.array([b for _, b in keys])
    within = float(np.sum((value - mean[at]) ** 2))
    return _Cells(
        mean, count, (first[:, None] == first).astype(float), (second[:, None] == second).astype(float), within,
        len(value) - len(keys),
    )  # fmt: skip


def _evaluate(cells: _Cells, v: FloatArray) -> tuple[float, FloatArray]:
    """Restricted log-likelihood but for a constant, and its gradient by part, operator, interaction, repeatability."""
    V = v[0] * cells.same_part + v[1] * cells.same_operator + np.diag(v[2] + v[3] / cells.count)
    L = np.linalg.cholesky(V)
    inverse = np.linalg.inv(V)
    ones = inverse.sum(axis=1)
    total = float(ones.sum())
    if not total > 0:
        raise np.linalg.LinAlgError("the covariance is singular but for rounding")
    P = inverse - np.outer(ones, ones) / total
    Pm = P @ cells.mean
    loglik = -float(np.log(np.diag(L)).sum()) - 0.5 * math.log(total) - 0.5 * float(cells.mean @ Pm)
    loglik -= 0.5 * (cells.df_within * math.log(v[3]) + cells.ss_within / v[3])
    own = Pm**2 - np.diag(P)
    gradient = 0.5 * np.array(
        [
            Pm @ cells.same_part @ Pm - np.sum(P * cells.same_part),
            Pm @ cells.same_operator @ Pm - np.sum(P * cells.same_operator),
            own.sum(),
            (own / cells.count).sum() + cells.ss_within / v[3] ** 2 - cells.df_within / v[3],
        ]
    )
    return loglik, gradient


def _held(cells: _Cells, best: FloatArray, weight: FloatArray, total: float) -> float:
    """Greatest restricted log-likelihood with the weighted sum held."""
    from scipy.optimize import minimize

    inside = weight > 0
    start = best.copy()
    sum_now = float(weight @ best)
    start[inside] = best[inside] * (total / sum_now) if sum_now > 1e-12 else total / weight[inside].sum()
    start = np.maximum(start, FLOOR)

    def loss(v: FloatArray) -> tuple[float, FloatArray]:
        try:
            loglik, gradient = _evaluate(cells, np.maximum(v, FLOOR))
        except np.linalg.LinAlgError:  # a step of the search far outside
            return 1e12, np.zeros(4)
        return -loglik, -gradient

    found = minimize(
        loss, start, jac=True, method="SLSQP", bounds=[(one, None) for one in FLOOR],
        constraints=[{"type": "eq", "fun": lambda v: weight @ v - total, "jac": lambda v: weight}],
        options={"maxiter": 200, "ftol": 1e-10},
    )  # fmt: skip
    return max(-float(found.fun), -loss(start)[0])


def _limits(excess: Callable[[float], float], centre: float) -> tuple[float, float]:
    """Where the deviance meets the cut on either side of the estimate."""
    from scipy.optimize import brentq

    smallest = 1e-8
    low = 0.0 if centre <= smallest or excess(smallest) < 0 else float(brentq(excess, smallest, centre, rtol=1e-6))
    high = max(2 * centre, 1e-3)
    while excess(high) < 0:
        high *= 4
        if high > FARTHEST:
            return low, math.inf
    return low, float(brentq(excess, max(centre, smallest), high, rtol=1e-6))
