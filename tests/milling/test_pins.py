"""Pins in slots: hang-up, fillets, tolerances of pins and slots, against standards, brute force and the
worked example.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import pins as p

HEIGHTS = [0, 0.3, 2.0, 2.2, 8]
WIDTHS = [9.88, 9.93, 9.93, 9.992, 9.992]


def test_three_pins_read_the_profile():
    assert p.hang_up_height_mm(HEIGHTS, WIDTHS, [9.92, 9.95, 9.98]) == pytest.approx(
        [0.24, 2.06, 2.16], abs=5e-3
    )


def test_pin_that_reaches_the_floor_and_pin_that_does_not_go_in():
    assert p.hang_up_height_mm(HEIGHTS, WIDTHS, [9.88, 9.5, 9.993]).tolist() == [0, 0, 8]
    assert p.hang_up_height_mm([0.5, 8], [9.9, 9.9], 9.8) == 0.5
    assert p.hang_up_height_mm([1.0], [9.9], [9.8, 10.0]).tolist() == [1, 1]


def test_step_stops_the_pin_at_its_height():
    # A sharp step at the layer line: the pin hangs up there.
    assert p.hang_up_height_mm([0, 2, 2, 8], [9.91, 9.91, 9.994, 9.994], 9.95) == pytest.approx(2)


def test_neck_above_a_wider_floor_stops_the_pin():
    assert p.hang_up_height_mm([0, 3, 5, 8], [10, 9.9, 10, 10], 9.95) == pytest.approx(4)


@given(
    widths=st.lists(st.floats(9.8, 10.1), min_size=2, max_size=9), pin=st.floats(9.75, 10.15)
)  # fmt: skip
def test_hang_up_against_a_pin_let_down_in_small_steps(widths, pin):
    heights = np.arange(len(widths), dtype=float)
    z = np.linspace(heights[-1], 0, 20001)
    stops = np.interp(z, heights, widths) < pin
    expected = z[np.argmax(stops)] if stops.any() else 0.0
    assert p.hang_up_height_mm(heights, widths, pin) == pytest.approx(
        expected, abs=heights[-1] / 20000 + 1e-9
    )


@given(scale=st.floats(1e-2, 1e2))
def test_hang_up_in_any_unit(scale):
    found = p.hang_up_height_mm(np.multiply(HEIGHTS, scale), np.multiply(WIDTHS, scale), 9.95 * scale)
    assert found == pytest.approx(2.0645 * scale, rel=1e-3)


def test_uniform_taper():
    slope = 2 * math.tan(math.radians(0.1))
    z = np.linspace(0, 8, 5)
    found = p.hang_up_height_mm(z, 9.98 + slope * z, [9.985, 9.99])
    assert p.taper_hang_up_mm([9.985, 9.99], 9.98, 0.1) == pytest.approx(found)
    assert p.taper_hang_up_mm(9.97, 9.98, 0.1) == 0
    # 2 um of pin is 0.57 mm of height on 0.1 deg a wall.
    assert p.hang_up_uncertainty_mm(0.002, slope) == pytest.approx(0.57, abs=5e-3)
    assert p.hang_up_uncertainty_mm(0.002, 0.0) == math.inf


def test_lift_of_a_square_block_on_a_fillet():
    # P04: geometry (no published worked example found): R 0.5, gaps 0, 0.05, 0.1, 0.2, and at least R.
    lift = p.fillet_stand_off_mm(0.5, [0, 0.05, 0.1, 0.2, 0.5, 0.7])
    assert lift == pytest.approx([0.500, 0.282, 0.200, 0.100, 0, 0], abs=1e-3)
    # At no gap a 45 degree chamfer must be at least R to seat on the floor.
    assert p.fillet_stand_off_mm(0.5, 0, 0.5) == pytest.approx(0, abs=1e-12)
    assert p.fillet_stand_off_mm(0.5, 0, 0.49) > 0


def test_stand_off_of_the_standing_example():
    # Fillet 0.1, gap 2 um: 80 um with a sharp pin, none with a chamfer of 0.1.
    assert 1000 * p.fillet_stand_off_mm(0.1, 0.002) == pytest.approx(80, abs=0.5)
    assert p.fillet_stand_off_mm(0.1, 0.002, 0.1) == 0


@given(fillet=st.floats(0.01, 1.0), gap=st.floats(0, 1.0), chamfer=st.floats(0, 1.0))
def test_stand_off_by_brute_force(fillet, gap, chamfer):
    # Lower the end of the pin point by point: all of the chamfer, and the side above it, must clear the
    # fillet.
    t = np.linspace(0, 1, 20001)
    across = gap + chamfer * (1 - t)  # distance from the wall, from the lower end of the chamfer to the upper
    above = chamfer * t
    reach = np.maximum(fillet - across, 0)
    surface = np.where(reach > 0, fillet - np.sqrt(np.maximum(fillet**2 - reach**2, 0)), 0)
    expected = max(0.0, float(np.max(surface - above)))
    assert p.fillet_stand_off_mm(fillet, gap, chamfer) == pytest.approx(expected, abs=2e-4 * fillet + 1e-6)


@given(gap=st.floats(0, 0.1), chamfer=st.floats(0.001, 1.0))
def test_what_a_chamfered_pin_cannot_see(gap, chamfer):
    unseen = float(p.unseen_fillet_mm(gap, chamfer))
    assert p.fillet_stand_off_mm(unseen, gap, chamfer) == pytest.approx(0, abs=1e-9)
    # The first larger fillet shows.
    assert p.fillet_stand_off_mm(unseen * 1.05, gap, chamfer) > 0


def test_pin_in_a_tapered_slot():
    # P06: geometry, as in the measurement of a V-block over a pin.
    assert p.width_at_pin_mm(10, 30) == pytest.approx(11.547, abs=1e-3)
    assert p.width_at_pin_mm(1, 1) - 1 < 0.0002


def test_perpendicularity_and_taper_are_two_things():
    # P07: ISO 1101 and ISO 3040 (from memory): 0.1 deg over 20 mm is a zone of 0.035 mm; taper 2 tan(a).
    assert p.perpendicularity_mm(20, 0.1) == pytest.approx(0.035, abs=5e-4)
    assert p.taper_ratio(0.1) == pytest.approx(2 * math.tan(math.radians(0.1)))
    # C = (D - d)/L of a slot that opens by that angle a wall.
    assert (10.0 - (10.0 - 8 * p.taper_ratio(0.1))) / 8 == pytest.approx(p.taper_ratio(0.1))


@pytest.mark.parametrize(
    ("size", "microns"),
    [
        # P01 and P02: ASME B89.1.5-1998 (R2019), seen on two web pages; classes XXX XX X Y Z ZZ.
        (10.0, [0.25, 0.51, 1.02, 1.78, 2.54, 5.08]),
        (25.0, [0.38, 0.76, 1.52, 2.29, 3.05, 6.10]),
    ],
)
def test_pin_classes(size, microns):
    assert [p.pin_tolerance_um(size, c) for c in ("XXX", "XX", "X", "Y", "Z", "ZZ")] == microns
    # Printed in microinches too, for the smaller range: 10, 20, 40, 70, 100, 200.
    if size < 20:
        assert [round(m / 0.0254, 0) for m in microns] == [10, 20, 40, 70, 100, 200]


def test_side_on_which_the_tolerance_lies():
    assert p.pin_limits_mm(10, "X", "go") == pytest.approx((10, 10.00102))
    assert p.pin_limits_mm(10, "x", "no_go") == pytest.approx((9.99898, 10))
    assert p.pin_limits_mm(10, "X", "master") == pytest.approx((9.99949, 10.00051))
    assert p.pin_tolerance_um(0.254, "ZZ") == 5.08
    assert p.pin_tolerance_um(20.96, "ZZ") == 5.08


@pytest.mark.parametrize(
    ("grade", "microns"),
    # P03: ISO 286-1, seen on a web page; sizes 3-6, 6-10, 10-18, 18-30, 30-50 mm.
    [
        ("IT6", [8, 9, 11, 13, 16]),
        ("IT7", [12, 15, 18, 21, 25]),
        ("IT8", [18, 22, 27, 33, 39]),
        ("IT9", [30, 36, 43, 52, 62]),
    ],
)
def test_standard_tolerances(grade, microns):
    assert [p.standard_tolerance_um(size, grade) for size in (6, 10, 18, 30, 50)] == microns
    assert p.standard_tolerance_um(10.01, grade) == microns[2]


@pytest.mark.parametrize(
    ("low", "high", "before_rounding", "printed"), [(10, 18, 17.3, 18), (18, 30, 20.9, 21)]
)
def test_standard_tolerance_formula(low, high, before_rounding, printed):
    # P03: IT7 = 16 i, i = 0.45 D^(1/3) + 0.001 D at the geometric mean of the range: the table is rounded
    # from it.
    mean = math.sqrt(low * high)
    assert 16 * (0.45 * mean ** (1 / 3) + 0.001 * mean) == pytest.approx(before_rounding, abs=0.051)
    assert p.standard_tolerance_um(mean, "IT7") == printed


def test_bad_arguments():
    with pytest.raises(ArgumentError, match="class 'A'; allowed: XXX, XX, X, Y, Z, ZZ"):
        p.pin_tolerance_um(10, "a")
    with pytest.raises(ArgumentError, match=r"50 mm; allowed: 0\.254 to 38\.35 mm"):
        p.pin_tolerance_um(50, "X")
    with pytest.raises(ArgumentError, match="3 mm; allowed: 3 to 50 mm"):
        p.standard_tolerance_um(3, "IT7")
    with pytest.raises(ArgumentError, match="kind 'plug'; allowed: go, no_go, master"):
        p.pin_limits_mm(10, "X", "plug")
    with pytest.raises(ArgumentError, match=r"heights that fall; allowed: increasing heights\. Sort them"):
        p.hang_up_height_mm([1, 0], [10, 10], 9.9)
    with pytest.raises(ArgumentError, match="one width for each height"):
        p.hang_up_height_mm([0, 1], [10], 9.9)
    with pytest.raises(
        ArgumentError, match=r"a missing height or width; allowed: numbers\. Drop the rows first"
    ):
        p.hang_up_height_mm([0, 1], [10, math.nan], 9.9)
