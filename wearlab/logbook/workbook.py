"""A workbook on disk -> pages of cells as text, without running, evaluating or following anything in it."""

from __future__ import annotations

import zipfile
import zlib
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import IO, Any

from wearlab.core.errors import FileProblem
from wearlab.logbook.findings import short

MOST_UNPACKED = 1024**3
"""A workbook that unpacks to more than 1 GiB is refused: no shop fills one."""
MOST_ROWS = 1_048_576
MOST_COLUMNS = 1024
MAGIC = b"PK\x03\x04"
_OLD = b"\xd0\xcf\x11\xe0"
_SAVE = "save it again as an .xlsx workbook, or as CSV"


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet of a workbook: its name, and cells as text by line, counted from 1."""

    name: str
    rows: list[tuple[int, list[str]]]


def is_workbook(head: bytes) -> bool:
    """Whether the first bytes of a file are those of a workbook, new or old."""
    return head.startswith((MAGIC, _OLD))


def read_pages(path: Path) -> list[Page]:
    """Cells of every sheet as text.

    Formulas stay as they were typed and are never worked out; macros, links and paths are left alone.

    Raises
    ------
    FileProblem
        The file is no .xlsx workbook, unpacks to more than 1 GiB, or declares entities.
    """
    refuse_unsafe(path)
    try:
        import openpyxl
    except ImportError:
        raise FileProblem("openpyxl, which reads workbooks, is not installed", where=str(path),
                          hint="install it, or save the sheet as CSV") from None  # fmt: skip
    try:
        with path.open("rb") as file:  # a file object, because the library believes names and not contents
            book = openpyxl.load_workbook(file, read_only=True, data_only=False, keep_links=False)
            try:
                return [Page(sheet.title, _rows(sheet)) for sheet in book.worksheets]
            finally:
                book.close()
    except Exception as error:  # a broken workbook raises nearly anything inside the library
        words = f"cannot be read as a workbook ({short(str(error), 120)})"
        raise FileProblem(words, where=str(path), allowed="an .xlsx workbook", hint=_SAVE) from None


def refuse_unsafe(path: Path) -> None:
    """Refuse what is no .xlsx workbook, what unpacks without measure, and what declares entities.

    Raises
    ------
    FileProblem
        With the reason.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            members = packed.infolist()
            total = sum(member.file_size for member in members)
            if total > MOST_UNPACKED:
                raise FileProblem(f"a workbook that unpacks to {total / 2**20:,.0f} MiB", where=str(path),
                                  allowed="up to 1 GiB", hint="save only the sheets that hold the log")  # fmt: skip
            names = {member.filename for member in members}
            if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
                raise FileProblem("a packed file, but no .xlsx workbook", where=str(path),
                                  allowed="an .xlsx workbook or a CSV file", hint=_SAVE)  # fmt: skip
            for member in members:
                with packed.open(member) as part:
                    _refuse_entities(part, member.filename, path)
    except zipfile.BadZipFile:
        old = path.read_bytes()[:4] == _OLD
        found = "a workbook of the old kind (.xls)" if old else "not a workbook: its packing is broken"
        raise FileProblem(found, where=str(path), allowed="an .xlsx workbook or a CSV file", hint=_SAVE) from None
    except (OSError, EOFError, zlib.error, NotImplementedError, RuntimeError, ValueError) as error:
        raise FileProblem(f"cannot be unpacked ({error})", where=str(path), hint=_SAVE) from None


def _refuse_entities(part: IO[bytes], name: str, path: Path) -> None:
    """A workbook has no use for a document type: it is how a file of a kilobyte becomes one of gigabytes."""
    if not name.lower().endswith((".xml", ".rels", ".vml")):
        return
    tail = b""
    while chunk := part.read(1 << 20):
        plain = (tail + chunk).replace(b"\0", b"").upper()  # the zeros of UTF-16
        if b"<!DOCTYPE" in plain or b"<!ENTITY" in plain:
            raise FileProblem(f"a workbook whose part {name} declares entities", where=str(path),
                              allowed="a workbook as spreadsheets write it", hint=_SAVE)  # fmt: skip
        tail = chunk[-64:]


def _rows(sheet: Any) -> list[tuple[int, list[str]]]:
    """Lines of a sheet up to the last in which anything stands."""
    rows: list[tuple[int, list[str]]] = []
    for line, cells in enumerate(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS), start=1):
        texts = [_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        rows.append((line, texts))
    while rows and not rows[-1][1]:
        rows.pop()
    return rows


def _text(cell: Any) -> str:
    """A cell as somebody sees it, to the last digit; formulas as they were typed."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, (int, float)):
        return _number_text(value, str(getattr(cell, "number_format", "")))
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(sep=" ")
    if isinstance(value, (date, time)):
        return value.isoformat()
    return str(getattr(value, "text", value)).strip()


def _number_text(value: float, number_format: str) -> str:
    """Shortest digits that give the number back; a format of zeros alone keeps leading zeros (007)."""
    text = str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))
    if number_format and set(number_format) == {"0"} and text.isdecimal():
        return text.zfill(len(number_format))
    return text
