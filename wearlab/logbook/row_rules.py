"""Rules that need one row alone: is it a reading, in which unit, and is it there once?"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.core.units import TO_MM, length_unit
from wearlab.logbook.columns import CLOCKS, MEASURES
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import number_of, short
from wearlab.logbook.settings import TrialSettings

IDENTITY = ("cutter", "reading", "measure", "zone", "flute", "side", "height_mm", "pin_mm", "part", "repeat")
"""Two rows that share all of these are the same reading twice (the clock stands in where readings are not numbered)."""


def check_rows(draft: Draft, settings: TrialSettings) -> None:
    """Apply every rule of one row; adds the column `value_mm` (own unit for a declared response)."""
    _clock_present(draft)
    _measure_known(draft, settings)
    draft.data["value_mm"] = np.nan
    _values(draft, settings)
    _needs(draft)
    _flutes(draft)
    _duplicates(draft)


def _column(draft: Draft, name: str, rows: pd.DataFrame) -> pd.Series:
    if name in rows.columns:
        return rows[name]
    return pd.Series("", index=rows.index, dtype=object)


def _clock_present(draft: Draft) -> None:
    rows = draft.good()
    clocks = [name for name in CLOCKS if name in rows.columns]
    for line in rows.index[rows[clocks].isna().all(axis=1)] if clocks else rows.index:
        draft.error(int(line), "no_clock", "no clock on this row", column=clocks[0] if clocks else CLOCKS[0],
                    allowed=f"at least one of {', '.join(CLOCKS)}",
                    hint="A reading without a clock cannot be placed: fill it in")  # fmt: skip


def _measure_known(draft: Draft, settings: TrialSettings) -> None:
    words = [*MEASURES, *settings.responses]
    spelling = {word.lower(): word for word in words}
    cells = _column(draft, "measure", draft.data)
    fixed = cells.map({cell: spelling.get(str(cell).lower(), cell) for cell in cells.unique()})
    draft.data["measure"] = fixed
    rows = draft.good()
    for line in rows.index[~rows["measure"].isin(words)]:
        word = str(rows.at[line, "measure"])
        draft.error(int(line), "unknown_measure", f"measure {short(word)} is not known", column="measure", allowed=", ".join(words),
                    hint=nearest(word, words) or "Declare an own response in the trial file")  # fmt: skip


def _values(draft: Draft, settings: TrialSettings) -> None:
    """Convert values to mm; a blank value is a look at the clock alone."""
    rows = draft.good()
    rows = rows[rows["measure"] != "end"]
    value = rows["value"] if "value" in rows.columns else pd.Series(np.nan, index=rows.index)
    blank = rows.index[value.isna()]
    if len(blank):
        draft.note("not_measured", f"{number_of(len(blank), 'row has', 'rows have')} no value: looked at the clock, "
                   "not measured; used as exposure, never filled in", [int(line) for line in blank], column="value")  # fmt: skip
    units = _column(draft, "unit", rows)
    declared = rows["measure"].isin(list(settings.responses))
    factors = {unit: _factor(str(unit)) for unit in units.unique()}
    factor = units.map(factors).astype(float).where(~declared, 1.0)
    for line in rows.index[value.notna() & factor.isna()]:
        unit = str(units[line])
        draft.error(int(line), "unit_missing" if unit == "" else "unknown_unit",
                    "a value without a unit" if unit == "" else f"unit {short(unit)} is not known", column="unit",
                    allowed=", ".join(TO_MM), hint="The unit was not guessed: fill it in")  # fmt: skip
    draft.data.loc[rows.index, "value_mm"] = value * factor
    low = rows["measure"].map({name: measure.low for name, measure in MEASURES.items()}).astype(float)
    for line in rows.index[(value < low) & factor.notna()]:
        measure = str(rows.at[line, "measure"])
        draft.error(int(line), f"negative_{MEASURES[measure].table.removesuffix('s')}",
                    f"{measure} {value[line]:g} {units[line]} is negative", column="value", allowed="0 or more",
                    hint="Correct it from the bench sheet")  # fmt: skip
    _zero_wear(draft, rows.index[(value == 0) & rows["measure"].isin(["VB", "VBmax", "corner"])])


def _zero_wear(draft: Draft, lines: pd.Index) -> None:
    """A worn edge read as zero is below what the instrument resolves, not zero; a new edge may well be zero."""
    if "reading" in draft.data.columns:
        lines = lines[(draft.data.loc[lines, "reading"] != 0).to_numpy()]
    if len(lines):
        draft.note("zero_wear", f"{number_of(len(lines), 'wear reading')} of 0 after the first look: below "
                   "what the instrument resolves, not zero",
                   [int(line) for line in lines], column="value")  # fmt: skip


def _factor(unit: str) -> float:
    try:
        return TO_MM[length_unit(unit)]
    except ArgumentError:
        return np.nan


def _needs(draft: Draft) -> None:
    """Facts without which a row of this measure says nothing."""
    rows = draft.good()
    for name, measure in MEASURES.items():
        lines = rows.index[rows["measure"] == name]
        for need in measure.needs:
            cells = _column(draft, need, rows).loc[lines]
            for line in lines[(cells.isna() | (cells == "")).to_numpy()]:
                draft.error(int(line), "fact_missing", f"a row with measure {name} and no {need}", column=need,
                            allowed=f"every row with measure {name} states {' and '.join(measure.needs)}",
                            hint=f"Fill in {need}")  # fmt: skip


def _flutes(draft: Draft) -> None:
    if "flute" not in draft.data.columns:
        return
    cells = draft.data["flute"]
    fixed = {cell: re.sub(r"\.0+$", "", str(cell).lower().lstrip("f")) if cell else "" for cell in cells.unique()}
    draft.data["flute"] = cells.map(fixed)
    rows = draft.good()
    known = rows["flute"].isin(["", "mean", "worst"]) | rows["flute"].str.fullmatch(r"[1-9]\d?")
    for line in rows.index[~known]:
        draft.error(int(line), "unknown_flute", f"flute {short(cells[line])} is not known", column="flute",
                    allowed="1, 2, ..., mean, worst, or blank when it is not known", hint="Correct it from the bench sheet")  # fmt: skip
    if "teeth" in rows.columns:
        number = pd.to_numeric(rows["flute"].where(known), errors="coerce")
        for line in rows.index[number > rows["teeth"]]:
            draft.error(int(line), "flute_beyond_teeth", f"flute {rows.at[line, 'flute']} of a cutter with "
                        f"{number_of(int(rows.at[line, 'teeth']), 'tooth', 'teeth')}", column="flute",
                        allowed=f"1 to {rows.at[line, 'teeth']:g}", hint="Correct the flute, or the column teeth")  # fmt: skip


def _duplicates(draft: Draft) -> None:
    """An exact copy is set aside once; copies that disagree are all set aside."""
    rows = draft.good()
    rows = rows[rows["measure"] != "end"]
    names = [name for name in IDENTITY if name in rows.columns]
    if "reading" not in rows.columns or rows["reading"].isna().any():
        names += [name for name in CLOCKS if name in rows.columns]
    twice = rows[rows.duplicated(names, keep=False)]
    if twice.empty:
        return
    for _, group in twice.groupby(names, dropna=False, sort=False):
        lines = [int(line) for line in group.index]
        same = group["value_mm"].nunique(dropna=False) == 1
        where = ", ".join(str(line) for line in lines[:-1]) + f" and {lines[-1]}"
        for line in lines[1:] if same else lines:
            draft.error(line, "duplicate_reading" if same else "conflicting_readings",
                        f"the same reading on lines {where}" + ("" if same else " with different values"),
                        column="value", allowed="one row a reading; number repeated measurements in the column repeat",
                        hint=f"Line {lines[0]} was used" if same else "All of them were set aside: keep the right one")  # fmt: skip
