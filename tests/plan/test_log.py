"""What a plan puts beside the machine: blank log, trial file, study, budget, files."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, FileProblem, Refusal
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.settings import read_settings
from wearlab.plan.blank_log import blank_rows, known_columns, log_text, readings_of, run_facts, unfilled
from wearlab.plan.budget import ArmUse, budget
from wearlab.plan.example import EXAMPLE
from wearlab.plan.files import plan_files, refuse_filled
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import Money, Request, StudyRequest
from wearlab.plan.scatter import pilot_scatter, with_pilot
from wearlab.plan.study import study_meaning, study_sheet
from wearlab.plan.trial_file import trial_text
from wearlab.wear.study import measurement_study, read_study


class TestBlankLog:
    def test_every_column_is_one_of_the_log(self, plan: Plan) -> None:
        rows = blank_rows(plan)
        assert set(rows.columns) <= set(COLUMNS)
        assert list(rows.columns) == [name for name in COLUMNS if name in rows.columns]
        assert set(known_columns(plan)) <= set(rows.columns)

    def test_one_row_a_reading_and_an_end_a_cutter(self, plan: Plan) -> None:
        rows = blank_rows(plan)
        for run in plan.runs:
            own = rows[rows["cutter"] == run.cutter]
            looks = plan.looks_of(run)
            assert looks is not None
            assert len(own) == len(looks.parts) * len(readings_of(plan)) + 1
            assert own["measure"].iloc[-1] == "end"
            assert set(own["strategy"]) == {run.strategy}
            assert set(own["block"]) == {run.block}
        lands = rows[rows["measure"] == "VB"]
        assert not lands.duplicated(["cutter", "reading", "zone", "flute"]).any()

    def test_nothing_that_has_to_be_looked_at_is_filled_in(self, plan: Plan) -> None:
        rows = blank_rows(plan)
        for name in ("parts", "cutting_time_min", "volume_cm3", "value", "end_reason", "date", "operator"):
            assert (rows[name] == "").all()
        assert all(unfilled(row) for row in rows.to_dict("records"))
        assert rows["note"].iloc[0].startswith("planned at ")

    def test_one_line_filled_in_is_read_without_an_error(self, plan: Plan, tmp_path: Path) -> None:
        rows = blank_rows(plan).head(1).copy()
        rows["parts"], rows["cutting_time_min"], rows["value"] = "10", "8.54", "55"
        (tmp_path / "a.csv").write_text(log_text(rows), encoding="utf-8")
        (tmp_path / "a.toml").write_text(trial_text(plan), encoding="utf-8")
        trial = read_log(tmp_path / "a.csv")
        assert trial.errors() == 0
        assert trial.name == plan.trial_name
        assert trial.wear["value_mm"].tolist() == [0.055]
        assert [one.code for one in trial.findings if one.severity == "warning"] == []

    def test_what_the_plan_knows_agrees_with_itself(self, plan: Plan) -> None:
        """Speed and revolutions, feed a tooth and feed rate: within the 2 % from which the log would speak up."""
        for run in plan.runs:
            facts = run_facts(plan, run)
            speed = np.pi * facts["diameter_mm"] * facts["spindle_rpm"] / 1000
            assert speed == pytest.approx(facts["cutting_speed_m_min"], rel=0.005)
            feed = facts["feed_per_tooth_mm"] * facts["teeth"] * facts["spindle_rpm"]
            assert feed == pytest.approx(facts["feed_rate_mm_min"], rel=0.005)

    def test_walls_where_they_are_asked_for(self, request_with: Callable[..., Request]) -> None:
        walls = {"heights_mm": (0.5, 4.5), "pins_mm": (11.95,), "sides": True}
        made = make_plan(request_with(walls=walls, size={"cutters": 3}))
        kinds = pd.Series([one["measure"] for one in readings_of(made)]).value_counts().to_dict()
        assert kinds == {"VB": 8, "wall": 4, "width": 2, "hang_up": 1}


class TestTrialFile:
    def test_the_log_room_reads_it(self, plan: Plan, tmp_path: Path) -> None:
        path = tmp_path / "shoulder.toml"
        path.write_text(trial_text(plan, "shoulder.plan.json"), encoding="utf-8")
        found = read_settings(path)
        assert [one.text for one in found.criteria] == ["lower:VB.mean=0.2mm"]
        assert all(one.planned for one in found.criteria)
        assert (found.seed, found.standard, found.margin, found.level) == (20260301, "layered", 1.25, 0.95)
        assert found.zones == {"corner": (0.0, 0.5), "lower": (0.5, 3.0)}
        assert found.cost["machine_per_min"] == 1.2
        assert "shoulder.plan.json" in path.read_text(encoding="utf-8")

    def test_looks_before_the_end_take_their_share_of_the_level(
        self, request_with: Callable[..., Request]
    ) -> None:
        made = make_plan(request_with(interim={"at_blocks": (3, 4)}))
        level = tomllib.loads(trial_text(made))["decision"]["level"]
        assert made.interim is not None
        assert level == pytest.approx(1 - made.interim.boundaries.looks[-1].nominal, abs=1e-6)
        assert 0.95 < level < 0.99

    def test_a_limit_from_the_drawing_is_a_criterion(self, request_with: Callable[..., Request]) -> None:
        text = (
            EXAMPLE.replace("# [tolerance]", "[tolerance]")
            .replace("# tolerance_mm", "tolerance_mm")
            .replace("# setting", "setting")
        )
        made = make_plan(request_with(text, size={"cutters": 3}))
        data = tomllib.loads(trial_text(made))
        assert [one["name"] for one in data["criterion"]] == ["roughing", "size"]
        assert data["wall"]["tolerance_um"] == 30.0
        assert parse_criterion(data["criterion"][1]["text"]).limit == pytest.approx(
            made.limit.land_mm, rel=5e-3
        )

    def test_odd_words_stay_whole(self, request_with: Callable[..., Request]) -> None:
        question = 'Is "side" better?\nÖl – or \\ not'
        made = make_plan(request_with(question=question, size={"cutters": 3}))
        assert tomllib.loads(trial_text(made))["trial"]["question"] == question


class TestFiles:
    def test_same_plan_same_files_to_the_byte(self, plan: Plan) -> None:
        assert plan_files(plan) == plan_files(make_plan(plan.request))
        assert sorted(plan_files(plan)) == [
            "shoulder.csv",
            "shoulder.plan.json",
            "shoulder.study.csv",
            "shoulder.toml",
            "shoulder.xlsx",
        ]

    def test_readings_are_never_written_over(self, tmp_path: Path) -> None:
        path = tmp_path / "a.csv"
        path.write_text("cutter,value\nE1,\n", encoding="utf-8")
        refuse_filled(path, "other")
        path.write_text("cutter,value\nE1,0.2\n", encoding="utf-8")
        refuse_filled(path, "cutter,value\nE1,0.2\n")
        with pytest.raises(FileProblem, match=r"holds readings already.*not even --force"):
            refuse_filled(path, "other")


class TestBudget:
    def test_bar_stock_by_hand(self) -> None:
        """60 min at 7.64 cm3/min: 458 cm3, 3.6 kg at 7.85 g/cm3, 48 parts of 9.6 cm3; twelve cutters 43 kg."""
        cm3 = 60 * 7.64
        use = ArmUse("layered", 60, cm3 / 9.6, cm3, cm3 * 7.85 / 1000, 70)
        found = budget([use], 12, Money())
        assert (round(use.parts), round(use.cm3), round(use.kg, 1), round(found.kg)) == (48, 458, 3.6, 43)
        assert found.machine_hours == pytest.approx(14)
        assert np.isnan(found.money)
        assert "bar_per_kg" in found.why_missing

    def test_money_by_hand(self) -> None:
        use = ArmUse("a", 10, 10, 100, 0.785, 20)
        found = budget(
            [use, use], 3, Money(machine_per_min=1.0, cutter_price=30.0, bar_per_kg=2.0), [(use, 2)]
        )
        assert found.cutters_in_all == 8
        assert found.money == pytest.approx(8 * (20 + 30 + 2 * 0.785))

    def test_a_block_that_takes_more_than_a_bar_is_said(self, request_with: Callable[..., Request]) -> None:
        made = make_plan(request_with(money={"bar_cm3": 1000.0}, size={"cutters": 3}))
        assert "one block takes 1.9 bars" in made.doubts[0]


class TestPilot:
    def test_scatter_within_conditions_by_hand(self) -> None:
        trial = read_log(sample_path("shoulder_demo"))
        criterion = parse_criterion("lower:VB.mean=0.2mm")
        found = pilot_scatter(trial, criterion)
        from wearlab.life.lives import tool_lives

        lives = tool_lives(trial, [criterion], ["cutting_time_min"]).to_frame()
        table = lives[lives["status"] == "exact"].merge(
            trial.facts()[["cutter", "strategy", "cutting_speed_m_min"]], on="cutter"
        )
        groups = [np.log(own["life"]) for _, own in table.groupby(["strategy", "cutting_speed_m_min"])]
        df = sum(len(own) - 1 for own in groups)
        assert found.df == df
        assert found.sigma == pytest.approx(
            np.sqrt(sum(((own - own.mean()) ** 2).sum() for own in groups) / df)
        )
        assert found.interval().contains(0.20)  # the truth of the simulated trial

    def test_it_goes_into_the_plan_with_its_source(self, request_with: Callable[..., Request]) -> None:
        found = pilot_scatter(read_log(sample_path("shoulder_demo")), parse_criterion("lower:VB.mean=0.2mm"))
        made = with_pilot(request_with().scatter, found)
        assert made.cv == pytest.approx(found.cv)
        assert "pilot log" in made.source

    def test_a_log_without_repeats_says_nothing(self) -> None:
        with pytest.raises(Refusal, match="no two cutters"):
            pilot_scatter(read_log(sample_path("groover_coated")), parse_criterion("VB=0.75mm"))


class TestStudy:
    def test_everyone_reads_every_land_in_every_turn(self) -> None:
        sheet = study_sheet(StudyRequest(6, ("A", "B", "C"), 2), rng=4)
        assert [row.order for row in sheet.rows] == list(range(1, 37))
        for start in range(0, 36, 6):
            turn = sheet.rows[start : start + 6]
            assert len({(row.operator, row.repeat) for row in turn}) == 1
            assert {row.part for row in turn} == {f"P{i}" for i in range(1, 7)}
        assert sheet.degrees_of_freedom == 18
        assert study_sheet(StudyRequest(6, ("A", "B", "C"), 2), rng=4) == sheet

    def test_filled_in_and_read_back(self, tmp_path: Path) -> None:
        """Gauge sd 10 um on lands of 50 to 300 um; what that means for a limit of 0.2 mm, 40 min and 4 flutes."""
        sheet = study_sheet(StudyRequest(), rng=1)
        lines = sheet.csv_text().splitlines()
        rng = np.random.default_rng(2)
        filled = [lines[0]]
        for line in lines[1:]:
            cells = line.split(",")
            cells[4] = f"{30 * int(cells[1][1:]) + 10 * rng.standard_normal():.0f}"
            filled.append(",".join(cells))
        path = tmp_path / "study.csv"
        path.write_text("\n".join(filled), encoding="utf-8")
        study = measurement_study(read_study(path))
        found = study_meaning(study, 0.2, 40, 0.34, 4)
        assert study.gauge_mm == pytest.approx(0.010, rel=0.35)
        assert found.life_error_min == pytest.approx(found.mean_land_mm / 0.005)
        assert found.sigma_seen == pytest.approx(np.hypot(0.34, found.life_error_min / 40))
        assert found.cutters_factor == pytest.approx((found.sigma_seen / 0.34) ** 2)
        assert found.fitness == "conditional"
        assert found.share_of_limit == pytest.approx(6 * study.gauge_mm / 0.2)

    def test_bad_arguments(self) -> None:
        grid = pd.DataFrame(
            {"part": list("aabb"), "operator": list("xxxx"), "value_mm": [0.1, 0.11, 0.2, 0.22]}
        )
        with pytest.raises(ArgumentError, match="measurement study"):
            study_meaning(measurement_study(grid), 0.0, 40, 0.3, 4)
