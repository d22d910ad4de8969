"""One cutter against a set from a log: the worked example of the closed form, break-even prices, demotion."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.decide.change_interval import ChangeInterval
from wearlab.decide.cost import Operation, demotion_money
from wearlab.decide.decide import decide
from wearlab.decide.model import CostModel, LifeDraws
from wearlab.decide.pairs import one_or_sets
from wearlab.decide.practices import Member, Practice
from wearlab.decide.shop import ShopCosts
from wearlab.logbook.trial import Trial
from wearlab.report.card.sentences import pair_sentences

MakeLog = Callable[..., Trial]
Ends = Callable[..., list[dict[str, Any]]]


def model(name: str, *work: tuple[str, float, float, float], scatter: float = 1e-4) -> CostModel:
    """Cutters whose lives hardly scatter: role, minutes a part, parts a life, money an edge."""
    members, draws, intervals = [], [], []
    for role, minutes, parts, edge in work:
        members.append(
            Member(role, "end", minutes, minutes, 0.0, edge, edge, pd.DataFrame({"status": ["exact"]}), 0, 1.0, 1.0)
        )
        centre = math.log(minutes * parts)
        one = np.array([centre])
        draws.append(LifeDraws(one, np.array([scatter]), np.zeros(1), centre, scatter, 0.0))
        age = minutes * parts * (1 - 5e-4)
        intervals.append(
            ChangeInterval(
                "cutting_time_min", "least_cost", age, None, "lognormal", (), (), (), 0.0, minutes, age, 1, 1, 0.0
            )
        )  # fmt: skip
    facts = pd.DataFrame({"cutter": ["a"]})
    practice = Practice(name, tuple(members), facts, math.nan, True, False, ())
    return CostModel(practice, tuple(draws), tuple(intervals))


class TestWorkedExample:
    """1.2 a minute, 3 min a change; one: 9.0 min, 12 parts; pair 8.4 + 0.9 + 0.2 min, 30 and 80 parts; 28 an edge.

    13.43 against 12.85 a part, break-even at 20.98: the shop example of our own (derived), by the closed form.
    """

    SHOP = ShopCosts(machine_per_min=1.2, change_min=3.0, scrap=20.0, failure=60.0, swap_min=0.2)

    def test_lives_without_scatter_give_the_closed_form(self) -> None:
        single = model("one", ("", 9.0, 12, 28.0))
        pair = model("pair", ("rough", 8.4, 30, 28.0), ("finish", 0.9, 80, 28.0))
        (found,) = one_or_sets([single, pair], self.SHOP)
        assert found.single_per_part == pytest.approx(13.43, abs=0.01)
        assert found.several_per_part == pytest.approx(12.85, abs=0.01)
        assert found.break_even_edge == pytest.approx(20.98, abs=0.05)
        assert found.cheaper == "pair"
        assert found.demoted_worth == 0.0

    def test_a_demoted_finisher_saves_its_share_of_a_rougher(self) -> None:
        """21 of 30 parts of an edge of 28, once every 80 parts: 0.245 a part."""
        shop = self.SHOP.with_(demoted_parts=21.0)
        single = model("one", ("", 9.0, 12, 28.0))
        pair = model("pair", ("rough", 8.4, 30, 28.0), ("finish", 0.9, 80, 28.0))
        (plain,), (demoted,) = one_or_sets([single, pair], self.SHOP), one_or_sets([single, pair], shop)
        assert demoted.demoted_worth == pytest.approx(0.245, rel=2e-3)
        assert plain.several_per_part - demoted.several_per_part == pytest.approx(0.245, rel=2e-3)
        # The single cutter has to be cheaper still: twelve parts of what the pair saves.
        assert plain.break_even_edge - demoted.break_even_edge == pytest.approx(12 * 0.245, rel=0.01)
        assert any("go on as roughers" in text for text in pair_sentences(demoted, "EUR"))

    def test_no_price_where_the_single_cutter_loses_on_time(self) -> None:
        slow = model("one", ("", 19.0, 12, 28.0))
        pair = model("pair", ("rough", 8.4, 30, 28.0), ("finish", 0.9, 80, 28.0))
        (found,) = one_or_sets([slow, pair], self.SHOP)
        assert math.isnan(found.break_even_edge)
        assert "dearer even" in found.why_missing
        assert "No price" in " ".join(pair_sentences(found, "EUR"))
        assert found.to_dict()["break_even_edge"] is None


def test_demotion_never_saves_more_roughers_than_are_used() -> None:
    operations = [Operation("rough", 1.0, 0.0, 28.0, 0.02), Operation("finish", 1.0, 0.0, 28.0, 0.10)]
    assert demotion_money(operations, ShopCosts(demoted_parts=500.0)) == pytest.approx(28.0 * 0.02)


def test_a_finisher_that_failed_is_not_demoted() -> None:
    failed = [Operation("rough", 1.0, 0.0, 28.0, 0.02), Operation("finish", 1.0, 0.0, 28.0, 0.01, 0.01)]
    assert demotion_money(failed, ShopCosts(demoted_parts=40.0)) == 0.0


def test_draws_come_out_as_draws() -> None:
    rough = Operation("rough", 1.0, 0.0, 28.0, np.array([0.02, 0.04]))
    finish = Operation("finish", 1.0, 0.0, 28.0, np.array([0.01, 0.01]))
    assert demotion_money([rough, finish], ShopCosts(demoted_parts=10.0)) == pytest.approx([0.056, 0.112])


class TestFromALog:
    def rows(self, ends: Ends, price: float = 28.0) -> list[dict[str, Any]]:
        rows = list(ends("layered", [12, 14, 11, 13, 15, 12], cutter_price=price))
        for i, (rough, finish) in enumerate([(30, 80), (34, 70), (27, 95), (29, 76), (36, 88), (31, 84)]):
            rows += [
                {"cutter": f"R{i}", "set": f"P{i}", "role": "rough", "parts": rough, "block": i % 3,
                 "cutting_time_min": 1.25 * rough},
                {"cutter": f"F{i}", "set": f"P{i}", "role": "finish", "strategy": "finish", "parts": finish,
                 "block": i % 3, "cutting_time_min": 0.4 * finish, "axial_depth_mm": 8, "radial_width_mm": 0.3},
            ]  # fmt: skip
        return rows

    def test_at_the_break_even_price_both_cost_the_same(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        costs |= {"swap_min": 0.2}
        quick = {"costs": costs, "draws": 300, "sensitivity": False}
        (found,) = decide(make_log(self.rows(ends)), **quick).pairs
        assert found.several == "layered + finish"
        assert 1.0 < found.break_even_edge < 28.0
        (again,) = decide(make_log(self.rows(ends, found.break_even_edge)), **quick).pairs
        assert again.single_per_part == pytest.approx(again.several_per_part, rel=1e-6)

    def test_demotion_lowers_the_set_in_every_draw(
        self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]
    ) -> None:
        trial = make_log(self.rows(ends))
        costs |= {"swap_min": 0.2}
        plain, demoted = (
            decide(trial, costs=costs | more, draws=300, sensitivity=False) for more in ({}, {"demoted_parts": 20})
        )
        before, after = (one.practice("layered + finish").cost for one in (plain, demoted))
        assert before is not None
        assert after is not None
        assert after.items["edges"] < before.items["edges"]
        assert after.items["changes"] == before.items["changes"]
        assert plain.practice("layered").cost == demoted.practice("layered").cost

    def test_drill_and_mill_are_one_set(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        """A drill in the log is costed as a cutter of the set, with its own life, price and change."""
        rows = list(ends("layered", [12, 14, 11, 13, 15, 12]))
        for i, (drill, mill) in enumerate([(90, 40), (100, 36), (80, 45), (95, 38), (105, 44), (88, 41)]):
            rows += [
                {"cutter": f"D{i}", "set": f"P{i}", "role": "drill", "strategy": "predrilled", "parts": drill,
                 "cutting_time_min": 0.3 * drill, "cutter_price": 12, "block": i % 3},
                {"cutter": f"M{i}", "set": f"P{i}", "role": "both", "strategy": "predrilled", "parts": mill,
                 "cutting_time_min": 0.8 * mill, "block": i % 3},
            ]  # fmt: skip
        made = decide(make_log(rows), costs=costs | {"swap_min": 0.1}, draws=300, sensitivity=False)
        both = made.practice("predrilled")
        assert [role for role, _ in both.changes] == ["drill", "both"]
        assert both.cost is not None
        # About one drill of 12 in 90 parts and one mill of 28 in 40, less what the planned change gives away.
        assert 12 / 90 + 28 / 40 < both.cost.items["edges"] < 2 * (12 / 90 + 28 / 40)
        assert both.cost.items["drill"] == 0.0
        assert made.choice == "predrilled"
        (pair,) = made.pairs
        assert (pair.single, pair.several, pair.demoted_worth) == ("layered", "predrilled", 0.0)

    def test_a_log_without_sets_has_no_pairs(self, make_log: MakeLog, ends: Ends, costs: dict[str, Any]) -> None:
        trial = make_log([*ends("layered", [12, 14, 11]), *ends("side", [20, 24, 22])])
        assert decide(trial, costs=costs, draws=300, sensitivity=False).pairs == ()
