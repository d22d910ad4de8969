"""Limits that slope along a cutter's age: wear is a trend, so a stable band would be wrong at both ends.

Each cutter of the trial gives a straight line of the reading on age. At any age the spread of these lines and the
scatter about them say where the reading of one further cutter should lie.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False)
class SlopedLimits:
    """Where the reading of a further cutter should lie, by age.

    Attributes
    ----------
    lines : ndarray, shape (cutters, 2)
        Intercept and slope of each cutter.
    scatter : float
        Standard deviation of a reading about its cutter's line.
    least, most : float
        Ages between which cutters were read.
    """

    lines: np.ndarray
    scatter: float
    least: float
    most: float

    @property
    def cutters(self) -> int:
        """Cutters behind the limits."""
        return len(self.lines)

    def interval(self, age: float, level: float = 0.99) -> Interval:
        """Limits at an age; a reading of an unchanged process falls outside with the chance 1 - level."""
        from scipy.special import stdtrit

        check_level(level)
        values = self.lines[:, 0] + self.lines[:, 1] * age
        spread = math.sqrt((1.0 + 1.0 / len(values)) * values.var(ddof=1) + self.scatter**2)
        half = float(stdtrit(len(values) - 1, 0.5 + level / 2)) * spread
        centre = float(values.mean())
        return Interval(centre - half, centre + half, level, "t over the cutters' lines")

    def to_frame(self, level: float = 0.99, points: int = 11) -> pd.DataFrame:
        """The band over the ages that were read."""
        import pandas as pd

        ages = np.linspace(self.least, self.most, points)
        limits = [self.interval(float(age), level) for age in ages]
        return pd.DataFrame(
            {"age": ages, "low": [one.low for one in limits], "high": [one.high for one in limits], "level": level}
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "cutters": self.cutters,
                "intercept": float(self.lines[:, 0].mean()),
                "slope": float(self.lines[:, 1].mean()),
                "scatter": self.scatter,
                "least": self.least,
                "most": self.most,
            }
        )


def sloped_limits(curves: Sequence[tuple[ArrayLike, ArrayLike]]) -> SlopedLimits:
    """Fit the limits.

    Parameters
    ----------
    curves : sequence of (array_like, array_like)
        Age and reading of each cutter; cutters with one reading are left out.

    Raises
    ------
    Refusal
        Fewer than three cutters were read at two ages or more.

    Notes
    -----
    The variance of the lines at an age holds the error of fitting each of them, so the band is on the wide side
    (derived; its false alarms are counted in the tests).

    Examples
    --------
    >>> curves = [([0, 50, 100], [0.0, 0.1 + e, 0.2 + 2 * e]) for e in (-0.01, 0.0, 0.01, 0.02)]
    >>> limits = sloped_limits(curves).interval(100.0)
    >>> limits.contains(0.21), limits.contains(0.5)
    (True, False)
    """
    lines, squares, spare, ages = [], 0.0, 0, []
    for clock, value in curves:
        t, v = np.asarray(clock, float), np.asarray(value, float)
        if t.shape != v.shape:
            raise ArgumentError(f"{t.size} ages and {v.size} readings", where="sloped limits", allowed="one each")
        if np.ptp(t) == 0 if len(t) else True:
            continue
        slope, intercept = np.polyfit(t, v, 1)
        lines.append((intercept, slope))
        squares += float(np.sum((v - intercept - slope * t) ** 2))
        spare += len(t) - 2
        ages += [float(t.min()), float(t.max())]
    if len(lines) < 3:
        raise Refusal(
            f"{len(lines)} cutters were read at two ages or more", where="sloped limits", allowed="three or more"
        )
    scatter = math.sqrt(squares / spare) if spare else 0.0
    return SlopedLimits(np.array(lines), scatter, min(ages), max(ages))
