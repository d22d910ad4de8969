"""Side passes: full depth, a narrow radial width at a time."""

from __future__ import annotations

from dataclasses import dataclass

from wearlab.milling.arrays import positive
from wearlab.milling.cut import Cut
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import cut_of, flank_pass, narrower_than_cutter
from wearlab.milling.practices.passes import Pass


@dataclass(frozen=True, kw_only=True)
class Side(Practice):
    """Side passes of equal width at full depth.

    Needs a side that is open, or a slot wider than the cutter: there the first pass is a full slot and the
    side passes share the rest.

    Parameters
    ----------
    steps : int
        Number of side passes.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> step = Feature(10, 8, 120, sides="one")
    >>> side = Side(feature=step, cutter=Cutter(10, 4), settings=Settings(1910, 0.05), steps=4)
    >>> round(side.removal_rate_cm3_min, 2), round(side.cutting_time_min, 3)
    (7.64, 1.302)
    """

    name = "side"

    steps: int = 1

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("steps", self.steps)

    @property
    def radial_width_mm(self) -> float:
        """Width of one side pass."""
        return self._side_mm() / self.steps

    def main_cut(self) -> Cut:
        """One side pass."""
        return cut_of(self, self.rough.depth_mm, self.radial_width_mm)

    def _side_mm(self) -> float:
        opened = self.cutter.diameter_mm if self.feature.sides == "closed" else 0.0
        return self.rough.width_mm - opened

    def _reasons(self) -> list[str]:
        found = narrower_than_cutter(self)
        if self.feature.ends == "closed":
            found.append("side passes run out at the ends, and the ends are closed")
        if self.feature.sides == "closed" and self._side_mm() <= 1e-9:
            found.append(
                f"a slot of {self.rough.width_mm:g} mm leaves a cutter of {self.cutter.diameter_mm:g} mm no room for "
                "side passes: they need an open side, or a slot wider than the cutter"
            )
        elif self.radial_width_mm > self.cutter.diameter_mm * (1 + 1e-9):
            found.append(
                f"{self.steps} side passes of {self.radial_width_mm:g} mm are wider than the cutter, "
                f"{self.cutter.diameter_mm:g} mm"
            )
        return found

    def _passes(self) -> list[Pass]:
        depth, length = self.rough.depth_mm, self.rough.length_mm
        sides = flank_pass(self, "side pass", self.steps, depth, self.radial_width_mm, length)
        if self.feature.sides != "closed":
            return [sides]
        return [flank_pass(self, "opening slot", 1, depth, self.cutter.diameter_mm, length), sides]
