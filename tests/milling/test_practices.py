"""The practices: refusals, volume, time, what is left behind, exposure by zone of the standing example.

Geometry and exposure of each are checked against an independent sweep in test_simulation.py.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.exposure import predicted_band, zone_exposure
from wearlab.milling.matching import matched_conditions
from wearlab.milling.practices import (
    PRACTICES,
    Cutter,
    Feature,
    Finish,
    FullSlot,
    Helical,
    Layered,
    Plunge,
    Predrilled,
    Ramp,
    Settings,
    Side,
    Trochoidal,
)
from wearlab.milling.practices.finish import inside_arc_angle
from wearlab.milling.practices.helical import helical_end_share
from wearlab.milling.practices.passes import CHIP
from wearlab.milling.practices.plunge import lens_mm2, plunge_area_mm2, plunge_engaged_angle
from wearlab.milling.practices.predrilled import drilled_arc_share, drilled_volume_share
from wearlab.milling.practices.ramp import ramp_end_share, ramp_leg_exposure
from wearlab.milling.practices.trochoidal import trochoidal_loop

RPM = 6000 / math.pi  # 60 m/min on 10 mm
SETTINGS = Settings(RPM, 0.05, 0.05)
CUTTER = Cutter(10, 4, centre_cutting=True)
SLOT = Feature(10, 8, 120)
ROUND_SLOT = Feature(10, 8, 120, ends="closed")
STEP = Feature(10, 8, 120, sides="one")
ZONES = {"corner": (0, 0.4), "lower": (0.4, 2), "middle": (2, 5), "upper": (5, 8)}


def make(kind, feature, cutter=CUTTER, with_settings=SETTINGS, **more):
    return kind(feature=feature, cutter=cutter, settings=with_settings, **more)


EVERY = [
    make(Layered, SLOT, layers=4),
    make(Layered, ROUND_SLOT, layers=4),
    make(Layered, Feature(24, 8, 120), layers=4, allowance_wall_mm=0.3, allowance_floor_mm=0.1),
    make(Layered, Feature(24, 8, 120, sides="open"), layers=3),
    make(Side, STEP, steps=4),
    make(Side, Feature(14, 8, 120), steps=4, allowance_wall_mm=0.2),
    make(FullSlot, SLOT),
    make(Plunge, ROUND_SLOT, pitch_mm=2),
    make(Plunge, SLOT, pitch_mm=4, clean=True),
    make(Plunge, Feature(10, 8, 10, ends="closed"), pitch_mm=2),
    make(Predrilled, SLOT, drill_mm=8, drill_pitch_mm=8.5),
    make(Predrilled, ROUND_SLOT, drill_mm=8, drill_pitch_mm=8.5, then="layered", layers=4),
    make(Predrilled, ROUND_SLOT, drill_mm=8, drill_pitch_mm=8.5, then="plunge", pitch_mm=8.5),
    make(Predrilled, SLOT, drill_mm=6, drill_pitch_mm=8.5, then="plunge", pitch_mm=3),
    make(Ramp, ROUND_SLOT, angle_deg=1.1),
    make(Ramp, SLOT, angle_deg=3, leg_mm=2 / math.tan(math.radians(3))),
    make(Ramp, ROUND_SLOT, angle_deg=1.1, level=False),
    make(Helical, Feature(18, 8, 18, ends="closed")),
    make(Helical, Feature(13, 8, 13, ends="closed"), level=False),
    make(Helical, Feature(20, 8, 20, ends="closed")),
    make(Trochoidal, Feature(16, 8, 120), step_mm=1),
    make(Trochoidal, Feature(16, 8, 120, ends="closed"), step_mm=1),
    make(Finish, Feature(14, 8, 120), stock_wall_mm=0.3, stock_floor_mm=0.2),
    make(Finish, Feature(14, 8, 60, ends="closed"), stock_wall_mm=0.3, stock_floor_mm=0.2, wall_passes=2),
    make(Finish, STEP, stock_floor_mm=0.2),
    make(Finish, ROUND_SLOT, stock_floor_mm=0.2),
]


@pytest.mark.parametrize("practice", EVERY, ids=lambda p: f"{p.name}-{p.feature.sides}-{p.feature.ends}")
def test_volume_adds_up(practice):
    # Removed, left and gone before make up the feature; and the chips that the edges cut are what was
    # removed.
    assert practice.volume_gap_cm3() == pytest.approx(0, abs=1e-9)
    milled = sum(group.volume_mm3 for group in practice.passes() if group.tool == "mill") / 1000
    z = (np.arange(4000) + 0.5) / 4000 * 8
    r = (np.arange(4000) + 0.5) / 4000 * 5
    flute = practice.edge_exposure(z).per("parts")["chip_mm3_mm"].mean() * 8
    end = practice.end_exposure(r).chip_mm3_mm_cm3.mean() * practice.feature.volume_cm3 * 5
    assert 4 * (flute + end) / 1000 == pytest.approx(milled, rel=2e-3)


@pytest.mark.parametrize("practice", EVERY, ids=lambda p: f"{p.name}-{p.feature.sides}-{p.feature.ends}")
def test_time_rate_and_zones_hang_together(practice):
    assert 0 < practice.cutting_time_min <= practice.machine_time_min
    zones = practice.zone_exposure(ZONES | {"end": (0, 5)})
    per_part = zones.per("parts")["contact_time_min"]
    # No point of the edge is longer in the metal than the cutter is.
    assert np.all(per_part <= practice.cutting_time_min * (1 + 1e-9))
    assert zones.per("min")["contact_time_min"] * practice.cutting_time_min == pytest.approx(per_part)
    # Zones are means over heights.
    z = 2 + 3 * (np.arange(3000) + 0.5) / 3000
    middle = practice.edge_exposure(z).sliding_m_cm3.mean()
    assert zones.of("middle")["sliding_m_cm3"] == pytest.approx(middle, rel=2e-3, abs=1e-6)
    # Quadrature over the corners of the end edge's angle is good to 1e-6.
    assert 0 < practice.mean_chip_mm <= SETTINGS.feed_per_tooth_mm * (1 + 1e-6)
    assert practice.removal_rate_cm3_min > 0
    assert set(practice.quantities()) == set(EVERY[0].quantities())


def test_every_strategy_word_has_its_practice():
    words = {
        "layered",
        "side",
        "full_slot",
        "plunge",
        "predrilled",
        "ramp",
        "helical",
        "trochoidal",
        "finish",
    }
    assert set(PRACTICES) == words
    assert all(dataclasses.is_dataclass(kind) for kind in PRACTICES.values())


# ----- the standing example
# -----------------------------------------------------------------------------------------


def sliding_and_chip(practice, zone):
    amounts = practice.zone_exposure(ZONES).of(zone)
    return float(amounts["sliding_m_cm3"]), float(amounts["chip_mm3_mm_cm3"])


def test_layered_and_side_take_the_same_time_but_for_the_approach():
    layered, side = make(Layered, STEP, layers=4), make(Side, STEP, steps=4)
    assert layered.removal_rate_cm3_min == pytest.approx(side.removal_rate_cm3_min, rel=1e-12)
    feed = 0.05 * 4 * RPM
    assert layered.cutting_time_min == pytest.approx(4 * 125 / feed)
    assert side.cutting_time_min == pytest.approx(4 * (120 + 4.33) / feed, rel=1e-4)
    assert layered.removed_cm3 == pytest.approx(9.6)
    assert side.removed_cm3 == pytest.approx(9.6)


@pytest.mark.parametrize("steps", [1, 2, 3, 5, 7])
def test_equal_path_and_rate_for_any_number_of_steps(steps):
    layered, side = make(Layered, STEP, layers=steps), make(Side, STEP, steps=steps)
    assert layered.removal_rate_cm3_min == pytest.approx(side.removal_rate_cm3_min, rel=1e-12)
    revs = [sum(g.full[3] for g in p.passes()) for p in (layered, side)]
    assert revs[0] == pytest.approx(revs[1], rel=1e-12)


def test_practice_agrees_with_the_plain_function():
    layered = make(Layered, SLOT, layers=4).zone_exposure(ZONES)
    plain = zone_exposure(2, 10, 0.05, 4, 10, RPM, ZONES, volume_cm3=9.6)
    for name in ("contact_time_min_cm3", "sliding_m_cm3", "chip_mm3_mm_cm3", "impacts_cm3", "floor_cm2_cm3"):
        assert getattr(layered, name) == pytest.approx(getattr(plain, name), rel=1e-12)
    assert predicted_band(layered, make(Side, STEP, steps=4).zone_exposure(ZONES)).of(
        "lower"
    ) == pytest.approx((3, 4))


@pytest.mark.parametrize(
    ("pitch", "rate", "with_retracts", "sliding", "chip"),
    [(2, 7.6, 7.0, 4.43, 222), (4, 14.9, 13.6, 2.48, 124)],
)
def test_plunge_of_the_standing_example(pitch, rate, with_retracts, sliding, chip):
    area = float(plunge_area_mm2(pitch, 10))
    feed = 0.05 * 4 * RPM
    assert area * feed / 1000 == pytest.approx(rate, abs=0.051)
    # A long row: the first hole and the round ends weigh little. Rapid moves of two depths and a pitch at 10
    # m/min, as lift of half a depth gives.
    row = make(
        Plunge,
        Feature(10, 8, 12_000 + 10, ends="closed"),
        pitch_mm=pitch,
        with_settings=Settings(RPM, 0.05, 0.05, lift_mm=4),
    )
    assert row.removal_rate_cm3_min == pytest.approx(rate, abs=0.051)
    assert row.removed_cm3 / row.machine_time_min == pytest.approx(with_retracts, abs=0.051)
    found = sliding_and_chip(row, "corner")
    assert found == pytest.approx((sliding, chip), rel=3e-3)
    assert sliding_and_chip(row, "lower") == (0, 0)
    assert row.mean_chip_mm == pytest.approx(0.05, rel=1e-4)


def test_plunge_zones_of_the_end_edge():
    row = make(Plunge, Feature(10, 8, 4_010, ends="closed"), pitch_mm=2)
    zones = row.zone_exposure({"end": (4.6, 5), "corner": (0, 0.4)})
    # Mean over r 4.6 to 5: 4.03 m and 201 mm3/mm.
    assert zones.of("end")["sliding_m_cm3"] == pytest.approx(4.03, abs=0.02)
    assert zones.of("end")["chip_mm3_mm_cm3"] == pytest.approx(201, abs=1)
    # The centre idles: nothing below r = R - p but in the first hole.
    inner = row.zone_exposure({"end": (0, 2.99)}).of("end")["sliding_m_cm3"]
    assert inner == pytest.approx(0, abs=2e-3)


@pytest.mark.parametrize(("pitch", "left", "cusp"), [(2, 0.007, 0.10), (4, 0.027, 0.42), (5, 0.043, 0.67)])
def test_what_a_row_of_plunges_leaves(pitch, left, cusp):
    assert 1 - plunge_area_mm2(pitch, 10) / (10 * pitch) == pytest.approx(left, abs=5e-4)
    row = make(Plunge, Feature(10, 8, 20 * pitch + 10, ends="closed"), pitch_mm=pitch)
    remains = row.remains()
    assert remains.wall_cusp_mm == pytest.approx(cusp, abs=5e-3)
    assert remains.volume_cm3 == pytest.approx(
        20 * (10 * pitch - plunge_area_mm2(pitch, 10)) * 8 / 1000, rel=1e-3
    )
    clean = dataclasses.replace(row, clean=True)
    assert clean.remains().volume_cm3 == 0
    assert clean.removed_cm3 == pytest.approx(clean.feature.volume_cm3)


@given(pitch=st.floats(0.01, 10), diameter=st.floats(0.1, 50))
@settings(deadline=None)
def test_integral_over_the_radius_is_the_area_of_a_plunge(pitch, diameter):
    pitch = pitch * diameter / 10
    r = (np.arange(40_000) + 0.5) / 40_000 * diameter / 2
    area = np.sum(r * plunge_engaged_angle(r, pitch, diameter)) * diameter / 2 / 40_000
    assert area == pytest.approx(float(plunge_area_mm2(pitch, diameter)), rel=2e-3)


def test_lens_against_a_grid():
    x, y = np.meshgrid(np.linspace(-5, 5, 2001), np.linspace(-5, 5, 2001))
    both = (np.hypot(x + 1.5, y) < 5) & (np.hypot(x - 1.5, y) < 5)
    assert lens_mm2(3, 10) == pytest.approx(both.sum() * 0.005**2, rel=1e-3)


def test_plunge_is_layering_turned_through_a_right_angle():
    # As the pitch goes to nothing the corner slides pi R/(fz N D p), the layered formula with p in place of
    # ap.
    for pitch, close in ((0.1, 0.02), (0.001, 2e-4)):
        angle = float(plunge_engaged_angle(5, pitch, 10))
        sliding = 5 * angle / (0.05 * 4 * float(plunge_area_mm2(pitch, 10)))
        assert sliding == pytest.approx(math.pi * 5 / (0.05 * 4 * 10 * pitch), rel=close)
    # At p = ap = 2 the corner sees 1.13 times the layers, at 4 2.48 against 1.96.
    layered = math.pi * 5 / (0.05 * 4 * 10 * np.array([2, 4]))
    corner = 5 * plunge_engaged_angle(5, [2, 4], 10) / (0.05 * 4 * 10 * np.array([2, 4]))
    assert corner / layered == pytest.approx([1.13, 1.26], abs=5e-3)
    assert np.degrees(plunge_engaged_angle(5, [2, 4, 5], 10)) == pytest.approx([203, 227, 240], abs=0.51)


def test_predrilled_of_the_standing_example():
    assert drilled_volume_share(8, 8.5, 10) == pytest.approx(0.409, abs=5e-4)
    assert drilled_arc_share(8, 8.5, 10) == pytest.approx(0.582, abs=5e-4)
    slot = make(Predrilled, Feature(10, 8, 8.5 * 14), drill_mm=8, drill_pitch_mm=8.5)
    for zone in ZONES:
        assert sliding_and_chip(slot, zone) == pytest.approx((0.57, 12.8), abs=0.05)
    # A sixth to a seventh of what layers do to the lower flute.
    layered = make(Layered, Feature(10, 8, 8.5 * 14), layers=4)
    assert sliding_and_chip(layered, "lower")[0] / sliding_and_chip(slot, "lower")[0] == pytest.approx(
        6.9, abs=0.05
    )
    # The mill takes what the drill leaves at the feed of a full slot.
    assert slot.removal_rate_cm3_min == pytest.approx(30.56 * 0.4086, abs=0.01)


def test_predrilled_arc_by_sampling():
    # Independent: random places of the axis and of the tooth on its half turn, and whether there is a hole.
    rng = np.random.default_rng(7)
    x, phi = rng.uniform(0, 8.5, 400_000), rng.uniform(0, math.pi, 400_000)
    along = np.mod(x + 5 * np.sin(phi) + 4.25, 8.5) - 4.25
    metal = np.hypot(along, 5 * np.cos(phi)) > 4
    assert drilled_arc_share(8, 8.5, 10) == pytest.approx(metal.mean(), abs=3e-3)
    assert drilled_volume_share(8, 8.5, 10) == pytest.approx(
        (metal * np.sin(phi)).mean() * math.pi / 2, abs=4e-3
    )


def test_ramp_of_the_standing_example():
    leg = 2 / math.tan(math.radians(3))
    assert leg == pytest.approx(38.2, abs=0.05)
    assert ramp_end_share([40, leg], 10) == pytest.approx([0.164, 0.171], abs=5e-4)
    for (low, high), sliding, chip in (
        ((0, 0.4), 3.09, 98),
        ((0.4, 2), 2.28, 73),
        ((2, 5), 0.54, 17),
        ((5, 8), 0, 0),
    ):
        z = low + (high - low) * (np.arange(2000) + 0.5) / 2000
        found = ramp_leg_exposure(z, 2, leg, feed_per_tooth_mm=0.05, teeth=4, diameter_mm=10)
        assert found["sliding_m_cm3"].mean() == pytest.approx(sliding, abs=6e-3)
        assert found["chip_mm3_mm_cm3"].mean() == pytest.approx(chip, abs=0.51)


def test_legs_of_a_ramp_as_the_formula_of_one_leg():
    # Many legs: the first leg and the level pass weigh little.
    deep = make(Ramp, Feature(10, 400, 48.2, ends="closed"), angle_deg=3)
    one = ramp_leg_exposure(
        [0.2, 1.0, 3.0], deep.descent_mm, 38.2, feed_per_tooth_mm=0.05, teeth=4, diameter_mm=10
    )
    found = deep.edge_exposure([0.2, 1.0, 3.0])
    assert found.sliding_m_cm3 == pytest.approx(one["sliding_m_cm3"], rel=0.01)
    assert found.chip_mm3_mm_cm3 == pytest.approx(one["chip_mm3_mm_cm3"], rel=0.01)
    ends = sum(g.volume_mm3 - g.full[CHIP] * 4 * g.profile.top_mm / 2 for g in deep.passes() if g.end)
    assert ends / 1000 / deep.removed_cm3 == pytest.approx(float(ramp_end_share(38.2, 10)), rel=1e-9)
    # At the corner the end edge adds up to as much sliding again, in the trailing half turn.
    corner, flute = sliding_and_chip(deep, "corner")[0], deep.edge_exposure([0.2]).sliding_m_cm3[0]
    assert 1.9 < corner / flute < 2.1


def test_ramp_leaves_a_slope_unless_it_is_levelled():
    sloped = make(Ramp, ROUND_SLOT, angle_deg=1.1, level=False)
    assert sloped.remains().floor_rise_mm == pytest.approx(2)
    assert sloped.remains().volume_cm3 == pytest.approx(10 * 110 * 2 / 2 / 1000)
    assert make(Ramp, ROUND_SLOT, angle_deg=1.1).remains().floor_rise_mm == 0


def test_helix_takes_a_share_with_its_end_edges():
    helix = make(Helical, Feature(16, 40, 16, ends="closed"), angle_deg=2)
    ends = 4 * helix.end_exposure((np.arange(500) + 0.5) / 100).chip_mm3_mm_cm3.mean() * 5 / 1000
    # The level orbit takes some of it back: (D/D_b)^2 of the whole depth.
    assert ends == pytest.approx(float(helical_end_share(16, 10)), rel=1e-6)


def test_trochoidal_loop():
    loop = trochoidal_loop(16, 10, 1.0)
    # The chips of a loop are its crescent: integral of R (1 - cos) over the path, whatever the arc.
    assert loop.area_mm2 == pytest.approx(float(plunge_area_mm2(1.0, 16)))
    assert loop.cutting_mm < loop.travel_mm
    assert 0 < loop.max_chip_share <= 1
    # Smaller steps, smaller arcs; and the peak goes as the root of the step.
    angles = [trochoidal_loop(16, 10, step).peak_angle for step in (0.04, 0.01)]
    assert angles[0] / angles[1] == pytest.approx(2, rel=0.02)
    slot = make(Trochoidal, Feature(16, 8, 120), step_mm=1)
    assert slot.quantities()["max_chip_mm"] == pytest.approx(
        0.05 * trochoidal_loop(16, 10, slot.even_step_mm).max_chip_share
    )
    # It cuts thinner chips than a full slot, and rubs more for it.
    assert slot.mean_chip_mm < make(FullSlot, SLOT).mean_chip_mm


def test_finish_of_the_standing_example():
    finish = make(Finish, Feature(10.6, 8, 120), stock_wall_mm=0.3)
    assert finish.edge_exposure([0, 4, 8]).per("parts")["sliding_m"] == pytest.approx([2.09] * 3, abs=5e-3)
    assert finish.removed_cm3 == pytest.approx(2 * 0.3 * 8 * 120 / 1000)
    assert finish.remains().volume_cm3 == 0


def test_round_wall_engages_more():
    straight = math.acos(1 - 0.3 / 5)
    assert inside_arc_angle(0.3, 1e9, 10) == pytest.approx(straight, rel=1e-6)
    assert inside_arc_angle(0.3, 7, 10) > 1.8 * straight
    with pytest.raises(ArgumentError, match="wall radius 5 mm, cutter 10 mm"):
        inside_arc_angle(0.3, 5, 10)


def test_allowances_stay():
    slot = make(Layered, Feature(10.6, 8, 120), layers=4, allowance_wall_mm=0.3, allowance_floor_mm=0.2)
    assert slot.rough == Feature(10, 7.8, 120)
    remains = slot.remains()
    assert (remains.allowance_wall_mm, remains.allowance_floor_mm) == (0.3, 0.2)
    finish = make(Finish, Feature(10.6, 8, 120), stock_wall_mm=0.3, stock_floor_mm=0.2)
    assert slot.removed_cm3 + finish.removed_cm3 == pytest.approx(slot.feature.volume_cm3)
    assert remains.volume_cm3 == pytest.approx(finish.removed_cm3)


def test_machine_time_counts_rapid_moves_overrun_and_tool_changes():
    quiet = Settings(RPM, 0.05, 0.05, lift_mm=0, both_ways=True)
    busy = dataclasses.replace(quiet, both_ways=False, overrun_mm=3, lift_mm=2)
    feed = 0.05 * 4 * RPM
    base, slow = (make(Layered, SLOT, layers=4, with_settings=s) for s in (quiet, busy))
    assert base.machine_time_min == pytest.approx(base.cutting_time_min)
    assert slow.machine_time_min - base.machine_time_min == pytest.approx(
        4 * 3 / feed + 4 * (125 + 3 + 4) / 10_000
    )
    drilled = make(
        Predrilled, SLOT, drill_mm=8, drill_pitch_mm=8.5, drill_feed_mm_min=200, with_settings=quiet
    )
    drilling = 14 * 8 / 200 + 14 * (8 + 8.5) / 10_000
    assert drilled.machine_time_min - drilled.cutting_time_min == pytest.approx(drilling + 0.1)


# ----- refusals
# -----------------------------------------------------------------------------------------------------

PLAIN = Cutter(10, 4)
BLIND = Cutter(10, 4, centre_cutting=False, core_mm=3)
POCKET = Feature(18, 8, 60, ends="closed")


@pytest.mark.parametrize(
    ("practice", "reason"),
    [
        (make(Side, SLOT, steps=4), "side: a slot of 10 mm leaves a cutter of 10 mm no room for side passes"),
        (make(Side, ROUND_SLOT, steps=4), "side passes run out at the ends, and the ends are closed"),
        (
            make(Side, Feature(24, 8, 120, sides="one"), steps=2),
            "2 side passes of 12 mm are wider than the cutter, 10 mm",
        ),
        (make(Layered, Feature(9, 8, 120), layers=2), "a slot of 9 mm is narrower than the cutter, 10 mm"),
        (
            make(Layered, ROUND_SLOT, PLAIN, layers=2),
            "each layer .* and the cutter is not known to cut to its centre",
        ),
        (make(Layered, POCKET, layers=2), "is a pocket for a cutter of 10 mm: enter by a helix"),
        (
            make(FullSlot, Feature(12, 8, 120)),
            "a full slot is as wide as the cutter: 12 mm to cut, cutter 10 mm",
        ),
        (
            make(Plunge, ROUND_SLOT, BLIND, pitch_mm=2),
            "goes into solid metal, and the cutter does not cut to its centre",
        ),
        (
            make(Plunge, SLOT, BLIND, pitch_mm=4),
            "a pitch of 4 mm reaches to 1 mm from the axis, inside the core",
        ),
        (make(Plunge, SLOT, pitch_mm=11), "a pitch of 11 mm exceeds the diameter"),
        (make(Plunge, Feature(12, 8, 120), pitch_mm=2), "as wide as the cutter, 10 mm, not 12 mm"),
        (
            make(Predrilled, SLOT, drill_mm=9, drill_pitch_mm=8.5),
            "holes of 9 mm exceed their pitch, 8.5 mm, or the cutter",
        ),
        (make(Predrilled, SLOT, drill_mm=5, drill_pitch_mm=300), "no room for a hole"),
        (
            make(Predrilled, Feature(12, 8, 120), drill_mm=8, drill_pitch_mm=9),
            "12 mm, is wider than the cutter",
        ),
        (make(Predrilled, SLOT, drill_mm=8, drill_pitch_mm=9, then="saw"), "no way to go on by 'saw'"),
        (
            make(Predrilled, ROUND_SLOT, BLIND, drill_mm=2, drill_pitch_mm=9),
            "a hole of 2 mm does not clear the core",
        ),
        (
            make(Ramp, ROUND_SLOT, PLAIN, angle_deg=3),
            "a ramp without a stated greatest angle counts as a plunge",
        ),
        (make(Ramp, ROUND_SLOT, angle_deg=3, max_angle_deg=2), "angle of 3 deg exceeds the cutter's 2 deg"),
        (make(Ramp, ROUND_SLOT, angle_deg=3, leg_mm=115), "a leg of 115 mm does not fit into 120 mm"),
        (make(Helical, SLOT), "a helix makes a round hole"),
        (make(Helical, Feature(10, 8, 10, ends="closed")), "leaves a cutter of 10 mm no room to circle"),
        (
            make(Helical, Feature(21, 8, 21, ends="closed")),
            "more than twice the cutter, 10 mm: a core would stay",
        ),
        (make(Helical, Feature(18, 8, 18, ends="closed"), PLAIN), "a helix without a stated greatest angle"),
        (make(Trochoidal, SLOT), "a slot of 10 mm leaves a cutter of 10 mm no room to circle"),
        (make(Trochoidal, STEP), "the sides are not closed"),
        (make(Trochoidal, Feature(16, 8, 120), step_mm=12), "a step of 12 mm exceeds the cutter"),
        (
            make(Trochoidal, Feature(22, 8, 60, ends="closed")),
            "a bore of 22 mm is more than twice the cutter",
        ),
        (make(Trochoidal, Feature(16, 8, 16, ends="closed")), "no longer than it is wide: a helix makes it"),
        (make(Finish, SLOT, stock_wall_mm=0.3), "does not enter the roughed slot of 9.4 mm"),
        (make(Finish, ROUND_SLOT, PLAIN, stock_floor_mm=0.2), "starts with a plunge into its allowance"),
        (make(Finish, Feature(20, 8, 120, sides="open"), stock_wall_mm=0.3), "has no wall to finish"),
        (
            make(Side, STEP, Cutter(10, 4, flute_length_mm=6), steps=4),
            "axial depth of 8 mm exceeds the flute length of 6 mm",
        ),
        (
            make(Layered, STEP, Cutter(10, 4, overhang_mm=7), layers=4),
            "depth of 8 mm exceeds the overhang of 7 mm",
        ),
    ],
)
def test_what_the_geometry_forbids_is_refused_with_the_reason(practice, reason):
    with pytest.raises(Refusal, match=reason):
        practice.passes()
    with pytest.raises(Refusal, match=reason):
        practice.zone_exposure(ZONES)
    assert len(practice.reasons()) >= 1


def test_short_flutes_forbid_side_passes_but_not_layers():
    short = Cutter(10, 4, flute_length_mm=6)
    assert make(Layered, STEP, short, layers=4).reasons() == ()
    assert make(Side, STEP, short, steps=4).reasons() != ()
    # A pitch that stays outside of the core needs no centre edges.
    assert make(Plunge, SLOT, BLIND, pitch_mm=2).reasons() == ()
    assert (
        make(Helical, Feature(18, 8, 18, ends="closed"), PLAIN, angle_deg=2, max_angle_deg=3).reasons() == ()
    )


def test_bad_arguments():
    with pytest.raises(ArgumentError, match="sides 'both'; allowed: open, one, closed"):
        Feature(10, 8, 120, sides="both")
    with pytest.raises(ArgumentError, match="ends 'round'; allowed: open, closed"):
        Feature(10, 8, 120, ends="round")
    with pytest.raises(ArgumentError, match="closed ends on a feature with sides 'one'"):
        Feature(10, 8, 120, sides="one", ends="closed")
    with pytest.raises(ArgumentError, match="allowances 6 and 0 mm in a feature of 10 by 8 mm"):
        make(Layered, SLOT, allowance_wall_mm=6).passes()
    with pytest.raises(ArgumentError, match="layers: 0"):
        make(Layered, SLOT, layers=0)
    with pytest.raises(ArgumentError, match="core_mm: 12"):
        Cutter(10, 4, core_mm=12)
    with pytest.raises(ArgumentError, match="angle_deg: 60; allowed: below 45"):
        make(Ramp, SLOT, angle_deg=60)
    with pytest.raises(ArgumentError, match="no allowance on wall or floor"):
        make(Finish, SLOT)


@given(
    width=st.floats(10, 20), depth=st.floats(0.5, 30), length=st.floats(30, 300), layers=st.integers(1, 9),
    closed=st.booleans(),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_layers_always_add_up(width, depth, length, layers, closed):
    feature = Feature(10 if closed else width, depth, length, ends="closed" if closed else "open")
    practice = make(Layered, feature, layers=layers)
    assert practice.volume_gap_cm3() == pytest.approx(0, abs=1e-9 * practice.feature.volume_cm3 + 1e-12)


@given(scale=st.floats(0.05, 20))
@settings(max_examples=20, deadline=None)
def test_practices_do_not_depend_on_the_unit(scale):
    def zones(factor):
        feature = Feature(10 * factor, 8 * factor, 120 * factor, ends="closed")
        cutter = Cutter(10 * factor, 4, centre_cutting=True)
        rates = Settings(RPM, 0.05 * factor, 0.05 * factor)
        ramp = Ramp(feature=feature, cutter=cutter, settings=rates, angle_deg=1.1)
        row = Plunge(feature=feature, cutter=cutter, settings=rates, pitch_mm=2 * factor)
        place = {"corner": (0, 0.4 * factor), "lower": (0.4 * factor, 2 * factor)}
        return ramp.zone_exposure(place).sliding_m_cm3, row.zone_exposure(place).sliding_m_cm3

    for one, other in zip(zones(1.0), zones(scale), strict=True):
        assert other * scale**2 == pytest.approx(one, rel=1e-6)


def test_practices_on_one_feature_can_be_matched():
    layered = make(Layered, ROUND_SLOT, layers=4)
    plunge = make(Plunge, ROUND_SLOT, pitch_mm=2)
    result = matched_conditions(layered.quantities(), plunge.quantities())
    assert {"cutting_speed_m_min", "removal_rate_cm3_min"} <= set(result.matched)
    assert {"mean_chip_mm", "power_kw"} <= set(result.unmatched)
