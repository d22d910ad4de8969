"""Plunge milling: full-depth plunges in a row, a pitch apart; layer cutting turned through a right angle."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.arrays import Floats, engaged_width, not_negative, positive
from wearlab.milling.cut import Cut
from wearlab.milling.engagement import scallop_mm
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import (
    arcs,
    axial_feed_mm,
    evenly,
    feed_rate,
    narrower_than_cutter,
    start_in_solid,
)
from wearlab.milling.practices.passes import Constant, Pass
from wearlab.milling.practices.row import covered, plunge_row
from wearlab.milling.quadrature import integral


def lens_mm2(pitch_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Area common to two discs of one diameter, a pitch apart: 2 R^2 arccos(p/2R) - (p/2) sqrt(4 R^2 - p^2).

    >>> round(float(lens_mm2(2, 10)), 3)
    58.674
    """
    pitch, diameter = engaged_width(pitch_mm, diameter_mm)
    radius = diameter / 2
    half = np.minimum(pitch / diameter, 1.0)
    return 2 * radius**2 * np.arccos(half) - pitch * radius * np.sqrt(1 - half**2)


def plunge_area_mm2(pitch_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Area A_p that one plunge of a row takes: the disc less what the neighbour has taken.

    >>> [round(float(plunge_area_mm2(p, 10)), 2) for p in (2, 4, 5)]
    [19.87, 38.91, 47.83]
    """
    pitch, diameter = engaged_width(pitch_mm, diameter_mm)
    return math.pi * diameter**2 / 4 - lens_mm2(pitch, diameter)


def plunge_engaged_angle(radius_mm: ArrayLike, pitch_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Angle of a turn in which a point of the end edge at a radius is in the metal, in a plunge next to
    another.

    2 arccos(clip((R^2 - r^2 - p^2)/(2 r p), -1, 1)); 0 for r < R - p, where the centre idles.

    >>> [round(float(np.degrees(plunge_engaged_angle(5, p, 10)))) for p in (2, 4, 5)]
    [203, 227, 240]
    """
    pitch, diameter = engaged_width(pitch_mm, diameter_mm)
    reach = not_negative("radius_mm", radius_mm)
    return 2 * (math.pi - covered(reach, pitch, diameter / 2))


@dataclass(frozen=True, kw_only=True)
class Plunge(Practice):
    """A row of plunges at full depth along the slot, a pitch apart.

    With closed ends the first plunge goes into solid metal and needs a cutter that cuts to its centre. With
    open ends the row starts and ends outside of the metal, and a cutter whose core is small enough needs no
    centre edges.

    Parameters
    ----------
    pitch_mm : float
        Greatest pitch; the row is spaced evenly.
    clean : bool
        Whether a full-depth pass along the slot takes the cusps off the walls.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Feature(10, 8, 120, ends="closed")
    >>> cutter, settings = Cutter(10, 4, centre_cutting=True), Settings(1910, 0.05, 0.05)
    >>> row = Plunge(feature=slot, cutter=cutter, settings=settings, pitch_mm=2)
    >>> round(row.removal_rate_cm3_min, 2), round(row.remains().wall_cusp_mm, 2)
    (7.59, 0.1)
    """

    name = "plunge"

    pitch_mm: float = 1.0
    clean: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("pitch_mm", self.pitch_mm)

    def main_cut(self) -> Cut | None:
        """None: a plunge has no radial width."""
        return None

    def centres_mm(self) -> Floats:
        """Positions of the plunges along the slot, from its start."""
        length, radius = self.rough.length_mm, self.cutter.radius_mm
        if self.feature.ends == "closed":
            steps = max(math.ceil((length - 2 * radius) / self.pitch_mm - 1e-9), 0)
            return evenly(radius, length - radius, steps + 1)
        steps = math.ceil((length + radius) / self.pitch_mm - 1e-9)
        return evenly(-radius, length, steps + 1)[1:]

    @property
    def even_pitch_mm(self) -> float:
        """Pitch of the evenly spaced row."""
        centres = self.centres_mm()
        return float(centres[1] - centres[0]) if len(centres) > 1 else self.pitch_mm

    def _reasons(self) -> list[str]:
        found = narrower_than_cutter(self)
        if self.rough.width_mm > self.cutter.diameter_mm * (1 + 1e-9):
            found.append(
                f"a row of plunges makes a slot as wide as the cutter, {self.cutter.diameter_mm:g} mm, "
                f"not {self.rough.width_mm:g} mm"
            )
        if self.pitch_mm > self.cutter.diameter_mm:
            found.append(
                f"a pitch of {self.pitch_mm:g} mm exceeds the diameter and leaves webs between the plunges"
            )
        return found + self._centre_reasons()

    def _centre_reasons(self) -> list[str]:
        if self.feature.ends == "closed":
            return start_in_solid(self, "the first plunge of a slot with closed ends goes into solid metal")
        idle = self.cutter.idle_radius_mm
        room = self.cutter.radius_mm - self.pitch_mm
        if room >= idle:
            return []
        return start_in_solid(
            self,
            f"a pitch of {self.pitch_mm:g} mm reaches to {max(room, 0):g} mm from the axis, inside the core",
        )

    def _deepest_mm(self) -> float:
        return self.rough.depth_mm if self.clean else 0.0

    def _passes(self) -> list[Pass]:
        holes = plunge_row(self, self.centres_mm(), area_mm2=self.rough.plan_mm2 - self._cusp_area_mm2())
        return [holes, self._cleaning()] if self.clean else [holes]

    def _cleaning(self) -> Pass:
        depth, radius = self.rough.depth_mm, self.cutter.radius_mm
        angles, gaps = self._gaps()
        arc = 2 * float(integral(gaps, 0.0, angles))
        area = self._cusp_area_mm2()
        travel = self.rough.length_mm - 2 * radius if self.feature.ends == "closed" else self.rough.length_mm
        return Pass(
            kind="cleaning of the walls",
            count=1,
            axial_depth_mm=depth,
            radial_width_mm=self._cusp_height_mm(),
            travel_mm=travel,
            air_mm=self.settings.overrun_mm,
            rapid_mm=self.rough.length_mm + 2 * self.settings.lift_mm,
            feed_rate_mm_min=feed_rate(self),
            volume_mm3=area * depth,
            floor_mm2=area,
            full=arcs(self, arc, area, travel),
            profile=Constant(depth),
        )

    def _gaps(
        self, holes: Floats | None = None, hole_radius: float = 0.0
    ) -> tuple[float, Callable[[Floats], Floats]]:
        """Greatest angle from the wall at which a cusp reaches, and the cusps' length along the slot by that
        angle.

        Holes that were drilled before shorten the cusps that they meet.
        """
        radius, centres = self.cutter.radius_mm, self.centres_mm()
        low, high = (
            (centres[0], centres[-1]) if self.feature.ends == "closed" else (0.0, self.rough.length_mm)
        )
        drilled = np.empty(0) if holes is None else holes

        def gaps(angle: Floats) -> Floats:
            half_chord = radius * np.sin(angle)[..., None]
            start = np.clip(centres[:-1] + half_chord, low, high)
            end = np.clip(centres[1:] - half_chord, low, high)
            rim = np.sqrt(np.maximum(hole_radius**2 - (radius * np.cos(angle)) ** 2, 0))[..., None]
            left = np.maximum(end - start, 0)
            for hole in drilled:
                left = left - np.maximum(np.minimum(end, hole + rim) - np.maximum(start, hole - rim), 0)
            return np.sum(left, axis=-1)

        return math.asin(min(self.even_pitch_mm / (2 * radius), 1.0)), gaps

    def _cusp_area_mm2(self, holes: Floats | None = None, hole_radius: float = 0.0) -> float:
        if len(self.centres_mm()) < 2:
            return 0.0
        angle, gaps = self._gaps(holes, hole_radius)
        radius = self.cutter.radius_mm
        return 2 * float(integral(lambda a: gaps(a) * radius * np.sin(a), 0.0, angle))

    def _cusp_height_mm(self) -> float:
        if len(self.centres_mm()) < 2:
            return 0.0
        return float(scallop_mm(self.even_pitch_mm, self.cutter.diameter_mm))

    def _left_mm3(self) -> float:
        return 0.0 if self.clean else self._cusp_area_mm2() * self.rough.depth_mm

    def _cusp_mm(self) -> float:
        return 0.0 if self.clean else self._cusp_height_mm()

    def _steady_rate_cm3_min(self) -> float:
        rate = axial_feed_mm(self) * self.cutter.teeth * self.settings.spindle_rpm
        return float(plunge_area_mm2(self.even_pitch_mm, self.cutter.diameter_mm)) * rate / 1000

    def _max_chip_mm(self) -> float:
        return axial_feed_mm(self)
