"""The sheets of a plan: what stands on them, cells to write in, nothing but black on white."""

from __future__ import annotations

import re
import tomllib
from html.parser import HTMLParser

import pytest

from wearlab.core.errors import ArgumentError
from wearlab.plan.example import EXAMPLE
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request_file import request_of
from wearlab.plan.sheets import MOST_CELLS, bench_sheets, run_table, settings_table
from wearlab.report.sheets.pages import render_bench_sheets, render_run_sheet, render_study_sheet

SIX = (
    EXAMPLE.replace("teeth = 4", "teeth = 6")
    .replace("lower = [0.5, 3]", "lower = [0.5, 3]\nmiddle = [3, 6]\nupper = [6, 9]")
    .replace("# cutters = 6", "cutters = 3")
    + "[walls]\nheights_mm = [0.5, 4.5, 8.5]\npins_mm = [11.95]\nsides = true\n"
)


class Cells(HTMLParser):
    """Text of the page and the cells of its tables, row by row."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.text = ""
        self.open = False
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append("")
            self.open = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.open = False

    def handle_data(self, data: str) -> None:
        self.text += data
        if self.open:
            self.rows[-1][-1] += data.strip()


@pytest.fixture(scope="module")
def plan() -> Plan:
    return make_plan(request_of(tomllib.loads(EXAMPLE.replace("at_blocks = []", "at_blocks = [4]"))))


@pytest.fixture(scope="module")
def wide() -> Plan:
    return make_plan(request_of(tomllib.loads(SIX)))


def test_the_run_sheet_lists_every_run_in_order(plan: Plan) -> None:
    page = Cells(render_run_sheet(plan))
    runs = [row for row in page.rows if len(row) > 1 and re.fullmatch(r"E\d+", row[1])]
    assert [row[1] for row in runs] == [run.cutter for run in plan.runs]
    for row, run in zip(runs, plan.runs, strict=True):
        assert run.strategy in row
        assert run.holder in row
        assert row[-4:] == ["", "", "", ""]  # really run as, started, ended, initials: room for a pencil
    assert "not yours to change" in page.text
    assert str(plan.request.seed) in page.text
    assert plan.trial_name in page.text


def test_what_it_says_of_blocks_is_true(plan: Plan) -> None:
    assert "Every block of the comparison holds one run of each practice" in Cells(render_run_sheet(plan)).text
    three = EXAMPLE.replace('[[practice]]\nname = "side"', '[[practice]]\nname = "deep"\nkind = "layered"\nlayers = 2\n'
                            'expected_life_min = 35\n\n[[practice]]\nname = "side"')  # fmt: skip
    three = three.replace("[blocks]", "[blocks]\nholds = 2")
    text = Cells(render_run_sheet(make_plan(request_of(tomllib.loads(three))))).text
    assert "Every block holds 2 of the 3 practices" in text
    assert "one run of each practice" not in text
    alone = EXAMPLE.replace("[blocks]", "[blocks]\nuse = false")
    assert "Every block" not in Cells(render_run_sheet(make_plan(request_of(tomllib.loads(alone))))).text


def test_it_says_what_was_not_matched_and_what_to_do_when_a_cutter_chips(plan: Plan) -> None:
    text = Cells(render_run_sheet(plan)).text
    assert "Not equal: mean chip" in text
    assert "When a cutter chips or breaks" in text
    for word in ("worn", "chipped", "broken", "withdrawn", "budget", "pulled_out", "lost", "size"):
        assert word in text
    assert "eye protection" in text
    assert "Looking at the verdict early" in text


def test_one_bench_sheet_a_cutter_with_a_line_a_look(plan: Plan) -> None:
    page = render_bench_sheets(plan)
    assert page.count('<section class="page">') == len(plan.runs)
    rows = [row for row in Cells(page).rows if row and re.fullmatch(r"\d+", row[0]) and len(row) > 10]
    looks = [plan.looks_of(run).parts for run in plan.runs]  # type: ignore[union-attr]
    assert [int(row[1]) for row in rows] == [parts for own in looks for parts in own]
    for row in rows:
        assert row[2] == ""
        assert row[4:] == [""] * (8 + 3)  # two zones of four flutes; form, remarks, initials


def test_zones_are_in_mm_and_end_on_the_layer_line(plan: Plan) -> None:
    text = Cells(render_bench_sheets(plan)).text
    assert "lower, 0.5 to 3 mm" in text
    assert "The end of the lower zone is the layer line." in text
    assert "Flute 1 is at the dot" in text


def test_more_lands_than_a_line_has_room_for_go_on_another_page(wide: Plan) -> None:
    sheet = bench_sheets(wide)[0]
    assert [grid.kind for grid in sheet.grids] == ["lands", "lands", "walls"]
    assert all(grid.cells <= MOST_CELLS for grid in sheet.grids)
    assert sum(grid.cells for grid in sheet.grids if grid.kind == "lands") == 4 * 6
    text = Cells(render_bench_sheets(wide)).text
    assert "page 3 of 3" in text
    assert "left wall, mm, at height" in text


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_paper_and_black_on_white(plan: Plan, wide: Plan, paper: str) -> None:
    for page in (
        render_run_sheet(plan, paper),
        render_bench_sheets(wide, paper),
        render_study_sheet(plan, paper),
    ):
        assert re.search(rf"@page {{ size: {paper} (portrait|landscape);", page)
        assert set(re.findall(r"#[0-9a-fA-F]{3,6}\b", page.split("</style>")[0])) <= {"#000", "#fff"}
        assert "<script" not in page
        assert not re.search(r"https?://|url\(", page)
    with pytest.raises(ArgumentError, match="paper 'A5'"):
        render_run_sheet(plan, "A5")


def test_a_name_with_marks_is_escaped() -> None:
    text = EXAMPLE.replace('name = "shoulder"', "name = '<b>&'").replace("# cutters = 6", "cutters = 3")
    page = render_run_sheet(make_plan(request_of(tomllib.loads(text))))
    assert "<b>&" not in page
    assert "&lt;b&gt;&amp;" in page


def test_the_study_has_a_sheet_a_person_and_turn(plan: Plan) -> None:
    page = render_study_sheet(plan, file="shoulder.study.csv")
    assert page.count('<section class="page">') == 1 + 3 * 2
    parsed = Cells(page)
    readings = [row for row in parsed.rows if len(row) == 3 and row[0].isdigit()]
    assert [int(row[0]) for row in readings] == list(range(1, 61))
    assert {row[2] for row in readings} == {""}
    assert "shoulder.study.csv" in parsed.text


def test_two_people_are_warned() -> None:
    two = make_plan(
        request_of(
            tomllib.loads(
                EXAMPLE.replace("# cutters = 6", "cutters = 3") + '[study]\noperators = ["A", "B"]\n'
            )
        )
    )
    assert "next to nothing about people" in Cells(render_study_sheet(two)).text


def test_tables_behind_the_sheets(plan: Plan) -> None:
    settings, runs = settings_table(plan), run_table(plan)
    assert settings["strategy"].tolist() == ["layered", "side"]
    assert settings["removal_rate_cm3_min"].nunique() == 1
    assert len(runs) == 12
    assert (runs["looks"] > 5).all()
