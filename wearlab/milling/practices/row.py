"""What the end edges go through in a row of plunges, hole by hole, whatever was there before.

All circles stand on one line: the plunges, the holes that were drilled before, and the open ends as straight
faces across it. So what each covers of a circle of the end edge is an arc centred on the direction of the row
or against it, and on each side the greatest counts. Plunges that are alike are worked out once.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.arrays import Floats
from wearlab.milling.practices.common import axial_feed_mm, end_cut
from wearlab.milling.practices.passes import Pass

if TYPE_CHECKING:
    from wearlab.milling.practices.base import Practice

Discs = tuple[tuple[float, float], ...]
Kind = tuple[Discs, float, float]
"""What stands around a plunge: discs (offset along the row, radius), metal-free behind this and ahead of
that.
"""


def plunge_row(
    practice: Practice,
    centres: Floats,
    *,
    area_mm2: float,
    drilled_mm: Floats | None = None,
    drill_mm: float = 0.0,
    kind: str = "plunge",
) -> Pass:
    """The plunges of a row as one group.

    Parameters
    ----------
    centres : ndarray
        Positions along the slot.
    area_mm2 : float
        Area that the row takes, seen from above.
    drilled_mm, drill_mm : ndarray and float
        Holes that were drilled before, and their diameter.
    """
    radius, depth = practice.cutter.radius_mm, practice.rough.depth_mm
    face = (0.0, practice.rough.length_mm) if practice.feature.ends == "open" else (-math.inf, math.inf)
    holes = np.empty(0) if drilled_mm is None else drilled_mm
    kinds = _kinds(centres, radius, holes, drill_mm / 2, face)

    def angle_travel(radii: Floats) -> Floats:
        total = np.zeros(radii.shape)
        for around, count in kinds.items():
            total += count * free_angle(radii, around)
        return total * depth

    def broken_travel(radii: Floats) -> Floats:
        total = np.zeros(radii.shape)
        for around, count in kinds.items():
            angle = free_angle(radii, around)
            total += count * ((angle > 0) & (angle < 2 * math.pi * (1 - 1e-12)))
        return total * depth

    feed, step = axial_feed_mm(practice), float(np.diff(centres).mean()) if len(centres) > 1 else 0.0
    return Pass(
        kind=kind,
        count=len(centres),
        axial_depth_mm=depth,
        radial_width_mm=math.nan,
        travel_mm=depth * len(centres),
        air_mm=0.0,
        rapid_mm=len(centres) * (depth + 2 * practice.settings.lift_mm + step),
        feed_rate_mm_min=feed * practice.cutter.teeth * practice.settings.spindle_rpm,
        volume_mm3=area_mm2 * depth,
        floor_mm2=area_mm2,
        end=end_cut(practice, angle_travel, broken_travel, feed, _breaks(kinds, radius)),
    )


def free_angle(radii: Floats, around: Kind) -> Floats:
    """Angle of a circle about the axis that lies in metal."""
    discs, before, after = around
    reach = np.maximum(radii, 1e-12)
    behind = np.arccos(np.clip(before / reach, -1, 1))
    ahead = np.arccos(np.clip(after / reach, -1, 1))
    for offset, radius in discs:
        arc = covered(reach, abs(offset), radius)
        if offset > 0:
            ahead = np.maximum(ahead, arc)
        else:
            behind = np.maximum(behind, arc)
    return 2 * np.maximum(math.pi - behind - ahead, 0)


def covered(reach: Floats, offset: ArrayLike, radius: ArrayLike) -> Floats:
    """Half the angle of a circle of radius `reach` that lies inside a disc whose centre is `offset` away."""
    away = np.maximum(np.asarray(offset, dtype=np.float64), 1e-12)
    # Law of cosines; a point at reach 0 is inside where the disc holds the axis.
    cosine = (reach**2 + away**2 - np.asarray(radius) ** 2) / (2 * np.maximum(reach, 1e-12) * away)
    return np.arccos(np.clip(cosine, -1, 1))


def _kinds(
    centres: Floats, radius: float, holes: Floats, hole_radius: float, face: tuple[float, float]
) -> dict[Kind, int]:
    """The different surroundings of the plunges, and how many plunges share each (to 1e-9 mm)."""
    first: dict[Kind, Kind] = {}
    found: dict[Kind, int] = {}
    for at, centre in enumerate(centres):
        near = holes[np.abs(holes - centre) < radius + hole_radius]
        discs = [(float(hole - centre), hole_radius) for hole in near]
        if at:
            discs.append((float(centres[at - 1] - centre), radius))
        around = (tuple(discs), _near(centre - face[0], radius), _near(face[1] - centre, radius))
        rounded = (tuple((round(o, 9), r) for o, r in discs), round(around[1], 9), round(around[2], 9))
        alike = first.setdefault(rounded, around)
        found[alike] = found.get(alike, 0) + 1
    return found


def _near(distance: float, radius: float) -> float:
    """Distance of a face, without bound where the cutter does not reach it."""
    return float(distance) if distance < radius * (1 - 1e-12) else math.inf


def _breaks(kinds: dict[Kind, int], radius: float) -> tuple[float, ...]:
    """Radii at which a circle begins or ceases to meet one of the discs or faces: corners of the angle."""
    places = {abs(face) for _, before, after in kinds for face in (before, after)}
    for discs, _, _ in kinds:
        for offset, size in discs:
            places |= {abs(abs(offset) - size), abs(offset) + size}
    return tuple(sorted(place for place in places if 0 < place < radius))
