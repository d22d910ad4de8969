"""Every defect that a shop's log may have gets a clear word: a finding, or a refusal; never a traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook.read import read_log

# What the log is made into, and what the only finding of that code must say. Lines are file lines.
ONE_ROW: dict[str, tuple[Callable, str, str, str]] = {
    "unit missing": (
        lambda log: log.spoil(4, unit=""),
        "unit_missing",
        "unit",
        "a value without a unit; allowed: um, mm, thou, in",
    ),
    "unknown unit": (
        lambda log: log.spoil(4, unit="furlong"),
        "unknown_unit",
        "unit",
        "'furlong' is not known; allowed: um, mm",
    ),
    "text in a number": (
        lambda log: log.spoil(4, value="worn"),
        "not_a_number",
        "value",
        "'worn' is no number; allowed: a number",
    ),
    "unit in a number": (lambda log: log.spoil(4, value="0.1 mm"), "not_a_number", "value", "Write the number alone"),
    "a formula": (lambda log: log.spoil(4, value="=0.1+0.2"), "not_a_number", "value", "never worked out"),
    "not finite": (lambda log: log.spoil(4, value="inf"), "not_a_number", "value", "'inf' is no number"),
    "overflow": (lambda log: log.spoil(4, value="1e400"), "out_of_range", "value", "'1e400' is outside the limits"),
    "negative wear": (
        lambda log: log.spoil(4, value="-0.1"),
        "negative_wear",
        "value",
        "VB -0.1 mm is negative; allowed: 0 or more",
    ),
    "quoted decimal comma": (
        lambda log: log.spoil(4, value='"0,114"'),
        "not_a_number",
        "value",
        "Write 0.114 with a point",
    ),
    "thousands mark": (
        lambda log: log.everywhere(spindle_rpm="1857").spoil(4, spindle_rpm='"1,857"'),
        "not_a_number",
        "spindle_rpm",
        "Write 1857 without a thousands mark, or 1.857 with a point",
    ),
    "fraction made a date": (
        lambda log: log.spoil(4, axial_depth_mm="4-Jan"),
        "not_a_number",
        "axial_depth_mm",
        "fractions such as 1/4",
    ),
    "half a reading": (lambda log: log.spoil(4, reading="1.5"), "not_whole", "reading", "'1.5' is no whole number"),
    "a depth of zero": (
        lambda log: log.spoil(4, axial_depth_mm="0"),
        "out_of_range",
        "axial_depth_mm",
        "above 0 mm up to 500 mm",
    ),
    "duplicate reading": (
        lambda log: log.again(4),
        "duplicate_reading",
        "value",
        "the same reading on lines 4 and 18; allowed: one row a reading",
    ),
    "unknown measure": (
        lambda log: log.spoil(4, measure="VD"),
        "unknown_measure",
        "measure",
        "'VD' is not known; allowed: VB, VBmax",
    ),
    "unknown flute": (
        lambda log: log.spoil(4, flute="x"),
        "unknown_flute",
        "flute",
        "'x' is not known; allowed: 1, 2, ..., mean, worst",
    ),
    "flute beyond teeth": (
        lambda log: log.spoil(4, flute="5"),
        "flute_beyond_teeth",
        "flute",
        "flute 5 of a cutter with 2 teeth; allowed: 1 to 2",
    ),
    "blank cutter": (lambda log: log.spoil(4, cutter=""), "missing_cell", "cutter", "the cell of cutter is blank"),
    "blank measure": (lambda log: log.spoil(4, measure=""), "missing_cell", "measure", "the cell of measure is blank"),
    "blank clock": (
        lambda log: log.spoil(4, cutting_time_min=""),
        "no_clock",
        "cutting_time_min",
        "no clock on this row; allowed: at least one of",
    ),
    "clock of one row off": (
        lambda log: log.spoil(4, cutting_time_min="50"),
        "clock_differs_within_reading",
        "cutting_time_min",
        "is 50; allowed: 10, half of the rows of this reading say so",
    ),
    "date that is not ISO 8601": (
        lambda log: log.everywhere(date="2026-03-14").spoil(4, date="04/05/2026"),
        "not_iso_date",
        "date",
        "'04/05/2026' is no ISO 8601 date; allowed: a date such as 2026-03-14. 2026-05-04 or 2026-04-05?",
    ),
    "date with one meaning": (
        lambda log: log.everywhere(date="2026-03-14").spoil(4, date="14.3.2026"),
        "not_iso_date",
        "date",
        ". 2026-03-14? Write year-month-day",
    ),
    "day that no calendar has": (
        lambda log: log.everywhere(date="2026-02-28").spoil(4, date="2026-02-30"),
        "not_iso_date",
        "date",
        "'2026-02-30' is no ISO 8601 date",
    ),
    "unknown word": (
        lambda log: log.everywhere(coolant="dry").spoil(4, coolant="floood"),
        "unknown_word",
        "coolant",
        "'floood' is none of the known words; allowed: dry, air, mist, flood, through. Did you mean flood?",
    ),
    "wall without a height": (
        lambda log: log.spoil(4, measure="width", value="12.01"),
        "fact_missing",
        "height_mm",
        "measure width and no height_mm",
    ),
}


@pytest.mark.parametrize("name", ONE_ROW)
def test_one_bad_row_is_set_aside_and_named(name, log, read, one):
    spoil, code, column, words = ONE_ROW[name]
    spoilt = spoil(log)
    trial = read(spoilt)
    finding = one(trial, code)
    line = 18 if name == "duplicate reading" else 4
    assert (finding.severity, finding.line, finding.column) == ("error", line, column)
    assert finding.cutter == ("" if name == "blank cutter" else "E1")
    assert words in finding.text()
    assert finding.file == "log.csv"
    assert finding.hint
    assert trial.quarantine["line"].tolist() == [line]
    assert trial.quarantine["why"].tolist() == [code]
    assert trial.counts.rows_used == len(spoilt.rows) - 1
    assert set(trial.wear["line"]) == set(range(2, len(spoilt.rows) + 2)) - {line}


def test_the_clean_log_has_no_error_and_no_warning(log, read):
    trial = read(log)
    assert {finding.severity for finding in trial.findings} == {"note"}
    assert trial.counts.rows_used == 16
    assert trial.quarantine.empty


def test_conflicting_readings_are_all_set_aside(log, read):
    trial = read(log.again(4, value="0.2"))
    found = [f for f in trial.findings if f.code == "conflicting_readings"]
    assert [f.line for f in found] == [4, 18]
    assert "lines 4 and 18 with different values" in found[0].text()
    assert trial.counts.rows_set_aside == 2


def test_time_going_back_names_its_bounds(log, read):
    trial = read(log.spoil(4, cutting_time_min="50").spoil(5, cutting_time_min="50"))
    found = [f for f in trial.findings if f.code == "time_goes_back"]
    assert [f.line for f in found] == [4, 5]
    assert "cutting_time_min 50 goes back; allowed: at least 5 (the reading before) and at most 15" in found[0].text()


def test_two_ends_of_one_cutter(log, read):
    trial = read(log.everywhere(end_reason="").spoil(4, end_reason="worn").spoil(6, end_reason="broken"))
    found = [f for f in trial.findings if f.code == "two_end_reasons"]
    assert [f.line for f in found] == [4, 6]
    assert "Lines 4 and 6 disagree" in found[0].text()


def test_misspelt_header_is_not_used_and_the_right_word_named(log, read, one):
    trial = read(log.text(header={"diameter_mm": "diametre_mm"}))
    assert (
        "'diametre_mm' is not known and was not used. Did you mean diameter_mm?" in one(trial, "unknown_column").text()
    )
    lost = one(trial, "column_not_recorded")
    assert (lost.severity, lost.column) == ("warning", "diameter_mm")
    assert "Without it there is no cutting speed from rev/min" in lost.text()
    assert trial.counts.rows_used == 16


@pytest.mark.parametrize("column", ["cutter", "measure", "value", "unit", "cutting_time_min"])
def test_without_a_required_column_every_row_is_set_aside(column, log, read, one):
    trial = read(log.without(column))
    finding = one(trial, "missing_column")
    assert (finding.severity, finding.line, finding.column) == ("error", 1, column)
    assert "Every row was set aside" in finding.hint
    assert trial.counts.rows_set_aside == 16
    assert not [f for f in trial.findings if f.severity == "error" and f.code != "missing_column"]


def test_a_log_without_a_measure_column_that_knows_ends(read):
    trial = read("cutter,cutting_time_min,end_reason\nE1,40,worn\n")
    hints = {f.column: f.hint for f in trial.findings if f.code == "missing_column"}
    assert set(hints) == {"measure", "value", "unit"}
    assert "has the measure end in every row" in hints["measure"]


def test_a_log_of_ends_alone_is_a_full_citizen(read):
    trial = read("cutter,cutting_time_min,measure,end_reason\nE1,40,end,worn\nE2,50,end,budget\n")
    assert trial.errors() == 0
    assert trial.runs["end_reason"].tolist() == ["worn", "budget"]
    assert trial.runs["cutting_time_min"].tolist() == [40.0, 50.0]


@pytest.mark.parametrize(
    ("word", "question"),
    [("depth", "Axial or radial?"), ("DOC", "Axial or radial?"), ("feed", "Per tooth, per revolution or per minute?"),
     ("Speed", "Cutting speed or revolutions?"), ("wear", "Which land and which unit?")],
)  # fmt: skip
def test_a_bare_word_is_refused_with_its_question(word, question, log, read, one):
    trial = read(log.text(header={"axial_depth_mm": word}))
    finding = one(trial, "ambiguous_column")
    assert finding.severity == "error"
    assert question in finding.hint
    assert finding.column == word
    assert trial.conditions["axial_depth_mm"].isna().all()


def test_two_units_for_one_quantity(log, read, one):
    finding = one(read(log.everywhere(axial_depth_in="0.118")), "two_columns_for_one")
    assert "'axial_depth_mm' and 'axial_depth_in' hold the same quantity" in finding.text()
    assert "Only 'axial_depth_mm' was used" in finding.hint


def test_a_header_word_twice(log, read, one):
    text = "\n".join(line + (",zone" if at == 0 else ",") for at, line in enumerate(log.text().splitlines()))
    assert one(read(text), "two_columns_for_one").column == "zone"


# ------------------------------------------------------------------ how the file is written

WRITTEN: dict[str, tuple[Callable, dict[str, str]]] = {
    "byte-order mark": (
        lambda log: b"\xef\xbb\xbf" + log.text().encode(),
        {"encoding": "read as UTF-8 with byte-order mark"},
    ),
    "UTF-16": (lambda log: log.text().encode("utf-16"), {"encoding": "read as UTF-16"}),
    "UTF-16 without a mark": (
        lambda log: log.text().encode("utf-16-le"),
        {"encoding": "read as UTF-16 without byte-order mark"},
    ),
    "UTF-16, other order": (
        lambda log: log.text().encode("utf-16-be"),
        {"encoding": "read as UTF-16 without byte-order mark"},
    ),
    "semicolons": (lambda log: log.text(";").encode(), {"delimiter": "cells are divided by semicolon"}),
    "tabs": (lambda log: log.text("\t").encode(), {"delimiter": "cells are divided by tab"}),
    "decimal commas": (
        lambda log: log.text(";").replace(".", ",").encode(),
        {"delimiter": "cells are divided by semicolon", "decimal_comma": "in the whole file"},
    ),
    "line ends of other systems": (lambda log: log.text().replace("\n", "\r\n").encode(), {}),
    "old line ends": (lambda log: log.text().replace("\n", "\r").encode(), {}),
    "units row": (
        lambda log: _second_line(log, ",,mm,,,,m/min,mm,mm,mm,,min,,,,,"),
        {"lines_skipped": "1 units line skipped"},
    ),
    "units in brackets": (
        lambda log: _second_line(log, "-,-,[mm],-,-,-,(m/min),[mm],[mm],[mm],-,[min],-,-,-,[mm],-"),
        {"lines_skipped": "1 units line skipped"},
    ),
    "total row": (
        lambda log: (log.text() + "Total:,,,,,,,,,,,40,,,,,\n").encode(),
        {"lines_skipped": "1 total line skipped"},
    ),
    "title lines": (
        lambda log: ("Trial of March\n\n" + log.text()).encode(),
        {"lines_skipped": "1 title line skipped"},
    ),
    "comments": (
        lambda log: (log.text() + "# E2 was, as it were, tired\n").encode(),
        {"lines_skipped": "1 comment line skipped"},
    ),
    "header again": (
        lambda log: (log.text() + log.text().splitlines()[0] + "\n").encode(),
        {"lines_skipped": "1 repeated header line skipped"},
    ),
    "blank lines": (lambda log: (log.text() + "\n,,,,\n").encode(), {"lines_skipped": "2 blank lines skipped"}),
    "trailing commas": (lambda log: log.text().replace("\n", ",,,\n").encode(), {}),
    "cells in blanks": (lambda log: log.spoil(4, cutter=" E1 ", value=" 0.114").text().encode(), {}),
}


def _second_line(log, units: str) -> bytes:
    return log.text().replace("\n", f"\n{units}\n", 1).encode()


@pytest.mark.parametrize("name", WRITTEN)
def test_the_same_log_however_it_is_written(name, log, read):
    write, notes = WRITTEN[name]
    usual, other = read(log), read(write(log), "other.csv")
    assert other.wear.drop(columns=["line", "value"]).equals(usual.wear.drop(columns=["line", "value"]))
    assert other.conditions.equals(usual.conditions)
    assert not [f for f in other.findings if f.severity != "note"]
    said = [(f.code, f.text()) for f in other.findings]
    for code, words in notes.items():
        assert any(code == other_code and words in text for other_code, text in said)


def test_western_letters_without_unicode(log, read, one):
    trial = read(log.everywhere(note="Schlüter").text().encode("cp1252"))
    assert set(trial.wear["note"]) == {"Schlüter"}
    assert one(trial, "encoding").found == "read as Windows-1252"


def test_lines_are_counted_as_an_editor_counts_them(log, read, one):
    text = log.spoil(4, note='"two\nlines"').spoil(6, unit="x").text()
    assert one(read(text), "unknown_unit").line == 7


def test_a_cutter_may_be_called_like_a_comment_or_a_total(log, read):
    rows = [{**row, "cutter": {"E1": "#3", "E2": "Sum"}[row["cutter"]]} for row in log.rows]
    trial = read(type(log)(rows))
    assert trial.runs["cutter"].tolist() == ["#3", "Sum"]
    assert trial.counts.rows_read == 16


def test_leading_zeros_of_a_cutter_are_kept(log, read):
    trial = read(log.everywhere(cutter="007").only(2, 4))
    assert trial.runs["cutter"].tolist() == ["007"]


# ------------------------------------------------------------------ lines that do not hang together


def test_crowded_rows_are_set_aside(log, read):
    trial = read(log.spoil(4, value="0,114"))
    (found,) = [f for f in trial.findings if f.severity == "error"]
    assert (found.code, found.line) == ("too_many_cells", 4)
    assert (
        "18 cells under 17 column names; allowed: up to 17 cells. A decimal comma, or a comma in a note?"
        in found.text()
    )


@pytest.mark.parametrize("line", [2, 9, 17])
def test_a_quote_that_never_closes_swallows_nothing(line, log, read, one):
    trial = read(log.spoil(line, cutter_material='"carbide'))
    finding = one(trial, "quote_never_closes")
    assert finding.line == line
    assert trial.counts.rows_read == 16
    assert trial.quarantine["line"].tolist() == [line]


def test_two_stray_quotes_swallow_nothing(log, read):
    trial = read(log.spoil(4, cutter_material='"carbide').spoil(9, cutter_material='carbide"'))
    assert trial.counts.rows_read == 16
    assert [f.line for f in trial.findings if f.severity == "error"] == [4]


def test_an_inch_mark_is_no_quote(log, read):
    trial = read(log.everywhere(note='1/2" mill'))
    assert trial.errors() == 0
    assert set(trial.wear["note"]) == {'1/2" mill'}


def test_header_only(log, read, one):
    trial = read(log.text().splitlines()[0] + "\n")
    assert one(trial, "no_rows").severity == "error"
    assert trial.counts.rows_read == 0


def test_a_very_long_cell_is_kept_and_shortened_in_the_message(log, read, one):
    finding = one(read(log.spoil(4, zone="z" * 200_000)), "own_word")
    assert "(200000 characters)" in finding.text()
    assert len(finding.text()) < 300


# ------------------------------------------------------------------ what is no log at all

REFUSED: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "an empty file; allowed: a header line and rows"),
    "blank": (b" \n\n \t\n", "an empty file"),
    "only a byte-order mark": (b"\xef\xbb\xbf", "an empty file"),
    "zeros": (b"\0" * 100, "not a text file"),
    "binary junk": (bytes(range(256)) * 20, "not a text file; allowed: a CSV file"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + b"\x01" * 100, "not a text file"),
    "a nul in the text": (b"cutter,measure\nE\x001,VB\n", "not a text file"),
    "prose": (b"hello world\nthis is not a log\n", "no header line"),
    "one word": (b"x", "no header line"),
    "a web page": (b"<html><body><table><tr><td>cutter</td></tr></table></body></html>", "no header line"),
    "a cell without end": (b"cutter,measure\n" + b"x" * 1_100_000, "line 2 cannot be split into cells"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_log_is_refused(name, tmp_path: Path):
    data, words = REFUSED[name]
    path = tmp_path / "log.csv"
    path.write_bytes(data)
    with pytest.raises(FileProblem, match=words) as problem:
        read_log(path)
    assert problem.value.where == str(path)


def test_no_such_file_names_the_nearest(tmp_path: Path):
    (tmp_path / "trial.csv").write_text("x", encoding="utf-8")
    with pytest.raises(FileProblem, match=r"trail\.csv: no such file\. Did you mean trial\.csv\?"):
        read_log(tmp_path / "trail.csv")
    with pytest.raises(FileProblem, match=r"no such file\. Check the folder's name"):
        read_log(tmp_path / "nothing" / "like it.csv")
