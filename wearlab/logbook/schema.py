"""The pandera schema of the log, generated from the column dictionary, and its failures as findings."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, Any

from wearlab.logbook.columns import COLUMNS, Column
from wearlab.logbook.draft import Draft

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
        pattern = r"^(\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])([T ].*)?)?$"
        return [pa.Check.str_matches(pattern, error="not_iso_date")]
    return []


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
            "missing_cell": f"no {column.name} ({column.meaning})",
            "not_iso_date": f"{typed!r} is no ISO 8601 date",
            "not_whole": f"{typed} is no whole number",
        }.get(code, f"{typed} is outside the limits")
        draft.error(line, code, found, column=word, allowed=column.allowed(), hint=_hint(code, typed))


def _hint(code: str, typed: str) -> str:
    if code == "not_iso_date" and "/" in typed:
        first, _, rest = typed.partition("/")
        second = rest.partition("/")[0]
        return f"Day {first} of month {second}, or day {second} of month {first}? Write year-month-day"
    return ""
