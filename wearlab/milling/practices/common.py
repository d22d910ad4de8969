"""Passes and refusals that several practices share."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from wearlab.milling.arrays import Floats
from wearlab.milling.cut import Cut
from wearlab.milling.practices.passes import Constant, EndCut, Pass, arc_amounts, constant_pass

if TYPE_CHECKING:
    from wearlab.milling.practices.base import Practice

OfRadius = Callable[[Floats], Floats]


def cut_of(practice: Practice, axial_depth_mm: float, radial_width_mm: float) -> Cut:
    """The practice's cutter and settings at a constant depth and width."""
    cutter, settings = practice.cutter, practice.settings
    return Cut(
        diameter_mm=cutter.diameter_mm,
        teeth=cutter.teeth,
        spindle_rpm=settings.spindle_rpm,
        feed_per_tooth_mm=settings.feed_per_tooth_mm,
        axial_depth_mm=axial_depth_mm,
        radial_width_mm=min(radial_width_mm, cutter.diameter_mm),
        helix_deg=cutter.helix_deg,
        overhang_mm=cutter.overhang_mm,
    )


def feed_per_turn_mm(practice: Practice) -> float:
    """fz N."""
    return practice.settings.feed_per_tooth_mm * practice.cutter.teeth


def flank_pass(
    practice: Practice,
    kind: str,
    count: int,
    axial_depth_mm: float,
    radial_width_mm: float,
    length_mm: float,
    *,
    inside: bool = False,
) -> Pass:
    """Passes at constant depth and width.

    `inside` means between round ends, where the cutter starts in its own hole: no approach, no overrun.
    """
    cutter, settings = practice.cutter, practice.settings
    group = constant_pass(
        kind,
        count=count,
        axial_depth_mm=axial_depth_mm,
        radial_width_mm=min(radial_width_mm, cutter.diameter_mm),
        length_mm=max(length_mm, 1e-12),
        diameter_mm=cutter.diameter_mm,
        teeth=cutter.teeth,
        spindle_rpm=settings.spindle_rpm,
        feed_per_tooth_mm=settings.feed_per_tooth_mm,
        overrun_mm=0.0 if inside else settings.overrun_mm,
    )
    travel = count * length_mm if inside else group.travel_mm
    each = 0.0 if settings.both_ways else (travel + group.air_mm) / count + 2 * settings.lift_mm
    return replace(group, travel_mm=travel, rapid_mm=count * each)


def plunge_entry(practice: Practice, *, depth: float, count: int) -> Pass:
    """The cutter sinks into solid metal at the start of a slot with closed ends."""
    radius = practice.cutter.radius_mm
    travel = depth * count

    def angle_travel(radii: Floats) -> Floats:
        return np.full(radii.shape, 2 * math.pi * travel)

    return Pass(
        kind="entry",
        count=count,
        axial_depth_mm=depth,
        radial_width_mm=math.nan,
        travel_mm=travel,
        air_mm=0.0,
        rapid_mm=0.0,
        feed_rate_mm_min=axial_feed_mm(practice) * practice.cutter.teeth * practice.settings.spindle_rpm,
        volume_mm3=math.pi * radius**2 * travel,
        floor_mm2=0.0,
        end=end_cut(practice, angle_travel, np.zeros_like, axial_feed_mm(practice)),
    )


def axial_feed_mm(practice: Practice) -> float:
    """Axial feed per tooth; a third of the feed per tooth where none is given (common practice, no source)."""
    given = practice.settings.axial_feed_per_tooth_mm
    return practice.settings.feed_per_tooth_mm / 3 if given is None else given


def end_cut(
    practice: Practice,
    angle_travel: OfRadius,
    broken_travel: OfRadius,
    axial_feed: float,
    breaks: tuple[float, ...] = (),
) -> EndCut:
    """The end edges of the practice's cutter."""
    return EndCut(
        angle_travel,
        broken_travel,
        axial_feed,
        practice.cutter.teeth,
        practice.settings.spindle_rpm,
        practice.cutter.radius_mm,
        breaks,
    )


