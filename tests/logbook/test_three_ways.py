"""Flat CSV, workbook and bench sheet: three ways in, one Trial to the last digit."""

from __future__ import annotations

import io
import struct
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, FileProblem
from wearlab.logbook.bench import heading_words, parse_heading
from wearlab.logbook.bench_write import bench_csv, bench_pages, bench_workbook, blank_bench_page
from wearlab.logbook.columns import COLUMNS, MEASURES
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_names, sample_path
from wearlab.logbook.settings import _SECTIONS
from wearlab.logbook.trial import Trial
from wearlab.logbook.workbook_write import TRIAL_KEYS, blank_workbook, trial_workbook
from wearlab.logbook.write import cell_text, log_csv

WAYS = {
    "flat.csv": lambda trial: log_csv(trial).encode(),
    "book.xlsx": trial_workbook,
    "bench.csv": lambda trial: bench_csv(bench_pages(trial)).encode(),
    "bench.xlsx": lambda trial: bench_workbook(bench_pages(trial)),
}


def assert_same(one: Trial, other: Trial) -> None:
    """All tables alike to the last bit; only the lines on which rows stand differ."""
    assert one.name == other.name
    for name in ("cutters", "conditions", "runs", "wear", "walls", "responses"):
        a, b = (getattr(trial, name) for trial in (one, other))
        a, b = (table.drop(columns="line", errors="ignore") for table in (a, b))
        pd.testing.assert_frame_equal(a, b, check_exact=True, obj=name)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", sample_names())
def test_every_sample_through_every_way(name, way, tmp_path):
    trial = read_log(sample_path(name))
    path = tmp_path / way
    path.write_bytes(WAYS[way](trial))
    again = read_log(path, trial.settings)
    assert again.counts.rows_set_aside == 0
    assert_same(trial, again)


@pytest.mark.parametrize("way", WAYS)
def test_writing_twice_changes_nothing(way, log, read, tmp_path):
    trial = read(log.everywhere(note="=1+1", zone_from_mm="0", zone_to_mm="3").spoil(4, value=""))
    for step in range(2):
        path = tmp_path / f"{step}{way}"
        path.write_bytes(WAYS[way](trial))
        again = read_log(path)
        assert_same(trial, again)
        trial = again
    assert set(trial.wear["note"]) == {"=1+1"}


cutters = st.sampled_from(["E1", "E2", "007", "-x", "@7", "a,b", 'q"q'])
numbers = st.floats(1e-6, 4.9, allow_nan=False).map(lambda x: float(f"{x:.12g}") if x > 0.1 else x)


@st.composite
def small_logs(draw: st.DrawFn) -> str:
    rows = []
    for cutter in draw(st.lists(cutters, min_size=1, max_size=3, unique=True)):
        note = draw(st.sampled_from(["", "=a", "plain", "+49"]))
        teeth, diameter = draw(st.sampled_from(["", "4"])), cell_text(draw(st.floats(0.2, 400)))
        for look in range(draw(st.integers(1, 3))):
            minutes = cell_text(draw(st.floats(10.0 * look + 1, 10.0 * look + 9)))
            for zone in draw(
                st.lists(st.sampled_from(["", "lower", "rib foot", "corner"]), min_size=1, max_size=3, unique=True)
            ):
                value = draw(st.one_of(st.just(""), numbers.map(cell_text)))
                flute = draw(st.sampled_from(["", "1", "mean"]))
                rows.append([cutter, teeth, diameter, str(look), minutes, "VB", zone, flute, value, "mm", note, ""])
        if draw(st.booleans()):
            rows.append([cutter, teeth, diameter, "", cell_text(31.5), "end", "", "", "", "", "", "worn"])
    header = [
        "cutter",
        "teeth",
        "diameter_mm",
        "reading",
        "cutting_time_min",
        "measure",
        "zone",
        "flute",
        "value",
        "unit",
        "note",
        "end_reason",
    ]
    out = io.StringIO()
    pd.DataFrame(rows, columns=header).to_csv(out, index=False)
    return out.getvalue()


