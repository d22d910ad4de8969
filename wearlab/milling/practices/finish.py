"""Finishing passes: the floor's allowance over the width, then the walls' at full depth."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import not_negative, positive
from wearlab.milling.cut import Cut
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import (
    arcs,
    cut_of,
    feed_rate,
    flank_pass,
    plunge_entry,
    splits,
    start_in_solid,
)
from wearlab.milling.practices.passes import Constant, Pass


def inside_arc_angle(allowance_mm: float, wall_radius_mm: float, diameter_mm: float) -> float:
    """Engagement angle on the inside of a round wall: larger than along a straight one.

    The cutter's circle leaves the metal where it crosses the circle of radius R_w - a about the wall's
    centre.

    >>> round(math.degrees(inside_arc_angle(0.3, 7, 10))), round(math.degrees(inside_arc_angle(0.3, 1e6, 10)))
    (37, 20)
    """
    radius = float(positive("diameter_mm", diameter_mm)) / 2
    path = wall_radius_mm - radius
    if path <= 0:
        raise ArgumentError(
            f"wall radius {wall_radius_mm:g} mm, cutter {diameter_mm:g} mm",
            where="wall_radius_mm",
            allowed="more than the cutter's radius",
        )
    # 2 sin^2(angle/2) rather than 1 - cos(angle) keeps the digits of a shallow cut on a large radius.
    half = allowance_mm * (2 * wall_radius_mm - allowance_mm) / (4 * path * radius)
    return 2 * math.asin(math.sqrt(min(half, 1.0)))


@dataclass(frozen=True, kw_only=True)
class Finish(Practice):
    """What the finishing cutter takes from a feature that roughing left with allowances.

    `feature` is the finished feature; the allowances of this practice are what it removes, and it leaves
    none.

    Parameters
    ----------
    stock_wall_mm, stock_floor_mm : float
        Allowances that roughing left.
    wall_passes : int
        Passes that share the wall's allowance.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Feature(10.6, 8, 120)
    >>> walls = Finish(feature=slot, cutter=Cutter(10, 4), settings=Settings(1910, 0.05), stock_wall_mm=0.3)
    >>> per_part = walls.edge_exposure([1.0, 7.0]).per("parts")["sliding_m"]
    >>> per_part.round(2).tolist()
    [2.09, 2.09]
    """

    name = "finish"

    stock_wall_mm: float = 0.0
    stock_floor_mm: float = 0.0
    wall_passes: int = 1

    def __post_init__(self) -> None:
        super().__post_init__()
        not_negative("stock_wall_mm", self.stock_wall_mm)
        not_negative("stock_floor_mm", self.stock_floor_mm)
        positive("wall_passes", self.wall_passes)
        if self.stock_wall_mm == 0 and self.stock_floor_mm == 0:
            raise ArgumentError(
                "no allowance on wall or floor", where="finish", allowed="one of them above 0"
            )
        self.feature.roughed(self.stock_wall_mm, self.stock_floor_mm)

    def main_cut(self) -> Cut:
        """A wall pass; the floor pass where there is none."""
        if self.stock_wall_mm > 0:
            return cut_of(self, self.feature.depth_mm, self.stock_wall_mm / self.wall_passes)
        return cut_of(self, self.stock_floor_mm, self._floor_widths()[0])

    def _reasons(self) -> list[str]:
        width, diameter = self.feature.width_mm, self.cutter.diameter_mm
        found = []
        fits = width - 2 * self.stock_wall_mm
        if self.feature.sides == "closed" and fits < diameter * (1 - 1e-9):
            found.append(f"a cutter of {diameter:g} mm does not enter the roughed slot of {fits:g} mm")
        if self.stock_wall_mm > 0 and self.feature.walls == 0:
            found.append("a feature with open sides has no wall to finish")
        if self.stock_wall_mm / self.wall_passes > diameter:
            found.append("the allowance of a wall pass exceeds the cutter")
        if self.feature.ends == "closed" and self.stock_floor_mm > 0:
            found += start_in_solid(
                self, "the floor of a feature with closed ends starts with a plunge into its allowance"
            )
        return found

    def _deepest_mm(self) -> float:
        return self.feature.depth_mm if self.stock_wall_mm > 0 else self.stock_floor_mm

    def _floor_widths(self) -> tuple[float, ...]:
        width = self.feature.width_mm - self.feature.walls * self.stock_wall_mm
        diameter = self.cutter.diameter_mm
        if self.feature.sides == "closed" and width > diameter:
            return (diameter, *splits(width - diameter, diameter))
        return splits(width, diameter)

    def _passes(self) -> list[Pass]:
        groups = self._floor_passes() if self.stock_floor_mm > 0 else []
        return groups + self._wall_passes() if self.stock_wall_mm > 0 else groups

    def _floor_passes(self) -> list[Pass]:
        depth, length = self.stock_floor_mm, self.feature.length_mm
        if self.feature.ends == "open":
            return [flank_pass(self, "floor pass", 1, depth, width, length) for width in self._floor_widths()]
        if self._floor_as_wide_as_cutter():
            travel = length - self.feature.width_mm
            entry = plunge_entry(self, depth=depth, count=1)
            return [
                entry,
                flank_pass(self, "floor pass", 1, depth, self.cutter.diameter_mm, travel, inside=True),
            ]
        return [self._wide_round_floor()]

    def _floor_as_wide_as_cutter(self) -> bool:
        width = self.feature.width_mm - 2 * self.stock_wall_mm
        return math.isclose(width, self.cutter.diameter_mm, rel_tol=1e-9)

    def _wide_round_floor(self) -> Pass:
        """The floor of a pocket with round ends, by area: as if swept at the cutter's full width, which is
        approximate (a path that overlaps itself engages less, its corners more).
        """
        inner = self.feature.roughed(self.stock_wall_mm, self.stock_floor_mm)
        width = self._floor_widths()[0]
        length = inner.plan_mm2 / width
        return flank_pass(self, "floor pass", 1, self.stock_floor_mm, width, length, inside=True)

    def _wall_passes(self) -> list[Pass]:
        step, depth = self.stock_wall_mm / self.wall_passes, self.feature.depth_mm
        if self.feature.ends == "open":
            count = self.feature.walls * self.wall_passes
            return [flank_pass(self, "wall pass", count, depth, step, self.feature.length_mm)]
        return [self._round_wall(taken, step) for taken in np.arange(self.wall_passes) * step]

    def _round_wall(self, taken: float, step: float) -> Pass:
        """Once round a slot with closed ends, when `taken` has gone before: two straights and two half
        circles.
        """
        wall = self.feature.width_mm / 2 - self.stock_wall_mm + taken + step
        straight = 2 * (self.feature.length_mm - self.feature.width_mm)
        path = wall - self.cutter.radius_mm
        bend = 2 * math.pi * path
        angle = float(np.arccos(1 - step / self.cutter.radius_mm))
        arc = straight * angle + bend * inside_arc_angle(step, wall, self.cutter.diameter_mm)
        plan = straight * step + math.pi * (wall**2 - (wall - step) ** 2)
        travel = straight + bend
        return Pass(
            kind="wall pass",
            count=1,
            axial_depth_mm=self.feature.depth_mm,
            radial_width_mm=step,
            travel_mm=travel,
            air_mm=self.settings.overrun_mm,
            rapid_mm=2 * self.settings.lift_mm,
            feed_rate_mm_min=feed_rate(self),
            volume_mm3=plan * self.feature.depth_mm,
            floor_mm2=plan,
            full=arcs(self, arc, plan, travel),
            profile=Constant(self.feature.depth_mm),
        )

    def _gone_mm3(self) -> float:
        return self.feature.roughed(self.stock_wall_mm, self.stock_floor_mm).volume_mm3
