"""Corrections of a log, written down beside it: applied visibly, counted, never in silence."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from pathlib import Path

from wearlab.core.errors import FileProblem
from wearlab.core.tables import nearest
from wearlab.logbook.cells import number_in
from wearlab.logbook.columns import ALSO, COLUMNS
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import read_source
from wearlab.logbook.findings import short
from wearlab.logbook.safety import csv_text
from wearlab.logbook.sheet import Sheet, Texts
from wearlab.logbook.table import header_key

COLUMNS_OF_CORRECTIONS = ("line", "column", "old", "new", "reason", "initials", "date")
"""Columns of a corrections file; `file` may stand before them where a folder holds several logs."""


@dataclass(frozen=True, slots=True)
class Correction:
    """One changed cell; without a column the whole row is withdrawn.

    Attributes
    ----------
    line : int
        File line of the log.
    column, old, new : str
        Header word, the cell as typed, and what it should be. On a bench sheet the heading over the reading, such as
        `VB lower 1 [um]`, or `VB lower 1 [um]: unit` for what the heading says.
    reason, initials, date : str
        Why, who and when; a correction without a reason is not applied.
    file : str
        The log; empty where there is only one.
    at : int
        Line of the corrections file, for messages; 0 when it came from elsewhere.
    """

    line: int
    column: str
    old: str
    new: str
    reason: str
    initials: str = ""
    date: str = ""
    file: str = ""
    at: int = 0

    def text(self) -> str:
        """What was done and why, as the end of a sentence."""
        who = ", ".join(part for part in (self.reason, self.initials, self.date) if part)
        if not self.column:
            return f"withdrawn ({who})"
        return f"{short(self.old)} corrected to {short(self.new)} ({who})"


def read_cells(path: Path) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """Header and rows (file line, cells by header word) of a small CSV that the program wrote or asked for."""
    _, text = read_source(path)
    first = text.splitlines()[0] if text.strip() else ""
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        lines = [(reader.line_num, [_bare(cell) for cell in cells]) for cells in reader]
    except csv.Error as error:
        raise FileProblem(f"cannot be split into cells ({error})", where=str(path)) from None
    lines = [(line, cells) for line, cells in lines if any(cells)]
    header = lines[0][1] if lines else []
    return header, [(line, dict(zip(header, cells + [""] * len(header), strict=False))) for line, cells in lines[1:]]


def _bare(cell: str) -> str:
    cell = cell.strip()
    return cell[1:] if cell[:1] == "'" and cell[1:2] in ("=", "+", "-", "@") else cell


def corrections_beside(log: Path) -> Path | None:
    """The corrections file that belongs to a log: NAME.corrections.csv, else corrections.csv in its folder."""
    for candidate in (log.with_name(f"{log.stem}.corrections.csv"), log.with_name("corrections.csv")):
        if candidate.is_file() and candidate != log:
            return candidate
    return None


def read_corrections(path: str | Path) -> list[Correction]:
    """Read a corrections file.

    Raises
    ------
    FileProblem
        It cannot be read, or lacks a column.
    """
    path = Path(path)
    header, rows = read_cells(path)
    keys = [header_key(word) for word in header]
    for name in COLUMNS_OF_CORRECTIONS[:5]:
        if name not in keys:
            raise FileProblem(
                f"no column {name}",
                where=str(path),
                allowed=", ".join(COLUMNS_OF_CORRECTIONS),
                hint=nearest(name, keys),
            )
    found = []
    for at, cells in rows:
        own = {header_key(word): cell for word, cell in cells.items()}
        if not own["line"].isdecimal():
            raise FileProblem(
                f"line {short(own['line'])} on line {at}", where=str(path), allowed="the file line of the log"
            )
        facts = {name: own.get(name, "") for name in ("column", "old", "new", "reason", "initials", "date", "file")}
        found.append(Correction(int(own["line"]), at=at, **facts))  # type: ignore[arg-type]
    return found


def corrections_csv(corrections: Iterable[Correction], with_file: bool = False) -> str:
    """Corrections as the text of a corrections file.

    Parameters
    ----------
    corrections : iterable of Correction
    with_file : bool
        State the file of each, even where all are of one: the corrections file of a folder.
    """
    every = list(corrections)
    with_file = with_file or len({one.file for one in every}) > 1
    header: Sequence[str] = (*(("file",) if with_file else ()), *COLUMNS_OF_CORRECTIONS)
    rows = [[*([one.file] if with_file else []), *astuple(one)[:7]] for one in every]
    return csv_text(header, rows)


def apply_corrections(sheet: Sheet, corrections: Iterable[Correction]) -> list[tuple[Correction, str]]:
    """Change the cells of a sheet.

    Parameters
    ----------
    sheet : Sheet
        Changed in place.
    corrections : iterable of Correction
        Those of other files are passed over.

    Returns
    -------
    list of (Correction, str)
        Every correction of this sheet, with the reason why it was not applied (empty when it was). A withdrawn row
        is only marked so here.
    """
    places = _Places(sheet)
    return [(one, _apply(sheet, places, one)) for one in corrections if one.file in ("", *places.files)]


class _Places:
    """Where the rows of a sheet stand: on a bench sheet many readings share a line, told apart by their heading."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.files = [sheet.file]
        self.by_line: dict[tuple[str, int], list[int]] = {}
        for row, line in enumerate(sheet.lines.tolist()):
            file = sheet.file if sheet.locate is None else sheet.place(row).file
            self.by_line.setdefault((file, line), []).append(row)
            if file not in self.files:
                self.files.append(file)

    def on_line(self, one: Correction) -> list[int]:
        """Rows on the line that a correction names."""
        return [
            row for file in ([one.file] if one.file else self.files) for row in self.by_line.get((file, one.line), [])
        ]

    def cells(self, one: Correction) -> tuple[int | None, list[int]]:
        """Column and rows that a correction means; a cell of the head of a bench sheet belongs to many rows."""
        rows, word = self.on_line(one), one.column
        if self.sheet.locate is not None:
            heading, _, fact = word.partition(": ")
            own = [row for row in rows if cell_of(self.sheet, row) == heading]
            if own:
                return _position(self.sheet, fact or "value"), own
        at = _position(self.sheet, word)
        if self.sheet.locate is not None and at is not None and not rows:
            places = ((row, self.sheet.place(row, at)) for row in range(self.sheet.rows))
            rows = [row for row, place in places if place.line == one.line and one.file in ("", place.file)]
        return at, rows


