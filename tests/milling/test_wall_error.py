"""Wall error by height against the derived table and against a plain sum with a moment integration."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool, compliance_um_per_n
from wearlab.milling.tooth_forces import ForceModel
from wearlab.milling.wall_error import needed_clearance_mm, slot_error, wall_error

TOOL = Tool(10, 30)


def cut(depth, width, teeth=4, helix=30.0):
    return Cut(10, teeth, 1910, 0.05, depth, width, helix_deg=helix)


def plain_sum(conditions, tool, height, wall, slices=4000):
    """Deflection of the cutter at one height when a tooth stands at the wall there; metal left positive.

    Thousands of equal slices; bending moment of all of them integrated twice from the holder.
    """
    model = ForceModel()
    arc = math.acos(1 - 2 * conditions.radial_width_mm / conditions.diameter_mm)
    entry, exit_ = (0, arc) if wall == "conventional" else (math.pi - arc, math.pi)
    at_wall = 0.0 if wall == "conventional" else math.pi
    lag = math.tan(math.radians(conditions.helix_deg)) / (conditions.diameter_mm / 2)
    z = (np.arange(slices) + 0.5) * conditions.axial_depth_mm / slices
    force = np.zeros(slices)
    for tooth in range(conditions.teeth):
        angle = np.mod(
            at_wall - lag * (z - height) + 2 * math.pi * tooth / conditions.teeth + 1e-12, 2 * math.pi
        )
        chip = conditions.feed_per_tooth_mm * np.sin(angle)
        across = (model.kt_mpa * chip + model.kte_n_mm) * np.sin(angle)
        across -= (model.kr * model.kt_mpa * chip + model.kre_n_mm) * np.cos(angle)
        force += np.where((angle >= entry) & (angle <= exit_), across, 0) * conditions.axial_depth_mm / slices
    s = np.linspace(0, tool.overhang_mm, 1201)
    moment = np.sum(force[:, None] * np.maximum(tool.overhang_mm - z[:, None] - s, 0), axis=0)
    curve = moment / (tool.modulus_gpa * 1000 * math.pi * (0.8 * tool.diameter_mm) ** 4 / 64)
    step = s[1] - s[0]
    slope = np.concatenate([[0], np.cumsum((curve[1:] + curve[:-1]) / 2) * step])
    lift = np.concatenate([[0], np.cumsum((slope[1:] + slope[:-1]) / 2) * step])
    deflection = np.interp(tool.overhang_mm - height, s, lift) * 1000
    return deflection if wall == "climb" else -deflection


# Bottom, middle and top of the axial depth, in um. Kt 2600 MPa, Kr 0.4, edge forces 25 N/mm (illustrative,
# from memory).
TABLE = [
    (8, 2.5, 4, "climb", [36.6, 8.4, 19.3]),
    (8, 2.5, 4, "conventional", [-9.1, 4.4, -1.7]),
    (8, 0.3, 4, "climb", [8.8, 5.6, 0]),
    (2, 10, 4, "climb", [25.5, 21.0, 17.4]),
    (2, 10, 4, "conventional", [-25.5, -21.0, -17.4]),
    (2, 10, 2, "climb", [5.1, 0.2, -3.3]),
    (2, 10, 2, "conventional", [-5.1, -0.2, 3.3]),
    (8, 10, 4, "climb", [83.3, 61.4, 45.8]),
    (8, 10, 4, "conventional", [-83.3, -61.4, -45.8]),
    (8, 10, 2, "climb", [36.6, 3.9, 1.7]),
    (8, 10, 2, "conventional", [-36.6, -3.9, -1.7]),
]


@pytest.mark.parametrize(("depth", "width", "teeth", "wall", "microns"), TABLE)
def test_demonstration_table(depth, width, teeth, wall, microns):
    found = wall_error(cut(depth, width, teeth), TOOL, [0, depth / 2, depth], wall)
    assert found.error_um == pytest.approx(microns, abs=0.06)
    assert found.illustrative


@pytest.mark.parametrize(("depth", "width", "teeth", "wall", "microns"), TABLE)
def test_against_a_plain_sum(depth, width, teeth, wall, microns):
    conditions = cut(depth, width, teeth)
    heights = np.array([0.17, 0.43, 0.81]) * depth
    expected = [plain_sum(conditions, TOOL, z, wall) for z in heights]
    # The plain sum steps where a slice enters or leaves the metal: half a slice of edge force, some 0.02 um.
    assert wall_error(conditions, TOOL, heights, wall).error_um == pytest.approx(expected, abs=0.05)


def test_high_speed_steel_gives_way_more():
    hss = wall_error(cut(8, 2.5), Tool(10, 30, 210), [0, 4, 8]).error_um
    assert hss / wall_error(cut(8, 2.5), TOOL, [0, 4, 8]).error_um == pytest.approx(np.full(3, 600 / 210))


def test_full_slot_leans_and_keeps_its_width():
    # Four teeth in a slot 8 deep: the walls lean by 37 um over the depth, the width stays the cutter's.
    slot = slot_error(cut(8, 10), TOOL, np.linspace(0, 8, 9))
    assert slot.width_um == pytest.approx(np.zeros(9), abs=1e-9)
    assert slot.climb_um[0] - slot.climb_um[-1] == pytest.approx(37, abs=0.6)
    assert slot.shift_um == pytest.approx(slot.climb_um)


def test_wall_error_is_not_in_proportion_to_removal_rate():
    # Twice the width, twice the rate: the climb wall's error at the floor grows by far less than twice.
    narrow, wide = (wall_error(cut(8, w), TOOL, [0.0]).error_um[0] for w in (2.5, 5.0))
    assert wide / narrow < 1.6


def test_clearance_of_the_standing_example():
    assert needed_clearance_mm(36, 20, 30) == pytest.approx(0.126)


def test_helix_of_nothing():
    # All heights are finished at once, with no chip at the wall: only the radial edge force acts, 25 N/mm all
    # along.
    found = wall_error(cut(4, 2.5, 2, helix=0.0), TOOL, [0.0, 2.0])
    slices = (np.arange(400) + 0.5) / 100
    expected = [25 * 4 * compliance_um_per_n(TOOL, z, slices).mean() for z in (0.0, 2.0)]
    assert found.error_um == pytest.approx(expected, rel=1e-4)


def test_above_the_cut_there_is_no_wall():
    assert np.isnan(wall_error(cut(2, 10), TOOL, [1.0, 3.0]).error_um).tolist() == [False, True]


def test_measured_coefficients_are_not_illustrative():
    model = ForceModel(2100, 0.35, 18, 22, illustrative=False, source="dynamometer")
    assert not wall_error(cut(2, 10), TOOL, [0.0], model=model).illustrative


def test_bad_questions_are_refused():
    with pytest.raises(ArgumentError, match="wall 'left'; allowed: climb, conventional"):
        wall_error(cut(2, 10), TOOL, [0.0], "left")
    with pytest.raises(ArgumentError, match="cut of 10 mm, tool of 12 mm; allowed: one diameter"):
        wall_error(cut(2, 10), Tool(12, 30), [0.0])
    with pytest.raises(Refusal, match="axial depth of 40 mm exceeds the overhang of 30 mm"):
        wall_error(cut(40, 1), TOOL, [0.0])
    with pytest.raises(Refusal, match=r"makes one wall, not a slot\. Use wall_error"):
        slot_error(cut(8, 2.5), TOOL, [0.0])
