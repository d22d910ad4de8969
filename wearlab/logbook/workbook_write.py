"""Workbooks: an empty one to fill in, and a trial as one; drop-down lists and comments come from the dictionary."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from wearlab.logbook.columns import COLUMNS, MEASURES, Column
from wearlab.logbook.safety import safe_cell
from wearlab.logbook.template import USUAL
from wearlab.logbook.trial import Trial
from wearlab.logbook.write import log_rows

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

LISTED_ROWS = 2000
"""So far down a blank sheet its drop-down lists go."""

TRIAL_KEYS: tuple[tuple[str, str], ...] = (
    ("trial.question", "what is to be settled"),
    ("trial.standard", "the practice that is in use now"),
    ("trial.seed", "seed of everything random, such as 20260101"),
    ("trial.plan", "file of the plan, in the same folder, such as shoulder.plan.json"),
    ("criterion", "when a cutter is worn out, such as lower:VB.mean=0.2mm, and a name in the next cell"),
    ("decision.margin", "smallest ratio worth acting on, such as 1.25"),
    ("decision.level", "confidence level, such as 0.95"),
    ("match.rule", "what was kept equal between the practices"),
    ("zones.corner", "limits of a zone above the end face, mm, in two cells"),
    ("wall.tolerance_um", "tolerance of one wall"),
    ("counting.part", "what one part, pass or cycle is"),
    ("cost.currency", ""),
    ("cost.machine_per_min", ""),
    ("cost.change_min", "minutes to change a cutter"),
    ("cost.scrap", "of one part"),
    ("cost.failure", "of one failure in use"),
    ("cost.parts_per_year", ""),
)
"""Lines of the sheet of the trial: the keys of a trial file, and what they mean."""


def blank_workbook(columns: Sequence[str] = USUAL) -> bytes:
    """An empty workbook: sheets Trial, Cutters and Readings, and Columns with what each column means.

    Parameters
    ----------
    columns : sequence of str
        Columns of the log to make room for.
    """
    facts = [name for name in columns if COLUMNS[name].scope in ("cutter", "run", "condition")]
    readings = ["cutter", *(name for name in columns if COLUMNS[name].scope == "reading")]
    book = _book()
    _trial_sheet(book, {})
    _table(book, "Cutters", facts, [])
    _table(book, "Readings", readings, [])
    _columns_sheet(book)
    return _bytes(book)


def trial_workbook(trial: Trial) -> bytes:
    """A trial as a workbook: reading it gives the same tables to the last digit."""
    rows = log_rows(trial)
    facts = rows.fact_names()
    readings = ["cutter", *(name for name in rows.reading_names() if name != "cutter")]
    readings += [name for name in ("value", "unit") if name not in readings]
    book = _book()
    _trial_sheet(book, {})
    _table(book, "Cutters", ["cutter", *(name for name in facts if name != "cutter")],
           [{"cutter": cutter} | cells for cutter, cells in rows.facts.items()])  # fmt: skip
    _table(book, "Readings", [*readings, "trial"], [row | {"trial": trial.name} for row in rows.readings])
    _columns_sheet(book)
    return _bytes(book)


def _book() -> Workbook:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    return book


def _bytes(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _table(book: Workbook, title: str, names: Sequence[str], rows: Sequence[Mapping[str, Any]]) -> None:
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "B2"
    for at, name in enumerate(names, start=1):
        _head(sheet, at, COLUMNS[name], max(len(rows) + 1, LISTED_ROWS))
    for line, row in enumerate(rows, start=2):
        for at, name in enumerate(names, start=1):
            put(sheet, line, at, row.get(name))


def _head(sheet: Worksheet, at: int, column: Column, last: int) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    cell = sheet.cell(1, at, column.name)
    cell.font = Font(bold=True)
    cell.comment = Comment(f"{column.meaning}\n{column.allowed()}", "wearlab")
    letter = get_column_letter(at)
    sheet.column_dimensions[letter].width = max(12, len(column.name) + 2)
    _drop_down(sheet, column, f"{letter}2:{letter}{last}")
    if not column.numeric:
        for line in range(2, min(last, 200) + 1):
            sheet.cell(line, at).number_format = "@"  # text stays as typed: 007, 1/4, 2026-03-14


def _drop_down(sheet: Worksheet, column: Column, cells: str) -> None:
    """A list of the known words; another word may be typed where the shop's own is allowed."""
    from openpyxl.worksheet.datavalidation import DataValidation

    words = tuple(MEASURES) if column.name == "measure" else column.choices
    text = ",".join(words)
    if not words or len(text) > 250:
        return
    listed = DataValidation(type="list", formula1=f'"{text}"', allow_blank=True)
    listed.showErrorMessage = not (column.open_choice or column.name == "measure")
    listed.errorTitle, listed.error = column.name, f"one of {text}"[:220]
    sheet.add_data_validation(listed)
    listed.add(cells)


def put(sheet: Worksheet, line: int, at: int, value: Any) -> None:
    """Write a cell: numbers as numbers, text as text that starts no formula."""
    if value is None:
        return
    cell = sheet.cell(line, at)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        cell.value = value
        if isinstance(value, float) and float(f"{value:.16g}") != value:
            cell._value = repr(value)  # type: ignore[union-attr]  # 16 digits are written; a number may need 17
        return
    cell.value = safe_cell(value)
    cell.data_type = "s"
    cell.number_format = "@"


def _trial_sheet(book: Workbook, values: Mapping[str, Any]) -> None:
    from openpyxl.styles import Font

    sheet = book.create_sheet("Trial")
    for at, word in enumerate(("key", "value", "", "meaning"), start=1):
        sheet.cell(1, at, word).font = Font(bold=True)
    for line, (key, meaning) in enumerate(TRIAL_KEYS, start=2):
        sheet.cell(line, 1, key)
        put(sheet, line, 2, values.get(key))
        sheet.cell(line, 5, meaning)
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 24, 40


def _columns_sheet(book: Workbook) -> None:
    from openpyxl.styles import Font

    sheet = book.create_sheet("Columns")
    for at, word in enumerate(("column", "meaning", "allowed", "also as"), start=1):
        sheet.cell(1, at, word).font = Font(bold=True)
    for line, column in enumerate(COLUMNS.values(), start=2):
        also = ", ".join(name for name, _ in column.also)
        for at, text in enumerate((column.name, column.meaning, column.allowed(), also), start=1):
            put(sheet, line, at, text or None)
