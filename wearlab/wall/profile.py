"""The walls of one slot as they were read: deviation of each wall and width by height, and their shape."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.tables import each_row, plain, records
from wearlab.logbook.columns import CLOCKS
from wearlab.wall.readings import SLOT, WallReadings
from wearlab.wall.shape import WallShape, wall_shape

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
    table = readings.table
    chosen = table[table["measure"].isin(["wall", "width"])]
    error = readings.error_of("wall")
    made = []
    for key, own in chosen.groupby(SLOT, sort=False):
        cutter, inspection, part = str(key[0]), int(own["inspection"].iloc[0]), str(key[2])
        points = _points(own)
        shape, why = None, ""
        walls = {side: points[["height_mm", f"{side}_mm"]].dropna().to_numpy() for side in ("left", "right")}
        if any(len(cells) for cells in walls.values()):
            left, right = walls["left"], walls["right"]
            shape = wall_shape(left[:, 0], left[:, 1], right[:, 0], right[:, 1], error)
        else:
            why = NO_WALLS
        clocks = {clock: float(own[clock].iloc[0]) for clock in CLOCKS}
        made.append(WallProfile(cutter, inspection, part, clocks, points, shape, _opening(points), why))
    return tuple(made)


def _points(own: pd.DataFrame) -> pd.DataFrame:
    heights = np.sort(own["height_mm"].dropna().unique())
    made = pd.DataFrame({"height_mm": heights, "left_mm": np.nan, "right_mm": np.nan, "width_mm": np.nan})
    made = made.set_index("height_mm")
    for row in each_row(own[own["height_mm"].notna()]):
        name = "width_mm" if row.measure == "width" else f"{row.side}_mm"
        if name in made:
            made.at[row.height_mm, name] = row.value_mm
    return made.reset_index()


def _opening(points: pd.DataFrame) -> float:
    held = points[["height_mm", "width_mm"]].dropna().to_numpy(dtype=float)
    if len(held) < 2:
        return float("nan")
    dz = held[:, 0] - held[:, 0].mean()
    return float(1000 * (dz @ held[:, 1]) / (dz @ dz))
