"""Plan -> blank log -> filled by a simulated shop -> check -> held against the plan -> compare -> verdict.

Carry on or stop on the way. A handful of seeds; 200 by seed in tests/bench/round_trip_plan.py. All data are invented
and simulated.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import FileProblem, Refusal
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial
from wearlab.plan.against import against_plan
from wearlab.plan.beside import plan_beside
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import InterimRequest, Request
from wearlab.plan.sequential import (
    carry_on,
    complete_blocks,
    conditional_power,
    only_cutters,
    read_looks,
    record_look,
)
from wearlab.plan.trial_file import trial_text

Spoil = Callable[[pd.DataFrame], pd.DataFrame]


@pytest.fixture(scope="module")
def filled(plan: Plan, round_trip: ModuleType) -> pd.DataFrame:
    """The example's log as a shop hands it back: true ratio 2, nothing lost, no slip."""
    rows = round_trip.fill(plan, round_trip.Shop(2.0, drop_out=0.0), np.random.default_rng(43))
    assert isinstance(rows, pd.DataFrame)
    return rows


@pytest.fixture(scope="module")
def early(plan: Plan) -> Plan:
    """The same plan with looks at the verdict after three and four blocks."""
    return make_plan(replace(plan.request, interim=InterimRequest((3, 4))))


@pytest.fixture
def trial_from(plan: Plan, tmp_path: Path) -> Callable[..., Trial]:
    """A trial from the rows of a log and the text of its trial file."""

    def make(rows: pd.DataFrame, toml: str = "") -> Trial:
        path = tmp_path / "shoulder.csv"
        rows.to_csv(path, index=False)
        path.with_suffix(".toml").write_text(toml or trial_text(plan), encoding="utf-8")
        return read_log(path)

    return make


@pytest.mark.parametrize("seed", range(3))
def test_the_way_goes_through_without_hand_work(
    plan: Plan, round_trip: ModuleType, tmp_path: Path, seed: int
) -> None:
    found = round_trip.trip(plan, round_trip.Shop(2.0, slips=1.0), 500 + seed, tmp_path)
    counts = found.trial.counts
    assert counts.rows_read == counts.rows_used + counts.rows_set_aside
    assert found.verdict in ("different", "small_but_real", "alike", "cannot_tell")
    assert "other_plan" not in {one.code for one in found.against.findings}
    if not found.slips:
        assert found.errors == 0


def test_a_huge_difference_is_found_and_none_is_not(
    plan: Plan, round_trip: ModuleType, tmp_path: Path
) -> None:
    assert round_trip.trip(plan, round_trip.Shop(6.0, 0.0), 1, tmp_path).verdict == "different"
    assert not round_trip.trip(plan, round_trip.Shop(1.0, 0.0), 2, tmp_path).shown


