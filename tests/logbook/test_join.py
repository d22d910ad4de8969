"""Several files, or a folder, as one log: the order of files does not matter, and nothing is counted twice."""

from __future__ import annotations

import itertools

import pandas as pd
import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook.read import logs_in, read_logs
from wearlab.logbook.workbook_write import trial_workbook


def same_tables(one, other):
    for name in ("cutters", "conditions", "runs", "wear", "walls", "responses"):
        a, b = (getattr(trial, name).drop(columns="line", errors="ignore") for trial in (one, other))
        pd.testing.assert_frame_equal(a, b, check_exact=True)


@pytest.fixture
def halves(log, tmp_path):
    """The log in two files, one cutter in each; the second in inches of depth and with its columns turned round."""
    first, second = log.only(*range(2, 10)), log.only(*range(10, 18))
    turned = [dict(reversed(row.items())) for row in second.without("axial_depth_mm").rows]
    inches = [row | {"axial_depth_in": "0.125"} for row in turned]
    folder = tmp_path / "march"
    folder.mkdir()
    (folder / "a.csv").write_text(first.text(), encoding="utf-8")
    (folder / "b.csv").write_text(type(log)(inches).text(";"), encoding="utf-8")
    return folder


def test_a_folder_is_one_log(halves):
    trial = read_logs([halves])
    assert trial.counts.rows_read == trial.counts.rows_used == 16
    assert trial.runs["cutter"].tolist() == ["E1", "E2"]
    assert trial.conditions["axial_depth_mm"].tolist() == [3.0, 3.175]
    assert [source.name for source in trial.sources] == ["a.csv", "b.csv"]
    assert trial.name == "march"


def test_the_order_of_files_does_not_matter(log, tmp_path):
    texts = [log.only(*lines).text() for lines in ((2, 3, 10, 11), (4, 5, 6, 12), (7, 8, 9, 13, 14, 15, 16, 17))]
    trials = []
    for names in itertools.permutations(["a.csv", "b.csv", "c.csv"]):
        folder = tmp_path / "".join(names)
        folder.mkdir()
        for name, text in zip(names, texts, strict=True):
            (folder / name).write_text(text, encoding="utf-8")
        trials.append(read_logs([folder / name for name in names]))
    for trial in trials[1:]:
        same_tables(trials[0], trial)


def test_without_reading_numbers_the_clock_orders_several_files(log, tmp_path):
    late, early = log.without("reading").only(6, 7, 8, 9), log.without("reading").only(2, 3, 4, 5)
    (tmp_path / "a.csv").write_text(late.text(), encoding="utf-8")
    (tmp_path / "b.csv").write_text(early.text(), encoding="utf-8")
    trial = read_logs([tmp_path])
    assert trial.errors() == 0
    assert trial.wear["cutting_time_min"].tolist() == [5, 5, 10, 10, 15, 15, 20, 20]


def test_findings_name_their_file(halves):
    text = (halves / "b.csv").read_text(encoding="utf-8").splitlines()
    text[3] = text[3].replace("mm", "furlong")
    (halves / "b.csv").write_text("\n".join(text), encoding="utf-8")
    trial = read_logs([halves])
    (finding,) = [f for f in trial.findings if f.severity == "error"]
    assert (finding.code, finding.file, finding.line, finding.cutter) == ("unknown_unit", "b.csv", 4, "E2")
    assert trial.quarantine["file"].tolist() == ["b.csv"]


def test_the_same_file_twice_is_read_once(halves):
    (halves / "copy of a.csv").write_bytes((halves / "a.csv").read_bytes())
    trial = read_logs([halves])
    assert trial.counts.rows_read == 16
    (finding,) = [f for f in trial.findings if f.code == "same_file_twice"]
    assert "copy of a.csv has the same content as a.csv and was read once" in finding.text()


def test_a_reading_that_stands_in_two_files_is_used_once(log, tmp_path):
    (tmp_path / "a.csv").write_text(log.only(*range(2, 10)).text(), encoding="utf-8")
    (tmp_path / "b.csv").write_text(log.only(9, *range(10, 18)).text(), encoding="utf-8")
    trial = read_logs([tmp_path])
    (finding,) = [f for f in trial.findings if f.code == "duplicate_reading"]
    assert (finding.file, finding.line) == ("b.csv", 2)
    assert "the same reading on lines 9 of a.csv and 2" in finding.text()
    assert trial.counts.rows_used == 16


def test_one_of_several_files_without_a_column(log, tmp_path):
    (tmp_path / "a.csv").write_text(log.only(*range(2, 10)).text(), encoding="utf-8")
    (tmp_path / "b.csv").write_text(log.only(*range(10, 18)).without("unit").text(), encoding="utf-8")
    trial = read_logs([tmp_path])
    assert (trial.counts.rows_used, trial.counts.rows_set_aside) == (8, 8)
    assert set(trial.quarantine["why"]) == {"missing_column"}
    assert set(trial.quarantine["file"]) == {"b.csv"}


def test_a_workbook_and_a_csv(log, read, tmp_path):
    whole = read(log, "whole.csv")
    folder = tmp_path / "mixed"
    folder.mkdir()
    (folder / "a.csv").write_text(log.only(*range(2, 10)).text(), encoding="utf-8")
    (folder / "b.xlsx").write_bytes(trial_workbook(read(log.only(*range(10, 18)), "part.csv")))
    trial = read_logs([folder])
    assert trial.counts.rows_used == 16
    assert trial.wear["value_mm"].tolist() == whole.wear["value_mm"].tolist()


def test_corrections_of_a_folder_name_their_file(halves):
    head = "file,line,column,old,new,reason,initials,date\n"
    (halves / "corrections.csv").write_text(
        head + "b.csv,2,value,0.072,0.073,photograph,AB,2026-03-20\n", encoding="utf-8"
    )
    trial = read_logs([halves])
    assert trial.counts.corrections == 1
    (said,) = [f for f in trial.findings if f.code == "corrected"]
    assert (said.file, said.line) == ("b.csv", 2)


def test_what_the_program_wrote_is_no_log(halves):
    for name in ("a.corrections.csv", "corrections.csv", "a.set-aside.csv", "~$b.xlsx", ".hidden.csv"):
        (halves / name).write_text("line,column\n", encoding="utf-8")
    assert [path.name for path in logs_in(halves)] == ["a.csv", "b.csv"]


def test_a_folder_without_a_log_is_refused(tmp_path):
    (tmp_path / "notes.txt").write_text("x", encoding="utf-8")
    with pytest.raises(FileProblem, match=r"a folder without a log; allowed: files that end in \.csv, \.tsv, \.xlsx"):
        read_logs([tmp_path])
    with pytest.raises(FileProblem, match="no log; allowed: one file or more"):
        read_logs([])


def test_trial_files_must_agree(halves):
    (halves / "a.toml").write_text("[decision]\nmargin = 1.5\n", encoding="utf-8")
    assert read_logs([halves]).settings.margin == 1.5
    (halves / "b.toml").write_text("[decision]\nmargin = 1.6\n", encoding="utf-8")
    with pytest.raises(FileProblem, match=r"different trial files \(a\.toml and b\.toml\)"):
        read_logs([halves])


def test_trials_of_different_names_are_a_doubt(log, read, one):
    other = type(log)([row | {"trial": "T2" if i > 7 else "T10"} for i, row in enumerate(log.rows)])
    trial = read(other)
    assert "the log names 2 trials: T2 and T10" in one(trial, "two_trials").text()
    assert trial.name == "T2"