def cell_of(sheet: Sheet, row: int) -> str:
    """The heading over a reading of a bench sheet; empty where a line holds one row."""
    if sheet.locate is None or "value" not in sheet.header:
        return ""
    word = sheet.place(row, sheet.header.index("value")).word
    return "" if word == "value" else word


def _apply(sheet: Sheet, places: _Places, one: Correction) -> str:
    at, rows = places.cells(one) if one.column else (None, places.on_line(one))
    if not rows:
        return f"line {one.line} of {one.file or sheet.file} is no row"
    if not one.reason:
        return "no reason is given"
    if not one.column:
        return "" if not (one.old or one.new) else "no column is given"
    if at is None:
        return f"{one.file or sheet.file} has no column {short(one.column)}"
    column = sheet.columns[at]
    held = [row for row in rows if _alike(column.typed(row), one.old)]
    if not held:
        typed = column.typed(rows[0])
        return f"line {one.line} of {one.file or sheet.file} holds {short(typed)} and not {short(one.old)}"
    if not isinstance(column, Texts):
        column = column.coded()
        sheet.columns[at] = column
    for row in held:
        column.put(row, one.new)
        sheet.crowded.pop(row, None)  # somebody has put the cells of this row in order
        if row in sheet.unclosed:
            sheet.unclosed.remove(row)
    return ""


def _position(sheet: Sheet, word: str) -> int | None:
    """Where a column stands, by its header word or its standard name."""
    keys = [header_key(header) for header in sheet.header]
    names = [ALSO.get(key, (key, 1.0))[0] for key in keys]
    for candidates in (sheet.header, keys, names):
        wanted = word if candidates is sheet.header else header_key(word)
        if wanted in candidates and (candidates is not names or wanted in COLUMNS):
            return candidates.index(wanted)
    return None


def _alike(typed: str, old: str) -> bool:
    """The same text, or the same number however it is written."""
    return typed == old or number_in(typed) == number_in(old)


def say_corrections(draft: Draft, file: str, done: list[tuple[Correction, str]]) -> int:
    """Report what was corrected and what was not, and set withdrawn rows aside.

    Returns
    -------
    int
        How many corrections were applied.
    """
    sheet = draft.parts[0].sheet
    places = _Places(sheet)
    applied = 0
    for one, problem in done:
        if problem:
            draft.file_error(
                "correction_not_applied",
                f"a correction was not applied: {problem}",
                file,
                one.at or None,
                allowed="line, column and old value as they stand in the log, and a reason",
                hint="Mend the corrections file",
            )
            continue
        applied += 1
        if one.column:
            at, rows = places.cells(one)
            held = [row for row in rows if at is not None and _alike(sheet.columns[at].typed(row), one.new)]
            draft.note("corrected", one.text(), held, column=one.column, cutter="")
        else:
            draft.withdraw("row_withdrawn", places.on_line(one), one.text())
    return applied
