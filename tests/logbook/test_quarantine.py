"""What is set aside can be corrected and read back; corrections are visible, counted and never silent."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import openpyxl
import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook.corrections import Correction, corrections_csv, read_corrections
from wearlab.logbook.listing import findings_text
from wearlab.logbook.quarantine import corrections_from, quarantine_text
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial


def write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def table(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


@pytest.fixture
def spoilt(log):
    return log.spoil(4, value="worn").spoil(7, unit="").spoil(9, flute="x", note="=1+1").spoil(12, value="-0.1")


def test_the_quarantine_file_says_what_is_wrong(spoilt, read):
    rows = table(quarantine_text(read(spoilt)))
    assert [row["line"] for row in rows] == ["4", "7", "9", "12"]
    assert [row["why"] for row in rows] == ["not_a_number", "unit_missing", "unknown_flute", "negative_wear"]
    assert rows[0]["value"] == "worn"
    assert rows[0]["what"].startswith("'worn' is no number; allowed: a number")
    assert rows[3]["value"] == "-0.1"
    assert rows[0]["file"] == "log.csv"


def test_no_cell_of_the_quarantine_file_starts_a_formula(spoilt, read):
    text = quarantine_text(read(spoilt.spoil(4, value="@SUM(A1)")))
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert "'=1+1" in cells
    assert "'@SUM(A1)" in cells
    assert not [cell for cell in cells if cell[:1] in "=+@" and cell]


def test_corrected_rows_are_read_back(log, spoilt, tmp_path):
    path = write(tmp_path / "log.csv", spoilt.text())
    trial = read_log(path)
    rows = table(quarantine_text(trial))
    for row, (column, cell) in zip(
        rows, [("value", "0.114"), ("unit", "mm"), ("flute", "2"), ("value", "0.122")], strict=True
    ):
        row[column] = cell
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    corrected = write(tmp_path / "log.set-aside.csv", out.getvalue())
    corrections = corrections_from(corrected, trial, "AB", "2026-03-20")
    assert [(one.line, one.column, one.old, one.new) for one in corrections] == [
        (4, "value", "worn", "0.114"),
        (7, "unit", "", "mm"),
        (9, "flute", "x", "2"),
        (12, "value", "-0.1", "0.122"),
    ]
    write(tmp_path / "log.corrections.csv", corrections_csv(corrections))
    again = read_log(path)
    assert again.counts.rows_set_aside == 0
    assert again.counts.corrections == 4
    assert again.corrections[0].reason == "corrected in log.set-aside.csv"
    usual = log.spoil(12, value="0.122").spoil(9, note="=1+1")
    clean = read_log(write(tmp_path / "clean.csv", usual.text()), corrections=())
    assert again.wear.equals(clean.wear)
    said = [finding for finding in again.findings if finding.code == "corrected"]
    assert [finding.line for finding in said] == [4, 7, 9, 12]
    assert "value: 'worn' corrected to '0.114' (corrected in log.set-aside.csv, AB, 2026-03-20)" in said[0].text()


def test_a_quarantine_file_of_another_log_is_refused(log, spoilt, read, tmp_path):
    trial = read(spoilt)
    other = quarantine_text(read(log.spoil(5, value="x"), "other.csv"))
    path = write(tmp_path / "other.set-aside.csv", other.replace("other.csv", "log.csv"))
    with pytest.raises(FileProblem, match=r"line 5 of the log was not set aside.*Check it again"):
        corrections_from(path, trial)
    with pytest.raises(FileProblem, match="not a file of rows that were set aside"):
        corrections_from(write(tmp_path / "x.csv", "a,b\n1,2\n"), trial)


def test_crowded_rows_lose_nothing_and_can_be_put_in_order(log, tmp_path):
    path = write(tmp_path / "log.csv", log.spoil(4, value="0,114").text())
    trial = read_log(path)
    (row,) = table(quarantine_text(trial))
    assert row["more_cells"] == "mm"
    row |= {"value": "0.114", "unit": "mm"}
    text = ",".join(row) + "\n" + ",".join(f'"{cell}"' for cell in row.values()) + "\n"
    corrections = corrections_from(write(tmp_path / "q.csv", text), trial)
    assert read_log(path, corrections=corrections).counts.rows_set_aside == 0


# ------------------------------------------------------------------ the corrections file

HEAD = "line,column,old,new,reason,initials,date\n"


def test_a_corrections_file_beside_the_log_is_applied_and_counted(log, tmp_path):
    path = write(tmp_path / "log.csv", log.text())
    write(tmp_path / "corrections.csv", HEAD + "4,value,0.114,0.124,photograph says so,AB,2026-03-20\n")
    trial = read_log(path)
    assert trial.counts.corrections == 1
    assert trial.wear.loc[trial.wear["line"] == 4, "value"].item() == 0.124
    (said,) = [finding for finding in trial.findings if finding.code == "corrected"]
    assert said.severity == "note"
    assert said.text() == "log.csv, line 4, value: '0.114' corrected to '0.124' (photograph says so, AB, 2026-03-20)"


def test_a_row_may_be_withdrawn_with_a_reason(log, tmp_path):
    path = write(tmp_path / "log.csv", log.text())
    write(tmp_path / "log.corrections.csv", HEAD + "4,,,,measured the wrong cutter,AB,2026-03-20\n")
    trial = read_log(path)
    assert trial.counts.rows_set_aside == 1
    assert trial.errors() == 0
    assert trial.quarantine["why"].tolist() == ["row_withdrawn"]
    (said,) = [finding for finding in trial.findings if finding.code == "row_withdrawn"]
    assert said.text() == "log.csv, line 4, cutter E1: withdrawn (measured the wrong cutter, AB, 2026-03-20)"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("4,value,0.999,0.124,why not,AB,", "line 4 of log.csv holds '0.114' and not '0.999'"),
        ("4,colour,red,blue,why not,AB,", "log.csv has no column 'colour'"),
        ("99,value,0.114,0.124,why not,AB,", "line 99 of log.csv is no row"),
        ("4,value,0.114,0.124,,AB,", "no reason is given"),
        ("4,,0.114,,because,AB,", "no column is given"),
    ],
)
def test_a_correction_that_does_not_fit_is_not_applied(line, words, log, tmp_path):
    path = write(tmp_path / "log.csv", log.text())
    write(tmp_path / "corrections.csv", HEAD + line + "\n")
    trial = read_log(path)
    (said,) = [finding for finding in trial.findings if finding.code == "correction_not_applied"]
    assert (said.severity, said.file, said.line) == ("error", "corrections.csv", 2)
    assert words in said.text()
    assert trial.counts.corrections == 0
    assert trial.counts.rows_used == 16


def test_a_number_may_be_quoted_as_it_is_read(log, tmp_path):
    path = write(tmp_path / "log.csv", log.text())
    write(tmp_path / "corrections.csv", HEAD + "4,value,.1140,0.124,why not,AB,\n")
    assert read_log(path).counts.corrections == 1


@pytest.mark.parametrize(
    ("text", "words"),
    [("line,column\n4,value\n", "no column old"), (HEAD + "four,value,1,2,x,y,z\n", "line 'four' on line 2")],
)
def test_a_broken_corrections_file_is_refused(text, words, log, tmp_path):
    path = write(tmp_path / "log.csv", log.text())
    write(tmp_path / "corrections.csv", text)
    with pytest.raises(FileProblem, match=words):
        read_log(path)


def test_corrections_survive_writing_and_reading(tmp_path):
    made = [
        Correction(4, "value", "=1", "-0.5", "a, reason", "AB", "2026-03-20", "a.csv", at=2),
        Correction(5, "", "", "", "gone", "", "", "b.csv", at=3),
    ]
    assert read_corrections(write(tmp_path / "corrections.csv", corrections_csv(made))) == made


BENCH = """\
cutter,E7,,strategy,side
diameter_mm,wide,,teeth,2
zone lower,0.5 - 3,,,
reading,cutting_time_min,VB lower 1 [um],VB lower 2 [um],width 2 [mm],end_reason
1,5,60,66,12.01,
2,10,110,x,12.00,
3,15,15O,y1,11.99,worn
"""


def _round_trip(log: Path, aside: Path, *changes: tuple[str, str]) -> Trial:
    """Write the rows set aside, correct them, hand them back, and read the log again."""
    trial = read_log(log)
    text = quarantine_text(trial)
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    found = corrections_from(write(aside, text), trial, "AB", "2026-03-20")
    write(log.with_name(f"{log.stem}.corrections.csv"), corrections_csv(found))
    return read_log(log)


def test_rows_of_a_bench_sheet_are_corrected_one_cell_at_a_time(tmp_path):
    log = write(tmp_path / "log.csv", BENCH.replace("wide", "12"))
    again = _round_trip(log, tmp_path / "a.csv", ("VB,x,", "VB,118,"), ("VB,15O,", "VB,150,"), ("VB,y1,", "VB,155,"))
    assert again.counts.rows_set_aside == 0
    assert again.counts.corrections == 3
    assert again.wear["value_mm"].tolist() == pytest.approx([0.06, 0.066, 0.11, 0.118, 0.15, 0.155], rel=1e-12)
    said = [(finding.line, finding.column) for finding in again.findings if finding.code == "corrected"]
    assert said == [(6, "VB lower 2 [um]"), (7, "VB lower 1 [um]"), (7, "VB lower 2 [um]")]
    shown = findings_text(again.findings)
    assert "'15O' corrected to '150'" in shown
    assert "'y1' corrected to '155'" in shown


def test_the_head_of_a_bench_sheet_is_corrected_for_all_its_rows(tmp_path):
    log = write(tmp_path / "log.csv", BENCH.replace("15O", "150").replace("y1", "155").replace(",x,", ",118,"))
    assert read_log(log).counts.rows_used == 0
    write(
        tmp_path / "log.corrections.csv",
        "line,column,old,new,reason,initials,date\n2,diameter_mm,wide,12,drawing,AB,2026-03-20\n",
    )
    again = read_log(log)
    assert again.counts.rows_set_aside == 0
    assert again.cutters["diameter_mm"].tolist() == [12.0]


def test_what_a_heading_says_is_corrected_for_one_reading(tmp_path):
    log = write(tmp_path / "log.csv", BENCH.replace("wide", "12").replace("15O", "150").replace("y1", "155"))
    write(
        tmp_path / "log.corrections.csv",
        "line,column,old,new,reason,initials,date\n"
        "6,VB lower 2 [um],x,0.118,photograph,AB,2026-03-20\n"
        "6,VB lower 2 [um]: unit,um,mm,photograph,AB,2026-03-20\n",
    )
    again = read_log(log)
    assert again.counts.corrections == 2
    assert again.wear["value_mm"].tolist()[2:4] == pytest.approx([0.11, 0.118], rel=1e-12)


def test_lines_of_two_sheets_of_a_workbook_are_told_apart(tmp_path):
    book = openpyxl.Workbook()
    for at, cutter in enumerate(("E1", "E2")):
        sheet = book.active if at == 0 else book.create_sheet()
        sheet.title = cutter
        sheet.append(["cutter", cutter])
        sheet.append(["reading", "cutting_time_min", "VB lower 1 [um]"])
        sheet.append([1, 5, "x" if at else 60])
        sheet.append([2, 10, 110])
    book.save(tmp_path / "log.xlsx")
    trial = read_log(tmp_path / "log.xlsx")
    assert trial.quarantine[["file", "line", "cell"]].to_numpy().tolist() == [
        ["log.xlsx, sheet E2", 3, "VB lower 1 [um]"]
    ]
    again = _round_trip(tmp_path / "log.xlsx", tmp_path / "a.csv", ("VB,x,", "VB,61,"))
    assert again.counts.rows_set_aside == 0
    assert again.wear["value_mm"].tolist() == [0.06, 0.11, 0.061, 0.11]
