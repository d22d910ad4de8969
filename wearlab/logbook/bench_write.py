"""Bench sheets: empty ones to fill in, and a trial as bench sheets; as CSV or as a workbook with a sheet a cutter."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.core.units import length_unit
from wearlab.logbook.bench import NOT_LOOKED_AT, heading_words, parse_heading
from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES
from wearlab.logbook.safety import csv_text
from wearlab.logbook.trial import Trial
from wearlab.logbook.write import cell_text, log_rows

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

HEAD = (
    "cutter", "trial", "cutter_material", "coating", "diameter_mm", "teeth", "flute_length_mm", "overhang_mm",
    "relief_deg", "runout_um", "work_material", "hardness", "hardness_scale", "bar", "machine", "block",
    "run_order", "strategy", "spindle_rpm", "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm",
    "coolant", "direction",
)  # fmt: skip
"""Labels of an empty head."""
LINE = ("reading", "parts", "cutting_time_min")
AFTER = ("wear_form", "operator", "date", "end_reason", "note")
HOW_TO_FILL = "One line an inspection. Blank: looked at and not measured. A stroke / : not looked at."
PAIRS_A_LINE = 2
SPARE_LINES = 30
"""So far below the last line of a grid its drop-down lists go."""
_OF_HEADING = ("side", "zone", "flute", "height_mm", "pin_mm", "repeat", "unit")
_LIMITS = ("zone_from_mm", "zone_to_mm")


@dataclass(slots=True)
class BenchPage:
    """One cutter: head as pairs, zones with their limits (None = to be filled in), headings, and lines of cells."""

    name: str
    head: list[tuple[str, Any]]
    zones: dict[str, tuple[Any, Any] | None] = field(default_factory=dict)
    headings: list[str] = field(default_factory=list)
    lines: list[list[Any]] = field(default_factory=list)
    remark: str = ""

    def rows(self) -> list[list[Any]]:
        """The page as rows of cells: the head in pairs, a blank line, the grid."""
        pairs = [*self.head, *((f"zone {name}", _limits_text(limits)) for name, limits in self.zones.items())]
        grouped = [pairs[i : i + PAIRS_A_LINE] for i in range(0, len(pairs), PAIRS_A_LINE)]
        head = [[cell for pair in group for cell in (*pair, None)] for group in grouped]
        remark = [[f"# {self.remark}"]] if self.remark else []
        return [*remark, *head, [], list(self.headings), *self.lines]


def _limits_text(limits: tuple[Any, Any] | None) -> str | None:
    return None if limits is None else f"{cell_text(limits[0])} to {cell_text(limits[1])}"


def blank_bench_page(
    cutter: str = "",
    zones: Sequence[str] | Mapping[str, tuple[float, float] | None] = ("corner", "lower", "middle", "upper"),
    flutes: int = 4,
    lines: int = 12,
    unit: str = "um",
    also: Sequence[str] = (),
    responses: Iterable[str] = (),
) -> BenchPage:
    """An empty bench sheet.

    Parameters
    ----------
    cutter : str
        Name of the cutter, if it is known.
    zones : sequence of str, or dict of str to (float, float) or None
        Zones of the edge that are read at every inspection, with their limits in mm where they are known.
    flutes : int
        Teeth of the cutter.
    lines : int
        Inspections to make room for.
    unit : str
        Unit of the lands.
    also : sequence of str
        Further headings, such as `width 2 [mm]`, `hang_up 12.5 [mm]` or a declared response.
    responses : iterable of str
        Measures that the trial file declares.

    Raises
    ------
    ArgumentError
        No flute or no line is asked for, the unit is no length, or a further heading names no measure.
    """
    for name, value in (("flutes", flutes), ("lines", lines)):
        if not 1 <= value <= 200:
            raise ArgumentError(f"{name} = {value}", where="bench sheet", allowed="1 to 200")
    limits: dict[str, tuple[Any, Any] | None] = dict(zones) if isinstance(zones, Mapping) else dict.fromkeys(zones)
    lands = [heading_words("VB", {"zone": zone, "flute": str(f), "unit": length_unit(unit)})
             for zone in limits or ("",) for f in range(1, flutes + 1)]  # fmt: skip
    headings = [*LINE, *lands, *_further(also, tuple(responses)), *AFTER]
    head = [(name, cutter if name == "cutter" else None) for name in HEAD]
    return BenchPage(cutter or "cutter", head, limits, headings, [[at] for at in range(lines)], HOW_TO_FILL)


def _further(also: Sequence[str], responses: tuple[str, ...]) -> list[str]:
    words = [name for name in (*MEASURES, *responses) if name != "end"]
    for heading in also:
        if parse_heading(heading, responses) is None:
            first = (heading.split() or [""])[0]
            raise ArgumentError(f"heading {heading!r}", where="bench sheet",
                                allowed=f"a measure ({', '.join(words)}) and its place, such as width 2 [mm]",
                                hint=nearest(first, words))  # fmt: skip
    return list(also)


def bench_pages(trial: Trial) -> list[BenchPage]:
    """A trial as bench sheets, one a cutter: reading them gives the same tables to the last digit.

    Readings of one look that differ in note, date, instrument or part stand on lines of their own.
    """
    rows = log_rows(trial)
    pages = []
    for cutter, facts in rows.facts.items():
        own = [row for row in rows.readings if row["cutter"] == cutter]
        head = [("cutter", cutter), ("trial", trial.name), *((n, c) for n, c in facts.items() if c is not None)]
        pages.append(_page(cutter, head, own))
    return pages


def _page(cutter: str, head: list[tuple[str, Any]], rows: list[dict[str, Any]]) -> BenchPage:
    readings = [row for row in rows if row["measure"] != "end"]
    zones = _zones(readings)
    keep = [] if zones is not None else list(_LIMITS)
    headings = list(dict.fromkeys(_heading(row) for row in readings)) or ["VB"]
    common = [
        name for name in COLUMNS if name not in (*_OF_HEADING, *_LIMITS, "cutter", "measure", "value") or name in keep
    ]
    names = [name for name in common if any(row.get(name) is not None for row in rows)]
    before = [name for name in ("reading", *CLOCKS) if name in names]
    after = [name for name in names if name not in before]
    page = BenchPage(cutter, head, dict(zones or {}), [*before, *headings, *after])
    lines: dict[tuple[Any, ...], dict[str, Any]] = {}
    for row in readings:
        line = tuple(row.get(name) for name in (*before, *after))
        while _heading(row) in lines.setdefault(line, {}):
            line = (*line, "again")  # two rows that only their number tells apart
        lines[line][_heading(row)] = row
    for line, cells in lines.items():
        page.lines.append(
            _line(line[: len(before)], [_value(cells.get(word)) for word in headings], line[len(before) :], after)
        )
    for row in rows:
        if row["measure"] == "end":
            page.lines.append(_line([row.get(name) for name in before], [NOT_LOOKED_AT] * len(headings),
                                    [row.get(name) for name in after], after))  # fmt: skip
    return page


def _line(before: Sequence[Any], middle: Sequence[Any], after: Sequence[Any], names: Sequence[str]) -> list[Any]:
    return [*before, *middle, *after[: len(names)]]


def _value(row: dict[str, Any] | None) -> Any:
    return NOT_LOOKED_AT if row is None else row.get("value")


def _heading(row: dict[str, Any]) -> str:
    cells = {name: cell_text(row.get(name)) for name in _OF_HEADING}
    return heading_words(str(row["measure"]), cells)


def _zones(rows: list[dict[str, Any]]) -> dict[str, tuple[Any, Any]] | None:
    """Limits of each zone, or None when they change from row to row and must stand on the lines."""
    limits: dict[str, tuple[Any, Any]] = {}
    for row in rows:
        zone, own = str(row.get("zone") or ""), (row.get("zone_from_mm"), row.get("zone_to_mm"))
        if limits.setdefault(zone.lower(), own) != own:
            return None
    simple = all(re.fullmatch(r"\w+", zone) and None not in own for zone, own in limits.items() if own != (None, None))
    return {zone: own for zone, own in limits.items() if own != (None, None)} if simple else None


def bench_csv(pages: Sequence[BenchPage]) -> str:
    """Bench sheets as one CSV, one below the other."""
    texts = []
    for page in pages:
        rows = [[cell_text(cell) for cell in row] for row in page.rows()]
        texts.append(csv_text(rows[0], rows[1:]))
    return "\n".join(texts)


def bench_workbook(pages: Sequence[BenchPage]) -> bytes:
    """Bench sheets as a workbook, a sheet a cutter; lists and comments come from the dictionary."""
    from wearlab.logbook.workbook_write import _book, _bytes, put

    book, taken = _book(), set[str]()
    for page in pages:
        title = re.sub(r"[\[\]:*?/\\']", "_", page.name)[:28] or "cutter"
        while title.lower() in taken:
            title += "_"
        taken.add(title.lower())
        sheet = book.create_sheet(title)
        rows = page.rows()
        for line, row in enumerate(rows, start=1):
            for at, cell in enumerate(row, start=1):
                put(sheet, line, at, cell)
        _dress(sheet, rows, len(rows) - len(page.lines))
    return _bytes(book)


def _dress(sheet: Worksheet, rows: list[list[Any]], grid_at: int) -> None:
    """Lists, comments and widths: of the values beside the labels of the head, and of the columns of the grid."""
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    from wearlab.logbook.workbook_write import drop_down, explain

    for line, row in enumerate(rows[:grid_at], start=1):
        for at, word in enumerate(row, start=1):
            column = COLUMNS.get(str(word)) if line == grid_at or at % 3 == 1 else None
            cell = sheet.cell(line, at)
            if line == grid_at:
                cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="bottom")
            if column is None:
                continue
            explain(cell, column)
            letter = get_column_letter(at if line == grid_at else at + 1)
            below = f"{letter}{line + 1}:{letter}{len(rows) + SPARE_LINES}" if line == grid_at else f"{letter}{line}"
            drop_down(sheet, column, below)
            if not column.numeric:
                for own in sheet[below] if line == grid_at else ((sheet[below],),):
                    own[0].number_format = "@"
    for at in range(1, len(rows[grid_at - 1]) + 1):
        sheet.column_dimensions[get_column_letter(at)].width = 18 if at == 1 else 14
    sheet.freeze_panes = f"B{grid_at + 1}"
