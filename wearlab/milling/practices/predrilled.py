"""Predrilled: a row of drilled holes first, then the end mill takes what is left, by a slot, layers or
plunges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.arrays import Floats, engaged_width, positive
from wearlab.milling.cut import Cut
from wearlab.milling.matching import Strength
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import (
    arcs,
    cut_of,
    evenly,
    feed_rate,
    flank_pass,
    narrower_than_cutter,
    round_ended_slot,
)
from wearlab.milling.practices.passes import Pass
from wearlab.milling.practices.plunge import Plunge
from wearlab.milling.practices.row import plunge_row
from wearlab.milling.quadrature import ends_integral, integral

THEN = ("full_slot", "layered", "plunge")


def drilled_arc_share(drill_mm: ArrayLike, pitch_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Share of the arc of contact of a full slot that is left when holes are drilled along its middle.

    The mean arc is R times the integral over the half turn of 1 - f(R cos phi), with f(y) the share of the
    slot that the holes take at a distance y from the middle, 2 sqrt((d/2)^2 - y^2)/p.

    >>> round(float(drilled_arc_share(8, 8.5, 10)), 3)
    0.582
    """
    _, pitch = engaged_width(drill_mm, pitch_mm)
    return 1 - _chord_integral(drill_mm, diameter_mm) / (math.pi * pitch)


