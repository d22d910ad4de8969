"""Readings beyond wear and walls that a trial file declares (spindle load, roughness, burr): points and trends.

A point is the mean over the flutes and repeats of one look. The trend of a cutter is the least-squares slope of its
points on the clock, from the end of break-in through its last look; as with a wear rate the reading of the new edge
is not used, and at least three readings are needed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.core.limits import ROUNDING, reached
from wearlab.core.tables import ShownAsTable, records
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.wear.rate import FEWEST, slope_with_error

KEYS = ["cutter", "measure", "zone"]


@dataclass(frozen=True, slots=True)
class ResponseTrend:
    """Trend of one response of one cutter.

    Attributes
    ----------
    trend, std_error : float
        Units of the response per unit of the clock; NaN where `why_missing` says why.
    first, last : float
        Values at the first and the last look, whether used or not.
    readings : int
        Looks used.
    start, end : float
        Clock at the first and last look used.
    """

    cutter: str
    measure: str
    zone: str
    unit: str
    direction: str
    clock: str
    first: float
    last: float
    trend: float
    std_error: float
    readings: int
    start: float
    end: float
    why_missing: str = ""

    def interval(self, level: float = 0.95) -> Interval:
        """Student's t interval for the slope; unbounded where no error can be had."""
        from scipy.special import stdtrit  # scipy.stats takes half a second to load

        check_level(level)
        if self.why_missing or not self.std_error > 0:
            return Interval(-math.inf, math.inf, level, "none: too few readings, or every reading lies on the line")
        half = float(stdtrit(self.readings - 2, 0.5 + level / 2)) * self.std_error
        return Interval(self.trend - half, self.trend + half, level, "t on the slope of one cutter")


@dataclass(frozen=True, repr=False)
class ResponseTrends(ShownAsTable):
    """All declared responses of a trial on one clock.

    Attributes
    ----------
    points : pandas.DataFrame
        One row a cutter, measure, zone and look: `inspection`, the clocks, `value` in the response's own unit.
    trends : tuple of ResponseTrend
    """

    points: pd.DataFrame
    trends: tuple[ResponseTrend, ...]
    clock: str
    break_in: float

    def to_frame(self, level: float = 0.95) -> pd.DataFrame:
        """One row a cutter, measure and zone."""
        rows = []
        for one in self.trends:
            limits = one.interval(level)
            row = {name: getattr(one, name) for name in one.__slots__}
            rows.append(row | {"low": limits.low, "high": limits.high, "level": level})
        return pd.DataFrame(rows, columns=[*ResponseTrend.__slots__, "low", "high", "level"])

    def to_dict(self, level: float = 0.95) -> list[dict[str, Any]]:
        """JSON-ready: one entry a cutter, measure and zone, with its points."""
        points = dict(tuple(self.points.groupby(KEYS, sort=False)))
        made = []
        for row in records(self.to_frame(level)):
            own = points[tuple(row[key] for key in KEYS)]
            ages = records(own[[self.clock, "value"]].rename(columns={self.clock: "clock"}))
            made.append(row | {"why_missing": row["why_missing"] or None, "points": ages})
        return made

    def __repr__(self) -> str:
        return f"<ResponseTrends on {self.clock}: {len(self.trends)} of {self.points['measure'].nunique()} responses>"


def response_trends(trial: Trial, clock: str = "", break_in: float | None = None) -> ResponseTrends:
    """Points and trends of every response that the trial file declares and the log holds.

    Parameters
    ----------
    trial : Trial
    clock : str
        Column name of the clock, or its short name (min, cm3, parts, m); the first that the log holds when left out.
    break_in : float, optional
        Share of the age at the last look that is left out at the start; the trial file's when left out.

    Raises
    ------
    ArgumentError
        No such clock, or a break-in share that is none.
    """
    column = trial.clock(clock)
    share = trial.settings.break_in if break_in is None else break_in
    if not 0.0 <= share < 1.0:
        raise ArgumentError(f"break-in share {share:g}", where="response trend", allowed="0 to below 1")
    points = _points(trial)
    declared = trial.settings.responses
    trends = []
    for (cutter, measure, zone), own in points.groupby(KEYS, sort=False):
        about = declared[str(measure)]
        labels = (str(cutter), str(measure), str(zone), about.unit, about.direction, column)
        trends.append(_trend(labels, own[[column, "value"]].to_numpy(float), share))
    return ResponseTrends(points, tuple(trends), column, share)


def _points(trial: Trial) -> pd.DataFrame:
    rows = trial.responses[trial.responses["value_mm"].notna()]
    grouped = rows.groupby([*KEYS, "inspection"], sort=False)
    table = grouped[list(CLOCKS)].first().assign(value=grouped["value_mm"].mean()).reset_index()
    order = {name: at for at, name in enumerate(trial.settings.responses)}
    ranks = table["measure"].map(order)
    return table.assign(rank=ranks).sort_values("rank", kind="stable").drop(columns="rank").reset_index(drop=True)


def _trend(labels: tuple[str, str, str, str, str, str], points: np.ndarray, share: float) -> ResponseTrend:
    known = points[np.isfinite(points[:, 0])]
    first, last = float(points[0, 1]), float(points[-1, 1])
    used = known[known[:, 0] > 0]
    if len(used):
        used = used[reached(used[:, 0], share * used[-1, 0])]
    count = len(used)
    start, end = (float(used[0, 0]), float(used[-1, 0])) if count else (math.nan, math.nan)
    why = ""
    if count < FEWEST:
        why = f"{count} reading{'' if count == 1 else 's'} after break-in; a trend needs {FEWEST}"
    elif end - start <= ROUNDING * end:
        why = "the clock stood still"
    slope, error = slope_with_error(used[:, 0], used[:, 1]) if not why else (math.nan, math.nan)
    return ResponseTrend(*labels, first, last, slope, error, count, start, end, why)
