"""Rules of one cell, made from the column dictionary: limits, whole numbers, blanks, dates.

The same rules as the pandera schema in `schema.py`, on arrays: each different text is looked at once, and a column of
numbers is searched only when its least or greatest value breaks a limit. A test holds the two against each other.
"""

from __future__ import annotations

import re
from datetime import datetime

import numpy as np

from wearlab.logbook.cells import serial_date
from wearlab.logbook.columns import COLUMNS, Column
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import short
from wearlab.logbook.sheet import Floats


def check_cells(draft: Draft) -> None:
    """Apply the limits of the dictionary to every cell."""
    for name, values in draft.numbers.items():
        _limits(draft, COLUMNS[name], values)
        if must_be_whole(COLUMNS[name]):
            _whole(draft, name, values)
    for name in draft.words:
        if may_not_be_blank(COLUMNS[name]):
            _blank(draft, name)
        elif COLUMNS[name].kind == "date":
            _dates(draft, name)


def must_be_whole(column: Column) -> bool:
    """Whether a column holds whole numbers only."""
    return column.kind == "integer" or column.name == "parts"


def may_not_be_blank(column: Column) -> bool:
    """Whether every row needs this text: a unit is missed only where there is a value."""
    return column.need == "required" and not column.numeric and column.name != "unit"


def is_iso_date(text: str) -> bool:
    """Whether a cell is blank or a day of the calendar in ISO 8601, with or without the time of day.

    >>> is_iso_date("2026-02-28"), is_iso_date("2026-02-30"), is_iso_date("4.5.2026")
    (True, False, False)
    """
    if text == "":
        return True
    if not re.match(r"\d{4}-\d\d-\d\d", text):
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _limits(draft: Draft, column: Column, values: Floats) -> None:
    low, high = column.low, column.high
    if not values.size:
        return
    least, greatest = values.min(), values.max()
    if np.isnan(least):
        least, greatest = np.fmin.reduce(values), np.fmax.reduce(values)
    elif least == greatest:
        draft.single[column.name] = float(least)
    fine_low = low is None or not (least < low or (column.above and least == low))
    if fine_low and (high is None or not greatest > high):
        return
    wrong = np.zeros(draft.size, dtype=bool)
    if low is not None:
        wrong |= values <= low if column.above else values < low
    if high is not None:
        wrong |= values > high
    draft.error(
        "out_of_range",
        wrong,
        lambda row: f"{short(draft.typed(row, column.name))} is outside the limits",
        allowed=column.allowed(),
        hint=lambda row: _range_hint(column, float(values[row])),
        column=column.name,
    )


_OTHER_QUANTITY = {
    "feed_per_tooth_mm": "Is this the feed per minute, in the column of the feed per tooth?",
    "feed_per_rev_mm": "Is this the feed per minute, in the column of the feed per revolution?",
    "cutting_speed_m_min": "Are these rev/min, in the column of the cutting speed?",
}
"""What a value above the limit of a column most likely is."""


def _range_hint(column: Column, value: float) -> str:
    if column.high is not None and value > column.high and column.name in _OTHER_QUANTITY:
        return _OTHER_QUANTITY[column.name]
    day = serial_date(value) if column.unit == "mm" else None
    if day is not None:
        return (
            f"{value:g} is how a spreadsheet counts {day.isoformat()}: was {day.month}/{day.day} "
            f"({day.month / day.day:.6g}) typed?"
        )
    if column.unit == "mm" and column.low is not None and column.high is not None:
        if column.low < value / 1000 <= column.high < value:
            return f"um in a column of mm? {value / 1000:g} mm would be inside"
        if column.high >= value * 25.4 > column.low > value:
            return f"inches in a column of mm? {value * 25.4:g} mm would be inside"
    return "Correct it from the bench sheet; does the unit in the column's name fit?"


def _whole(draft: Draft, name: str, values: Floats) -> None:
    wrong = np.rint(values) != values
    if not wrong.any():
        return
    wrong &= np.isfinite(values)
    draft.error(
        "not_whole",
        wrong,
        lambda row: f"{short(draft.typed(row, name))} is no whole number",
        allowed=COLUMNS[name].allowed(),
        hint="Correct it from the bench sheet",
        column=name,
    )


def _blank(draft: Draft, name: str) -> None:
    def found(row: int) -> str:
        typed = draft.typed(row, name)
        return f"the cell of {name} is blank" + (f" ({short(typed)} counts as blank)" if typed else "")

    draft.error(
        "missing_cell",
        ~draft.words[name].filled(),
        found,
        allowed=COLUMNS[name].allowed(),
        hint="Written once for several rows, or are cells merged? Write it in every row"
        if name == "cutter"
        else "Fill it in from the bench sheet",
        column=name,
    )


def _dates(draft: Draft, name: str) -> None:
    words = draft.words[name]
    wrong = words.where(lambda word: not is_iso_date(word))
    draft.error(
        "not_iso_date",
        wrong,
        lambda row: f"{short(words.text(row))} is no ISO 8601 date",
        allowed=COLUMNS[name].allowed(),
        hint=lambda row: date_hint(words.text(row)),
        column=name,
    )


def date_hint(typed: str) -> str:
    """Which days a date that is not ISO 8601 may stand for.

    >>> date_hint("04/05/2026")
    '2026-05-04 or 2026-04-05? Write year-month-day'
    """
    parts = re.fullmatch(r"(\d{1,2})[/.\- ](\d{1,2})[/.\- ](\d{4})", typed, re.ASCII)
    if parts is not None:
        first, second, year = int(parts[1]), int(parts[2]), parts[3]
        readings = [f"{year}-{month:02d}-{day:02d}" for day, month in dict.fromkeys([(first, second), (second, first)])]
        real = [reading for reading in readings if is_iso_date(reading)]
        return f"{' or '.join(real)}? Write year-month-day" if real else "Write year-month-day"
    day = serial_date(float(typed)) if re.fullmatch(r"\d{5}", typed, re.ASCII) else None
    if day is not None:
        return f"{typed} is how a spreadsheet counts {day.isoformat()}: write year-month-day"
    return "Write year-month-day"
