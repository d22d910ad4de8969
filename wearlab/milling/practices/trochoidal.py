"""Trochoidal slot: circular loops of the axis, each a step further, in a slot wider than the cutter.

The loops sweep a disc as wide as the slot that moves on by the step; what each takes is a crescent. The
engagement of the cutter within a loop follows from where its circle leaves the last loop's disc (derived).
The step itself is made behind, in the air.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearlab.milling.arrays import Floats, positive
from wearlab.milling.cut import Cut
from wearlab.milling.engagement import scallop_mm
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import arcs, feed_rate, narrower_than_cutter, start_in_solid
from wearlab.milling.practices.helical import helical_passes
from wearlab.milling.practices.passes import Constant, Pass
from wearlab.milling.practices.plunge import plunge_area_mm2
from wearlab.milling.quadrature import ends_integral


@dataclass(frozen=True, slots=True)
class Loop:
    """One loop of a trochoidal slot, seen from above.

    Attributes
    ----------
    area_mm2 : float
        Area of the crescent.
    arc_mm : float
        Engagement angle summed along the path of the axis.
    cutting_mm, travel_mm : float
        Path in the metal, and in all with the step.
    peak_angle : float
        Greatest engagement angle in rad.
    max_chip_share : float
        Greatest chip over the feed per tooth.
    """

    area_mm2: float
    arc_mm: float
    cutting_mm: float
    travel_mm: float
    peak_angle: float
    max_chip_share: float


def trochoidal_loop(slot_mm: float, diameter_mm: float, step_mm: float) -> Loop:
    """Engagement of one loop in steady progress.

    Parameters
    ----------
    slot_mm, diameter_mm, step_mm : float
        Width of the slot, cutter, step between loops (no more than the cutter's diameter).

    >>> loop = trochoidal_loop(16, 10, 1)
    >>> round(loop.area_mm2, 2), round(float(np.degrees(loop.peak_angle)))
    (15.99, 60)
    """
    orbit, radius = (slot_mm - diameter_mm) / 2, diameter_mm / 2
    limit = math.acos(-step_mm / (2 * orbit)) if step_mm < 2 * orbit else math.pi

    def arc(angle: Floats) -> Floats:
        start, end = engaged_arc(angle, orbit, radius, step_mm)
        return end - start

    dense = np.linspace(-limit, limit, 4001)
    start, end = engaged_arc(dense, orbit, radius, step_mm)
    chip = np.where(
        (start <= math.pi / 2) & (end >= math.pi / 2), 1.0, np.maximum(np.sin(start), np.sin(end))
    )
    return Loop(
        area_mm2=float(plunge_area_mm2(step_mm, slot_mm)),
        arc_mm=ends_integral(arc, -limit, limit, 400) * orbit,
        cutting_mm=2 * limit * orbit,
        travel_mm=2 * math.pi * orbit + step_mm,
        peak_angle=float(np.max(end - start)),
        max_chip_share=float(np.max(np.where(end > start, chip, 0))),
    )


def engaged_arc(angle: Floats, orbit: float, radius: float, step: float) -> tuple[Floats, Floats]:
    """Where the arc of contact begins and ends, counted ahead from the outward direction, at an angle of the
    loop.

    The axis stands at `orbit` in the direction `angle` from the loop's centre; the last loop's centre is a
    step behind. A point of the cutter is in the metal when it lies ahead and outside of the last loop's disc.
    """
    along = orbit * np.cos(angle) + step
    across = orbit * np.sin(angle)
    distance = np.hypot(along, across)
    # Direction in which the cutter reaches furthest out of the old disc, counted from the outward direction.
    ahead = np.arctan2(across, along) - angle
    ahead = (ahead + math.pi) % (2 * math.pi) - math.pi
    cosine = ((orbit + radius) ** 2 - distance**2 - radius**2) / (2 * distance * radius)
    half = np.arccos(np.clip(cosine, -1, 1))
    start = np.clip(ahead - half, 0, math.pi)
    return start, np.maximum(np.clip(ahead + half, 0, math.pi), start)


@dataclass(frozen=True, kw_only=True)
class Trochoidal(Practice):
    """Trochoidal slot at full depth.

    With closed ends the cutter bores its way in by a helix as wide as the slot.

    Parameters
    ----------
    step_mm : float
        Greatest step between loops; they are spaced evenly.
    entry_angle_deg : float
        Angle of the helix, for closed ends.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Trochoidal(feature=Feature(16, 8, 120), cutter=Cutter(10, 4), settings=Settings(1910, 0.05), step_mm=1)
    >>> round(slot.remains().wall_cusp_mm, 4)
    0.0156
    """

    name = "trochoidal"

    step_mm: float = 1.0
    entry_angle_deg: float = 3.0

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("step_mm", self.step_mm)

    @property
    def loops(self) -> int:
        """Number of loops."""
        return math.ceil(self._advance_mm() / self.step_mm - 1e-9)

    @property
    def even_step_mm(self) -> float:
        """Step of the evenly spaced loops."""
        return self._advance_mm() / self.loops

    def main_cut(self) -> Cut | None:
        """None: the width changes all the time."""
        return None

    def loop(self) -> Loop:
        """One loop in steady progress."""
        return trochoidal_loop(self.rough.width_mm, self.cutter.diameter_mm, self.even_step_mm)

    def _advance_mm(self) -> float:
        """How far the loops' centre moves: from outside of an open end, or from the bore."""
        width, length = self.rough.width_mm, self.rough.length_mm
        return length + width / 2 if self.feature.ends == "open" else length - width

    def _reasons(self) -> list[str]:
        width, diameter = self.rough.width_mm, self.cutter.diameter_mm
        found = narrower_than_cutter(self)
        if self.feature.sides != "closed":
            found.append("a trochoidal path makes a slot, and the sides are not closed")
        if not found and width <= diameter * (1 + 1e-9):
            found.append(f"a slot of {width:g} mm leaves a cutter of {diameter:g} mm no room to circle")
        if self.step_mm > diameter:
            found.append(
                f"a step of {self.step_mm:g} mm exceeds the cutter, {diameter:g} mm, and leaves metal between loops"
            )
        if self.feature.ends == "closed":
            found += self._entry_reasons()
        return found

    def _entry_reasons(self) -> list[str]:
        width, diameter = self.rough.width_mm, self.cutter.diameter_mm
        found = start_in_solid(self, "the helix into a slot with closed ends starts in solid metal")
        if width > 2 * diameter * (1 + 1e-9):
            found.append(
                f"a bore of {width:g} mm is more than twice the cutter, {diameter:g} mm: a core would stay"
            )
        if self._advance_mm() <= 1e-9:
            found.append("the slot is no longer than it is wide: a helix makes it")
        return found

    def _passes(self) -> list[Pass]:
        entry = self._entry() if self.feature.ends == "closed" else []
        return [*entry, self._loops()]

    def _entry(self) -> list[Pass]:
        path = self.rough.width_mm / 2 - self.cutter.radius_mm
        depth = self.rough.depth_mm
        most = 2 * math.pi * path * math.tan(math.radians(self.entry_angle_deg))
        orbits = math.ceil(depth / most - 1e-9)
        return helical_passes(self, orbits, depth / orbits, path, level=True)

    def _loops(self) -> Pass:
        loop, depth = self.loop(), self.rough.depth_mm
        plan = self._plan_mm2()
        # The first and last loops of an open slot cut less than a whole crescent: all goes by area.
        whole = plan / loop.area_mm2
        cutting = whole * loop.cutting_mm
        return Pass(
            kind="loop",
            count=self.loops,
            axial_depth_mm=depth,
            radial_width_mm=math.nan,
            travel_mm=cutting,
            air_mm=self.loops * loop.travel_mm - cutting,
            rapid_mm=0.0,
            feed_rate_mm_min=feed_rate(self),
            volume_mm3=plan * depth,
            floor_mm2=plan,
            full=arcs(self, whole * loop.arc_mm, plan, cutting),
            profile=Constant(depth),
        )

    def _plan_mm2(self) -> float:
        """Area that the loops take: that of the slot less cusps, and less the bore where there is one."""
        if self.feature.ends == "open":
            return self.rough.plan_mm2 - self._cusp_area_mm2()
        return self.loops * float(plunge_area_mm2(self.even_step_mm, self.rough.width_mm))

    def _cusp_area_mm2(self) -> float:
        """Area left in the cusps along both walls."""
        step, width = self.even_step_mm, self.rough.width_mm
        each = width * step - float(plunge_area_mm2(step, width))
        length = self.rough.length_mm if self.feature.ends == "open" else self._advance_mm()
        return each * length / step

    def _left_mm3(self) -> float:
        return self._cusp_area_mm2() * self.rough.depth_mm

    def _cusp_mm(self) -> float:
        return float(scallop_mm(self.even_step_mm, self.rough.width_mm))

    def _steady_rate_cm3_min(self) -> float:
        """Volume of a loop over the time of the whole loop, air and step with it."""
        loop = self.loop()
        return loop.area_mm2 * self.rough.depth_mm / 1000 / (loop.travel_mm / feed_rate(self))

    def _max_chip_mm(self) -> float:
        return self.loop().max_chip_share * self.settings.feed_per_tooth_mm
