"""Text of a delimited file -> header words and rows of cells with their file lines.

Lines that are no reading (blank, comment, title, units, repeated header, total) are skipped and counted by kind.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from wearlab.core.errors import FileProblem
from wearlab.logbook.columns import ALSO, BARE_WORDS, COLUMNS, MEASURES

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_UNIT_CELL = re.compile(r"^[\[(]?\s*(um|µm|μm|mm|cm|m|in|inch|thou|min|s|sec|rpm|1/min|rev/min|m/min|mm/min|mm/rev|mm/tooth|"
                        r"deg|°|cm3|cm³|in3|%|hb|hrc|hv|-|text|no\.?|pcs|parts)?\s*[\])]?$", re.IGNORECASE)  # fmt: skip
_TOTAL = re.compile(r"^(sub-?)?(totals?|sum|mean|average|avg)(\s+of\b.*)?\s*:?$", re.IGNORECASE)
_QUOTE = '"'
_MEASURE_WORDS = frozenset(word.lower() for word in MEASURES)
MOST_CELL = 1_000_000
"""A cell longer than this is no cell of a log."""


@dataclass(slots=True)
class RawTable:
    """Cells as typed: `rows` and `lines` run in step.

    `crowded` are lines with more cells than the header, `unclosed` lines on which a quote opens and never closes.
    """

    header: list[str]
    header_line: int
    rows: list[list[str]]
    lines: list[int]
    delimiter: str
    skipped: Counter[str] = field(default_factory=Counter)
    skipped_lines: dict[str, list[int]] = field(default_factory=dict)
    crowded: dict[int, int] = field(default_factory=dict)
    unclosed: list[int] = field(default_factory=list)

    def skip(self, kind: str, line: int) -> None:
        """Count a line that is no reading."""
        self.skipped[kind] += 1
        self.skipped_lines.setdefault(kind, []).append(line)


def header_key(word: str) -> str:
    """A header word in the form in which it is looked up: lower case, single underscores, no blanks.

    >>> header_key(" Cutting Time min ")
    'cutting_time_min'
    """
    return re.sub(r"[\s\-]+", "_", word.strip().strip('"').lower())


def split_table(text: str, renamed: dict[str, str], where: str) -> RawTable:
    """Find delimiter and header, and sort the lines.

    Parameters
    ----------
    text : str
        The whole file.
    renamed : dict of str to str
        The shop's own header words and ours, from the trial file.
    where : str
        The file's name, for messages.

    Raises
    ------
    FileProblem
        No line holds a column name of the log, or a line cannot be split into cells.
    """
    delimiter, records = _best_split(text, renamed, where)
    if not records:
        raise FileProblem("an empty file", where=where, allowed="a header line and rows")
    start = _header_at(records, renamed)
    header = [cell.strip() for cell in records[start].cells]
    while header and not header[-1]:
        header.pop()
    if not _known(header, renamed):
        raise FileProblem("no header line: its first ten lines hold no column name of the log", where=where,
                          allowed="a line with column names such as cutter, cutting_time_min, measure, value, unit",
                          hint="is this the right file? A shop's own header words are mapped under [columns] in the "
                          "trial file")  # fmt: skip
    table = RawTable(header, records[start].line, [], [], _DELIMITERS[delimiter])
    for record in records[:start]:
        table.skip("title" if any(cell.strip() for cell in record.cells) else "blank", record.line)
    sort = _Sorter(table, renamed)
    for record in _unswallowed(records[start + 1 :], delimiter, len(header), table):
        sort.line(record.line, record.cells)
    return table


@dataclass(frozen=True, slots=True)
class _Record:
    """Cells of one record, the file line on which it begins, and the file lines that it was made from."""

    line: int
    cells: list[str]
    source: list[str]


def _best_split(text: str, renamed: dict[str, str], where: str) -> tuple[str, list[_Record]]:
    """The delimiter whose header has most words that are known; commas where it makes no difference."""
    lines = _file_lines(text)
    scores = {
        delimiter: max((_known(record.cells, renamed) for record in _records(lines[:12], delimiter, where)), default=0)
        for delimiter in _DELIMITERS
    }
    best = max(scores, key=lambda delimiter: scores[delimiter])  # the first of several that are alike
    return best, _records(lines, best, where)


def _file_lines(text: str) -> list[str]:
    """Physical lines with their ends: what editors and spreadsheets count."""
    return io.StringIO(text, newline="").readlines()


def _records(lines: list[str], delimiter: str, where: str) -> list[_Record]:
    """Records as a CSV reader sees them; a quoted cell may run over several lines."""
    reader = csv.reader(lines, delimiter=delimiter)
    csv.field_size_limit(MOST_CELL)
    records: list[_Record] = []
    begin = 0
    try:
        for cells in reader:
            records.append(_Record(begin + 1, cells, lines[begin : reader.line_num]))
            begin = reader.line_num
    except csv.Error as error:
        raise FileProblem(f"line {begin + 1} cannot be split into cells ({error})", where=where,
                          allowed=f"cells of up to {MOST_CELL:,} characters",
                          hint="look for a quote that never closes") from None  # fmt: skip
    return records


def _unswallowed(records: list[_Record], delimiter: str, width: int, table: RawTable) -> Iterator[_Record]:
    """Take lines apart again that a stray quote has swallowed; the line with the quote is marked.

    A note may run over several lines, so a record of several lines is taken apart only when the lines that it
    swallowed look like rows, or when its quote never closes.
    """
    for at, record in enumerate(records):
        never_closes = at == len(records) - 1 and _never_closes(record, delimiter)
        rows_inside = len(record.source) > 1 and any(
            line.count(delimiter) >= max(2, (width - 1) // 2) for line in record.source[1:]
        )
        if not (never_closes or rows_inside):
            yield record
            continue
        for step, line in enumerate(record.source):
            if _never_closes(_Record(0, [], [line]), delimiter):
                table.unclosed.append(record.line + step)
            cells = next(csv.reader([line], delimiter=delimiter, quoting=csv.QUOTE_NONE), [])
            yield _Record(record.line + step, cells, [line])


def _never_closes(record: _Record, delimiter: str) -> bool:
    if not any(_QUOTE in line for line in record.source):
        return False
    try:
        list(csv.reader(record.source, delimiter=delimiter, strict=True))
    except csv.Error as error:
        return "unexpected end" in str(error)
    return False


def _known(cells: list[str], renamed: dict[str, str]) -> int:
    keys = [header_key(cell) for cell in cells]
    return sum(key in COLUMNS or key in ALSO or key in renamed or key in BARE_WORDS for key in keys)


def _header_at(records: list[_Record], renamed: dict[str, str]) -> int:
    """The line among the first ten with most known words; the first of several that are alike."""
    scores = [_known(record.cells, renamed) for record in records[:10]]
    return scores.index(max(scores)) if scores else 0


class _Sorter:
    """Tells rows from lines that are no reading."""

    def __init__(self, table: RawTable, renamed: dict[str, str]) -> None:
        self.table = table
        self.keys = [header_key(word) for word in table.header]
        names = [renamed.get(key, key) for key in self.keys]
        self.measure_at = names.index("measure") if "measure" in names else -1

    def line(self, line: int, cells: list[str]) -> None:
        """Keep a row, or count the line under its kind."""
        stripped = [cell.strip() for cell in cells]
        kind = self._kind(stripped)
        if kind:
            self.table.skip(kind, line)
            return
        width = len(self.keys)
        if any(stripped[width:]):
            self.table.crowded[line] = len(stripped)
        self.table.rows.append((stripped + [""] * width)[:width])
        self.table.lines.append(line)

    def _kind(self, cells: list[str]) -> str:
        first = next((cell for cell in cells if cell), "")
        if not first:
            return "blank"
        if self._is_reading(cells):
            return ""
        if cells[0].startswith("#"):
            return "comment"
        if [header_key(cell) for cell in cells[: len(self.keys)]] == self.keys:
            return "repeated header"
        if not self.table.rows and all(_UNIT_CELL.match(cell) for cell in cells):
            return "units"
        return "total" if _TOTAL.match(first) and cells.count("") >= len(cells) / 2 else ""

    def _is_reading(self, cells: list[str]) -> bool:
        """A cutter may be called #3 or Sum: a line with a known measure is a reading whatever it begins with."""
        return 0 <= self.measure_at < len(cells) and cells[self.measure_at].lower() in _MEASURE_WORDS
