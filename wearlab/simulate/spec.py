"""What a simulated trial is made of: the shop, the practices, the arms, the gauges, and the truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.simulate.land import LandCurve, check_curve

Cells = tuple[tuple[str, str | float | int], ...]
"""Log columns that are the same in every row, with their cell."""


@dataclass(frozen=True, slots=True)
class Zone:
    """A zone of the edge, mm above the end face."""

    name: str
    from_mm: float
    to_mm: float


@dataclass(frozen=True, slots=True)
class Practice:
    """One way of taking the feature, and the true life of each zone of the edge under it.

    Attributes
    ----------
    strategy : str
        Word of the log's column.
    axial_depth_mm, radial_width_mm, passes, direction :
        How the feature is taken.
    life_min : tuple of float
        Median life of each zone (in the order of the trial's zones) at the reference speed, in minutes, to
        the limit of the land curve; infinity where the zone never touches metal.
    """

    strategy: str
    axial_depth_mm: float
    radial_width_mm: float
    passes: int
    direction: str
    life_min: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Arm:
    """Cutters that run one practice at one speed, one cutter a block.

    Attributes
    ----------
    strategy : str
        The practice.
    cutting_speed_m_min : float
    cutters : int
    first_block : int
        Block of the first cutter; the others follow one by one.
    planned_life_min : float
        The shop's guess, from which the looks are planned.
    zones : tuple of str
        Zones that are read.
    witness : bool
        Whether witness slots are cut and measured.
    """

    strategy: str
    cutting_speed_m_min: float
    cutters: int
    first_block: int
    planned_life_min: float
    zones: tuple[str, ...]
    witness: bool = False


@dataclass(frozen=True, slots=True)
class PlannedEnd:
    """An end that has nothing to do with wear: cutter `cutter` (from 1) of arm `arm` (from 0) at look `look`.

    It takes place unless the cutter is worn out before.
    """

    arm: int
    cutter: int
    look: int
    reason: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Gauges:
    """Errors of measurement: standard deviations in mm, resolution in mm.

    Attributes
    ----------
    land_mm : float
        Of one land reading.
    set_up_mm : float
        Shared by all readings of one look at one cutter.
    unseen_mm : float
        A land no wider than this is not seen and written as 0.
    wall_mm, width_mm, hang_up_mm : float
        Of one wall deviation, one slot width, one hang-up height.
    pin_tolerance_mm : float
        A pin is larger than its mark by anything up to this.
    resolution_mm : float
        To which lands, walls and widths are read.
    """

    land_mm: float = 0.008
    set_up_mm: float = 0.004
    unseen_mm: float = 0.005
    wall_mm: float = 0.002
    width_mm: float = 0.002
    hang_up_mm: float = 0.05
    pin_tolerance_mm: float = 0.00254
    resolution_mm: float = 0.001


@dataclass(frozen=True, slots=True)
class Truth:
    """What is true of every cutter.

    Life of a zone: ln T = ln(median at the reference speed) - (1/n) ln(v/v0) + sigma z_cutter + block z_block
    (+ zone scatter, but for the zone of the stop rule, whose life is exactly lognormal with sigma and block).

    Attributes
    ----------
    n : float
        Exponent of the tool-life equation V T^n = C.
    reference_speed_m_min : float
    sigma : float
        Standard deviation of ln life between cutters.
    zone_scatter, block_scatter : float
        Of ln life between the zones of a cutter, and between blocks.
    flute_scatter : float
        Of the flutes' lands about their mean, as a part of it; the flutes of a cutter always average out.
    curve : LandCurve
    stop_zone : str
        Zone whose flute-mean land, as read, ends a cutter when it reaches the curve's limit.
    """

    n: float = 0.25
    reference_speed_m_min: float = 70.0
    sigma: float = 0.20
    zone_scatter: float = 0.03
    block_scatter: float = 0.0
    flute_scatter: float = 0.08
    curve: LandCurve = field(default_factory=LandCurve)
    stop_zone: str = "lower"


@dataclass(frozen=True, slots=True)
class Witness:
    """A witness slot, finished at full depth by the same cutter, and how it is measured.

    Attributes
    ----------
    width_mm, depth_mm : float
        Nominal.
    deflection_left_mm, deflection_right_mm : float
        Metal left on each wall by a new cutter, at every height.
    transition_mm : float
        Height below a zone's upper end over which its land runs into that of the next zone.
    heights_mm, pins_mm : tuple of float
        Where width and walls are measured; the marks of the pins.
    pin_class : str
    """

    width_mm: float = 12.6
    depth_mm: float = 9.0
    deflection_left_mm: float = 0.006
    deflection_right_mm: float = 0.004
    transition_mm: float = 0.2
    heights_mm: tuple[float, ...] = (0.5, 2.0, 4.0, 6.0, 8.5)
    pins_mm: tuple[float, ...] = (12.50, 12.54, 12.57)
    pin_class: str = "Z"


@dataclass(frozen=True, slots=True)
class Shop:
    """The invented shop: its cutter, its part, and the cells that are the same in the whole log.

    Attributes
    ----------
    diameter_mm, teeth, relief_deg, rake_deg, feed_per_tooth_mm : float
    width_mm, depth_mm, length_mm : float
        What one part takes away.
    cells : tuple of (str, cell)
        Further columns of the log.
    operators : tuple of str
        Initials.
    first_day : str
        ISO date of the first run; one run a working day.
    """

    diameter_mm: float
    teeth: int
    relief_deg: float
    rake_deg: float
    feed_per_tooth_mm: float
    width_mm: float
    depth_mm: float
    length_mm: float
    cells: Cells
    operators: tuple[str, ...] = ("A.B.", "C.D.")
    first_day: str = "2026-03-02"

    @property
    def part_cm3(self) -> float:
        """Volume of one part."""
        return self.width_mm * self.depth_mm * self.length_mm / 1000


@dataclass(frozen=True, slots=True)
class TrialSpec:
    """A whole trial to simulate. Ask `dataclasses.replace` for a variant.

    Attributes
    ----------
    name : str
        Goes into the log's column `trial`.
    shop, zones, practices, arms, truth, gauges, witness :
        See the records of this file.
    looks : tuple of float
        Planned looks as parts of the planned life; rounded to whole parts.
    ends : tuple of PlannedEnd
    """

    name: str
    shop: Shop
    zones: tuple[Zone, ...]
    practices: tuple[Practice, ...]
    arms: tuple[Arm, ...]
    looks: tuple[float, ...]
    truth: Truth = field(default_factory=Truth)
    gauges: Gauges = field(default_factory=Gauges)
    witness: Witness = field(default_factory=Witness)
    ends: tuple[PlannedEnd, ...] = ()

    def practice(self, strategy: str) -> Practice:
        """The practice of that name."""
        return next(practice for practice in self.practices if practice.strategy == strategy)

    def zone_index(self, name: str) -> int:
        """Position of a zone."""
        return [zone.name for zone in self.zones].index(name)

    def rpm(self, cutting_speed_m_min: float) -> float:
        """Rotational frequency, rev/min."""
        return 1000 * cutting_speed_m_min / (math.pi * self.shop.diameter_mm)

    def minutes_a_part(self, arm: Arm) -> float:
        """Cutting time of one part; approach and overrun are left out."""
        practice, shop = self.practice(arm.strategy), self.shop
        feed_rate = shop.feed_per_tooth_mm * shop.teeth * self.rpm(arm.cutting_speed_m_min)
        return 1000 * shop.part_cm3 / (practice.axial_depth_mm * practice.radial_width_mm * feed_rate)

    def median_life_min(self, strategy: str, zone: str, cutting_speed_m_min: float | None = None) -> float:
        """True median life of a zone, to the limit of the land curve."""
        truth = self.truth
        ratio = (cutting_speed_m_min or truth.reference_speed_m_min) / truth.reference_speed_m_min
        return self.practice(strategy).life_min[self.zone_index(zone)] * ratio ** (-1 / truth.n)


def check_spec(spec: TrialSpec) -> None:
    """Raise unless the parts of a specification fit together.

    Raises
    ------
    ArgumentError
        Names the part that does not.
    """
    check_curve(spec.truth.curve)
    _check_zones(spec)
    _check_arms(spec)
    if spec.looks[0] <= 0 or any(b <= a for a, b in pairwise(spec.looks)):
        raise ArgumentError(f"looks {spec.looks}", where="looks", allowed="rising, above 0")
    for end in spec.ends:
        if not (0 <= end.arm < len(spec.arms) and 1 <= end.cutter <= spec.arms[end.arm].cutters):
            raise ArgumentError(
                f"cutter {end.cutter} of arm {end.arm}", where="ends", allowed="a cutter that runs"
            )
        if not 1 <= end.look <= len(spec.looks):
            raise ArgumentError(f"look {end.look}", where="ends", allowed=f"1 to {len(spec.looks)}")


def _check_zones(spec: TrialSpec) -> None:
    names = [zone.name for zone in spec.zones]
    if any(b.from_mm != a.to_mm for a, b in pairwise(spec.zones)) or any(
        z.to_mm <= z.from_mm for z in spec.zones
    ):
        raise ArgumentError(f"zones {names}", where="zones", allowed="each beginning where the last one ends")
    if spec.truth.stop_zone not in names:
        raise ArgumentError(f"stop zone {spec.truth.stop_zone!r}", where="truth", allowed=", ".join(names))
    for practice in spec.practices:
        if len(practice.life_min) != len(names) or min(practice.life_min) <= 0:
            raise ArgumentError(
                f"lives {practice.life_min}",
                where=f"practice {practice.strategy}",
                allowed="one above 0 a zone",
            )


def _check_arms(spec: TrialSpec) -> None:
    known, names = [practice.strategy for practice in spec.practices], {zone.name for zone in spec.zones}
    for arm in spec.arms:
        if arm.strategy not in known:
            raise ArgumentError(
                f"practice {arm.strategy!r}",
                where="arms",
                allowed=", ".join(known),
                hint=nearest(arm.strategy, known),
            )
        if spec.truth.stop_zone not in arm.zones or not set(arm.zones) <= names:
            raise ArgumentError(
                f"zones {arm.zones}",
                where=f"arm {arm.strategy}",
                allowed=f"known zones, with {spec.truth.stop_zone}",
            )
        if arm.cutters < 1 or arm.first_block < 1 or arm.planned_life_min <= 0:
            raise ArgumentError(
                f"arm {arm.strategy}", where="arms", allowed="cutters, block and planned life above 0"
            )
