"""Trend of the walls with the age of the cutter: slope of each number on a clock, one cutter at a time, then over
cutters.

Wear is a trend and not a scatter about a level, so a slope is what there is to watch. A cutter with two slots gives a
slope and no error of its own; the interval comes from the scatter between cutters.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import records
from wearlab.logbook.columns import CLOCKS
from wearlab.wall.over_cutters import over_cutters
from wearlab.wall.profile import WallProfile

WHAT = ("width", "left", "right", "size", "shift", "taper", "lean")
"""What has a trend: by height the first three, of the whole wall the others."""
UNITS = {"taper": "um_mm", "lean": "um_mm"}


@dataclass(frozen=True, repr=False)
class WallTrends:
    """Trends.

    Attributes
    ----------
    clock : str
    by_cutter : pandas.DataFrame
        One row a cutter, `what` and height: `slope` in `unit` per unit of the clock, `slots`, `start`, `end`.
    by_group : pandas.DataFrame
        One row a group, `what` and height: mean `slope` over cutters with `low`, `high`, `level`, `cutters`,
        `why_missing`.
    """

    clock: str
    by_cutter: pd.DataFrame
    by_group: pd.DataFrame

    def to_frame(self) -> pd.DataFrame:
        """Trends over cutters."""
        return self.by_group

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"clock": self.clock, "by_group": records(self.by_group), "by_cutter": records(self.by_cutter)}

    def __repr__(self) -> str:
        return f"<WallTrends on {self.clock}: {self.by_cutter['cutter'].nunique()} cutters>"


def wall_trends(
    profiles: tuple[WallProfile, ...], groups: Mapping[str, str], clock: str, level: float = 0.95
) -> WallTrends:
    """Slope of widths, walls and shapes on a clock.

    Parameters
    ----------
    profiles : tuple of WallProfile
    groups : mapping of str to str
        Cutter -> group.
    clock : str
        Column name of the clock.
    level : float

    Raises
    ------
    ArgumentError
        No such clock.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.wall.profile import wall_profiles
    >>> from wearlab.wall.readings import wall_readings
    >>> slots = wall_profiles(wall_readings(read_log(sample_path("shoulder_demo"))))
    >>> found = wall_trends(slots, {slot.cutter: "all" for slot in slots}, "parts")
    >>> len(found.by_cutter), found.by_group["what"].iloc[0]
    (228, 'width')
    """
    if clock not in CLOCKS:
        raise ArgumentError(f"clock {clock!r}", where="wall trend", allowed=", ".join(CLOCKS))
    by_cutter = _slopes(_numbers(profiles, clock))
    return WallTrends(clock, by_cutter, _over_groups(by_cutter, groups, level))


def _slopes(numbers: pd.DataFrame) -> pd.DataFrame:
    """Least-squares slope of every series that was read at two ages or more."""
    keys = ["cutter", "what", "height_mm", "unit"]
    known = numbers[numbers["age"].notna() & numbers["value"].notna()]
    grouped = known.groupby(keys, sort=False, dropna=False)["age"]
    centred = known["age"] - grouped.transform("mean")
    sums = known.assign(xx=centred**2, xy=centred * known["value"]).groupby(keys, sort=False, dropna=False)
    made = sums.agg(
        xx=("xx", "sum"), xy=("xy", "sum"), slots=("age", "size"), start=("age", "min"), end=("age", "max")
    )
    made = made[made["end"] > made["start"]].reset_index()
    made = made.assign(slope=made["xy"] / made["xx"])
    return made[[*keys, "slope", "slots", "start", "end"]]


def _numbers(profiles: tuple[WallProfile, ...], clock: str) -> pd.DataFrame:
    rows = []
    for slot in profiles:
        age = slot.clocks[clock]
        heights = slot.points["height_mm"].tolist()
        for what in ("width", "left", "right"):
            values = slot.points[f"{what}_mm"].tolist()
            rows += [(slot.cutter, what, z, "mm", age, value) for z, value in zip(heights, values, strict=True)]
        if slot.shape is not None:
            for what in ("size", "shift", "taper", "lean"):
                unit = UNITS.get(what, "mm")
                rows.append((slot.cutter, what, math.nan, unit, age, float(getattr(slot.shape, f"{what}_{unit}"))))
    return pd.DataFrame(rows, columns=["cutter", "what", "height_mm", "unit", "age", "value"])


def _over_groups(by_cutter: pd.DataFrame, groups: Mapping[str, str], level: float) -> pd.DataFrame:
    rows = []
    named = by_cutter.assign(group=[groups[str(cutter)] for cutter in by_cutter["cutter"]])
    for (group, what, height), own in named.groupby(["group", "what", "height_mm"], sort=False, dropna=False):
        found = over_cutters(own["slope"])
        limits = found.interval(level)
        rows.append(
            {
                "group": group,
                "what": what,
                "height_mm": height,
                "unit": own["unit"].iloc[0],
                "slope": found.mean,
                "low": limits.low,
                "high": limits.high,
                "level": level,
                "cutters": found.cutters,
                "why_missing": found.why_missing,
            }
        )
    columns = ["group", "what", "height_mm", "unit", "slope", "low", "high", "level", "cutters", "why_missing"]
    return pd.DataFrame(rows, columns=columns)
