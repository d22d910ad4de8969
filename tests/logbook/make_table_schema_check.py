"""Make `table_schema_check.json`: what an independent validator says of `table_schema_check.csv`.

Run by hand, in an environment that holds frictionless (5.21.0 was used, November 2026) and this project:

    python tests/logbook/make_table_schema_check.py

The CSV holds every column of the dictionary, one or two cells a row that may break a limit, seed 20261101. The JSON
lists row (file line), field and kind of every error. Do not edit either by hand.
"""

from __future__ import annotations

import csv
import json
import tempfile
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
SEED = 20261101


def cells_of(column, rng: np.random.Generator) -> str:
    """A cell that may or may not keep the limits of a column."""
    if column.numeric:
        low, high = float(column.low), float(column.high)
        inside = low + 0.37 * (high - low)
        pool = [low, high, low - 1, high + 1, inside, -inside]
        value = pool[rng.integers(len(pool))]
        if column.kind == "integer":
            return str(int(value)) if rng.random() < 0.8 else "x7"
        return f"{value:.6f}" if rng.random() < 0.9 else "about 3"
    if column.kind == "choice":
        words = [*column.choices, "nonsense"]
        return words[rng.integers(len(words))]
    if column.kind == "date":
        return ["2026-03-14", "2026-02-30", "14.3.2026", "2026-13-01"][rng.integers(4)]
    return "" if rng.random() < 0.3 else "some text"


def table() -> list[list[str]]:
    """Header and rows: a sound reading each, two of its cells replaced."""
    from wearlab.logbook.columns import COLUMNS

    rng = np.random.default_rng(SEED)
    sound = {"cutter": "E1", "measure": "VB", "value": "0.1", "unit": "mm", "cutting_time_min": "5"}
    names = list(COLUMNS)
    rows = [names]
    for at in range(400):
        row = dict.fromkeys(names, "") | sound | {"reading": str(at), "repeat": "1"}
        for name in (names[at % len(names)], names[rng.integers(len(names))]):
            row[name] = cells_of(COLUMNS[name], rng)
        rows.append([row[name] for name in names])
    return rows


def main() -> None:
    """Write both files."""
    from frictionless import Detector, Resource, Schema, __version__, system

    from wearlab.logbook.document import table_schema_descriptor

    path = HERE / "table_schema_check.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, lineterminator="\n").writerows(table())
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / "schema.json"
        written.write_text(json.dumps(table_schema_descriptor()), encoding="utf-8")
        system.trusted = True  # the schema lies outside the folder of the table
        schema = Schema.from_descriptor(str(written))
        resource = Resource(path=str(path), schema=schema, detector=Detector(schema_sync=True))
        report = resource.validate(limit_errors=100_000)
    errors = sorted(report.flatten(["rowNumber", "fieldName", "type"]), key=str)
    answer = {"program": f"frictionless {__version__}", "seed": SEED, "errors": errors}
    (HERE / "table_schema_check.json").write_text(json.dumps(answer, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
