"""Clocks that follow from minutes because a cutter keeps its conditions for life.

`slid_m`: metres that a point of the engaged edge has slid: R phi_e n per minute. `cm3_per_mm`: volume removed per mm of
radial width, for logs that do not record the width. A life on such a clock is the life in minutes times one number a
cutter, so its status and bracket carry over.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from wearlab.life.toollife import ToolLife
from wearlab.milling.engagement import engagement_angle

DERIVED: dict[str, tuple[str, ...]] = {
    "slid_m": ("diameter_mm", "radial_width_mm", "spindle_rpm"),
    "cm3_per_mm": ("axial_depth_mm", "feed_rate_mm_min"),
}
"""Derived clocks and the facts that each needs."""


def per_minute(facts: pd.DataFrame, clock: str) -> pd.Series:
    """Units of a derived clock that go by in one minute in the metal, by cutter; NaN where a fact is missing."""
    needed = [facts[name] if name in facts else pd.Series(np.nan, index=facts.index) for name in DERIVED[clock]]
    columns = [column.to_numpy(float) for column in needed]
    known = np.all(np.isfinite(columns), axis=0)
    made = np.full(len(facts), np.nan)
    if known.any():
        chosen = [column[known] for column in columns]
        if clock == "slid_m":
            diameter, width, rpm = chosen
            made[known] = diameter / 2 * engagement_angle(np.minimum(width, diameter), diameter) * rpm / 1000.0
        else:
            depth, feed = chosen
            made[known] = depth * feed / 1000.0
    return pd.Series(made, index=facts["cutter"])


def on_derived_clock(lives: list[ToolLife], facts: pd.DataFrame, clock: str) -> list[ToolLife]:
    """Lives in minutes, told on a derived clock.

    Examples
    --------
    >>> facts = pd.DataFrame({"cutter": ["E1"], "axial_depth_mm": [2.0], "feed_rate_mm_min": [400.0]})
    >>> per_minute(facts, "cm3_per_mm").tolist()
    [0.8]
    """
    factor = per_minute(facts, clock)
    return [_scaled(life, float(factor[life.cutter]), clock) for life in lives]


def _scaled(life: ToolLife, k: float, clock: str) -> ToolLife:
    if math.isnan(k) and life.status != "none":
        nan = math.nan
        why = f"not recorded: {', '.join(DERIVED[clock])}"
        return replace(life, clock=clock, life=nan, low=nan, high=nan, status="none", bracket_low=nan, bracket_high=nan,
                       first_crossing=nan, last_crossing=nan, why_missing=why)  # fmt: skip
    names = ("life", "low", "high", "bracket_low", "bracket_high", "first_crossing", "last_crossing")
    return replace(life, clock=clock, **{name: getattr(life, name) * k for name in names})
