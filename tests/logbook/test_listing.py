"""Findings on paper: grouped where one cause hits many rows, complete in CSV and JSON."""

from __future__ import annotations

import csv
import io

from wearlab.logbook.findings import Finding, Findings, count, listed
from wearlab.logbook.listing import findings_csv, findings_text, grouped_findings, line_ranges


def test_one_cause_on_many_rows_is_one_line(log, read):
    trial = read(log.everywhere(date="04/05/2026").spoil(9, value="x").spoil(17, date=""))
    text = findings_text(trial.findings)
    errors = text.split("\n\n")[0].splitlines()
    assert errors[0] == "Errors: these rows were set aside (16)"
    assert len(errors) == 3
    assert errors[1].startswith("- log.csv, line 2, cutter E1, date: '04/05/2026' is no ISO 8601 date")
    assert errors[1].endswith("Write year-month-day. So too on lines 3 to 16 (cutters E1 and E2)")
    assert errors[2].startswith("- log.csv, line 9, cutter E1, value: 'x' is no number")
    assert text.split("\n\n")[-1].startswith("Notes: facts and assumptions")


def test_groups_keep_order_and_count_everything(log, read):
    findings = read(log.spoil(12, value="x").spoil(4, value="y").spoil(3, unit="")).findings
    groups = grouped_findings(findings)
    assert sum(group.count for group in groups) == len(findings)
    assert [(g.first.code, g.lines) for g in groups if g.first.severity == "error"] == [
        ("unit_missing", (3,)),
        ("not_a_number", (4, 12)),
    ]
    assert groups[1].cutters == ("E1", "E2")


def test_csv_and_json_hold_every_finding(log, read):
    findings = read(log.spoil(4, value="=x").spoil(5, value="")).findings
    rows = list(csv.DictReader(io.StringIO(findings_csv(findings))))
    made = [finding.to_dict() for finding in findings]
    assert len(rows) == len(made) == len(findings)
    assert list(rows[0]) == list(made[0])
    assert rows[0]["line"] == "4"
    assert made[0]["line"] == 4
    assert made[0]["lines"] == [4]
    assert {row["severity"] for row in rows} <= {"error", "warning", "note"}


def test_no_finding():
    assert findings_text(()) == "Nothing found."


def test_findings_are_a_sequence_that_counts_without_sentences():
    made: list[int] = []

    def make() -> list[Finding]:
        made.append(1)
        return [Finding("note", "b", "x"), Finding("error", "a", "y", line=9), Finding("error", "a", "y", line=2)]

    findings = Findings({"error": 2, "warning": 0, "note": 1}, make)
    assert (len(findings), findings.count_of("error"), count(findings, "note"), bool(findings)) == (3, 2, 1, True)
    assert not made
    assert [finding.line for finding in findings] == [2, 9, None]
    assert findings[0].line == 2
    assert len(findings[:2]) == 2
    assert findings == Findings.of(make()) == tuple(findings)
    assert hash(findings) == hash(Findings.of(make()))
    assert made == [1, 1, 1]
    assert repr(findings) == "<Findings: 2 errors, 1 note>"


def test_sentences_of_many():
    assert listed([1]) == "1"
    assert listed([]) == ""
    assert line_ranges([5]) == "5"
    assert line_ranges(range(1, 60, 2), most=3) == "1, 3, 5 and 27 more"


def test_lines_that_are_skipped_are_told_apart(log, read):
    first, *rest = log.text().splitlines()
    text = "\n".join(["Trial of March,,", first, *rest[:4], ",,,,,,", "# new bar", *rest[4:], "Total,,,,,,,,,,,"])
    shown = findings_text(read(text).findings)
    for words in ("line 1: 1 title line skipped", "line 7: 1 blank line", "line 8: 1 comment line", "1 total line"):
        assert words in shown


def test_two_causes_of_one_kind_are_two_lines(log, read):
    shown = findings_text(read(log.spoil(4, value="=0.1+1").spoil(6, value="1/4").spoil(8, value="1/8")).findings)
    assert "line 4, cutter E1, value: '=0.1+1' is no number" in shown
    assert "Write the fraction as 0.25. So too on line 8" in shown
