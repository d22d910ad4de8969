"""What the money takes from a log: minutes, prices, sizes, sets."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

from wearlab.core.errors import Refusal
from wearlab.decide.practices import criterion_for, practices_of
from wearlab.decide.shop import ShopCosts
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial
from wearlab.milling.kinematics import approach_mm

MakeLog = Callable[..., Trial]
Ends = Callable[..., list[dict[str, Any]]]
SHOP = ShopCosts("EUR", 1.2, 3.0, 20.0, 60.0)


def test_minutes_and_clock_of_a_part_come_from_the_counters(make_log: MakeLog, ends: Ends) -> None:
    trial = make_log(ends("layered", [20, 24, 31]))
    for clock, each in (("cutting_time_min", 1.3), ("parts", 1.0), ("volume_cm3", 1.3 * 7.639437)):
        (found,) = practices_of(trial, [END], clock, SHOP).practices
        (member,) = found.members
        assert member.cutting_min == pytest.approx(1.3)
        assert member.clock_per_part == pytest.approx(each, rel=1e-6)
        assert found.volume_cm3 == pytest.approx(9.6)
        assert found.parts_known


def test_approach_is_added_by_practice(make_log: MakeLog, ends: Ends) -> None:
    """Four passes at 382 mm/min: R for a full slot, sqrt(ae (D - ae)) for side passes (worked out by hand)."""
    trial = make_log([*ends("layered", [20, 24, 31]), *ends("side", [60, 72, 90])])
    layered, side = (one.members[0].other_min for one in practices_of(trial, [END], "parts", SHOP).practices)
    feed = 0.05 * 4 * 1000 * 60 / (math.pi * 10)
    assert layered == pytest.approx(4 * 5.0 / feed, rel=1e-6)
    assert side == pytest.approx(4 * math.sqrt(2.5 * 7.5) / feed, rel=1e-6)
    assert float(approach_mm(2.5, 10)) == pytest.approx(4.33, abs=0.005)


def test_a_practice_without_a_known_approach_says_so(make_log: MakeLog, ends: Ends) -> None:
    (found,) = practices_of(make_log(ends("plunge", [20, 24, 31])), [END], "parts", SHOP).practices
    assert found.members[0].other_min == 0.0
    assert any("approach" in note for note in found.notes)


def test_price_regrinds_and_salvage_make_the_edge(make_log: MakeLog, ends: Ends) -> None:
    shop = SHOP.with_(regrinds=3, regrind_price=12.0, salvage=4.0)
    (found,) = practices_of(make_log(ends("layered", [20, 24, 31])), [END], "parts", shop).practices
    assert found.members[0].edge_cost == pytest.approx((28 - 4 + 3 * 12) / 4)
    assert found.members[0].price == 28.0


def test_regrinds_without_a_price_are_asked_for(make_log: MakeLog, ends: Ends) -> None:
    with pytest.raises(Refusal, match="regrind_price"):
        practices_of(make_log(ends("layered", [20, 24, 31])), [END], "parts", SHOP.with_(regrinds=3))


def test_a_missing_price_is_asked_for_by_name(make_log: MakeLog, ends: Ends) -> None:
    trial = make_log(ends("layered", [20, 24, 31], cutter_price=""))
    with pytest.raises(Refusal, match=r"price of a cutter.*edge_price"):
        practices_of(trial, [END], "parts", SHOP)
    (found,) = practices_of(trial, [END], "parts", SHOP.with_(edge_price=30.0)).practices
    assert found.members[0].price == 30.0


def test_minutes_that_nobody_knows_are_asked_for(make_log: MakeLog, ends: Ends) -> None:
    rows = ends("layered", [20, 24, 31], cutting_time_min="", feed_per_tooth_mm="", axial_depth_mm="")
    with pytest.raises(Refusal, match="minutes in the metal a part are not known"):
        practices_of(make_log(rows), [END], "parts", SHOP)


def test_minutes_follow_from_the_removal_rate_where_only_parts_are_counted(make_log: MakeLog, ends: Ends) -> None:
    trial = make_log(ends("layered", [20, 24, 31], cutting_time_min=""))
    (found,) = practices_of(trial, [END], "parts", SHOP).practices
    rate = 2 * 10 * 0.05 * 4 * 1000 * 60 / (math.pi * 10) / 1000
    assert found.members[0].cutting_min == pytest.approx(9.6 / rate, rel=1e-6)


def test_without_parts_and_size_the_cost_is_a_cm3(make_log: MakeLog, ends: Ends) -> None:
    sizes = dict.fromkeys(("feature_width_mm", "feature_depth_mm", "feature_length_mm"), "")
    trial = make_log([row | {"parts": ""} | sizes for row in ends("layered", [20, 24, 31])])
    (found,) = practices_of(trial, [END], "cutting_time_min", SHOP).practices
    assert not found.parts_known
    assert found.members[0].cutting_min == pytest.approx(1 / 7.639437, rel=1e-6)


def pair(i: int, rough: int, finish: int) -> list[dict[str, Any]]:
    return [
        {"cutter": f"R{i}", "set": f"P{i}", "role": "rough", "parts": rough, "cutting_time_min": 1.25 * rough},
        {"cutter": f"F{i}", "set": f"P{i}", "role": "finish", "strategy": "finish", "parts": finish,
         "cutting_time_min": 0.4 * finish, "axial_depth_mm": 8, "radial_width_mm": 0.3},
    ]  # fmt: skip


class TestSets:
    def test_a_set_is_one_practice_with_its_members_in_order(self, make_log: MakeLog, ends: Ends) -> None:
        sets = [row for i, (r, f) in enumerate([(30, 80), (34, 70), (27, 95)]) for row in reversed(pair(i, r, f))]
        found = practices_of(make_log([*ends("layered", [12, 14, 11]), *sets]), [END], "parts", SHOP)
        assert [one.group for one in found.practices] == ["layered", "layered + finish"]
        alone, both = found.practices
        assert [member.role for member in both.members] == ["rough", "finish"]
        assert [member.cutting_min for member in both.members] == pytest.approx([1.25, 0.4])
        assert (alone.fewest, both.fewest, both.cutters) == (3, 3, 6)

    def test_a_drill_in_the_set_takes_the_place_of_the_drill_cost(self, make_log: MakeLog, ends: Ends) -> None:
        rows = []
        for i, (drill, mill) in enumerate([(90, 40), (110, 44), (95, 36)]):
            rows += [
                {"cutter": f"D{i}", "set": f"S{i}", "role": "drill", "strategy": "predrilled", "parts": drill,
                 "cutting_time_min": 0.3 * drill, "cutter_price": 15},
                {"cutter": f"M{i}", "set": f"S{i}", "role": "both", "strategy": "predrilled", "parts": mill,
                 "cutting_time_min": 0.5 * mill},
            ]  # fmt: skip
        (found,) = practices_of(make_log(rows), [END], "parts", SHOP).practices
        assert not found.drilled
        assert [member.role for member in found.members] == ["drill", "both"]
        assert found.members[0].edge_cost == 15.0
        (alone,) = practices_of(make_log(ends("predrilled", [40, 44, 36])), [END], "parts", SHOP).practices
        assert alone.drilled

    def test_each_role_has_its_own_criterion(self) -> None:
        rough, finish = parse_criterion("VB=0.3mm"), parse_criterion("VB=0.1mm").as_planned("finish")
        assert criterion_for("finish", [rough, finish]) is finish
        assert criterion_for("rough", [rough, finish]) is rough
        assert criterion_for("", [rough, finish]) is rough


def test_cutters_that_broke_are_counted_and_still_give_a_bound(make_log: MakeLog, ends: Ends) -> None:
    broken = {"cutter": "B", "parts": 15, "cutting_time_min": 19.5, "end_reason": "broken"}
    rows = [*ends("layered", [20, 24, 31]), broken]
    (found,) = practices_of(make_log(rows), [END], "parts", SHOP).practices
    (member,) = found.members
    assert member.fractures == 1
    assert member.exposure == 20 + 24 + 31 + 15
    assert member.longest == 31
    assert math.isinf(member.lives.set_index("cutter").loc["B", "high"])
    assert member.failures == 3


def test_what_is_left_out_is_named(make_log: MakeLog, ends: Ends) -> None:
    rows = [*ends("layered", [20, 24]), *ends("side", [60, 72]), {"cutter": "X", "parts": 9, "cutting_time_min": 11.7,
            "cutting_speed_m_min": 90}]  # fmt: skip
    found = practices_of(make_log(rows), [END], "parts", SHOP)
    assert ("X", "at a condition that not every practice met") in found.left_out
    assert all(one.cutters == 2 for one in found.practices)
