"""Text of a delimited file -> a sheet of cells with their file lines.

Lines that are no reading (blank, comment, title, units, repeated header, total) are skipped and counted by kind.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np

from wearlab.core.errors import FileProblem
from wearlab.logbook.columns import ALSO, BARE_WORDS, COLUMNS, MEASURES
from wearlab.logbook.sheet import Sheet, Texts

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_UNIT_CELL = re.compile(
    r"^[\[(]?\s*(um|µm|μm|mm|cm|m|in|inch|thou|min|s|sec|rpm|1/min|rev/min|m/min|mm/min|mm/rev|mm/tooth|"
    r"deg|°|cm3|cm³|in3|%|hb|hrc|hv|-|text|no\.?|pcs|parts)?\s*[\])]?$",
    re.IGNORECASE,
)
_NUMBER_CELL = re.compile(r"^\s*[-+]?\d+([.,]\d+)?\s*$")
_TOTAL = re.compile(r"^(sub-?)?(totals?|sum|mean|average|avg)(\s+of\b.*)?\s*:?$", re.IGNORECASE)
_QUOTE = '"'
_MEASURE_WORDS = frozenset(word.lower() for word in MEASURES)
MOST_CELL = 1_000_000
"""A cell longer than this is no cell of a log."""


def is_units_row(cells: list[str]) -> bool:
    """Whether a line holds nothing but units, such as mm and [min]."""
    return any(cells) and all(_UNIT_CELL.match(cell) for cell in cells)


def is_total(text: str) -> bool:
    """Whether a line that begins with this text may be a total."""
    return _TOTAL.match(text) is not None


def header_key(word: str) -> str:
    """A header word in the form in which it is looked up: lower case, single underscores, no blanks.

    >>> header_key(" Cutting Time min ")
    'cutting_time_min'
    """
    return re.sub(r"[\s\-]+", "_", word.strip().strip('"').lower())


def split_table(
    text: str, renamed: Mapping[str, str], where: str, file: str = "", responses: Iterable[str] = ()
) -> Sheet:
    """Find delimiter and header, and sort the lines.

    Parameters
    ----------
    text : str
        The whole file.
    renamed : dict of str to str
        The shop's own header words and ours, from the trial file.
    where : str
        The file's path, for a refusal.
    file : str
        The file's name, for findings.
    responses : iterable of str
        Measures that the trial file declares.

    Raises
    ------
    FileProblem
        No line holds a column name of the log, or a line cannot be split into cells.
    """
    delimiter, records = _best_split(text, renamed, where)
    sheet = _sheet(records, delimiter, renamed, where, file, responses)
    sheet.delimiter = DELIMITERS[delimiter]
    return sheet


def rows_of_text(text: str, most: int = 1_000_000) -> list[tuple[int, list[str]]]:
    """The first lines of a text as cells; the delimiter is the one that divides most."""
    lines = _file_lines(text)[:most]
    head = "".join(lines[:40])
    delimiter = max(DELIMITERS, key=head.count)
    try:
        records = _records(lines, delimiter, "")
    except FileProblem:
        return []
    return [(record.line, [cell.strip() for cell in record.cells]) for record in records]


def table_of_rows(
    rows: Iterable[tuple[int, list[str]]],
    renamed: Mapping[str, str],
    where: str,
    file: str = "",
    responses: Iterable[str] = (),
) -> Sheet:
    """The same for cells that are divided already: file line and cells of each row.

    Raises
    ------
    FileProblem
        No row holds a column name of the log.
    """
    return _sheet([_Record(line, cells, []) for line, cells in rows], ",", renamed, where, file, responses)


def _sheet(
    records: list[_Record],
    delimiter: str,
    renamed: Mapping[str, str],
    where: str,
    file: str,
    responses: Iterable[str],
) -> Sheet:
    if not records:
        raise FileProblem("an empty file", where=where, allowed="a header line and rows")
    start = _header_at(records, renamed)
    header = [cell.strip() for cell in records[start].cells]
    while header and not header[-1]:
        header.pop()
    if not known_words(header, renamed):
        raise FileProblem(
            "no header line: its first ten lines hold no column name of the log",
            where=where,
            allowed="a line with column names such as cutter, cutting_time_min, measure, value, unit",
            hint=_own_words_hint(records, where),
        )
    sort = Sorter(header, renamed, responses)
    for record in records[:start]:
        sort.skip("title" if any(cell.strip() for cell in record.cells) else "blank", record.line)
    unclosed: list[int] = []
    for record in _unswallowed(records[start + 1 :], delimiter, len(header), unclosed):
        sort.line(record.line, record.cells)
    rows = sort.rows
    at = {line: row for row, line in enumerate(sort.lines)}
    return Sheet(
        file=file,
        header=header,
        header_line=records[start].line,
        columns=[Texts.of([row[i] for row in rows]) for i in range(len(header))],
        lines=np.array(sort.lines, dtype=np.int64),
        skipped=sort.skipped,
        crowded=sort.crowded,
        unclosed=[at[line] for line in unclosed if line in at],
    )


@dataclass(frozen=True, slots=True)
class _Record:
    """Cells of one record, the file line on which it begins, and the file lines that it was made from."""

    line: int
    cells: list[str]
    source: list[str]


def _best_split(text: str, renamed: Mapping[str, str], where: str) -> tuple[str, list[_Record]]:
    """The delimiter whose header has most words that are known; commas where it makes no difference."""
    lines = _file_lines(text)
    scores = {
        delimiter: max(
            (known_words(record.cells, renamed) for record in _records(lines[:12], delimiter, where)), default=0
        )
        for delimiter in DELIMITERS
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
        raise FileProblem(
            f"line {begin + 1} cannot be split into cells ({error})",
            where=where,
            allowed=f"cells of up to {MOST_CELL:,} characters",
            hint="look for a quote that never closes",
        ) from None
    return records


def _unswallowed(records: list[_Record], delimiter: str, width: int, unclosed: list[int]) -> Iterator[_Record]:
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
                unclosed.append(record.line + step)
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


def known_words(cells: list[str], renamed: Mapping[str, str]) -> int:
    """How many of these cells are column names of the log, or open questions about one."""
    keys = [header_key(cell) for cell in cells]
    return sum(key in COLUMNS or key in ALSO or key in renamed or key in BARE_WORDS for key in keys)


def _holds_a_number(cells: Iterable[str]) -> bool:
    """Whether a line is one of readings: `side` is a column, and a practice as well."""
    return any(_NUMBER_CELL.match(cell) for cell in cells)


def _own_words_hint(records: list[_Record], where: str) -> str:
    """How a shop's own header words are mapped, with the first of them as an example."""
    first = next((record.cells for record in records[:10] if any(cell.strip() for cell in record.cells)), [])
    words = [cell.strip() for cell in first if cell.strip()]
    if len(words) < 4 or _holds_a_number(first):
        return "is this the right file? A shop's own header words are mapped under [columns] in the trial file"
    shown = ", ".join(word[:30] for word in words[:12])
    return (
        f"if its first line is the header ({shown}), say in {PurePath(where).stem or 'trial'}.toml beside it what each "
        f'word means: a line [columns], and under it lines such as "{words[0][:30]}" = "cutter"'
    )


