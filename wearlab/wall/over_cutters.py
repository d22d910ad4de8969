"""The mean of one number over cutters, with the cutter as the unit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.interval import Interval, check_level


@dataclass(frozen=True, slots=True)
class OverCutters:
    """Mean over cutters.

    Attributes
    ----------
    mean, sd : float
        NaN where there is nothing to average, or fewer than two cutters.
    cutters : int
    """

    mean: float
    sd: float
    cutters: int

    @property
    def why_missing(self) -> str:
        """Why there is no interval; empty where there is one."""
        if self.cutters > 1 and self.sd > 0:
            return ""
        if self.cutters > 1:
            return "all cutters show the same figure: no scatter to judge by"
        return "one cutter says nothing of others" if self.cutters else "no cutter has this number"

    def interval(self, level: float = 0.95) -> Interval:
        """Student's t interval of the mean; unbounded where `why_missing` says why."""
        from scipy.special import stdtrit

        check_level(level)
        method = "t over cutters"
        if self.why_missing:
            return Interval(-math.inf, math.inf, level, method)
        half = float(stdtrit(self.cutters - 1, 0.5 + level / 2)) * self.sd / math.sqrt(self.cutters)
        return Interval(self.mean - half, self.mean + half, level, method)


def over_cutters(values: ArrayLike) -> OverCutters:
    """Mean of one number a cutter; missing ones are left out.

    >>> found = over_cutters([1.0, 2.0, 3.0, float("nan")])
    >>> found.mean, found.cutters, round(found.interval(0.95).high, 3)
    (2.0, 3, 4.484)
    """
    x = np.asarray(values, dtype=np.float64)
    x = x[np.isfinite(x)]
    sd = float(x.std(ddof=1)) if len(x) > 1 else math.nan
    return OverCutters(float(x.mean()) if len(x) else math.nan, sd, len(x))
