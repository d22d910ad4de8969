"""The workbook for typing: laid out like the paper, filled in ahead, read back as the flat log is."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import openpyxl
import pandas as pd
import pytest

from wearlab.compare.compare import compare
from wearlab.core.errors import FileProblem
from wearlab.logbook.bench import heading_words
from wearlab.logbook.read import read_log
from wearlab.plan.against import against_plan
from wearlab.plan.beside import plan_beside
from wearlab.plan.files import plan_files, refuse_filled
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import Request, WallRequest
from wearlab.plan.trial_file import trial_text
from wearlab.plan.workbook import plan_workbook, typed_into

Sheet = Any


@pytest.fixture(scope="module")
def filled(plan: Plan, round_trip: ModuleType) -> pd.DataFrame:
    """The flat log as a simulated shop hands it back (invented)."""
    rows = round_trip.fill(plan, round_trip.Shop(2.0, drop_out=0.1), np.random.default_rng(8))
    assert isinstance(rows, pd.DataFrame)
    return rows


def grid_of(sheet: Sheet) -> tuple[int, list[str]]:
    """Line of the headings, and the headings."""
    for line, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        if cells[0] == "reading":
            return line, [str(cell) for cell in cells if cell is not None]
    raise AssertionError(sheet.title)


def put_beside(sheet: Sheet, word: str, value: object) -> None:
    """Type a value beside a label of the head."""
    cell = next(cell for row in sheet.iter_rows() for cell in row if cell.value == word)
    sheet.cell(cell.row, cell.column + 1, value)


def typed(plan: Plan, rows: pd.DataFrame, path: Path) -> Path:
    """Type the rows of a flat log into the workbook, as somebody does from the sheets of paper."""
    book = openpyxl.load_workbook(io.BytesIO(plan_workbook(plan, "shoulder.plan.json")))
    for cutter, own in rows.groupby("cutter", sort=False):
        sheet = book[str(cutter)]
        at, headings = grid_of(sheet)
        put_beside(sheet, "run_order", int(own["run_order"].iloc[0]))
        put_beside(sheet, "instrument", "microscope")
        for row in own.to_dict("records"):
            line = at + int(row["reading"])
            for name in ("parts", "cutting_time_min", "operator"):
                cell = row[name] if name == "operator" else float(row[name])
                sheet.cell(line, headings.index(name) + 1, cell)
            if row["measure"] == "end":
                sheet.cell(line, headings.index("end_reason") + 1, row["end_reason"])
            else:
                word = heading_words(row["measure"], {k: str(row[k]) for k in ("zone", "flute", "unit")})
                sheet.cell(line, headings.index(word) + 1, float(row["value"]))
    book.save(path)
    return path


def test_it_is_filled_in_ahead_and_reads_as_empty(plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "shoulder.xlsx"
    path.write_bytes(plan_workbook(plan, "shoulder.plan.json"))
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["Runs", "Trial", *(run.cutter for run in plan.runs)]
    runs = [row for row in book["Runs"].iter_rows(min_row=5, values_only=True) if row[0] is not None]
    assert [row[1] for row in runs] == [run.cutter for run in plan.runs]
    sheet, run = book["E3"], plan.runs[2]
    at, headings = grid_of(sheet)
    head = {str(a): b for row in sheet.iter_rows(max_row=at - 1, values_only=True)
            for a, b in zip(row[::3], row[1::3], strict=False)}  # fmt: skip
    assert (head["strategy"], head["bar"], head["holder"]) == (run.strategy, run.bar, run.holder)
    assert head["zone lower"] == "0.5 to 3"
    assert head["run_order"] is None  # the turn really made is not known yet
    assert sum(word.startswith("VB ") for word in headings) == 8
    looks = plan.looks_of(run)
    assert looks is not None
    notes = [sheet.cell(at + i, headings.index("note") + 1).value for i in range(1, len(looks.parts) + 1)]
    assert [str(note).split(" = ")[0] for note in notes] == [f"planned at {parts} parts" for parts in looks.parts]
    trial = read_log(path)
    assert (trial.counts.rows_read, len(trial.cutters)) == (0, 0)
    assert trial.settings.plan == "shoulder.plan.json"
    assert trial.settings.criteria == read_settings_of(plan, tmp_path).criteria
    assert "column_not_recorded" not in {one.code for one in trial.findings}


def read_settings_of(plan: Plan, folder: Path) -> Any:
    from wearlab.logbook.settings import read_settings

    path = folder / "settings.toml"
    path.write_text(trial_text(plan), encoding="utf-8")
    return read_settings(path)


def test_the_sheet_of_the_trial_says_what_the_trial_file_says(
    request_with: Callable[..., Request], tmp_path: Path
) -> None:
    asked = request_with(interim={"at_blocks": (4,)}, criteria=(("a", "lower:VB.mean=0.2mm"), ("b", "VB.worst=0.3mm")))
    plan = make_plan(asked)
    path = tmp_path / "t.xlsx"
    path.write_bytes(plan_workbook(plan))
    held, said = read_log(path).settings, read_settings_of(plan, tmp_path)
    assert replace(held, file="", given=frozenset()) == replace(said, file="", given=frozenset())


def test_what_is_typed_reads_back_as_the_flat_log_does(plan: Plan, filled: pd.DataFrame, tmp_path: Path) -> None:
    flat = tmp_path / "flat.csv"
    filled.to_csv(flat, index=False)
    flat.with_suffix(".toml").write_text(trial_text(plan), encoding="utf-8")
    book = typed(plan, filled, tmp_path / "shoulder.xlsx")
    (tmp_path / "shoulder.plan.json").write_text(plan.json_text(), encoding="utf-8")
    one, two = read_log(flat), read_log(book)
    assert two.errors() == 0
    assert two.name == plan.trial_name
    columns = ["cutter", "parts", "measure", "zone", "flute", "value_mm", "cutting_time_min"]
    pd.testing.assert_frame_equal(
        one.wear[columns].sort_values(columns[:5], ignore_index=True),
        two.wear[columns].sort_values(columns[:5], ignore_index=True),
        check_dtype=False,
    )
    assert plan_beside(book, two) == tmp_path / "shoulder.plan.json"
    held = [against_plan(plan, trial) for trial in (one, two)]
    assert [one.code for one in held[0].findings] == [one.code for one in held[1].findings]
    assert held[1].costs == held[0].costs
    ratios = [compare(trial, trial.settings.criteria[0], outcomes=["life"]).contrasts[0] for trial in (one, two)]
    assert ratios[1].estimate == pytest.approx(ratios[0].estimate, rel=1e-12)
    assert ratios[1].verdict == ratios[0].verdict


def test_walls_and_pins_have_their_columns(request_with: Callable[..., Request], tmp_path: Path) -> None:
    plan = make_plan(
        request_with(walls=WallRequest((0.5, 8.5), (11.95,), True), size={"cutters": 3})
    )
    path = tmp_path / "w.xlsx"
    path.write_bytes(plan_workbook(plan))
    book = openpyxl.load_workbook(path)
    sheet = book["E1"]
    at, headings = grid_of(sheet)
    for word, value in (("width 0.5 [mm]", 12.01), ("wall left 8.5 [mm]", 0.02), ("hang_up 11.95 [mm]", 0.0)):
        sheet.cell(at + 1, headings.index(word) + 1, value)
    sheet.cell(at + 1, headings.index("parts") + 1, 4)
    book.save(path)
    trial = read_log(path)
    assert trial.errors() == 0
    walls = trial.walls.dropna(subset=["value_mm"])
    assert sorted(walls["measure"]) == ["hang_up", "wall", "width"]


def test_the_same_plan_gives_the_same_bytes_whenever_it_is_made(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    first = plan_workbook(plan)
    monkeypatch.setattr(time, "time", lambda: 4_000_000_000.0)
    monkeypatch.setattr(time, "localtime", lambda *_: time.gmtime(4_000_000_000.0))
    assert plan_workbook(make_plan(plan.request)) == first
    other = plan_workbook(make_plan(plan.request.with_seed(2)))
    assert other != first


class TestWhatIsTypedIsSafe:
    @pytest.mark.parametrize(
        ("sheet", "cell"),
        [("E1", "grid"), ("E2", "run_order"), ("Runs", "started")],
        ids=["a reading", "a label of the head", "the run sheet"],
    )
    def test_a_workbook_that_was_typed_into_is_not_replaced(
        self, plan: Plan, tmp_path: Path, sheet: str, cell: str
    ) -> None:
        path = tmp_path / "shoulder.xlsx"
        path.write_bytes(plan_workbook(plan))
        assert not typed_into(path)
        book = openpyxl.load_workbook(path)
        page = book[sheet]
        if cell == "grid":
            at, headings = grid_of(page)
            page.cell(at + 1, headings.index("VB lower 1 [um]") + 1, 12)
        elif cell == "run_order":
            put_beside(page, cell, 2)
        else:
            column = next(c.column for c in page[4] if c.value == "started")
            page.cell(5, column, "Monday")
        book.save(path)
        assert typed_into(path)
        with pytest.raises(FileProblem, match="holds readings already"):
            refuse_filled(path, plan_workbook(make_plan(plan.request.with_seed(2))))

    def test_a_blank_one_may_be_replaced_and_a_broken_one_not(self, plan: Plan, tmp_path: Path) -> None:
        path = tmp_path / "shoulder.xlsx"
        path.write_bytes(plan_workbook(plan))
        refuse_filled(path, plan_workbook(make_plan(plan.request.with_seed(2))))
        path.write_bytes(b"PK\x03\x04 and nothing else")
        with pytest.raises(FileProblem, match="holds readings already"):
            refuse_filled(path, plan_files(plan)["shoulder.xlsx"])
