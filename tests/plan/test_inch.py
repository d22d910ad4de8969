"""Plans of an inch shop: the same trial, typed, printed and logged in inches.

Exact factors (NIST Special Publication 811, appendix B): 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg,
1 in3 = 16.387064 cm3.
"""

from __future__ import annotations

import io
import re
import tomllib
from pathlib import Path

import openpyxl
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.logbook.read import read_log
from wearlab.plan.against import against_plan
from wearlab.plan.blank_log import blank_rows, run_facts, unfilled
from wearlab.plan.example import EXAMPLE
from wearlab.plan.files import plan_files
from wearlab.plan.inch import metric_sections, shown_column
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request_file import record_request, request_of
from wearlab.report.sheets.pages import render_bench_sheets, render_run_sheet, render_study_sheet

INCH = """
[trial]
name = "inch"
standard = "layered"
units = "inch"
[feature]
width_in = 0.5
depth_in = 0.375
length_in = 4
sides = "one"
[cutter]
diameter_in = 0.5
teeth = 4
helix_deg = 35
flute_length_in = 1
overhang_in = 1.5
runout_thou = 0.3
[settings]
cutting_speed_sfm = 230
feed_per_tooth_in = 0.002
[[practice]]
name = "layered"
layers = 3
expected_life_min = 40
[[practice]]
name = "side"
steps = 3
expected_life_min = 110
[[criterion]]
text = "lower:VB.mean=0.008in"
[zones]
corner = [0, 0.02]
lower = [0.02, 0.125]
[size]
cutters = 3
[walls]
heights_in = [0.02, 0.2]
pins_in = [0.499]
[money]
density_lb_in3 = 0.284
bar_per_lb = 1.1
bar_in3 = 200
"""


@pytest.fixture(scope="module")
def inch() -> Plan:
    return make_plan(request_of(tomllib.loads(INCH)))


def test_the_file_is_turned_to_metric_exactly(inch: Plan) -> None:
    asked = inch.request
    assert (asked.feature.width_mm, asked.cutter.diameter_mm, asked.cutter.overhang_mm) == (12.7, 12.7, 38.1)
    assert asked.cutting_speed_m_min == pytest.approx(230 * 0.3048, rel=1e-12)
    assert asked.feed_per_tooth_mm == pytest.approx(0.0508, rel=1e-12)
    assert asked.zones == {"corner": (0.0, 0.508), "lower": (0.508, 3.175)}
    assert asked.walls.heights_mm == pytest.approx((0.508, 5.08))
    assert asked.cutter_facts["runout_um"] == pytest.approx(7.62)
    assert asked.money.density_g_cm3 == pytest.approx(0.284 * 453.59237 / 16.387064, rel=1e-9)
    assert asked.money.bar_per_kg == pytest.approx(1.1 / 0.45359237, rel=1e-9)
    assert asked.money.bar_cm3 == pytest.approx(200 * 16.387064, rel=1e-9)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("diameter_in = 0.5", "diameter_in = 0.5\ndiameter_mm = 12.7", "diameter_in and diameter_mm in"),
        ("diameter_in = 0.5", "diametre_in = 0.5", "key 'diametre_in'"),
        ('units = "inch"', 'units = "inches"', "units 'inches'.*metric, inch"),
        ("density_lb_in3 = 0.284", "density_in3 = 0.284", "key 'density_in3'"),
    ],
    ids=["twice", "unknown", "units", "money"],
)
def test_what_cannot_be_meant_is_refused(old: str, new: str, words: str) -> None:
    with pytest.raises(ArgumentError, match=words):
        request_of(tomllib.loads(INCH.replace(old, new)))


def test_a_practice_and_lists_are_turned_too() -> None:
    made = metric_sections(
        {"practice": [{"name": "plunge", "pitch_in": 0.1}], "speeds": {"lowest_sfm": 100, "speeds_sfm": [100, 200]}}
    )
    assert made["practice"][0]["pitch_mm"] == 2.54
    assert made["speeds"] == {"lowest_m_min": 30.48, "speeds_m_min": [30.48, 60.96]}


def test_a_metric_plan_keeps_its_mark() -> None:
    asked = request_of(tomllib.loads(EXAMPLE))
    assert "units" not in asked.to_dict()
    assert asked.fingerprint == "b42c6079"
    assert record_request(asked.to_dict()) == asked


