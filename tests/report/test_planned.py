"""The section that holds a log against its plan: what it says, its tables, and how a report comes by the plan."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.read import read_log
from wearlab.plan.against import AgainstPlan, against_plan
from wearlab.plan.example import EXAMPLE
from wearlab.plan.files import plan_files
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request_file import request_of
from wearlab.report.analysis import Analysis, analyse
from wearlab.report.build import build_report
from wearlab.report.record import Paragraph, Section, TableBlock
from wearlab.report.render import render_html
from wearlab.report.sections.planned import planned_section

Spoil = Callable[[pd.DataFrame], pd.DataFrame]


@pytest.fixture(scope="module")
def shop() -> ModuleType:
    """The simulated shop of the round trip; all data are invented."""
    path = Path(__file__).parents[1] / "bench" / "round_trip_plan.py"
    spec = importlib.util.spec_from_file_location("round_trip_for_report", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["round_trip_for_report"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def plan() -> Plan:
    import tomllib

    return make_plan(request_of(tomllib.loads(EXAMPLE)))


@pytest.fixture(scope="module")
def filled(plan: Plan, shop: ModuleType) -> pd.DataFrame:
    rows = shop.fill(plan, shop.Shop(2.0, drop_out=0.0), np.random.default_rng(43))
    assert isinstance(rows, pd.DataFrame)
    return rows


def otherwise(rows: pd.DataFrame) -> pd.DataFrame:
    """Two cutters of a block swapped, a slower feed, another holder, two looks left out, a cutter that never ran."""
    made = rows[(rows["cutter"] != "E12") & ~((rows["cutter"] == "E7") & rows["reading"].isin(["3", "4"]))].copy()
    made["run_order"] = made["run_order"].replace({"1": "2", "2": "1"})  # typed once a cutter
    made.loc[made["cutter"] == "E4", ["feed_rate_mm_min", "feed_per_tooth_mm"]] = ["300", "0.0404"]
    made.loc[made["cutter"] == "E5", "holder"] = "H9"
    return made


@pytest.fixture(scope="module")
def folders(plan: Plan, filled: pd.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Two folders as `plan --out` leaves them, their logs filled in: as planned, and otherwise."""
    made = {}
    for name, rows in (("as_planned", filled), ("otherwise", otherwise(filled))):
        folder = tmp_path_factory.mktemp(name)
        for file, content in plan_files(plan).items():
            (folder / file).write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
        rows.to_csv(folder / "shoulder.csv", index=False)
        made[name] = folder
    return made


@pytest.fixture(scope="module")
def analyses(plan: Plan, folders: dict[str, Path]) -> dict[str, Analysis]:
    made = {}
    for name, folder in folders.items():
        trial = read_log(folder / "shoulder.csv")
        made[name] = analyse(trial, held=against_plan(plan, trial))
    return made


def section_of(analysis: Analysis) -> Section:
    section = planned_section(analysis)
    assert section is not None
    return section


def text_of(section: Section) -> str:
    return " ".join(text for block in section.blocks if isinstance(block, Paragraph) for text in block.sentences)


def table_of(section: Section, key: str) -> TableBlock:
    return next(block for block in section.blocks if isinstance(block, TableBlock) and block.key == key)


def test_a_trial_run_as_planned_says_so(analyses: dict[str, Analysis], plan: Plan) -> None:
    section = section_of(analyses["as_planned"])
    text = text_of(section)
    assert plan.trial_name in text
    assert "seed 20260301" in text
    assert "All twelve planned cutters are in the log." in text
    assert "Nothing in it departs from the plan." in text
    assert "the trial can show what it was planned to show" in text
    runs = table_of(section, "plan-runs")
    assert len(runs.frame) == 12
    assert (runs.frame["run_order"] == runs.frame["planned_order"]).all()


def test_every_departure_has_its_line_and_its_cost(analyses: dict[str, Analysis]) -> None:
    section = section_of(analyses["otherwise"])
    text = text_of(section)
    assert "Eleven of twelve planned cutters are in the log." in text
    for kind in ("order within a block", "settings", "what runs share", "looks"):
        assert kind in text
    shown = table_of(section, "plan-departures").texts
    lines = list(zip(shown["kind_shown"], shown["cutter_shown"], shown["found_shown"], shown["planned_shown"],
                     strict=True))  # fmt: skip
    assert ("order within a block", "", "block 1 ran E2, E1", "E1, E2") in lines
    assert ("settings", "E4", "feed speed 300 mm/min", "371 mm/min") in lines
    assert ("what runs share", "E5", "holder H9", "H1") in lines
    assert any(kind == "looks" and cutter == "E7" for kind, cutter, _, _ in lines)
    assert any("not in the log: E12" in found for _, _, found, _ in lines)
    cost = table_of(section, "plan-cost").frame.iloc[0]
    assert (cost["left_a"], cost["left_b"], cost["left_blocks"]) == (5, 6, 5)
    assert cost["power"] < cost["planned_power"]
    assert "instead of 1.78" in text


def test_an_inch_reader_sees_inches(analyses: dict[str, Analysis]) -> None:
    shown = table_of(section_of(replace(analyses["otherwise"], units="inch")), "plan-departures").texts
    assert "feed speed 11.81 in/min" in shown["found_shown"]


def test_no_verdict_to_come_is_said(plan: Plan, filled: pd.DataFrame, tmp_path: Path) -> None:
    path = tmp_path / "shoulder.csv"
    filled[filled["cutter"].isin(["E1", "E2", "E3", "E4"])].to_csv(path, index=False)
    trial = read_log(path)
    held = against_plan(plan, trial)
    section = section_of(replace(analyse(trial), held=held))
    assert "no verdict: fewer than three cutters a side have a life" in text_of(section)


