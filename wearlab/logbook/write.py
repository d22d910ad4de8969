"""A Trial -> the text of a log that gives the same Trial when it is read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.logbook.columns import CLOCKS, COLUMNS, with_scope
from wearlab.logbook.safety import csv_text
from wearlab.logbook.trial import Trial

_READING_ORDER = [column.name for column in COLUMNS.values() if column.scope == "reading"]


@dataclass(frozen=True, slots=True)
class LogRows:
    """A trial as rows of a log: facts by cutter, and readings; cells are texts or numbers, missing ones None."""

    facts: dict[str, dict[str, Any]]
    readings: list[dict[str, Any]]

    def fact_names(self) -> list[str]:
        """Columns of the facts, in dictionary order."""
        return _in_order(self.facts.values())

    def reading_names(self) -> list[str]:
        """Columns of the readings, in dictionary order."""
        return _in_order(self.readings)


def _in_order(rows: Iterable[Mapping[str, Any]]) -> list[str]:
    held = {name for row in rows for name, cell in row.items() if cell is not None}
    return [name for name in COLUMNS if name in held]


def log_rows(trial: Trial) -> LogRows:
    """The rows of a trial, readings in order of cutters and looks, the end of each run last.

    Parameters
    ----------
    trial : Trial
        Rows that were set aside are not in it; they stand in the quarantine.
    """
    runs = trial.facts()
    names = [column.name for column in with_scope("cutter", "run", "condition") if column.name in runs]
    facts = {str(row["cutter"]): _cells(row, names) for row in _records(runs)}
    readings: list[tuple[str, int, int, dict[str, Any]]] = []
    for table in (trial.wear, trial.walls, trial.responses):
        for row in _records(table):
            cells = {"cutter": row["cutter"], "reading": row["inspection"]} | _cells(row, _READING_ORDER)
            readings.append((str(row["cutter"]), int(row["inspection"]), int(row["line"]), cells))
    order = {name: at for at, name in enumerate(facts)}
    readings.sort(key=lambda one: (order[one[0]], one[1], one[2]))
    ordered = [cells for *_, cells in readings]
    return LogRows(facts, [*ordered, *_ends(trial)])


def _ends(trial: Trial) -> list[dict[str, Any]]:
    rows = []
    for row in _records(trial.runs):
        if row["end_reason"]:
            clocks = {clock: _cell(row[clock]) for clock in CLOCKS}
            rows.append({"cutter": row["cutter"], **clocks, "measure": "end", "end_reason": row["end_reason"]})
    return rows


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    names = [str(name) for name in table.columns]
    return [dict(zip(names, row, strict=True)) for row in table.itertuples(index=False, name=None)]


def _cells(row: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {name: _cell(row[name]) for name in names if name in row and name not in ("reading", "cutter")}


def _cell(value: Any) -> Any:
    """None for a missing cell; numbers as they are."""
    if value is None or value == "" or value != value:
        return None
    return value.item() if hasattr(value, "item") else value


def cell_text(cell: Any) -> str:
    """Shortest digits that give a number back to the last bit; nothing for a missing cell.

    >>> cell_text(0.1), cell_text(12.0), cell_text(1e-05), cell_text(None)
    ('0.1', '12', '1e-05', '')
    """
    if cell is None:
        return ""
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)


def log_csv(trial: Trial) -> str:
    """The trial as a flat log: reading it gives the same tables to the last digit.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> log_csv(read_log(sample_path("taylor_T01"))).splitlines()[1]
    'v100,100,taylor_T01,41,end,worn'
    """
    rows = log_rows(trial)
    facts = [name for name in rows.fact_names() if name != "cutter"]
    readings = [name for name in rows.reading_names() if name != "cutter"]
    if not {"value", "unit"} <= set(readings) and any(row["measure"] != "end" for row in rows.readings):
        readings = [name for name in _READING_ORDER if name in {*readings, "value", "unit"}]
    header = ["cutter", *facts, "trial", *readings]
    lines = []
    for row in rows.readings:
        own = rows.facts[row["cutter"]]
        cells = [own.get(name) for name in facts] + [trial.name] + [row.get(name) for name in readings]
        lines.append([cell_text(cell) for cell in [row["cutter"], *cells]])
    return csv_text(header, lines)
