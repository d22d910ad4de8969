"""Variance components of a measurement study by restricted maximum likelihood: complete or not, balanced or not.

For a balanced study with positive components the answer is that of the mean squares; the point of it is a study with
readings missing. The components are kept at 0 or above.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.design import FloatArray, as_vector
from wearlab.stats.gauge import Components

MOST = 2000
"""Largest number of readings; the work grows with its cube."""
LEAST_WITHIN = 1e-8
"""Scatter of repeats, as a share of the variance of all readings, at or below which the likelihood has no maximum."""
LEAST_OF_WITHIN = 1e-3
"""Share of the mean square inside the cells below which repeatability is not looked for: it never lies there."""


@dataclass(frozen=True)
class RemlStudy:
    """Restricted maximum likelihood of a measurement study.

    Attributes
    ----------
    components : Components
        Variances.
    mean : float
        Generalised least-squares mean.
    loglik : float
        Restricted log-likelihood.
    n : int
        Readings.
    """

    components: Components
    mean: float
    loglik: float
    n: int


def reml_study(part: Sequence[object], operator: Sequence[object], value: ArrayLike) -> RemlStudy:
    """Components of parts, operators, their interaction and the repeats by REML.

    Parameters
    ----------
    part, operator : sequence, length n
        Part and operator of each reading, in any number of repeats.
    value : array_like, shape (n,)
        Readings.

    Returns
    -------
    RemlStudy

    Raises
    ------
    ArgumentError
        When lengths differ or there are more than 2,000 readings.
    Refusal
        When nothing was repeated, all readings are equal, the repeats agree to the last digit (the likelihood then
        grows without limit as the repeatability nears 0), or the search does not come to rest.

    Examples
    --------
    >>> part, operator = [1, 1, 1, 1, 2, 2, 2, 2], list("aabbaabb")
    >>> study = reml_study(part, operator, [1.0, 1.2, 1.1, 1.5, 2.0, 2.1, 2.4, 2.2])
    >>> round(study.components.part, 3)
    0.469
    """
    readings = as_vector(value, "value", len(part))
    if len(operator) != len(readings) or len(readings) > MOST:
        raise ArgumentError(
            f"{len(readings)} readings, {len(operator)} operators", where="value", allowed=f"up to {MOST}"
        )
    labels = [[str(one) for one in part], [str(one) for one in operator]]
    labels.append([f"{a}\0{b}" for a, b in zip(*labels, strict=True)])
    if len(set(labels[2])) == len(readings):
        raise Refusal("no part was read twice by an operator", where="measurement study", allowed="repeats")
    scale = float(readings.std())
    if scale <= 64 * np.finfo(float).eps * float(np.abs(readings).max()):
        raise Refusal("all readings are equal", where="measurement study")
    unit = (readings - readings.mean()) / scale
    ss_within, df_within = _within(labels[2], unit)
    refuse_equal_repeats(ss_within, df_within)
    varying = [len(set(one)) > 1 for one in labels]
    varying[2] = varying[0] and varying[1]  # with one operator or one part there is nothing for them to interact with
    if varying[2] and np.array_equal(_same(labels[0]), _same(labels[2])):
        raise Refusal(
            "each part was read by one operator alone: parts and what operators do to them cannot be told apart",
            where="measurement study by REML",
            allowed="at least one part read by two operators",
        )
    blocks = [_same(one) for one, varies in zip(labels, varying, strict=True) if varies]
    found = _search(unit, blocks, ss_within / df_within)
    loglik, mean = _evaluate(found, unit, blocks)[0], _mean(found, unit, blocks)
    variances = dict(zip(np.flatnonzero(varying).tolist(), found[:-1] * scale**2, strict=True))
    components = Components(
        repeatability=float(found[-1]) * scale**2,
        interaction=float(variances.get(2, 0.0)),
        operator=float(variances.get(1, 0.0)),
        part=float(variances.get(0, 0.0)),
        pooled=False,
    )
    n = len(readings)
    return RemlStudy(components, float(readings.mean()) + scale * mean, loglik - (n - 1) * math.log(scale), n)


def refuse_equal_repeats(ss_within: float, df_within: int) -> None:
    """Refuse repeats without scatter, from their sum of squares in readings of variance 1.

    Raises
    ------
    Refusal
        The repeats agree to the last digit.
    """
    if df_within > 0 and ss_within <= LEAST_WITHIN * df_within:
        raise Refusal(
            "the repeats agree to the last digit: their scatter is below the resolution of the readings",
            where="measurement study by REML",
            allowed="repeats that differ",
            hint="read to a finer digit",
        )


def _within(cells: list[str], value: FloatArray) -> tuple[float, int]:
    """Sum of squares of the readings about the means of their cells, and its degrees of freedom."""
    _, at = np.unique(cells, return_inverse=True)
    mean = np.bincount(at, value) / np.bincount(at)
    return float(np.sum((value - mean[at]) ** 2)), len(value) - len(mean)


def _same(labels: list[str]) -> FloatArray:
    """1 where two readings share a label."""
    _, code = np.unique(labels, return_inverse=True)
    return (code[:, None] == code[None, :]).astype(float)


def _search(y: FloatArray, blocks: list[FloatArray], within: float) -> FloatArray:
    """Components of most restricted likelihood; `within` is the mean square inside the cells, where the search begins.

    Repeatability stays far above 0 on the way: a step to nearly none of it makes the covariance singular.
    """
    from scipy.optimize import minimize

    def loss(variances: FloatArray) -> tuple[float, FloatArray]:
        try:
            loglik, gradient, _ = _evaluate(variances, y, blocks)
        except np.linalg.LinAlgError:  # a step of the search far outside
            return 1e10, np.zeros(len(variances))
        return -loglik, -gradient

    start = np.append(np.full(len(blocks), 0.3), within)
    bounds = [(0.0, None)] * len(blocks) + [(LEAST_OF_WITHIN * within, None)]
    rough = minimize(loss, start, jac=True, bounds=bounds, method="L-BFGS-B", options={"maxiter": 500})
    if not rough.fun < 1e10:
        raise Refusal("the search does not come to rest", where="measurement study by REML")
    return _polish(rough.x, y, blocks, LEAST_OF_WITHIN * within)


def _polish(variances: FloatArray, y: FloatArray, blocks: list[FloatArray], least: float) -> FloatArray:
    """Fisher scoring on the components that are not held at 0."""
    for _ in range(50):
        _, gradient, information = _evaluate(variances, y, blocks)
        free = (variances > 1e-9) | (gradient > 0)
        step = np.zeros_like(variances)
        step[free] = np.linalg.lstsq(information[np.ix_(free, free)], gradient[free])[0]
        new = np.maximum(variances + step, np.append(np.zeros(len(blocks)), least))
        if _evaluate(new, y, blocks)[0] < _evaluate(variances, y, blocks)[0] - 1e-9:
            break
        moved, variances = float(np.abs(new - variances).max()), new
        if moved < 1e-12:
            break
    return np.append(np.where(variances[:-1] > 1e-9, variances[:-1], 0.0), variances[-1])


def _evaluate(
    variances: FloatArray, y: FloatArray, blocks: list[FloatArray]
) -> tuple[float, FloatArray, FloatArray]:
    """Restricted log-likelihood, gradient and expected information."""
    n = len(y)
    parts = [*blocks, np.eye(n)]
    V = sum(variance * part for variance, part in zip(variances, parts, strict=True))
    L = np.linalg.cholesky(V)
    inverse = np.linalg.inv(V)
    ones = inverse.sum(axis=1)
    weight = float(ones.sum())
    P = inverse - np.outer(ones, ones) / weight
    Py = P @ y
    log_det = 2 * float(np.log(np.diag(L)).sum())
    loglik = -0.5 * ((n - 1) * math.log(2 * math.pi) + log_det + math.log(weight) + float(y @ Py))
    products = [P @ part for part in parts]
    gradient = np.array(
        [-0.5 * (np.trace(one) - Py @ part @ Py) for one, part in zip(products, parts, strict=True)]
    )
    information = np.array([[0.5 * np.sum(a * b.T) for b in products] for a in products])
    return loglik, gradient, information


def _mean(variances: FloatArray, y: FloatArray, blocks: list[FloatArray]) -> float:
    V = sum(variance * part for variance, part in zip(variances, [*blocks, np.eye(len(y))], strict=True))
    weight = np.linalg.solve(V, np.ones(len(y)))
    return float(weight @ y / weight.sum())
