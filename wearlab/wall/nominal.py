"""Nominal width of the slots that were measured: from width and both walls read at one place, else from the feature."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.tables import plain
from wearlab.wall.readings import SLOT, WallReadings

FROM_READINGS = "width and both walls read at the same heights"
FROM_FEATURE = "the width of the closed feature in the log"
CLOSE = 0.2
"""Share of a feature's width that a measured slot may differ from it by and still be that feature."""


@dataclass(frozen=True, slots=True)
class Nominal:
    """Nominal width.

    Attributes
    ----------
    width_mm : float
        NaN where `why_missing` says why.
    std_error_mm : float
        Of the mean over the readings, the slots taken as the unit; 0 for a width that was stated.
    slots : int
        Slots that it was read from.
    source : str
    """

    width_mm: float
    std_error_mm: float
    slots: int
    source: str
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "width_mm": self.width_mm,
                "std_error_mm": self.std_error_mm,
                "slots": self.slots,
                "source": self.source or None,
                "why_missing": self.why_missing or None,
            }
        )
        return made


def nominal_width(readings: WallReadings, facts: pd.DataFrame) -> Nominal:
    """Nominal width of the slots of a trial.

    Width + metal left on the left + metal left on the right is the nominal width, wherever all three were read. Where
    they never were, a feature with closed sides is taken for what was measured.

    Parameters
    ----------
    readings : WallReadings
    facts : pandas.DataFrame
        As `Trial.facts`.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.wall.readings import wall_readings
    >>> trial = read_log(sample_path("shoulder_demo"))
    >>> round(nominal_width(wall_readings(trial), trial.facts()).width_mm, 3)
    12.6
    """
    sums = closed_sums(readings)
    if len(sums):
        by_slot = sums.groupby(SLOT, sort=False)["nominal_mm"].mean().to_numpy(dtype=float)
        count = len(by_slot)
        error = float(by_slot.std(ddof=1) / math.sqrt(count)) if count > 1 else math.nan
        return Nominal(float(by_slot.mean()), error, count, FROM_READINGS)
    stated = _closed_feature(facts)
    if stated is None:
        return Nominal(
            math.nan, math.nan, 0, "", "no height at which width and both walls were read, and no closed feature"
        )
    widths = readings.of("width")["value_mm"].to_numpy(dtype=float)
    if widths.size and not abs(float(np.median(widths)) - stated) <= CLOSE * stated:
        return Nominal(
            math.nan, math.nan, 0, "", f"the widths read ({np.median(widths):.4g} mm) are not those of the feature"
        )
    return Nominal(stated, 0.0, 0, FROM_FEATURE)


def closed_sums(readings: WallReadings) -> pd.DataFrame:
    """Width plus both walls, at every height at which all three were read: `nominal_mm` by slot and height."""
    keys = [*SLOT, "height_mm"]
    width = readings.of("width")
    walls = readings.of("wall")
    pieces = [
        own.set_index(keys)["value_mm"].rename(name)
        for name, own in (
            ("width", width),
            ("left", walls[walls["side"] == "left"]),
            ("right", walls[walls["side"] == "right"]),
        )
    ]
    table = pd.concat([piece[~piece.index.duplicated()] for piece in pieces], axis=1, join="inner")
    return table.assign(nominal_mm=table.sum(axis=1)).reset_index()


def _closed_feature(facts: pd.DataFrame) -> float | None:
    if not {"feature_width_mm", "feature_sides"} <= set(facts.columns):
        return None
    widths = facts.loc[facts["feature_sides"] == "closed", "feature_width_mm"].dropna().unique()
    return float(widths[0]) if len(widths) == 1 else None
