"""Cells that leave the program: none may start a formula in somebody's spreadsheet."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)


def safe_cell(cell: object) -> str:
    """A cell that no spreadsheet takes for a formula: a mark ' goes before what could start one.

    Plain numbers are left alone, minus sign and all: they are no text of a user's. Reading takes the mark off again.

    >>> safe_cell("=1+1"), safe_cell("-0.12"), safe_cell("-x"), safe_cell(None)
    ("'=1+1", '-0.12', "'-x", '')
    """
    text = "" if cell is None or cell != cell else str(cell)
    if text.startswith(_STARTS_FORMULA) and not _PLAIN_NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Rows as a CSV in which no cell starts a formula.

    >>> csv_text(["line", "note"], [[4, "@home"]])
    "line,note\\n4,'@home\\n"
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([safe_cell(word) for word in header])
    writer.writerows([[safe_cell(cell) for cell in row] for row in rows])
    return out.getvalue()
