"""What the trade says, computed. Sayings without a source are marked so: common practice, no source.

Where a saying is only a limit or a habit (stick-out, runout, edge radius) the check is that the caution
follows it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.milling.cautions import COMMON, cautions
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool
from wearlab.milling.exposure import predicted_band, zone_exposure
from wearlab.milling.pins import hang_up_height_mm
from wearlab.milling.practices import (
    Cutter,
    Feature,
    Finish,
    FullSlot,
    Layered,
    Plunge,
    Predrilled,
    Settings,
    Side,
)
from wearlab.milling.tooth_forces import normal_force_n, plunge_side_force_n
from wearlab.milling.wall_error import slot_error, wall_error
from wearlab.milling.wear_to_size import recession_mm, slot_from_exposure

TOOL = Tool(10, 30)
TURN = np.linspace(0, 2 * math.pi, 721)
SETTINGS = Settings(6000 / math.pi, 0.05, 0.05)
CUTTER = Cutter(10, 4, centre_cutting=True)


def made(kind, feature, **more):
    return kind(feature=feature, cutter=CUTTER, settings=SETTINGS, **more)


def test_two_teeth_shift_a_shallow_slot_less_than_four():
    # Common practice, no source: two flutes for slots, four "pull to one side". Computed: 5 times less at the
    # floor.
    z = np.linspace(0, 2, 9)
    two, four = (slot_error(Cut(10, n, 1910, 0.05, 2, 10), TOOL, z).shift_um for n in (2, 4))
    assert np.abs(two).max() < np.abs(four).min()
    assert four[0] / two[0] == pytest.approx(5, abs=0.1)


def test_two_teeth_swing_when_plunging():
    # Common practice, no source: two flutes grab when they plunge beside a hole. Computed: force falls to
    # nothing twice a turn.
    two, four = (plunge_side_force_n(2, 0.05, n, 10, TURN) for n in (2, 4))
    assert two.min() == pytest.approx(0, abs=1e-9)
    assert four.min() > 0.85 * four.max()


@pytest.mark.parametrize("layers", [2, 3, 4, 8])
def test_using_only_the_tip_uses_one_part_of_the_edge(layers):
    # Common practice, no source: k layers use 1/k of the flute (the tip alone leaves 75 % of it unused when k
    # = 4).
    slot = made(Layered, Feature(10, 8, 120), layers=layers)
    used = slot.edge_exposure((np.arange(800) + 0.5) / 100).chip_mm3_mm_cm3 > 0
    assert used.mean() == pytest.approx(1 / layers, abs=1 / 800)


def test_light_machines_do_better_with_layers():
    # Common practice, no source. Computed (illustrative coefficients): 777 N against 359 N of peak side force
    # at equal rate.
    side, layer = Cut(10, 4, 1910, 0.05, 8, 2.5), Cut(10, 4, 1910, 0.05, 2, 10)
    assert side.removal_rate_cm3_min == pytest.approx(layer.removal_rate_cm3_min)
    peaks = [np.abs(normal_force_n(c, "climb", TURN)).max() for c in (side, layer)]
    assert peaks[0] > 2 * peaks[1]


def test_climb_leaves_metal_and_conventional_digs_in():
    # Common practice, no source.
    side = Cut(10, 4, 1910, 0.05, 8, 2.5)
    assert (
        wall_error(side, TOOL, [0.0]).error_um[0]
        > 0
        > wall_error(side, TOOL, [0.0], "conventional").error_um[0]
    )


@pytest.mark.parametrize("layers", [2, 4, 5])
def test_a_layered_slot_narrows_over_about_its_last_layer(layers):
    # Common practice, no source: a slot roughed in layers and finished by the same cutter is narrow low down.
    # Computed: the step is at the height of a layer, and a pin between the two widths hangs up there.
    z = np.sort(np.concatenate([np.linspace(0, 8, 801), 8 / layers + np.array([1e-9])]))
    rough = (
        made(Layered, Feature(10, 8, 120, sides="one"), layers=layers)
        .edge_exposure(z)
        .per("parts")["sliding_m"]
    )
    finish = made(Finish, Feature(10.6, 8, 120), stock_wall_mm=0.3).edge_exposure(z).per("parts")["sliding_m"]
    slot = slot_from_exposure(z, 10, rough + finish, 0.25, 10)
    pin = (slot.widths_mm.min() + slot.widths_mm.max()) / 2
    assert hang_up_height_mm(z, slot.widths_mm, pin) == pytest.approx(8 / layers, abs=1e-6)
    # A fresh finisher leaves no step.
    fresh = slot_from_exposure(z, 10, finish, 0.01, 10)
    assert np.ptp(fresh.widths_mm) == pytest.approx(0, abs=1e-12)


def test_predrilling_is_the_only_roughing_that_relieves_every_zone():
    # Derived. Per volume of the slot, against layers and side passes, at equal feed and speed.
    feature = Feature(10, 8, 119)
    zones = {"corner": (0, 0.4), "lower": (0.4, 2), "middle": (2, 5), "upper": (5, 8)}
    drilled = made(Predrilled, feature, drill_mm=8, drill_pitch_mm=8.5).zone_exposure(zones)
    side = made(Side, Feature(10, 8, 119, sides="one"), steps=4).zone_exposure(zones)
    full = made(FullSlot, feature).zone_exposure(zones)
    for other in (side, full):
        assert np.all(predicted_band(drilled, other).high < 1)


def test_full_slot_at_the_rate_of_layers_rubs_the_whole_flute_as_hard():
    # Derived: a quarter of the feed makes the chip too thin.
    zones = {"lower": (0.4, 2), "upper": (5, 8)}
    slow = zone_exposure(8, 10, 0.0125, 4, 10, 1910, zones)
    layered = zone_exposure(2, 10, 0.05, 4, 10, 1910, zones)
    assert slow.pace.removal_rate_cm3_min == pytest.approx(layered.pace.removal_rate_cm3_min)
    assert slow.sliding_m_cm3 == pytest.approx(np.full(2, layered.sliding_m_cm3[0]))


def test_plunging_spares_the_flank_and_not_the_corner():
    # Common practice has it that plunging spares the edge. Computed: the flute, yes; the corner sees more
    # than in layers.
    zones = {"corner": (0, 0.4), "lower": (0.4, 2), "upper": (5, 8)}
    row = made(Plunge, Feature(10, 8, 120), pitch_mm=2).zone_exposure(zones).sliding_m_cm3
    layers = made(Layered, Feature(10, 8, 120), layers=4).zone_exposure(zones).sliding_m_cm3
    assert row[1] == row[2] == 0
    assert row[0] > 1.1 * layers[0]


def test_usual_wear_limits_are_useless_for_a_size_cutter():
    # A mean land of 0.3 mm (ISO 8688-2, from memory) takes 0.106 mm off a slot's width: many times an H7 of
    # 15 um.
    assert 2 * recession_mm(0.3, 10) > 7 * 0.015


def test_cautions_follow_the_limits():
    # Common practice, no source: overhang over 4 D in carbide, half in HSS; runout swing over a tenth of the
    # feed; mean chip not below the edge radius, 5 to 20 um on carbide; feed a tooth up to 0.03 D.
    good = Cut(10, 4, 1910, 0.05, 2, 5, overhang_mm=30)
    assert cautions(good, flute_length_mm=20, runout_mm=0.005) == ()
    assert [c.code for c in cautions(good, high_speed_steel=True)] == ["overhang"]
    assert [c.code for c in cautions(good, runout_mm=0.02)] == ["runout"]
    found = cautions(Cut(10, 4, 1910, 0.35, 8, 0.001, overhang_mm=45), flute_length_mm=6)
    assert [c.code for c in found] == ["thin_chip", "feed_range", "overhang", "flute_length"]
    assert {c.source for c in found} == {COMMON, "geometry"}
    assert found[0].value < found[0].limit == 0.01
    assert found[3].value == 8 > found[3].limit
    # Ordinary collets of 10 to 20 um swing by far more than a tenth of 0.05 mm on 4 teeth; 5 um is where 2
    # teeth begin.
    assert cautions(Cut(10, 2, 1910, 0.05, 2, 5), runout_mm=0.0051)[0].value == pytest.approx(0.0051)


def test_rows_of_every_table_say_how_they_are_known():
    from wearlab.milling.tables import table_rows

    for file in (
        "specific_force.csv", "specific_energy.csv", "elastic_modulus.csv", "pin_classes.csv", "standard_tolerances.csv"
    ):  # fmt: skip
        rows = table_rows(file)
        assert rows, file
        assert all(row["source"] and row["how_known"] for row in rows), file
