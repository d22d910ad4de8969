"""Quantities that follow from others: speed and feed families, and clocks."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from wearlab.logbook.columns import CLOCKS
from wearlab.milling.kinematics import cutting_speed_m_min, spindle_rpm


def derive_conditions(facts: pd.DataFrame) -> pd.DataFrame:
    """Fill the speed and feed families and the removal rate, one row a cutter.

    A quantity that was typed stays as typed; only empty cells are filled.
    """
    table = facts.copy()
    for name in (
        "diameter_mm",
        "teeth",
        "cutting_speed_m_min",
        "spindle_rpm",
        "feed_per_tooth_mm",
        "feed_per_rev_mm",
        "feed_rate_mm_min",
        "axial_depth_mm",
        "radial_width_mm",
    ):
        if name not in table:
            table[name] = np.nan
    diameter, teeth = table["diameter_mm"], table["teeth"]
    table["cutting_speed_m_min"] = _fill(
        table, "cutting_speed_m_min", cutting_speed_m_min(diameter, table["spindle_rpm"])
    )
    table["spindle_rpm"] = _fill(table, "spindle_rpm", spindle_rpm(diameter, table["cutting_speed_m_min"]))
    rpm = table["spindle_rpm"]
    table["feed_per_rev_mm"] = _fill(table, "feed_per_rev_mm", table["feed_per_tooth_mm"] * teeth)
    table["feed_per_rev_mm"] = _fill(table, "feed_per_rev_mm", table["feed_rate_mm_min"] / rpm)
    table["feed_per_tooth_mm"] = _fill(table, "feed_per_tooth_mm", table["feed_per_rev_mm"] / teeth)
    table["feed_rate_mm_min"] = _fill(table, "feed_rate_mm_min", table["feed_per_rev_mm"] * rpm)
    table["removal_rate_cm3_min"] = (
        table["axial_depth_mm"] * table["radial_width_mm"] * table["feed_rate_mm_min"] / 1000.0
    )
    return table


def _fill(table: pd.DataFrame, name: str, computed: ArrayLike) -> pd.Series:
    return table[name].fillna(pd.Series(np.asarray(computed, dtype=float), index=table.index))


def derive_clocks(rows: pd.DataFrame, facts: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Fill empty clocks from minutes, metres and cm3 where speed and engagement say how; parts are never derived.

    Returns
    -------
    rows : pandas.DataFrame
        With every clock as a column.
    derived : list of str
        Clocks that were filled at least once.
    """
    table = rows.copy()
    for name in CLOCKS:
        if name not in table:
            table[name] = np.nan
    own = facts.set_index("cutter")
    feed = table["cutter"].map(own["feed_rate_mm_min"]) / 1000.0
    rate = table["cutter"].map(own["removal_rate_cm3_min"])
    before = table[list(CLOCKS)].isna()
    table["cutting_time_min"] = table["cutting_time_min"].fillna(table["volume_cm3"] / rate)
    table["cutting_time_min"] = table["cutting_time_min"].fillna(table["cut_length_m"] / feed)
    table["volume_cm3"] = table["volume_cm3"].fillna(table["cutting_time_min"] * rate)
    table["cut_length_m"] = table["cut_length_m"].fillna(table["cutting_time_min"] * feed)
    filled = before & table[list(CLOCKS)].notna()
    return table, [name for name in CLOCKS if filled[name].any()]
