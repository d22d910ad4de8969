"""Workbooks: an empty one to fill in, and a trial as one; drop-down lists and comments come from the dictionary."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from wearlab.logbook.columns import COLUMNS, MEASURES, ZONES, Column
from wearlab.logbook.safety import safe_cell
from wearlab.logbook.settings import TrialSettings
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
    ("criterion", "when a cutter is worn out, such as lower:VB.mean=0.2mm, and a name in the next cell; one a line"),
    ("decision.outcome", "what decides: life or rate"),
    ("decision.margin", "smallest ratio worth acting on, such as 1.25"),
    ("decision.level", "confidence level, such as 0.95"),
    ("match.rule", "what was kept equal between the practices"),
    *((f"zones.{zone}", "limits of this zone above the end face, mm, in two cells") for zone in ZONES),
    ("wear.break_in", "part of a cutter's age that a wear rate leaves out at the start, such as 0.1"),
    ("wall.tolerance_um", "tolerance of one wall"),
    ("counting.part", "what one part, pass or cycle is"),
    ("cost.currency", "name of the money"),
    ("cost.machine_per_min", "money for one minute of the machine with its operator"),
    ("cost.change_min", "minutes to change a worn cutter, setting included"),
    ("cost.scrap", "money lost with one spoiled part"),
    ("cost.failure", "money that a cutter failing in service costs beyond edge, change and the spoiled part"),
    ("cost.drill", "money for the predrilled holes of one part, where no drill stands among the cutters"),
    ("cost.parts_per_year", "parts a year that the choice affects"),
    ("cost.edge_price", "money for one new edge, where the cutters have no cutter_price"),
    ("cost.regrinds", "times that a cutter is reground; blank = thrown away when worn"),
    ("cost.regrind_price", "money for one regrind"),
    ("cost.salvage", "money got back for a worn-out cutter; blank = nothing"),
    ("cost.idle_min", "loading and other minutes a part, the same for every practice"),
    ("cost.swap_min", "minutes of tool changes within one part, where a set of cutters makes it"),
    ("cost.demoted_parts", "parts that a finisher, worn for finishing, still makes as a rougher; blank = thrown away"),
    ("response.spindle_load", "a reading beyond wear and walls: its unit, and rises or falls in the next cell"),
    ("columns.Tool", "the shop's own word over a column (here Tool), and the column that it means"),
)
"""Lines of the sheet of the trial: the keys of a trial file, and what they mean."""


def blank_workbook(columns: Sequence[str] = USUAL, responses: Sequence[str] = ()) -> bytes:
    """An empty workbook: sheets Trial, Cutters and Readings, and Columns with what each column means.

    Parameters
    ----------
    columns : sequence of str
        Columns of the log to make room for.
    responses : sequence of str
        Measures that the trial file declares; they stand in the list of `measure`.
    """
    facts = [name for name in columns if COLUMNS[name].scope in ("cutter", "run", "condition")]
    readings = ["cutter", *(name for name in columns if COLUMNS[name].scope == "reading")]
    book = _book()
    _trial_sheet(book, _blank_lines())
    _table(book, "Cutters", facts, [])
    _table(book, "Readings", readings, [], responses)
    _columns_sheet(book)
    return _bytes(book)


def trial_workbook(trial: Trial) -> bytes:
    """A trial as a workbook: reading it gives the same tables to the last digit."""
    rows = log_rows(trial)
    facts = rows.fact_names()
    readings = ["cutter", *(name for name in rows.reading_names() if name != "cutter")]
    readings += [name for name in ("value", "unit") if name not in readings]
    book = _book()
    _trial_sheet(book, settings_lines(trial.settings))
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


def _table(
    book: Workbook,
    title: str,
    names: Sequence[str],
    rows: Sequence[Mapping[str, Any]],
    responses: Sequence[str] = (),
) -> None:
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "B2"
    for at, name in enumerate(names, start=1):
        _head(sheet, at, COLUMNS[name], max(len(rows) + 1, LISTED_ROWS), responses)
    for line, row in enumerate(rows, start=2):
        for at, name in enumerate(names, start=1):
            put(sheet, line, at, row.get(name))


def _head(sheet: Worksheet, at: int, column: Column, last: int, responses: Sequence[str]) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    cell = sheet.cell(1, at, column.name)
    cell.font = Font(bold=True)
    explain(cell, column)
    letter = get_column_letter(at)
    sheet.column_dimensions[letter].width = max(12, len(column.name) + 2)
    drop_down(sheet, column, f"{letter}2:{letter}{last}", responses)
    if not column.numeric:
        for line in range(2, min(last, 200) + 1):
            sheet.cell(line, at).number_format = "@"  # text stays as typed: 007, 1/4, 2026-03-14


def explain(cell: Any, column: Column) -> None:
    """Put the meaning and the limits of a column into the comment of a cell."""
    from openpyxl.comments import Comment

    cell.comment = Comment(f"{column.meaning}\n{column.allowed()}", "wearlab")


def drop_down(sheet: Worksheet, column: Column, cells: str, responses: Sequence[str] = ()) -> None:
    """A list of the known words; another word may be typed where the shop's own is allowed."""
    from openpyxl.worksheet.datavalidation import DataValidation

    words = (*MEASURES, *responses) if column.name == "measure" else column.choices
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


