"""Witness slots: walls, widths and pins follow from the lands, and pins agree with the milling room."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.milling.pins import hang_up_height_mm
from wearlab.simulate.course import make_plan, measure_slots, run_course
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.spec import TrialSpec
from wearlab.simulate.witness import (
    at_heights_mm,
    hang_up_mm,
    nodes_mm,
    recession_at_nodes_mm,
    width_at_nodes_mm,
)

RECESSION = math.tan(math.radians(10)) / (1 - math.tan(math.radians(10)) * math.tan(math.radians(6)))
"""Recession per mm of land at 10 degrees of relief and 6 of rake: VB / (cot alpha - tan gamma), derived."""


@pytest.fixture(scope="module")
def spec() -> TrialSpec:
    return shoulder_spec()


def test_nodes(spec: TrialSpec) -> None:
    assert nodes_mm(spec) == pytest.approx([0, 0.3, 0.5, 2.8, 3.0, 5.8, 6.0, 9.0])


def test_layered_cutter_leaves_a_step_at_the_layer_line(spec: TrialSpec) -> None:
    recession = recession_at_nodes_mm(np.array([0.25, 0.2, 0.0, 0.0]), spec)
    width = at_heights_mm(width_at_nodes_mm(recession, spec), [0.1, 0.5, 2.0, 2.9, 3.0, 8.5], spec)
    expected = [12.59 - 2 * RECESSION * land for land in (0.25, 0.2, 0.2, 0.1, 0.0, 0.0)]
    assert width == pytest.approx(expected, abs=1e-12)


def test_pins_by_hand(spec: TrialSpec) -> None:
    # Lower land 0.2 mm: the slot is 12.5185 wide up to 2.8 mm and 12.59 from 3.0 mm, straight in between.
    width = width_at_nodes_mm(recession_at_nodes_mm(np.array([0.25, 0.2, 0.0, 0.0]), spec), spec)
    low = 12.59 - 2 * RECESSION * 0.2
    stop = hang_up_mm(width, [12.5, 12.55, 12.595], spec)
    corner = 12.59 - 2 * RECESSION * 0.25
    assert stop[0] == pytest.approx(0.3 + 0.2 * (12.5 - corner) / (low - corner) if corner < 12.5 else 0.0)
    assert stop[1] == pytest.approx(2.8 + 0.2 * (12.55 - low) / (12.59 - low))
    assert stop[2] == 9.0


def test_pin_reaches_the_floor_of_a_new_cutters_slot(spec: TrialSpec) -> None:
    width = width_at_nodes_mm(recession_at_nodes_mm(np.zeros(4), spec), spec)
    assert hang_up_mm(width, [12.57], spec) == pytest.approx([0.0])


def test_pins_agree_with_the_milling_room(spec: TrialSpec) -> None:
    rng = np.random.default_rng(2)
    lands = rng.uniform(0, 0.4, size=(200, 4)) * (rng.random((200, 4)) < 0.8)
    pins = np.array([12.46, 12.5, 12.54, 12.57, 12.589])
    widths = width_at_nodes_mm(recession_at_nodes_mm(lands, spec), spec)
    ours = hang_up_mm(widths, pins, spec)
    theirs = np.array([hang_up_height_mm(nodes_mm(spec), width, pins) for width in widths])
    assert ours == pytest.approx(theirs, abs=1e-9)
    assert {0.0, 9.0} < set(ours.ravel().tolist())


def test_measured_walls_scatter_about_the_truth(spec: TrialSpec) -> None:
    many = shoulder_spec(cutters=800, at_each_speed=0, ends=False)
    rng = np.random.default_rng(4)
    plan = make_plan(many, rng)
    course = run_course(many, plan, rng)
    slots = measure_slots(many, course, rng)
    # Heights 2, 4 and 8.5 mm lie inside the lower, middle and upper zones.
    for height, zone in ((1, 1), (2, 2), (4, 3)):
        recession = RECESSION * course.land_mm[:, :, zone]
        for side, deflection in ((0, 0.006), (1, 0.004)):
            error = slots.wall_mm[:, :, side, height] - recession - deflection
            assert error.mean() == pytest.approx(0, abs=4 * 0.002 / math.sqrt(error.size))
            assert error.std() == pytest.approx(math.hypot(0.002, 0.001 / math.sqrt(12)), rel=0.03)
        error = slots.width_mm[:, :, height] - (12.6 - 0.010 - 2 * recession)
        assert error.mean() == pytest.approx(0, abs=4 * 0.002 / math.sqrt(error.size))
    assert ((slots.pin_mm >= [12.5, 12.54, 12.57]) & (slots.pin_mm <= [12.50254, 12.54254, 12.57254])).all()
