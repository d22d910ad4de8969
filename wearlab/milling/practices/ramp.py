"""Zig-zag ramp: to and fro along the slot, sinking all the way, then a level pass for the sloped floor.

On every leg after the first the cutter meets the slope that the last one left: its depth runs evenly from 0
to twice the descent of a leg, so no depth-of-cut line forms. The end edges take pi R/(2 leg + pi R) of the
volume.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, positive
from wearlab.milling.cut import Cut
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import (
    arcs,
    feed_rate,
    flank_pass,
    narrower_than_cutter,
    opened_ends,
    round_ended_slot,
    sinking_end,
    start_in_solid,
)
from wearlab.milling.practices.passes import Fading, Pass


def ramp_end_share(leg_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Share of the volume that the end edges take in a ramp to and fro: pi R / (2 leg + pi R).

    >>> [round(float(ramp_end_share(leg, 10)), 3) for leg in (40, 38.2)]
    [0.164, 0.171]
    """
    half_turn = math.pi * positive("diameter_mm", diameter_mm) / 2
    return half_turn / (2 * positive("leg_mm", leg_mm) + half_turn)


def ramp_leg_exposure(
    heights_mm: ArrayLike,
    descent_mm: float,
    leg_mm: float,
    *,
    feed_per_tooth_mm: float,
    teeth: int,
    diameter_mm: float,
) -> dict[str, Floats]:
    """Sliding (m/cm3) and chip (mm3/mm/cm3) of the flute by height, in a leg after the first, per volume of
    the leg.

    1 - z/(2 a) of what a pass at constant depth would give over the leg (derived).

    >>> e = ramp_leg_exposure([0.2], 2, 38.16, feed_per_tooth_mm=0.05, teeth=4, diameter_mm=10)
    >>> e["sliding_m_cm3"].round(2).tolist(), e["chip_mm3_mm_cm3"].round().tolist()
    ([3.09], [98.0])
    """
    radius = float(positive("diameter_mm", diameter_mm)) / 2
    volume = descent_mm * (diameter_mm * leg_mm + math.pi * radius**2)
    share = Fading(2 * descent_mm).shares(np.atleast_1d(np.asarray(heights_mm, dtype=np.float64)))[0]
    return {
        "sliding_m_cm3": share * math.pi * radius * leg_mm / (feed_per_tooth_mm * teeth * volume),
        "chip_mm3_mm_cm3": share * diameter_mm * leg_mm / teeth / volume * 1000,
    }


