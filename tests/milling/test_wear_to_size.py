"""Recession, land limit and slot profile against a published problem, exact geometry and the standing
example.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import wear_to_size as w
from wearlab.milling.practices import Cutter, Feature, Finish, Layered, Settings, Side


def test_flank_land_to_size():
    # S12: textbook problem set (apparently Black and Kohser, DeGarmo's Materials and Processes, ch. 21,
    # problem 2; question seen on a web page, answer computed): land 0.020 in at 5 deg relief, no rake:
    # diameter grows by 0.0035 in.
    assert 2 * w.recession_mm(0.020, 5) == pytest.approx(0.0035, abs=5e-5)


@pytest.mark.parametrize(("relief", "rake"), [(10, 0), (8, 12), (12, -7), (25, 30), (5, -20)])
def test_recession_against_two_lines(relief, rake):
    # Independent: the worn edge is where the wall line x = -r cuts the relief line and the rake line; the
    # land is the distance between. Relief leaves the wall (vertical) by alpha, rake leaves its normal by
    # gamma.
    recession = 0.03
    on_relief = recession / math.tan(math.radians(relief))
    on_rake = recession * math.tan(math.radians(rake))
    land = on_relief - on_rake
    assert w.recession_mm(land, relief, rake) == pytest.approx(recession)
    tan = math.tan(math.radians(relief))
    assert w.recession_mm(land, relief, rake) == pytest.approx(
        land * tan / (1 - tan * math.tan(math.radians(rake)))
    )


def test_recession_of_the_standing_example():
    recession = w.recession_mm([0.1, 0.2, 0.3], 10)
    assert recession * 1000 == pytest.approx([17.6, 35.3, 52.9], abs=0.051)
    assert 2000 * recession == pytest.approx([35, 71, 106], abs=0.51)


@pytest.mark.parametrize(
    ("relief", "lands"),
    [
        (8, [36, 71, 107, 142, 178, 356]),
        (10, [28, 57, 85, 113, 142, 284]),
        (12, [24, 47, 71, 94, 118, 235]),
    ],
)
def test_land_limits(relief, lands):
    limit = w.land_limit_mm(np.array([5, 10, 15, 20, 25, 50]) / 1000, relief)
    assert limit * 1000 == pytest.approx(lands, abs=0.51)


def test_common_criterion_against_a_size():
    # A land of 0.3 mm at 10 deg is 53 um a wall and 0.106 mm on the width; 10 um of wall is 57 um of land.
    assert 1000 * w.recession_mm(0.3, 10) == pytest.approx(53, abs=0.5)
    assert 2 * w.recession_mm(0.3, 10) == pytest.approx(0.106, abs=5e-4)
    assert 1000 * w.land_limit_mm(0.010, 10) == pytest.approx(57, abs=0.5)


@given(land=st.floats(0, 2), relief=st.floats(0.5, 44), rake=st.floats(-44, 44), scale=st.floats(1e-2, 1e2))
def test_limit_undoes_recession_in_any_unit(land, relief, rake, scale):
    recession = w.recession_mm(land, relief, rake)
    assert w.land_limit_mm(recession, relief, rake) == pytest.approx(land, rel=1e-9, abs=1e-12)
    assert w.recession_mm(land * scale, relief, rake) == pytest.approx(
        float(recession) * scale, rel=1e-9, abs=1e-12
    )


def finish_and_rough():
    """The standing slot: 120 long, 8 deep, roughed in layers or in side passes, finished 0.3 mm a wall by the
    same cutter.
    """
    cutter, settings = Cutter(10, 4), Settings(6000 / math.pi, 0.05)
    step = Feature(10, 8, 120, sides="one")
    rough = Layered(feature=step, cutter=cutter, settings=settings, layers=4)
    side = Side(feature=step, cutter=cutter, settings=settings, steps=4)
    finish = Finish(feature=Feature(10.6, 8, 120), cutter=cutter, settings=settings, stock_wall_mm=0.3)
    return rough, side, finish


def test_step_that_a_worn_finisher_leaves():
    # Layers put 37.7 m of sliding on the bottom 2 mm, finishing 2.09 m on every height, 19 : 1. With a land
    # of 0.25 mm that has grown in proportion, at 10 deg relief, the slot is 84 um narrower below z = 2 mm.
    rough, side, finish = finish_and_rough()
    heights = np.array([0.0, 1.0, 2.0, 2.0 + 1e-9, 5.0, 8.0])
    slid = [p.edge_exposure(heights).per("parts")["sliding_m"] for p in (rough, side, finish)]
    assert slid[0] == pytest.approx([37.7] * 3 + [0] * 3, abs=0.05)
    assert slid[1] == pytest.approx([12.6] * 6, abs=0.05)
    assert slid[2] == pytest.approx([2.09] * 6, abs=5e-3)
    total = slid[0] + slid[2]
    assert total[0] / total[-1] == pytest.approx(19, abs=0.05)
    slot = w.slot_from_exposure(heights, 10, total, 0.25, 10)
    assert 1000 * (slot.widths_mm[-1] - slot.widths_mm[0]) == pytest.approx(84, abs=0.5)
    assert np.ptp(slot.widths_mm[:3]) == 0
    assert np.ptp(slot.widths_mm[3:]) == 0
    # Side passes wear all heights alike: no step.
    assert np.ptp(w.slot_from_exposure(heights, 10, slid[1] + slid[2], 0.25, 10).widths_mm) == pytest.approx(
        0
    )


def test_profile_adds_up():
    z = np.array([0.0, 0.1, 0.3, 4.0])
    slot = w.slot_width_profile(
        z,
        10,
        0.02,
        0.03,
        error_left_mm=0.004,
        error_right_mm=-0.001,
        corner_axial_mm=0.2,
        corner_radial_mm=0.05,
    )
    assert slot.widths_mm == pytest.approx(10 - 0.053 - 2 * np.array([0.05, 0.025, 0, 0]))
    assert w.slot_width_profile([0, 1], 10, [0.01, 0.02]).widths_mm == pytest.approx([9.98, 9.96])


def test_budget_and_reading_factor():
    assert w.wall_budget_mm(0.05, setting_error_mm=0.03) == pytest.approx(-0.005)
    # A helical edge that is not tilted into the view reads 15 % long at 30 deg, 41 % at 45.
    assert w.land_reading_factor([30, 45]) - 1 == pytest.approx([0.15, 0.41], abs=5e-3)


def test_bad_arguments():
    with pytest.raises(ArgumentError, match=r"land_mm: -0\.1"):
        w.recession_mm(-0.1, 10)
    with pytest.raises(ArgumentError, match="relief_deg: 0"):
        w.recession_mm(0.1, 0)
    with pytest.raises(ArgumentError, match="relief_deg: 60; allowed: 0 to 45"):
        w.recession_mm(0.1, 60)
    with pytest.raises(ArgumentError, match="leave no wedge"):
        w.recession_mm(0.1, 45, 45)
    with pytest.raises(ArgumentError, match=r"worn corner 0\.2 mm high and 0 mm deep"):
        w.slot_width_profile([0], 10, 0.01, corner_axial_mm=0.2)