@settings(
    max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(text=small_logs())
def test_read_write_read_is_the_identity(tmp_path: Path, text: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    trial = read_log(path)
    for way, write in WAYS.items():
        other = tmp_path / way
        other.write_bytes(write(trial))
        assert_same(trial, read_log(other))


# ------------------------------------------------------------------ headings of the bench sheet


@pytest.mark.parametrize(
    ("word", "measure", "facts"),
    [
        ("VB lower 1 [um]", "VB", {"unit": "um", "zone": "lower", "flute": "1"}),
        ("vb F2", "VB", {"flute": "F2"}),
        ("VBmax corner mean", "VBmax", {"zone": "corner", "flute": "mean"}),
        ("corner 3", "corner", {"flute": "3"}),
        ("VB", "VB", {}),
        ("width 2.5 [mm]", "width", {"unit": "mm", "height_mm": "2.5"}),
        ("wall left 2", "wall", {"side": "left", "height_mm": "2"}),
        ("hang_up 12.5 #2", "hang_up", {"repeat": "2", "pin_mm": "12.5"}),
        ("floor_radius", "floor_radius", {}),
    ],
)
def test_headings_are_understood(word, measure, facts):
    heading = parse_heading(word)
    assert heading is not None
    assert (heading.measure, heading.facts) == (measure, facts)


@pytest.mark.parametrize("word", ["reading", "parts", "end", "note", "", "width_of_slot", "VBX lower 1"])
def test_what_names_no_measure_is_no_heading(word):
    assert parse_heading(word) is None


@pytest.mark.parametrize("measure", [name for name in MEASURES if name != "end"])
def test_headings_come_back(measure):
    cells = {"unit": "mm", "repeat": "2"}
    if MEASURES[measure].table == "wear":
        cells |= {"zone": "lower", "flute": "1"}
    elif "side" in MEASURES[measure].needs:
        cells |= {"side": "left", "height_mm": "2"}
    else:
        cells |= {"pin_mm" if measure == "hang_up" else "height_mm": "2"}
    heading = parse_heading(heading_words(measure, cells))
    assert heading is not None
    assert heading.facts == cells


# ------------------------------------------------------------------ bench sheets as people fill them

BENCH = """\
Bench sheet of March,,,,
cutter,E7,,strategy,side
diameter_mm,12,,teeth,2
zone lower,0.5 - 3,,bar,
,,,,
reading,cutting_time_min,VB lower 1 [um],VB lower 2 [um],width 2 [mm],note,end_reason
1,5,60,66,12.01,,
2,10,110,x,,sharp noise,
3,15,,,,,
4,,,,,,
5,20,200,210,/,,worn
"""


def test_a_bench_sheet_is_read(read):
    trial = read(BENCH)
    assert trial.counts.rows_read == 12
    assert dict(trial.counts.lines_skipped) == {"not filled in": 1}
    assert trial.wear["value_mm"].dropna().tolist() == [0.06, 0.066, 0.11, 0.2, 0.21]
    assert set(trial.wear["zone_to_mm"]) == {3.0}
    assert trial.walls["value_mm"].tolist()[0] == 12.01
    assert len(trial.walls) == 3
    assert trial.runs["end_reason"].tolist() == ["worn"]
    assert trial.conditions["strategy"].tolist() == ["side"]


def test_a_finding_names_the_cell_of_the_bench_sheet(read, one):
    finding = one(read(BENCH), "not_a_number")
    assert (finding.file, finding.line, finding.column, finding.cutter) == ("log.csv", 8, "VB lower 2 [um]", "E7")


def test_a_bad_cell_of_the_head_is_one_finding(read):
    found = [
        f for f in read(BENCH.replace("diameter_mm,12,", "diameter_mm,wide,")).findings if f.column == "diameter_mm"
    ]
    assert [(f.line, f.rows) for f in found] == [(3, 12)]


def test_several_cutters_on_one_page(read):
    trial = read(BENCH + "\n" + BENCH.replace("E7", "E8"))
    assert trial.runs["cutter"].tolist() == ["E7", "E8"]
    assert trial.counts.rows_read == 24


def test_a_blank_bench_sheet_is_one_that_nobody_filled_in(read):
    trial = read(bench_csv([blank_bench_page("E1", flutes=2, lines=3)]))
    assert [f.code for f in trial.findings if f.severity == "error"] == ["no_rows"]
    assert dict(trial.counts.lines_skipped) == {"not filled in": 3}
    assert sum(word.startswith("VB ") for word in blank_bench_page(flutes=3).headings) == 12
    assert {name for name, _ in blank_bench_page().head} <= set(COLUMNS)
    with pytest.raises(ArgumentError, match=r"flutes = 0; allowed: 1 to 200"):
        blank_bench_page(flutes=0)


# ------------------------------------------------------------------ workbooks as people fill them


def book(**sheets: list[list[object]]) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.worksheets[0])
    for title, rows in sheets.items():
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


CUTTERS = [["cutter", "diameter_mm", "teeth", "strategy"], ["E1", 12, 2, "layered"], ["E2", 12, 2, "side"]]
READINGS = [
    ["cutter", "reading", "cutting_time_min", "measure", "zone", "flute", "value", "unit"],
    ["E1", 1, 5, "VB", "lower", 1, 60, "um"], ["E1", 2, 10, "VB", "lower", 1, 110, "um"],
    ["E2", 1, 5, "VB", "lower", 1, 61.5, "um"], ["E2", 2, 10, "VB", "lower", 1, 112, "um"],
]  # fmt: skip


def test_a_workbook_is_read(read):
    trial = read(book(Cutters=CUTTERS, Readings=READINGS), "trial.xlsx")
    assert trial.wear["value_mm"].tolist() == [0.06, 0.11, 0.0615, 0.112]
    assert trial.conditions["strategy"].tolist() == ["layered", "side"]
    assert trial.counts.rows_used == 4
    assert trial.sources[0].name == "trial.xlsx"


def test_a_finding_names_the_sheet(read, one):
    spoilt = [row.copy() for row in CUTTERS]
    spoilt[2][1] = "wide"
    finding = one(read(book(Cutters=spoilt, Readings=READINGS), "trial.xlsx"), "not_a_number")
    assert (finding.file, finding.line, finding.column, finding.rows) == (
        "trial.xlsx, sheet Cutters",
        3,
        "diameter_mm",
        2,
    )
    spoilt = [row.copy() for row in READINGS]
    spoilt[3][7] = None
    finding = one(read(book(Cutters=CUTTERS, Readings=spoilt), "trial.xlsx"), "unit_missing")
    assert (finding.file, finding.line, finding.cutter) == ("trial.xlsx, sheet Readings", 4, "E2")


def test_cutters_that_do_not_match_are_named(read, one):
    trial = read(
        book(Cutters=[*CUTTERS[:2], ["E1", 10, 2, "side"], ["E9", 12, 2, "side"]], Readings=READINGS), "t.xlsx"
    )
    assert "cutter E2 has readings and no row among the cutters" in one(trial, "cutter_not_listed").text()
    assert "cutter E9 has no reading" in one(trial, "cutter_without_readings").text()
    finding = one(trial, "cutter_listed_twice")
    assert (finding.severity, finding.line) == ("error", 3)
    assert trial.cutters["diameter_mm"].tolist()[0] == 12


def test_the_sheet_of_the_trial_holds_its_settings(read):
    rows = [["key", "value"], ["trial.question", "which?"], ["criterion", "lower:VB.mean=0.2mm", "roughing"],
            ["decision.margin", 1.5], ["zones.corner", 0, 0.5], ["response.spindle_load", "%", "rises"],
            ["columns.tool", "cutter"], ["trial.seed", 7]]  # fmt: skip
    trial = read(book(Trial=rows, Cutters=[["tool", *CUTTERS[0][1:]], *CUTTERS[1:]], Readings=READINGS), "t.xlsx")
    assert trial.settings.question == "which?"
    assert trial.settings.criteria[0].name == "roughing"
    assert trial.settings.margin == 1.5
    assert trial.settings.zones == {"corner": (0.0, 0.5)}
    assert trial.settings.responses["spindle_load"].unit == "%"
    assert trial.settings.seed == 7
    assert trial.cutters["diameter_mm"].tolist() == [12, 12]


def test_a_sheet_of_the_trial_that_cannot_be_understood_is_refused(read):
    with pytest.raises(FileProblem, match=r"key 'margn' in \[decision\].*Did you mean margin"):
        read(book(Trial=[["decision.margn", 2]], Cutters=CUTTERS, Readings=READINGS), "t.xlsx")
    with pytest.raises(FileProblem, match="'question' on line 1 of the sheet Trial"):
        read(book(Trial=[["question", "which?"]], Cutters=CUTTERS, Readings=READINGS), "t.xlsx")


def test_a_flat_sheet_in_a_workbook(log, read, one):
    rows = [log.header(), *([row[name] for name in log.header()] for row in log.rows)]
    trial = read(book(Notes=[["hello"]], Log=[["Trial of March"], [], *rows]), "t.xlsx")
    assert trial.counts.rows_used == 16
    assert "only the sheet Log was read; not Notes" in one(trial, "sheets_not_read").text()
    assert_same(read(log, "t.csv"), trial)


def test_ids_dates_and_formulas_of_a_workbook(read, one):
    made = openpyxl.load_workbook(io.BytesIO(book(Cutters=CUTTERS, Readings=READINGS)))
    cutters, readings = made["Cutters"], made["Readings"]
    for sheet, line in ((cutters, 2), (readings, 2), (readings, 3)):
        sheet.cell(line, 1, 7).number_format = "000"
    readings.cell(3, 7, "=100+10")
    readings.cell(1, 9, "date")
    readings.cell(2, 9, pd.Timestamp("2026-03-14").to_pydatetime())
    out = io.BytesIO()
    made.save(out)
    trial = read(out.getvalue(), "t.xlsx")
    assert trial.runs["cutter"].tolist() == ["007", "E2"]
    assert "A spreadsheet formula is never worked out" in one(trial, "not_a_number").text()
    assert trial.wear["date"].tolist()[0] == "2026-03-14"


def test_a_blank_workbook_has_lists_comments_and_no_surprise(read):
    made = openpyxl.load_workbook(io.BytesIO(blank_workbook()))
    assert made.sheetnames == ["Trial", "Cutters", "Readings", "Columns"]
    lists = [rule.formula1 for rule in made["Readings"].data_validations.dataValidation]
    assert '"' + ",".join(MEASURES) + '"' in lists
    assert made["Cutters"]["A1"].comment.text.startswith(COLUMNS["cutter"].meaning)
    assert [row[0].value for row in made["Columns"].iter_rows(min_row=2)] == list(COLUMNS)
    trial = read(blank_workbook(), "t.xlsx")
    assert [f.code for f in trial.findings if f.severity == "error"] == ["no_rows"]
    assert {key for key, _ in TRIAL_KEYS} >= {"trial.question", "criterion", "decision.margin"}


def test_the_sheet_of_the_trial_has_a_line_for_every_key_of_a_trial_file():
    keys = {key for key, _ in TRIAL_KEYS}
    open_sections = {"zones", "columns", "response", "criterion"}
    wanted = {f"{section}.{key}" for section, known in _SECTIONS.items() for key in known
              if section not in open_sections}  # fmt: skip
    assert wanted <= keys
    assert {key.split(".")[0] for key in keys} == set(_SECTIONS)
    assert all(meaning for _, meaning in TRIAL_KEYS)


def test_a_written_workbook_carries_the_settings_of_the_trial(log, read, tmp_path):
    toml = """
    [trial]
    question = "which?"
    seed = 7
    [[criterion]]
    name = "roughing"
    text = "lower:VB.mean=0.2mm"
    [[criterion]]
    text = "load=30"
    [decision]
    margin = 1.3
    level = 0.9
    [match]
    rule = "same chip"
    [zones]
    corner = [0, 0.4]
    "rib foot" = [1.25, 2]
    [wear]
    break_in = 0
    [wall]
    tolerance_um = 12.5
    [cost]
    currency = "EUR"
    machine_per_min = 1.15
    [[response]]
    name = "load"
    unit = "%"
    direction = "falls"
    """
    trial = read(log, toml=toml)
    (tmp_path / "other").mkdir()
    path = tmp_path / "other" / "t.xlsx"
    path.write_bytes(trial_workbook(trial))
    again = read_log(path)
    assert_same(trial, again)
    unlike = {"file", "given"}
    assert {k: v for k, v in vars(again.settings).items() if k not in unlike} == {
        k: v for k, v in vars(trial.settings).items() if k not in unlike
    }
    assert again.settings.given == trial.settings.given


def test_no_cell_of_a_written_workbook_is_a_formula(log, read):
    trial = read(log.everywhere(note="=1+1", cutter="+E1").only(2, 4))
    made = openpyxl.load_workbook(io.BytesIO(trial_workbook(trial)))
    cells = [cell for sheet in made for row in sheet.iter_rows() for cell in row if isinstance(cell.value, str)]
    assert not [cell.value for cell in cells if cell.value[:1] in "=+@" or cell.data_type == "f"]
    assert any(cell.value == "'=1+1" for cell in cells)


# ------------------------------------------------------------------ workbooks that are none, or mean harm


def packed(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return out.getvalue()


def swollen(data: bytes) -> bytes:
    """The same workbook, claiming in its directory that its first part unpacks to 1.5 GiB."""
    at = data.index(b"PK\x01\x02")
    return data[: at + 24] + struct.pack("<I", 3 * 2**29) + data[at + 28 :]


LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    "<workbook>&b;</workbook>"
)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (packed({"hello.txt": b"x"}), r"a packed file, but no \.xlsx workbook"),
        (b"PK\x03\x04broken", "its packing is broken"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, r"a workbook of the old kind \(\.xls\)"),
        (packed({"[Content_Types].xml": b"<x/>", "xl/workbook.xml": b"<y/>"}), "cannot be read as a workbook"),
        (packed({"[Content_Types].xml": b"<x/>", "xl/workbook.xml": LAUGHS.encode()}), "declares entities"),
        (packed({"[Content_Types].xml": b"<x/>", "xl/w.xml": LAUGHS.encode("utf-16")}), "declares entities"),
        (
            swollen(packed({"[Content_Types].xml": b"<x/>", "xl/workbook.xml": b"<y/>"})),
            "unpacks to 1,536 MiB; allowed: up to 1 GiB",
        ),
        (book(Sheet1=[["hello", "world"]]), "no sheet of this workbook is a log"),
        (book(Cutters=[["name"], ["E1"]], Readings=READINGS), "no header line|do not both have a column cutter"),
    ],
)
def test_what_is_no_workbook_of_a_log_is_refused(data, words, read):
    with pytest.raises(FileProblem, match=words):
        read(data, "t.xlsx")


def test_the_name_of_a_file_does_not_say_what_it_is(log, read):
    assert read(log.text(), "log.xlsx").counts.rows_used == 16
    assert read(book(Cutters=CUTTERS, Readings=READINGS), "book.csv").counts.rows_used == 4


def test_a_spoilt_workbook_never_ends_in_a_traceback(tmp_path):
    data = book(Cutters=CUTTERS, Readings=READINGS)
    for at in range(0, len(data), max(len(data) // 60, 1)):
        path = tmp_path / "t.xlsx"
        path.write_bytes(data[:at] + bytes([data[at] ^ 0x5A]) + data[at + 1 :])
        try:
            trial = read_log(path)
        except FileProblem as problem:
            words = str(problem)
        else:
            words = repr(trial)
        assert words
