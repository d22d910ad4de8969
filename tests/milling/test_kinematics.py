"""Speeds, feeds, removal rate and time against published worked examples and exact conversions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.milling import kinematics as k


def test_peripheral_milling_of_a_textbook():
    # M01: Groover, Fundamentals of Modern Manufacturing, 5th ed., ch. 21 problem (question seen on a web
    # page; answers recomputed, 1.23 min in the manual from memory). L 400, w 50, D 70, 5 teeth, V 60 m/min,
    # fz 0.25, d 6.5.
    rpm = k.spindle_rpm(70, 60)
    feed = k.feed_rate_mm_min(0.25, 5, rpm)
    approach = k.approach_mm(6.5, 70)
    assert rpm == pytest.approx(272.8, rel=1e-3)
    assert feed == pytest.approx(341.0, rel=1e-3)
    assert approach == pytest.approx(20.32, rel=1e-3)
    assert k.feed_time_min(400, feed, approach_mm=approach) == pytest.approx(1.232, rel=1e-3)
    assert k.removal_rate_cm3_min(6.5, 50, feed) * 1000 == pytest.approx(110_840, rel=1e-3)


def test_slab_milling_in_inches():
    # M03: Groover, problem (question seen on a web page; answers recomputed). L 12, w 2.5, D 3.5, 10 teeth,
    # 125 ft/min, 0.008 in a tooth, d 0.300.
    rpm = k.spindle_rpm_from_sfm(3.5, 125)
    feed = k.feed_rate_mm_min(0.008, 10, rpm)
    approach = k.approach_mm(0.300, 3.5)
    assert rpm == pytest.approx(136.4, rel=2e-3)
    assert feed == pytest.approx(10.91, rel=2e-3)
    assert approach == pytest.approx(0.980, rel=2e-3)
    assert k.feed_time_min(12, feed, approach_mm=approach) == pytest.approx(1.19, rel=2e-3)
    assert k.removal_rate_in3_min(0.300, 2.5, feed) == pytest.approx(8.18, rel=2e-3)


def test_slab_milling_with_its_exact_approach():
    # M05: P. C. Sharma, A Textbook of Production Engineering, Exa 15.2 p. 603 (open textbook companion). The
    # job (L 300, w 100, D 50, 20 teeth, 100 rpm, 0.25 mm a tooth) is recalled from memory; it returns every
    # printed figure.
    feed = k.feed_rate_mm_min(0.25, 20, 100)
    approach = k.approach_mm(3.2, 50)
    assert approach == pytest.approx(12.24, rel=1e-3)
    assert k.removal_rate_cm3_min(3.2, 100, feed) * 1000 / 60 == pytest.approx(2666.67, rel=1e-3)
    assert k.feed_time_min(300, feed, approach_mm=approach) * 60 == pytest.approx(37.5, rel=1e-3)


def test_face_milling_counts_a_full_diameter_of_travel():
    # M06: Kalpakjian and Schmid, Manufacturing Engineering and Technology, Example 24.2 p. 667 (open textbook
    # companion).
    feed = 600.0
    assert k.removal_rate_cm3_min(3, 60, feed) * 1000 == pytest.approx(108_000, rel=1e-3)
    assert k.feed_time_min(500, feed, approach_mm=150) == pytest.approx(1.083, rel=1e-3)
    # z 10 at 100 rpm.
    assert k.feed_per_tooth_mm(feed, 10, 100) == pytest.approx(0.6, rel=1e-3)


def test_face_milling_with_three_quarters_of_the_diameter_engaged():
    # M07: Kalpakjian and Schmid, problem 24.x (question seen on a web page). Slip in print: the stated width
    # of 100 mm contradicts 75 % of D 150.
    feed = k.feed_rate_mm_min(0.125, 8, 300)
    assert feed == pytest.approx(300, rel=1e-3)
    assert k.removal_rate_cm3_min(3, 0.75 * 150, feed) * 1000 == pytest.approx(101_250, rel=1e-3)
    assert k.removal_rate_cm3_min(3, 100, feed) * 1000 == pytest.approx(90_000, rel=1e-3)


def test_disc_slot_milling_with_approach():
    # M08: P. C. Sharma, Exa 4.17 p. 228 (open textbook companion). D 150, 10 teeth, V 50, fz 0.25, L 200, d
    # 25.
    feed = k.feed_rate_mm_min(0.25, 10, k.spindle_rpm(150, 50))
    approach = k.approach_mm(25, 150)
    assert feed == pytest.approx(265.3, rel=1e-3)
    assert 200 + approach == pytest.approx(255.9, rel=1e-3)
    assert k.feed_time_min(200, feed, approach_mm=approach) == pytest.approx(0.965, rel=1e-3)


def test_allowance_of_a_centred_face_cutter():
    # M09: P. C. Sharma, Exa 4.18 p. 228 (open textbook companion). D 63.5, w 30, L 180, fz 0.125, 6 teeth,
    # 1500 rpm.
    extra = k.centred_approach_mm(30, 63.5)
    assert extra == pytest.approx(3.77, rel=2e-3)
    assert k.feed_time_min(180, k.feed_rate_mm_min(0.125, 6, 1500), approach_mm=extra) == pytest.approx(
        0.163, abs=5e-4
    )


def test_face_mill_removal_rate():
    # M10: GATE PI 2016 (question seen on a web page; answer recomputed). w 60, V 120, fz 0.1, ap 4, D 120, 12
    # teeth.
    rpm = k.spindle_rpm(120, 120)
    feed = k.feed_rate_mm_min(0.1, 12, rpm)
    assert rpm == pytest.approx(318.3, abs=0.05)
    assert feed == pytest.approx(382.0, abs=0.05)
    assert k.removal_rate_cm3_min(4, 60, feed) * 1000 / 60 == pytest.approx(1527.9, abs=1)


def test_printed_strings_of_the_shop():
    # From memory, no source named. 825 sfm at 2 in is 1576 rpm (printed 1570); 31.0 in3/min.
    rpm = k.spindle_rpm_from_sfm(2, 825)
    assert rpm == pytest.approx(1576, abs=0.5)
    assert k.removal_rate_in3_min(0.078, 2, k.feed_rate_mm_min(0.0315, 4, rpm)) == pytest.approx(
        31.0, abs=0.05
    )
    # Slip in print: vf 530 with fz 0.1, 2 teeth and 2800 rpm, which give 560; and 155 m/min for D 5 at 10 000
    # rpm.
    assert k.feed_rate_mm_min(0.1, 2, 2800) == pytest.approx(560)
    assert 1 - 530 / k.feed_rate_mm_min(0.1, 2, 2800) == pytest.approx(0.054, abs=0.0005)
    assert k.cutting_speed_m_min(5, 10_000) / 155 - 1 == pytest.approx(0.013, abs=0.0006)


def test_shop_constants_are_exact():
    # The shop's 0.262 D n and 3.82 sfm/D.
    assert k.cutting_speed_sfm(1, 1) == pytest.approx(0.2618, abs=5e-5)
    assert k.spindle_rpm_from_sfm(1, 1) == pytest.approx(3.8197, abs=5e-5)


def test_approach_of_the_standing_example():
    # Step of 10 mm in layers (full slot) and in side passes of 2.5 mm.
    assert k.approach_mm(10, 10) == pytest.approx(5)
    assert k.approach_mm(2.5, 10) == pytest.approx(4.33, abs=0.005)
    assert k.approach_mm([4.999999, 5.0, 7.0], 10) == pytest.approx([5, 5, 5])


@pytest.mark.parametrize("steps", [1, 2, 3, 4, 5, 8, 10, 37])
def test_equal_removal_rate_for_any_number_of_steps(steps):
    height, width, feed = 8.0, 10.0, 382.0
    layered = k.removal_rate_cm3_min(height / steps, width, feed)
    side = k.removal_rate_cm3_min(height, width / steps, feed)
    assert layered == pytest.approx(side, rel=1e-14)


@pytest.mark.parametrize("teeth", [2, 3, 4, 5, 6, 7])
def test_runout_swing_against_a_displaced_circle(teeth):
    # Independent: teeth on a circle displaced by TIR/2, worst over all directions of the displacement.
    runout = 0.01
    turn = np.linspace(0, 2 * math.pi, 20001)[:, None]
    reach = runout / 2 * np.cos(turn + 2 * math.pi * np.arange(teeth) / teeth)
    swing = np.abs(reach - np.roll(reach, 1, axis=1)).max()
    assert k.runout_swing_mm(runout, teeth) == pytest.approx(swing, rel=1e-6)


def test_round_trips_and_broadcasting():
    diameter = np.array([[6.0], [10.0]])
    rpm = k.spindle_rpm(diameter, [30.0, 60.0, 90.0])
    assert rpm.shape == (2, 3)
    assert k.cutting_speed_m_min(diameter, rpm) == pytest.approx(np.broadcast_to([30.0, 60.0, 90.0], (2, 3)))
    assert k.feed_per_tooth_mm(k.feed_rate_mm_min(0.05, 4, rpm), 4, rpm) == pytest.approx(
        np.full((2, 3), 0.05)
    )
    assert k.revolutions(120, 0.05, 4) == pytest.approx(600)
    assert k.cut_diameter_mm(10, 0.02) == pytest.approx(10.02)


def test_missing_numbers_pass_and_bad_ones_are_named():
    assert np.isnan(k.cutting_speed_m_min([10, math.nan], 1910)).tolist() == [False, True]
    with pytest.raises(
        ArgumentError, match=r"diameter_mm: 0 \(and 1 more of 3\); allowed: finite and above 0"
    ):
        k.cutting_speed_m_min([0, 10, -1], 100)
    with pytest.raises(ArgumentError, match="spindle_rpm: inf"):
        k.cutting_speed_m_min(10, math.inf)
    with pytest.raises(ArgumentError, match=r"radial width 8 mm on a cutter of 2 mm.*swapped"):
        k.approach_mm(8, 2)
    with pytest.raises(ArgumentError, match="overrun_mm: -1"):
        k.feed_time_min(100, 300, overrun_mm=-1)
