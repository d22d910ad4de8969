"""What is made from the dictionary says the same as the reader: blank logs, and the published Table Schema."""

from __future__ import annotations

import csv
import importlib.util
import json
from pathlib import Path

from wearlab.logbook.columns import CLOCKS, COLUMNS
from wearlab.logbook.read import read_log
from wearlab.logbook.template import USUAL, blank_log

HERE = Path(__file__).parent
CELL_CODES = {"out_of_range", "not_a_number", "unknown_word", "missing_cell", "not_iso_date", "not_whole"}


def test_an_independent_validator_blames_the_same_cells():
    # frictionless 5.21.0 with the Table Schema of the dictionary; see make_table_schema_check.py.
    answer = json.loads((HERE / "table_schema_check.json").read_text(encoding="utf-8"))
    theirs = {(line, field) for line, field, _ in answer["errors"]}
    trial = read_log(HERE / "table_schema_check.csv")
    ours = {(finding.line, finding.column) for finding in trial.findings if finding.code in CELL_CODES}
    assert len(theirs) == 281
    assert ours == theirs


def test_the_reference_table_is_the_one_of_its_generator():
    spec = importlib.util.spec_from_file_location("make_table_schema_check", HERE / "make_table_schema_check.py")
    assert spec is not None
    assert spec.loader is not None
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    with (HERE / "table_schema_check.csv").open(encoding="utf-8", newline="") as lines:
        assert list(csv.reader(lines)) == maker.table(), (
            "the dictionary has changed: run make_table_schema_check.py again"
        )


def test_a_blank_log_holds_every_expected_column_in_words_that_are_read(tmp_path):
    words = blank_log().splitlines()[0].split(",")
    assert words == list(USUAL)
    assert set(words) <= set(COLUMNS)
    missing = {column.name for column in COLUMNS.values() if column.need != "optional"} - set(words)
    assert not missing
    assert set(words) & set(CLOCKS)
    path = tmp_path / "trial.csv"
    path.write_text(blank_log(), encoding="utf-8")
    assert {finding.code for finding in read_log(path).findings} == {"no_rows"}


def test_printed_rows_that_nobody_filled_in_are_skipped_and_counted(log, read, one):
    spoilt = log.spoil(4, value="", cutting_time_min="").spoil(9, value="", cutting_time_min="")
    trial = read(spoilt)
    assert trial.counts.rows_read == 14
    assert dict(trial.counts.lines_skipped) == {"not filled in": 2}
    assert one(trial, "lines_skipped").lines == (4, 9)
    assert set(trial.wear["line"]) == set(range(2, 18)) - {4, 9}


def test_a_row_without_a_clock_and_with_a_value_is_no_blank_row(log, read):
    assert read(log.spoil(4, cutting_time_min="")).counts.rows_set_aside == 1


def test_a_look_at_the_clock_alone_is_a_row(log, read):
    assert read(log.spoil(4, value="")).counts.rows_used == 16


def test_a_column_that_is_blank_throughout_is_not_recorded(log, read, one):
    trial = read(log.everywhere(diameter_mm="", coating="", spindle_rpm="1857"))
    finding = one(trial, "column_not_recorded")
    assert "column diameter_mm is blank in every row (cutting diameter DC). Without it there is no" in finding.text()
    assert "coating" not in trial.cutters
    assert trial.cutters.columns.tolist() == read(log.without("diameter_mm"), "b.csv").cutters.columns.tolist()


def test_another_of_its_kind_makes_up_for_a_blank_column(log, read):
    trial = read(log.everywhere(cutting_speed_m_min="", spindle_rpm="1857"))
    assert "column_not_recorded" not in {finding.code for finding in trial.findings}
    assert trial.conditions["cutting_speed_m_min"].round(2).tolist() == [70.01]