@dataclass(frozen=True, kw_only=True)
class Ramp(Practice):
    """Ramp to and fro over a slot as wide as the cutter.

    Parameters
    ----------
    angle_deg : float
        Greatest ramp angle; the legs are made equal, so that the last one ends at the depth.
    leg_mm : float, optional
        Length of a leg between the turning points of the axis; without it the whole slot less a diameter. The
        rest of a longer slot is then cut at full depth.
    max_angle_deg : float, optional
        The cutter maker's limit.
    level : bool
        Whether a last level pass takes the slope off the floor.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Feature(10, 8, 120, ends="closed")
    >>> cutter = Cutter(10, 4, centre_cutting=True)
    >>> ramp = Ramp(feature=slot, cutter=cutter, settings=Settings(1910, 0.05), angle_deg=1.1)
    >>> ramp.legs, round(ramp.descent_mm, 2)
    (4, 2.0)
    """

    name = "ramp"

    angle_deg: float = 3.0
    leg_mm: float | None = None
    max_angle_deg: float | None = None
    level: bool = True

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("angle_deg", self.angle_deg)
        if self.angle_deg >= 45:
            raise ArgumentError(f"{self.angle_deg:g}", where="angle_deg", allowed="below 45")
        if self.leg_mm is not None:
            positive("leg_mm", self.leg_mm)

    @property
    def leg_travel_mm(self) -> float:
        """Length of a leg."""
        return self._room_mm() if self.leg_mm is None else self.leg_mm

    @property
    def legs(self) -> int:
        """Number of sinking legs."""
        return math.ceil(
            self.rough.depth_mm / (self.leg_travel_mm * math.tan(math.radians(self.angle_deg))) - 1e-9
        )

    @property
    def descent_mm(self) -> float:
        """Descent a of one leg."""
        return self.rough.depth_mm / self.legs

    def main_cut(self) -> Cut | None:
        """None: the depth changes all the time."""
        return None

    def _room_mm(self) -> float:
        return self.rough.length_mm - self.cutter.diameter_mm

    def _reasons(self) -> list[str]:
        found = narrower_than_cutter(self) + round_ended_slot(self)
        if self.feature.ends == "open" and self.rough.width_mm > self.cutter.diameter_mm * (1 + 1e-9):
            found.append(f"the slot, {self.rough.width_mm:g} mm, is wider than the cutter")
        if self.leg_travel_mm > self._room_mm() * (1 + 1e-9) or self._room_mm() <= 0:
            found.append(f"a leg of {self.leg_travel_mm:g} mm does not fit into {self.rough.length_mm:g} mm")
        if self.max_angle_deg is not None and self.angle_deg > self.max_angle_deg:
            found.append(
                f"the ramp angle of {self.angle_deg:g} deg exceeds the cutter's {self.max_angle_deg:g} deg"
            )
        # A core of radius r_c stays behind the corner by R - r_c; it must not touch the slope that it sinks
        # along.
        if self.max_angle_deg is None:
            found += start_in_solid(
                self, "a ramp without a stated greatest angle counts as a plunge of the centre"
            )
        return found

    def _deepest_mm(self) -> float:
        if self._room_mm() <= 0:
            return 0.0
        whole = math.isclose(self.leg_travel_mm, self._room_mm()) and self.feature.ends == "closed"
        return min(2 * self.descent_mm, self.rough.depth_mm) if whole else self.rough.depth_mm

    def _passes(self) -> list[Pass]:
        a, legs = self.descent_mm, self.legs
        groups = [self._leg("first leg", 1, a)]
        if legs > 1:
            groups.append(self._leg("leg", legs - 1, 2 * a))
        if self.level:
            groups.append(replace(self._leg("level pass", 1, a), end=None, volume_mm3=self._wedge_mm3()))
        rest = self._room_mm() - self.leg_travel_mm
        if rest > 1e-9:
            groups.append(
                flank_pass(
                    self,
                    "slot beyond the ramp",
                    1,
                    self.rough.depth_mm,
                    self.rough.width_mm,
                    rest,
                    inside=True,
                )
            )
        return [*groups, opened_ends(self, self.rough.depth_mm)] if self.feature.ends == "open" else groups

    def _leg(self, kind: str, count: int, top: float) -> Pass:
        """`count` legs whose depth runs from 0 to `top` while the cutter sinks by the descent of a leg."""
        leg, diameter, descent = self.leg_travel_mm, self.cutter.diameter_mm, self.descent_mm
        plan = diameter * leg * count
        disc = math.pi * self.cutter.radius_mm**2 * descent * count
        return Pass(
            kind=kind,
            count=count,
            axial_depth_mm=top,
            radial_width_mm=diameter,
            travel_mm=leg * count,
            air_mm=0.0,
            rapid_mm=0.0,
            feed_rate_mm_min=feed_rate(self),
            volume_mm3=plan * top / 2 + disc,
            floor_mm2=plan,
            full=arcs(self, math.pi * leg * count, plan, leg * count),
            profile=Fading(top),
            end=sinking_end(self, descent_mm=descent * count, feed_mm=leg * count),
        )

    def _wedge_mm3(self) -> float:
        return self.cutter.diameter_mm * self.leg_travel_mm * self.descent_mm / 2

    def _left_mm3(self) -> float:
        return 0.0 if self.level else self._wedge_mm3()

    def _floor_rise_mm(self) -> float:
        return 0.0 if self.level else self.descent_mm

    def _steady_rate_cm3_min(self) -> float:
        """Volume of a leg after the first over its time, end edges and flutes together."""
        leg, diameter = self.leg_travel_mm, self.cutter.diameter_mm
        volume = self.descent_mm * (diameter * leg + math.pi * self.cutter.radius_mm**2)
        return volume / 1000 / (leg / feed_rate(self))
