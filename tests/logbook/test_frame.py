"""A pandas table as a log: the same trial as from the file, and the same findings."""

from __future__ import annotations

import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, FileProblem
from wearlab.logbook.frame import trial_from_frame
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_names, sample_path
from wearlab.logbook.settings import settings_beside

TABLES = ("cutters", "conditions", "runs", "wear", "walls", "responses", "quarantine")


@pytest.mark.parametrize("name", sample_names())
def test_a_table_that_pandas_has_read_makes_the_same_trial_as_its_file(name: str) -> None:
    path = sample_path(name)
    of_file = read_log(path)
    frame = pd.read_csv(path, comment="#", dtype={"cutter": str})
    of_table = trial_from_frame(frame, settings_beside(path), name=of_file.name)
    assert of_table.counts.rows_used == of_file.counts.rows_used
    for table in TABLES:
        made, expected = getattr(of_table, table), getattr(of_file, table)
        drop = [column for column in ("line", "typed", "file") if column in made]
        pd.testing.assert_frame_equal(made.drop(columns=drop), expected.drop(columns=drop))


def lands(**more: object) -> pd.DataFrame:
    table = pd.DataFrame({"cutter": ["E1"] * 3, "cutting_time_min": [10.0, 20.0, 30.0], "measure": "VB"})
    return table.assign(value=[0.1, 0.2, 0.31], unit="mm", **more)


def test_every_way_in_which_pandas_writes_nothing_is_a_blank_cell() -> None:
    for nothing in (None, np.nan, pd.NA, pd.NaT, ""):
        table = lands()
        table["value"] = pd.Series([0.1, nothing, 0.31], dtype=object)
        trial = trial_from_frame(table)
        assert trial.counts.rows_set_aside == 0
        assert trial.wear["value_mm"].isna().tolist() == [False, True, False]


def test_whole_numbers_that_pandas_made_floats_stay_whole_numbers() -> None:
    trial = trial_from_frame(lands(teeth=[4.0, np.nan, 4.0], reading=pd.array([1, 2, 3], dtype="Int64")))
    assert trial.errors() == 0
    assert trial.cutters["teeth"].tolist() == [4]


def test_dates_and_truths_are_read_as_they_would_be_typed() -> None:
    days = [datetime.date(2026, 3, 2), pd.Timestamp("2026-03-03 10:00"), datetime.datetime(2026, 3, 4, 12)]
    trial = trial_from_frame(lands(date=pd.Series(days, dtype=object), centre_cutting=True))
    assert trial.errors() == 0
    assert trial.cutters["centre_cutting"].tolist() == ["yes"]


def test_own_words_are_mapped_beside_those_of_the_settings() -> None:
    table = lands().rename(columns={"cutter": "Tool", "value": "Wear"})
    trial = trial_from_frame(table, {"columns": {"Wear": "value"}}, columns={"Tool": "cutter"})
    assert trial.counts.rows_used == 3
    with pytest.raises(FileProblem, match=r"'cuter'.*Did you mean cutter"):
        trial_from_frame(table, columns={"Tool": "cuter"})


def test_a_finding_names_the_line_of_the_same_table_as_a_file(tmp_path: Path) -> None:
    table = lands()
    table["value"] = ["0.1", "oops", "0.31"]
    path = tmp_path / "mine.csv"
    table.to_csv(path, index=False)
    of_file, of_table = read_log(path).findings, trial_from_frame(table, name="mine.csv").findings
    assert of_table[0].line == 3
    assert "oops" in of_table[0].found
    assert [(one.line, one.code) for one in of_table] == [(one.line, one.code) for one in of_file]


def test_the_table_is_left_as_it_was() -> None:
    table = lands()
    before = table.copy()
    trial_from_frame(table)
    pd.testing.assert_frame_equal(table, before)


@pytest.mark.parametrize(
    ("table", "problem", "message"),
    [
        ("log.csv", ArgumentError, "a str.*read_log"),
        (pd.DataFrame(), ArgumentError, "without rows"),
        (pd.DataFrame({("a", "b"): [1]}), ArgumentError, "several levels"),
        (pd.DataFrame({"x": [1]}), FileProblem, "no column name of the log"),
    ],
)
def test_what_is_no_log_is_refused(table: pd.DataFrame, problem: type[Exception], message: str) -> None:
    with pytest.raises(problem, match=message):
        trial_from_frame(table)
