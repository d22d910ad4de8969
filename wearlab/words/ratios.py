"""A contrast turned so that its ratio reads the way people say it: which group is ahead, and how many times."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.compare.contrast import Contrast
from wearlab.core.interval import Interval
from wearlab.words.rounding import decimals_for, kept_apart, range_text


@dataclass(frozen=True, slots=True)
class Turned:
    """A ratio of at least 1 by its estimate: `ahead` over `behind`.

    Of a life `ahead` lasts longer; of a rate `ahead` wears faster.
    """

    ahead: str
    behind: str
    n_ahead: int
    n_behind: int
    estimate: float
    interval: Interval
    margin: float

    @property
    def decimals(self) -> int:
        """Decimals that the interval supports."""
        return max(decimals_for(self.estimate, self.interval.low, self.interval.high), 0)

    @property
    def bound(self) -> bool:
        """Whether there is one limit and no estimate: one side never failed."""
        return math.isnan(self.estimate)

    def about(self) -> str:
        """The estimate; of a bound alone its limit."""
        if self.bound:
            return f"at least {self.low()}" if self.low() else f"at most {self.high()}"
        return kept_apart(self.estimate, self.decimals, (1.0, self.margin))

    def plausible(self) -> str:
        """The interval."""
        return range_text(self.interval, self.decimals, (1.0, self.margin, 1.0 / self.margin))

    def low(self) -> str:
        """Lower limit; empty where there is none."""
        return self._end(self.interval.low) if self.interval.low > 0 else ""

    def high(self) -> str:
        """Upper limit; empty where there is none."""
        return self._end(self.interval.high) if math.isfinite(self.interval.high) else ""

    def _end(self, value: float) -> str:
        return kept_apart(value, self.decimals, (1.0, self.margin, 1.0 / self.margin))


def turned(contrast: Contrast) -> Turned:
    """Turn a contrast on the ratio scale; one with a limit alone turns so that the limit is the lower one."""
    margin = float(contrast.equivalence.get("margin") or 1.25)
    downwards = math.isnan(contrast.estimate) and contrast.interval.low <= 0 and math.isfinite(contrast.interval.high)
    if not contrast.estimate < 1.0 and not downwards:
        return Turned(contrast.a, contrast.b, contrast.n_a, contrast.n_b, contrast.estimate, contrast.interval, margin)
    return Turned(
        contrast.b,
        contrast.a,
        contrast.n_b,
        contrast.n_a,
        1.0 / contrast.estimate if contrast.estimate > 0 else math.nan,
        inverse(contrast.interval),
        margin,
    )


def in_favour(contrast: Contrast) -> tuple[float, Interval]:
    """How many times better the first group is: times as long, or times as slowly worn.

    Lives keep their ratio and rates are turned over, so that above 1 always speaks for the first group.
    """
    if contrast.outcome != "rate":
        return contrast.estimate, contrast.interval
    flipped = 1.0 / contrast.estimate if contrast.estimate > 0 else math.nan
    return flipped, inverse(contrast.interval)


def inverse(interval: Interval) -> Interval:
    """An interval of a ratio, turned over: 0 becomes unbounded and unbounded becomes 0.

    >>> inverse(Interval(0.5, math.inf, 0.95, "t"))
    Interval(low=0.0, high=2.0, level=0.95, method='t')
    """
    low = 0.0 if math.isinf(interval.high) else 1.0 / interval.high if interval.high > 0 else math.inf
    high = math.inf if interval.low <= 0 else 1.0 / interval.low
    return Interval(low, high, interval.level, interval.method)
