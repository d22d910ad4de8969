"""Checking a log without building its trial: a million rows at once, or any number in chunks of bounded memory."""

from __future__ import annotations

import hashlib
import tempfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, TextIO, TypeVar

import numpy as np
import pandas as pd

from wearlab.core.errors import FileProblem
from wearlab.logbook.bulk import (
    SNIFF,
    Irregular,
    Layout,
    Lines,
    column_name,
    layout_of,
    learn,
    sheet_of_lines,
    skip_blank,
    texts_in,
)
from wearlab.logbook.cells import plain_words
from wearlab.logbook.check import check_errors, typed_draft
from wearlab.logbook.corrections import (
    Correction,
    apply_corrections,
    corrections_beside,
    read_corrections,
    say_corrections,
)
from wearlab.logbook.draft import Draft, Told
from wearlab.logbook.files import Source
from wearlab.logbook.findings import Finding, Findings, number_of
from wearlab.logbook.line_blocks import lines_by_part, whole_lines
from wearlab.logbook.quarantine import quarantine_of, rows_aside_text
from wearlab.logbook.read import sheet_of_file
from wearlab.logbook.settings import TrialSettings, settings_beside
from wearlab.logbook.sheet import Ints, Numbers, Sheet, Texts
from wearlab.logbook.table import DELIMITERS
from wearlab.logbook.trial import Counts
from wearlab.logbook.workbook import is_workbook

SMALL, LARGE = 1 << 20, 1 << 28
"""Bytes up to which the careful reader is quick enough, and up to which a file may be read as a whole if need be."""
CHUNK = 16 << 20
"""Bytes that are checked at a time."""
TOLD = 100
"""So many errors of a log that is checked in chunks are findings of their own; all of them stand in the table."""
MOST_PARTS = 200
"""Into so many files at most are scattered rows sorted: each of them is open at the same time."""


@dataclass(frozen=True, slots=True)
class Cause:
    """All findings of one severity, code and column: the first of them, and how many rows there are."""

    first: Finding
    rows: int

    def text(self) -> str:
        """The first finding, and how many rows more there are.

        >>> Cause(Finding("error", "no_clock", "no clock", file="a.csv", line=4), 3).text()
        'a.csv, line 4: no clock. So too on 2 rows more'
        """
        text = self.first.text()
        if self.rows < 2 or self.first.rows >= self.rows:
            return text
        mark = "?" if text.endswith("?") else "."
        more = self.rows - max(self.first.rows, 1)
        return f"{text.rstrip('.?')}{mark} So too on {number_of(more, 'row')} more"


