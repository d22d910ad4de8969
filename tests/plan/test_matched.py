"""Matched conditions: the standing example by hand, other rules, impossible practices."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable

import pytest

from wearlab.core.errors import Refusal
from wearlab.milling.cut import Cut
from wearlab.milling.matching import RULES, match_settings
from wearlab.plan.example import EXAMPLE
from wearlab.plan.matched import QUANTITY, at_speed, match_practices, zones_of
from wearlab.plan.request import Request
from wearlab.plan.request_file import request_of

# A step 10 wide, 8 deep, 120 long; cutter 10 mm, 4 teeth; 60 m/min, 0.05 mm a tooth: layers of 2 by 10, side
# passes of 8 by 2.5.
STEP = """
[feature]
width_mm = 10
depth_mm = 8
length_mm = 120
sides = "one"
[cutter]
diameter_mm = 10
teeth = 4
flute_length_mm = 20
[settings]
cutting_speed_m_min = 60
feed_per_tooth_mm = 0.05
[match]
rule = "{rule}"
[[practice]]
name = "layered"
layers = 4
expected_life_min = 60
[[practice]]
name = "side"
steps = 4
[size]
cutters = 3
"""


def standing(rule: str = "feed_per_tooth", **replaced: str) -> Request:
    text = STEP.format(rule=rule)
    for old, new in replaced.items():
        text = text.replace(old, new)
    return request_of(tomllib.loads(text))


def test_the_standing_example_by_hand() -> None:
    """Equal feed: Q 7.64 in both, mean chip 0.0318 and 0.0239, arcs of 180 and 60 degrees, 2.15 and 1.25 teeth."""
    found = match_practices(standing())
    layered, side = (arm.practice.quantities() for arm in found.arms)
    assert layered["removal_rate_cm3_min"] == pytest.approx(7.64, rel=1e-3)
    assert side["removal_rate_cm3_min"] == pytest.approx(layered["removal_rate_cm3_min"])
    assert (layered["mean_chip_mm"], side["mean_chip_mm"]) == pytest.approx((0.0318, 0.0239), abs=5e-5)
    assert (layered["engagement_angle_deg"], side["engagement_angle_deg"]) == pytest.approx(
        (180, 60), rel=1e-6
    )
    assert (layered["teeth_in_contact"], side["teeth_in_contact"]) == pytest.approx((2.15, 1.25), abs=0.005)
    one = found.fair[0]
    assert {"cutting_speed_m_min", "feed_per_tooth_mm", "removal_rate_cm3_min", "volume_cm3"} <= set(
        one.named(True)
    )
    assert {"mean_chip_mm", "engagement_angle_deg", "power_kw"} <= set(one.named(False))
    assert set(one.named(True)) & set(one.named(False)) == set()


def test_exposure_predicts_three_to_four() -> None:
    """pi / arccos(1 - 2 x 2.5/10) = 3 by sliding, 4 by chip a mm of edge, layered over side."""
    band = match_practices(standing()).fair[0].predicted["lower"]
    assert 1 / band[1] == pytest.approx(3.0, rel=0.01)
    assert 1 / band[0] == pytest.approx(4.0, rel=0.01)


@pytest.mark.parametrize("rule", RULES)
def test_each_rule_holds_its_quantity_equal(rule: str) -> None:
    found = match_practices(standing(rule))
    a, b = (arm.practice.quantities()[QUANTITY[rule]] for arm in found.arms)
    # Whole rev/min and mm/min cannot do better.
    assert a == pytest.approx(b, rel=3e-3)
    assert {arm.cutting_speed_m_min for arm in found.arms} == {60.0}


def test_the_feed_is_that_of_the_closed_formula() -> None:
    """Equal mean chip: 0.0667 mm a tooth and Q 10.19, as `match_settings` has it."""
    side = match_practices(standing("mean_chip")).arms[1]
    exact = match_settings(Cut(10, 4, 1909.86, 0.05, 2, 10), 8, 2.5, "mean_chip")
    assert side.feed_per_tooth_mm == pytest.approx(exact.feed_per_tooth_mm, rel=2e-3)
    assert exact.feed_per_tooth_mm == pytest.approx(0.0667, abs=5e-5)
    assert side.practice.quantities()["removal_rate_cm3_min"] == pytest.approx(10.19, rel=3e-3)


def test_settings_are_what_can_be_typed_into_a_control() -> None:
    for arm in match_practices(standing("mean_chip")).arms:
        assert arm.spindle_rpm == round(arm.spindle_rpm)
        assert arm.feed_rate_mm_min == round(arm.feed_rate_mm_min)
        assert arm.feed_per_tooth_mm * 4 * arm.spindle_rpm == pytest.approx(arm.feed_rate_mm_min)


def test_impossible_practices_are_refused_with_every_reason() -> None:
    with pytest.raises(
        Refusal, match="side: a slot of 10 mm leaves a cutter of 10 mm no room for side passes"
    ):
        match_practices(standing(**{'sides = "one"': 'sides = "closed"'}))
    with pytest.raises(Refusal, match=r"side: .*exceeds the flute length of 5 mm"):
        match_practices(standing(**{"flute_length_mm = 20": "flute_length_mm = 5"}))


def test_a_rule_that_no_feed_meets() -> None:
    """Side passes of 0.1 um would need a feed out of all reason for the mean chip of a slot."""
    with pytest.raises(Refusal, match="no feed within 50 times"):
        match_practices(standing("mean_chip", **{"steps = 4": "steps = 100000"}))


def test_plunging_is_matched_too() -> None:
    closed = STEP.format(rule="removal_rate").replace('sides = "one"', 'sides = "closed"\nends = "closed"')
    closed = closed.replace("teeth = 4", 'teeth = 4\ncentre_cutting = "yes"')
    closed = closed.replace('name = "side"\nsteps = 4', 'name = "plunge"\npitch_mm = 2')
    found = match_practices(request_of(tomllib.loads(closed)))
    a, b = (arm.practice.quantities()["removal_rate_cm3_min"] for arm in found.arms)
    assert a == pytest.approx(b, rel=5e-3)
    facts = found.arm("plunge").facts()
    assert facts["plunge_pitch_mm"] == 2
    assert facts["plunge_feed_per_tooth_mm"] > 0
    assert "axial_depth_mm" not in facts


def test_a_life_that_is_not_stated_follows_from_exposure() -> None:
    layered, side = match_practices(standing()).arms
    assert (layered.life_from, side.life_from) == ("stated", "exposure")
    assert 3.0 <= side.expected_life_min / layered.expected_life_min <= 4.05


def test_another_speed_moves_the_life_by_taylor() -> None:
    request = standing()
    arm = match_practices(request).arms[0]
    fast = at_speed(request, arm, 120.0)
    assert fast.expected_life_min == pytest.approx(60 / 16)
    assert fast.feed_per_tooth_mm == pytest.approx(arm.feed_per_tooth_mm, rel=2e-3)
    assert fast.life_from == "speed"


def test_zones_end_on_the_layer_line(request_with: Callable[..., Request]) -> None:
    request = standing()
    zones = zones_of(request, match_practices(request).arms)
    assert zones == {"corner": (0.0, 0.4), "lower": (0.4, 2.0), "middle": (2.0, 5.0), "upper": (5.0, 8.0)}
    stated = EXAMPLE.replace("corner = [0, 0.5]\nlower = [0.5, 3]", "lower = [0.5, 3]\ncorner = [0, 0.5]")
    assert list(zones_of(request_with(stated), ())) == ["corner", "lower"]


def test_doubts(request_with: Callable[..., Request]) -> None:
    thin = EXAMPLE.replace("feed_per_tooth_mm = 0.05", "feed_per_tooth_mm = 0.01").replace(
        "overhang_mm = 38", "overhang_mm = 60"
    )
    found = match_practices(request_with(thin.replace("teeth = 4", "teeth = 4\nrunout_um = 12"))).doubts
    assert len(found) == 4
    assert any("it may rub" in one for one in found)
    assert any("5.0 diameters" in one for one in found)
    assert any("tenth of the feed" in one for one in found)
    assert match_practices(request_with()).doubts == ()
    assert not math.isnan(match_practices(request_with()).arms[0].minutes_a_part)
