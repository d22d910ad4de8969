"""Survival curves: Kaplan-Meier with its log-log interval, and Turnbull's curve for lives known between two looks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray
from wearlab.stats.lives import Lives


@dataclass(frozen=True)
class SurvivalCurve:
    """A survival curve by steps.

    Attributes
    ----------
    times : array, shape (k,)
        Times of the steps (Turnbull: ends of the spans over which the curve falls).
    survival : array, shape (k,)
        Share still good after each.
    at_risk, events : array, shape (k,)
        Numbers at risk and failing at each (Turnbull: expected numbers).
    variance : array, shape (k,)
        Greenwood's sum; NaN for Turnbull's curve.
    n, failures : int
        Lives, and those that ended in failure.
    starts : array, shape (k,)
        Start of each span over which the curve falls; equal to `times` where it falls at once.
    why_missing : str or None
        Why there is no interval.
    """

    times: FloatArray
    survival: FloatArray
    at_risk: FloatArray
    events: FloatArray
    variance: FloatArray
    n: int
    failures: int
    starts: FloatArray
    why_missing: str | None = None

    def at(self, time: float) -> float:
        """Share still good at a time."""
        step = int(np.searchsorted(self.times, time, side="right"))
        return 1.0 if step == 0 else float(self.survival[step - 1])

    def interval(self, time: float, level: float = 0.95) -> Interval:
        """Pointwise log-log interval of the share still good at a time.

        Unbounded within 0 to 1 where nothing, or everything, has failed by then, and where `why_missing` says why.
        """
        from scipy.special import ndtri

        check_level(level)
        method = "log-log"
        step = int(np.searchsorted(self.times, time, side="right"))
        if self.why_missing is not None or step == 0 or not 0 < self.survival[step - 1] < 1:
            return Interval(0.0, 1.0, level, method)
        log_s = math.log(self.survival[step - 1])
        width = float(ndtri(0.5 + level / 2)) * math.sqrt(self.variance[step - 1]) / abs(log_s)
        return Interval(math.exp(log_s * math.exp(width)), math.exp(log_s * math.exp(-width)), level, method)

    def median(self) -> float:
        """First time at which half or fewer are still good; infinite when the curve does not fall so far."""
        below = np.flatnonzero(self.survival <= 0.5 + 1e-12)
        return float(self.times[below[0]]) if len(below) else math.inf

    def median_interval(self, level: float = 0.95) -> Interval:
        """Times at which the pointwise log-log interval holds one half."""
        limits = [self.interval(time, level) for time in self.times]
        upper_below = [t for t, one in zip(self.times, limits, strict=True) if one.high <= 0.5]
        lower_below = [
            t for t, one in zip(self.times, limits, strict=True) if 0 < one.low <= 0.5 or one.high <= 0.5
        ]
        high = float(upper_below[0]) if upper_below else math.inf
        return Interval(float(lower_below[0]) if lower_below else 0.0, high, level, "log-log")


def kaplan_meier(lives: Lives) -> SurvivalCurve:
    """Kaplan-Meier curve of exact and right-censored lives.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    SurvivalCurve

    Raises
    ------
    Refusal
        When a life is only known between two looks; use `turnbull`.

    Examples
    --------
    >>> curve = kaplan_meier(Lives.right_censored([3, 5, 5, 8], [1, 1, 0, 0]))
    >>> curve.times.tolist(), curve.survival.round(3).tolist()
    ([3.0, 5.0], [0.75, 0.5])
    """
    if (lives.interval | lives.left).any():
        raise Refusal(
            "lives known only between two looks", where="Kaplan-Meier", hint="use the curve of Turnbull"
        )
    times = np.unique(lives.lower[lives.exact])
    ordered, failed = np.sort(lives.lower), np.sort(lives.lower[lives.exact])
    at_risk = (len(lives) - np.searchsorted(ordered, times, side="left")).astype(float)
    events = (
        np.searchsorted(failed, times, side="right") - np.searchsorted(failed, times, side="left")
    ).astype(float)
    left = at_risk - events
    with np.errstate(divide="ignore"):
        greenwood = np.cumsum(np.where(left > 0, events / (at_risk * left), np.inf))
    return SurvivalCurve(
        times, np.cumprod(left / at_risk), at_risk, events, greenwood, len(lives), lives.failures, times
    )


def turnbull(lives: Lives, tolerance: float = 1e-10, steps: int = 20_000) -> SurvivalCurve:
    """Turnbull's curve: maximum likelihood without a law, for lives of every kind.

    A life known between two looks lies after the first and not after the second. The curve falls somewhere inside
    spans that the looks leave; how it falls inside a span is not known.

    Parameters
    ----------
    lives : Lives
    tolerance : float
        Largest change of a share at which the iteration stops.
    steps : int
        Iterations after which it is given up.

    Returns
    -------
    SurvivalCurve

    Raises
    ------
    Refusal
        When the iteration does not come to rest.

    Notes
    -----
    Self-consistency (EM) on the innermost spans; Turnbull 1976, from memory.

    Examples
    --------
    >>> curve = turnbull(Lives([0, 10, 10, 20], [10, 20, 20, float("inf")]))
    >>> curve.times.tolist(), curve.survival.round(3).tolist()
    ([10.0, 20.0, inf], [0.75, 0.25, 0.0])
    """
    starts, ends = _innermost(lives)
    inside = np.where(
        lives.exact[:, None],
        (starts == lives.lower[:, None]) & (ends == lives.lower[:, None]),
        (starts >= lives.lower[:, None]) & (ends <= lives.upper[:, None]) & (ends > lives.lower[:, None]),
    )
    mass = np.full(len(starts), 1.0 / len(starts))
    for _ in range(steps):
        share = inside * mass
        new = np.mean(share / share.sum(axis=1, keepdims=True), axis=0)
        change, mass = float(np.abs(new - mass).max()), new
        if change < tolerance:
            break
    else:
        raise Refusal(f"no rest after {steps} iterations", where="curve of Turnbull")
    survival = np.clip(1.0 - np.cumsum(mass), 0.0, 1.0)
    survival[-1] = 0.0
    events = mass * len(lives)
    at_risk = len(lives) * np.append(1.0, survival[:-1])
    none = np.full(len(starts), np.nan)
    why = "no interval is computed for lives known between two looks"
    return SurvivalCurve(ends, survival, at_risk, events, none, len(lives), lives.failures, starts, why)


def _innermost(lives: Lives) -> tuple[FloatArray, FloatArray]:
    """Spans in which the curve may fall: a start followed by an end with nothing between."""
    # An exact life is a closed point; the rest are open at their start and closed at their end. At equal times, an
    # open start therefore comes after ends and points.
    marks = []
    for low, high, exact in zip(lives.lower, lives.upper, lives.exact, strict=True):
        marks.append((low, 0 if exact else 2, "start"))
        marks.append((high, 1, "end"))
    marks.sort(key=lambda mark: mark[:2])
    spans = {
        (one[0], following[0])
        for one, following in pairwise(marks)
        if one[2] == "start" and following[2] == "end"
    }
    starts, ends = np.array(sorted(spans)).T
    return starts, ends
