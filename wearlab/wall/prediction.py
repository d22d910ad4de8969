"""The slot that a worn edge should leave: width by height from the lands of its zones, and where pins should stop.

Width = base line less the recession of both walls. The base line is what the same cutter left before it wore: it holds
nominal width, runout and deflection together, so none of them needs to be known. Within a zone the land is one number,
so the width is even there and steps at the zone lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.interval import Interval, check_level
from wearlab.milling.arrays import Floats
from wearlab.milling.pins import fillet_stand_off_mm, hang_up_height_mm
from wearlab.wall.base_line import BaseLine
from wearlab.wall.recession import ZONE_LINE_MM, at_heights


@dataclass(frozen=True, repr=False, eq=False)
class PredictedSlot:
    """Width of one slot as the lands predict it.

    Attributes
    ----------
    heights_mm, widths_mm : ndarray, shape (k,)
        Above the floor; two equal heights make a step. NaN where no zone says anything.
    recession_mm : ndarray, shape (k,)
        Recession of the edge there.
    error_mm : ndarray, shape (k,)
        Standard error of the width.
    df : int
        Degrees of freedom of that error; 0 where it cannot be had.
    zone_line_mm : float
        How well a step's height is known.
    """

    heights_mm: Floats
    widths_mm: Floats
    recession_mm: Floats
    error_mm: Floats
    df: int
    zone_line_mm: float

    @property
    def top_mm(self) -> float:
        """Height of the mouth."""
        return float(self.heights_mm[-1])

    def hang_up(self, pin_mm: float, fillet_mm: float = 0.0, chamfer_mm: float = 0.0) -> float:
        """Height at which a pin should stop: 0 = reaches the floor, `top_mm` = does not enter.

        NaN where the pin would come to a stretch of which no zone says anything before it stops.
        """
        return self._stop(self.widths_mm, pin_mm, fillet_mm, chamfer_mm)

    def hang_up_interval(
        self,
        pin_low_mm: float,
        pin_high_mm: float,
        level: float = 0.95,
        fillet_mm: float = 0.0,
        chamfer_mm: float = 0.0,
    ) -> Interval:
        """Where the pin should stop, given the limits of its class and the standard error of the width.

        The larger a pin the higher it stops, so the limits are those of the smallest pin in the widest slot and of
        the largest in the narrowest; a step's own height adds `zone_line_mm`.
        """
        from scipy.special import ndtri, stdtrit

        check_level(level)
        method = "width error and pin class through the profile"
        if self.df < 1 or not np.isfinite(self.error_mm).any():
            factor, error = 0.0, np.zeros_like(self.widths_mm)
            method = "pin class alone through the profile"
        else:
            factor = float(stdtrit(self.df, 0.5 + level / 2)) if self.df < 1000 else float(ndtri(0.5 + level / 2))
            error = self.error_mm
        low = self._stop(self.widths_mm + factor * error, pin_low_mm, fillet_mm, chamfer_mm)
        high = self._stop(self.widths_mm - factor * error, pin_high_mm, fillet_mm, chamfer_mm)
        if not (math.isfinite(low) and math.isfinite(high)):
            return Interval(-math.inf, math.inf, level, "none: a stretch of the edge was not read")
        return Interval(self._blurred(low, -1), self._blurred(high, 1), level, method)

    def _blurred(self, height: float, sign: int) -> float:
        """A stop at the floor or the mouth stays there; a stop in between is as uncertain as a zone line."""
        if height in (0.0, self.top_mm):
            return height
        return min(max(height + sign * self.zone_line_mm, 0.0), self.top_mm)

    def _stop(self, widths: Floats, pin: float, fillet: float, chamfer: float) -> float:
        known = np.isfinite(widths)
        start = len(widths) - 1
        while start >= 0 and known[start]:
            start -= 1
        if start == len(widths) - 1:
            return math.nan
        z, w = self.heights_mm[start + 1 :], widths[start + 1 :]
        if start >= 0 and not (w < pin).any():
            return math.nan  # free as far as the zones go, unknown below
        stop = float(hang_up_height_mm(z, w, pin))
        return self._on_fillet(w[0], stop, pin, fillet, chamfer)

    def _on_fillet(self, floor_width: float, stop: float, pin: float, fillet: float, chamfer: float) -> float:
        if stop > 0 or fillet <= 0 or floor_width < pin:
            return stop
        return float(fillet_stand_off_mm(fillet, (floor_width - pin) / 2, chamfer))

    def to_frame(self) -> pd.DataFrame:
        """One row a corner of the profile."""
        return pd.DataFrame(
            {
                "height_mm": self.heights_mm,
                "width_mm": self.widths_mm,
                "recession_mm": self.recession_mm,
                "error_mm": self.error_mm,
            }
        )

    def __repr__(self) -> str:
        return f"<PredictedSlot: {np.nanmin(self.widths_mm):.4f} to {np.nanmax(self.widths_mm):.4f} mm>"


def predict_slot(
    zones: pd.DataFrame, base: BaseLine, top_mm: float, zone_line_mm: float = ZONE_LINE_MM
) -> PredictedSlot:
    """Width by height that a cutter with these lands leaves.

    Parameters
    ----------
    zones : pandas.DataFrame
        As `Recessions.at`: zones of one cutter at one look.
    base : BaseLine
        What the cutter leaves without wear.
    top_mm : float
        Height of the mouth.
    zone_line_mm : float
        How well a zone line is known as a height.

    Examples
    --------
    >>> from wearlab.wall.base_line import base_line
    >>> zones = pd.DataFrame({"from_mm": [0.0, 2.0], "to_mm": [2.0, 8.0], "recession_mm": [0.044, 0.002],
    ...                       "recession_error_mm": [0.0, 0.0]})
    >>> slot = predict_slot(zones, base_line([1.0, 7.0], [10.0, 10.0]), 8.0)
    >>> slot.hang_up(9.95), slot.hang_up(9.9), slot.hang_up(9.999)
    (2.0, 0.0, 8.0)
    """
    lines = sorted({0.0, top_mm, *zones["from_mm"], *zones["to_mm"]})
    lines = [line for line in lines if 0.0 <= line <= top_mm]
    middles = (np.array(lines[1:]) + np.array(lines[:-1])) / 2
    recession, error, _ = at_heights(zones, middles)
    heights = np.repeat(np.array(lines), 2)[1:-1]
    recession, error = np.repeat(recession, 2), np.repeat(error, 2)
    # Lands of both looks enter, that of the base line and that of this one: one standard error each.
    land = np.where(np.isfinite(error), 2 * error, 0.0)
    spread = np.sqrt(base.error_at(heights) ** 2 + land**2 + base.land_error_mm**2)
    return PredictedSlot(heights, base.at(heights) - 2 * recession, recession, spread, base.df, zone_line_mm)