def sinking_end(practice: Practice, *, descent_mm: float, feed_mm: float) -> EndCut:
    """End edges of a cutter that sinks by `descent_mm` in all while it is fed over `feed_mm`: in the metal
    all round.
    """
    axial_feed = practice.settings.feed_per_tooth_mm * descent_mm / feed_mm

    def angle_travel(radii: Floats) -> Floats:
        return np.full(radii.shape, 2 * math.pi * descent_mm)

    return end_cut(practice, angle_travel, np.zeros_like, axial_feed)


def opened_ends(practice: Practice, depth: float) -> Pass:
    """Running out at both ends of an open slot, after the metal between the round ends is gone.

    At the tooth angle a before or behind the feed direction the arc is in metal for a travel R (1 - cos a):
    two ends give an arc of 2 R (pi - 2) and a plan area of (4 - pi) R^2 (derived).
    """
    radius = practice.cutter.radius_mm
    plan = (4 - math.pi) * radius**2
    travel = 2 * radius
    return Pass(
        kind="opening of the ends",
        count=2,
        axial_depth_mm=depth,
        radial_width_mm=2 * radius,
        travel_mm=travel,
        air_mm=practice.settings.overrun_mm * 2,
        rapid_mm=practice.rough.length_mm,
        feed_rate_mm_min=feed_rate(practice),
        volume_mm3=plan * depth,
        floor_mm2=plan,
        full=arcs(practice, 2 * radius * (math.pi - 2), plan, travel),
        profile=Constant(depth),
    )


def arcs(practice: Practice, arc_mm: float, plan_mm2: float, turning_mm: float) -> Floats:
    """Amounts of one tooth of the practice's cutter from the arc of contact summed along the feed."""
    return arc_amounts(
        arc_mm,
        plan_mm2,
        turning_mm,
        feed_per_turn_mm(practice),
        practice.cutter.teeth,
        practice.cutter.radius_mm,
        practice.settings.spindle_rpm,
    )


def feed_rate(practice: Practice) -> float:
    """vf."""
    return feed_per_turn_mm(practice) * practice.settings.spindle_rpm


def splits(width: float, most: float) -> tuple[float, ...]:
    """Fewest equal steps of no more than `most`.

    >>> splits(25, 10)
    (8.333333333333334, 8.333333333333334, 8.333333333333334)
    """
    count = max(math.ceil(width / most - 1e-9), 1)
    return (width / count,) * count


def evenly(first: float, last: float, count: int) -> Floats:
    """`count` positions from `first` to `last`; the first alone when there is one.

    >>> evenly(1, 3, 3).tolist()
    [1.0, 2.0, 3.0]
    """
    places = np.arange(count, dtype=np.float64)
    return first + places * ((last - first) / max(count - 1, 1))


def narrower_than_cutter(practice: Practice) -> list[str]:
    """The reason that a slot is narrower than the cutter, if it is."""
    width, diameter = practice.rough.width_mm, practice.cutter.diameter_mm
    if practice.feature.sides == "closed" and width < diameter * (1 - 1e-9):
        return [f"a slot of {width:g} mm is narrower than the cutter, {diameter:g} mm"]
    return []


def round_ended_slot(practice: Practice) -> list[str]:
    """The reason that a closed slot is not as wide as the cutter, if it is not."""
    width, diameter = practice.rough.width_mm, practice.cutter.diameter_mm
    if width > diameter * (1 + 1e-9):
        return [
            f"a slot with closed ends, {width:g} mm wide, is a pocket for a cutter of {diameter:g} mm: enter by a helix"
        ]
    return []


def start_in_solid(practice: Practice, what: str) -> list[str]:
    """The reason that the cutter cannot sink into solid metal, if it cannot."""
    if practice.cutter.centre_cutting:
        return []
    known = (
        "does not cut to its centre"
        if practice.cutter.centre_cutting is False
        else "is not known to cut to its centre"
    )
    return [f"{what}, and the cutter {known}"]
