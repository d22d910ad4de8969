"""The bench sheet: one page a cutter, a head of labelled cells and a grid with one line an inspection.

The head has a label and its value side by side: any column of the log that belongs to the cutter, its run or its
condition, and `zone NAME` with the limits of a zone. The grid begins with a line of headings: `reading`, the clocks,
and one heading a reading, such as `VB lower 1 [um]` (measure, zone, flute, unit), `width 2 [mm]` (measure, height),
`wall left 2 [mm]`, `hang_up 12.5 [mm]` (measure, pin). A blank cell was looked at and not measured; `/` was not looked
at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from wearlab.logbook.columns import ALSO, CLOCKS, COLUMNS, MEASURES
from wearlab.logbook.sheet import Place, Sheet, Texts
from wearlab.logbook.table import header_key

Rows = Sequence[tuple[int, list[str]]]
NOT_LOOKED_AT = "/"
_UNIT = re.compile(r"\s*\[([^\]]*)\]\s*$")
_REPEAT = re.compile(r"\s*#(\d+)\s*$")
_FLUTE = re.compile(r"f?\d{1,2}|mean|worst", re.IGNORECASE)
_ZONE_LABEL = re.compile(r"zone[ _]+(\w+)", re.IGNORECASE)
_LIMITS = re.compile(r"\s*([\d.,]+)\s*(?:-|to|;|\s)\s*([\d.,]+)\s*(?:mm)?\s*", re.IGNORECASE)
DERIVED = (
    "measure", "zone", "zone_from_mm", "zone_to_mm", "flute", "side", "height_mm", "pin_mm", "repeat", "value", "unit",
    "end_reason",
)  # fmt: skip
"""Columns of the flat table that the headings of a grid stand for."""


@dataclass(frozen=True, slots=True)
class Heading:
    """What a column of the grid holds."""

    word: str
    measure: str
    facts: dict[str, str]

    @property
    def unit(self) -> str:
        """The unit in brackets, or an empty text."""
        return self.facts.get("unit", "")


def parse_heading(word: str, responses: Iterable[str] = ()) -> Heading | None:
    """Understand a heading of the grid; None when it names no measure.

    >>> parse_heading("VB lower 1 [um]").facts
    {'unit': 'um', 'zone': 'lower', 'flute': '1'}
    >>> parse_heading("wall left 2").facts
    {'side': 'left', 'height_mm': '2'}
    >>> parse_heading("reading") is None
    True
    """
    text, facts = word.strip(), {}
    if unit := _UNIT.search(text):
        facts["unit"], text = unit[1].strip(), text[: unit.start()]
    if repeat := _REPEAT.search(text):
        facts["repeat"], text = repeat[1], text[: repeat.start()]
    parts = text.split()
    words = {name.lower(): name for name in (*MEASURES, *responses) if name != "end"}
    if not parts or parts[0].lower() not in words:
        return None
    measure, rest = words[parts[0].lower()], parts[1:]
    needs = MEASURES[measure].needs if measure in MEASURES else ()
    if "side" in needs and rest:
        facts["side"], rest = rest[0], rest[1:]
    if needs or (rest and measure in MEASURES and MEASURES[measure].table == "walls"):
        place = "pin_mm" if "pin_mm" in needs else "height_mm"
        return Heading(word, measure, facts | ({place: rest[0]} if rest else {}))
    if rest and _FLUTE.fullmatch(rest[-1]):
        flute, rest = rest[-1], rest[:-1]
        facts |= {"zone": " ".join(rest)} if rest else {}
        return Heading(word, measure, facts | {"flute": flute})
    return Heading(word, measure, facts | ({"zone": " ".join(rest)} if rest else {}))


@dataclass(slots=True)
class _BenchPage:
    """One cutter: labelled cells of the head (value, line), headings of the grid, its lines, and all its labels."""

    label: str
    head: dict[str, tuple[str, int]] = field(default_factory=dict)
    zones: dict[str, tuple[str, str]] = field(default_factory=dict)
    heading_line: int = 0
    headings: list[str] = field(default_factory=list)
    lines: list[tuple[int, list[str]]] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)


def is_bench_page(rows: Rows, renamed: Mapping[str, str]) -> bool:
    """Whether rows look like a bench sheet: a label cutter, and below it a line of headings with a measure."""
    seen_cutter = False
    for _, cells in rows[:200]:
        keys = [_key(cell, renamed) for cell in cells]
        if _is_headings(cells, renamed):
            return seen_cutter
        if "measure" in keys:
            return False
        seen_cutter |= "cutter" in keys
    return False


def _key(cell: str, renamed: Mapping[str, str]) -> str:
    key = header_key(cell.rstrip(":"))
    return renamed.get(key, key)


def _is_headings(cells: list[str], renamed: Mapping[str, str]) -> bool:
    keys = [_key(cell, renamed) for cell in cells]
    clock = any(ALSO.get(key, (key, 1.0))[0] in (*CLOCKS, "reading") for key in keys)
    return clock and sum(bool(cell) and parse_heading(cell) is not None for cell in cells) >= 1


def _value_after(cells: list[str], at: int) -> str:
    return cells[at + 1] if at + 1 < len(cells) else ""


def _is_label(cell: str, renamed: Mapping[str, str]) -> bool:
    key = _key(cell, renamed)
    return key in COLUMNS or key in ALSO or _ZONE_LABEL.fullmatch(cell.strip()) is not None


def read_bench_pages(
    pages: Sequence[tuple[str, Rows]], renamed: Mapping[str, str], responses: Iterable[str] = ()
) -> Sheet:
    """Bench sheets -> one table of readings.

    Parameters
    ----------
    pages : sequence of (str, rows)
        For each page a name for messages, and its cells by line. A page may hold several cutters, one below the other.
    renamed : dict of str to str
        The shop's own words and ours, from the trial file.
    responses : iterable of str
        Measures that the trial file declares.
    """
    cutters = [page for label, rows in pages for page in _split(label, rows, renamed, tuple(responses))]
    table = _Flat([], [])
    for page in cutters:
        _add_readings(table, page, tuple(responses))
    names = list(dict.fromkeys(name for cells in table.rows for name in cells)) or _names_of_empty(cutters)
    places = table.places

    def locate(row: int, column: int | None) -> Place:
        page, line, heading = places[row]
        name = names[column] if column is not None else ""
        if name in page.head:
            return Place(page.label, page.head[name][1], name)
        return Place(page.label, line, heading if name in DERIVED else name)

    return Sheet(
        file=cutters[0].label if cutters else "",
        header=names,
        header_line=cutters[0].heading_line if cutters else 1,
        columns=[Texts.of([cells.get(name, "") for cells in table.rows]) for name in names],
        lines=np.array([line for _, line, _ in places], dtype=np.int64),
        skipped={"not filled in": table.skipped} if table.skipped else {},
        locate=locate,
    )


def _names_of_empty(cutters: list[_BenchPage]) -> list[str]:
    """Columns of bench sheets that nobody has filled in."""
    words = [word for page in cutters for word in (*page.labels, *page.headings) if word in COLUMNS or word in ALSO]
    return list(dict.fromkeys(["cutter", *words, "measure", "value", "unit"]))


@dataclass(slots=True)
class _Flat:
    """Readings as dictionaries of cells, and for each its page, line and heading."""

    rows: list[dict[str, str]]
    places: list[tuple[_BenchPage, int, str]]
    skipped: list[int] = field(default_factory=list)


def _split(label: str, rows: Rows, renamed: Mapping[str, str], responses: tuple[str, ...]) -> list[_BenchPage]:
    """Cutters of one page: a new one begins where a head follows a grid."""
    pages = [_BenchPage(label)]
    for line, cells in rows:
        page = pages[-1]
        keys = [_key(cell, renamed) for cell in cells]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if page.headings and _begins_a_head(cells, keys):
            page = _BenchPage(label)
            pages.append(page)
        if page.headings:
            page.lines.append((line, cells))
        elif _is_headings(cells, renamed):
            page.heading_line, page.headings = line, [_standard(cell, renamed) for cell in cells]
        else:
            _read_head(page, line, cells, renamed)
    return [page for page in pages if page.headings]


def _begins_a_head(cells: list[str], keys: list[str]) -> bool:
    """Whether a line under a grid is the head of the next cutter: its label comes first, or has a value."""
    return "cutter" in keys and (keys[0] == "cutter" or bool(_value_after(cells, keys.index("cutter"))))


def _standard(cell: str, renamed: Mapping[str, str]) -> str:
    """A heading as it stands, or the column that it means."""
    key = _key(cell, renamed)
    return key if key in COLUMNS or key in ALSO else cell


def _read_head(page: _BenchPage, line: int, cells: list[str], renamed: Mapping[str, str]) -> None:
    at = 0
    while at < len(cells):
        key, zone = _key(cells[at], renamed), _ZONE_LABEL.fullmatch(cells[at].strip())
        value = _value_after(cells, at)
        if zone and (limits := _LIMITS.fullmatch(value)):
            page.zones[zone[1].lower()] = (limits[1], limits[2])
        elif value and (key in COLUMNS or key in ALSO):
            page.head[key] = (value, line)
        page.labels.append(key)
        at += 2 if _is_label(cells[at], renamed) else 1


def _add_readings(table: _Flat, page: _BenchPage, responses: tuple[str, ...]) -> None:
    parsed = [(i, heading) for i, word in enumerate(page.headings) if (heading := parse_heading(word, responses))]
    columns = {i for i, _ in parsed}
    known = {name: value for name, (value, _) in page.head.items() if name not in ("unit",)}
    for line, cells in page.lines:
        cells = cells + [""] * (len(page.headings) - len(cells))
        own = {word: cells[i] for i, word in enumerate(page.headings) if i not in columns and word and cells[i]}
        if (
            not any(cells[i] not in ("", NOT_LOOKED_AT) for i in columns)
            and not _has_clock(own)
            and "end_reason" not in own
        ):
            table.skipped.append(line)
            continue
        reason = own.pop("end_reason", "")
        for i, heading in parsed:
            if cells[i] != NOT_LOOKED_AT:
                facts = _with_limits(heading.facts, page) | {"measure": heading.measure, "value": cells[i]}
                facts["unit"] = heading.unit or page.head.get("unit", ("", 0))[0]
                table.rows.append(known | own | facts)
                table.places.append((page, line, heading.word))
        if reason:
            table.rows.append(known | own | {"measure": "end", "end_reason": reason})
            table.places.append((page, line, "end_reason"))


def _has_clock(cells: Mapping[str, str]) -> bool:
    return any(ALSO.get(name, (name, 1.0))[0] in CLOCKS for name in cells)


def _with_limits(facts: dict[str, str], page: _BenchPage) -> dict[str, str]:
    limits = page.zones.get(facts.get("zone", "").lower())
    return facts | {"zone_from_mm": limits[0], "zone_to_mm": limits[1]} if limits else facts


def heading_words(measure: str, cells: Mapping[str, str]) -> str:
    """The heading under which a reading stands: the inverse of `parse_heading`.

    >>> heading_words("VB", {"zone": "lower", "flute": "1", "unit": "um"})
    'VB lower 1 [um]'
    """
    parts = [measure, *(cells.get(name, "") for name in ("side", "zone", "flute", "height_mm", "pin_mm"))]
    text = " ".join(part for part in parts if part)
    repeat = cells.get("repeat", "")
    text += f" #{repeat}" if repeat else ""
    return f"{text} [{cells['unit']}]" if cells.get("unit") else text