def test_a_written_inch_plan_reads_back(inch: Plan) -> None:
    assert record_request(inch.request.to_dict()) == inch.request


def test_the_feed_is_one_that_can_be_typed(inch: Plan) -> None:
    for arm in inch.matched.arms:
        rate = arm.feed_rate_mm_min / 25.4
        assert rate == pytest.approx(round(rate, 1), abs=1e-6)


def test_the_blank_log_is_in_inches_and_reads_as_the_plan(inch: Plan, tmp_path: Path) -> None:
    rows = blank_rows(inch)
    wanted = {"diameter_in", "cutting_speed_sfm", "feed_rate_in_min", "volume_in3", "height_in", "runout_thou"}
    assert wanted <= set(rows)
    assert not [name for name in rows if name.endswith(("_mm", "_um", "_m_min", "_cm3"))]
    assert set(rows["unit"]) == {"thou", "in", ""}
    assert all(unfilled(row) for row in rows.to_dict("records"))
    land = rows["measure"] == "VB"
    width = rows["measure"] == "width"
    rows.loc[land, "value"], rows.loc[width, "value"] = "4.0", "0.5002"
    rows = rows[rows["reading"] == "1"].assign(parts="3", volume_in3="2.25")
    assert not any(unfilled(row) for row in rows.to_dict("records"))
    path = tmp_path / "inch.csv"
    rows.to_csv(path, index=False)
    for name, content in plan_files(inch).items():
        if name == "inch.toml":
            (tmp_path / name).write_text(str(content), encoding="utf-8")
    trial = read_log(path)
    assert trial.errors() == 0
    assert trial.wear["value_mm"].dropna().unique() == pytest.approx([0.1016])
    assert trial.walls["value_mm"].dropna().unique() == pytest.approx([0.5002 * 25.4])
    assert trial.settings.zones == inch.zones
    held = against_plan(inch, trial)
    assert not held.changes
    assert "other_plan" not in {one.code for one in held.findings}
    facts = trial.facts().set_index("cutter")
    for run in inch.runs:
        for name in ("diameter_mm", "axial_depth_mm", "radial_width_mm", "feed_rate_mm_min"):
            assert float(facts.at[run.cutter, name]) == pytest.approx(run_facts(inch, run)[name], rel=1e-4)


def test_the_workbook_is_typed_in_inches(inch: Plan, tmp_path: Path) -> None:
    content = plan_files(inch)["inch.xlsx"]
    assert isinstance(content, bytes)
    book = openpyxl.load_workbook(io.BytesIO(content))
    sheet = book["E1"]
    at = next(row[0].row for row in sheet.iter_rows() if row[0].value == "reading")
    headings = [cell.value for cell in sheet[at]]
    sheet.cell(at + 1, headings.index("parts") + 1, 3)
    sheet.cell(at + 1, headings.index("VB lower 2 [thou]") + 1, 4.0)
    path = tmp_path / "inch.xlsx"
    book.save(path)
    trial = read_log(path)
    assert trial.errors() == 0
    assert trial.wear["value_mm"].dropna().tolist() == [pytest.approx(0.1016)]
    assert trial.facts()["diameter_mm"].tolist() == [pytest.approx(12.7)]


def test_the_sheets_speak_inches(inch: Plan) -> None:
    made = (render_run_sheet(inch, "letter"), render_bench_sheets(inch, "letter"), render_study_sheet(inch, "letter"))
    pages = [re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.DOTALL) for page in made]
    for page in pages:
        beside = re.sub(r"\([\d.]+ mm\)", "", page)  # a limit stands in both
        assert not re.search(r"\b(mm|m/min|µm|cm³|kg)\b", beside)
    assert "axial depth, in" in pages[0]
    assert "feed, in/min" in pages[0]
    assert "lower, 0.02 to 0.125 in" in pages[1]
    assert "width, in, at height" in pages[1]
    assert "wear land, thou" in pages[2]


def test_columns_without_an_inch_form_stay() -> None:
    assert shown_column("cutting_time_min", "inch") == ("cutting_time_min", 1.0)
    assert shown_column("no_such_column", "inch") == ("no_such_column", 1.0)
