"""Steady-stage wear rate of each cutter and zone.

The rule: least-squares slope of the mean land over the flutes on the clock, from the first reading at or after the
break-in share (10 % unless the trial file says otherwise) of the age at the last reading used, through the first
reading at or past the limit; never the reading of the new edge; at least three readings.
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
from wearlab.logbook.columns import CLOCK_NAMES, CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.stats.line import NO_SCATTER
from wearlab.wear.curves import WearCurves, wear_curves

FEWEST = 3
"""Readings below which no slope with an error is had."""


@dataclass(frozen=True, slots=True)
class WearRate:
    """Slope of one wear curve.

    Attributes
    ----------
    rate : float
        mm per unit of the clock; NaN where `why_missing` says why.
    std_error : float
        Of the slope, from the scatter about the line; 0 where every reading lies on it, which bounds nothing.
    readings : int
        Readings used.
    start, end : float
        Clock at the first and last reading used.
    """

    cutter: str
    measure: str
    zone: str
    clock: str
    rate: float
    std_error: float
    readings: int
    start: float
    end: float
    why_missing: str = ""

    def interval(self, level: float = 0.95) -> Interval:
        """Student's t interval for the slope; unbounded where no error can be had."""
        from scipy.special import stdtrit  # scipy.stats takes half a second to load

        check_level(level)
        if self.readings < FEWEST or not math.isfinite(self.std_error):
            return Interval(-math.inf, math.inf, level, "none: too few readings")
        if self.std_error == 0.0:
            return Interval(-math.inf, math.inf, level, "none: every reading lies on the line")
        half = float(stdtrit(self.readings - 2, 0.5 + level / 2)) * self.std_error
        return Interval(self.rate - half, self.rate + half, level, "t on the slope of one cutter")


@dataclass(frozen=True, repr=False)
class WearRates(ShownAsTable):
    """Rates of a trial on one clock, with the rule that made them."""

    rates: tuple[WearRate, ...]
    clock: str
    break_in: float
    limit_mm: float | None

    def to_frame(self, level: float = 0.95) -> pd.DataFrame:
        """One row a cutter, measure and zone."""
        check_level(level)
        rows = []
        for rate in self.rates:
            interval = rate.interval(level)
            rows.append(
                {
                    "cutter": rate.cutter,
                    "measure": rate.measure,
                    "zone": rate.zone,
                    "clock": rate.clock,
                    "rate": rate.rate,
                    "std_error": rate.std_error,
                    "low": interval.low,
                    "high": interval.high,
                    "level": level,
                    "readings": rate.readings,
                    "start": rate.start,
                    "end": rate.end,
                    "why_missing": rate.why_missing,
                }
            )
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"clock": self.clock, "break_in": self.break_in, "rates": records(self.to_frame())}

    def __repr__(self) -> str:
        return f"<WearRates on {self.clock}: {len(self.rates)} curves>"


def wear_rates(
    curves: WearCurves | Trial,
    clock: str = "cutting_time_min",
    limit_mm: float | None = None,
    break_in: float = 0.10,
    statistic: str = "mean",
) -> WearRates:
    """Rate of every curve.

    Parameters
    ----------
    curves : WearCurves or Trial
        Curves, or the trial that they are made from.
    clock : str
        Column name of the clock, or its short name (min, cm3, parts, m).
    limit_mm : float, optional
        Land at which the steady stage is taken to end: the reading that reaches it is the last one used.
    break_in : float
        Share of the age at the last reading used that is left out at the start, 0 to below 1.
    statistic : {"mean", "worst"}
        Which land over the flutes is held against the limit; the rate itself is always that of the mean.

    Raises
    ------
    ArgumentError
        No such clock or statistic, or a break-in share that is none.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> rates = wear_rates(read_log(sample_path("nasa_milling")), "min", limit_mm=0.3)
    >>> rates.rates[0].cutter, round(rates.rates[0].rate, 5)
    ('case01', 0.00943)
    """
    clock = CLOCK_NAMES.get(clock, clock)
    if clock not in CLOCKS:
        raise ArgumentError(f"clock {clock!r}", where="wear rate", allowed=", ".join(CLOCKS))
    curves = wear_curves(curves) if isinstance(curves, Trial) else curves
    if statistic not in ("mean", "worst"):
        raise ArgumentError(f"statistic {statistic!r}", where="wear rate", allowed="mean, worst")
    if not 0.0 <= break_in < 1.0:
        raise ArgumentError(f"break-in share {break_in:g}", where="wear rate", allowed="0 to below 1")
    rates = []
    for (cutter, measure, zone), curve in curves.by_zone.groupby(["cutter", "measure", "zone"], sort=False):
        points = _steady(curve, clock, limit_mm, break_in, f"{statistic}_mm")
        rates.append(_one_rate(str(cutter), str(measure), str(zone), clock, points))
    return WearRates(tuple(rates), clock, break_in, limit_mm)


def _steady(curve: pd.DataFrame, clock: str, limit_mm: float | None, break_in: float, judged: str) -> np.ndarray:
    """Clock and mean land of the readings from the end of break-in to the first at or past the limit."""
    points = curve[[clock, "mean_mm", judged]].to_numpy(float)
    points = points[(points[:, 0] > 0) & np.isfinite(points[:, 1])]
    if limit_mm is not None:
        past = reached(points[:, 2], limit_mm)
        points = points[: int(np.argmax(past)) + 1] if past.any() else points
    if len(points):
        points = points[reached(points[:, 0], break_in * points[-1, 0])]
    return points[:, :2]


def _one_rate(cutter: str, measure: str, zone: str, clock: str, points: np.ndarray) -> WearRate:
    count = len(points)
    start, end = (float(points[0, 0]), float(points[-1, 0])) if count else (math.nan, math.nan)
    why = ""
    if count < FEWEST:
        why = f"{count} reading{'' if count == 1 else 's'} after break-in; a rate needs {FEWEST}"
    elif end - start <= ROUNDING * end:
        why = "the clock stood still"
    if why:
        return WearRate(cutter, measure, zone, clock, math.nan, math.nan, count, start, end, why)
    slope, error = slope_with_error(points[:, 0], points[:, 1])
    return WearRate(cutter, measure, zone, clock, slope, error, count, start, end)


def slope_with_error(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """Least-squares slope and its standard error; x is centred first, so large clocks lose no digits.

    The error is NaN for two points, and exactly 0 where the scatter is no more than rounding.

    >>> slope_with_error(np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0, 4.0]))
    (2.0, 0.0)
    """
    dx = x - x.mean()
    sxx = float(dx @ dx)
    slope = float(dx @ y) / sxx
    residual = y - y.mean() - slope * dx
    scatter = math.sqrt(float(residual @ residual) / (len(x) - 2)) if len(x) > 2 else math.nan
    if scatter <= NO_SCATTER * float(np.abs(y).max()):
        scatter = 0.0
    return slope, scatter / math.sqrt(sxx)