def _trial_sheet(book: Workbook, lines: Sequence[tuple[str, Any, Any, str]]) -> None:
    """Key, value, second value and meaning."""
    from openpyxl.styles import Font

    sheet = book.create_sheet("Trial")
    for at, word in enumerate(("key", "value", "", "meaning"), start=1):
        sheet.cell(1, at, word).font = Font(bold=True)
    for line, cells in enumerate(lines, start=2):
        for at, cell in enumerate(cells, start=1):
            put(sheet, line, at, cell)
    for letter, width in zip("ABCD", (24, 40, 16, 80), strict=True):
        sheet.column_dimensions[letter].width = width


def _blank_lines() -> list[tuple[str, Any, Any, str]]:
    return [(key, None, None, meaning) for key, meaning in TRIAL_KEYS]


def settings_lines(settings: TrialSettings) -> list[tuple[str, Any, Any, str]]:
    """What a trial file states, as lines of the sheet of the trial; what it leaves open stands there blank.

    A shop's own header words are left out: a workbook is written in the columns of the dictionary.
    """
    values: dict[str, list[tuple[Any, Any]]] = {
        "criterion": [(one.text, one.name) for one in settings.criteria],
        **{f"zones.{name}": [limits] for name, limits in settings.zones.items()},
        **{f"response.{one.name}": [(one.unit, one.direction)] for one in settings.responses.values()},
        **{f"cost.{name}": [(value, None)] for name, value in settings.cost.items()},
    }
    scalars = {
        "trial.question": settings.question,
        "trial.standard": settings.standard,
        "trial.seed": settings.seed,
        "trial.plan": settings.plan,
        "decision.outcome": settings.outcome,
        "decision.margin": settings.margin,
        "decision.level": settings.level,
        "match.rule": settings.match_rule,
        "wear.break_in": settings.break_in,
        "wall.tolerance_um": settings.wall_tolerance_um,
        "counting.part": settings.part,
    }
    values |= {key: [(value, None)] for key, value in scalars.items() if key in settings.given}
    meanings = dict(TRIAL_KEYS)
    lines = [(key, *pair, meaning) for key, meaning in TRIAL_KEYS for pair in values.get(key, [(None, None)])]
    return lines + [(key, *pair, "") for key, pairs in values.items() if key not in meanings for pair in pairs]


def _columns_sheet(book: Workbook) -> None:
    from openpyxl.styles import Font

    sheet = book.create_sheet("Columns")
    for at, word in enumerate(("column", "meaning", "allowed", "also as"), start=1):
        sheet.cell(1, at, word).font = Font(bold=True)
    for line, column in enumerate(COLUMNS.values(), start=2):
        also = ", ".join(name for name, _ in column.also)
        for at, text in enumerate((column.name, column.meaning, column.allowed(), also), start=1):
            put(sheet, line, at, text or None)
