"""The log while it is being checked: typed cells by row, what is blamed so far, and which rows are set aside."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from wearlab.core.tables import natural_sorted
from wearlab.logbook.findings import Finding, Findings, Severity
from wearlab.logbook.sheet import Bools, Codes, Floats, Ints, Place, Remark, Sheet

Tell = str | Callable[[int], str]
"""A text, or a function that makes it for a row: sentences are made when they are asked for."""


@dataclass(slots=True)
class Words:
    """A column of text: codes into a vocabulary; a missing text is the empty word.

    >>> zone = Words(np.array([0, 1, 0], dtype=np.int32), ["lower", ""])
    >>> zone.equal("lower").tolist(), zone.filled().tolist(), zone.text(0)
    ([True, False, True], [True, False, True], 'lower')
    """

    codes: Codes
    vocabulary: list[str]

    def text(self, row: int) -> str:
        """The word of a row."""
        return self.vocabulary[self.codes[row]]

    def texts(self, rows: Ints | slice = slice(None)) -> NDArray[np.object_]:
        """The words of many rows."""
        return (
            _objects(self.vocabulary)[self.codes[rows]]
            if self.vocabulary
            else np.full(len(self.codes[rows]), "", object)
        )

    def told_apart(self) -> Words:
        """The same column, each word of the vocabulary standing there once: codes are equal where words are.

        >>> Words(np.array([0, 1], dtype=np.int32), ["1", "1"]).told_apart().codes.tolist()
        [0, 0]
        """
        if len(set(self.vocabulary)) == len(self.vocabulary):
            return self
        place = {word: at for at, word in enumerate(dict.fromkeys(self.vocabulary))}
        codes = np.array([place[word] for word in self.vocabulary], dtype=np.int32)
        return Words(codes[self.codes], list(place))

    def where(self, test: Callable[[str], bool]) -> Bools:
        """Rows whose word passes a test; each different word is tested once."""
        told = np.array([test(word) for word in self.vocabulary], dtype=bool)
        if told.all() or not told.any():  # most columns of a log have few words, and all alike before a rule
            return np.full(len(self.codes), bool(told.all()) and len(told) > 0, dtype=bool)
        return told[self.codes]

    def equal(self, *words: str) -> Bools:
        """Rows that hold one of these words."""
        return self.where(lambda word: word in words)

    def filled(self) -> Bools:
        """Rows that hold a word."""
        return self.where(bool)

    def mapped(self, values: Mapping[str, float]) -> Floats:
        """A number for each row, by its word; NaN where the word has none."""
        numbers = np.array([values.get(word, np.nan) for word in self.vocabulary], dtype=float)
        return np.full(len(self.codes), numbers[0]) if len(numbers) == 1 else numbers[self.codes]


def _objects(words: Sequence[str]) -> NDArray[np.object_]:
    array = np.empty(len(words), dtype=object)
    array[:] = words
    return array


@dataclass(slots=True)
class Part:
    """One sheet in the draft: where its rows begin, and which header word each column stands under."""

    sheet: Sheet
    start: int = 0
    at: dict[str, int] = field(default_factory=dict)

    def word(self, name: str) -> str:
        """The header word of a column; its standard name where the sheet does not have it."""
        return self.sheet.header[self.at[name]] if name in self.at else name


@dataclass(slots=True)
class Blame:
    """Rows with one thing to say about them.

    `each` row has a finding of its own, or all share one; `at` is the place (part, line) of one without rows.
    """

    severity: Severity
    code: str
    rows: Ints
    found: Tell
    allowed: Tell = ""
    hint: Tell = ""
    column: str = ""
    cutter: str | None = None
    each: bool = False
    at: tuple[int, int | None] = (0, None)
    file: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """One thing to tell of a draft of one sheet, and how to make its sentence.

    Attributes
    ----------
    severity, code, column : str
    rows : int
        How many rows it stands for.
    line : int
        File line of the first of them, 0 where it is about no line.
    make : callable
        Makes the finding.
    alone : bool
        It is about that row alone.
    """

    severity: Severity
    code: str
    column: str
    rows: int
    line: int
    make: Callable[[], Finding]
    alone: bool = False


class Draft:
    """Rows under their standard names.

    Attributes
    ----------
    numbers : dict of str to numpy.ndarray of float
        Columns of numbers in standard units; missing = NaN.
    words : dict of str to Words
        All other columns; missing = "".
    bad : numpy.ndarray of bool
        Rows that are set aside.
    single : dict of str to float
        Columns of numbers that hold the same in all rows, and what that is.
    broken : numpy.ndarray of bool
        Rows whose cells do not line up with the header: they are set aside and judged no further.
    """

    def __init__(self, parts: list[Part]) -> None:
        self.parts = parts
        self.size = sum(part.sheet.rows for part in parts)
        self.numbers: dict[str, Floats] = {}
        self.words: dict[str, Words] = {}
        self.bad: Bools = np.zeros(self.size, dtype=bool)
        self.broken: Bools = np.zeros(self.size, dtype=bool)
        self.blames: list[Blame] = []
        self.natural = True
        self.single: dict[str, float] = {}
        self._ranks: tuple[list[str], Codes] | None = None
        self._starts = [part.start for part in parts]

    # -------------------------------------------------------------- columns

    def has(self, name: str) -> bool:
        """Whether the log holds this column with anything in it."""
        if name in self.numbers:
            return bool(np.isfinite(self.numbers[name]).any())
        return name in self.words and bool(self.words[name].filled().any())

    def number(self, name: str) -> Floats:
        """A column of numbers; NaN throughout where the log does not have it."""
        return self.numbers[name] if name in self.numbers else np.full(self.size, np.nan)

    def word(self, name: str) -> Words:
        """A column of text; empty throughout where the log does not have it."""
        return self.words[name] if name in self.words else Words(np.zeros(self.size, dtype=np.int32), [""])

    def key(self, name: str) -> Ints:
        """Codes of a column of either kind, equal where the cells are; for grouping."""
        if name in self.words:
            return self.words[name].told_apart().codes  # type: ignore[return-value]
        if name not in self.numbers:
            return np.zeros(self.size, dtype=np.int64)
        values = self.numbers[name]
        whole = np.nan_to_num(values, nan=-1.0)
        if whole.size and whole.min() + 1 >= 0 and whole.max() < 2**31 and (np.rint(whole) == whole).all():
            return whole.astype(np.int64)
        import pandas as pd

        return np.asarray(pd.factorize(values, use_na_sentinel=False)[0], dtype=np.int64)

    def good(self) -> Bools:
        """Rows that nothing has set aside so far."""
        return ~self.bad

    def cutter_ranks(self) -> tuple[list[str], Codes]:
        """Names of the cutters in natural order, and for each row which of them it has.

        In order of appearance where `natural` is off: sorting a hundred thousand names takes longer than all rules.
        """
        if self._ranks is None:
            column = self.word("cutter")
            if not self.natural:
                apart = column.told_apart()
                self._ranks = apart.vocabulary, apart.codes
            else:
                names = natural_sorted(set(column.vocabulary))
                rank = {name: at for at, name in enumerate(names)}
                self._ranks = names, np.array([rank[word] for word in column.vocabulary], dtype=np.int32)[column.codes]
        return self._ranks

    # -------------------------------------------------------------- places

    def part_of(self, row: int) -> Part:
        """The sheet that a row came from."""
        return self.parts[max(bisect_right(self._starts, row) - 1, 0)]

    def place(self, row: int, name: str = "") -> Place:
        """Where the cell of a row under a column stands; the row as a whole where the sheet has no such column."""
        part = self.part_of(row)
        found = part.sheet.place(row - part.start, part.at.get(name))
        return found if name in part.at else Place(found.file, found.line, name)

    def file_of(self, row: int) -> str:
        """Name of the file of a row."""
        return self.place(row).file

    def line_of(self, row: int) -> int:
        """File line of a row."""
        return self.place(row).line

    def lines(self) -> Ints:
        """File line of every row."""
        if len(self.parts) == 1:
            return self.parts[0].sheet.lines
        return np.concatenate([part.sheet.lines for part in self.parts]) if self.parts else np.zeros(0, dtype=np.int64)

    def typed(self, row: int, name: str) -> str:
        """The cell as it stands in the file, for a message that can be found there."""
        part = self.part_of(row)
        return part.sheet.columns[part.at[name]].typed(row - part.start) if name in part.at else ""

    def header_word(self, row: int, name: str) -> str:
        """The header word under which a column stands in the file of a row."""
        return self.place(row, name).word

    def cutter_of(self, row: int) -> str:
        """The cutter of a row, or an empty text."""
        return self.words["cutter"].text(row) if "cutter" in self.words else ""

    # -------------------------------------------------------------- blame

    def error(
        self,
        code: str,
        rows: Bools | Ints | Iterable[int],
        found: Tell,
        *,
        allowed: Tell = "",
        hint: Tell = "",
        column: str = "",
        cutter: str | None = None,
    ) -> None:
        """Set rows aside, each with a finding of its own."""
        chosen = _rows(rows)
        if self.broken.any():
            chosen = chosen[~self.broken[chosen]]
        if len(chosen):
            self.bad[chosen] = True
            self.blames.append(Blame("error", code, chosen, found, allowed, hint, column, cutter, each=True))

    def broken_error(self, code: str, rows: Iterable[int], found: Tell, *, allowed: str = "", hint: str = "") -> None:
        """Set rows aside whose cells do not line up; nothing else is said of them."""
        self.error(code, rows, found, allowed=allowed, hint=hint, cutter="")
        self.broken[_rows(rows)] = True

    def withdraw(self, code: str, rows: Iterable[int], found: str) -> None:
        """Set rows aside because somebody took them out; nothing else is said of them."""
        chosen = _rows(rows)
        self.bad[chosen] = True
        self.broken[chosen] = True
        self.blames.append(Blame("note", code, chosen, found, each=True))

    def file_error(
        self, code: str, found: str, file: str, line: int | None, *, allowed: str = "", hint: str = ""
    ) -> None:
        """An error of a file that belongs to the log, such as its corrections."""
        self.blames.append(Blame("error", code, _NONE, found, allowed, hint, "", "", at=(0, line), file=file))

    def remark(self, remark: Remark, part: int = 0) -> None:
        """Something about a file as a whole."""
        at = (part, remark.line)
        self.blames.append(
            Blame(remark.severity, remark.code, _NONE, remark.found, "", remark.hint, at=at, file=remark.file)
        )

    def header_error(
        self, code: str, found: str, part: int = 0, *, allowed: str = "", hint: str = "", column: str = ""
    ) -> None:
        """An error of the header: no row is set aside for it alone."""
        line = self.parts[part].sheet.header_line
        self.blames.append(Blame("error", code, _NONE, found, allowed, hint, column, "", at=(part, line)))

    def warn(
        self,
        code: str,
        found: str,
        rows: Bools | Ints | Iterable[int] = (),
        *,
        allowed: str = "",
        hint: str = "",
        column: str = "",
        cutter: str = "",
        part: int = 0,
    ) -> None:
        """A doubt about rows that are used all the same."""
        self.blames.append(Blame("warning", code, _rows(rows), found, allowed, hint, column, cutter, at=(part, None)))

    def note(
        self,
        code: str,
        found: str,
        rows: Bools | Ints | Iterable[int] = (),
        *,
        allowed: str = "",
        hint: str = "",
        column: str = "",
        cutter: str = "",
        part: int = 0,
        lines: Sequence[int] = (),
    ) -> None:
        """A fact or an assumption; `lines` are file lines that hold no row."""
        blame = Blame("note", code, _rows(rows), found, allowed, hint, column, cutter, at=(part, None))
        self.blames.append(_about_lines(blame, lines) if len(lines) else blame)

    def why(self) -> dict[int, list[str]]:
        """Rows that are set aside, with the codes of the findings that say why."""
        reasons: dict[int, list[str]] = {int(row): [] for row in np.flatnonzero(self.bad)}
        for blame in self.blames:
            if blame.code == "missing_column":
                part = self.parts[blame.at[0]]
                reasons |= {row: ["missing_column"] for row in range(part.start, part.start + part.sheet.rows)}
        for blame in self.blames:
            if blame.severity == "error" or blame.code == "row_withdrawn":
                for row in blame.rows:
                    codes = reasons[int(row)]
                    if blame.code not in codes:
                        codes.append(blame.code)
        return reasons

    def findings(self) -> Findings:
        """Everything that was found, as sentences that are made when they are asked for."""
        counts: dict[str, int] = {"error": 0, "warning": 0, "note": 0}
        for blame in self.blames:
            counts[blame.severity] += self._count(blame)
        return Findings(counts, self._sentences)

    def findings_of(self, most: int) -> Iterator[Told]:
        """What there is to tell: up to so many rows that are set aside one by one, and everything else by its kind.

        The rows beyond `most` share the sentence of the first of them.
        """
        for blame in self.blames:
            column = self.parts[blame.at[0]].word(blame.column)
            told = partial(Told, blame.severity, blame.code, column)
            if isinstance(blame, _LineBlame):
                yield told(len(blame.lines), min(blame.lines), partial(self._of_lines, blame))
            elif not blame.each:
                line = self.line_of(int(blame.rows[0])) if len(blame.rows) else blame.at[1] or 0
                yield told(len(blame.rows), line, partial(self._of_all, blame))
            else:
                lines = self.lines()
                for row in blame.rows[:most]:
                    yield told(1, int(lines[row]), partial(self._of_row, blame, int(row)), alone=True)
                if len(blame.rows) > most:
                    row = int(blame.rows[most])
                    yield told(len(blame.rows) - most, int(lines[row]), partial(self._of_row, blame, row))
                most = max(most - len(blame.rows), 0)

    def _count(self, blame: Blame) -> int:
        """How many findings a blame makes: rows that share the cell that is blamed share one."""
        if not blame.each:
            return 1
        if all(part.sheet.locate is None for part in self.parts):
            return len(blame.rows)
        return len(self._by_place(blame))

    def _by_place(self, blame: Blame) -> dict[Place, list[int]]:
        places: dict[Place, list[int]] = {}
        for row in blame.rows:
            places.setdefault(self.place(int(row), blame.column), []).append(int(row))
        return places

    def _sentences(self) -> Iterator[Finding]:
        for blame in self.blames:
            if isinstance(blame, _LineBlame):
                yield self._of_lines(blame)
            elif blame.each:
                if all(part.sheet.locate is None for part in self.parts):
                    yield from (self._of_row(blame, int(row)) for row in blame.rows)
                else:
                    yield from (self._of_row(blame, rows[0], len(rows)) for rows in self._by_place(blame).values())
            else:
                yield self._of_all(blame)

    def _of_row(self, blame: Blame, row: int, rows: int = 1) -> Finding:
        place = self.place(row, blame.column)
        return Finding(
            blame.severity,
            blame.code,
            _said(blame.found, row),
            _said(blame.allowed, row),
            _said(blame.hint, row),
            file=place.file,
            line=place.line,
            cutter=self.cutter_of(row) if blame.cutter is None else blame.cutter,
            column=place.word,
            rows=rows,
            lines=(place.line,),
        )

    def _of_all(self, blame: Blame) -> Finding:
        first = int(blame.rows[0]) if len(blame.rows) else -1
        part, line = blame.at
        lines: tuple[int, ...] = ()
        if first < 0:
            file = blame.file or self.parts[part].sheet.file
            column = self.parts[part].word(blame.column)
        else:
            home = self.place(first, blame.column)
            file, line, column = home.file, home.line, home.word
            lines = self._lines_in(file, blame)
        return Finding(
            blame.severity,
            blame.code,
            _said(blame.found, first),
            _said(blame.allowed, first),
            _said(blame.hint, first),
            file=file,
            line=line,
            cutter=blame.cutter or "",
            column=column,
            rows=len(blame.rows),
            lines=lines,
        )

    def _lines_in(self, file: str, blame: Blame) -> tuple[int, ...]:
        """File lines of the rows of a blame that stand in one file."""
        if len(self.parts) == 1 and self.parts[0].sheet.locate is None:
            return tuple(self.parts[0].sheet.lines[blame.rows].tolist())
        places = [self.place(int(row), blame.column) for row in blame.rows]
        return tuple(dict.fromkeys(place.line for place in places if place.file == file))

    def _of_lines(self, blame: _LineBlame) -> Finding:
        lines = tuple(sorted(blame.lines))
        return Finding(
            blame.severity,
            blame.code,
            _said(blame.found, -1),
            file=self.parts[blame.at[0]].sheet.file,
            line=lines[0],
            rows=len(lines),
            lines=lines,
        )


@dataclass(slots=True)
class _LineBlame(Blame):
    """About file lines that hold no row."""

    lines: Sequence[int] = ()


def _about_lines(blame: Blame, lines: Sequence[int]) -> _LineBlame:
    return _LineBlame(blame.severity, blame.code, blame.rows, blame.found, at=blame.at, lines=lines)


_NONE: Ints = np.zeros(0, dtype=np.int64)


def _rows(rows: Bools | Ints | Iterable[int]) -> Ints:
    if isinstance(rows, np.ndarray):
        return np.flatnonzero(rows) if rows.dtype == bool else np.unique(rows)
    return np.unique(np.array(list(rows), dtype=np.int64))


def _said(tell: Tell, row: int) -> str:
    return tell if isinstance(tell, str) else tell(row)