class TestAgainst:
    def test_as_planned_there_is_nothing_to_say(
        self, plan: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        found = against_plan(plan, trial_from(filled))
        assert [one for one in found.findings if one.severity != "note"] == []
        assert found.not_run == ()
        cost = found.costs[0]
        assert (cost.left_a, cost.left_b, cost.left_blocks) == (6, 6, 6)
        assert cost.power == pytest.approx(cost.planned_power)
        assert cost.detectable == pytest.approx(cost.planned_detectable)

    CASES: tuple[tuple[str, str, Spoil], ...] = (
        ("out_of_order", "E2", lambda t: t.assign(run_order=t["run_order"].replace({"1": "2", "2": "1"}))),
        ("not_in_plan", "X3", lambda t: t.assign(cutter=t["cutter"].replace({"E3": "X3"}))),
        (
            "changed_setting",
            "E4",
            lambda t: t.assign(
                feed_rate_mm_min=t["feed_rate_mm_min"].where(t["cutter"] != "E4", "300"),
                feed_per_tooth_mm=t["feed_per_tooth_mm"].where(t["cutter"] != "E4", "0.0404"),
            ),
        ),
        ("changed_share", "E5", lambda t: t.assign(holder=t["holder"].where(t["cutter"] != "E5", "H9"))),
        ("first_look_late", "E6", lambda t: t[~((t["cutter"] == "E6") & (t["reading"] == "1"))]),
        ("missing_look", "E7", lambda t: t[~((t["cutter"] == "E7") & t["reading"].isin(["3", "4"]))]),
        (
            "not_read",
            "E8",
            lambda t: t[~((t["cutter"] == "E8") & (t["zone"] == "corner") & (t["reading"] == "2"))],
        ),
        (
            "ended_early",
            "E9",
            lambda t: t[
                ~(
                    (t["cutter"] == "E9")
                    & (t["measure"] == "VB")
                    & (t["reading"].replace("", "0").astype(int) > 3)
                )
            ].assign(
                end_reason=lambda u: u["end_reason"].where(
                    u["cutter"] != "E9", u["end_reason"].replace("worn", "broken")
                )
            ),
        ),
        ("not_run_yet", "", lambda t: t[t["cutter"] != "E12"]),
        ("other_plan", "", lambda t: t.assign(trial="shoulder [00000000]")),
        ("order_not_recorded", "", lambda t: t.drop(columns="run_order")),
    )

    @pytest.mark.parametrize(("code", "cutter", "spoil"), CASES, ids=[case[0] for case in CASES])
    def test_each_departure_is_named_and_nothing_else(
        self,
        plan: Plan,
        filled: pd.DataFrame,
        trial_from: Callable[..., Trial],
        code: str,
        cutter: str,
        spoil: Spoil,
    ) -> None:
        found = against_plan(plan, trial_from(spoil(filled.copy())))
        own = [one for one in found.findings if one.code == code]
        assert own, [one.code for one in found.findings]
        assert {one.cutter for one in own} == {cutter}
        others = {one.code for one in found.findings if one.severity == "warning"} - {code}
        assert others <= {"not_run_yet"}

    def test_criteria_and_margin_that_changed(
        self, plan: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        toml = trial_text(plan).replace("lower:VB.mean=0.2mm", "lower:VB.mean=0.15mm").replace("1.25", "1.5")
        codes = {one.code for one in against_plan(plan, trial_from(filled, toml)).findings}
        assert {"criterion_left_out", "criterion_added", "decision_changed"} <= codes

    def test_lost_cutters_cost_power(
        self, plan: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        fewer = filled[~filled["cutter"].isin(["E1", "E3", "E5", "E7"])]
        cost = against_plan(plan, trial_from(fewer)).costs[0]
        assert cost.left_a + cost.left_b == 8
        assert cost.power < cost.planned_power
        assert cost.detectable > cost.planned_detectable

    def test_a_practice_alone_in_its_bars_has_no_verdict_to_come(
        self, plan: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        alone = filled.assign(bar=np.where(filled["strategy"] == "side", "bar 1", "bar 2"))
        assert "cannot be told apart" in against_plan(plan, trial_from(alone)).costs[0].why_none

    def test_the_plan_beside_a_log(self, tmp_path: Path) -> None:
        assert plan_beside(tmp_path / "a.csv") is None
        (tmp_path / "a.plan.json").write_text("{}", encoding="utf-8")
        assert plan_beside(tmp_path / "a.csv") == tmp_path / "a.plan.json"


class TestCarryOn:
    def upto(self, plan: Plan, trial: Trial, runs: int) -> Trial:
        return only_cutters(trial, [run.cutter for run in plan.runs[:runs]])

    def test_before_the_first_look_nothing_is_shown(
        self, early: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        trial = self.upto(early, trial_from(filled), 5)
        assert len(complete_blocks(early, trial)) == 2
        with pytest.raises(
            Refusal, match=r"2 blocks complete.*the first look is after 3.*nothing was spent"
        ) as refused:
            carry_on(early, trial)
        assert not any(word in str(refused.value) for word in ("ratio", "interval", "estimate"))

    def test_a_look_uses_complete_blocks_and_its_own_limit(
        self, early: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        whole = trial_from(filled)
        found = carry_on(early, self.upto(early, whole, 7))
        assert found.look.number == 1
        assert found.blocks == ("1", "2", "3")
        assert found.waiting == ("E7",)
        contrast = found.pairs[0].contrast
        assert contrast.interval.level == pytest.approx(1 - found.look.nominal)
        assert found.pairs[0].shown == (not contrast.interval.contains(1.0))
        assert 0 <= found.pairs[0].if_none <= found.pairs[0].if_planned <= 1
        assert found.advice in ("stop_shown", "stop_unlikely", "carry_on")
        last = carry_on(early, whole)
        assert (last.look.number, last.advice) == (3, "finished")
        assert last.pairs[0].contrast.interval.level == pytest.approx(early.level, abs=1e-9)

    def test_a_missed_look_is_made_on_the_blocks_it_was_planned_for(
        self, early: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        found = carry_on(early, self.upto(early, trial_from(filled), 10))
        assert found.look.pairs == 4
        assert len(found.cutters) == 8
        assert len(found.waiting) == 2

    def test_a_difference_at_the_first_look_stops_the_trial(
        self, early: Plan, round_trip: ModuleType, trial_from: Callable[..., Trial]
    ) -> None:
        """Ratio 2.75 at a scatter of 12 %: ten standard errors after three blocks."""
        even = make_plan(replace(early.request, scatter=replace(early.request.scatter, cv=0.12)))
        rows = round_trip.fill(even, round_trip.Shop(2.75, drop_out=0.0), np.random.default_rng(1))
        found = carry_on(even, self.upto(even, trial_from(rows, trial_text(even)), 6))
        assert found.advice == "stop_shown"

    def test_no_chance_left_is_said(
        self, early: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        """The same lives on both sides: nothing is seen, and a hopeless trial asks for a tiny ratio."""
        size = replace(early.request.size, ratio=1.02, cutters=6)
        hopeless = make_plan(replace(early.request, size=size))
        side, rows = filled["strategy"] == "side", filled.assign(trial=hopeless.trial_name)
        for clock in (
            "parts",
            "cutting_time_min",
            "volume_cm3",
        ):  # a side cutter wears as fast as a layered one
            rows.loc[side, clock] = [f"{float(cell) / 2:g}" for cell in rows.loc[side, clock]]
        found = carry_on(hopeless, self.upto(hopeless, trial_from(rows, trial_text(hopeless)), 8))
        assert found.pairs[0].if_planned < 0.1
        assert found.advice == "stop_unlikely"

    def test_without_looks_in_the_plan_there_is_none(
        self, plan: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial]
    ) -> None:
        with pytest.raises(Refusal, match=r"no looks at the verdict before the end.*afterwards is too late"):
            carry_on(plan, trial_from(filled))

    def test_every_look_is_written_down_once(
        self, early: Plan, filled: pd.DataFrame, trial_from: Callable[..., Trial], tmp_path: Path
    ) -> None:
        trial = trial_from(filled)
        ledger = tmp_path / "shoulder.looks.csv"
        for runs in (6, 6, 8):
            part = self.upto(early, trial, runs)
            ledger.write_text(record_look(ledger, carry_on(early, part), part), encoding="utf-8")
        looks = read_looks(ledger)
        assert [row["blocks"] for row in looks] == ["3", "4"]
        assert {row["sha256"] for row in looks} == {trial.sources[0].sha256}
        ledger.write_text("a,b\n1,2\n", encoding="utf-8")
        with pytest.raises(FileProblem, match="not a list of looks"):
            read_looks(ledger)

    def test_interim_looks_need_complete_blocks(self, request_with: Callable[..., Request]) -> None:
        third = request_with().practices[1].__class__("deep", "layered", {"layers": 2}, 40.0)
        asked = request_with(
            practices=(*request_with().practices, third),
            blocks={"holds": 2},
            interim={"at_blocks": (4,)},
            size={"cutters": 6},
        )
        with pytest.raises(Refusal, match="incomplete blocks"):
            make_plan(asked)


class TestConditionalPower:
    def test_in_simulation(self) -> None:
        """Lan and Wittes's formula against 200,000 Brownian paths."""
        rng = np.random.default_rng(6)
        share, drift, limit, z = 0.5, 2.8, 2.0, 1.0
        end = z * math.sqrt(share) + drift * (1 - share) + math.sqrt(1 - share) * rng.standard_normal(200_000)
        assert conditional_power(z, share, drift, limit) == pytest.approx(
            np.mean(np.abs(end) > limit), abs=0.005
        )

    def test_at_the_end_it_is_settled(self) -> None:
        assert conditional_power(2.5, 1.0, 0.0, 2.0) == 1.0
        assert conditional_power(1.5, 1.0, 9.0, 2.0) == 0.0

    def test_before_the_start_it_is_the_power(self) -> None:
        from scipy.stats import norm

        assert conditional_power(0.0, 1e-12, 2.8, 1.96) == pytest.approx(
            norm.sf(1.96 - 2.8) + norm.cdf(-1.96 - 2.8), abs=1e-6
        )
