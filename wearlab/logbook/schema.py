"""The pandera schema of the log, generated from the column dictionary, and its failures as findings."""

from __future__ import annotations

import re
import warnings
from datetime import datetime
from typing import TYPE_CHECKING, Any

from wearlab.logbook.columns import COLUMNS, Column
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import short

if TYPE_CHECKING:
    import pandera.pandas as pa


def log_schema(names: list[str] | None = None) -> pa.DataFrameSchema:
    """Schema of the typed log: numbers in standard units, missing numbers NaN, missing text empty.

    Parameters
    ----------
    names : list of str, optional
        Columns to require; all of the dictionary, none of them required, when left out.

    Examples
    --------
    >>> schema = log_schema(["cutter", "value"])
    >>> sorted(schema.columns)
    ['cutter', 'value']
    """
    import pandera.pandas as pa

    wanted = list(COLUMNS) if names is None else names
    return pa.DataFrameSchema(
        {name: _column(pa, COLUMNS[name], required=names is not None) for name in wanted if name in COLUMNS},
        name="wearlab log",
        strict=False,
    )


def _column(pa: Any, column: Column, required: bool) -> Any:
    facts = {"required": required, "title": column.meaning, "description": column.allowed(),
             "metadata": {"unit": column.unit, "need": column.need, "scope": column.scope}}  # fmt: skip
    if column.numeric:
        return pa.Column(float, _number_checks(pa, column), nullable=True, **facts)
    return pa.Column(object, _text_checks(pa, column), nullable=False, **facts)


def _number_checks(pa: Any, column: Column) -> list[Any]:
    checks = []
    if column.low is not None:
        check = pa.Check.gt if column.above else pa.Check.ge
        checks.append(check(column.low, error="out_of_range"))
    if column.high is not None:
        checks.append(pa.Check.le(column.high, error="out_of_range"))
    if column.kind == "integer" or column.name == "parts":
        checks.append(pa.Check(lambda cells: cells % 1 == 0, error="not_whole", ignore_na=True))
    return checks


def _text_checks(pa: Any, column: Column) -> list[Any]:
    if column.need == "required" and column.name != "unit":
        return [pa.Check(lambda cells: cells != "", error="missing_cell")]
    if column.kind == "date":
        return [pa.Check(lambda cells: cells.map({cell: is_iso_date(cell) for cell in cells.unique()}),
                         error="not_iso_date")]  # fmt: skip
    return []


def is_iso_date(text: str) -> bool:
    """Whether a cell is blank or a day of the calendar in ISO 8601, with or without the time of day.

    >>> is_iso_date("2026-02-28"), is_iso_date("2026-02-30"), is_iso_date("4.5.2026")
    (True, False, False)
    """
    if text == "":
        return True
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return bool(re.match(r"\d{4}-\d\d-\d\d", text))


def check_schema(draft: Draft) -> None:
    """Validate the typed cells lazily; every failing cell becomes an error of its row."""
    import pandera.pandas as pa

    rows = draft.data.astype({name: object for name in draft.data.columns if not COLUMNS[name].numeric})
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", FutureWarning)  # pandera's own, on the lowest versions
            log_schema(list(rows.columns)).validate(rows, lazy=True)
    except pa.errors.SchemaErrors as errors:
        _to_findings(draft, errors.failure_cases)


def _to_findings(draft: Draft, cases: Any) -> None:
    for case in cases.sort_values("index", kind="stable").to_dict("records"):
        line, column = int(case["index"]), COLUMNS[str(case["column"])]
        word, typed = draft.words[column.name], draft.as_typed(line, column.name)
        code = str(case["check"])
        found = {
            "missing_cell": f"the cell of {column.name} is blank",
            "not_iso_date": f"{short(typed)} is no ISO 8601 date",
            "not_whole": f"{short(typed)} is no whole number",
        }.get(code, f"{short(typed)} is outside the limits")
        draft.error(line, code, found, column=word, allowed=column.allowed(), hint=_hint(code, typed))


def _hint(code: str, typed: str) -> str:
    if code == "missing_cell":
        return "Fill it in from the bench sheet"
    if code != "not_iso_date":
        return "Correct it from the bench sheet; does the unit in the column's name fit?"
    parts = re.match(r"^(\d{1,2})[/.\- ](\d{1,2})[/.\- ](\d{4})$", typed)
    if parts is None:
        return "Write year-month-day"
    first, second, year = int(parts[1]), int(parts[2]), parts[3]
    readings = [f"{year}-{month:02d}-{day:02d}" for day, month in dict.fromkeys([(first, second), (second, first)])
                if is_iso_date(f"{year}-{month:02d}-{day:02d}")]  # fmt: skip
    return f"{' or '.join(readings)}? Write year-month-day" if readings else "Write year-month-day"
