"""Documents made from the column dictionary: the README's table and the published Table Schema.

Table Schema is the open Frictionless standard for describing a table in JSON.
"""

from __future__ import annotations

from typing import Any

from wearlab.logbook.columns import COLUMNS, MEASURES, Column

_SCOPES = {
    "cutter": "the cutter",
    "condition": "the condition",
    "run": "the run",
    "reading": "a reading",
    "trial": "the trial",
}
_NEEDS = {"required": "required", "expected": "expected", "optional": ""}


def columns_markdown() -> str:
    """The columns of the log as a Markdown table, in dictionary order.

    >>> columns_markdown().splitlines()[0]
    '| column | meaning | allowed | also as | belongs to | need |'
    """
    lines = ["| column | meaning | allowed | also as | belongs to | need |", "|---|---|---|---|---|---|"]
    for column in COLUMNS.values():
        also = ", ".join(f"`{name}`" for name, _ in column.also)
        cells = [f"`{column.name}`", column.meaning, column.allowed(), also, _SCOPES[column.scope], _need(column)]
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _need(column: Column) -> str:
    if column.family == "clock":
        return "one clock is required"
    if column.family and column.need == "expected":
        return "expected, one of its kind"
    return _NEEDS[column.need]


def measures_markdown() -> str:
    """The words of the column `measure` as a Markdown table."""
    lines = ["| measure | meaning | runs | needs |", "|---|---|---|---|"]
    for measure in MEASURES.values():
        needs = ", ".join(f"`{name}`" for name in measure.needs)
        lines.append(f"| `{measure.name}` | {measure.meaning} | {measure.direction} | {needs} |")
    return "\n".join(lines) + "\n"


def table_schema_descriptor() -> dict[str, Any]:
    """The log as a Table Schema descriptor.

    Returns
    -------
    dict
        With `fields`, `missingValues` and, for each field, name, type, title, constraints, and the unit and scope as
        properties of our own.
    """
    return {
        "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
        "fields": [_field(column) for column in COLUMNS.values()],
        "missingValues": ["", "na", "n/a", "nan", "-", "--", "null"],
    }


def _field(column: Column) -> dict[str, Any]:
    kind = {"number": "number", "integer": "integer", "date": "date"}.get(column.kind, "string")
    constraints: dict[str, Any] = {}
    if column.need == "required":
        constraints["required"] = column.name not in ("value", "unit")
    if column.low is not None:
        constraints["exclusiveMinimum" if column.above else "minimum"] = column.low
    if column.high is not None:
        constraints["maximum"] = column.high
    if column.choices and not column.open_choice:
        constraints["enum"] = list(column.choices)
    field: dict[str, Any] = {
        "name": column.name,
        "type": kind,
        "title": column.meaning,
        "description": column.allowed(),
    }
    if constraints:
        field["constraints"] = constraints
    return field | {
        "wearlab:unit": column.unit,
        "wearlab:scope": column.scope,
        "wearlab:need": column.need,
        "wearlab:also": [name for name, _ in column.also],
    }
