"""The course of a simulated trial: who runs when, how long each zone lasts, what is read, why each cutter
ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearlab.simulate.land import Floats
from wearlab.simulate.spec import TrialSpec
from wearlab.simulate.witness import at_heights_mm, hang_up_mm, recession_at_nodes_mm, width_at_nodes_mm

Ints = NDArray[np.int_]


@dataclass(frozen=True)
class Plan:
    """Cutters in the order in which they run, and their looks.

    Attributes
    ----------
    arm, number, block : ndarray of int, shape (cutters,)
        Position of the arm, number of the cutter within it (from 1), block (from 1).
    speed_m_min : ndarray, shape (cutters,)
    parts : ndarray of int, shape (cutters, looks)
    minutes : ndarray, shape (cutters, looks)
        Cutting time at each look.
    """

    arm: Ints
    number: Ints
    block: Ints
    speed_m_min: Floats
    parts: Ints
    minutes: Floats


@dataclass(frozen=True)
class Course:
    """What happens to the cutters of a plan.

    Attributes
    ----------
    life_min : ndarray, shape (cutters, zones)
        True life of each zone to the limit of the land curve.
    flute_offset : ndarray, shape (cutters, flutes)
        Part by which a flute's land differs from the mean.
    land_mm : ndarray, shape (cutters, looks, zones)
        True flute-mean land.
    read_mm : ndarray, shape (cutters, looks, zones, flutes)
        Lands as read.
    last : ndarray of int, shape (cutters,)
        The last look.
    reason : ndarray of str, shape (cutters,)
        Why the run ended.
    note : ndarray of str, shape (cutters,)
    chipped_flute : ndarray of int, shape (cutters,)
        From 1; 0 = none.
    """

    life_min: Floats
    flute_offset: Floats
    land_mm: Floats
    read_mm: Floats
    last: Ints
    reason: NDArray[np.object_]
    note: NDArray[np.object_]
    chipped_flute: Ints


@dataclass(frozen=True)
class Slots:
    """Witness slots as measured: shape (cutters, looks, ...).

    Attributes
    ----------
    width_mm : ndarray, (..., heights)
    wall_mm : ndarray, (..., sides, heights)
    hang_up_mm : ndarray, (..., pins)
    pin_mm : ndarray, (pins,)
        True sizes.
    """

    width_mm: Floats
    wall_mm: Floats
    hang_up_mm: Floats
    pin_mm: Floats


def make_plan(spec: TrialSpec, rng: np.random.Generator) -> Plan:
    """Cutters of every arm, blocks one after the other, order within a block at random."""
    arm = np.repeat(np.arange(len(spec.arms)), [a.cutters for a in spec.arms])
    number = np.concatenate([np.arange(1, a.cutters + 1) for a in spec.arms])
    block = number + np.array([a.first_block for a in spec.arms])[arm] - 1
    order = np.lexsort((rng.random(len(arm)), block))
    a_part = np.array([spec.minutes_a_part(a) for a in spec.arms])
    planned = np.array([a.planned_life_min for a in spec.arms])
    parts = np.rint(np.outer(planned / a_part, spec.looks)).astype(int)
    parts[:, 0] = np.maximum(parts[:, 0], 1)
    for look in range(1, parts.shape[1]):  # short lives: at least one more part at every look
        parts[:, look] = np.maximum(parts[:, look], parts[:, look - 1] + 1)
    arm, number, block = arm[order], number[order], block[order]
    speed = np.array([a.cutting_speed_m_min for a in spec.arms])[arm]
    return Plan(arm, number, block, speed, parts[arm], parts[arm] * a_part[arm, None])


def run_course(spec: TrialSpec, plan: Plan, rng: np.random.Generator) -> Course:
    """Draw lives, lands and readings, and stop each cutter by the rule or by its planned end."""
    truth, shape = spec.truth, (len(plan.arm), len(spec.looks), len(spec.zones), spec.shop.teeth)
    life = _lives(spec, plan, rng)
    offset = truth.flute_scatter * rng.standard_normal((shape[0], shape[3]))
    offset -= offset.mean(axis=1, keepdims=True)
    land = truth.curve.land_mm(plan.minutes[:, :, None] / life[:, None, :])
    read = _read(spec, land[..., None] * (1 + offset[:, None, None, :]), rng)
    at_stop = read[:, :, spec.zone_index(truth.stop_zone), :].mean(axis=-1)
    last, reason, note = _ends(spec, plan, at_stop)
    flute = rng.integers(1, shape[3] + 1, size=shape[0])
    chipped = np.where(np.isin(reason, ("chipped", "broken")), flute, 0)
    return Course(life, offset, land, read, last, reason, note, chipped)


def measure_slots(spec: TrialSpec, course: Course, rng: np.random.Generator) -> Slots:
    """Measure a witness slot at every look (which of them are in the log is settled later)."""
    gauges, witness = spec.gauges, spec.witness
    recession = recession_at_nodes_mm(course.land_mm, spec)
    width = width_at_nodes_mm(recession, spec)
    wall = at_heights_mm(recession, witness.heights_mm, spec)
    walls = np.stack([wall + witness.deflection_left_mm, wall + witness.deflection_right_mm], axis=-2)
    pins = np.array(witness.pins_mm) + gauges.pin_tolerance_mm * rng.random(len(witness.pins_mm))
    stops = hang_up_mm(width, pins, spec)
    noisy = np.clip(stops + gauges.hang_up_mm * rng.standard_normal(stops.shape), 0.0, witness.depth_mm)
    at_heights = at_heights_mm(width, witness.heights_mm, spec)
    return Slots(
        _rounded(at_heights + gauges.width_mm * rng.standard_normal(at_heights.shape), gauges.resolution_mm),
        _rounded(walls + gauges.wall_mm * rng.standard_normal(walls.shape), gauges.resolution_mm),
        # A pin that reaches the floor or does not enter at all leaves nothing to misread.
        np.where((stops == 0) | (stops == witness.depth_mm), stops, _rounded(noisy, 0.01)),
        pins,
    )


def _lives(spec: TrialSpec, plan: Plan, rng: np.random.Generator) -> Floats:
    """Lives in minutes, shape (cutters, zones)."""
    truth = spec.truth
    median = np.array([spec.practice(arm.strategy).life_min for arm in spec.arms])[plan.arm]
    scatter = truth.sigma * rng.standard_normal(len(plan.arm))
    scatter += truth.block_scatter * rng.standard_normal(plan.block.max())[plan.block - 1]
    zones = truth.zone_scatter * rng.standard_normal(median.shape)
    zones[:, spec.zone_index(truth.stop_zone)] = 0.0
    speed = np.log(plan.speed_m_min / truth.reference_speed_m_min) / truth.n
    return median * np.exp(scatter - speed)[:, None] * np.exp(zones)


def _read(spec: TrialSpec, land: Floats, rng: np.random.Generator) -> Floats:
    """Lands as the microscope gives them; a land too narrow to be seen is written as 0."""
    gauges = spec.gauges
    set_up = gauges.set_up_mm * rng.standard_normal(land.shape[:2])[:, :, None, None]
    read = land + set_up + gauges.land_mm * rng.standard_normal(land.shape)
    seen = land > gauges.unseen_mm
    return np.where(seen, _rounded(np.maximum(read, 0.0), gauges.resolution_mm), 0.0)


def _ends(
    spec: TrialSpec, plan: Plan, at_stop: Floats
) -> tuple[Ints, NDArray[np.object_], NDArray[np.object_]]:
    """Last look, reason and note of every cutter."""
    looks = at_stop.shape[1]
    # Read to the resolution, so a mean that prints as the limit has reached it.
    over = at_stop >= spec.truth.curve.limit_mm - 1e-9
    worn = np.where(over.any(axis=1), over.argmax(axis=1), looks)
    last = np.minimum(worn, looks - 1)
    reason = np.where(worn < looks, "worn", "budget").astype(object)
    note = np.full(len(worn), "", dtype=object)
    for end in spec.ends:
        (at,) = np.flatnonzero((plan.arm == end.arm) & (plan.number == end.cutter))
        first = end.look - 1 <= worn[at] if end.reason in ("chipped", "broken") else end.look - 1 < worn[at]
        if first:
            last[at], reason[at], note[at] = end.look - 1, end.reason, end.note
    return last, reason, note


def _rounded(values: Floats, step: float) -> Floats:
    """To the nearest step, as short decimals."""
    return np.round(np.rint(values / step) * step, 9)
