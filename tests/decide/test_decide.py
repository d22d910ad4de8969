"""The whole decision, on logs made up for it and on the invented trial whose truth is known."""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.age_replacement import best_age, cost_rate
from wearlab.decide.cost import ITEMS
from wearlab.decide.decide import decide
from wearlab.decide.decision import Decision
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial

MakeLog = Callable[..., Trial]
Ends = Callable[..., list[dict[str, Any]]]
LAYERED, SIDE = [20, 24, 31, 18, 27, 22], [24, 30, 39, 22, 33, 26]


@pytest.fixture
def two(make_log: MakeLog, ends: Ends) -> Trial:
    return make_log([*ends("layered", LAYERED), *ends("side", SIDE)])


@pytest.fixture
def demo(demo_decision: Decision) -> Decision:
    return demo_decision


def quick(trial: Trial, criteria: Sequence[Criterion] = (), clock: str = "cutting_time_min", **more: Any) -> Decision:
    """Without the slow search for inputs that would change the choice, and with fewer draws."""
    return decide(trial, criteria, clock, **({"draws": 1000, "sensitivity": False} | more))


def money(made: Decision, group: str, item: str = "") -> float:
    cost = made.practice(group).cost
    assert cost is not None
    return cost.items[item] if item else cost.per_part


class TestInventedTrial:
    """Truth of the simulation: medians 40 and 110 min at 70 m/min, scatter 0.20, 0.8078 min a part, edges 48."""

    def test_the_better_practice_is_chosen_and_surely(self, demo: Decision) -> None:
        assert demo.choice == "side"
        assert demo.verdict == "settled"
        assert demo.practice("side").chance_best > 0.95
        assert all(one.pays is False for one in demo.more)

    @pytest.mark.parametrize(("group", "median"), [("layered", 40.0), ("side", 110.0)])
    def test_the_change_interval_is_near_the_best_one_under_the_truth(
        self, demo: Decision, group: str, median: float
    ) -> None:
        ((_, change),) = demo.practice(group).changes
        planned, failed = 48 + 4 * 1.2, 48 + 4 * 1.2 + 35 + 120
        truth = best_age("lognormal", math.log(median), 0.20, planned, failed)
        assert change.interval == pytest.approx(truth.age, rel=0.2)
        cost = float(cost_rate(change.interval, "lognormal", math.log(median), 0.20, planned, failed))
        assert cost < 1.06 * truth.rate
        # Twelve cutters do not know the law: the interval lies on the safe side.
        assert change.interval < truth.age

    @pytest.mark.parametrize(("group", "median"), [("layered", 40.0), ("side", 110.0)])
    def test_the_cost_holds_the_truth_in_its_range(
        self, sample: Callable[[str], Trial], group: str, median: float
    ) -> None:
        trial = sample("shoulder_demo")
        # The simulation breaks one side cutter on purpose, whatever its wear: no part of the truth of a cost.
        whole = dataclasses.replace(trial, runs=trial.runs.replace({"end_reason": {"chipped": "withdrawn"}}))
        one = quick(whole).practice(group)
        ((_, change),) = one.changes
        planned, failed = 48 + 4 * 1.2, 48 + 4 * 1.2 + 35 + 120
        each = 10.8 / 13.3704
        wear = float(cost_rate(change.parts * each, "lognormal", math.log(median), 0.20, planned, failed)) * each
        assert one.cost is not None
        assert one.interval.contains(one.cost.items["machine"] + wear)

    def test_speeds_carry_their_brand(self, demo: Decision) -> None:
        assert demo.speeds["side"].tested == (70.0, 70.0)
        assert not demo.speeds["side"].least_cost.tested

    def test_json_holds_the_published_keys_and_no_infinity(self, demo: Decision) -> None:
        facts = demo.to_dict()
        keys = ["group", "cost_per_cm3", "cost_per_part", "low", "high", "chance_best", "expected_loss"]
        assert {*keys, "change_interval"} <= set(facts["practices"][0])
        assert facts["worth_of_more"]
        json.dumps(facts, allow_nan=False)

    def test_frame_is_one_row_a_practice(self, demo: Decision) -> None:
        table = demo.to_frame()
        assert table["group"].tolist() == ["layered", "side"]
        total = sum(table[f"money_{name}"] for name in ITEMS)
        assert total.to_numpy(float) == pytest.approx(table["cost_per_part"].to_numpy(float))


