"""Walls as outcomes of a comparison: metal left at the floor at one age, and its growth with parts, cutter by cutter.

Practices run to different ages, and a wall worsens with age: last readings compared would call every practice that
lasted longer the worse one. Each cutter is therefore read off at the largest age that all of them reached, between its
own readings and never beyond them. Errors of walls may be negative, so differences are compared and not ratios.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.compare.rate_ratio import compared_values
from wearlab.core.errors import Refusal
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.wall.nominal import nominal_width
from wearlab.wall.profile import WallProfile, wall_profiles
from wearlab.wall.readings import wall_readings

SAME_MM = 1e-6
"""Heights that differ by less are one height."""


@dataclass(frozen=True, slots=True)
class WallTables:
    """Walls of each cutter.

    Attributes
    ----------
    at_floor : pandas.DataFrame
        `cutter`, `value`: metal left on a wall at the floor in mm (+ = left) at the common age.
    growth : pandas.DataFrame
        `cutter`, `value`: its least-squares slope in mm per unit of `growth_clock`.
    height_mm, age : float
        Lowest height that every cutter was read at, and the largest age that every cutter reached.
    clock, growth_clock : str
    left_out, no_growth : tuple of (str, str)
        Cutters without a value, and why.
    """

    at_floor: pd.DataFrame
    growth: pd.DataFrame
    height_mm: float
    age: float
    clock: str
    growth_clock: str
    left_out: tuple[tuple[str, str], ...]
    no_growth: tuple[tuple[str, str], ...]

    def words(self, outcome: str) -> str:
        """What was read, in the place of a criterion."""
        when = f"at {self.age:g} {self.clock}" if outcome == "wall" else f"slope on {self.growth_clock}"
        return f"metal left {self.height_mm:g} mm above the floor, {when}"


def wall_tables(trial: Trial, clock: str) -> WallTables:
    """Metal left at the floor by each cutter, at one age and as a slope.

    Parameters
    ----------
    trial : Trial
    clock : str
        Clock of the common age; where the walls do not know it, the first that they know. The slope is on parts where
        the walls know them.

    Raises
    ------
    Refusal
        No wall or width was read, no height is common to all cutters, or the walls know no clock.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = wall_tables(read_log(sample_path("shoulder_demo")), "cutting_time_min")
    >>> found.height_mm, len(found.at_floor), found.growth_clock
    (0.5, 12, 'parts')
    """
    readings = wall_readings(trial)
    nominal = nominal_width(readings, trial.facts()).width_mm
    profiles = wall_profiles(readings)
    height = _lowest_shared(profiles)
    known = [name for name in CLOCKS if all(np.isfinite(one.clocks[name]) for one in profiles)]
    if not known:
        raise Refusal("no clock is known at every wall reading", where="walls", allowed=", ".join(CLOCKS))
    clock = clock if clock in known else known[0]
    growth_clock = "parts" if "parts" in known else clock
    rows = pd.DataFrame(
        [(one.cutter, one.clocks[clock], one.clocks[growth_clock], _left(one, height, nominal)) for one in profiles],
        columns=["cutter", "age", "on", "left_mm"],
    ).dropna()
    age = float(rows.groupby("cutter")["age"].max().min()) if len(rows) else float("nan")
    floor, growth, left_out, no_growth = [], [], [], []
    for cutter, own in rows.groupby("cutter", sort=False):
        own = own.groupby("age", as_index=False).mean(numeric_only=True)
        if own["age"].iloc[0] > age * (1 + 1e-9):
            left_out.append((str(cutter), f"wall: first read at {own['age'].iloc[0]:g}, after the common age {age:g}"))
        else:
            floor.append((str(cutter), float(np.interp(age, own["age"], own["left_mm"]))))
        centred = own["on"] - own["on"].mean()
        if len(own) < 2 or not (centred**2).sum() > 0:
            no_growth.append((str(cutter), "wall growth: one reading has no slope"))
        else:
            growth.append((str(cutter), float((centred * own["left_mm"]).sum() / (centred**2).sum())))
    columns = ["cutter", "value"]
    return WallTables(
        pd.DataFrame(floor, columns=columns), pd.DataFrame(growth, columns=columns), height, age, clock, growth_clock,
        tuple(left_out), tuple(no_growth),
    )  # fmt: skip


def wall_values(table: pd.DataFrame) -> tuple[np.ndarray, str, str]:
    """Numbers to compare as differences."""
    return table["value"].to_numpy(float), "difference", "one figure a cutter"


wall_difference = compared_values(lambda table: (*wall_values(table)[:2], "metal left at one age, one figure a cutter"))
"""Compares metal left at the floor; arguments as in `rate_ratio`."""
growth_difference = compared_values(lambda table: (*wall_values(table)[:2], "one slope a cutter"))
"""Compares its growth."""


def _lowest_shared(profiles: tuple[WallProfile, ...]) -> float:
    """The lowest height at which every cutter was read at every look."""
    heights = [one.points["height_mm"].to_numpy(dtype=float) for one in profiles]
    if not heights:
        raise Refusal("no wall and no width was read", where="walls", allowed="rows with measure wall or width")
    shared = [z for z in sorted(heights[0]) if all((np.abs(own - z) < SAME_MM).any() for own in heights)]
    if not shared:
        raise Refusal(
            "walls were read at no height that all slots share", where="walls", hint="read every slot at one height"
        )
    return float(shared[0])


def _left(one: WallProfile, height: float, nominal: float) -> float:
    """Metal left on a wall: the mean of the walls that were read, else half of what the width lacks."""
    at = one.points[np.abs(one.points["height_mm"] - height) < SAME_MM].iloc[0]
    walls = at[["left_mm", "right_mm"]].astype(float).dropna()
    return float(walls.mean()) if len(walls) else (nominal - float(at["width_mm"])) / 2
