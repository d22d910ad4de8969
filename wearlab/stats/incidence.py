"""Cumulative incidence of one cause where several compete."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray


@dataclass(frozen=True)
class Incidence:
    """Cumulative incidence of one cause among several.

    Attributes
    ----------
    times : array, shape (k,)
        Times of the steps.
    incidence : array, shape (k,)
        Chance of having ended by this cause by each time.
    variance : array, shape (k,)
        Its variance (delta method).
    n, events : int
        Rows, and those that ended by this cause.
    """

    times: FloatArray
    incidence: FloatArray
    variance: FloatArray
    n: int
    events: int

    def at(self, time: float) -> float:
        """Chance of having ended by this cause at a time."""
        step = int(np.searchsorted(self.times, time, side="right"))
        return 0.0 if step == 0 else float(self.incidence[step - 1])

    def interval(self, time: float, level: float = 0.95) -> Interval:
        """Pointwise interval by the complementary log-log; exact (Clopper-Pearson) bound where nothing has ended."""
        from scipy.special import ndtri

        check_level(level)
        step = int(np.searchsorted(self.times, time, side="right"))
        if step == 0 or self.incidence[step - 1] <= 0:
            return Interval(0.0, 1.0 - ((1 - level) / 2) ** (1 / self.n), level, "exact, none of n")
        share, variance = float(self.incidence[step - 1]), float(self.variance[step - 1])
        if share >= 1 or variance <= 0:
            return Interval(0.0, 1.0, level, "complementary log-log")
        log_q = math.log1p(-share)
        width = float(ndtri(0.5 + level / 2)) * math.sqrt(variance) / ((1 - share) * abs(log_q))
        low, high = (-math.expm1(log_q * math.exp(sign * width)) for sign in (-1, 1))
        return Interval(low, high, level, "complementary log-log")


def cumulative_incidence(times: ArrayLike, cause: ArrayLike, of: int) -> Incidence:
    """Cumulative incidence of one cause where others compete (Aalen-Johansen).

    Parameters
    ----------
    times : array_like, shape (n,)
        Time at which each row ended or was last seen.
    cause : array_like of int, shape (n,)
        0 still good, otherwise the cause that ended it.
    of : int
        The cause in question.

    Returns
    -------
    Incidence

    Raises
    ------
    ArgumentError
        When lengths differ, a time is not positive, or the cause is 0.

    Notes
    -----
    One less the Kaplan-Meier curve that censors the other causes would be too large. Variance by the delta method
    (Marubini and Valsecchi, from memory); checked against R cmprsk and by its binomial limit.

    Examples
    --------
    >>> cumulative_incidence([1, 2, 3, 4], [1, 2, 1, 0], 1).incidence.tolist()
    [0.25, 0.25, 0.5]
    """
    time, why = np.asarray(times, dtype=float), np.asarray(cause)
    if time.ndim != 1 or time.shape != why.shape or not len(time):
        raise ArgumentError(
            f"{time.size} times and {why.size} causes", where="cause", allowed="one cause a time"
        )
    if not (np.isfinite(time) & (time > 0)).all() or of == 0:
        raise ArgumentError(
            "a time that is not above 0, or cause 0", where="times", allowed="times above 0, causes from 1"
        )
    points = np.unique(time[why != 0])
    at_risk = (time[:, None] >= points).sum(axis=0).astype(float)
    ended = ((time[:, None] == points) & (why != 0)[:, None]).sum(axis=0)
    mine = ((time[:, None] == points) & (why == of)[:, None]).sum(axis=0)
    survival = np.cumprod(1.0 - ended / at_risk)
    before = np.append(1.0, survival[:-1])
    incidence = np.cumsum(before * mine / at_risk)
    variance = np.array(
        [_incidence_variance(k + 1, incidence, before, at_risk, ended, mine) for k in range(len(points))]
    )
    return Incidence(points, incidence, variance, len(time), int((why == of).sum()))


def _incidence_variance(
    k: int,
    incidence: FloatArray,
    before: FloatArray,
    at_risk: FloatArray,
    ended: FloatArray,
    mine: FloatArray,
) -> float:
    """Delta-method variance of the k-th step of a cumulative incidence."""
    to_come = incidence[k - 1] - incidence[:k]
    n, d, m, s = at_risk[:k], ended[:k], mine[:k], before[:k]
    left = np.maximum(n - d, 0.5)
    first = np.sum(to_come**2 * d / (n * left))
    second = np.sum(s**2 * (n - m) * m / n**3)
    third = np.sum(to_come * s * m / n**2)
    return float(max(first + second - 2 * third, 0.0))
