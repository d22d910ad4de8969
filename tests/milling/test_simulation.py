"""Every practice against a cutter swept over a grid (conftest.Block), which knows none of the closed forms.

For each: volume, angle of contact by height and by radius of the end edge, and volume cut by height and by
radius. The difference has to lie within the error of the grid, and to shrink with it.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from wearlab.milling.practices import (
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
from wearlab.milling.practices.passes import CHIP, SLIDING

RADIUS = 3.0
CUTTER = Cutter(2 * RADIUS, 4, centre_cutting=True)
SETTINGS = Settings(3000, 0.05, 0.04)
CELLS = (0.2, 0.1)


def base(kind, feature, **more):
    return kind(feature=feature, cutter=CUTTER, settings=SETTINGS, **more)


def workpiece(block, feature, cell, levels, solid=None, low=None):
    """A block around a feature whose width runs from y = -W/2 to W/2 and whose length from x = 0 to L."""
    faces = (0.0, feature.length_mm) if feature.ends == "open" else (-math.inf, math.inf)
    margin = 2 * cell
    half = feature.width_mm / 2 + margin
    return block(
        (-margin, feature.length_mm + margin),
        (-half if low is None else low, half),
        feature.depth_mm,
        cell=cell,
        levels=levels,
        radius=RADIUS,
        faces=faces,
        solid=solid,
    )


def layered(block, line, cell):
    feature = Feature(6, 2, 14)
    sim = workpiece(block, feature, cell, 2)
    for depth in (1, 2):
        sim.sweep(line((-3, 0, depth), (17, 0, depth), cell))
    return base(Layered, feature, layers=2), sim


def layered_closed(block, line, cell):
    feature = Feature(6, 2, 14, ends="closed")
    sim = workpiece(block, feature, cell, 2)
    for depth in (1, 2):
        sim.sweep(line((3, 0, depth - 1), (3, 0, depth), 0.1))
        sim.sweep(line((3, 0, depth), (11, 0, depth), cell))
    return base(Layered, feature, layers=2), sim


def side(block, line, cell):
    # One wall at y = -W/2; above y = W/2 there is air.
    feature = Feature(4, 2, 14, sides="one")
    sim = workpiece(block, feature, cell, 1, solid=lambda x, y: 2.0 - y)
    for step in (1, 2):
        y = 2.0 - 2.0 * step + RADIUS
        sim.sweep(line((-3, y, 2), (17, y, 2), cell))
    return base(Side, feature, steps=2), sim


def side_in_wide_slot(block, line, cell):
    feature = Feature(8, 2, 14)
    sim = workpiece(block, feature, cell, 1)
    for y in (0, 1, -1):
        sim.sweep(line((-3, y, 2), (17, y, 2), cell))
    return base(Side, feature, steps=2), sim


def full_slot(block, line, cell):
    feature = Feature(6, 2, 14)
    sim = workpiece(block, feature, cell, 1)
    sim.sweep(line((-3, 0, 2), (17, 0, 2), cell))
    return base(FullSlot, feature), sim


def plunge_closed(block, line, cell):
    practice = base(Plunge, Feature(6, 2, 14, ends="closed"), pitch_mm=1.6)
    sim = workpiece(block, practice.feature, cell, 1)
    for x in practice.centres_mm():
        sim.sweep(line((x, 0, 0), (x, 0, 2), 0.25))
    return practice, sim


def plunge_open(block, line, cell):
    practice = base(Plunge, Feature(6, 2, 14), pitch_mm=2.5, clean=True)
    sim = workpiece(block, practice.feature, cell, 1)
    for x in practice.centres_mm():
        sim.sweep(line((x, 0, 0), (x, 0, 2), 0.25))
    sim.sweep(line((-3, 0, 2), (17, 0, 2), cell))
    return practice, sim


def predrilled(block, line, cell):
    practice = base(Predrilled, Feature(6, 2, 14), drill_mm=4.5, drill_pitch_mm=4.6)
    sim = workpiece(block, practice.feature, cell, 1)
    sim.drill(practice.holes_mm(), 2.25)
    sim.sweep(line((-3, 0, 2), (17, 0, 2), cell))
    return practice, sim


def predrilled_layered_closed(block, line, cell):
    feature = Feature(6, 2, 14, ends="closed")
    practice = base(Predrilled, feature, drill_mm=4, drill_pitch_mm=4, then="layered", layers=2)
    sim = workpiece(block, feature, cell, 2)
    sim.drill(practice.holes_mm(), 2)
    for depth in (1, 2):
        sim.sweep(line((3, 0, depth - 1), (3, 0, depth), 0.1))
        sim.sweep(line((3, 0, depth), (11, 0, depth), cell))
    return practice, sim


def predrilled_plunge(block, line, cell):
    practice = base(
        Predrilled, Feature(6, 2, 14), drill_mm=3, drill_pitch_mm=3.7, then="plunge", pitch_mm=2.1
    )
    sim = workpiece(block, practice.feature, cell, 1)
    sim.drill(practice.holes_mm(), 1.5)
    for x in practice._row().centres_mm():
        sim.sweep(line((x, 0, 0), (x, 0, 2), 0.25))
    return practice, sim


def ramp(block, line, cell):
    feature = Feature(6, 2, 14, ends="closed")
    practice = base(Ramp, feature, angle_deg=math.degrees(math.atan(1 / 8)))
    assert practice.legs == 2
    sim = workpiece(block, feature, cell, round(1 / cell))
    sim.sweep(line((3, 0, 0), (11, 0, 1), cell**1.5))
    sim.sweep(line((11, 0, 1), (3, 0, 2), cell**1.5))
    sim.sweep(line((3, 0, 2), (11, 0, 2), cell**1.5))
    return practice, sim


def ramp_then_slot(block, line, cell):
    practice = base(Ramp, Feature(6, 1, 16), angle_deg=math.degrees(math.atan(1 / 6)), leg_mm=6)
    assert practice.legs == 1
    sim = workpiece(block, practice.feature, cell, round(0.5 / cell))
    for start, end in (((5, 0, 0), (11, 0, 1)), ((11, 0, 1), (5, 0, 1)), ((11, 0, 1), (19, 0, 1))):
        sim.sweep(line(start, end, cell**1.5))
    # The slot beyond the ramp may lie at either end: here 2 mm at the start, and both ends run out.
    sim.sweep(line((5, 0, 1), (-3, 0, 1), cell**1.5))
    return practice, sim


def helical(block, line, cell):
    practice = base(Helical, Feature(10, 1.5, 10, ends="closed"), angle_deg=3.5)
    assert practice.orbits == 2
    sim = workpiece(block, practice.feature, cell, round(1 / cell))
    turns = np.arange(0, 3 + 1e-9, cell**1.5 / practice.orbit_mm)
    path = np.stack(
        [
            5 + practice.path_radius_mm * np.cos(2 * math.pi * turns),
            practice.path_radius_mm * np.sin(2 * math.pi * turns),
            np.minimum(turns * practice.descent_mm, 1.5),
        ],
        axis=1,
    )
    sim.sweep(path)
    return practice, sim


def trochoidal_closed(block, line, cell):
    feature = Feature(10, 1, 14, ends="closed")
    practice = base(Trochoidal, feature, step_mm=1.0, entry_angle_deg=30)
    sim = workpiece(block, feature, cell, 1)
    sim.drill([5], 5)
    angle = np.linspace(-math.pi, math.pi, math.ceil(4 * math.pi / cell))
    for loop in range(1, practice.loops + 1):
        x = 5 + loop * practice.even_step_mm + 2 * np.cos(angle)
        sim.sweep(np.stack([x, 2 * np.sin(angle), np.full(angle.shape, 1.0)], axis=1))
    return practice, sim


def finish_straight(block, line, cell):
    feature = Feature(8, 2, 14)
    practice = base(Finish, feature, stock_wall_mm=0.5, stock_floor_mm=1)
    sim = workpiece(block, feature, cell, 2)
    sim.field[0] = np.minimum(
        sim.field[0], np.abs(sim.y)[None, :] - 3.5
    )  # roughed down to 1 mm above the floor
    for y in (-0.5, 0.5, 1, -1):  # floor: the cutter's width, then 1 mm; walls: both
        sim.sweep(line((-3, y, 2), (17, y, 2), cell))
    return practice, sim


def finish_round(block, line, cell):
    feature = Feature(10, 1, 16, ends="closed")
    practice = base(Finish, feature, stock_wall_mm=0.6)

    def roughed(x, y):
        along = np.clip(x, 5, 11)
        return np.hypot(x - along, y) - 4.4

    sim = workpiece(block, feature, cell, 1, solid=roughed)
    half = np.linspace(-math.pi / 2, math.pi / 2, math.ceil(2 * math.pi / cell))
    right = np.stack([11 + 2 * np.cos(half), 2 * np.sin(half), np.ones_like(half)], axis=1)
    left = np.stack([5 - 2 * np.cos(half), -2 * np.sin(half), np.ones_like(half)], axis=1)
    path = np.concatenate(
        [
            line((8, -2, 1), (11, -2, 1), cell),
            right,
            line((11, 2, 1), (5, 2, 1), cell),
            left,
            line((5, -2, 1), (8, -2, 1), cell),
        ]
    )
    sim.sweep(path)
    # The cutter stands in the metal when the sweep begins. A tooth at the angle a never meets the 2 R sin(a)
    # of metal inside that first disc, which adds up to twice the allowance over the arc.
    sim.arc += 2 * 0.6
    return practice, sim


SCENES = {
    scene.__name__: scene
    for scene in (
        layered, layered_closed, side, side_in_wide_slot, full_slot, plunge_closed, plunge_open, predrilled,
        predrilled_layered_closed, predrilled_plunge, ramp, ramp_then_slot, helical, trochoidal_closed, finish_straight,
        finish_round,
    )
}  # fmt: skip


def mill_groups(practice):
    return [
        g
        for g in practice.passes()
        if g.tool == "mill" and not (practice.name == "trochoidal" and g.kind != "loop")
    ]


def differences(practice, sim):
    """Worst differences between sweep and closed forms, as shares of the largest value of each kind."""
    groups = mill_groups(practice)
    flute = sum(group.over_zones(bounds(sim)) for group in groups)
    turn = SETTINGS.feed_per_tooth_mm * CUTTER.teeth
    arc = flute[SLIDING] * turn / RADIUS
    volume = sum(group.volume_mm3 for group in groups)
    result = {
        "volume": abs(sim.removed_mm3 / volume - 1),
        "arc": float(np.max(np.abs(sim.arc - arc))) / (math.pi * sum(group.travel_mm for group in groups)),
        "chip of the flute": worst(sim.flute_mm3, flute[CHIP] * CUTTER.teeth * sim.dz),
    }
    ends = [group.end for group in groups if group.end is not None]
    if ends:
        rings = np.linspace(0, RADIUS, 21)
        mean = np.stack([np.linspace(a, b, 21)[:-1] + (b - a) / 40 for a, b in pairwise(rings)])
        angle = sum(end.angle_travel(mean) for end in ends)
        result["angle of the end"] = worst(sim.end_angle, sum(end.angle_travel(sim.radii) for end in ends))
        result["corner"] = worst(
            sim.corner_angle, sum(end.angle_travel(np.array([RADIUS])) for end in ends)[0]
        )
        # Summed from the axis outwards: a single thin ring holds too few cells.
        chip = (mean * angle).mean(axis=1) * RADIUS / 20
        result["chip of the end"] = worst(np.cumsum(sim.end_mm3), np.cumsum(chip))
    return result


def bounds(sim):
    edges = np.linspace(0, sim.levels * sim.dz, sim.levels + 1)
    return np.stack([edges[:-1], edges[1:]], axis=1)


def worst(found, wanted):
    largest = np.max(np.abs(wanted))
    return float(np.max(np.abs(found - wanted)) / largest) if largest > 0 else float(np.max(np.abs(found)))


# Largest difference allowed per mm of grid cell (cutter of 6 mm): what a stair of cells costs. A thin ring of
# the end edge holds few cells; a level of a sloped floor rounds the depth to half a level.
PER_CELL = {
    "volume": 0.03,
    "arc": 0.3,
    "chip of the flute": 0.35,
    "angle of the end": 0.12,
    "corner": 0.03,
    "chip of the end": 0.15,
}
FLOOR = 0.012
"""Below this share a difference counts as nothing and need not shrink."""


@pytest.mark.parametrize("name", SCENES)
def test_sweep_agrees_and_the_difference_shrinks_with_the_grid(name, block, straight):
    coarse, fine = (differences(*SCENES[name](block, straight, cell)) for cell in CELLS)
    for kind, difference in coarse.items():
        assert difference <= PER_CELL[kind] * CELLS[0], kind
        assert fine[kind] <= PER_CELL[kind] * CELLS[1], kind
        assert fine[kind] <= max(0.8 * difference, FLOOR), kind
