"""The base line of a cutter: the width that it leaves before it has worn, by height.

From the first slot that was read: its width plus what the edge had already receded by then. A straight line over the
height, because deflection of a cutter that stands against the wall fades from the tip upwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats
from wearlab.stats.line import LinearFit, fit_line

FEWEST_FOR_SLOPE = 3
"""Heights below which the base line is level."""


@dataclass(frozen=True, eq=False)
class BaseLine:
    """Width of an unworn slot by height.

    Attributes
    ----------
    width_mm, slope : float
        Width at `reference_mm`, and its change per mm of height.
    sigma_mm : float
        Scatter of one width about the line, on `df` degrees of freedom; NaN where there is none.
    land_error_mm : float
        Standard error in the width from the lands that were added back.
    """

    width_mm: float
    slope: float
    reference_mm: float
    sigma_mm: float
    df: int
    land_error_mm: float
    readings: int
    fit: LinearFit

    def at(self, heights_mm: ArrayLike) -> Floats:
        """Width at heights."""
        return self.width_mm + self.slope * (np.asarray(heights_mm, dtype=np.float64) - self.reference_mm)

    def error_at(self, heights_mm: ArrayLike) -> Floats:
        """Standard error of the line at heights; 0 where there is no scatter to judge by."""
        z = np.asarray(heights_mm, dtype=np.float64) - self.reference_mm
        if not math.isfinite(self.sigma_mm):
            return np.zeros_like(z)
        rows = np.column_stack([np.ones_like(z), z])[:, : len(self.fit.names)]
        return self.sigma_mm * np.sqrt(np.sum((rows @ self.fit.root) ** 2, axis=1))


def base_line(
    heights_mm: ArrayLike,
    unworn_mm: ArrayLike,
    *,
    sigma_mm: float = math.nan,
    df: int = 0,
    land_error_mm: float = 0.0,
) -> BaseLine:
    """Straight line through the unworn width by height.

    Parameters
    ----------
    heights_mm, unworn_mm : array_like, shape (n,)
        Heights, and width there with the recession of both walls added back.
    sigma_mm, df : float, int
        Scatter of one width where it is known better than from these readings, as when several cutters share it.
    land_error_mm : float
        Standard error of what was added back.

    Raises
    ------
    ArgumentError
        There is no reading.

    Examples
    --------
    >>> line = base_line([0.0, 4.0, 8.0], [9.99, 9.994, 9.998])
    >>> round(float(line.at(4.0)), 6), round(1000 * line.slope, 6)
    (9.994, 1.0)
    """
    z, w = np.asarray(heights_mm, dtype=np.float64), np.asarray(unworn_mm, dtype=np.float64)
    if not len(z) or z.shape != w.shape:
        raise ArgumentError(f"{z.size} heights and {w.size} widths", where="base line", allowed="one width a height")
    reference = float(z.mean())
    columns, names = [np.ones(len(z))], ["width"]
    if len(np.unique(z)) >= FEWEST_FOR_SLOPE:
        columns.append(z - reference)
        names.append("slope")
    fit: LinearFit = fit_line(np.column_stack(columns), w, names)
    slope = float(fit.beta[1]) if len(names) > 1 else 0.0
    known = df > 0 and math.isfinite(sigma_mm)
    own = fit.df > 0 and fit.why_missing is None
    sigma, degrees = (sigma_mm, df) if known else (fit.sigma, fit.df) if own else (math.nan, 0)
    return BaseLine(float(fit.beta[0]), slope, reference, sigma, degrees, land_error_mm, len(z), fit)


def pooled_scatter(lines: Sequence[BaseLine]) -> tuple[float, int]:
    """Scatter of one width about its own cutter's line, pooled over cutters.

    Returns
    -------
    sigma_mm, df
        NaN and 0 where no line has a reading to spare.
    """
    df = sum(line.fit.df for line in lines)
    if df == 0:
        return math.nan, 0
    return math.sqrt(sum(line.fit.rss for line in lines) / df), df