def drilled_volume_share(drill_mm: ArrayLike, pitch_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Share of the metal of a slot that the drill leaves: 1 - pi d^2/(4 D p).

    >>> round(float(drilled_volume_share(8, 8.5, 10)), 3)
    0.409
    """
    drill, pitch = engaged_width(drill_mm, pitch_mm)
    return 1 - math.pi * drill**2 / (4 * positive("diameter_mm", diameter_mm) * pitch)


def _chord_integral(drill_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Integral over the half turn of the chord that a hole has at the tooth, in mm."""
    drill, diameter = engaged_width(drill_mm, diameter_mm)
    half, radius = drill / 2, diameter / 2

    def chord(angle: Floats) -> Floats:
        # y = (d/2) sin(t) takes the corner out of the chord at the rim of the hole.
        sine, cosine = np.sin(angle), np.cos(angle)
        inner = np.sqrt(np.maximum(radius[..., None] ** 2 - (half[..., None] * sine) ** 2, 1e-300))
        return 2 * (half[..., None] * cosine) ** 2 / inner

    low = np.full(np.broadcast_shapes(drill.shape, diameter.shape), -math.pi / 2)
    return integral(chord, low, -low)


@dataclass(frozen=True, kw_only=True)
class Predrilled(Practice):
    """Holes drilled along the middle of the slot to full depth, then the end mill.

    Parameters
    ----------
    drill_mm, drill_pitch_mm : float
        Diameter of the holes, and their pitch (no less than the diameter: holes do not overlap).
    then : {"full_slot", "layered", "plunge"}
    layers : int
        For `layered`.
    pitch_mm : float
        For `plunge`.
    drill_feed_mm_min : float
        Feed speed of the drill.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Predrilled(
    ...     feature=Feature(10, 8, 119), cutter=Cutter(10, 4), settings=Settings(1910, 0.05),
    ...     drill_mm=8, drill_pitch_mm=8.5, drill_feed_mm_min=300,
    ... )
    >>> slot.edge_exposure([1.0]).sliding_m_cm3.round(2).tolist()
    [0.57]
    """

    name = "predrilled"

    drill_mm: float = 1.0
    drill_pitch_mm: float = 1.0
    drill_feed_mm_min: float = 100.0
    then: str = "full_slot"
    layers: int = 1
    pitch_mm: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        for name in ("drill_mm", "drill_pitch_mm", "drill_feed_mm_min", "layers"):
            positive(name, getattr(self, name))

    def holes_mm(self) -> Floats:
        """Positions of the holes along the slot."""
        length, radius = self.rough.length_mm, self.cutter.radius_mm
        if self.feature.ends == "closed":
            steps = math.floor((length - 2 * radius) / self.drill_pitch_mm + 1e-9)
            return evenly(radius, length - radius, steps + 1)
        count = math.floor(length / self.drill_pitch_mm + 1e-9)
        margin = (length - (count - 1) * self.drill_pitch_mm) / 2
        return evenly(margin, length - margin, count)

    def main_cut(self) -> Cut | None:
        """The slot or layer as if nothing had been drilled; None before plunges."""
        if self.then == "plunge":
            return None
        return cut_of(self, self._layer_mm(), self.rough.width_mm)

    def quantities(self, strength: Strength | None = None) -> dict[str, float]:
        """As for every practice, with the rate, chip and power of what the drill has left."""
        numbers = super().quantities(strength)
        rate, chip = self.removal_rate_cm3_min, self.mean_chip_mm
        power = rate * (strength or Strength()).kc11_mpa * chip ** -(strength or Strength()).mc / 6e4
        return numbers | {"removal_rate_cm3_min": rate, "mean_chip_mm": chip, "power_kw": power}

    def _layer_mm(self) -> float:
        return self.rough.depth_mm / (self.layers if self.then == "layered" else 1)

    def _deepest_mm(self) -> float:
        return 0.0 if self.then == "plunge" else self._layer_mm()

    def _reasons(self) -> list[str]:
        found = narrower_than_cutter(self) + round_ended_slot(self)
        if self.feature.ends == "open" and self.rough.width_mm > self.cutter.diameter_mm * (1 + 1e-9):
            found.append(f"the slot, {self.rough.width_mm:g} mm, is wider than the cutter")
        if self.drill_mm > min(self.drill_pitch_mm, self.cutter.diameter_mm) * (1 + 1e-9):
            found.append(
                f"holes of {self.drill_mm:g} mm exceed their pitch, {self.drill_pitch_mm:g} mm, or the cutter"
            )
        elif len(self.holes_mm()) == 0:
            found.append(f"a slot of {self.rough.length_mm:g} mm has no room for a hole at this pitch")
        if self.then not in THEN:
            found.append(f"no way to go on by {self.then!r}; known: {', '.join(THEN)}")
        return found + self._centre_reasons()

    def _centre_reasons(self) -> list[str]:
        core = self.cutter.idle_radius_mm
        needs_hole = self.feature.ends == "closed" or self.then == "plunge"
        if self.then == "plunge":
            return self._row()._centre_reasons() if self.drill_mm / 2 < core else []
        if needs_hole and self.drill_mm / 2 < core:
            return [
                f"a hole of {self.drill_mm:g} mm does not clear the core of a cutter that cannot cut at its centre"
            ]
        return []

    def _passes(self) -> list[Pass]:
        holes = self.holes_mm()
        if self.then == "plunge":
            return [self._drilling(holes), *self._plunges(holes)]
        return [self._drilling(holes), *self._milling(holes)]

    def _drilling(self, holes: Floats) -> Pass:
        depth = self.rough.depth_mm
        return Pass(
            kind="drilling",
            count=len(holes),
            axial_depth_mm=depth,
            radial_width_mm=math.nan,
            travel_mm=depth * len(holes),
            air_mm=self.settings.lift_mm * len(holes),
            rapid_mm=len(holes) * (depth + self.settings.lift_mm + self.drill_pitch_mm),
            feed_rate_mm_min=self.drill_feed_mm_min,
            volume_mm3=math.pi * self.drill_mm**2 / 4 * depth * len(holes),
            floor_mm2=0.0,
            tool="drill",
        )

    def _milling(self, holes: Floats) -> list[Pass]:
        """The slot or its layers; with closed ends after sinking over the first hole."""
        inside = self.feature.ends == "closed"
        depth, count = self._layer_mm(), round(self.rough.depth_mm / self._layer_mm())
        radius, width = self.cutter.radius_mm, self.rough.width_mm
        start = radius if inside else -radius
        length = self.rough.length_mm - (2 * radius if inside else 0.0)
        taken_arc, taken_area = self._taken(holes, start, start + length + (0.0 if inside else 2 * radius))
        area = width * length - taken_area
        solid = flank_pass(self, "slot between holes", count, depth, width, length, inside=inside)
        amounts = arcs(self, count * (math.pi * length - taken_arc), area * count, length * count)
        slot = replace(solid, volume_mm3=area * depth * count, full=amounts)
        if not inside:
            return [slot]
        drilled = len(holes) * math.pi * self.drill_mm**2 / 4
        ring = math.pi * radius**2 - (drilled - taken_area)
        entry = plunge_row(
            self, np.array([radius]), area_mm2=ring, drilled_mm=holes, drill_mm=self.drill_mm, kind="entry"
        )
        return [entry, slot]

    def _taken(self, holes: Floats, start: float, end: float) -> tuple[float, float]:
        """What the holes take off the arc summed along the feed, and off the area, of a slot whose axis goes
        from `start` to `end`.

        A tooth on the leading half of the circle meets only what lies ahead of where it starts.
        """
        radius, rim = self.cutter.radius_mm, self.drill_mm / 2

        def chord(angle: Floats) -> Floats:
            lead = radius * np.sin(angle)[..., None]
            half = np.sqrt(np.maximum(rim**2 - (radius * np.cos(angle)) ** 2, 0))[..., None]
            low, high = start + lead, end + lead
            return np.sum(np.clip(holes + half, low, high) - np.clip(holes - half, low, high), axis=-1)

        first = math.acos(min(rim / radius, 1.0))
        arc = ends_integral(chord, first, math.pi - first)
        return arc, ends_integral(lambda a: chord(a) * radius * np.sin(a), first, math.pi - first)

    def _row(self) -> Plunge:
        pitch = self.drill_pitch_mm if self.pitch_mm is None else self.pitch_mm
        return Plunge(
            feature=self.rough, cutter=self.cutter, settings=self.settings, pitch_mm=pitch, clean=False
        )

    def _plunges(self, holes: Floats) -> list[Pass]:
        row = self._row()
        centres = row.centres_mm()
        left = row._cusp_area_mm2(holes, self.drill_mm / 2)
        area = row.rough.plan_mm2 - left - len(holes) * math.pi * self.drill_mm**2 / 4
        return [plunge_row(self, centres, area_mm2=area, drilled_mm=holes, drill_mm=self.drill_mm)]

    def _left_mm3(self) -> float:
        if self.then != "plunge":
            return 0.0
        return self._row()._cusp_area_mm2(self.holes_mm(), self.drill_mm / 2) * self.rough.depth_mm

    def _cusp_mm(self) -> float:
        return self._row()._cusp_mm() if self.then == "plunge" else 0.0

    def _steady_rate_cm3_min(self) -> float:
        """What the end mill takes while it is fed through the drilled slot or row."""
        if self.then == "plunge":
            return self._row()._steady_rate_cm3_min()
        share = float(drilled_volume_share(self.drill_mm, self.drill_pitch_mm, self.cutter.diameter_mm))
        return share * self._layer_mm() * self.rough.width_mm * feed_rate(self) / 1000
