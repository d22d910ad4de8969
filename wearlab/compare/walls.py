"""Walls beside the wear of the same cutters: lands by zone at the looks at which walls were read, handed to the wall
room.

The size of a slot is taken to follow the mean land of the flutes. Where one flute stands out by runout, it alone makes
the wall, and the mean says too much.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from wearlab.compare.predicted import zone_limits
from wearlab.compare.zone_shift import reading_error
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.wall.readings import clock_held
from wearlab.wall.recession import ZONE_LINE_MM
from wearlab.wall.walls import Walls, walls
from wearlab.wear.curves import WearCurves, wear_curves

LAND = "VB"
"""The measure that tells the recession of the flank."""


def trial_walls(
    trial: Trial,
    *,
    groups: Mapping[str, str] | None = None,
    clock: str = "",
    level: float | None = None,
    zone_line_mm: float = ZONE_LINE_MM,
    curves: WearCurves | None = None,
) -> Walls:
    """Reduce the walls of a trial, with predictions from the lands of the same cutters.

    Parameters
    ----------
    trial : Trial
    groups, clock, level, zone_line_mm
        As `wall.walls.walls`.
    curves : WearCurves, optional
        Where they are at hand already.

    Raises
    ------
    Refusal
        The log holds no wall reading.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = trial_walls(read_log(sample_path("shoulder_demo")))
    >>> len(found.predicted), round(found.separation.ratio.mean, 1)
    (36, 1.0)
    """
    lands = lands_for_walls(trial, wear_curves(trial) if curves is None else curves)
    return walls(trial, lands, groups=groups, clock=clock, level=level, zone_line_mm=zone_line_mm)


def lands_for_walls(trial: Trial, curves: WearCurves) -> pd.DataFrame:
    """Mean land by zone at every look at which a wall was read.

    Between two looks at the edge the land is read off the straight line on the clock; before the first and after the
    last there is none.

    Returns
    -------
    pandas.DataFrame
        `cutter`, `inspection`, `zone`, `from_mm`, `to_mm`, `land_mm`, `land_error_mm` (standard error of the mean over
        the flutes, from the error of one reading).
    """
    columns = ["cutter", "inspection", "zone", "from_mm", "to_mm", "land_mm", "land_error_mm"]
    points = curves.by_zone
    points = points[points["measure"] == LAND] if len(points) else points
    limits = zone_limits(trial)
    looks = trial.walls[["cutter", "inspection", *CLOCKS]].drop_duplicates(["cutter", "inspection"])
    if points.empty or looks.empty:
        return pd.DataFrame(columns=columns)
    gauge, _ = reading_error(curves.by_flute[curves.by_flute["measure"] == LAND])
    clock = clock_held(looks)
    of_cutter = {str(cutter): own for cutter, own in looks.groupby("cutter", sort=False)}
    points = points[points["cutter"].isin(list(of_cutter))]
    rows = []
    for (cutter, zone), curve in points.groupby(["cutter", "zone"], sort=False):
        own = of_cutter[str(cutter)]
        flutes = max(float(curve["flutes"].median()), 1.0)
        low, high = limits.get(str(zone), (math.nan, math.nan))
        land = _at_looks(curve, own, clock)
        error = gauge / math.sqrt(flutes)
        rows += [
            (str(cutter), int(look), str(zone), low, high, value, error)
            for look, value in zip(own["inspection"], land, strict=True)
        ]
    return pd.DataFrame(rows, columns=columns)


def _at_looks(curve: pd.DataFrame, looks: pd.DataFrame, clock: str) -> np.ndarray:
    """Land of one zone of one cutter at some looks: as read there, else between its neighbours on the clock."""
    read = dict(zip(curve["inspection"], curve["mean_mm"], strict=True))
    known = curve[[clock, "mean_mm"]].to_numpy(dtype=float)
    known = known[np.isfinite(known).all(axis=1)]
    known = known[np.argsort(known[:, 0], kind="stable")]
    if len(known):
        ages = looks[clock].to_numpy(dtype=float)
        between = np.interp(ages, known[:, 0], known[:, 1], left=math.nan, right=math.nan)
    else:
        between = np.full(len(looks), math.nan)
    return np.array([read.get(look, value) for look, value in zip(looks["inspection"], between, strict=True)])
