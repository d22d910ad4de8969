"""Pages of a workbook -> one table of readings: related sheets, bench sheets, or one flat sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from wearlab.core.errors import FileProblem
from wearlab.logbook.bench import is_bench_page, read_bench_pages
from wearlab.logbook.cells import number_in
from wearlab.logbook.columns import ALSO
from wearlab.logbook.sheet import Ints, Place, Remark, Sheet, Texts
from wearlab.logbook.table import header_key, known_words, table_of_rows
from wearlab.logbook.workbook import Page

CUTTERS, READINGS, TRIAL = "cutters", "readings", "trial"
"""Names of the sheets of a workbook, in lower case."""


@dataclass(frozen=True, slots=True)
class Book:
    """What a workbook holds: the trial's settings as a trial file would state them, and a way to its readings."""

    pages: dict[str, Page]
    settings: dict[str, Any] = field(default_factory=dict)


def open_book(pages: Iterable[Page], where: str) -> Book:
    """Sort the pages of a workbook by name, and read the sheet of the trial.

    Raises
    ------
    FileProblem
        The sheet of the trial cannot be understood.
    """
    named = {page.name.strip().lower(): page for page in pages}
    trial = named.pop(TRIAL, None)
    return Book(named, trial_settings(trial, where) if trial else {})


def sheet_of_book(book: Book, renamed: Mapping[str, str], where: str, responses: Iterable[str] = ()) -> Sheet:
    """The readings of a workbook as one table.

    Raises
    ------
    FileProblem
        No sheet of it is a log.
    """
    file = Path(where).name
    if CUTTERS in book.pages and READINGS in book.pages:
        return _related(book.pages[CUTTERS], book.pages[READINGS], renamed, where, responses)
    bench = [page for page in book.pages.values() if is_bench_page(page.rows, renamed)]
    if bench:
        return read_bench_pages([(f"{file}, sheet {page.name}", page.rows) for page in bench], renamed, responses)
    flat = [page for page in book.pages.values() if _is_flat(page, renamed)]
    if not flat:
        raise FileProblem("no sheet of this workbook is a log", where=where,
                          allowed="sheets Cutters and Readings, bench sheets, or a sheet with the columns of the log",
                          hint="`wearlab blank trial.xlsx` writes an empty one")  # fmt: skip
    page = flat[0]
    sheet = table_of_rows(page.rows, renamed, where, f"{file}, sheet {page.name}", responses)
    others = [
        other.name for other in book.pages.values() if other is not page and any(cells for _, cells in other.rows)
    ]
    if others:
        found = f"only the sheet {page.name} was read; not {', '.join(others)}"
        sheet.remarks.append(Remark("note", "sheets_not_read", found, file))
    return sheet


def _is_flat(page: Page, renamed: Mapping[str, str]) -> bool:
    return any(known_words(cells, renamed) >= 3 for _, cells in page.rows[:10])


def _related(cutters: Page, readings: Page, renamed: Mapping[str, str], where: str, responses: Iterable[str]) -> Sheet:
    """Readings with the facts of their cutter beside them."""
    file = Path(where).name
    left = table_of_rows(readings.rows, renamed, where, f"{file}, sheet {readings.name}", responses)
    right = table_of_rows(cutters.rows, renamed, where, f"{file}, sheet {cutters.name}", responses)
    key_left, key_right = (_position(sheet, "cutter", renamed) for sheet in (left, right))
    if key_left is None or key_right is None:
        raise FileProblem("the sheets Cutters and Readings do not both have a column cutter", where=where,
                          allowed="the column cutter in both, so that they can be put together")  # fmt: skip
    at, remarks = _match(left, right, key_left, key_right)
    have = {_name(word, renamed) for word in left.header}
    added = [i for i, word in enumerate(right.header) if word and _name(word, renamed) not in have]
    count = len(left.header)

    def locate(row: int, column: int | None) -> Place:
        if column is None or column < count:
            return Place(left.file, int(left.lines[row]), "" if column is None else left.header[column])
        word, line = right.header[added[column - count]], right.lines[at[row]] if at[row] >= 0 else right.header_line
        return Place(right.file, int(line), word)

    return Sheet(
        file=left.file,
        header=[*left.header, *(right.header[i] for i in added)],
        header_line=left.header_line,
        columns=[*left.columns, *(_beside(right.columns[i].coded(), at) for i in added)],
        lines=left.lines,
        skipped={kind: list(lines) for kind, lines in left.skipped.items()},
        crowded=left.crowded,
        locate=locate,
        remarks=remarks,
    )