def _header_at(records: list[_Record], renamed: Mapping[str, str]) -> int:
    """The line among the first ten with most known words; the first of several that are alike."""
    scores = [0 if _holds_a_number(record.cells) else known_words(record.cells, renamed) for record in records[:10]]
    return scores.index(max(scores)) if scores else 0


class Sorter:
    """Tells rows from lines that are no reading."""

    def __init__(self, header: list[str], renamed: Mapping[str, str], responses: Iterable[str]) -> None:
        self.keys = [header_key(word) for word in header]
        names = [renamed.get(key, key) for key in self.keys]
        self.measure_at = names.index("measure") if "measure" in names else -1
        self.measures = _MEASURE_WORDS | {word.lower() for word in responses}
        self.rows: list[list[str]] = []
        self.lines: list[int] = []
        self.skipped: dict[str, list[int]] = {}
        self.crowded: dict[int, list[str]] = {}

    def skip(self, kind: str, line: int) -> None:
        """Count a line that is no reading."""
        self.skipped.setdefault(kind, []).append(line)

    def line(self, line: int, cells: list[str]) -> None:
        """Keep a row, or count the line under its kind."""
        stripped = [cell.strip() for cell in cells]
        kind = self.kind(stripped)
        if kind:
            self.skip(kind, line)
            return
        width = len(self.keys)
        if len(stripped) > width:
            if any(stripped[width:]):
                self.crowded[len(self.rows)] = stripped[width:]
            del stripped[width:]
        elif len(stripped) < width:
            stripped += [""] * (width - len(stripped))
        self.rows.append(stripped)
        self.lines.append(line)

    def kind(self, cells: list[str]) -> str:
        """What kind of line that is no reading these cells are; empty for a reading."""
        if self._is_reading(cells):
            return ""
        first = next((cell for cell in cells if cell), "")
        if not first:
            return "blank"
        if cells[0].startswith("#"):
            return "comment"
        if [header_key(cell) for cell in cells[: len(self.keys)]] == self.keys:
            return "repeated header"
        if not self.rows and is_units_row(cells):
            return "units"
        return "total" if is_total(first) and cells.count("") >= len(cells) / 2 else ""

    def _is_reading(self, cells: list[str]) -> bool:
        """A cutter may be called #3 or Sum: a line with a known measure is a reading whatever it begins with."""
        return 0 <= self.measure_at < len(cells) and cells[self.measure_at].lower() in self.measures
