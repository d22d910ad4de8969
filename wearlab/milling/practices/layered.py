"""Layers: shallow passes over the full width; and the full slot, which is one layer as deep as the slot."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.milling.arrays import positive
from wearlab.milling.cut import Cut
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import (
    cut_of,
    flank_pass,
    narrower_than_cutter,
    plunge_entry,
    round_ended_slot,
    splits,
    start_in_solid,
)
from wearlab.milling.practices.passes import Pass


@dataclass(frozen=True, kw_only=True)
class Layered(Practice):
    """Layers of equal depth over the full width.

    A slot wider than the cutter takes, in each layer, one pass of the cutter's diameter and equal side steps
    for the rest; a step or a face takes equal steps. With closed ends the cutter plunges at the start of each
    layer.

    Parameters
    ----------
    layers : int
        Number of layers.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = Layered(feature=Feature(10, 8, 120), cutter=Cutter(10, 4), settings=Settings(1910, 0.05), layers=4)
    >>> round(slot.removal_rate_cm3_min, 2), round(slot.cutting_time_min, 3)
    (7.64, 1.309)
    """

    name = "layered"

    layers: int = 1

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("layers", self.layers)

    @property
    def axial_depth_mm(self) -> float:
        """Depth of one layer."""
        return self.rough.depth_mm / self.layers

    def widths_mm(self) -> tuple[float, ...]:
        """Radial width of each pass within a layer."""
        width, diameter = self.rough.width_mm, self.cutter.diameter_mm
        if self.feature.sides == "closed" and width > diameter:
            return (diameter, *splits(width - diameter, diameter))
        return splits(width, diameter)

    def main_cut(self) -> Cut:
        """The widest pass of a layer."""
        return cut_of(self, self.axial_depth_mm, max(self.widths_mm()))

    def _reasons(self) -> list[str]:
        found = narrower_than_cutter(self)
        if self.feature.ends == "closed":
            found += round_ended_slot(self)
            found += start_in_solid(
                self, "each layer in a slot with closed ends starts with a plunge into solid metal"
            )
        return found

    def _deepest_mm(self) -> float:
        return self.axial_depth_mm

    def _passes(self) -> list[Pass]:
        depth = self.axial_depth_mm
        if self.feature.ends == "closed":
            travel = self.rough.length_mm - self.cutter.diameter_mm
            entry = plunge_entry(self, depth=depth, count=self.layers)
            return [
                entry,
                flank_pass(self, "layer", self.layers, depth, self.rough.width_mm, travel, inside=True),
            ]
        kinds = ["layer"] + ["side step"] * (len(self.widths_mm()) - 1)
        return [
            flank_pass(self, kind, self.layers, depth, width, self.rough.length_mm)
            for kind, width in zip(kinds, self.widths_mm(), strict=True)
        ]


@dataclass(frozen=True, kw_only=True)
class FullSlot(Practice):
    """One pass at full depth over the full width.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> slot = FullSlot(feature=Feature(10, 8, 120), cutter=Cutter(10, 4), settings=Settings(1910, 0.05))
    >>> round(slot.removal_rate_cm3_min, 2)
    30.56
    """

    name = "full_slot"

    def _as_layer(self) -> Layered:
        return Layered(
            feature=self.feature,
            cutter=self.cutter,
            settings=self.settings,
            allowance_wall_mm=self.allowance_wall_mm,
            allowance_floor_mm=self.allowance_floor_mm,
            layers=1,
        )

    def main_cut(self) -> Cut:
        """The one pass."""
        return self._as_layer().main_cut()

    def _reasons(self) -> list[str]:
        found = self._as_layer()._reasons()
        if not math.isclose(self.rough.width_mm, self.cutter.diameter_mm, rel_tol=1e-6):
            found.append(
                f"a full slot is as wide as the cutter: {self.rough.width_mm:g} mm to cut, "
                f"cutter {self.cutter.diameter_mm:g} mm"
            )
        return found

    def _passes(self) -> list[Pass]:
        return self._as_layer()._passes()
