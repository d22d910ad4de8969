"""The pandera schema of the log, generated from the column dictionary: the published form of its rules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wearlab.logbook.cell_rules import is_iso_date, may_not_be_blank, must_be_whole
from wearlab.logbook.columns import COLUMNS, Column

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
    facts = {
        "required": required,
        "title": column.meaning,
        "description": column.allowed(),
        "metadata": {"unit": column.unit, "need": column.need, "scope": column.scope},
    }
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
    if must_be_whole(column):
        checks.append(pa.Check(lambda cells: cells % 1 == 0, error="not_whole", ignore_na=True))
    return checks


def _text_checks(pa: Any, column: Column) -> list[Any]:
    if may_not_be_blank(column):
        return [pa.Check(lambda cells: cells != "", error="missing_cell")]
    if column.kind == "date":
        return [pa.Check(lambda cells: cells.map(is_iso_date), error="not_iso_date")]
    return []
