"""Plant one entry slip in a clean log, and say what was planted: the material of a study of how slips are
caught."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import nearest
from wearlab.simulate.slips import Edit, NoPlace, Slip
from wearlab.simulate.slips_cells import CELL_SLIPS
from wearlab.simulate.slips_rows import ROW_SLIPS
from wearlab.simulate.table import log_text

if TYPE_CHECKING:
    import pandas as pd

SLIPS: dict[str, Slip] = CELL_SLIPS | ROW_SLIPS
"""Every slip by its name."""


@dataclass(frozen=True)
class Planted:
    """A log with one slip in it.

    Attributes
    ----------
    slip : str
        Its name.
    table : pandas.DataFrame
        Cells as text, rows numbered from 0.
    rows : tuple of int
        Rows of `table` that are wrong now; for a row left out, those that should have had it among them.
    columns : tuple of str
        Columns that are wrong.
    cutters : tuple of str
        Cutters as they stand in those rows.
    what : str
        What was done, in words.
    """

    slip: str
    table: pd.DataFrame
    rows: tuple[int, ...]
    columns: tuple[str, ...]
    cutters: tuple[str, ...]
    what: str

    @property
    def lines(self) -> tuple[int, ...]:
        """Lines of the file that `text` gives, counted from 1; the header is line 1."""
        return tuple(row + 2 for row in self.rows)

    def text(self) -> str:
        """The log as a flat CSV."""
        return table_text(self.table)


def slip_names() -> list[str]:
    """Names of the slips.

    >>> slip_names()[:3]
    ['ten_fold_up', 'ten_fold_down', 'swapped_digits']
    """
    return list(SLIPS)


def plant(rows: pd.DataFrame | str, slip: str, rng: int | np.random.Generator | None = None) -> Planted:
    """Plant one slip at a place drawn at random; the log that was given stays as it is.

    Parameters
    ----------
    rows : pandas.DataFrame or str
        A clean log in the columns of the log: its text, a table of text cells, or the rows of a simulated
        trial.
    slip : str
        One of `slip_names`.
    rng : int, numpy.random.Generator or None
        Passed to `numpy.random.default_rng`.

    Raises
    ------
    ArgumentError
        No slip has that name.
    Refusal
        The log has no place for it.

    Examples
    --------
    >>> log = "cutter,cutting_time_min,measure,flute,value,unit\\nE1,4,VB,1,0.12,mm\\n"
    >>> planted = plant(log, "ten_fold_up", rng=1)
    >>> planted.what, planted.lines
    ('E1: value 0.12 -> 1.2', (2,))
    """
    if slip not in SLIPS:
        names = slip_names()
        raise ArgumentError(
            f"slip {slip!r}", where="plant", allowed=", ".join(names), hint=nearest(slip, names)
        )
    table = as_text_table(rows)
    try:
        edit = SLIPS[slip].plant(table, np.random.default_rng(rng))
    except NoPlace as none:
        raise Refusal(f"the log has no place for the slip {slip}: {none}") from None
    return _planted(slip, edit)


def as_text_table(rows: pd.DataFrame | str) -> pd.DataFrame:
    """A log as a table of text cells, always a new one; a missing cell is an empty text."""
    import pandas as pd

    if isinstance(rows, str):
        header, *records = list(csv.reader(io.StringIO(rows, newline="")))
        return pd.DataFrame(records, columns=pd.Index(header, dtype=object), dtype=object)
    if any(kind in "iuf" for kind in (dtype.kind for dtype in rows.dtypes)):
        return as_text_table(log_text(rows))
    return rows.astype(object).reset_index(drop=True)


def table_text(table: pd.DataFrame) -> str:
    """A table of text cells as a flat CSV; cells with a comma are quoted."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows(table.itertuples(index=False, name=None))
    return out.getvalue()


def _planted(slip: str, edit: Edit) -> Planted:
    rows = tuple(sorted(int(row) for row in edit.rows))
    cutters = tuple(dict.fromkeys(edit.table["cutter"].iloc[list(rows)]))
    return Planted(slip, edit.table, rows, edit.columns, cutters, edit.what)
