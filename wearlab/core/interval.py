"""The one interval type of the package."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from wearlab.core.errors import ArgumentError


@dataclass(frozen=True, slots=True)
class Interval:
    """Two limits, the confidence level they claim, and the method that made them.

    An unbounded side is an infinity here and a null in JSON, where `unbounded` names it. On the ratio scale nothing
    lies below 0: there an unbounded low side is 0, and `open_low` says that no data put it there.

    >>> Interval(0.9, 1.9, 0.95, "Welch t on logs").contains(1.0)
    True
    """

    low: float
    high: float
    level: float
    method: str
    open_low: bool = field(default=False, repr=False, compare=False)

    def contains(self, value: float) -> bool:
        """Whether `value` lies between the limits, ends included."""
        return self.low <= value <= self.high

    def inside(self, low: float, high: float) -> bool:
        """Whether the whole interval lies strictly between `low` and `high`."""
        return low < self.low and self.high < high

    def map(self, function: Callable[[float], float]) -> Interval:
        """Apply a monotone function to both limits; a falling one swaps them.

        >>> Interval(-5.0, -4.0, 0.95, "t").map(lambda slope: -1 / slope)
        Interval(low=0.2, high=0.25, level=0.95, method='t')
        """
        a, b = function(self.low), function(self.high)
        return Interval(min(a, b), max(a, b), self.level, self.method)

    def exp(self) -> Interval:
        """The interval on the ratio scale, from one on the log scale.

        >>> ratio = Interval(-math.inf, 0.0, 0.95, "t").exp()
        >>> ratio.low, ratio.unbounded
        (0.0, 'low')
        """
        return Interval(
            exp_or_inf(self.low), exp_or_inf(self.high), self.level, self.method, open_low=math.isinf(self.low)
        )

    @property
    def unbounded(self) -> str | None:
        """`low`, `high`, `both` or None."""
        low, high = self.open_low or math.isinf(self.low), math.isinf(self.high)
        return "both" if low and high else "low" if low else "high" if high else None

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready: no infinities."""
        return {
            "low": None if self.open_low or math.isinf(self.low) else self.low,
            "high": None if math.isinf(self.high) else self.high,
            "level": self.level,
            "method": self.method,
            "unbounded": self.unbounded,
        }


def check_level(level: float) -> float:
    """Return `level` when it is a confidence level, else raise.

    Raises
    ------
    ArgumentError
        When it does not lie strictly between 0 and 1.
    """
    if not 0.0 < level < 1.0:
        raise ArgumentError(f"confidence level {level:g}", allowed="between 0 and 1, such as 0.95", where="level")
    return float(level)


def exp_or_inf(x: float) -> float:
    """Exponential that gives infinity, and no error, where a number cannot hold it.

    >>> exp_or_inf(0.0), exp_or_inf(1e4)
    (1.0, inf)
    """
    return math.inf if x > 709.0 else math.exp(x)
