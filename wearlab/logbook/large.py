"""Checking a log without building its trial: a million rows at once, or any number in chunks of bounded memory."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO, Any

import numpy as np
import pandas as pd

from wearlab.core.errors import FileProblem
from wearlab.logbook.bulk import Irregular, Layout, Lines, column_name, layout_of, sheet_of_rows
from wearlab.logbook.check import check_errors, typed_draft
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import Source
from wearlab.logbook.findings import Finding, Findings, number_of
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
"""So many findings of a log that is checked in chunks are told in sentences; all of them stand in the table."""


@dataclass(frozen=True, slots=True)
class LogCheck:
    """What a check found.

    Attributes
    ----------
    source : Source
        Its SHA-256 is left out: hashing a large file takes as long as checking it; see `digest`.
    counts : Counts
    findings : Findings
        In sentences; of a large log the first `TOLD` errors, and one for each kind of anything else.
    blamed : callable
        Makes a table with one row an error: file line, code and header word. All errors are in it.
    scattered : bool
        The rows of a cutter did not lie together, so that they had to be brought together first.
    """

    source: Source
    counts: Counts
    findings: Findings
    blamed: Callable[[], pd.DataFrame]
    scattered: bool = False
    path: Path = field(default_factory=Path)

    def digest(self) -> str:
        """SHA-256 of the file as it is now."""
        with self.path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()


def check_log(path: str | Path, settings: TrialSettings | None = None, *, chunk_bytes: int | None = None) -> LogCheck:
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
    size = path.stat().st_size if path.is_file() else 0
    settings = settings_beside(path) if settings is None else settings
    if size > SMALL or chunk_bytes is not None:
        try:
            with path.open("rb") as file:
                return _in_chunks(
                    file, path, settings, chunk_bytes or CHUNK, spill=size > LARGE or chunk_bytes is not None
                )
        except OSError as error:
            raise FileProblem(f"cannot be read ({error.strerror})", where=str(path)) from None
        except Irregular as reason:
            if size > LARGE:
                raise FileProblem(
                    f"its lines are not regular ({reason}), so that it cannot be checked in chunks",
                    where=str(path),
                    allowed="UTF-8, one line a row, every line as many cells as the header",
                    hint="divide the log",
                ) from None
    draft, source = _whole(path, settings)
    return LogCheck(source, _counts(draft), draft.findings(), lambda: _table(_blamed_of(draft)), path=path)


def _whole(path: Path, settings: TrialSettings) -> tuple[Draft, Source]:
    source, sheet, settings = sheet_of_file(path, settings)
    return _checked(sheet, settings, source), source


def _checked(sheet: Sheet, settings: TrialSettings, source: Source) -> Draft:
    draft = typed_draft(sheet, settings, source)
    draft.natural = False
    check_errors(draft, settings)
    return draft


def _counts(draft: Draft) -> Counts:
    aside = int(draft.bad.sum())
    return Counts(draft.size, draft.size - aside, aside, dict(draft.parts[0].sheet.lines_skipped()))


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
    """What the chunks have found so far."""

    read: int = 0
    aside: int = 0
    skipped: dict[str, int] = field(default_factory=dict)
    blamed: list[_Blamed] = field(default_factory=list)
    told: list[Finding] = field(default_factory=list)
    kinds: dict[tuple[str, str, str], tuple[Finding, int]] = field(default_factory=dict)
    errors: int = 0

    def add(self, draft: Draft, first: bool) -> None:
        """Take in a chunk that was checked; what concerns the header is said once."""
        self.read += draft.size
        self.aside += int(draft.bad.sum())
        for kind, count in draft.parts[0].sheet.lines_skipped().items():
            self.skipped[kind] = self.skipped.get(kind, 0) + count
        if draft.bad.any():
            self.blamed += _blamed_of(draft)
        for blame in draft.blames:
            if blame.severity == "error" and blame.each:
                self.errors += len(blame.rows)
            elif not len(blame.rows) and not first and blame.code not in _BY_CHUNK:
                continue
        self._tell(draft, first)

    def _tell(self, draft: Draft, first: bool) -> None:
        room = max(TOLD - len(self.told), 0)
        for finding in draft.findings_of(room):
            if finding.severity == "error" and finding.rows == 1:
                self.told.append(finding)
            elif first or finding.rows or finding.code in _BY_CHUNK:
                key = (finding.severity, finding.code, finding.column)
                old, rows = self.kinds.get(key, (finding, 0))
                self.kinds[key] = (old, rows + max(finding.rows, 0))

    def table(self) -> pd.DataFrame:
        """One row an error, by line."""
        return _table(self.blamed)

    def findings(self) -> Findings:
        """The errors that are told, and one finding for each kind of anything else."""
        grouped = [_of_kind(finding, rows) for finding, rows in self.kinds.values()]
        return Findings.of([*self.told[:TOLD], *grouped])


_BY_CHUNK = frozenset({"lines_skipped"})
"""Said anew by every chunk."""


def _of_kind(finding: Finding, rows: int) -> Finding:
    if rows <= finding.rows:
        return finding

    return replace(
        finding,
        found=f"{finding.found}; and so on, {number_of(rows, 'row')} in all",
        rows=rows,
        lines=finding.lines[:1],
    )


def _in_chunks(file: IO[bytes], path: Path, settings: TrialSettings, chunk: int, spill: bool) -> LogCheck:
    """Check a regular file; where cutters are scattered, sort them into files, or take the file as a whole."""
    head = file.read(1 << 16)
    if is_workbook(head[:8]):
        raise Irregular("a workbook")
    layout, scattered = layout_of(head, settings.columns), False
    try:
        tally = _together(file, layout, path.name, settings, chunk)
    except _Scattered:
        scattered = True
        if spill:
            tally = _spilled(file, layout, path.name, settings, chunk)
        else:
            tally = _together(file, layout, path.name, settings, 2 * LARGE)
    source = Source(path.name, "", path.stat().st_size, "UTF-8", DELIMITERS[layout.delimiter])
    counts = Counts(tally.read, tally.read - tally.aside, tally.aside, tally.skipped)
    return LogCheck(source, counts, tally.findings(), tally.table, scattered, path)


def _together(file: IO[bytes], layout: Layout, name: str, settings: TrialSettings, chunk: int) -> _Tally:
    """Check stretches of whole cutters: the rows of the last cutter of a chunk are read again with the next."""
    tally, closed = _Tally(), set[int]()
    at, line, size = layout.begin, layout.first_line, chunk
    while True:
        file.seek(at)
        data = file.read(size)
        last = len(data) < size
        end = len(data) if last else data.rfind(b"\n") + 1
        if not data:
            return tally
        keep, used = _check_stretch(
            Lines(data, 0, end, layout.delimiter), line, last, layout, name, settings, tally, closed
        )
        if last:
            return tally
        at, line = at + used, line + keep
        size = chunk if keep else 2 * size  # a single cutter may be longer than a chunk


def _check_stretch(
    lines: Lines,
    line: int,
    last: bool,
    layout: Layout,
    name: str,
    settings: TrialSettings,
    tally: _Tally,
    closed: set[int],
) -> tuple[int, int]:
    """Check all but the last cutter of a stretch of lines; how many rows and bytes that were."""
    if not lines.end:
        return 0, 0
    sheet = sheet_of_rows(lines, layout, name, settings.columns, line)
    cutter = _cutter_column(sheet, layout, settings)
    keep = sheet.rows if last else _begin_of_last(cutter)
    if not (last and tally.read == 0):  # a file in one stretch may have its cutters in any order
        _close(closed, cutter, keep)
    if keep:
        source = Source(name, "", 0, "UTF-8")
        tally.add(_checked(_head_of(sheet, keep), settings, source), first=tally.read == 0)
    return keep, _byte_of(lines.data, lines.end, sheet.rows - keep)


def _cutter_column(sheet: Sheet, layout: Layout, settings: TrialSettings) -> Texts:
    names = [column_name(word, settings.columns) for word in layout.header]
    if "cutter" not in names:
        return Texts(np.zeros(sheet.rows, dtype=np.int32), [""])
    return sheet.columns[names.index("cutter")].coded()


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
    """The first rows of a sheet."""
    columns = [
        Texts(column.codes[:rows], column.different) if isinstance(column, Texts)
        else column.head(rows) if isinstance(column, Numbers) else column
        for column in sheet.columns
    ]  # fmt: skip
    return Sheet(sheet.file, sheet.header, sheet.header_line, list(columns), sheet.lines[:rows], sheet.delimiter,
                 skipped=sheet.skipped)  # fmt: skip


def _byte_of(data: bytes, end: int, rows: int) -> int:
    """Byte at which the last so many lines before `end` begin."""
    at = end
    for _ in range(rows):
        at = data.rfind(b"\n", 0, at - 1) + 1
    return at


# ------------------------------------------------------------------ scattered rows


def _spilled(file: IO[bytes], layout: Layout, name: str, settings: TrialSettings, chunk: int) -> _Tally:
    """Sort the rows into files of their own, all rows of a cutter in one, and check those."""
    file.seek(0, 2)
    parts = max(2, -(-file.tell() // chunk))
    tally = _Tally()
    with tempfile.TemporaryDirectory(prefix="wearlab-") as folder:
        paths = [Path(folder) / f"{part}" for part in range(parts)]
        _sort_into(file, layout, name, settings, chunk, paths)
        for path in paths:
            data, lines = (
                path.with_suffix(".rows").read_bytes(),
                np.fromfile(path.with_suffix(".lines"), dtype=np.int64),
            )
            if not len(lines):
                continue
            sheet = sheet_of_rows(Lines(data, 0, len(data), layout.delimiter), layout, name, settings.columns, 0)
            sheet.lines = lines
            tally.add(_checked(sheet, settings, Source(name, "", 0, "UTF-8")), first=tally.read == 0)
    return tally


def _sort_into(
    file: IO[bytes], layout: Layout, name: str, settings: TrialSettings, chunk: int, paths: Sequence[Path]
) -> None:
    rows = [path.with_suffix(".rows").open("wb") for path in paths]
    lines = [path.with_suffix(".lines").open("wb") for path in paths]
    try:
        line = layout.first_line
        for data in _whole_lines(file, layout.begin, chunk):
            lines_of = Lines(data, 0, len(data), layout.delimiter)
            sheet = sheet_of_rows(lines_of, layout, name, settings.columns, line)
            cutter = _cutter_column(sheet, layout, settings)
            part_of = np.array([hash(text) % len(paths) for text in cutter.different], dtype=np.int64)[cutter.codes]
            line += sheet.rows
            for part, (piece, numbers) in enumerate(_pieces(data, part_of, sheet.lines, len(paths))):
                rows[part].write(piece)
                numbers.astype(np.int64).tofile(lines[part])
    finally:
        for opened in (*rows, *lines):
            opened.close()


def _whole_lines(file: IO[bytes], begin: int, chunk: int) -> Iterator[bytes]:
    """Blocks of the file that end where a line ends."""
    file.seek(begin)
    held = b""
    while block := file.read(chunk):
        data = held + block
        end = data.rfind(b"\n") + 1
        held = data[end:]
        if end:
            yield data[:end]
    if held:
        yield held + b"\n"


def _pieces(data: bytes, part_of: Ints, lines: Ints, parts: int) -> Iterator[tuple[bytes, Ints]]:
    """The lines of each part, and their numbers, in the order of the file."""
    ends = np.flatnonzero(np.frombuffer(data, dtype=np.uint8) == 10) + 1
    starts = np.concatenate([[0], ends[:-1]])
    order = np.argsort(part_of, kind="stable")
    counts = np.bincount(part_of, minlength=parts)
    joined = _taken(data, starts, ends, order)
    lengths = (ends - starts)[order]
    at, byte = 0, 0
    for part in range(parts):
        size = int(lengths[at : at + counts[part]].sum())
        yield joined[byte : byte + size], lines[order[at : at + counts[part]]]
        at, byte = at + int(counts[part]), byte + size


def _taken(data: bytes, starts: Ints, ends: Ints, order: Ints) -> Any:
    """Lines in another order, as one stretch of bytes."""
    try:
        import pyarrow as pa
    except ImportError:
        view = memoryview(data)
        return b"".join(view[starts[i] : ends[i]] for i in order)
    offsets = np.concatenate([starts, ends[-1:]]).astype(np.int64)
    buffers = [None, pa.py_buffer(offsets), pa.py_buffer(data)]
    whole = pa.LargeBinaryArray.from_buffers(pa.large_binary(), len(starts), buffers)
    taken = whole.take(pa.array(order))
    return memoryview(taken.buffers()[2])
