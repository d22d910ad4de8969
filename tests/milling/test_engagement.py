"""Engagement and chip against published tables, exact triangles, and a tooth on its true path."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import engagement as e

RATIO = st.floats(1e-9, 1.0)
SIZE = st.floats(0.1, 80.0)


def test_published_forms_of_the_angle_and_the_greatest_chip():
    # M12: El-Hofy, Fundamentals of Machining Processes, p. 174: cos(phi) = 1 - 2t/d, sin(phi) = 2
    # sqrt((t/d)(1 - t/d)).
    t, d, fz = np.array([0.5, 1.0, 2.5, 4.0]), 10.0, 0.1
    angle = e.engagement_angle(t, d)
    assert np.cos(angle) == pytest.approx(1 - 2 * t / d)
    assert np.sin(angle) == pytest.approx(2 * np.sqrt(t / d * (1 - t / d)))
    assert e.max_chip_mm(fz, t, d) == pytest.approx(fz * np.sin(angle))
    # The book goes on with 2 sqrt(t/d): too large by 1 - sqrt(1 - t/d).
    small = fz * 2 * np.sqrt(t / d)
    assert 1 - e.max_chip_mm(fz, t, d) / small == pytest.approx(1 - np.sqrt(1 - t / d))


def test_radial_chip_thinning():
    # M13: geometry (circular tooth path). 0.1 and 0.2 are 3-4-5 triangles: 3/5 and 4/5 exactly.
    ratio = np.array([0.05, 0.10, 0.20, 0.25, 0.30, 0.50])
    angle = [25.84, 36.87, 53.13, 60.00, 66.42, 90.0]
    assert np.degrees(e.engagement_angle(ratio, 1)) == pytest.approx(angle, abs=5e-3)
    assert e.max_chip_mm(1, ratio, 1) == pytest.approx([0.4359, 0.6, 0.8, 0.8660, 0.9165, 1], abs=1e-4)
    assert e.feed_factor(ratio, 1) == pytest.approx([2.2942, 1.6667, 1.25, 1.1547, 1.0911, 1], abs=1e-4)
    assert e.max_chip_mm(1, [0.1, 0.2], 1) == pytest.approx([3 / 5, 4 / 5], rel=1e-14)


def test_mean_chip():
    # M14: geometry. The common form sqrt(ae/D) is good to 2 % up to 0.1 only, 11 % high at 0.5.
    ratio = np.array([0.05, 0.10, 0.25, 0.50])
    mean = e.mean_chip_mm(1, ratio, 1)
    assert mean == pytest.approx([0.2217, 0.3108, 0.4775, 0.6366], abs=1e-4)
    assert np.sqrt(ratio) == pytest.approx([0.2236, 0.3162, 0.5, 0.7071], abs=1e-4)
    over = np.sqrt(ratio) / mean - 1
    assert over[1] < 0.02 < over[2]
    assert over[2] == pytest.approx(0.05, abs=0.005)
    assert over[3] == pytest.approx(0.11, abs=0.005)
    assert np.sqrt(0.2) / e.mean_chip_mm(1, 0.2, 1) - 1 == pytest.approx(0.04, abs=0.005)


def test_mean_teeth_in_cut():
    # M15: geometry, 4 teeth.
    assert e.teeth_in_contact(4, [0.1, 0.25, 0.5, 1], 1) == pytest.approx([0.410, 0.667, 1, 2], abs=1e-3)


def test_teeth_in_contact_of_the_standing_example():
    assert e.teeth_in_contact(4, 10, 10, 2, 30) == pytest.approx(2.15, abs=5e-3)
    assert e.teeth_in_contact(4, 2.5, 10, 8, 30) == pytest.approx(1.25, abs=6e-3)


def test_greatest_chip_of_plain_milling():
    # M16: Ghosh and Mallik, Manufacturing Science, Problem 4.16 p. 238 (open textbook companion). f 100
    # mm/min, 60 rpm, 10 teeth, t 5, D 75: the book's small-depth form 0.0861, the exact one 0.0831.
    feed = 100 / (60 * 10)
    assert 2 * feed * math.sqrt(5 / 75) == pytest.approx(0.0861, abs=5e-5)
    assert e.max_chip_mm(feed, 5, 75) == pytest.approx(0.0831, abs=5e-5)


def test_contact_angle_that_lacks_a_root_in_print():
    # M17: Ghosh and Mallik, Problem 4.15 p. 235; the companion's contact angle is 2.29 deg for t 1, D 50.
    # Slip: it lacks a square root; 16.26 deg is right.
    assert np.degrees(e.engagement_angle(1, 50)) == pytest.approx(16.26, abs=5e-3)
    assert math.degrees(2 * 1 / 50) == pytest.approx(2.29, abs=5e-3)
    assert math.degrees(2 * math.sqrt(1 / 50)) == pytest.approx(16.2, abs=0.05)


def test_feed_marks():
    # M18: Ghosh and Mallik, Problem 4.25 p. 262 (open textbook companion): f^2/(4 D N^2 z^2), 3.0e-6 mm.
    feed = 25 / (60 * 12)
    assert e.feed_mark_mm(feed, 100) == pytest.approx(3.0e-6, rel=1e-2)
    assert e.feed_mark_mm(feed, 100) == pytest.approx(feed**2 / (4 * 100), rel=1e-7)


def test_standing_example():
    # Layers over the full width against side passes of a quarter, fz 0.05.
    assert e.mean_chip_mm(0.05, 10, 10) == pytest.approx(0.0318, abs=5e-5)
    assert e.mean_chip_mm(0.05, 2.5, 10) == pytest.approx(0.0239, abs=5e-5)
    assert e.mean_chip_mm(1, 10, 10) == pytest.approx(0.64, abs=5e-3)
    assert e.mean_chip_mm(1, 2.5, 10) == pytest.approx(0.48, abs=5e-3)
    assert 1 - e.mean_chip_mm(1, 2.5, 10) / e.mean_chip_mm(1, 10, 10) == pytest.approx(0.25)
    assert e.feed_for_mean_chip_mm(e.mean_chip_mm(0.05, 10, 10), 2.5, 10) == pytest.approx(0.0667, abs=5e-5)


def test_entry_and_exit():
    assert np.degrees(e.entry_and_exit_angle(2.5, 10, "climb")) == pytest.approx([120, 180])
    assert np.degrees(e.entry_and_exit_angle(2.5, 10, "conventional")) == pytest.approx([0, 60])
    # Up milling starts, down milling ends with no chip.
    assert e.chip_mm(0.05, e.entry_and_exit_angle(2.5, 10, "climb")[1]) == pytest.approx(0, abs=1e-15)
    assert e.chip_mm(0.05, e.entry_and_exit_angle(2.5, 10, "conventional")[0]) == 0
    assert e.chip_mm(0.05, -1.0) == 0
    with pytest.raises(ArgumentError, match="direction 'up'; allowed: climb, conventional"):
        e.entry_and_exit_angle(2.5, 10, "up")


@given(ratio=RATIO, diameter=SIZE, feed=st.floats(1e-4, 1.0))
def test_mean_chip_is_the_mean_of_the_chip_over_the_arc(ratio, diameter, feed):
    angle = float(e.engagement_angle(ratio * diameter, diameter))
    nodes, weights = np.polynomial.legendre.leggauss(40)
    mean = np.sum(weights / 2 * e.chip_mm(feed, angle * (nodes + 1) / 2))
    assert e.mean_chip_mm(feed, ratio * diameter, diameter) == pytest.approx(mean, rel=1e-9)


@given(ratio=RATIO, diameter=SIZE, scale=st.floats(1e-3, 1e3))
def test_angles_do_not_depend_on_the_unit(ratio, diameter, scale):
    angle = e.engagement_angle(ratio * diameter, diameter)
    assert e.engagement_angle(ratio * diameter * scale, diameter * scale) == pytest.approx(angle, rel=1e-7)
    chip = e.mean_chip_mm(0.01, ratio * diameter, diameter)
    scaled = e.mean_chip_mm(0.01 * scale, ratio * diameter * scale, diameter * scale)
    assert scaled == pytest.approx(chip * scale, rel=1e-7)


def test_limits():
    # ae to 0: the small-width forms, to full precision; ae = D: half a turn.
    tiny = 1e-12
    assert e.engagement_angle(tiny, 1) == pytest.approx(2 * math.sqrt(tiny), rel=1e-9)
    assert e.mean_chip_mm(1, tiny, 1) == pytest.approx(math.sqrt(tiny), rel=1e-9)
    assert e.max_chip_mm(1, tiny, 1) == pytest.approx(2 * math.sqrt(tiny), rel=1e-9)
    assert e.engagement_angle(10, 10) == pytest.approx(math.pi, rel=1e-15)
    assert e.mean_chip_mm(1, 10, 10) == pytest.approx(2 / math.pi)
    assert e.max_chip_mm(0.05, 10, 10) == 0.05
    # Sums of steps may miss the diameter by rounding.
    assert e.engagement_angle(0.1 + 0.2, 0.3) == pytest.approx(math.pi)


@given(step=st.floats(1e-6, 1.0), diameter=SIZE)
def test_scallop_is_where_two_circles_cross(step, diameter):
    height = float(e.scallop_mm(step * diameter, diameter))
    radius = diameter / 2
    assert math.hypot(step * diameter / 2, radius - height) == pytest.approx(radius, rel=1e-12)


# ----- a tooth on its true path, no circle assumed
# ------------------------------------------------------------------


def true_path(width, diameter, feed, teeth, count=20001):
    """Chip thickness of a tooth on its trochoid, by looking for the place where the one before passed the
    same ray.

    The axis moves on by feed x teeth a turn. From the axis at this tooth's instant, a ray in the direction of
    its tip; the tooth before has cut everything nearer than where its own trochoid crosses that ray (found by
    bisection on its angle).
    """
    radius, per_turn = diameter / 2, feed * teeth
    angle = np.linspace(-0.3, math.pi + 0.3, count)  # of this tooth, from -y; the feed runs along +x
    axis = per_turn * angle / (2 * math.pi)
    tip_y = -radius * np.cos(angle)

    def side_of_ray(before):
        shift = per_turn * before / (2 * math.pi) - feed
        x, y = shift + radius * np.sin(before) - axis, -radius * np.cos(before)
        return x * np.cos(angle) + y * np.sin(angle)  # component across the ray

    low, high = angle - 0.3, angle + 0.3
    for _ in range(60):
        middle = (low + high) / 2
        above = side_of_ray(middle) > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    before = (low + high) / 2
    shift = per_turn * before / (2 * math.pi) - feed
    reach = np.hypot(shift + radius * np.sin(before) - axis, radius * np.cos(before))
    # The wall of up milling is at y = -R: metal from there up to the width of cut, which may end a ray early.
    cosine = np.cos(angle)
    face = np.where(cosine > 1e-9, (radius - width) / np.maximum(cosine, 1e-9), 0.0)
    start = np.maximum(reach, face) if width < radius else reach
    inside = (tip_y <= width - radius) & (start < radius)
    chip = np.where(inside, radius - start, 0)
    # Area between the two trochoids along rays from the moving axis (Jacobian s + axis' travel across the
    # ray).
    area = (radius - chip / 2) * chip + per_turn / (2 * math.pi) * cosine * chip
    step = angle[1] - angle[0]
    return float(inside.sum() * step), float(area.sum() * step)


@pytest.mark.parametrize(("width", "ends"), [(0.5, 1), (2.5, 1), (5.0, 1), (10.0, 2)])
def test_true_path_agrees_but_for_the_crossing_at_the_tangent_ends(width, ends):
    # D 10, fz 0.08, 4 teeth. The tooth enters where its path crosses that of the tooth before, half a feed
    # behind the axis: the true arc is longer by asin(fz/D) at an end that is tangent to the wall, 0.46 deg
    # here.
    diameter, feed = 10.0, 0.08
    arc, area = true_path(width, diameter, feed, 4)
    formula = float(e.engagement_angle(width, diameter))
    assert np.degrees(arc - formula) == pytest.approx(
        ends * math.degrees(math.asin(feed / diameter)), abs=0.02
    )
    # Area of a chip: exactly fz x ae but for the scallop, and hence the mean chip over the arc.
    assert area == pytest.approx(feed * width, rel=3e-4)
    assert e.mean_chip_mm(feed, width, diameter) == pytest.approx(area / (diameter / 2 * formula), rel=3e-4)
