"""No cell that leaves the program starts a formula, and reading takes the mark off again."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from wearlab.logbook.cells import number_in
from wearlab.logbook.safety import csv_text, safe_cell


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
