"""Tables as CSV inside the page: a link that holds the file itself, safe to open in a spreadsheet."""

from __future__ import annotations

from urllib.parse import quote

import pandas as pd

MOST_BYTES = 400_000
"""A longer table does not travel inside the page."""
PERSONAL = ("operator",)
"""Columns that never leave the log."""
_FORMULA = ("=", "+", "-", "@", "\t", "\n")
_SAFE = " ,.;:-_/()[]{}*!'~=@$|^\\`"
"""Characters that may stand in the address as they are."""


def csv_text(frame: pd.DataFrame) -> str:
    """A table as CSV: full precision, missing figures blank, no cell of text that a spreadsheet would run.

    >>> print(csv_text(pd.DataFrame({"cutter": ["E1", "=1+1"], "life": [1.5, float("nan")]})), end="")
    cutter,life
    E1,1.5
    '=1+1,
    """
    kept = frame.drop(columns=[name for name in PERSONAL if name in frame.columns])
    safe = pd.DataFrame({safe_cell(str(name)): _safe(kept[name]) for name in kept.columns}, index=kept.index)
    return safe.to_csv(index=False, lineterminator="\n")


def safe_cell(text: str) -> str:
    """A text that a spreadsheet takes for text.

    >>> safe_cell("@SUM(A1)"), safe_cell("side")
    ("'@SUM(A1)", 'side')
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")  # a lone return would break the row in some readers
    return f"'{text}" if text.startswith(_FORMULA) else text


def data_address(text: str) -> str:
    """A CSV text as the address of a link.

    >>> data_address("a,b\\n")
    'data:text/csv;charset=utf-8,a,b%0A'
    """
    return f"data:text/csv;charset=utf-8,{quote(text, safe=_SAFE)}"


def _safe(cells: pd.Series) -> pd.Series:
    if cells.dtype.kind in "iufb":
        return (
            cells.replace({float("inf"): float("nan"), float("-inf"): float("nan")})
            if cells.dtype.kind == "f"
            else cells
        )
    return cells.map(lambda cell: safe_cell(cell) if isinstance(cell, str) else cell)
