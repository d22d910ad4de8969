"""The walls of one slot as they were read: deviation of each wall and width by height, and their shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.tables import plain, records
from wearlab.logbook.columns import CLOCKS
from wearlab.wall.readings import SLOT, ReadingError, WallReadings
from wearlab.wall.shape import WallShape, wall_shape

READ = ("left_mm", "right_mm", "width_mm")
"""What is read at a height."""
NO_WALLS = "neither wall was read on its own, so lean and shift cannot be told: a width knows of taper alone"


@dataclass(frozen=True, repr=False, eq=False)
class WallProfile:
    """One slot.

    Attributes
    ----------
    cutter, part : str
    inspection : int
        Look at the cutter.
    clocks : dict of str to float
        Age of the cutter on each clock.
    points : pandas.DataFrame
        One row a height, floor first: `height_mm`, `left_mm`, `right_mm` (deviation, + = metal left), `width_mm`; NaN
        where something was not read.
    shape : WallShape or None
        Of the two walls.
    opening_um_mm : float
        Change of width per mm of height, from the widths; NaN for fewer than two heights.
    why_missing : str
        Why there is no shape.
    """

    cutter: str
    inspection: int
    part: str
    clocks: dict[str, float]
    points: pd.DataFrame
    shape: WallShape | None
    opening_um_mm: float
    why_missing: str = ""

    def to_frame(self) -> pd.DataFrame:
        """The points, with what they belong to."""
        made = self.points.copy()
        made.insert(0, "cutter", self.cutter)
        made.insert(1, "inspection", self.inspection)
        made.insert(2, "part", self.part)
        return made

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = {
            "cutter": self.cutter,
            "inspection": self.inspection,
            "part": self.part,
            **plain(self.clocks),
            "points": records(self.points),
            "opening_um_mm": plain(self.opening_um_mm),
            "shape": self.shape.to_dict(level) if self.shape else None,
            "why_missing": self.why_missing or None,
        }
        return made

    def __repr__(self) -> str:
        return f"<WallProfile {self.cutter}, {self.part or 'part not named'}: {len(self.points)} heights>"


def wall_profiles(readings: WallReadings) -> tuple[WallProfile, ...]:
    """Every slot of which a wall or a width was read, in natural order of cutters and by age.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.wall.readings import wall_readings
    >>> found = wall_profiles(wall_readings(read_log(sample_path("shoulder_demo"))))
    >>> len(found), found[0]
    (36, <WallProfile E1, witness 4: 5 heights>)
    """
    error = readings.error_of("wall")
    made = []
    for _, own in _by_height(readings).groupby(SLOT, sort=False):
        cutter, inspection, part = (own[name].iloc[0] for name in SLOT)
        points = own[["height_mm", *READ]].reset_index(drop=True)
        clocks = {clock: float(own[clock].iloc[0]) for clock in CLOCKS}
        shape = _shape(points, error)
        why = "" if shape else NO_WALLS
        made.append(WallProfile(str(cutter), int(inspection), str(part), clocks, points, shape, _opening(points), why))
    return tuple(made)


def _by_height(readings: WallReadings) -> pd.DataFrame:
    """One row a slot and height: the clocks, `left_mm`, `right_mm`, `width_mm`."""
    table = readings.table
    own = table[table["measure"].isin(["wall", "width"]) & table["height_mm"].notna()]
    names = np.where(own["measure"] == "width", "width_mm", own["side"].astype(object) + "_mm")
    own = own.assign(what=names)
    own = own[own["what"].isin(READ)]
    keys = [*SLOT, "height_mm"]
    place = own.groupby(SLOT, sort=False).ngroup()
    own = own.assign(place=place)
    values = own.groupby([*keys, "what"], sort=False)["value_mm"].first().unstack("what").reindex(columns=list(READ))
    first = own.groupby(keys, sort=False)[[*CLOCKS, "place"]].first()
    return first.join(values).reset_index().sort_values(["place", "height_mm"], kind="stable").reset_index(drop=True)


def _shape(points: pd.DataFrame, error: ReadingError) -> WallShape | None:
    heights, left, right = points[["height_mm", "left_mm", "right_mm"]].to_numpy(dtype=float).T
    of_left, of_right = np.isfinite(left), np.isfinite(right)
    if not (of_left.any() or of_right.any()):
        return None
    return wall_shape(heights[of_left], left[of_left], heights[of_right], right[of_right], error)


def _opening(points: pd.DataFrame) -> float:
    held = points[["height_mm", "width_mm"]].to_numpy(dtype=float)
    held = held[np.isfinite(held[:, 1])]
    if len(held) < 2:
        return float("nan")
    dz = held[:, 0] - held[:, 0].mean()
    return float(1000 * (dz @ held[:, 1]) / (dz @ dz))
