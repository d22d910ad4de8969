"""Stages of a wear curve: break-in, steady, rapid.

Break-in ends at a share of the age at the last reading (10 % unless the trial file says otherwise). The rapid stage
begins at the first interval after which every slope is at least 1.5 times the median slope of the steady readings
before it, and by more than reading error explains. Both are descriptions: lives come from crossings, not from stages.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.wear.curves import WearCurves

STEEPER = 1.5
"""How many times the steady slope counts as rapid (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Stages:
    """Stages of one curve on one clock.

    Attributes
    ----------
    break_in_until : float
        Clock at which break-in ends.
    rapid_from : float
        Clock of the reading after which the wear is rapid; NaN where it never is.
    steady_slope : float
        Median slope between steady readings, mm per unit of the clock; NaN with fewer than two.
    """

    cutter: str
    measure: str
    zone: str
    break_in_until: float
    rapid_from: float
    steady_slope: float


def stages_of(
    curves: WearCurves, clock: str = "cutting_time_min", break_in: float = 0.10, reading_error_mm: float = 0.0
) -> tuple[Stages, ...]:
    """Stages of every curve.

    Parameters
    ----------
    curves : WearCurves
    clock : str
        Column name of the clock.
    break_in : float
        Share of the age at the last reading.
    reading_error_mm : float
        Standard error of one mean land; a steeper slope must exceed the steady one by twice what it explains.
    """
    made = []
    for (cutter, measure, zone), curve in curves.by_zone.groupby(["cutter", "measure", "zone"], sort=False):
        points = curve[[clock, "mean_mm"]].dropna().to_numpy()
        made.append(_stages(str(cutter), str(measure), str(zone), points, break_in, reading_error_mm))
    return tuple(made)


def stage_frame(made: tuple[Stages, ...]) -> pd.DataFrame:
    """One row a curve."""
    return pd.DataFrame([{name: getattr(one, name) for name in Stages.__slots__} for one in made])


def _stages(cutter: str, measure: str, zone: str, points: np.ndarray, break_in: float, error: float) -> Stages:
    if len(points) == 0:
        return Stages(cutter, measure, zone, np.nan, np.nan, np.nan)
    until = break_in * float(points[-1, 0])
    steady = points[points[:, 0] >= until]
    gaps = np.diff(steady[:, 0]) if len(steady) > 1 else np.empty(0)
    moving = gaps > 0
    slopes = np.diff(steady[:, 1])[moving] / gaps[moving]
    doubt = 2.0 * np.sqrt(2.0) * error / gaps[moving]
    starts = steady[:-1, 0][moving] if len(steady) > 1 else np.empty(0)
    at = _rapid_at(slopes, doubt)
    calm = slopes if at is None else slopes[:at]
    slope = float(np.median(calm)) if len(calm) else np.nan
    return Stages(cutter, measure, zone, until, np.nan if at is None else float(starts[at]), slope)


def _rapid_at(slopes: np.ndarray, doubt: np.ndarray) -> int | None:
    """First interval of a steep end; two steady intervals must stand before it."""
    for at in range(2, len(slopes)):
        base = float(np.median(slopes[:at]))
        steep = (slopes[at:] >= STEEPER * base) & (slopes[at:] - base > doubt[at:])
        if base > 0 and steep.all():
            return at
    return None
