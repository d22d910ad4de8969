"""A pandas table -> one checked Trial: the same rules as for a file, for data that are in memory already."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.logbook.check import Incoming, check_sheets
from wearlab.logbook.files import Source
from wearlab.logbook.read import trial_of
from wearlab.logbook.settings import TrialSettings, settings_from
from wearlab.logbook.table import table_of_rows
from wearlab.logbook.trial import Trial


def _checked(frame: pd.DataFrame) -> None:
    if not isinstance(frame, pd.DataFrame):
        raise ArgumentError(
            f"a {type(frame).__name__}",
            where="trial_from_frame",
            allowed="a pandas DataFrame, one row a reading",
            hint="a file is read by read_log",
        )
    if frame.empty:
        raise ArgumentError("a table without rows", where="trial_from_frame", allowed="one row a reading")
    if isinstance(frame.columns, pd.MultiIndex):
        raise ArgumentError(
            "column names of several levels", where="trial_from_frame", allowed="one word over each column"
        )


def trial_from_frame(
    frame: pd.DataFrame,
    settings: TrialSettings | Mapping[str, Any] | None = None,
    *,
    columns: Mapping[str, str] | None = None,
    name: str = "table",
) -> Trial:
    """Check a table as a log and make a trial of it.

    Parameters
    ----------
    frame : pandas.DataFrame
        One row a reading, in the columns of the log; the index is not read. Missing values are blank cells, dates may
        be dates.
    settings : TrialSettings or mapping, optional
        What a trial file would state, as its keys: `{"trial": {"standard": "layered"}}`.
    columns : mapping of str to str, optional
        The table's own words and ours, where they differ: `{"Tool": "cutter"}`.
    name : str
        Name of the trial; stands where a finding names a file.

    Returns
    -------
    Trial
        A finding on line n is about row n - 2 of the table, counted from 0: the line that the row would have in the CSV
        that `frame.to_csv(index=False)` writes.

    Raises
    ------
    ArgumentError
        It is no table, or a table without rows.
    FileProblem
        No column bears a name of the log, or the settings cannot be understood.

    Examples
    --------
    >>> table = pd.DataFrame({"Tool": ["E1", "E1"], "Minutes": [10, 20], "Wear": [0.1, 0.2]})
    >>> table = table.assign(measure="VB", unit="mm")
    >>> words = {"Tool": "cutter", "Minutes": "cutting_time_min", "Wear": "value"}
    >>> trial_from_frame(table, columns=words)
    <Trial table: 1 cutter, 2 wear and 0 wall readings; 2 rows read, 2 used, 0 set aside>
    """
    _checked(frame)
    where = Path(name)
    made = settings if isinstance(settings, TrialSettings) else settings_from(dict(settings or {}), where)
    if columns:
        made = replace(made, columns=made.columns | settings_from({"columns": dict(columns)}, where).columns)
    cells = [[str(word) for word in frame.columns], *_texts(frame)]
    sheet = table_of_rows(enumerate(cells, start=1), made.columns, name, name, made.response_directions())
    data = "\n".join("\x1f".join(row) for row in cells).encode("utf-8")
    source = Source(name, hashlib.sha256(data).hexdigest(), len(data), "")
    return trial_of(name, check_sheets([Incoming(sheet, source)], made), (source,), made)


def _texts(frame: pd.DataFrame) -> list[list[str]]:
    """Cells as they would be typed, one list a row."""
    by_column = [[typed_text(cell) for cell in frame.iloc[:, at].astype(object)] for at in range(frame.shape[1])]
    return [list(row) for row in zip(*by_column, strict=True)]


def typed_text(cell: object) -> str:
    """A value as it would be typed into a log.

    >>> [typed_text(cell) for cell in (7.0, 0.1, float("nan"), None, True, pd.Timestamp("2026-03-14"), " E1 ")]
    ['7', '0.1', '', '', 'yes', '2026-03-14', 'E1']
    """
    if isinstance(cell, bool | np.bool_):
        return "yes" if cell else "no"
    if isinstance(cell, date):  # a pandas Timestamp is one too
        return "" if cell is pd.NaT else cell.isoformat()[:10]
    if cell is None or cell is pd.NA or cell is pd.NaT:
        return ""
    if isinstance(cell, float | np.floating):
        number = float(cell)
        whole = number.is_integer() and abs(number) < 1e15
        return "" if math.isnan(number) else f"{number:.0f}" if whole else str(cell)
    return str(cell).strip()
