"""The series that a criterion looks at: one value a look, rising towards the limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import natural_sorted, nearest
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves

HEIGHT_TOLERANCE_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Series:
    """One cutter's readings for one criterion, signed so that they rise towards `limit`.

    Attributes
    ----------
    looks : pandas.DataFrame
        The clocks, `value` (signed) and `zone` (which zone it was read in), in order of looks.
    limit : float
        Signed as `value`.
    """

    cutter: str
    looks: pd.DataFrame
    limit: float


def criterion_series(trial: Trial, criterion: Criterion) -> list[Series]:
    """Series of every cutter for one criterion; a cutter that was never read has an empty one.

    Raises
    ------
    ArgumentError
        The log holds no reading of this measure, zone or height in any cutter.
    """
    if criterion.measure in trial.settings.responses:
        table = _responses(trial, criterion)
    elif criterion.measure in ("wall", "width", "hang_up", "floor_radius", "cutter_diameter"):
        table = _walls(trial, criterion)
    else:
        table = _wear(trial, criterion)
    sign = -1.0 if criterion.direction == "falls" else 1.0
    table = table.assign(value=table["value"].abs() if criterion.direction == "two-sided" else sign * table["value"])
    by_cutter = dict(tuple(table.groupby("cutter", sort=False)))
    limit = abs(criterion.limit) if criterion.direction == "two-sided" else sign * criterion.limit
    empty = table.iloc[:0]
    return [Series(cutter, by_cutter.get(cutter, empty), limit) for cutter in trial.runs["cutter"]]


def _wear(trial: Trial, criterion: Criterion) -> pd.DataFrame:
    points = wear_curves(trial).by_zone
    points = points[points["measure"] == criterion.measure]
    if points.empty:
        found = natural_sorted(trial.wear["measure"].unique())
        raise _nothing(criterion, f"no reading of {criterion.measure}", ", ".join(found) or "no wear readings at all")
    if criterion.zone:
        zones = natural_sorted(points["zone"].unique())
        points = points[points["zone"] == criterion.zone]
        if points.empty:
            raise _nothing(
                criterion,
                f"no reading in zone {criterion.zone!r}",
                ", ".join(zone or "(whole edge)" for zone in zones),
                nearest(criterion.zone, zones),
            )
    points = points.assign(value=points[f"{criterion.statistic}_mm"]).dropna(subset=["value"])
    return _worst_zone(points)


def _worst_zone(points: pd.DataFrame) -> pd.DataFrame:
    """At each look the zone with the greatest value; never a mean over zones."""
    if points.empty:
        return points
    worst = points.groupby(["cutter", "inspection"], sort=False)["value"].idxmax()
    return points.loc[worst]


def _walls(trial: Trial, criterion: Criterion) -> pd.DataFrame:
    rows = trial.walls[(trial.walls["measure"] == criterion.measure) & trial.walls["value_mm"].notna()]
    if rows.empty:
        raise _nothing(criterion, f"no reading of {criterion.measure}", "no such wall readings")
    if criterion.height_mm is not None:
        heights = np.sort(rows["height_mm"].dropna().unique())
        rows = rows[(rows["height_mm"] - criterion.height_mm).abs() < HEIGHT_TOLERANCE_MM]
        if rows.empty:
            raise _nothing(
                criterion,
                f"no reading at height {criterion.height_mm:g} mm",
                ", ".join(f"{height:g} mm" for height in heights),
            )
    worst = {"falls": "min", "rises": "max", "two-sided": "max"}[criterion.direction]
    rows = rows.assign(value=rows["value_mm"].abs() if criterion.direction == "two-sided" else rows["value_mm"])
    same = ["cutter", "inspection", "part", "side", "height_mm", "pin_mm"]
    clocks = {name: (name, "first") for name in trial.clocks()}
    once = rows.groupby(same, sort=False, dropna=False).agg(value=("value", "mean"), **clocks).reset_index()
    return (
        once.groupby(["cutter", "inspection"], sort=False)
        .agg(value=("value", worst), **clocks)
        .reset_index()
        .assign(zone="")
    )


def _responses(trial: Trial, criterion: Criterion) -> pd.DataFrame:
    rows = trial.responses[(trial.responses["measure"] == criterion.measure) & trial.responses["value_mm"].notna()]
    if rows.empty:
        raise _nothing(criterion, f"no reading of {criterion.measure}", "no such responses")
    clocks = {name: (name, "first") for name in trial.clocks()}
    return (
        rows.groupby(["cutter", "inspection"], sort=False)
        .agg(value=("value_mm", "mean"), **clocks)
        .reset_index()
        .assign(zone="")
    )


def _nothing(criterion: Criterion, found: str, allowed: str, hint: str = "") -> ArgumentError:
    return ArgumentError(f"the log holds {found}", where=f"criterion {criterion.text!r}", allowed=allowed, hint=hint)
