"""The workbook for typing: run sheet, trial, and one sheet a cutter laid out like its sheet of paper, filled in ahead.

A line is a look: parts, minutes, and the lands of every flute and zone side by side, so that a look is typed once.
Reading it gives the same trial as the flat log of the plan.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearlab.core.errors import WearlabError
from wearlab.logbook.bench import heading_words
from wearlab.logbook.bench_write import AFTER, LINE, BenchPage, bench_workbook
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.workbook import read_pages
from wearlab.logbook.workbook_write import put
from wearlab.plan.blank_log import cell_text, planned_note, readings_of, run_facts
from wearlab.plan.inch import shown_column, shown_row
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan
from wearlab.plan.sheets import SPARE_LINES, run_table
from wearlab.plan.trial_file import trial_cells

if TYPE_CHECKING:
    from openpyxl import Workbook

TO_FILL = ("run_order", "runout_um", "hardness", "hardness_scale", "bar", "instrument")
"""Labels of a cutter's head that are left open where the plan does not know them."""
WRITTEN = ("started", "ended", "why, at how many parts", "initials")
"""Columns of the run sheet that are written in."""
_LEFT_OPEN = ("run_order", "runout_um", "runout_thou", "instrument")
RUN_SHEET, TRIAL_SHEET = "Runs", "Trial"
_LONG_AGO = (1980, 1, 1, 0, 0, 0)


def plan_workbook(plan: Plan, plan_file: str = "") -> bytes:
    """The workbook of a plan; the same plan gives the same bytes.

    Parameters
    ----------
    plan : Plan
    plan_file : str
        Name of the plan's own file, which stands in the same folder.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.plan import make_plan
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> made = plan_workbook(make_plan(request_of(tomllib.loads(EXAMPLE))))
    >>> made[:2]
    b'PK'
    """
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(bench_workbook([bench_page(plan, run) for run in plan.runs])))
    _runs(book, plan)
    _trial(book, plan, plan_file)
    out = io.BytesIO()
    book.save(out)
    return _steady(out.getvalue())


def bench_page(plan: Plan, run: Run) -> BenchPage:
    """The sheet of one cutter: its head filled in, a line a planned look, and spare lines."""
    facts, units = run_facts(plan, run), plan.request.units
    names = ["cutter", "trial", *(name for name in COLUMNS if name in facts and name not in ("cutter", "trial"))]
    head: list[tuple[str, Any]] = list(shown_row({name: facts[name] for name in names}, units).items())
    head += [(shown_column(name, units)[0], None) for name in TO_FILL if name not in facts]
    headings = list(dict.fromkeys(heading_words(str(row["measure"]), _texts(row)) for row in readings_of(plan)))
    looks = plan.looks_of(run)
    notes = [planned_note(plan, run, parts) for parts in looks.parts] if looks else []
    width = len(LINE) + len(headings) + len(AFTER)
    lines: list[list[Any]] = []
    for at in range(1, len(notes) + SPARE_LINES + 1):
        line: list[Any] = [None] * width
        line[0] = at
        if at <= len(notes):
            line[width - 1] = notes[at - 1]
        lines.append(line)
    return BenchPage(run.cutter, head, dict(plan.zones), [*LINE, *headings, *AFTER], lines)


def typed_into(path: Path) -> bool:
    """Whether anything was typed into a workbook of a plan since it was written.

    A workbook that cannot be read counts as typed into: nobody knows what is in it.
    """
    try:
        pages = read_pages(path)
    except WearlabError:
        return True
    return any(
        _run_sheet_typed(page.rows) if page.name == RUN_SHEET else _bench_typed(page.rows)
        for page in pages
        if page.name != TRIAL_SHEET
    )


def _texts(row: dict[str, Any]) -> dict[str, str]:
    return {name: cell_text(cell) for name, cell in row.items()}


def _runs(book: Workbook, plan: Plan) -> None:
    """The run sheet in front: for looking up and for notes; nothing of it is read back."""
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    units = plan.request.units
    table = run_table(plan).astype(object)
    names = [str(name) for name in table if table[name].map(lambda cell: cell == cell and cell not in ("", None)).any()]
    sheet = book.create_sheet(RUN_SHEET, 0)
    put(sheet, 1, 1, f"Runs of {plan.trial_name}, seed {plan.request.seed}: in this order, drawn by lot")
    put(sheet, 2, 1, "Readings are typed into the sheet of each cutter. What is written here is not read.")
    if units == "inch":
        put(sheet, 3, 1, "In the sheets of the cutters, zones and the heights and pins of headings are in mm.")
    sheet.cell(1, 1).font = Font(bold=True)
    for at, name in enumerate((*names, *WRITTEN), start=1):
        cell = sheet.cell(4, at, shown_column(name, units)[0].replace("_", " "))
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="bottom")
        sheet.column_dimensions[get_column_letter(at)].width = 30 if name in ("looks_parts", WRITTEN[2]) else 12
    for line, row in enumerate(table[names].to_dict("records"), start=5):
        shown = shown_row({str(name): cell for name, cell in row.items()}, units)
        for at, value in enumerate(shown.values(), start=1):
            put(sheet, line, at, None if value is None or value != value else value)
    sheet.freeze_panes = "C5"


def _trial(book: Workbook, plan: Plan, plan_file: str) -> None:
    """What the trial file says, as lines of a sheet."""
    from openpyxl.styles import Font

    sheet = book.create_sheet(TRIAL_SHEET, 1)
    for at, word in enumerate(("key", "value", ""), start=1):
        sheet.cell(1, at, word).font = Font(bold=True)
    for line, cells in enumerate(_trial_lines(plan, plan_file), start=2):
        for at, value in enumerate(cells, start=1):
            put(sheet, line, at, value)
    sheet.column_dimensions["A"].width, sheet.column_dimensions["B"].width = 24, 60


def _trial_lines(plan: Plan, plan_file: str) -> list[list[Any]]:
    lines: list[list[Any]] = []
    for section, cells in trial_cells(plan, plan_file):
        if section == "criterion":
            lines.append([section, cells["text"], cells["name"]])
            continue
        for key, cell in cells.items():
            lines.append([f"{section}.{key}", *(cell if isinstance(cell, list) else [cell])])
    return lines


def _bench_typed(rows: Sequence[tuple[int, list[str]]]) -> bool:
    """Whether a label that was left open, or a line of the grid, holds anything."""
    headings: list[str] = []
    for _, cells in rows:
        if headings:
            own = (cell for word, cell in zip(headings, cells, strict=False) if word not in ("reading", "note"))
            if any(own):
                return True
        elif cells and cells[0] == LINE[0]:
            headings = cells
        elif any(word in _LEFT_OPEN and value for word, value in pairwise(cells)):
            return True
    return False


def _run_sheet_typed(rows: Sequence[tuple[int, list[str]]]) -> bool:
    lines = [cells for _, cells in rows]
    at = next((i for i, cells in enumerate(lines) if WRITTEN[0] in cells), len(lines))
    if at == len(lines):
        return False
    first = lines[at].index(WRITTEN[0])
    return any(any(cells[first:]) for cells in lines[at + 1 :])


def _steady(content: bytes) -> bytes:
    """The same workbook without the hour at which it was made."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for member in old.infolist():
            part = old.read(member.filename)
            if member.filename == "docProps/core.xml":
                part = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*", rb"\g<1>1980-01-01T00:00:00Z", part)
            info = zipfile.ZipInfo(member.filename, _LONG_AGO)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            new.writestr(info, part)
    return out.getvalue()