@dataclass(frozen=True, slots=True)
class LogCheck:
    """What a check found.

    Attributes
    ----------
    source : Source
        Its SHA-256 is left out: hashing a large file takes as long as checking it; see `digest`.
    counts : Counts
    findings : Findings
        In sentences; of a log that was checked in chunks the first `TOLD` errors, and one for each kind of anything
        else.
    causes : tuple of Cause
        Everything that was found, by kind: errors, then warnings, then notes.
    blamed : callable
        Makes a table with one row an error: file line, code and header word. All errors are in it.
    scattered : bool
        The rows of a cutter did not lie together, so that they had to be brought together first.
    in_chunks : bool
        The log was checked in chunks; else the careful reader took it as a whole.
    why_whole : str
        What was not regular in a log that was to be checked in chunks and was taken as a whole.
    """

    source: Source
    counts: Counts
    findings: Findings
    causes: tuple[Cause, ...]
    blamed: Callable[[], pd.DataFrame]
    scattered: bool = False
    path: Path = field(default_factory=Path)
    in_chunks: bool = False
    why_whole: str = ""

    @property
    def errors(self) -> int:
        """How many errors there are: a row with two of them counts twice."""
        return sum(cause.rows or 1 for cause in self.causes if cause.first.severity == "error")

    def digest(self) -> str:
        """SHA-256 of the file as it is now."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()


def check_log(
    path: str | Path,
    settings: TrialSettings | None = None,
    *,
    corrections: Sequence[Correction] | None = None,
    set_aside: TextIO | None = None,
    progress: Callable[[float], None] | None = None,
    chunk_bytes: int | None = None,
) -> LogCheck:
    """Check a log: cells, rows, and the order and constants of each cutter, as `read_log` does before it builds tables.

    The rules of doubt (slips, exchanged cutters, copies) are left to `read_log`.

    Parameters
    ----------
    path : str or pathlib.Path
        A large regular file (one line a row, every line as many cells as the header, UTF-8) is checked in chunks, the
        last cutter of each carried on to the next; where the rows of a cutter do not lie together they are sorted into
        files of their own first. Anything else is read as `read_log` reads it.
    settings : TrialSettings, optional
        In place of the trial file beside the log.
    corrections : sequence of Correction, optional
        In place of the corrections file beside the log.
    set_aside : text stream, optional
        Receives the rows that are set aside, as `quarantine_text` writes them, in the order in which they are checked.
    progress : callable, optional
        Called with the part of the work that is done, from 0 to 1.
    chunk_bytes : int, optional
        Size of a chunk; a file of any size is checked in chunks when it is given.

    Raises
    ------
    FileProblem
        The file cannot be read; or it has more than 256 MiB and its lines are not regular.

    Examples
    --------
    >>> from wearlab.logbook.samples import sample_path
    >>> checked = check_log(sample_path("nasa_milling"))
    >>> checked.counts.rows_read, len(checked.blamed())
    (167, 0)
    """
    path = Path(path)
    size, why_whole = path.stat().st_size if path.is_file() else 0, ""
    beside = corrections_beside(path) if corrections is None else None
    changes = read_corrections(beside) if beside is not None else corrections or ()
    job = _Job(path, settings, list(changes), beside.name if beside is not None else "", set_aside, progress)
    if size > SMALL or chunk_bytes is not None:
        job.settings = settings_beside(path) if settings is None else settings
        job.chunk = chunk_bytes or CHUNK
        try:
            with path.open("rb") as file:
                return _in_chunks(job, file, spill=size > LARGE or chunk_bytes is not None)
        except OSError as error:
            raise FileProblem(f"cannot be read ({error.strerror})", where=str(path)) from None
        except Irregular as reason:
            why_whole = str(reason)
            if size > LARGE:
                raise FileProblem(
                    f"its lines are not regular ({reason}), so that it cannot be checked in chunks",
                    where=str(path),
                    allowed="UTF-8, one line a row, every line as many cells as the header, decimal points",
                    hint="divide the log",
                ) from None
    return _whole(job, settings, why_whole)


@dataclass(slots=True)
class _Job:
    """One log on its way through the check."""

    path: Path
    settings: TrialSettings | None
    corrections: list[Correction]
    corrections_file: str
    set_aside: TextIO | None
    progress: Callable[[float], None] | None
    chunk: int = CHUNK
    begun: int = 0
    told: float = 0.0

    def checked(self, sheet: Sheet, source: Source, tally: _Tally, last: bool = True) -> Draft:
        """Apply every rule to whole cutters; corrections of lines that never come are told with the last of them."""
        assert self.settings is not None
        lines = set(sheet.lines.tolist()) if self.corrections and not last else set()
        now = [one for one in self.corrections if last or one.line in lines]
        self.corrections = [one for one in self.corrections if one not in now]
        done = apply_corrections(sheet, now) if now else []
        draft = typed_draft(sheet, self.settings, source)
        tally.corrected += say_corrections(draft, self.corrections_file, done) if done else 0
        draft.natural = False
        check_errors(draft, self.settings)
        self._write_aside(draft, first=tally.read == 0 and tally.aside == 0)
        tally.add(draft, first=tally.read == 0)
        return draft

    def _write_aside(self, draft: Draft, first: bool) -> None:
        if self.set_aside is None or not (first or draft.bad.any()):
            return
        if first:
            self.begun = self.set_aside.tell()
        text = rows_aside_text(quarantine_of(draft), draft.findings() if draft.bad.any() else ())
        self.set_aside.write(text if first else text.partition("\n")[2])

    def begin_again(self) -> None:
        """Forget what was written: the log is read in another way."""
        if self.set_aside is not None:
            self.set_aside.seek(self.begun)
            self.set_aside.truncate()

    def done(self, part: float) -> None:
        """Tell how much of the work is done; never less than before, though scattered cutters make it begin anew."""
        self.told = max(self.told, part)
        if self.progress is not None:
            self.progress(self.told)


def _whole(job: _Job, settings: TrialSettings | None, why_whole: str) -> LogCheck:
    job.begin_again()
    source, sheet, job.settings = sheet_of_file(job.path, settings)
    tally = _Tally()
    draft = job.checked(sheet, source, tally)
    job.done(1.0)
    return LogCheck(
        source, tally.counts(), draft.findings(), tally.causes(), tally.table, path=job.path, why_whole=why_whole
    )


_Blamed = tuple[Ints, str, str]
"""Lines that are blamed for one thing, its code, and the header word of the column."""


def _blamed_of(draft: Draft) -> list[_Blamed]:
    lines, part = draft.lines(), draft.parts[0]
    return [
        (lines[blame.rows], blame.code, part.word(blame.column))
        for blame in draft.blames
        if blame.severity == "error" and len(blame.rows)
    ]


def _table(blamed: Sequence[_Blamed]) -> pd.DataFrame:
    """One row an error, by line."""
    sizes = [len(lines) for lines, _, _ in blamed]
    table = pd.DataFrame({
        "line": np.concatenate([lines for lines, _, _ in blamed]) if blamed else np.zeros(0, dtype=np.int64),
        "code": np.repeat(np.array([code for _, code, _ in blamed], dtype=object), sizes),
        "column": np.repeat(np.array([column for _, _, column in blamed], dtype=object), sizes),
    })  # fmt: skip
    return table.sort_values(["line", "code", "column"], kind="stable", ignore_index=True)


# ------------------------------------------------------------------ in chunks


class _Scattered(Exception):
    """A cutter has come back after its rows had ended."""


@dataclass(slots=True)
class _Tally:
    """What the chunks have found so far; a chunk of blank lines alone is no log without rows."""

    in_chunks: bool = False
    read: int = 0
    aside: int = 0
    corrected: int = 0
    skipped: dict[str, int] = field(default_factory=dict)
    blamed: list[_Blamed] = field(default_factory=list)
    told: list[Finding] = field(default_factory=list)
    kinds: dict[tuple[str, str, str], Cause] = field(default_factory=dict)

    def add(self, draft: Draft, first: bool) -> None:
        """Take in rows that were checked; what concerns the header is said once."""
        self.read += draft.size
        self.aside += int(draft.bad.sum())
        for kind, count in draft.parts[0].sheet.lines_skipped().items():
            self.skipped[kind] = self.skipped.get(kind, 0) + count
        if draft.bad.any():
            self.blamed += _blamed_of(draft)
        for told in draft.findings_of(max(TOLD - len(self.told), 0)):
            if self.in_chunks and told.code == "no_rows":
                continue
            if told.severity == "error" and told.alone:
                self.told.append(told.make())
            if first or told.rows or told.code in _WITHOUT_ROWS:
                self._count(told)

    def _count(self, told: Told) -> None:
        """Count the rows of a kind; the sentence is that of its first row."""
        key = (told.severity, told.code, told.column)
        old = self.kinds.get(key)
        if old is None:
            self.kinds[key] = Cause(told.make(), told.rows)
        else:
            first = told.make() if told.line < (old.first.line or 0) else old.first
            if told.code in _OF_CUTTERS and not first.found.endswith(_SO_TOO):
                first = replace(first, found=first.found + _SO_TOO)
            self.kinds[key] = Cause(first, old.rows + told.rows)

    def counts(self) -> Counts:
        """Rows read = used + set aside."""
        return Counts(self.read, self.read - self.aside, self.aside, self.skipped, self.corrected)

    def table(self) -> pd.DataFrame:
        """One row an error, by line."""
        return _table(self.blamed)

    def causes(self) -> tuple[Cause, ...]:
        """Everything, by kind: errors, then warnings, then notes."""
        order = {"error": 0, "warning": 1, "note": 2}
        every = self.kinds.values()
        return tuple(sorted(every, key=lambda one: (order[one.first.severity], one.first.line or 0, one.first.code)))

    def findings(self) -> Findings:
        """The errors that are told, and one finding for each kind of anything else."""
        told = sorted(self.told, key=lambda one: one.line or 0)[:TOLD]
        grouped = [_of_kind(one) for one in self.kinds.values() if one.first.severity != "error" or not one.rows]
        return Findings.of([*told, *grouped])


_OF_CUTTERS = frozenset({"reading_numbers_skip", "reading_numbers_lack", "ordered_by_clock", "one_reading_only"})
"""Notes that name the cutters of a chunk; the sentence of the first chunk says that there are others."""
_SO_TOO = "; so too other cutters"
_WITHOUT_ROWS = _OF_CUTTERS | {"lines_skipped", "correction_not_applied"}
"""Said anew by every chunk, though of no row."""


def _of_kind(cause: Cause) -> Finding:
    finding, rows = cause.first, cause.rows
    if rows <= finding.rows:
        return finding
    return replace(
        finding,
        found=f"{finding.found}; and so on, {number_of(rows, 'row')} in all",
        rows=rows,
        lines=finding.lines[:1],
    )


def _in_chunks(job: _Job, file: IO[bytes], spill: bool) -> LogCheck:
    """Check a regular file; where cutters are scattered, sort them into files, or take the file as a whole."""
    assert job.settings is not None
    head = file.read(SNIFF)
    if is_workbook(head[:8]):
        raise Irregular("a workbook")
    layout, scattered = layout_of(head, job.settings.columns), False
    learn(head, layout, job.settings.columns)
    corrections = list(job.corrections)
    try:
        tally = _together(job, file, layout)
    except _Scattered:
        scattered = True
        job.corrections = corrections
        job.begin_again()
        if spill:
            tally = _spilled(job, file, layout)
        else:
            job.chunk = 2 * LARGE
            tally = _together(job, file, layout)
    job.done(1.0)
    if not tally.read:
        raise Irregular("no rows")
    size = job.path.stat().st_size
    source = Source(job.path.name, "", size, "UTF-8", DELIMITERS[layout.delimiter])
    return LogCheck(source, tally.counts(), tally.findings(), tally.causes(), tally.table, scattered, job.path, True)


def _together(job: _Job, file: IO[bytes], layout: Layout) -> _Tally:
    """Check stretches of whole cutters, the next one being read while the rules are applied to the last."""
    tally, whole = _Tally(in_chunks=True), job.path.stat().st_size
    for sheet, at in _ahead(_stretches(job, file, layout)):
        _check_lines(job, sheet, layout, tally, last=at >= whole)
        job.done(at / whole)
    return tally


T = TypeVar("T")


def _ahead(items: Iterator[T]) -> Iterator[T]:
    """The same items, each made by a second thread while the one before it is used."""
    with ThreadPoolExecutor(1) as pool:
        coming = pool.submit(next, items, None)
        while (item := coming.result()) is not None:
            coming = pool.submit(next, items, None)
            yield item


def _stretches(job: _Job, file: IO[bytes], layout: Layout) -> Iterator[tuple[Sheet, int]]:
    """Rows of whole cutters, and the byte at which they end.

    The rows of the last cutter of a chunk are read again with the next.
    """
    assert job.settings is not None
    closed, cutter_at = set[int](), _cutter_at(layout, job.settings)
    begin, line, size, whole = layout.begin, layout.first_line, job.chunk, job.path.stat().st_size
    while begin < whole:
        file.seek(begin)
        data = file.read(size)
        last = begin + len(data) >= whole
        lines = Lines(data, 0, len(data) if last else data.rfind(b"\n") + 1, layout.delimiter)
        keep, used = 0, 0
        if lines.end:
            sheet = sheet_of_lines(lines, layout, job.path.name, job.settings.columns, line)
            cutter = _cutters(sheet.columns[cutter_at].coded()) if cutter_at >= 0 else None
            keep = sheet.rows if last or cutter is None else _begin_of_last(cutter)
            used = _byte_of(data, lines.end, sheet.rows - keep)
            alone = last and begin == layout.begin  # a file in one stretch may have its cutters in any order
            if cutter is not None and not alone:
                _close(closed, cutter, keep)
        size = job.chunk if keep else 2 * size  # a single cutter may be longer than a chunk
        begin, line = begin + used, line + keep
        if keep:
            yield _head_of(sheet, keep), begin


def _check_lines(job: _Job, sheet: Sheet, layout: Layout, tally: _Tally, last: bool) -> None:
    skip_blank(sheet)
    if layout.units and not tally.read:
        sheet.skipped["units"] = [2]
    draft = job.checked(sheet, Source(job.path.name, "", 0, "UTF-8"), tally, last)
    draft.blames.clear()  # they hold on to the draft, which would live on until garbage is looked for


def _cutter_at(layout: Layout, settings: TrialSettings) -> int:
    """Where the column of the cutters stands; -1 when there is none, and no row is a reading."""
    names = [column_name(word, settings.columns) for word in layout.header]
    return names.index("cutter") if "cutter" in names else -1


def _cutters(column: Texts) -> Texts:
    """Cutters by their names as they are understood: no word for a blank, no mark before a sign."""
    words = plain_words(column).told_apart()
    return Texts(words.codes, words.vocabulary)


def _begin_of_last(cutter: Texts) -> int:
    """Row at which the last cutter of a chunk begins; a blank cell belongs to whatever stands around it."""
    named = np.flatnonzero(cutter.codes != _blank_code(cutter))
    other = named[cutter.codes[named] != cutter.codes[named[-1]]] if len(named) else named
    return int(other[-1]) + 1 if len(other) else 0


def _blank_code(cutter: Texts) -> int:
    return cutter.different.index("") if "" in cutter.different else -1


def _close(closed: set[int], cutter: Texts, keep: int) -> None:
    """Remember the cutters of the rows that are checked now; none of them may come back."""
    codes = cutter.codes[:keep]
    codes = codes[codes != _blank_code(cutter)]
    if not len(codes):
        return
    new = np.concatenate([[True], codes[1:] != codes[:-1]])
    runs = codes[new]
    keys = [hash(cutter.different[code]) for code in runs]
    if len(set(keys)) < len(keys) or not closed.isdisjoint(keys):
        raise _Scattered
    closed.update(keys)


def _head_of(sheet: Sheet, rows: int) -> Sheet:
    """The first rows of a sheet in which nothing was skipped yet."""
    columns = [
        Texts(column.codes[:rows], column.different) if isinstance(column, Texts)
        else column.head(rows) if isinstance(column, Numbers) else column
        for column in sheet.columns
    ]  # fmt: skip
    return Sheet(sheet.file, sheet.header, sheet.header_line, list(columns), sheet.lines[:rows], sheet.delimiter)


def _byte_of(data: bytes, end: int, rows: int) -> int:
    """Byte at which the last so many lines before `end` begin."""
    at = end
    for _ in range(rows):
        at = data.rfind(b"\n", 0, at - 1) + 1
    return at


# ------------------------------------------------------------------ scattered rows


def _spilled(job: _Job, file: IO[bytes], layout: Layout) -> _Tally:
    """Sort the rows into files of their own, all rows of a cutter in one, and check those."""
    assert job.settings is not None
    count = min(max(2, -(-job.path.stat().st_size // job.chunk)), MOST_PARTS)
    tally = _Tally(in_chunks=True)
    with tempfile.TemporaryDirectory(prefix="wearlab-") as folder:
        parts = [Path(folder) / f"{part}" for part in range(count)]
        try:
            _sort_into(job, file, layout, parts)
        except OSError as error:
            raise FileProblem(
                f"its cutters are scattered, and their rows could not be brought together ({error.strerror})",
                where=str(job.path),
                allowed=f"room for the log once more in {tempfile.gettempdir()}",
                hint="sort the log by cutter, or make room",
            ) from None
        held = [part for part in parts if part.with_suffix(".lines").stat().st_size]
        for at, part in enumerate(held):
            data = part.with_suffix(".rows").read_bytes()
            lines = Lines(data, 0, len(data), layout.delimiter)
            sheet = sheet_of_lines(lines, layout, job.path.name, job.settings.columns, 0)
            sheet.lines = np.fromfile(part.with_suffix(".lines"), dtype=np.int64)
            _check_lines(job, sheet, layout, tally, last=at == len(held) - 1)
            job.done(0.3 + 0.7 * (at + 1) / len(held))
    return tally


def _sort_into(job: _Job, file: IO[bytes], layout: Layout, paths: Sequence[Path]) -> None:
    assert job.settings is not None
    at = _cutter_at(layout, job.settings)
    rows = [path.with_suffix(".rows").open("wb") for path in paths]
    numbers = [path.with_suffix(".lines").open("wb") for path in paths]
    line, read, whole = layout.first_line, layout.begin, job.path.stat().st_size
    try:
        for data in whole_lines(file, layout.begin, job.chunk):
            cutter = _cutters(texts_in(Lines(data, 0, len(data), layout.delimiter), layout, at))
            places = [zlib.crc32(text.encode(errors="surrogatepass")) % len(paths) for text in cutter.different]
            part_of = np.array(places, dtype=np.int64)[cutter.codes]
            lines = np.arange(line, line + len(part_of), dtype=np.int64)
            line += len(part_of)
            for part, (piece, own) in enumerate(lines_by_part(data, part_of, lines, len(paths))):
                rows[part].write(piece)
                own.tofile(numbers[part])
            read += len(data)
            job.done(0.3 * min(read / whole, 1.0))
    finally:
        for opened in (*rows, *numbers):
            opened.close()
