"""Walls as outcomes of a comparison: metal left at the floor at one age, and its growth with parts, cutter by cutter.

Practices run to different ages, and a wall worsens with age: last readings compared would call every practice that
lasted longer the worse one. Each cutter is therefore read off at the largest age that all of them reached, between its
own readings and never beyond them. Errors of walls may be negative, so differences are compared and not ratios.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.compare.rate_ratio import compared_values
from wearlab.core.errors import Refusal
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.wall.nominal import nominal_width
from wearlab.wall.readings import SLOT, wall_readings

DECIMALS = 6
"""Heights that are the same in so many decimals of a millimetre are one height."""
_READ_OFF = re.compile(r"^metal left (?P<height>\S+) mm above the floor, (?:at (?P<age>\S+)|slope on) (?P<clock>\S+)$")


@dataclass(frozen=True, slots=True)
class ReadOff:
    """Where walls were read for a comparison; the age is NaN for a slope."""

    height_mm: float
    age: float
    clock: str


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


def read_off(criterion: str) -> ReadOff | None:
    """What `WallTables.words` put in the place of a criterion; None for any other.

    Examples
    --------
    >>> read_off("metal left 12 mm above the floor, at 10 parts")
    ReadOff(height_mm=12.0, age=10.0, clock='parts')
    >>> read_off("VB=0.3mm")
    """
    match = _READ_OFF.match(criterion)
    if match is None:
        return None
    return ReadOff(float(match["height"]), float(match["age"] or "nan"), match["clock"])


def wall_tables(trial: Trial, clock: str) -> WallTables:
    """Metal left by each cutter at the lowest height that all were read at, at one age and as a slope.

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
    height, slots = _at_the_floor(readings.table, nominal)
    known = [name for name in CLOCKS if slots[name].notna().all()]
    if not known:
        raise Refusal("no clock is known at every wall reading", where="walls", allowed=", ".join(CLOCKS))
    clock = clock if clock in known else known[0]
    growth_clock = "parts" if "parts" in known else clock
    rows = pd.DataFrame(
        {"cutter": slots["cutter"], "age": slots[clock], "on": slots[growth_clock], "left_mm": slots["left_mm"]}
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


def _at_the_floor(table: pd.DataFrame, nominal_mm: float) -> tuple[float, pd.DataFrame]:
    """The lowest height at which every slot was read, and metal left there: mean of the walls, else half of what the
    width lacks. One row a slot, with its clocks.
    """
    sides = (table["measure"] == "wall") & table["side"].isin(["left", "right"])
    own = table[(sides | (table["measure"] == "width")) & table["height_mm"].notna()]
    if own.empty:
        raise Refusal("no wall and no width was read", where="walls", allowed="rows with measure wall or width")
    own = own.assign(height_mm=own["height_mm"].round(DECIMALS), slot=own.groupby(SLOT, sort=False).ngroup())
    read = own.groupby("height_mm")["slot"].nunique()
    shared = read.index[read == own["slot"].nunique()]
    if not len(shared):
        raise Refusal(
            "walls were read at no height that all slots share", where="walls", hint="read every slot at one height"
        )
    height = float(shared.min())
    own = own[own["height_mm"] == height]
    slots = own.groupby("slot")[["cutter", *CLOCKS]].first()
    walls, widths = (own[own["measure"] == measure].groupby("slot")["value_mm"].mean() for measure in ("wall", "width"))
    slots["left_mm"] = walls.reindex(slots.index).fillna((nominal_mm - widths.reindex(slots.index)) / 2)
    return height, slots