def test_without_a_plan_there_is_no_section(analyses: dict[str, Analysis], tmp_path: Path) -> None:
    without = replace(analyses["as_planned"], held=None)
    section = section_of(without)  # its trial file names the plan, which was not handed in
    assert "shoulder.plan.json" in section.blocks[0].text  # type: ignore[union-attr]
    settings = replace(without.whole.settings, plan="")
    assert planned_section(replace(without, whole=replace(without.whole, settings=settings))) is None


def test_the_page_holds_it_whole(analyses: dict[str, Analysis]) -> None:
    report = build_report(analyses["otherwise"])
    html = render_html(report)
    assert 'id="plan"' in html
    assert "Was it run as planned?" in html
    assert report.provenance["plan"].startswith("shoulder [")
    assert "4 departures from the plan" in " ".join(html.split("Part 2")[0].split())


class TestTheCommandFindsThePlan:
    def report(self, folder: Path, log: str, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[str, str]:
        with pytest.raises(SystemExit) as stop:
            run(["report", str(folder / log), "--out", str(folder / "out.html"), "--force", *more])
        assert (stop.value.code or 0) == 0
        return (folder / "out.html").read_text(encoding="utf-8"), capsys.readouterr().err

    def test_by_the_trial_file_by_its_name_and_by_its_mark(
        self, folders: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        from wearlab.plan.beside import plan_beside

        source = folders["as_planned"]
        html, _ = self.report(source, "shoulder.csv", capsys)
        assert "Nothing in it departs from the plan." in html
        log = tmp_path / "renamed.csv"
        log.write_bytes((source / "shoulder.csv").read_bytes())
        trial = read_log(log)
        assert plan_beside(log, trial) is None
        held = (source / "shoulder.plan.json").read_bytes()
        (tmp_path / "anything.plan.json").write_bytes(held)
        assert plan_beside(log, trial) == tmp_path / "anything.plan.json"  # the log carries its mark
        (tmp_path / "other.plan.json").write_text('{"fingerprint": "00000000"}', encoding="utf-8")
        assert plan_beside(log, trial) == tmp_path / "anything.plan.json"
        (tmp_path / "renamed.plan.json").write_bytes(held)
        assert plan_beside(log, trial) == tmp_path / "renamed.plan.json"
        (tmp_path / "trial.toml").write_text('[trial]\nplan = "anything.plan.json"\n', encoding="utf-8")
        assert plan_beside(log, read_log(log)) == tmp_path / "anything.plan.json"

    def test_a_plan_that_is_named_and_missing_stops_nothing(
        self, folders: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        for name in ("shoulder.csv", "shoulder.toml"):
            (tmp_path / name).write_bytes((folders["as_planned"] / name).read_bytes())
        html, err = self.report(tmp_path, "shoulder.csv", capsys)
        assert "names the plan shoulder.plan.json, which is not there" in " ".join(err.split())
        assert "was not at hand" in html
        html, err = self.report(
            tmp_path, "shoulder.csv", capsys, "--plan", str(folders["as_planned"] / "shoulder.plan.json")
        )
        assert "is not there" not in err
        assert "Nothing in it departs" in html


def test_no_look_before_the_end_is_silent(
    folders: dict[str, Path], filled: pd.DataFrame, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def err_of(log: Path) -> str:
        with pytest.raises(SystemExit) as stop:
            run(["compare", str(log)])
        assert (stop.value.code or 0) == 0
        return " ".join(capsys.readouterr().err.split())

    assert "before the end" not in err_of(folders["as_planned"] / "shoulder.csv")
    for path in folders["as_planned"].iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    filled[filled["block"].isin(["1", "2", "3"])].to_csv(tmp_path / "shoulder.csv", index=False)
    said = err_of(tmp_path / "shoulder.csv")
    assert "Six of twelve planned cutters have not run: this is a look before the end" in said
    (tmp_path / "shoulder.plan.json").write_text("{}", encoding="utf-8")  # told of by check and report
    assert err_of(tmp_path / "shoulder.csv") == ""


def test_a_look_before_the_end_stands_on_the_first_screen(plan: Plan, filled: pd.DataFrame, tmp_path: Path) -> None:
    path = tmp_path / "shoulder.csv"
    filled[filled["block"].isin(["1", "2", "3"])].to_csv(path, index=False)
    trial = read_log(path)
    report = build_report(replace(analyse(trial), held=against_plan(plan, trial)))
    first = " ".join(text for block in report.sections[0].blocks if isinstance(block, Paragraph)
                     for text in block.sentences)  # fmt: skip
    assert "this is a look before the end" in first


def test_doubt_for_whoever_decides(analyses: dict[str, Analysis]) -> None:
    from wearlab.words.planned import plan_doubt

    held = analyses["otherwise"].held
    assert isinstance(held, AgainstPlan)
    assert "One of twelve planned cutters has not run" in plan_doubt(held)
    assert "instead of 92 times in 100" in plan_doubt(held)
    assert plan_doubt(analyses["as_planned"].held) == ""
    hopeless = replace(held, costs=(replace(held.costs[0], why_none="fewer than three cutters"),))
    assert "no verdict to come" in plan_doubt(hopeless)
    assert "as planned" in plan_doubt(replace(held, costs=(replace(held.costs[0], power=held.costs[0].planned_power),)))
