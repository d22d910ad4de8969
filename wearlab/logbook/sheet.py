"""Cells as they were typed, by column, whatever kind of file they came from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

Ints = NDArray[np.integer[Any]]
Codes = NDArray[np.integer[Any]]
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


class Cells(Protocol):
    """One column of a sheet."""

    def typed(self, row: int) -> str:
        """The cell of a row as it stands in the file."""

    def coded(self) -> Texts:
        """The column as codes into its different texts."""

    def kept(self, keep: Bools) -> Cells:
        """The column with some rows left out."""

    def blank(self) -> Bools:
        """Rows in which nothing stands."""


@dataclass(slots=True)
class Texts:
    """A column of texts: most cells of a log repeat, so each different text is kept and looked at once.

    >>> column = Texts.of(["a", "b", "a"])
    >>> column.codes.tolist(), column.different, column.typed(2)
    ([0, 1, 0], ['a', 'b'], 'a')
    """

    codes: Codes
    different: list[str]

    @classmethod
    def of(cls, cells: Sequence[str]) -> Texts:
        """From one text a row."""
        array = np.empty(len(cells), dtype=object)
        array[:] = cells
        codes, different = pd.factorize(array)
        return cls(codes.astype(np.int32), [str(text) for text in different])

    def typed(self, row: int) -> str:
        """The cell of a row as it stands in the file."""
        return self.different[self.codes[row]]

    def coded(self) -> Texts:
        """Itself."""
        return self

    def kept(self, keep: Bools) -> Texts:
        """The column with some rows left out."""
        return Texts(self.codes[keep], self.different)

    def blank(self) -> Bools:
        """Rows in which nothing stands."""
        told = [not text for text in self.different]
        return np.array(told, dtype=bool)[self.codes] if any(told) else np.zeros(len(self.codes), dtype=bool)

    def put(self, row: int, text: str) -> None:
        """Change one cell."""
        if text not in self.different:
            self.different.append(text)
        self.codes[row] = self.different.index(text)


@dataclass(slots=True)
class Numbers:
    """A column that a fast reader has made numbers (NaN = blank).

    `line_cells` fetches a cell as typed; `odd` holds the few cells that the reader could not turn into a number.
    """

    values: Floats
    line_cells: Callable[[int], str]
    odd: dict[int, str] = field(default_factory=dict)

    def typed(self, row: int) -> str:
        """The cell of a row as it stands in the file."""
        return self.line_cells(row)

    def coded(self) -> Texts:
        """The column as codes into its different texts."""
        return Texts.of([self.line_cells(row) for row in range(len(self.values))])

    def blank(self) -> Bools:
        """Rows in which nothing stands, or a word that says so."""
        empty = np.isnan(self.values)
        if self.odd:
            empty[list(self.odd)] = False
        return empty

    def kept(self, keep: Bools) -> Numbers:
        """The column with some rows left out."""
        rows = np.flatnonzero(keep)
        place = np.cumsum(keep) - 1
        odd = {int(place[row]): text for row, text in self.odd.items() if keep[row]}
        return Numbers(self.values[keep], lambda row: self.line_cells(int(rows[row])), odd)

    def head(self, rows: int) -> Numbers:
        """The first rows of the column."""
        odd = {row: text for row, text in self.odd.items() if row < rows}
        return Numbers(self.values[:rows], self.line_cells, odd)


def nothing_in(columns: Sequence[Cells], rows: int) -> Bools:
    """Rows in which nothing stands in any of these columns.

    A fast reader takes words such as NA for a blank number: rows in question are looked at as they were typed.
    """
    empty = np.ones(rows, dtype=bool)
    for column in columns:
        empty &= column.blank()
        if not empty.any():
            return empty
    numbers = [column for column in columns if isinstance(column, Numbers)]
    for row in np.flatnonzero(empty) if numbers else ():
        empty[row] = not any(column.typed(int(row)) for column in numbers)
    return empty


@dataclass(frozen=True, slots=True)
class Place:
    """Where a cell stands: file (and sheet of a workbook), line, and the word over its column."""

    file: str
    line: int
    word: str


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to say about a file as a whole, found before its cells are looked at."""

    severity: Literal["error", "warning", "note"]
    code: str
    found: str
    file: str
    line: int | None = None
    hint: str = ""


@dataclass(slots=True)
class Sheet:
    """One table of cells as typed.

    Attributes
    ----------
    file : str
        Name of the file, for messages.
    header : list of str
        Header words as typed; a word may stand twice.
    header_line : int
        File line of the header.
    columns : list of Cells
        One a header word.
    lines : numpy.ndarray of int, shape (rows,)
        File line of each row.
    skipped : dict of str to list of int
        Lines that are no reading, by kind.
    crowded : dict of int to list of str
        Rows with more cells than the header, and the cells beyond it.
    unclosed : list of int
        Rows on which a quote opens and never closes.
    locate : callable, optional
        Where the cell of a row and a column stands, when the table was put together from several places; the column is
        None for the row as a whole.
    remarks : list of Remark
        What is to be said about the file as a whole.
    """

    file: str
    header: list[str]
    header_line: int
    columns: list[Cells]
    lines: Ints
    delimiter: str = ""
    skipped: dict[str, list[int]] = field(default_factory=dict)
    crowded: dict[int, list[str]] = field(default_factory=dict)
    unclosed: list[int] = field(default_factory=list)
    locate: Callable[[int, int | None], Place] | None = None
    remarks: list[Remark] = field(default_factory=list)

    @property
    def rows(self) -> int:
        """How many rows stand under the header."""
        return len(self.lines)

    def place(self, row: int, column: int | None = None) -> Place:
        """Where a cell, or a row, stands."""
        if self.locate is not None:
            return self.locate(row, column)
        return Place(self.file, int(self.lines[row]), "" if column is None else self.header[column])

    def skip_rows(self, rows: Bools, kind: str) -> None:
        """Take rows out and count them as lines of a kind that are no reading."""
        keep = ~rows
        self.skipped.setdefault(kind, []).extend(int(line) for line in self.lines[rows])
        self.columns = [column.kept(keep) for column in self.columns]
        self.lines = self.lines[keep]
        place = np.cumsum(keep) - 1
        if self.locate is not None:
            old, kept = self.locate, np.flatnonzero(keep)
            self.locate = lambda row, column: old(int(kept[row]), column)
        self.crowded = {int(place[row]): cells for row, cells in self.crowded.items() if keep[row]}
        self.unclosed = [int(place[row]) for row in self.unclosed if keep[row]]

    def lines_skipped(self) -> Counter[str]:
        """How many lines of each kind were no reading."""
        return Counter({kind: len(lines) for kind, lines in self.skipped.items()})

    def typed_row(self, row: int) -> list[str]:
        """All cells of a row as typed."""
        return [column.typed(row) for column in self.columns]
