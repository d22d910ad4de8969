"""A group of like passes: its time, its volume, and what one tooth goes through in it, by height and by
radius.

The amounts of a group are those of all its passes together, for one part and one tooth.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from wearlab.milling.arrays import Floats
from wearlab.milling.engagement import engagement_angle
from wearlab.milling.kinematics import approach_mm
from wearlab.milling.quadrature import unit_nodes

CONTACT, SLIDING, CHIP, IMPACTS = range(4)
"""Rows of every table of amounts: minutes, mm slid, mm3 per mm of edge, entries."""


class Profile(ABC):
    """How a group's amounts are spread over the height of the flute: shares of their value at full
    engagement.

    Shares come as three rows: of the arc of contact (time and sliding), of the chip, of the impacts.
    """

    top_mm: float

    @abstractmethod
    def shares(self, heights: Floats) -> Floats:
        """Shares at heights; shape (3, k)."""

    @abstractmethod
    def sums(self, heights: Floats) -> Floats:
        """Integrals of the shares from 0 up to heights; shape (3, k)."""

    def means(self, bounds: Floats) -> Floats:
        """Mean shares between pairs of heights; shape (3, k)."""
        low, high = bounds[:, 0], bounds[:, 1]
        return (self.sums(high) - self.sums(low)) / (high - low)


@dataclass(frozen=True, slots=True)
class Constant(Profile):
    """Full engagement up to the axial depth, nothing above."""

    top_mm: float

    def shares(self, heights: Floats) -> Floats:
        """1 up to the top, 0 above."""
        return np.broadcast_to(np.where(heights <= self.top_mm, 1.0, 0.0), (3, *heights.shape))

    def sums(self, heights: Floats) -> Floats:
        """The height, up to the top."""
        return np.broadcast_to(np.minimum(heights, self.top_mm), (3, *heights.shape))


@dataclass(frozen=True, slots=True)
class Fading(Profile):
    """Engagement that falls in a straight line to nothing: a pass whose depth runs evenly from 0 to the top."""

    top_mm: float

    def shares(self, heights: Floats) -> Floats:
        """1 - z/top, 0 at least."""
        return np.broadcast_to(np.maximum(1 - heights / self.top_mm, 0), (3, *heights.shape))

    def sums(self, heights: Floats) -> Floats:
        """z - z^2/(2 top), up to the top."""
        reached = np.minimum(heights, self.top_mm)
        return np.broadcast_to(reached - reached**2 / (2 * self.top_mm), (3, *heights.shape))


@dataclass(frozen=True, slots=True)
class EndCut:
    """What the end edges do in a group: angle in the metal at a radius, times the axial travel.

    Parameters
    ----------
    angle_travel : callable
        Radius in mm to the sum over the passes of angle (rad) times axial travel (mm).
    broken_travel : callable
        Radius to the axial travel over which the contact is broken in every turn, so that the tooth strikes.
    axial_feed_mm : float
        Axial advance per tooth.
    breaks : tuple of float
        Radii at which the angle has a corner.
    """

    angle_travel: Callable[[Floats], Floats]
    broken_travel: Callable[[Floats], Floats]
    axial_feed_mm: float
    teeth: int
    spindle_rpm: float
    radius_mm: float
    breaks: tuple[float, ...] = ()

    def amounts(self, radii: Floats) -> Floats:
        """The four amounts at radii; 0 beyond the cutter. Shape (4, k)."""
        inside = radii <= self.radius_mm * (1 + 1e-12)
        turns_angle = np.where(inside, self.angle_travel(np.minimum(radii, self.radius_mm)), 0)
        turns_angle = turns_angle / (self.axial_feed_mm * self.teeth)
        strikes = np.where(inside, self.broken_travel(np.minimum(radii, self.radius_mm)), 0)
        return np.stack(
            [
                turns_angle / (2 * math.pi * self.spindle_rpm),
                radii * turns_angle,
                radii * turns_angle * self.axial_feed_mm,
                strikes / (self.axial_feed_mm * self.teeth),
            ]
        )

    def means(self, bounds: Floats) -> Floats:
        """Mean amounts between pairs of radii; shape (4, k)."""
        return np.stack([self._mean(low, high) for low, high in bounds], axis=1)

    def _mean(self, low: float, high: float) -> Floats:
        """Panel by panel between the corners, whose square roots the substitution r = mid + half sin(t) takes
        out.
        """
        edges = np.array(
            [low, *(r for r in self.breaks if low < r < high), min(high, max(self.radius_mm, low))]
        )
        middle, half = (edges[1:] + edges[:-1])[:, None] / 2, np.diff(edges)[:, None] / 2
        nodes, weights = unit_nodes(32)
        turn = math.pi * (nodes - 0.5)
        values = self._flat(middle + half * np.sin(turn)) * half * np.cos(turn) * weights * math.pi
        return np.sum(values, axis=(1, 2)) / (high - low)

    def _flat(self, radii: Floats) -> Floats:
        return self.amounts(radii.ravel()).reshape(4, *radii.shape)


@dataclass(frozen=True, slots=True)
class Pass:
    """A group of like passes on one part.

    Attributes
    ----------
    kind : str
        What they are, in a word or two.
    tool : str
        `mill`, or `drill` for what another tool does.
    count : int
    axial_depth_mm, radial_width_mm : float
        Greatest axial depth and radial width in the group (nan where there is none).
    travel_mm, air_mm, rapid_mm : float
        Fed in the metal, fed out of it, moved at rapid: all passes together.
    feed_rate_mm_min : float
    volume_mm3, floor_mm2 : float
        Removed, and floor generated by the corner.
    full : ndarray, shape (4,)
        The four amounts at a fully engaged height, one tooth.
    profile : Profile
    end : EndCut or None
    """

    kind: str
    count: int
    axial_depth_mm: float
    radial_width_mm: float
    travel_mm: float
    air_mm: float
    rapid_mm: float
    feed_rate_mm_min: float
    volume_mm3: float
    floor_mm2: float
    full: Floats = field(default_factory=lambda: np.zeros(4))
    profile: Profile = Constant(0.0)
    end: EndCut | None = None
    tool: str = "mill"

    @property
    def cutting_time_min(self) -> float:
        """Minutes in the metal."""
        return self.travel_mm / self.feed_rate_mm_min

    @property
    def feed_time_min(self) -> float:
        """Minutes at feed speed, in and out of the metal."""
        return (self.travel_mm + self.air_mm) / self.feed_rate_mm_min

    def at_heights(self, heights: Floats) -> Floats:
        """Amounts of one tooth on the flute; shape (4, k)."""
        return self._spread(self.profile.shares(heights))

    def over_zones(self, bounds: Floats) -> Floats:
        """Mean amounts of one tooth on the flute between pairs of heights; shape (4, k)."""
        return self._spread(self.profile.means(bounds))

    def at_radii(self, radii: Floats) -> Floats:
        """Amounts of one tooth on the end edge; shape (4, k)."""
        return np.zeros((4, *radii.shape)) if self.end is None else self.end.amounts(radii)

    def over_radii(self, bounds: Floats) -> Floats:
        """Mean amounts of one tooth on the end edge between pairs of radii; shape (4, k)."""
        return np.zeros((4, len(bounds))) if self.end is None else self.end.means(bounds)

    def corner_extra(self, radius_mm: float) -> Floats:
        """What the end edge adds at the corner to what the flute does just above it; shape (4,).

        Contact and sliding add only the part of the turn in which the flute is out of the metal; the chip of
        the end edge is other metal and adds in full; so do its impacts where the flute has none.
        """
        if self.end is None:
            return np.zeros(4)
        at_end = self.end.amounts(np.array([radius_mm]))[:, 0]
        at_flute = self.at_heights(np.array([0.0]))[:, 0]
        extra = np.maximum(at_end - at_flute, 0)
        extra[CHIP] = at_end[CHIP]
        return extra

    def rubbed_mm2(self) -> float:
        """Length of edge times the distance it slides, all of one tooth: flute and end."""
        flute = float(self.profile.sums(np.array([self.profile.top_mm]))[0, 0] * self.full[SLIDING])
        if self.end is None:
            return flute
        bounds = np.array([[0.0, self.end.radius_mm]])
        return flute + float(self.end.means(bounds)[SLIDING, 0]) * self.end.radius_mm

    def _spread(self, shares: Floats) -> Floats:
        arc, chip, impacts = shares
        return np.stack(
            [
                self.full[CONTACT] * arc,
                self.full[SLIDING] * arc,
                self.full[CHIP] * chip,
                self.full[IMPACTS] * impacts,
            ]
        )


def arc_amounts(
    arc_mm: float,
    plan_mm2: float,
    turning_mm: float,
    feed_per_turn_mm: float,
    teeth: int,
    radius_mm: float,
    rpm: float,
) -> Floats:
    """The four amounts from an arc of contact summed along the feed.

    Parameters
    ----------
    arc_mm : float
        Integral of the engagement angle (rad) along the feed travel (mm).
    plan_mm2 : float
        Area removed, seen from above.
    turning_mm : float
        Feed travel over which the tooth strikes once a turn.
    """
    turns_angle = arc_mm / feed_per_turn_mm
    return np.array(
        [
            turns_angle / (2 * math.pi * rpm),
            turns_angle * radius_mm,
            plan_mm2 / teeth,
            turning_mm / feed_per_turn_mm,
        ]
    )


def constant_pass(
    kind: str,
    *,
    count: int,
    axial_depth_mm: float,
    radial_width_mm: float,
    length_mm: float,
    diameter_mm: float,
    teeth: int,
    spindle_rpm: float,
    feed_per_tooth_mm: float,
    overrun_mm: float = 0.0,
    rapid_each_mm: float = 0.0,
) -> Pass:
    """`count` straight passes of constant depth and width over a length that is open at both ends."""
    angle = float(engagement_angle(radial_width_mm, diameter_mm))
    feed_per_turn = feed_per_tooth_mm * teeth
    plan = radial_width_mm * length_mm * count
    return Pass(
        kind=kind,
        count=count,
        axial_depth_mm=axial_depth_mm,
        radial_width_mm=radial_width_mm,
        travel_mm=count * (length_mm + float(approach_mm(radial_width_mm, diameter_mm))),
        air_mm=count * overrun_mm,
        rapid_mm=count * rapid_each_mm,
        feed_rate_mm_min=feed_per_turn * spindle_rpm,
        volume_mm3=axial_depth_mm * plan,
        floor_mm2=plan,
        full=arc_amounts(
            angle * length_mm * count,
            plan,
            length_mm * count,
            feed_per_turn,
            teeth,
            diameter_mm / 2,
            spindle_rpm,
        ),
        profile=Constant(axial_depth_mm),
    )