class TestEqualCosts:
    def test_equal_lives_give_equal_chances(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        # Same strategy word in the geometry, so that approach and time are the same too.
        rows = [*ends("layered", LAYERED), *[row | {"cutter": f"o{i}", "strategy": "own way"}
                for i, row in enumerate(ends("layered", LAYERED))]]  # fmt: skip
        trial = make_log([row | {"passes": ""} for row in rows])
        made = quick(trial, costs=costs, draws=20_000)
        chances = [one.chance_best for one in made.practices]
        # 20,000 draws: standard error 0.0035.
        assert chances == pytest.approx([0.5, 0.5], abs=4 * 0.0035)
        a, b = (one.cost for one in made.practices)
        assert a is not None
        assert b is not None
        assert a.per_part == pytest.approx(b.per_part, rel=0.01)

    def test_the_order_of_names_decides_nothing(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        """The better practice under a name that comes first and under one that comes last."""
        chance = []
        for better, worse in (("a", "z"), ("z", "a")):
            rows = [row | {"strategy": better, "cutter": f"1{row['cutter']}"} for row in ends("layered", SIDE)]
            rows += [row | {"strategy": worse, "cutter": f"2{row['cutter']}"} for row in ends("layered", LAYERED)]
            chance.append(quick(make_log(rows), costs=costs, draws=20_000).practice(better).chance_best)
        assert chance[0] == pytest.approx(chance[1], abs=0.015)


class TestUnits:
    def test_another_currency_moves_no_decision(self, two: Trial, costs: dict[str, Any]) -> None:
        euro = decide(two, costs=costs, draws=1000)
        money = ("machine_per_min", "scrap", "failure")
        cents = decide(
            _priced(two, 2800.0), costs=costs | {name: 100 * costs[name] for name in money} | {"currency": "cent"},
            draws=1000,
        )
        for a, b in zip(euro.practices, cents.practices, strict=True):
            assert b.chance_best == a.chance_best
            assert b.cost is not None
            assert a.cost is not None
            assert b.cost.per_part == pytest.approx(100 * a.cost.per_part, rel=1e-9)
            assert b.expected_loss == pytest.approx(100 * a.expected_loss, rel=1e-9)
            assert b.changes[0][1].parts == a.changes[0][1].parts
        assert cents.verdict == euro.verdict
        factors = [[switch.factor for switch in one.switches] for one in (euro, cents)]
        assert factors[1] == pytest.approx(factors[0], rel=1e-6, nan_ok=True)

    def test_inches_move_nothing(
        self, make_log: MakeLog, trial_of: MakeLog, common: dict[str, Any], ends: Ends, costs: dict[str, Any]
    ) -> None:
        rows = [*ends("layered", LAYERED), *ends("side", SIDE)]
        lengths = ("diameter", "axial_depth", "radial_width", "feature_width", "feature_depth", "feature_length")
        inch = []
        for row in rows:
            full = common | row
            other = {f"{name}_in": full.pop(f"{name}_mm") / 25.4 for name in lengths}
            inch.append(full | other)
        metric, made = quick(make_log(rows), costs=costs), quick(trial_of(inch), costs=costs)
        for a, b in zip(metric.practices, made.practices, strict=True):
            assert b.chance_best == pytest.approx(a.chance_best, abs=1e-3)
            assert b.cost is not None
            assert a.cost is not None
            assert b.cost.per_cm3 == pytest.approx(a.cost.per_cm3, rel=1e-6)

    def test_the_clock_moves_little(self, two: Trial, costs: dict[str, Any]) -> None:
        made = [quick(two, (), clock, costs=costs) for clock in ("cutting_time_min", "parts", "volume_cm3")]
        for one in made[1:]:
            assert one.choice == made[0].choice
            assert one.practice("side").chance_best == pytest.approx(made[0].practice("side").chance_best, abs=0.02)
            assert one.practice("side").changes[0][1].parts == made[0].practice("side").changes[0][1].parts


def _priced(trial: Trial, price: float) -> Trial:
    return dataclasses.replace(trial, cutters=trial.cutters.assign(cutter_price=price))


class TestMissing:
    def test_costs_are_asked_for_by_name(self, two: Trial) -> None:
        with pytest.raises(Refusal, match=r"machine_per_min.*change_min.*scrap.*failure"):
            quick(two)

    def test_parts_a_year_missing_leaves_the_worth_of_more_unsaid(self, two: Trial, costs: dict[str, Any]) -> None:
        del costs["parts_per_year"]
        made = quick(two, costs=costs)
        assert made.more == ()
        assert made.verdict in ("settled", "hardly_matters", "not_weighed")
        assert made.to_dict()["practices"][0]["cost_per_year"] is None

    def test_two_cutters_a_side_are_described_and_not_judged(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        made = quick(make_log([*ends("layered", LAYERED[:2]), *ends("side", SIDE[:2])]), costs=costs)
        assert made.choice == ""
        assert "too few cutters" in made.why_no_choice
        assert made.practices[0].cost is not None
        assert math.isnan(made.practices[0].chance_best)

    def test_a_practice_tangled_with_a_day_gets_no_chance(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        rows = [*ends("layered", LAYERED, block="", day="Mon"), *ends("side", SIDE, block="", day="Tue")]
        made = quick(make_log(rows), costs=costs)
        assert made.choice == ""
        assert "cannot be told apart" in made.why_no_choice

    def test_one_practice_alone_is_priced(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        made = quick(make_log(ends("layered", LAYERED)), costs=costs)
        assert made.choice == ""
        assert made.practices[0].cost is not None
        assert made.practices[0].changes[0][1].parts

    def test_a_practice_that_never_wore_out_is_named(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        rows = [*ends("layered", LAYERED), *ends("side", SIDE, end_reason="withdrawn")]
        made = quick(make_log(rows), costs=costs)
        assert "none of its cutters reached end" in made.practice("side").why_missing
        assert made.practice("side").cost is None
        assert made.choice == ""

    def test_bad_words(self, two: Trial, costs: dict[str, Any]) -> None:
        with pytest.raises(ArgumentError, match="rule 'best'"):
            quick(two, costs=costs, rule="best")
        with pytest.raises(ArgumentError, match="no practice 'plunge'"):
            quick(two, costs=costs, draws=200).practice("plunge")


class TestReading:
    def test_same_seed_same_answer(self, two: Trial, costs: dict[str, Any]) -> None:
        a, b, other = (quick(two, costs=costs, seed=seed, draws=500).to_dict() for seed in (1, 1, 2))
        assert a == b
        assert a["practices"][0]["chance_best"] != other["practices"][0]["chance_best"]

    def test_losses_and_choice_belong_together(self, two: Trial, costs: dict[str, Any]) -> None:
        made = quick(two, costs=costs)
        assert made.best is not None
        assert made.practice(made.choice).expected_loss == min(one.expected_loss for one in made.practices)
        gap = made.best.estimate("side") - made.best.estimate("layered")
        assert np.diff([one.expected_loss for one in made.practices])[0] == pytest.approx(gap, rel=1e-9)

    def test_today_costs_more_than_with_the_interval_known(self, two: Trial, costs: dict[str, Any]) -> None:
        made = quick(two, costs=costs)
        assert made.best is not None
        for one in made.practices:
            assert one.cost is not None
            assert made.best.estimate(one.group) < one.cost.per_part < 1.1 * made.best.estimate(one.group)

    def test_a_switch_is_where_the_other_becomes_cheaper(self, two: Trial, costs: dict[str, Any]) -> None:
        made = decide(two, costs=costs, draws=500)
        switch = next(one for one in made.switches if one.input.startswith("life of"))
        assert 0.3 < switch.factor < 1.0
        assert switch.then != made.choice

    def test_everything_that_the_cutters_call_for_is_asked_for_at_once(self, make_log: MakeLog, ends: Ends) -> None:
        rows = [
            *ends("layered", LAYERED),
            *ends("predrilled", SIDE),
            *({"cutter": name, "set": "P", "role": role, "parts": 30, "cutting_time_min": 40.0}
              for name, role in (("R", "rough"), ("F", "finish"))),
        ]  # fmt: skip
        with pytest.raises(Refusal) as caught:
            quick(make_log([row | {"cutter_price": ""} for row in rows]), costs={"machine_per_min": 1.0, "regrinds": 2})
        for name in ("change_min", "scrap", "failure", "swap_min", "drill", "edge_price", "regrind_price"):
            assert f"{name} (" in str(caught.value)
        assert "machine_per_min" not in str(caught.value)

    def test_a_drill_is_asked_for_where_the_holes_are_drilled(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        trial = make_log([*ends("layered", LAYERED), *ends("predrilled", SIDE)])
        with pytest.raises(Refusal, match="drill"):
            quick(trial, costs=costs)
        plain, dear = (quick(trial, costs=costs | {"drill": drill}, draws=500) for drill in (0.0, 0.7))
        assert money(dear, "predrilled") - money(plain, "predrilled") == pytest.approx(0.7)
        assert money(dear, "layered") == money(plain, "layered")

    def test_many_practices_with_few_cutters_carry_a_caution(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        names = ("layered", "side", "plunge", "ramp")
        for count, said in ((3, True), (4, False)):
            lives = [[40 + 3 * i + at for i in range(count)] for at in range(4)]
            rows = [row for name, life in zip(names, lives, strict=True) for row in ends(name, life)]
            made = quick(make_log(rows), costs=costs, draws=500)
            assert any("luckiest" in note for note in made.notes) is said
            if said:
                assert not any("luckiest" in note for note in quick(make_log(rows[:9]), costs=costs, draws=500).notes)

    def test_fractures_cost_their_failures(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        whole = [*ends("layered", LAYERED), *ends("side", SIDE)]
        broken = [row | ({"end_reason": "broken"} if row["cutter"] == "side-1" else {}) for row in whole]
        a, b = (quick(make_log(rows), costs=costs, draws=1000) for rows in (whole, broken))
        assert b.practice("side").fractures == 1
        assert money(b, "side", "failures") > money(a, "side", "failures")


class TestSets:
    def sets(self) -> list[dict[str, Any]]:
        rows = []
        for i, (rough, finish) in enumerate([(30, 80), (34, 70), (27, 95), (29, 76), (36, 88), (31, 84)]):
            rows += [
                {"cutter": f"R{i}", "set": f"P{i}", "role": "rough", "parts": rough, "block": i % 3,
                 "cutting_time_min": 1.25 * rough},
                {"cutter": f"F{i}", "set": f"P{i}", "role": "finish", "strategy": "finish", "parts": finish,
                 "block": i % 3, "cutting_time_min": 0.4 * finish, "axial_depth_mm": 8, "radial_width_mm": 0.3},
            ]  # fmt: skip
        return rows

    def test_a_pair_is_compared_as_a_pair(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        trial = make_log([*ends("layered", [12, 14, 11, 13, 15, 12]), *self.sets()])
        with pytest.raises(Refusal, match="swap_min"):
            quick(trial, costs=costs)
        made = quick(trial, costs=costs | {"swap_min": 0.2})
        pair = made.practice("layered + finish")
        assert [role for role, _ in pair.changes] == ["rough", "finish"]
        assert pair.cutters == 12
        assert pair.cost is not None
        minutes = 1.25 + 0.4 + 0.2 + 4 * (5.0 + math.sqrt(0.3 * 9.7)) / 381.97186
        assert pair.cost.minutes == pytest.approx(minutes, rel=1e-6)
        assert made.choice == "layered + finish"
        assert made.why_no_speeds == "sets of cutters have no single speed"
        facts = pair.to_dict()
        assert facts["change_interval"] is None
        assert len(facts["change_intervals"]) == 2
