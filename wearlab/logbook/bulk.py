"""A large, regular log -> a sheet, with a fast reader; anything irregular is left to the careful one.

Regular means: one line a row, every line as many cells as the header, UTF-8, the header on the first line, nothing but
readings below it (but for one line of units). Both readers give the same sheet; a test compares them.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import FileProblem
from wearlab.logbook.bench import is_bench_page
from wearlab.logbook.cells import BLANK_WORDS
from wearlab.logbook.columns import ALSO, COLUMNS
from wearlab.logbook.files import odd_characters
from wearlab.logbook.sheet import Bools, Cells, Codes, Ints, Numbers, Sheet, Texts, nothing_in
from wearlab.logbook.table import DELIMITERS, MOST_CELL, Sorter, header_key, is_total, rows_of_text, split_table

_BLANK = sorted({form for word in BLANK_WORDS for form in (word, word.upper(), word.capitalize(), "NaN")})
SNIFF = 1 << 18
"""Bytes of the head: enough for what the careful reader looks at to tell text from other files."""
_FIRST_LINES = 200
_SUSPECTS = 1000
"""So many rows that may be no reading are looked at one by one."""
BLOCK = 1 << 22
"""Bytes that the fast reader takes at a time."""


class Irregular(Exception):
    """The file needs the careful reader; the text says why."""


@dataclass(slots=True)
class Lines:
    """Lines of a file in memory: fetches the cells of a row as they were typed, for the few that are blamed.

    Parameters
    ----------
    data : bytes
        The file, or a stretch of it.
    begin, end : int
        Bytes at which the first row begins and the last one ends.
    delimiter : str
    """

    data: bytes
    begin: int
    end: int
    delimiter: str
    _starts: Ints | None = None
    _last: tuple[int, list[str]] = (-1, [])

    def cell(self, row: int, at: int) -> str:
        """One cell of a row, stripped; a short line has nothing in its last cells."""
        cells = self.cells(row)
        return cells[at] if at < len(cells) else ""

    def cells(self, row: int) -> list[str]:
        """The cells of a row, stripped."""
        if self._last[0] != row:
            begin, end = self._span(row)
            text = self.data[begin:end].decode("utf-8", errors="replace").rstrip("\r\n")
            self._last = row, [cell.strip() for cell in next(csv.reader([text], delimiter=self.delimiter), [])]
        return self._last[1]

    def _span(self, row: int) -> tuple[int, int]:
        if self._starts is None:
            ends = np.flatnonzero(np.frombuffer(self.data, dtype=np.uint8)[self.begin : self.end] == 10)
            self._starts = np.concatenate([[self.begin], ends + self.begin + 1])
        after = int(self._starts[row + 1]) if row + 1 < len(self._starts) else self.end
        return int(self._starts[row]), after


@dataclass(frozen=True, slots=True)
class Layout:
    """What the first lines of a regular file say.

    Attributes
    ----------
    header : list of str
    delimiter : str
    begin : int
        Byte at which the rows begin.
    first_line : int
        File line of the first row.
    units : bool
        A line of units stands below the header.
    dirty : set of int
        Columns of numbers in which something else was met so far; the next stretch reads them as text at once.
    """

    header: list[str]
    delimiter: str
    begin: int
    first_line: int
    units: bool
    dirty: set[int] = field(default_factory=set)


def layout_of(head: bytes, renamed: Mapping[str, str]) -> Layout:
    """Understand the first lines, as the careful reader does.

    Raises
    ------
    Irregular
        The header does not stand on the first line, or the first lines hold what the fast reader cannot tell apart.
    """
    mark = 3 if head.startswith(b"\xef\xbb\xbf") else 0
    text = _text_of(head[mark:])
    lines = text.split("\n", _FIRST_LINES)
    text = "\n".join(lines[:_FIRST_LINES]) + "\n"
    try:
        if is_bench_page(rows_of_text(text, _FIRST_LINES), renamed):
            raise Irregular("a bench sheet")
        sheet = split_table(text, renamed, "")
    except FileProblem as problem:
        raise Irregular(problem.found) from None
    units = sheet.skipped.get("units", [])
    if sheet.header_line != 1 or units not in ([], [2]) or set(sheet.skipped) - {"units", "blank"} or sheet.unclosed:
        raise Irregular("the first lines are not plain")
    delimiter = next(one for one, word in DELIMITERS.items() if word == sheet.delimiter)
    header = [cell.strip() for cell in next(csv.reader([lines[0].rstrip("\r")], delimiter=delimiter))]
    if header != sheet.header or len(set(header)) < len(header) or not all(header):
        raise Irregular("the header is not plain")
    begin = mark + sum(len(line.encode("utf-8")) + 1 for line in lines[: 2 if units else 1])
    return Layout(header, delimiter, begin, 3 if units else 2, bool(units))


def _text_of(head: bytes) -> str:
    """Whole lines of the head as text."""
    end = head.rfind(b"\n") + 1
    if not end:
        raise Irregular("no line")
    try:
        text = head[:end].decode("utf-8")
    except UnicodeDecodeError:
        raise Irregular("not UTF-8") from None
    if odd_characters(text):
        raise Irregular("control characters")
    return text


def learn(head: bytes, layout: Layout, renamed: Mapping[str, str]) -> None:
    """Find out which columns of numbers are not pure, so that no large stretch is read twice for it.

    Raises
    ------
    Irregular
        The first lines need the careful reader.
    """
    lines = Lines(head, layout.begin, head.rfind(b"\n") + 1, layout.delimiter)
    if lines.end > lines.begin:
        sheet_of_lines(lines, layout, "", renamed, layout.first_line)


def bulk_sheet(data: bytes, file: str, renamed: Mapping[str, str]) -> Sheet:
    """Read a regular file that lies in memory.

    Parameters
    ----------
    data : bytes
        The whole file.
    file : str
        Its name, for findings.
    renamed : dict of str to str
        The shop's own header words and ours.

    Raises
    ------
    Irregular
        The file needs the careful reader.
    """
    layout = layout_of(data[:SNIFF], renamed)
    lines = Lines(data, layout.begin, len(data), layout.delimiter)
    sheet = sheet_of_lines(lines, layout, file, renamed, layout.first_line)
    skip_blank(sheet)
    if layout.units:
        sheet.skipped["units"] = [2]
    return sheet


def sheet_of_lines(lines: Lines, layout: Layout, file: str, renamed: Mapping[str, str], first_line: int) -> Sheet:
    """Read whole lines of a regular file, one row a line, blank lines too (see `skip_blank`).

    Raises
    ------
    Irregular
        They need the careful reader.
    """
    names = [column_name(word, renamed) for word in layout.header]
    count = lines_in(lines)
    read = _pandas_columns if _arrow() is None else _arrow_columns
    length, columns = read(lines, layout, names)
    if count not in (None, length):
        raise Irregular("cells of several lines")
    _refuse_odd_cells(names, columns)
    _refuse_odd_lines(lines, layout, renamed, names, columns)
    numbers = np.arange(first_line, first_line + length, dtype=np.int64)
    return Sheet(file, layout.header, 1, columns, numbers, DELIMITERS[layout.delimiter])


def texts_in(lines: Lines, layout: Layout, at: int) -> Texts:
    """One column of whole lines of a regular file as text, nothing else of them being looked at.

    Raises
    ------
    Irregular
        The lines need the careful reader.
    """
    count = lines_in(lines)
    texts = _pandas_texts(lines, layout, at) if _arrow() is None else _arrow_texts(lines, layout, at)
    if count not in (None, len(texts.codes)):
        raise Irregular("cells of several lines")
    return texts


def skip_blank(sheet: Sheet) -> None:
    """Take out lines on which nothing stands at all."""
    blank = nothing_in(sheet.columns, sheet.rows)
    if blank.any():
        sheet.skip_rows(blank, "blank")


def lines_in(lines: Lines) -> int | None:
    """How many lines there are where there are quotes, which may make one row of several; None where every line is one.

    Raises
    ------
    Irregular
        Line ends of other kinds, or quotes that readers understand in different ways.
    """
    data, begin, end = lines.data, lines.begin, lines.end
    if data.find(b"\0", begin, end) >= 0:
        raise Irregular("no text")
    if data.find(b"\r", begin, end) >= 0 and data.count(b"\r", begin, end) != data.count(b"\r\n", begin, end):
        raise Irregular("line ends of several kinds")
    if data.find(b'"', begin, end) < 0:
        return None
    if not _plainly_quoted(lines):
        raise Irregular("quotes inside cells")
    return data.count(b"\n", begin, end) + (end > begin and data[end - 1] != 10)


def _plainly_quoted(lines: Lines) -> bool:
    """Whether each quote opens a cell at its begin or closes it at its end."""
    bytes_of = np.frombuffer(lines.data, dtype=np.uint8)[lines.begin : lines.end]
    at = np.flatnonzero(bytes_of == 34)
    opens, closes = at[0::2], at[1::2]
    if len(opens) != len(closes):
        return False
    dividers = [ord(lines.delimiter), 10]
    before = bytes_of[np.maximum(opens, 1) - 1]
    after = bytes_of[np.minimum(closes + 1, len(bytes_of) - 1)]
    fine = np.isin(before, dividers) | (opens == 0)
    return bool(fine.all() and (np.isin(after, [*dividers, 13]) | (closes == len(bytes_of) - 1)).all())


def column_name(word: str, renamed: Mapping[str, str]) -> str:
    """The standard name of a header word."""
    key = header_key(word)
    key = renamed.get(key, key)
    return ALSO.get(key, (key, 1.0))[0]


def _is_number(name: str) -> bool:
    return name in COLUMNS and COLUMNS[name].numeric


def _refuse_odd_cells(names: Sequence[str], columns: Sequence[Cells]) -> None:
    """Cells that the careful reader judges by the whole file, or refuses."""
    for name, column in zip(names, columns, strict=True):
        texts = column.different if isinstance(column, Texts) else column.odd.values()  # type: ignore[attr-defined]
        if max(map(len, texts), default=0) > MOST_CELL:
            raise Irregular("a cell without end")
        if _is_number(name) and any("," in text for text in texts):
            raise Irregular("commas in numbers")


def _refuse_odd_lines(
    lines: Lines, layout: Layout, renamed: Mapping[str, str], names: Sequence[str], columns: Sequence[Cells]
) -> None:
    """Lines that are no reading are for the careful reader: comments, totals, a header in the middle.

    The first cell gives away which rows may be such, unless a known measure stands in them.
    """
    suspect = _odd_first_cell(columns[0], header_key(layout.header[0]))
    sort = Sorter(layout.header, renamed, ())
    measure = columns[names.index("measure")] if "measure" in names else None
    if suspect.any() and isinstance(measure, Texts):
        known = np.array([text.lower() in sort.measures for text in measure.different], dtype=bool)
        suspect &= ~known[measure.codes]
    rows = np.flatnonzero(suspect)
    if len(rows) > _SUSPECTS and len(rows) > len(suspect) // 100:
        raise Irregular("many lines without a name")
    for row in rows:
        if sort.kind([*lines.cells(int(row)), ""][: max(len(layout.header), 1)]) not in ("", "blank"):
            raise Irregular("comments or totals")


def _odd_first_cell(column: Cells, header: str) -> Bools:
    """Rows whose first cell is blank, or begins a comment, a total or the header."""
    if isinstance(column, Texts):
        odd_first = _FIRST_OF_TOTALS | {"#", header[:1], header[:1].upper()}
        told = [not text or (text[0] in odd_first and _begins_oddly(text, header)) for text in column.different]
        return np.array(told, dtype=bool)[column.codes] if any(told) else np.zeros(len(column.codes), dtype=bool)
    odd = np.isnan(column.values)  # type: ignore[attr-defined]
    for row, text in column.odd.items():  # type: ignore[attr-defined]
        odd[row] = _begins_oddly(text, header)
    return np.asarray(odd)


def _begins_oddly(text: str, header: str) -> bool:
    """No name, a comment, a total or the header; the first letter decides for nearly all."""
    if not text or text[0] == "#":
        return True
    return (text[0] in _FIRST_OF_TOTALS and is_total(text)) or (
        text[0].lower() == header[:1] and header_key(text) == header
    )


_FIRST_OF_TOTALS = frozenset("sStTmMaA")


# ------------------------------------------------------------------ with pyarrow


def _arrow() -> Any:
    """The module pyarrow.csv, or None where it is not installed."""
    try:
        import pyarrow.csv as arrow_csv
    except ImportError:
        return None
    return arrow_csv


def _arrow_columns(lines: Lines, layout: Layout, names: Sequence[str]) -> tuple[int, list[Cells]]:
    """Numbers as numbers and text as text; a column of numbers that holds something else is read again as text."""
    import pyarrow as pa

    dirty = layout.dirty
    while True:
        try:
            table = _arrow_table(lines, layout, names)
        except pa.ArrowInvalid as error:
            at = re.match(r"In CSV column #(\d+): CSV conversion error to double", str(error))
            if at is None or int(at[1]) in dirty:
                raise Irregular(str(error)) from None
            dirty.add(int(at[1]))
        else:
            return table.num_rows, [_of_arrow(table.column(i), name, lines, i) for i, name in enumerate(names)]


def _arrow_table(lines: Lines, layout: Layout, names: Sequence[str]) -> Any:
    import pyarrow as pa

    numbers = [_is_number(name) and i not in layout.dirty for i, name in enumerate(names)]
    kinds = {word: pa.float64() if number else pa.string() for word, number in zip(layout.header, numbers, strict=True)}
    return _arrow_read(lines, layout, kinds)


def _arrow_texts(lines: Lines, layout: Layout, at: int) -> Texts:
    import pyarrow as pa

    word = layout.header[at]
    try:
        return _coded(_arrow_read(lines, layout, {word: pa.string()}, [word]).column(0))
    except pa.ArrowInvalid as error:
        raise Irregular(str(error)) from None


def _arrow_read(lines: Lines, layout: Layout, kinds: dict[str, Any], only: Sequence[str] = ()) -> Any:
    import pyarrow as pa
    import pyarrow.csv as arrow_csv

    return arrow_csv.read_csv(
        pa.BufferReader(pa.py_buffer(lines.data).slice(lines.begin, lines.end - lines.begin)),
        read_options=arrow_csv.ReadOptions(column_names=layout.header, block_size=BLOCK),
        parse_options=arrow_csv.ParseOptions(delimiter=layout.delimiter, ignore_empty_lines=False),
        convert_options=arrow_csv.ConvertOptions(column_types=kinds, null_values=_BLANK,
                                                  strings_can_be_null=False, include_columns=list(only)),
    )  # fmt: skip


def _of_arrow(column: Any, name: str, lines: Lines, at: int) -> Cells:
    import pyarrow as pa

    def typed(row: int) -> str:
        return lines.cell(row, at)

    if not pa.types.is_string(column.type):
        values = column.to_numpy()
        if not np.isfinite(values.sum()) and (np.isinf(values).any() or np.isnan(values).sum() != column.null_count):
            raise Irregular("a number that is infinite or none")
        return Numbers(values, typed)
    if not _is_number(name):
        return _coded(column)
    return _nearly_numbers(column.combine_chunks(), typed) or _coded(column)


_OF_NUMBERS = np.zeros(256, dtype=bool)
_OF_NUMBERS[list(b"0123456789.+-eE")] = True


def _nearly_numbers(texts: Any, typed: Callable[[int], str]) -> Numbers | None:
    """A column of numbers with a few cells that hold something else; None when they are more than a few.

    Bytes that no number has give those cells away, so that the rest is turned into numbers at one go.
    """
    import pyarrow as pa
    import pyarrow.compute as compute

    _, offsets, data = texts.buffers()
    ends = np.frombuffer(offsets, dtype=np.int32)[texts.offset : texts.offset + len(texts) + 1]
    strange = np.flatnonzero(~_OF_NUMBERS[np.frombuffer(data, dtype=np.uint8)[ends[0] : ends[-1]]]) + ends[0]
    odd = np.unique(np.searchsorted(ends, strange, side="right") - 1)
    if len(odd) > max(1000, len(texts) // 10):
        return None
    empty = np.diff(ends) == 0
    empty[odd] = True
    try:
        values = compute.if_else(pa.array(~empty), texts, None).cast(pa.float64()).to_numpy(zero_copy_only=False)
    except pa.ArrowInvalid:
        return None
    if np.isinf(values).any():
        raise Irregular("an infinite number")
    words = {int(row): str(texts[int(row)].as_py()).strip() for row in odd}
    return Numbers(values, typed, words)


def _coded(column: Any) -> Texts:
    """Codes of a column of text: equal neighbours are counted as one, and only one of each is looked at."""
    import pyarrow.compute as compute

    if column.num_chunks == 0:
        return Texts(np.zeros(0, dtype=np.int32), [])
    whole = column.combine_chunks() if column.num_chunks > 1 else column.chunk(0)
    short = _short_words(whole)
    if short is not None:
        return short
    runs = compute.run_end_encode(whole)
    heads = runs.values.dictionary_encode()
    codes = np.repeat(heads.indices.to_numpy(), np.diff(runs.run_ends.to_numpy(), prepend=0))
    return _stripped(codes, heads.dictionary.to_pylist())


def _short_words(whole: Any) -> Texts | None:
    """Codes of words that are all of one length up to eight bytes: they are compared as whole numbers."""
    _, offsets, data = whole.buffers()
    ends = np.frombuffer(offsets, dtype=np.int32)[whole.offset : whole.offset + len(whole) + 1]
    length = int(ends[1] - ends[0]) if len(ends) > 1 else 0
    if len(ends) < 2 or int(ends[-1] - ends[0]) != length * (len(ends) - 1) or length > 8:
        return None
    if (np.diff(ends) != length).any():
        return None
    if length == 0:
        return Texts(np.zeros(len(whole), dtype=np.int32), [""])
    words = np.frombuffer(data, dtype=np.uint8)[ends[0] : ends[-1]].reshape(-1, length)
    if (words == words[0]).all():
        return _stripped(np.zeros(len(whole), dtype=np.int32), [words[0].tobytes().decode("utf-8")])
    padded = np.zeros((len(words), 8), dtype=np.uint8)
    padded[:, :length] = words
    keys = padded.view(np.int64).ravel()
    new = np.concatenate([[True], keys[1:] != keys[:-1]])
    heads = keys[new]
    head_codes, different = pd.factorize(heads)
    texts = [int(key).to_bytes(8, sys.byteorder, signed=True)[:length].decode("utf-8") for key in different]
    lengths = np.diff(np.append(np.flatnonzero(new), len(keys)))
    codes = np.repeat(head_codes.astype(np.int32), lengths) if len(heads) < len(keys) else head_codes.astype(np.int32)
    return _stripped(codes, texts)


def _stripped(codes: Codes, different: list[str]) -> Texts:
    """Texts without blanks around them; most have none."""
    clean = [text.strip() for text in different]
    if clean == different:
        return Texts(codes, clean)
    place = {text: at for at, text in enumerate(dict.fromkeys(clean))}
    return Texts(np.array([place[text] for text in clean], dtype=np.int32)[codes], list(place))


# ------------------------------------------------------------------ without pyarrow


def _pandas_columns(lines: Lines, layout: Layout, names: Sequence[str]) -> tuple[int, list[Cells]]:
    texts = {word: str for word, name in zip(layout.header, names, strict=True) if not _is_number(name)}
    blank = {word: _BLANK for word, name in zip(layout.header, names, strict=True) if _is_number(name)}
    frame = _pandas_read(lines, layout, dtype=texts, na_values=blank)
    return len(frame), [
        _of_pandas(frame[word], name, lines, i) for i, (word, name) in enumerate(zip(layout.header, names, strict=True))
    ]


def _pandas_texts(lines: Lines, layout: Layout, at: int) -> Texts:
    word = layout.header[at]
    frame = _pandas_read(lines, layout, dtype={word: str}, usecols=[word])
    return _factorized(frame[word])


def _pandas_read(lines: Lines, layout: Layout, **how: Any) -> pd.DataFrame:
    more = {} if int(pd.__version__.partition(".")[0]) > 2 else {"float_precision": "round_trip"}
    try:
        frame: pd.DataFrame = pd.read_csv(  # type: ignore[call-overload]
            io.BytesIO(memoryview(lines.data)[lines.begin : lines.end]),
            sep=layout.delimiter,
            header=None,
            names=layout.header,
            index_col=False,
            keep_default_na=False,
            skip_blank_lines=False,
            low_memory=False,
            on_bad_lines="error",
            encoding="utf-8",
            **how,
            **more,
        )
    except (pd.errors.ParserError, UnicodeDecodeError, ValueError) as error:
        raise Irregular(str(error)) from None
    return frame


def _of_pandas(column: pd.Series, name: str, lines: Lines, at: int) -> Cells:
    if _is_number(name) and column.dtype.kind in "if":
        values = column.to_numpy(dtype=float)
        if np.isinf(values).any():
            raise Irregular("an infinite number")
        return Numbers(values, lambda row: lines.cell(row, at))
    if column.dtype.kind == "b":
        raise Irregular("a column of true and false")
    if _is_number(name):
        nearly = _nearly_numbers_of(column, lambda row: lines.cell(row, at))
        if nearly is not None:
            return nearly
    return _factorized(column)


def _factorized(column: pd.Series) -> Texts:
    codes, different = pd.factorize(column, use_na_sentinel=False)
    texts = ["" if text != text else str(text) for text in different]
    return _stripped(np.asarray(codes, dtype=np.int32), texts)


def _nearly_numbers_of(column: pd.Series, typed: Callable[[int], str]) -> Numbers | None:
    """As `_nearly_numbers`, for a column that pandas has read as text."""
    try:
        values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float)
    except OverflowError:
        raise Irregular("an infinite number") from None
    odd = np.flatnonzero(np.isnan(values) & column.notna().to_numpy())
    if len(odd) > max(1000, len(values) // 10):
        return None
    words = {int(row): str(column.iloc[row]).strip() for row in odd}
    if np.isinf(values).any():
        raise Irregular("an infinite number")
    return Numbers(values, typed, words)
