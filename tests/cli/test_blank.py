"""A blank log and the columns."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wearlab.cli.main import run
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.read import read_log
from wearlab.logbook.template import USUAL


def _run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as stop:
        run([str(one) for one in arguments])
    return int(stop.value.code or 0)


def test_blank_log_is_read_without_an_error(tmp_path: Path) -> None:
    path = tmp_path / "trial.csv"
    assert _run("blank", path) == 0
    trial = read_log(path)
    assert trial.counts.rows_read == 0
    assert {one.code for one in trial.findings if one.severity == "error"} == {"no_rows"}
    assert not [
        one for one in trial.findings if one.code in ("unknown_column", "column_not_recorded", "missing_column")
    ]


def test_a_filled_line_is_a_reading(tmp_path: Path) -> None:
    path = tmp_path / "trial.csv"
    _run("blank", path)
    cells = {"cutter": "E1", "cutting_time_min": "12.5", "measure": "VB", "value": "0.08", "unit": "mm"}
    path.write_text(path.read_text() + ",".join(cells.get(name, "") for name in USUAL) + "\n")
    trial = read_log(path)
    assert trial.counts.rows_used == 1
    assert trial.errors() == 0


def test_required_and_expected_columns_are_there() -> None:
    for column in COLUMNS.values():
        if column.need in ("required", "expected"):
            assert column.name in USUAL, column.name


def test_table_schema_and_columns(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _run("blank", "--table-schema", tmp_path / "c.json") == 0
    assert [field["name"] for field in json.loads((tmp_path / "c.json").read_text())["fields"]] == list(COLUMNS)
    assert _run("blank", "--table-schema", tmp_path / "c.json") == 0, "the same again is no conflict"
    (tmp_path / "c.json").write_text("mine")
    assert _run("blank", "--table-schema", tmp_path / "c.json") == 2
    assert (tmp_path / "c.json").read_text() == "mine"
    capsys.readouterr()
    assert _run("blank", "--columns") == 0
    assert "| `axial_depth_mm` |" in capsys.readouterr().out
