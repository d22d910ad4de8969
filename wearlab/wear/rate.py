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

from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import records
from wearlab.wear.curves import WearCurves

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
        Of the slope, from the scatter about the line.
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
        from scipy.stats import t

        check_level(level)
        if self.readings < FEWEST or not math.isfinite(self.std_error):
            return Interval(-math.inf, math.inf, level, "none: too few readings")
        half = float(t.ppf(0.5 + level / 2, self.readings - 2)) * self.std_error
        return Interval(self.rate - half, self.rate + half, level, "t on the slope of one cutter")


@dataclass(frozen=True, repr=False)
class WearRates:
    """Rates of a trial on one clock, with the rule that made them."""

    rates: tuple[WearRate, ...]
    clock: str
    break_in: float
    limit_mm: float | None

    def to_frame(self, level: float = 0.95) -> pd.DataFrame:
        """One row a cutter, measure and zone."""
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
    curves: WearCurves, clock: str = "cutting_time_min", limit_mm: float | None = None, break_in: float = 0.10
) -> WearRates:
    """Rate of every curve.

    Parameters
    ----------
    curves : WearCurves
    clock : str
        Column name of the clock.
    limit_mm : float, optional
        Land at which the steady stage is taken to end: the reading that reaches it is the last one used.
    break_in : float
        Share of the age at the last reading used that is left out at the start, 0 to below 1.
    """
    rates = [
        _one_rate(str(cutter), str(measure), str(zone), curve, clock, limit_mm, break_in)
        for (cutter, measure, zone), curve in curves.by_zone.groupby(["cutter", "measure", "zone"], sort=False)
    ]
    return WearRates(tuple(rates), clock, break_in, limit_mm)


def _one_rate(
    cutter: str, measure: str, zone: str, curve: pd.DataFrame, clock: str, limit_mm: float | None, break_in: float
) -> WearRate:
    points = curve[[clock, "mean_mm"]].dropna().to_numpy()
    points = points[points[:, 0] > 0]
    if limit_mm is not None and (points[:, 1] >= limit_mm).any():
        points = points[: int(np.argmax(points[:, 1] >= limit_mm)) + 1]
    if len(points):
        points = points[points[:, 0] >= break_in * points[-1, 0]]
    spread = np.ptp(points[:, 0]) if len(points) else 0.0
    if len(points) < FEWEST or spread == 0:
        why = (
            f"{len(points)} readings after break-in; a rate needs {FEWEST}"
            if len(points) < FEWEST
            else "the clock stood still"
        )
        start, end = (points[0, 0], points[-1, 0]) if len(points) else (math.nan, math.nan)
        return WearRate(cutter, measure, zone, clock, math.nan, math.nan, len(points), start, end, why)
    slope, error = slope_with_error(points[:, 0], points[:, 1])
    return WearRate(cutter, measure, zone, clock, slope, error, len(points), float(points[0, 0]), float(points[-1, 0]))


def slope_with_error(x: np.ndarray, y: np.ndarray) -> tuple[float, float]:
    """Least-squares slope and its standard error; x is centred first, so large clocks lose no digits.

    >>> slope_with_error(np.array([0.0, 1.0, 2.0]), np.array([0.0, 2.0, 4.0]))
    (2.0, 0.0)
    """
    dx = x - x.mean()
    sxx = float(dx @ dx)
    slope = float(dx @ y) / sxx
    residual = y - y.mean() - slope * dx
    variance = float(residual @ residual) / (len(x) - 2) if len(x) > 2 else math.nan
    return slope, math.sqrt(variance / sxx)
