"""Text of a delimited file -> header words and rows of cells with their file lines.

Lines that are no reading (blank, comment, title, units, repeated header, total) are skipped and counted by kind.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass, field

from wearlab.core.errors import FileProblem
from wearlab.logbook.columns import ALSO, BARE_WORDS, COLUMNS

_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
_UNIT_CELL = re.compile(r"^[\[(]?\s*(um|µm|μm|mm|cm|m|in|inch|thou|min|s|sec|rpm|1/min|rev/min|m/min|mm/min|mm/rev|mm/tooth|"
                        r"deg|°|cm3|cm³|in3|%|hb|hrc|hv|-|text|no\.?|pcs|parts)?\s*[\])]?$", re.IGNORECASE)  # fmt: skip
_TOTALS = ("total", "totals", "sum", "mean of", "average", "avg")


@dataclass(slots=True)
class RawTable:
    """Cells as typed: `rows` and `lines` run in step; `crowded` are lines with more cells than the header."""

    header: list[str]
    header_line: int
    rows: list[list[str]]
    lines: list[int]
    delimiter: str
    skipped: Counter[str] = field(default_factory=Counter)
    skipped_lines: dict[str, list[int]] = field(default_factory=dict)
    crowded: dict[int, int] = field(default_factory=dict)

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
        No delimiter and header can be made out, or a quote never closes.
    """
    delimiter, records = _best_split(text, renamed, where)
    start = _header_at(records, renamed)
    header = [cell.strip() for cell in records[start][1]]
    while header and not header[-1]:
        header.pop()
    if not header:
        raise FileProblem("no header line", where=where, allowed="a first line with column names such as cutter, value")
    table = RawTable(header, records[start][0], [], [], _DELIMITERS[delimiter])
    for line, cells in records[:start]:
        table.skip("title" if any(cell.strip() for cell in cells) else "blank", line)
    for line, cells in records[start + 1 :]:
        _sort_line(table, line, cells)
    return table


def _best_split(text: str, renamed: dict[str, str], where: str) -> tuple[str, list[tuple[int, list[str]]]]:
    """The delimiter whose header has most words that are known; commas where it makes no difference."""
    best: tuple[int, str, list[tuple[int, list[str]]]] | None = None
    head = "\n".join(text.splitlines()[:12])
    for delimiter in _DELIMITERS:
        score = max((_known(cells, renamed) for _, cells in _records(head, delimiter, where)), default=0)
        if best is None or score > best[0]:
            best = (score, delimiter, [])
    assert best is not None
    return best[1], _records(text, best[1], where)


def _records(text: str, delimiter: str, where: str) -> list[tuple[int, list[str]]]:
    """Rows of cells, each with the file line on which it begins."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    csv.field_size_limit(10_000_000)
    rows: list[tuple[int, list[str]]] = []
    line = 1
    try:
        for cells in reader:
            rows.append((line, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise FileProblem(f"line {line} cannot be split into cells ({error})", where=where,
                          hint="look for a quote that never closes") from None  # fmt: skip
    return rows


def _known(cells: list[str], renamed: dict[str, str]) -> int:
    keys = [header_key(cell) for cell in cells]
    return sum(key in COLUMNS or key in ALSO or key in renamed or key in BARE_WORDS for key in keys)


def _header_at(records: list[tuple[int, list[str]]], renamed: dict[str, str]) -> int:
    """The line among the first ten with most known words; else the first that is not blank."""
    scores = [_known(cells, renamed) for _, cells in records[:10]]
    if scores and max(scores) >= 2:
        return scores.index(max(scores))
    for at, (_, cells) in enumerate(records):
        if any(cell.strip() for cell in cells):
            return at
    return 0


def _sort_line(table: RawTable, line: int, cells: list[str]) -> None:
    width = len(table.header)
    stripped = [cell.strip() for cell in cells]
    first = next((cell for cell in stripped if cell), "")
    if not first:
        table.skip("blank", line)
    elif stripped[0].startswith("#"):
        table.skip("comment", line)
    elif [header_key(cell) for cell in stripped[:width]] == [header_key(word) for word in table.header]:
        table.skip("repeated header", line)
    elif not table.rows and all(_UNIT_CELL.match(cell) for cell in stripped):
        table.skip("units", line)
    elif first.lower().rstrip(":").startswith(_TOTALS) and stripped.count("") >= len(stripped) / 2:
        table.skip("total", line)
    else:
        if any(stripped[width:]):
            table.crowded[line] = len(stripped)
        table.rows.append((stripped + [""] * width)[:width])
        table.lines.append(line)
