"""Instantaneous forces: sums of slices against a dense midpoint sum, averages, and plunge milling."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.milling.cut import Cut
from wearlab.milling.tooth_forces import (
    ForceModel,
    feed_force_n,
    lag_per_mm,
    normal_force_n,
    plunge_side_force_n,
)

MODEL = ForceModel()
TURN = np.linspace(0, 2 * math.pi, 721)[:-1]


def midpoint(cut, direction, rotation, model, slices=4000):
    """Forces from thousands of equal slices, each asked whether it is in the metal; Fx and Fy."""
    arc = math.acos(1 - 2 * cut.radial_width_mm / cut.diameter_mm)
    entry, exit_ = (0, arc) if direction == "conventional" else (math.pi - arc, math.pi)
    z = (np.arange(slices) + 0.5) * cut.axial_depth_mm / slices
    total = np.zeros(2)
    for tooth in range(cut.teeth):
        angle = rotation + 2 * math.pi * tooth / cut.teeth
        angle = np.mod(angle - 2 * z * math.tan(math.radians(cut.helix_deg)) / cut.diameter_mm, 2 * math.pi)
        inside = (angle >= entry) & (angle <= exit_)
        chip = cut.feed_per_tooth_mm * np.sin(angle)
        tangential = np.where(inside, model.kt_mpa * chip + model.kte_n_mm, 0)
        radial = np.where(inside, model.kr * model.kt_mpa * chip + model.kre_n_mm, 0)
        total[0] += np.sum(-tangential * np.cos(angle) - radial * np.sin(angle)) * cut.axial_depth_mm / slices
        total[1] += np.sum(tangential * np.sin(angle) - radial * np.cos(angle)) * cut.axial_depth_mm / slices
    return total


@pytest.mark.parametrize(
    "cut",
    [
        Cut(10, 4, 1910, 0.05, 8, 2.5),
        Cut(10, 4, 1910, 0.05, 2, 10),
        Cut(10, 2, 1910, 0.05, 8, 10),
        Cut(12, 3, 1910, 0.08, 40, 4, helix_deg=45),  # several turns of helix in the cut
        Cut(10, 4, 1910, 0.05, 5, 7, helix_deg=0),
    ],
)
@pytest.mark.parametrize("direction", ["climb", "conventional"])
def test_slices_against_a_midpoint_sum(cut, direction):
    rotation = np.array([0.13, 0.9, 1.7, 2.6, 3.3, 5.1])
    expected = np.array([midpoint(cut, direction, r, MODEL) for r in rotation])
    size = np.abs(expected).max()
    assert feed_force_n(cut, direction, rotation, MODEL) == pytest.approx(expected[:, 0], abs=2e-3 * size)
    assert normal_force_n(cut, direction, rotation, MODEL) == pytest.approx(expected[:, 1], abs=2e-3 * size)


def test_peak_normal_force_of_side_and_layers():
    # Light machines do better with layers (common practice): here 777 N against 359 N. Model figures,
    # illustrative.
    side = np.abs(normal_force_n(Cut(10, 4, 1910, 0.05, 8, 2.5), "climb", TURN)).max()
    layer = np.abs(normal_force_n(Cut(10, 4, 1910, 0.05, 2, 10), "climb", TURN)).max()
    assert side == pytest.approx(777, abs=1)
    assert layer == pytest.approx(359, abs=1)


def test_mean_power_is_the_tangential_force_times_the_speed():
    # Energy: with no edge force and no radial force, the mean torque takes Kt per volume removed. The mean
    # feed force does the work of the feed only; torque is read off the tangential forces of a full slot
    # through Fx and Fy of many turns.
    model = ForceModel(kr=0.0, kte_n_mm=0.0, kre_n_mm=0.0)
    cut = Cut(10, 4, 1000, 0.05, 3, 10)
    # Mean of F_y in a slot: N ap / (2 pi) x integral of Kt fz sin^2 = N ap Kt fz / 4.
    mean = normal_force_n(cut, "climb", TURN, model).mean()
    assert mean == pytest.approx(4 * 3 * 2600 * 0.05 / 4, rel=1e-6)
    # Mean of F_x vanishes by symmetry.
    assert feed_force_n(cut, "climb", TURN, model).mean() == pytest.approx(0, abs=1e-9)


def test_climb_and_conventional_mirror_each_other():
    # Turned and mirrored, the radial part of F_y changes sign and the tangential does not.
    model = ForceModel(kr=0.0, kre_n_mm=0.0)
    cut = Cut(10, 4, 1910, 0.05, 8, 2.5, helix_deg=0)
    up = normal_force_n(cut, "conventional", TURN, model)
    down = normal_force_n(cut, "climb", TURN, model)
    assert np.sort(up) == pytest.approx(np.sort(down), abs=1e-6)


@pytest.mark.parametrize(
    ("pitch", "teeth", "low", "high"), [(2, 2, 0, 260), (2, 4, 260, 298), (4, 2, 0, 520), (4, 4, 520, 681)]
)
def test_side_force_in_plunge_milling(pitch, teeth, low, high):
    # Tangential forces only, 2600 MPa, 0.05 mm a tooth (illustrative): two teeth swing from nothing to full
    # twice a turn.
    force = plunge_side_force_n(pitch, 0.05, teeth, 10, np.linspace(0, 2 * math.pi, 1441))
    assert force.min() == pytest.approx(low, abs=0.5)
    assert force.max() == pytest.approx(high, abs=0.5)


def test_side_force_in_plunge_milling_against_points_on_the_edge():
    radii, psi = (np.arange(20000) + 0.5) / 20000 * 5, 0.7
    angles = psi + math.pi / 2 * np.arange(4)
    total = np.zeros(2)
    for angle in angles:
        x, y = radii * math.cos(angle), radii * math.sin(angle)
        length = np.sum(np.hypot(x + 3, y) > 5) * 5 / 20000
        total += 2600 * 0.05 * length * np.array([math.sin(angle), -math.cos(angle)])
    assert plunge_side_force_n(3, 0.05, 4, 10, psi) == pytest.approx(np.hypot(*total), rel=1e-3)


def test_lag():
    assert lag_per_mm(30, 10) == pytest.approx(math.tan(math.pi / 6) / 5)
    assert lag_per_mm(0, 10) == 0


def test_bad_arguments():
    with pytest.raises(ArgumentError, match="direction 'both'; allowed: climb, conventional"):
        normal_force_n(Cut(10, 4, 1910, 0.05, 8, 2.5), "both", 0.0)
    with pytest.raises(ArgumentError, match="kt_mpa: 0"):
        ForceModel(kt_mpa=0)
    with pytest.raises(ArgumentError, match="kr: -1"):
        ForceModel(kr=-1)
