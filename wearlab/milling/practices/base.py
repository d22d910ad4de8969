"""What all practices share: refusal, passes, volume, time, what is left behind, exposure."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from dataclasses import dataclass
from itertools import pairwise
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal
from wearlab.milling.arrays import Floats, not_negative
from wearlab.milling.cut import Cut
from wearlab.milling.exposure import (
    AMOUNTS,
    EdgeExposure,
    Pace,
    ZoneExposure,
    Zones,
    check_zones,
    default_zones,
)
from wearlab.milling.kinematics import cutting_speed_m_min
from wearlab.milling.matching import Strength, cut_quantities
from wearlab.milling.practices.passes import Pass
from wearlab.milling.practices.setup import Cutter, Feature, Settings

_UNITS = np.array([1.0, 1e-3, 1.0, 1.0])
"""From the amounts of a pass (min, mm, mm3/mm, count) to those of the records (min, m, mm3/mm, count)."""


@dataclass(frozen=True, slots=True)
class Remains:
    """What a practice leaves behind.

    Attributes
    ----------
    volume_cm3 : float
        All that is left of the feature, worked out from its own geometry, not as a difference.
    wall_cusp_mm : float
        Height of the cusps on the walls.
    floor_rise_mm : float
        Difference of height along the floor: the slope that a ramp leaves.
    allowance_wall_mm, allowance_floor_mm : float
    """

    volume_cm3: float
    wall_cusp_mm: float
    floor_rise_mm: float
    allowance_wall_mm: float
    allowance_floor_mm: float


@dataclass(frozen=True, slots=True)
class EndExposure:
    """Exposure of the end edge of one tooth per cm3 of the feature, by radius (the last axis).

    Amounts as in `EdgeExposure`; the chip is per mm of edge along the radius.
    """

    radii_mm: Floats
    contact_time_min_cm3: Floats
    sliding_m_cm3: Floats
    chip_mm3_mm_cm3: Floats
    impacts_cm3: Floats


@dataclass(frozen=True, kw_only=True)
class Practice(ABC):
    """One way to make a feature with one end mill.

    Parameters
    ----------
    feature : Feature
    cutter : Cutter
    settings : Settings
    allowance_wall_mm, allowance_floor_mm : float
        Left on every wall and on the floor for a finishing cutter.
    """

    name: ClassVar[str]

    feature: Feature
    cutter: Cutter
    settings: Settings
    allowance_wall_mm: float = 0.0
    allowance_floor_mm: float = 0.0

    def __post_init__(self) -> None:
        not_negative("allowance_wall_mm", self.allowance_wall_mm)
        not_negative("allowance_floor_mm", self.allowance_floor_mm)

    # What a family has to say.

    @abstractmethod
    def _reasons(self) -> list[str]:
        """Reasons, in plain words, why the geometry forbids this practice."""

    @abstractmethod
    def _passes(self) -> list[Pass]:
        """The passes, when nothing forbids them."""

    @abstractmethod
    def main_cut(self) -> Cut | None:
        """The cut at constant depth and width that stands for the practice, None where there is none."""

    def _left_mm3(self) -> float:
        """Volume left inside what roughing was to take: cusps, a wedge."""
        return 0.0

    def _gone_mm3(self) -> float:
        """Volume that was gone before this practice began."""
        return 0.0

    def _cusp_mm(self) -> float:
        return 0.0

    def _floor_rise_mm(self) -> float:
        return 0.0

    # What all have alike.

    @property
    def rough(self) -> Feature:
        """The feature less its allowances."""
        return self.feature.roughed(self.allowance_wall_mm, self.allowance_floor_mm)

    def reasons(self) -> tuple[str, ...]:
        """Why this practice cannot make this feature with this cutter; empty when it can.

        The lengths of the flutes and of the overhang count where they are known.
        """
        found = self._reasons()
        flute, overhang = self.cutter.flute_length_mm, self.cutter.overhang_mm
        depth = self._deepest_mm()
        if flute is not None and depth > flute * (1 + 1e-9):
            found.append(f"the axial depth of {depth:g} mm exceeds the flute length of {flute:g} mm")
        if overhang is not None and self.feature.depth_mm > overhang * (1 + 1e-9):
            found.append(f"the depth of {self.feature.depth_mm:g} mm exceeds the overhang of {overhang:g} mm")
        return tuple(found)

    def passes(self) -> tuple[Pass, ...]:
        """The passes in order.

        Raises
        ------
        Refusal
            When the geometry forbids the practice; `found` says why.
        """
        reasons = self.reasons()
        if reasons:
            raise Refusal(
                "; ".join(reasons), where=self.name, hint="change the practice, the cutter or the feature"
            )
        return tuple(self._passes())

    @property
    def removed_cm3(self) -> float:
        """Volume removed, all tools."""
        return sum(group.volume_mm3 for group in self.passes()) / 1000

    @property
    def cutting_time_min(self) -> float:
        """Minutes of the end mill in the metal."""
        return sum(group.cutting_time_min for group in self._mill())

    @property
    def machine_time_min(self) -> float:
        """Minutes at feed speed and at rapid, all tools, with tool changes within the part."""
        groups = self.passes()
        tools = [group.tool for group in groups]
        changes = sum(a != b for a, b in pairwise(tools))
        moving = sum(g.feed_time_min + g.rapid_mm / self.settings.rapid_mm_min for g in groups)
        return moving + changes * self.settings.tool_change_min

    @property
    def removal_rate_cm3_min(self) -> float:
        """Removal rate of the end mill in its main passes, once in full cut."""
        self.passes()
        return self._steady_rate_cm3_min()

    @property
    def mean_chip_mm(self) -> float:
        """Mean undeformed chip of the end mill over all that its edges slide: volume over area rubbed."""
        groups = self._mill()
        rubbed = sum(group.rubbed_mm2() for group in groups) * self.cutter.teeth
        return sum(group.volume_mm3 for group in groups) / rubbed

    def remains(self) -> Remains:
        """What is left behind."""
        allowance = self.feature.volume_mm3 - self.rough.volume_mm3
        return Remains(
            (allowance + self._left_mm3()) / 1000,
            self._cusp_mm(),
            self._floor_rise_mm(),
            self.allowance_wall_mm,
            self.allowance_floor_mm,
        )

    def volume_gap_cm3(self) -> float:
        """Removed, left and gone before, less the feature: 0 but for rounding when the passes add up."""
        kept = self.remains().volume_cm3 + self._gone_mm3() / 1000
        return self.removed_cm3 + kept - self.feature.volume_cm3

    def edge_exposure(self, heights_mm: ArrayLike) -> EdgeExposure:
        """Exposure of the flute by height, per cm3 of the feature, one tooth, all passes.

        What another tool has taken away counts as volume and rubs nothing.
        """
        heights = np.atleast_1d(not_negative("heights_mm", heights_mm))
        total = self._per_cm3(sum(group.at_heights(heights) for group in self._mill()))
        return EdgeExposure(heights_mm=heights, **total, floor_cm2_cm3=self._floor(), pace=self._pace())

    def end_exposure(self, radii_mm: ArrayLike) -> EndExposure:
        """Exposure of the end edge by radius, per cm3 of the feature, one tooth, all passes."""
        radii = np.atleast_1d(not_negative("radii_mm", radii_mm))
        return EndExposure(
            radii_mm=radii, **self._per_cm3(sum(group.at_radii(radii) for group in self._mill()))
        )

    def zone_exposure(self, zones: Zones | None = None) -> ZoneExposure:
        """Mean exposure over zones, per cm3 of the feature, one tooth, all passes.

        The zone `end` runs over radii. The zone `corner` has the flute over its heights and, beyond that,
        what the end edge does at the corner itself.
        """
        zones = default_zones(self.cutter.diameter_mm) if zones is None else zones
        names, bounds = check_zones(zones)
        total = np.zeros((4, len(names)))
        for group in self._mill():
            total += self._over_zones(group, names, bounds)
        return ZoneExposure(
            zones=names,
            bounds_mm=bounds,
            **self._per_cm3(total),
            floor_cm2_cm3=self._floor(),
            pace=self._pace(),
        )

    def quantities(self, strength: Strength | None = None) -> dict[str, float]:
        """Numbers that a fair trial may want equal, for `matching.matched_conditions`.

        A practice without one constant depth and width has no engagement angle, teeth in contact or
        deflection: nan.
        """
        cut = self.main_cut()
        if cut is not None:
            numbers = cut_quantities(cut, strength)
        else:
            numbers = self._quantities_without_cut(strength or Strength())
        return numbers | {
            "volume_cm3": self.removed_cm3,
            "cutting_time_min": self.cutting_time_min,
            "machine_time_min": self.machine_time_min,
        }

    def _quantities_without_cut(self, strength: Strength) -> dict[str, float]:
        rate, chip = self.removal_rate_cm3_min, self.mean_chip_mm
        main = max(self._mill(), key=lambda group: group.volume_mm3)
        power = rate * strength.kc11_mpa * chip**-strength.mc / 6e4
        speed = float(cutting_speed_m_min(self.cutter.diameter_mm, self.settings.spindle_rpm))
        return {
            "cutting_speed_m_min": speed,
            "feed_per_tooth_mm": main.feed_rate_mm_min / self.cutter.teeth / self.settings.spindle_rpm,
            "feed_rate_mm_min": main.feed_rate_mm_min,
            "removal_rate_cm3_min": rate,
            "mean_chip_mm": chip,
            "max_chip_mm": self._max_chip_mm(),
            "engagement_angle_deg": math.nan,
            "teeth_in_contact": math.nan,
            "power_kw": power,
            "tip_deflection_um": math.nan,
        }

    def _steady_rate_cm3_min(self) -> float:
        cut = self.main_cut()
        assert cut is not None, "a practice without a main cut says its own rate"
        return cut.removal_rate_cm3_min

    def _max_chip_mm(self) -> float:
        return self.settings.feed_per_tooth_mm

    def _deepest_mm(self) -> float:
        """Greatest length of flute that is in the metal at once."""
        return self.rough.depth_mm

    def _mill(self) -> list[Pass]:
        return [group for group in self.passes() if group.tool == "mill"]

    def _over_zones(self, group: Pass, names: tuple[str, ...], bounds: Floats) -> Floats:
        amounts = group.over_zones(bounds)
        for at, name in enumerate(names):
            if name == "end":
                amounts[:, at] = group.over_radii(bounds[at : at + 1])[:, 0]
            elif name == "corner":
                amounts[:, at] += group.corner_extra(self.cutter.radius_mm)
        return amounts

    def _per_cm3(self, amounts: Floats | int) -> dict[str, Floats]:
        table = (np.asarray(amounts, dtype=np.float64).T * _UNITS).T / self.feature.volume_cm3
        return dict(zip(AMOUNTS, table, strict=True))

    def _floor(self) -> Floats:
        """cm2 of floor generated by the corner per cm3 of the feature."""
        return np.asarray(sum(group.floor_mm2 for group in self._mill()) / 100 / self.feature.volume_cm3)

    def _pace(self) -> Pace:
        volume = self.feature.volume_cm3
        travel = sum(group.travel_mm for group in self._mill())
        return Pace(
            np.asarray(volume / self.cutting_time_min), np.asarray(volume * 1000 / travel), np.asarray(volume)
        )
