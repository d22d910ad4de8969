"""Bench sheets: empty ones to fill in, and a trial as bench sheets; as CSV or as a workbook with a sheet a cutter."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from wearlab.core.errors import ArgumentError
from wearlab.logbook.bench import NOT_LOOKED_AT, heading_words
from wearlab.logbook.columns import CLOCKS, COLUMNS
from wearlab.logbook.safety import csv_text
from wearlab.logbook.trial import Trial
from wearlab.logbook.write import cell_text, log_rows

HEAD = (
    "cutter", "trial", "cutter_material", "coating", "diameter_mm", "teeth", "flute_length_mm", "overhang_mm",
    "relief_deg", "runout_um", "work_material", "hardness", "hardness_scale", "bar", "machine", "block",
    "run_order", "strategy", "spindle_rpm", "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm",
    "coolant", "direction",
)  # fmt: skip
"""Labels of an empty head."""
LINE = ("reading", "parts", "cutting_time_min")
AFTER = ("wear_form", "operator", "date", "end_reason", "note")
PAIRS_A_LINE = 2
_OF_HEADING = ("side", "zone", "flute", "height_mm", "pin_mm", "repeat", "unit")
_LIMITS = ("zone_from_mm", "zone_to_mm")


@dataclass(slots=True)
class BenchPage:
    """One cutter: head as pairs, zones with their limits, headings, and lines of cells."""

    name: str
    head: list[tuple[str, Any]]
    zones: dict[str, tuple[Any, Any]] = field(default_factory=dict)
    headings: list[str] = field(default_factory=list)
    lines: list[list[Any]] = field(default_factory=list)

    def rows(self) -> list[list[Any]]:
        """The page as rows of cells: the head in pairs, a blank line, the grid."""
        pairs = [
            *self.head,
            *((f"zone {name}", f"{cell_text(a)} to {cell_text(b)}") for name, (a, b) in self.zones.items()),
        ]
        grouped = [pairs[i : i + PAIRS_A_LINE] for i in range(0, len(pairs), PAIRS_A_LINE)]
        head = [[cell for pair in group for cell in (*pair, None)] for group in grouped]
        return [*head, [], list(self.headings), *self.lines]


def blank_bench_page(
    cutter: str = "", zones: Sequence[str] = ("corner", "lower", "middle", "upper"), flutes: int = 4, lines: int = 12,
    unit: str = "um",
) -> BenchPage:  # fmt: skip
    """An empty bench sheet.

    Parameters
    ----------
    cutter : str
        Name of the cutter, if it is known.
    zones : sequence of str
        Zones of the edge that are read at every inspection.
    flutes : int
        Teeth of the cutter.
    lines : int
        Inspections to make room for.
    unit : str
        Unit of the lands.

    Raises
    ------
    ArgumentError
        No flute or no line is asked for.
    """
    for name, value in (("flutes", flutes), ("lines", lines)):
        if not 1 <= value <= 200:
            raise ArgumentError(f"{name} = {value}", where="bench sheet", allowed="1 to 200")
    lands = [heading_words("VB", {"zone": zone, "flute": str(f), "unit": unit}) for zone in zones or ("",)
             for f in range(1, flutes + 1)]  # fmt: skip
    headings = [*LINE, *lands, *AFTER]
    head = [(name, cutter if name == "cutter" else None) for name in HEAD]
    return BenchPage(cutter or "cutter", head, {}, headings, [[at] for at in range(lines)])


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
    page = BenchPage(cutter, head, zones or {}, [*before, *headings, *after])
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
    """Bench sheets as a workbook, a sheet a cutter."""
    from wearlab.logbook.workbook_write import _book, _bytes, put

    book, taken = _book(), set[str]()
    for page in pages:
        title = re.sub(r"[\[\]:*?/\\']", "_", page.name)[:28] or "cutter"
        while title.lower() in taken:
            title += "_"
        taken.add(title.lower())
        sheet = book.create_sheet(title)
        for line, row in enumerate(page.rows(), start=1):
            for at, cell in enumerate(row, start=1):
                put(sheet, line, at, cell)
    return _bytes(book)
