"""Slips in a single cell: a figure mistyped, a unit confused, a word misspelt."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from wearlab.simulate.slips import Edit, NoPlace, Slip, lands, need, one, put, short

if TYPE_CHECKING:
    import pandas as pd

_WIDE = "no land above 0.03 mm"


def _retyped(change: Callable[[str], str], least_mm: float = 0.03) -> Callable[..., Edit]:
    """One land reading typed in another way."""

    def plant(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
        cells = table["value"]
        row = one(
            (at for at in lands(table, least_mm) if change(cells.iloc[at]) != cells.iloc[at]), rng, _WIDE
        )
        old = str(cells.iloc[row])
        new = change(old)
        put(table, [row], "value", new)
        return Edit(table, (row,), ("value",), f"{table['cutter'].iloc[row]}: value {old} -> {new}")

    return plant


def _times(factor: float) -> Callable[[str], str]:
    return lambda cell: short(float(cell) * factor)


def _swapped_digits(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """Two neighbouring digits after the point change places; both must differ."""
    places = [
        (row, at)
        for row in lands(table, 0.03)
        for cell in [str(table["value"].iloc[row])]
        for at in range(cell.find(".") + 1, len(cell) - 1)
        if "." in cell and cell[at] != cell[at + 1]
    ]
    row, at = places[one(range(len(places)), rng, "no land with two different decimals")]
    old = str(table["value"].iloc[row])
    new = old[:at] + old[at + 1] + old[at] + old[at + 2 :]
    put(table, [row], "value", new)
    return Edit(table, (int(row),), ("value",), f"{table['cutter'].iloc[row]}: value {old} -> {new}")


def _cell(column: str, new: str, measure: str = "VB") -> Callable[..., Edit]:
    """One cell of one kind of row replaced by a word."""

    def plant(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
        need(table, "cutter", "measure", column)
        fit = (table["measure"] == measure) & (table[column] != "") & (table[column] != new)
        row = one(np.flatnonzero(fit.to_numpy()), rng, f"no row of measure {measure} with {column}")
        old = table[column].iloc[row]
        put(table, [row], column, new)
        what = f"{table['cutter'].iloc[row]}: {column} {old or 'blank'} -> {new or 'blank'}"
        return Edit(table, (row,), (column,), what)

    return plant


def _beyond_teeth(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    need(table, "teeth", "flute")
    row = one(lands(table), rng, "no land")
    if not table["teeth"].iloc[row]:
        raise NoPlace("no number of teeth")
    new = short(float(table["teeth"].iloc[row]) + 1)
    what = f"{table['cutter'].iloc[row]}: flute {table['flute'].iloc[row]} -> {new}"
    put(table, [row], "flute", new)
    return Edit(table, (row,), ("flute",), what)


def _day_first(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """A date typed day first."""
    need(table, "date")
    row = one(np.flatnonzero((table["date"] != "").to_numpy()), rng, "no date")
    old = str(table["date"].iloc[row])
    year, month, day = old.split("-")
    new = f"{day}/{month}/{year}"
    put(table, [row], "date", new)
    return Edit(table, (row,), ("date",), f"{table['cutter'].iloc[row]}: date {old} -> {new}")


def _no_clock(table: pd.DataFrame, rng: np.random.Generator) -> Edit:
    """Every clock of one row left blank."""
    clocks = [c for c in ("cutting_time_min", "volume_cm3", "parts", "cut_length_m") if c in table.columns]
    if not clocks:
        raise NoPlace("no clock")
    row = one(lands(table), rng, "no land")
    for clock in clocks:
        put(table, [row], clock, "")
    return Edit(table, (row,), tuple(clocks), f"{table['cutter'].iloc[row]}: no clock in one row")


CELL_SLIPS: dict[str, Slip] = {
    "ten_fold_up": Slip("decimal point one place to the right", _retyped(_times(10))),
    "ten_fold_down": Slip("decimal point one place to the left", _retyped(_times(0.1))),
    "swapped_digits": Slip("two neighbouring digits exchanged", _swapped_digits),
    "thou_in_mm": Slip(
        "thousandths of an inch typed under mm", _retyped(lambda c: f"{float(c) / 0.0254:.3g}")
    ),
    "um_in_mm": Slip("micrometres typed under mm", _retyped(_times(1000))),
    "negative": Slip("a minus sign before a land", _retyped(lambda cell: f"-{cell}")),
    "decimal_comma": Slip("a comma for the point in one cell", _retyped(lambda cell: cell.replace(".", ","))),
    "text_in_number": Slip("a letter O for a nought", _retyped(lambda cell: cell.replace("0", "O", 1))),
    "word_in_number": Slip("a remark in the place of a figure", _retyped(lambda cell: f"ca {cell}")),
    "date_in_number": Slip("a figure that a spreadsheet took for a date", _retyped(lambda _: "4-Jan")),
    "unit_missing": Slip("the unit left out", _cell("unit", "")),
    "unknown_unit": Slip("a unit that is none", _cell("unit", "mn")),
    "unknown_measure": Slip("a measure by another name", _cell("measure", "VBB")),
    "unknown_zone": Slip("a zone misspelt", _cell("zone", "lowr")),
    "unknown_end_reason": Slip("an end reason misspelt", _cell("end_reason", "wron", "end")),
    "end_without_reason": Slip("an end that gives no reason", _cell("end_reason", "", "end")),
    "height_missing": Slip("a width without its height", _cell("height_mm", "", "width")),
    "pin_missing": Slip("a hang-up height without its pin", _cell("pin_mm", "", "hang_up")),
    "flute_beyond_teeth": Slip("a flute that the cutter does not have", _beyond_teeth),
    "date_day_first": Slip("a date typed day first", _day_first),
    "no_clock": Slip("a row without any clock", _no_clock),
}
"""Slips of one cell, by name."""
