"""What every practice starts from: the feature, the cutter and the settings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import not_negative, positive

SIDES = ("open", "one", "closed")
ENDS = ("open", "closed")


@dataclass(frozen=True, slots=True)
class Feature:
    """What one part has taken away.

    Parameters
    ----------
    width_mm, depth_mm, length_mm : float
        W, H and L.
    sides : {"closed", "one", "open"}
        Walls along the length: two (a slot), one (a step), none.
    ends : {"open", "closed"}
        Whether the cutter can run out at both ends. Closed ends are full round, of radius W/2; a feature as
        long as it is wide is then a round hole.

    Raises
    ------
    ArgumentError
        When a size is not above 0, or closed ends do not go with the rest.

    >>> round(Feature(10, 8, 120).volume_mm3)
    9600
    """

    width_mm: float
    depth_mm: float
    length_mm: float
    sides: str = "closed"
    ends: str = "open"

    def __post_init__(self) -> None:
        for name in ("width_mm", "depth_mm", "length_mm"):
            positive(name, getattr(self, name))
        if self.sides not in SIDES:
            raise ArgumentError(f"sides {self.sides!r}", where="sides", allowed=", ".join(SIDES))
        if self.ends not in ENDS:
            raise ArgumentError(f"ends {self.ends!r}", where="ends", allowed=", ".join(ENDS))
        if self.ends == "closed" and (self.sides != "closed" or self.length_mm < self.width_mm):
            raise ArgumentError(
                f"closed ends on a feature with sides {self.sides!r}, {self.length_mm:g} mm long and "
                f"{self.width_mm:g} mm wide",
                where="ends",
                allowed="closed ends with closed sides and a length no less than the width",
            )

    @property
    def walls(self) -> int:
        """Number of walls along the length."""
        return {"open": 0, "one": 1, "closed": 2}[self.sides]

    @property
    def plan_mm2(self) -> float:
        """Area seen from above."""
        if self.ends == "open":
            return self.width_mm * self.length_mm
        return self.width_mm * (self.length_mm - self.width_mm) + math.pi * self.width_mm**2 / 4

    @property
    def volume_mm3(self) -> float:
        """Volume of the feature."""
        return self.plan_mm2 * self.depth_mm

    @property
    def volume_cm3(self) -> float:
        """Volume of the feature."""
        return self.volume_mm3 / 1000

    def roughed(self, allowance_wall_mm: float, allowance_floor_mm: float) -> Feature:
        """What roughing takes away when it leaves these allowances on every wall and on the floor.

        Raises
        ------
        ArgumentError
            When the allowances leave nothing to rough.
        """
        ends = 2 if self.ends == "closed" else 0
        width = self.width_mm - self.walls * allowance_wall_mm
        length = self.length_mm - ends * allowance_wall_mm
        depth = self.depth_mm - allowance_floor_mm
        if min(width, length, depth) <= 0:
            raise ArgumentError(
                f"allowances {allowance_wall_mm:g} and {allowance_floor_mm:g} mm in a feature of "
                f"{self.width_mm:g} by {self.depth_mm:g} mm",
                where="allowance",
                allowed="less than the feature",
            )
        return replace(self, width_mm=width, length_mm=length, depth_mm=depth)


@dataclass(frozen=True, slots=True)
class Cutter:
    """The end mill.

    Parameters
    ----------
    diameter_mm, teeth, helix_deg : float
    flute_length_mm, overhang_mm : float, optional
        Unknown lengths forbid nothing.
    centre_cutting : bool, optional
        Whether the end edges reach the axis; unknown is taken as no where a practice needs it.
    core_mm : float
        Diameter about the axis that cannot cut when the cutter is not centre cutting.
    """

    diameter_mm: float
    teeth: int
    helix_deg: float = 30.0
    flute_length_mm: float | None = None
    overhang_mm: float | None = None
    centre_cutting: bool | None = None
    core_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("diameter_mm", "teeth"):
            positive(name, getattr(self, name))
        for name in ("flute_length_mm", "overhang_mm"):
            if getattr(self, name) is not None:
                positive(name, getattr(self, name))
        if self.core_mm is not None and not 0 < self.core_mm < self.diameter_mm:
            raise ArgumentError(f"{self.core_mm:g}", where="core_mm", allowed="between 0 and the diameter")

    @property
    def radius_mm(self) -> float:
        """R."""
        return self.diameter_mm / 2

    @property
    def idle_radius_mm(self) -> float:
        """Radius about the axis that cannot cut: 0 for a centre-cutting end.

        Without a stated core, a third of the diameter is taken (common practice, no source).
        """
        if self.centre_cutting:
            return 0.0
        return (self.diameter_mm / 3 if self.core_mm is None else self.core_mm) / 2


@dataclass(frozen=True, slots=True)
class Settings:
    """Speeds, feeds and how the machine moves between passes.

    Parameters
    ----------
    spindle_rpm, feed_per_tooth_mm : float
        n and fz.
    axial_feed_per_tooth_mm : float, optional
        Feed per tooth along the axis, for plunging.
    overrun_mm : float
        Fed past the end of each pass, out of the metal.
    rapid_mm_min, lift_mm : float
        Rapid rate, and height above the part for rapid moves.
    both_ways : bool
        Cut on the way back too (climb one way, conventional the other); otherwise the cutter returns at
        rapid.
    tool_change_min : float
        Time to change from one tool to the next within a part.
    """

    spindle_rpm: float
    feed_per_tooth_mm: float
    axial_feed_per_tooth_mm: float | None = None
    overrun_mm: float = 0.0
    rapid_mm_min: float = 10_000.0
    lift_mm: float = 2.0
    both_ways: bool = False
    tool_change_min: float = 0.1

    def __post_init__(self) -> None:
        for name in ("spindle_rpm", "feed_per_tooth_mm", "rapid_mm_min"):
            positive(name, getattr(self, name))
        for name in ("overrun_mm", "lift_mm", "tool_change_min"):
            not_negative(name, getattr(self, name))
        if self.axial_feed_per_tooth_mm is not None:
            positive("axial_feed_per_tooth_mm", self.axial_feed_per_tooth_mm)
