"""No cell that leaves the program starts a formula, and reading takes the mark off again."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import FileProblem
from wearlab.logbook.cells import number_in, serial_date
from wearlab.logbook.read import read_log
from wearlab.logbook.safety import csv_text, safe_cell
from wearlab.logbook.write import log_csv


@given(st.text())
def test_a_cell_never_starts_a_formula(text):
    cell = safe_cell(text)
    assert cell[:1] not in ("=", "@", "\t", "\r")
    if cell[:1] in ("+", "-"):
        float(cell)
    assert cell.removeprefix("'") == text or cell == text


def test_csv_text_protects_header_and_cells():
    assert csv_text(["=a", "b"], [["+x", -1.5], [None, float("nan")]]) == "'=a,b\n'+x,-1.5\n,\n"


def test_a_protected_cell_is_read_without_its_mark(log, read, one):
    trial = read(log.spoil(4, note="'=cmd").spoil(5, note="'quoted'").spoil(6, value="'-0.1"))
    notes = dict(zip(trial.wear["line"], trial.wear["note"], strict=True))
    assert notes[4] == "=cmd"
    assert notes[5] == "'quoted'"
    assert one(trial, "negative_wear").line == 6
    marked = [finding for finding in trial.findings if finding.code == "protected_cells"]
    assert [finding.lines for finding in marked] == [(4,), (6,)]


def test_thousands_marks_that_leave_no_doubt():
    assert number_in("1,234.5") == 1234.5
    assert number_in("1.234,5", comma=True) == 1234.5
    assert number_in("1,234,567") == 1234567
    assert number_in("1 234") == number_in("1'234") == number_in("1\u202f234") == 1234
    assert number_in("-1,234.25") == -1234.25
    for text in ("1,250", "1.2.3", "12,34.5", "1,2345.6", "", "1 23", "٣", "1_000", "0x10"):
        assert number_in(text) != number_in(text), text


def test_thousands_marks_are_said(log, read, one):
    trial = read(log.everywhere(spindle_rpm="1857").spoil(4, spindle_rpm='"1,857.0"'))
    finding = one(trial, "thousands_mark")
    assert finding.severity == "note"
    assert "'1,857.0' was read as 1857" in finding.text()
    assert finding.lines == (4,)


# ------------------------------------------------------------------ cells that a spreadsheet mangled


@pytest.mark.parametrize(
    ("cell", "column", "words"),
    [
        ("1/4", "corner_radius_mm", "Write the fraction as 0.25"),
        ("1 3/16", "diameter_in", "Write the fraction as 1.1875"),
        ("4-Jan", "corner_radius_mm", "A spreadsheet turns fractions such as 1/4 into dates"),
        ("2026-01-04", "corner_radius_mm", "Was 1/4 (0.25) typed, and did a spreadsheet make a date of it?"),
        ("46026", "corner_radius_mm", "46026 is how a spreadsheet counts 2026-01-04: was 1/4 (0.25) typed?"),
        ("42430", "corner_radius_mm", "2016-03-01"),
    ],
)
def test_a_size_that_a_spreadsheet_made_a_date(cell, column, words, log, read):
    base = log.without("diameter_mm") if column == "diameter_in" else log
    trial = read(base.everywhere(**{column: "0.25"}).spoil(4, **{column: cell}))
    (finding,) = [f for f in trial.findings if f.severity == "error"]
    assert finding.line == 4
    assert words in finding.text()


def test_serial_numbers_of_dates():
    # Day 1 is 1900-01-01 and 1900 is counted as a leap year, so from 1 March 1900 on the count is from 1899-12-30.
    # 46026, 46097 and 46113 are 4 January, 16 March and 1 April 2026; 42430 is 1 March 2016; 11749 is 1 March 1932.
    for serial, day in (
        (46026, "2026-01-04"),
        (46097, "2026-03-16"),
        (46113, "2026-04-01"),
        (42430, "2016-03-01"),
        (11749, "1932-03-01"),
    ):
        found = serial_date(serial)
        assert found is not None
        assert found.isoformat() == day
    assert serial_date(9_999) is serial_date(60_001) is serial_date(46026.5) is None


def test_a_date_that_became_a_number(log, read, one):
    finding = one(read(log.everywhere(date="2026-03-14").spoil(4, date="46095")), "not_iso_date")
    assert "46095 is how a spreadsheet counts 2026-03-14" in finding.text()


def test_a_few_control_characters_are_shown_and_said(tmp_path: Path) -> None:
    # A bell and the like come from a terminal or a broken export; the log that is written must be readable again.
    path = tmp_path / "bell.csv"
    rows = ["cutter,cutting_time_min,measure,value,unit,note", "E1,5,VB,50,um,dull\x07 ring", "E1,9,VB,90,um,\ufffd"]
    path.write_text("\n".join(rows), encoding="utf-8")
    trial = read_log(path)
    assert trial.counts.rows_used == 2
    assert list(trial.wear["note"]) == ["dull\ufffd ring", "\ufffd"]
    assert any("control characters (1)" in finding.text() for finding in trial.findings)
    again = tmp_path / "again.csv"
    again.write_text(log_csv(trial), encoding="utf-8")
    assert list(read_log(again).wear["note"]) == list(trial.wear["note"])
    path.write_bytes(b"cutter,minutes\nE1,\x01\x02\x03\x04\n")
    with pytest.raises(FileProblem, match="not a text file"):
        read_log(path)