def _name(word: str, renamed: Mapping[str, str]) -> str:
    key = header_key(word)
    key = renamed.get(key, key)
    return ALSO.get(key, (key, 1.0))[0]


def _position(sheet: Sheet, name: str, renamed: Mapping[str, str]) -> int | None:
    names = [_name(word, renamed) for word in sheet.header]
    return names.index(name) if name in names else None


def _beside(column: Texts, at: Ints) -> Texts:
    """A column of the cutters, row by row of the readings; blank where the cutter is not listed."""
    different = [*column.different, ""]
    codes = np.where(at >= 0, column.codes[at] if len(column.codes) else len(different) - 1, len(different) - 1)
    return Texts(codes.astype(np.int32), different)


def _match(left: Sheet, right: Sheet, key_left: int, key_right: int) -> tuple[Ints, list[Remark]]:
    """For each reading the row of its cutter (-1 where it is not listed), and what does not match."""
    listed = right.columns[key_right].coded()
    row_of: dict[str, int] = {}
    remarks = []
    for row, code in enumerate(listed.codes):
        name = listed.different[code]
        if name in row_of and name:
            same = right.typed_row(row) == right.typed_row(row_of[name])
            words = "in the same words" if same else "in different words: the first was used"
            remarks.append(
                Remark(
                    "warning" if same else "error",
                    "cutter_listed_twice",
                    f"cutter {name} is listed twice, {words}",
                    right.file,
                    int(right.lines[row]),
                    hint="One row a cutter and sharpening",
                )
            )
        row_of.setdefault(name, row)
    read = left.columns[key_left].coded()
    for name in (name for name in read.different if name and name not in row_of):
        found = f"cutter {name} has readings and no row among the cutters"
        hint = "Its conditions are not known; is it the same name in both sheets?"
        remarks.append(Remark("warning", "cutter_not_listed", found, right.file, hint=hint))
    for name in (name for name in row_of if name and name not in read.different):
        found, line = f"cutter {name} has no reading", int(right.lines[row_of[name]])
        remarks.append(Remark("note", "cutter_without_readings", found, right.file, line))
    return np.array([row_of.get(read.different[code], -1) for code in read.codes], dtype=np.int64), remarks


def trial_settings(page: Page, where: str) -> dict[str, Any]:
    """The sheet of the trial as the trial file would state it.

    One line a key, with up to two cells after it: `section.key` and its value; `criterion` with its text and its name;
    `zones.NAME` with two limits; `response.NAME` with unit and direction; `columns.WORD` with the column that it means.

    Raises
    ------
    FileProblem
        A line has no value, or a key without a section.
    """
    data: dict[str, Any] = {}
    for line, cells in page.rows:
        key, values = (cells[0].strip() if cells else ""), [cell for cell in cells[1:3] if cell]
        if not key or key.startswith("#") or key.lower() == "key" or not values:
            continue
        section, _, name = key.partition(".")
        if section == "criterion":
            data.setdefault("criterion", []).append(
                {"text": values[0], "name": values[1] if len(values) > 1 else values[0]}
            )
        elif section == "response" and name:
            item = {"name": name, "unit": values[0]} | ({"direction": values[1]} if len(values) > 1 else {})
            data.setdefault("response", []).append(item)
        elif section == "zones" and name:
            data.setdefault("zones", {})[name] = [number_in(value) for value in values]
        elif name:
            data.setdefault(section, {})[name] = _value(values[0])
        else:
            raise FileProblem(f"{key!r} on line {line} of the sheet {page.name}", where=where,
                              allowed="section.key, such as trial.question or decision.margin")  # fmt: skip
    return data


def _value(text: str) -> Any:
    number = number_in(text)
    if number != number:
        return text
    return int(number) if number.is_integer() and "." not in text else number
