"""Quantities that follow from others: speed and feed families, and clocks; what is given twice is compared."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.draft import Draft
from wearlab.logbook.sheet import Floats
from wearlab.milling.kinematics import cutting_speed_m_min, spindle_rpm

NOTE_FROM, ERROR_FROM = 0.02, 0.10
"""Relative gap between two statements of one quantity: a note from the first, an error from the second. Printed
catalogue examples disagree with themselves by 1 to 5 % (own count)."""

FACTORS = {
    "25.4 (inch and mm)": 25.4,
    "3.28 (feet and metres)": 3.2808,
    "10": 10.0,
    "60 (seconds and minutes)": 60.0,
    "1000": 1000.0,
    "the number of teeth": np.nan,
}
"""Slips that a ratio of two statements gives away."""


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


def check_given_twice(draft: Draft, facts: pd.DataFrame) -> None:
    """Compare what was typed twice: vc with pi D n, and vf with fz z n; a gap of 10 % sets the cutter's rows aside."""
    pairs = (
        ("cutting_speed_m_min", ("diameter_mm", "spindle_rpm"), cutting_speed_m_min, "pi D n"),
        (
            "feed_rate_mm_min",
            ("feed_per_tooth_mm", "teeth", "spindle_rpm"),
            _product,
            "feed per tooth x teeth x rev/min",
        ),
        ("feed_rate_mm_min", ("feed_per_rev_mm", "spindle_rpm"), _product, "feed per revolution x rev/min"),
        ("feed_per_rev_mm", ("feed_per_tooth_mm", "teeth"), _product, "feed per tooth x teeth"),
    )
    for name, given, formula, words in pairs:
        if {name, *given} <= set(facts.columns):
            computed = formula(*(facts[column].to_numpy(dtype=float) for column in given))
            _compare(draft, facts, name, np.asarray(computed, dtype=float), words)


def _product(*factors: Floats) -> Floats:
    return np.prod(np.vstack(factors), axis=0)


def _compare(draft: Draft, facts: pd.DataFrame, name: str, computed: Floats, words: str) -> None:
    typed = facts[name].to_numpy(dtype=float)
    ratio = typed / computed
    gap = np.abs(ratio - 1.0)
    column = draft.word("cutter")
    for at in np.flatnonzero(np.nan_to_num(gap) > NOTE_FROM):
        cutter = str(facts["cutter"].iloc[at])
        rows = column.equal(cutter) & draft.good()
        found = f"{name} {typed[at]:g}, but {words} gives {computed[at]:.4g}"
        if gap[at] < ERROR_FROM:
            draft.note("given_twice", f"{found}: {100 * gap[at]:.0f} % apart", rows, cutter=cutter, column=name)
        else:
            draft.error(
                "contradiction",
                rows,
                found,
                column=name,
                allowed="within 10 % of each other",
                hint=_factor(float(ratio[at])),
                cutter=cutter,
            )


def _factor(ratio: float) -> str:
    for words, factor in FACTORS.items():
        for candidate in (factor, 1.0 / factor):
            if abs(ratio / candidate - 1.0) < 0.03:
                return f"They differ by a factor of {words}"
    return "One of them is wrong: leave out the one that was only intended"


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
