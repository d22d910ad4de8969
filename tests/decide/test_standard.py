"""The one-page standard: what goes on it, and what is refused or branded."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.conditions import condition_rules
from wearlab.decide.decide import decide
from wearlab.decide.decision import Decision
from wearlab.decide.standard import NOT_TESTED, standard_of
from wearlab.logbook.trial import Trial
from wearlab.words.cautions import CAUTIONS


@pytest.fixture
def demo(sample: Callable[[str], Trial]) -> Trial:
    return sample("shoulder_demo")


class TestInsideWhatWasTested:
    def test_the_choice_of_the_trial(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision, date="2026-04-01")
        assert made.practice == "side"
        assert made.not_tested == ()
        (member,) = made.members
        settings = {one.column: one for one in member.settings}
        assert (settings["cutting_speed_m_min"].value, settings["axial_depth_mm"].value) == (70.0, 9.0)
        assert (settings["runout_um"].low, settings["runout_um"].high) == (4.0, 9.0)
        assert member.interval_parts == demo_decision.practice("side").changes[0][1].parts
        assert made.evidence["sha256"] == demo.sources[0].sha256
        assert (made.evidence["first_day"], made.evidence["last_day"]) == ("2026-03-02", "2026-03-30")
        json.dumps(made.to_dict(), allow_nan=False)

    def test_another_practice_by_name(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision, "layered")
        assert {one.column: one.value for one in made.members[0].settings}["axial_depth_mm"] == 3.0
        with pytest.raises(ArgumentError, match="no practice 'plunge'"):
            standard_of(demo, demo_decision, "plunge")

    def test_a_shorter_interval_needs_no_brand(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision, interval_parts=20)
        assert made.members[0].interval_parts == 20
        assert made.not_tested == ()

    def test_the_pins_of_the_trial_up_to_the_interval(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision, "layered", interval_parts=30)
        seen = {one.pin_mm: one for one in made.pin.seen}
        rows = demo.walls.merge(demo.facts()[["cutter", "strategy", "cutting_speed_m_min"]], on="cutter")
        rows = rows.query("measure == 'hang_up' and strategy == 'layered' and cutting_speed_m_min == 70")
        rows = rows[rows["parts"] <= 30]
        for pin, own in rows.groupby("pin_mm"):
            assert seen[float(pin)].highest_mm == own["value_mm"].max()  # type: ignore[arg-type]
            assert seen[float(pin)].readings == len(own)  # type: ignore[arg-type]
        assert "not stated" in made.pin.why_missing

    def test_cautions_defer_and_are_known_to_the_words(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision)
        assert {"authority", "range", "limits", "fragments"} <= set(made.cautions)
        assert set(made.cautions) <= {one.key for one in CAUTIONS}

    def test_a_look_adds_the_land(self, demo: Trial, demo_decision: Decision) -> None:
        (member,) = standard_of(demo, demo_decision, look_every=10).members
        assert member.condition is not None
        assert 0.05 < member.condition.change_at < 0.2
        (rule,) = [one for one in condition_rules(demo, demo_decision, 10) if one.group == "side"]
        assert rule.rule == member.condition


class TestOutside:
    def test_a_speed_that_was_not_tested_is_refused(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(Refusal, match=r"cutting_speed_m_min 76 \(tested 70 to 70\)"):
            standard_of(demo, demo_decision, settings={"cutting_speed_m_min": 76.0})

    def test_with_the_brand_it_is_printed_as_not_tested(self, demo: Trial, demo_decision: Decision) -> None:
        made = standard_of(demo, demo_decision, settings={"cutting_speed_m_min": 76.0}, branded=True)
        settings = {one.column: one for one in made.members[0].settings}
        assert settings["cutting_speed_m_min"].brand == NOT_TESTED
        # Revolutions and feed speed follow from the speed, and so does the brand.
        assert settings["spindle_rpm"].value == pytest.approx(1000 * 76 / (math.pi * 12))
        assert settings["feed_rate_mm_min"].value == pytest.approx(0.05 * 4 * settings["spindle_rpm"].value)
        assert settings["feed_rate_mm_min"].brand == NOT_TESTED
        # At another speed nobody knows how long a cutter lasts.
        assert made.members[0].interval_brand == NOT_TESTED
        assert len(made.not_tested) == 4

    def test_a_setting_that_was_never_recorded(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(Refusal, match="never recorded"):
            standard_of(demo, demo_decision, settings={"wall_clearance_mm": 0.2})

    def test_an_interval_that_no_cutter_ran(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(Refusal, match=r"change interval of 400 parts \(not tested\)"):
            standard_of(demo, demo_decision, interval_parts=400)

    def test_an_interval_longer_than_supported(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(Refusal, match=r"120 parts \(longer than the \d+ parts that the trial supports\)"):
            standard_of(demo, demo_decision, interval_parts=120)

    def test_a_pin_that_was_not_used(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(Refusal, match=r"pin 12.55 mm \(pins tried: 12.5, 12.54, 12.57\)"):
            standard_of(demo, demo_decision, pin_mm=12.55, permitted_mm=0.5)
        made = standard_of(demo, demo_decision, pin_mm=12.55, permitted_mm=0.5, branded=True)
        assert made.pin.brand == NOT_TESTED

    def test_words_that_are_no_setting(self, demo: Trial, demo_decision: Decision) -> None:
        with pytest.raises(ArgumentError, match="'speed'"):
            standard_of(demo, demo_decision, settings={"speed": 70.0})
        with pytest.raises(ArgumentError, match="1 or more"):
            standard_of(demo, demo_decision, interval_parts=0)


def test_without_a_choice_a_practice_must_be_named(
    make_log: Callable[..., Trial], ends: Callable[..., list[dict[str, Any]]], costs: dict[str, Any]
) -> None:
    trial = make_log([*ends("layered", [20, 24]), *ends("side", [60, 70])])
    made = decide(trial, costs=costs, draws=200, sensitivity=False)
    with pytest.raises(Refusal, match="no practice was chosen: too few cutters"):
        standard_of(trial, made)
    card = standard_of(trial, made, "side")
    assert card.evidence["why_no_chance"]
    assert "trial_unsettled" in card.review


def test_a_set_has_a_part_for_each_cutter(
    make_log: Callable[..., Trial], costs: dict[str, Any]
) -> None:
    rows: list[dict[str, Any]] = []
    for i, (rough, finish) in enumerate([(30, 80), (34, 70), (27, 95), (29, 76)]):
        rows += [
            {"cutter": f"R{i}", "set": f"P{i}", "role": "rough", "parts": rough, "cutting_time_min": 1.25 * rough},
            {"cutter": f"F{i}", "set": f"P{i}", "role": "finish", "strategy": "finish", "parts": finish,
             "cutting_time_min": 0.4 * finish, "axial_depth_mm": 8, "radial_width_mm": 0.3},
        ]  # fmt: skip
    trial = make_log(rows)
    made = standard_of(
        trial, decide(trial, costs=costs | {"swap_min": 0.2}, draws=300, sensitivity=False), "layered + finish"
    )
    assert [one.role for one in made.members] == ["rough", "finish"]
    assert [one.strategy for one in made.members] == ["layered", "finish"]
    depths = [{s.column: s.value for s in one.settings}["axial_depth_mm"] for one in made.members]
    assert depths == [2.0, 8.0]


def test_titanium_adds_the_caution_of_fire(
    make_log: Callable[..., Trial], ends: Callable[..., list[dict[str, Any]]], costs: dict[str, Any]
) -> None:
    for material, expected in (("Ti-6Al-4V titanium", True), ("C45", False)):
        trial = make_log(ends("layered", [20, 24, 31], work_material=material))
        made = decide(trial, costs=costs, draws=200, sensitivity=False)
        assert ("fire" in standard_of(trial, made, "layered").cautions) is expected
