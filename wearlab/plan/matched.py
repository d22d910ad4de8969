"""Practices, feature and cutter -> settings under a matching rule; what stays unmatched is said.

Speed is always held equal, and one more quantity by the rule. The others follow from the geometry and cannot all be
equal: they are compared one by one and listed.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from wearlab.core.errors import Refusal, WearlabError
from wearlab.core.tables import plain
from wearlab.core.units import MM_PER_INCH
from wearlab.milling.exposure import default_zones, predicted_band
from wearlab.milling.kinematics import feed_rate_mm_min, spindle_rpm
from wearlab.milling.matching import Comparison, matched_conditions
from wearlab.milling.practices import PRACTICES, Settings
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import axial_feed_mm
from wearlab.plan.request import PracticeRequest, Request

QUANTITY = {
    "feed_per_tooth": "feed_per_tooth_mm",
    "removal_rate": "removal_rate_cm3_min",
    "mean_chip": "mean_chip_mm",
    "max_chip": "max_chip_mm",
    "power": "power_kw",
}
"""What each rule holds equal."""
PLUNGING = ("plunge", "predrilled", "helical")
"""Practices that feed along the axis."""
WIDEST = 50.0
"""A feed is looked for within this factor of the standard's."""
THIN_CHIP_MM = 0.01
"""A mean chip below this is of the size of the edge's own radius (carbide 0.005 to 0.02 mm; common practice)."""
LONG_OVERHANG = 4.0
"""Overhang over diameter beyond which carbide gives trouble (common practice, no source)."""


@dataclass(frozen=True)
class Arm:
    """One practice with the settings that it is to run at.

    Attributes
    ----------
    name, kind : str
        Word of the log, and the practice that it is.
    practice : Practice
        Feature, cutter and settings.
    spindle_rpm, feed_rate_mm_min : float
        As they are to be programmed: whole numbers (three figures where they are small).
    feed_per_tooth_mm : float
        What those give.
    expected_life_min : float or None
        In the metal.
    life_from : str
        Where that comes from: stated, exposure (of the standard's, by edge exposure), speed (of the practice's, by
        Taylor's equation), or empty.
    """

    name: str
    kind: str
    practice: Practice
    cutting_speed_m_min: float
    spindle_rpm: float
    feed_per_tooth_mm: float
    feed_rate_mm_min: float
    expected_life_min: float | None
    life_from: str = ""

    @cached_property
    def minutes_a_part(self) -> float:
        """Minutes in the metal, one part."""
        return self.practice.cutting_time_min

    @cached_property
    def part_cm3(self) -> float:
        """Volume that one part gives away."""
        return self.practice.removed_cm3

    def facts(self) -> dict[str, Any]:
        """The arm's columns of the log."""
        cut = self.practice.main_cut()
        found: dict[str, Any] = {
            "strategy": self.name,
            "cutting_speed_m_min": self.cutting_speed_m_min,
            "spindle_rpm": self.spindle_rpm,
            "feed_per_tooth_mm": round(self.feed_per_tooth_mm, 5),
            "feed_rate_mm_min": self.feed_rate_mm_min,
        }
        if cut is not None:
            found |= {
                "axial_depth_mm": round(cut.axial_depth_mm, 4),
                "radial_width_mm": round(cut.radial_width_mm, 4),
            }
        return found | self._of_this_kind()

    def _of_this_kind(self) -> dict[str, Any]:
        options = {
            "plunge_pitch_mm": getattr(self.practice, "pitch_mm", None),
            "plunge_feed_per_tooth_mm": round(axial_feed_mm(self.practice), 5)
            if self.kind in PLUNGING
            else None,
            "drill_diameter_mm": getattr(self.practice, "drill_mm", None),
            "drill_pitch_mm": getattr(self.practice, "drill_pitch_mm", None),
            "ramp_angle_deg": getattr(self.practice, "angle_deg", None),
            "passes": getattr(self.practice, "layers", None) or getattr(self.practice, "steps", None),
            "allowance_wall_mm": self.practice.allowance_wall_mm or None,
            "allowance_floor_mm": self.practice.allowance_floor_mm or None,
        }
        return {name: cell for name, cell in options.items() if cell is not None}


@dataclass(frozen=True)
class Fair:
    """One practice beside the standard.

    Attributes
    ----------
    a, b : str
        Practice and standard.
    comparisons : tuple of Comparison
        Quantity by quantity; a ratio is a over b.
    predicted : dict of str to (float, float)
        Band in which the ratio of wear growth a/b per minute should lie, zone by zone, if the land grows with contact
        time, sliding or chip.
    """

    a: str
    b: str
    comparisons: tuple[Comparison, ...]
    predicted: dict[str, tuple[float, float]]

    def named(self, equal: bool | None) -> tuple[str, ...]:
        """Quantities that are equal (True), are not (False), or one of the two does not have (None)."""
        return tuple(one.quantity for one in self.comparisons if one.equal is equal)

    def rows(self, equal: bool | None) -> list[dict[str, Any]]:
        """JSON-ready rows of those quantities."""
        return [
            plain(
                {
                    "a": self.a,
                    "b": self.b,
                    "quantity": one.quantity,
                    "value_a": one.a,
                    "value_b": one.b,
                    "ratio": one.ratio,
                }
            )
            for one in self.comparisons
            if one.equal is equal
        ]


@dataclass(frozen=True)
class MatchedPlan:
    """Arms of a trial and how they compare; the first arm is the one that the others are matched to."""

    rule: str
    arms: tuple[Arm, ...]
    fair: tuple[Fair, ...]
    doubts: tuple[str, ...]

    def arm(self, name: str) -> Arm:
        """The arm of a practice."""
        return next(one for one in self.arms if one.name == name)


def match_practices(request: Request) -> MatchedPlan:
    """Settings for every practice of a request.

    Parameters
    ----------
    request : Request

    Raises
    ------
    Refusal
        The geometry forbids a practice, or no feed meets the rule; every practice that fails is named.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> found = match_practices(request_of(tomllib.loads(EXAMPLE)))
    >>> found.fair[0].named(False)
    ('mean_chip_mm', 'max_chip_mm', 'engagement_angle_deg', 'teeth_in_contact', 'power_kw', 'tip_deflection_um')
    """
    rpm = float(spindle_rpm(request.cutter.diameter_mm, request.cutting_speed_m_min))
    reference = _practice(
        request, request.reference, Settings(rpm, request.feed_per_tooth_mm, request.plunge_feed_per_tooth_mm)
    )
    _refuse_impossible(request, reference.settings)
    wanted = reference.quantities()[QUANTITY[request.rule]]
    ordered = [request.reference, *(one for one in request.practices if one is not request.reference)]
    arms = [_arm(request, one, rpm, wanted) for one in ordered]
    fair = tuple(_fair(request, one, arms[0]) for one in arms[1:])
    arms[1:] = [_with_life(arm, arms[0], one) for arm, one in zip(arms[1:], fair, strict=True)]
    return MatchedPlan(request.rule, tuple(arms), fair, _doubts(request, tuple(arms)))


def _with_life(arm: Arm, standard: Arm, fair: Fair) -> Arm:
    """An arm without a stated life takes the standard's over the ratio of growth that edge exposure predicts."""
    bands = [band for band in fair.predicted.values() if 0 < band[0] <= band[1] < math.inf]
    if arm.expected_life_min is not None or standard.expected_life_min is None or not bands:
        return arm
    worst = max(math.sqrt(low * high) for low, high in bands)
    return replace(arm, expected_life_min=standard.expected_life_min / worst, life_from="exposure")


def at_speed(request: Request, arm: Arm, cutting_speed_m_min: float) -> Arm:
    """The same practice at another cutting speed: feed per tooth stays, life follows Taylor's equation as guessed."""
    rpm = float(spindle_rpm(request.cutter.diameter_mm, cutting_speed_m_min))
    life = arm.expected_life_min
    if life is not None:
        life *= (cutting_speed_m_min / arm.cutting_speed_m_min) ** (-1.0 / request.scatter.taylor_n)
    one = next(practice for practice in request.practices if practice.name == arm.name)
    settings = Settings(rpm, arm.feed_per_tooth_mm, arm.practice.settings.axial_feed_per_tooth_mm)
    made = _programmed(request, one, _practice(request, one, settings), cutting_speed_m_min, life)
    return replace(made, life_from="speed" if life is not None else "")


def zones_of(request: Request, arms: tuple[Arm, ...]) -> dict[str, tuple[float, float]]:
    """Zones in mm: those of the request, else the usual ones with a boundary on the layer line."""
    if request.zones:
        return dict(sorted(request.zones.items(), key=lambda item: item[1]))
    depth = request.feature.depth_mm
    layers = [
        cut.axial_depth_mm
        for arm in arms
        if (cut := arm.practice.main_cut()) and cut.axial_depth_mm < 0.99 * depth
    ]
    corner = 0.04 * request.cutter.diameter_mm
    layer = min(layers) if layers and corner < min(layers) else None
    if layer is None and not corner < 0.2 * request.cutter.diameter_mm <= depth:
        return {"corner": (0.0, min(corner, depth / 2)), "lower": (min(corner, depth / 2), depth)}
    found = default_zones(request.cutter.diameter_mm, layer, depth)
    return {name: limits for name, limits in found.items() if name != "end"}


def _practice(request: Request, one: PracticeRequest, settings: Settings) -> Practice:
    return PRACTICES[one.kind](
        feature=request.feature, cutter=request.cutter, settings=settings, **one.options
    )


def _refuse_impossible(request: Request, settings: Settings) -> None:
    """All that the geometry forbids, in one message."""
    found = [
        f"{one.name}: {'; '.join(reasons)}"
        for one in request.practices
        if (reasons := _practice(request, one, settings).reasons())
    ]
    if found:
        raise Refusal(
            " | ".join(found),
            where="matched conditions",
            hint="take that practice out, or change cutter or feature",
        )


def _arm(request: Request, one: PracticeRequest, rpm: float, wanted: float) -> Arm:
    feed, plunge = request.feed_per_tooth_mm, request.plunge_feed_per_tooth_mm

    def at(factor: float) -> Practice:
        return _practice(
            request, one, Settings(rpm, feed * factor, None if plunge is None else plunge * factor)
        )

    factor = 1.0
    if one is not request.reference and request.rule != "feed_per_tooth":
        factor = _factor(lambda x: at(x).quantities()[QUANTITY[request.rule]], wanted, one.name, request.rule)
    return _programmed(request, one, at(factor), request.cutting_speed_m_min, one.expected_life_min)


def _factor(quantity: Callable[[float], float], wanted: float, name: str, rule: str) -> float:
    """Factor on the feeds at which a quantity takes the wanted value."""
    from scipy.optimize import brentq

    def gap(log_factor: float) -> float:
        return quantity(math.exp(log_factor)) / wanted - 1.0

    ends = (-math.log(WIDEST), math.log(WIDEST))
    gaps = [gap(end) for end in ends]
    if not all(map(math.isfinite, gaps)) or gaps[0] * gaps[1] > 0:
        raise Refusal(
            f"{name}: no feed within {WIDEST:g} times the standard's has the same {rule}",
            where="matched conditions",
            hint="another rule under [match]",
        )
    return math.exp(float(brentq(gap, *ends, xtol=1e-13)))


def _programmed(
    request: Request, one: PracticeRequest, exact: Practice, speed: float, life: float | None
) -> Arm:
    """Round to what is typed into a control, and work the practice out again from that."""
    teeth = request.cutter.teeth
    rpm = round(exact.settings.spindle_rpm)
    rate = float(feed_rate_mm_min(exact.settings.feed_per_tooth_mm, teeth, rpm))
    if request.units == "inch":
        rate = float(f"{float(f'{rate / MM_PER_INCH:.3g}') * MM_PER_INCH:.8g}")  # 14.6 in/min is what is typed
    else:
        rate = float(round(rate)) if rate >= 100 else float(f"{rate:.3g}")
    feed = rate / (teeth * rpm)
    plunge = exact.settings.axial_feed_per_tooth_mm
    practice = _practice(request, one, Settings(rpm, feed, plunge))
    stated = "" if life is None else "stated"
    return Arm(one.name, one.kind, practice, speed, float(rpm), feed, rate, life, stated)


def _fair(request: Request, arm: Arm, standard: Arm) -> Fair:
    found = matched_conditions(arm.practice.quantities(), standard.practice.quantities())
    bands: dict[str, tuple[float, float]] = {}
    zones = zones_of(request, (standard, arm))
    try:
        band = predicted_band(
            arm.practice.zone_exposure(zones), standard.practice.zone_exposure(zones), "min"
        )
        bands = {name: (float(band.of(name)[0]), float(band.of(name)[1])) for name in zones}
    except WearlabError:  # a practice that says nothing of its exposure has no band
        bands = {}
    return Fair(arm.name, standard.name, found.comparisons, bands)


def _doubts(request: Request, arms: tuple[Arm, ...]) -> tuple[str, ...]:
    """What is possible and still asks for a second look."""
    found, inch = [], request.units == "inch"
    for arm in arms:
        chip = arm.practice.quantities()["mean_chip_mm"]
        if chip < THIN_CHIP_MM:
            size = f"{chip / MM_PER_INCH:.5f} in" if inch else f"{chip:.4f} mm"
            found.append(
                f"{arm.name}: the mean chip of {size} is of the size of the edge's own radius; it may rub"
            )
    overhang, diameter = request.cutter.overhang_mm, request.cutter.diameter_mm
    if overhang is not None and overhang > LONG_OVERHANG * diameter:
        found.append(f"an overhang of {overhang / diameter:.1f} diameters: deflection may decide the trial")
    runout = request.cutter_facts.get("runout_um")
    if runout is not None and runout > 100 * request.feed_per_tooth_mm:
        size = f"{runout / MM_PER_INCH:.3g} thou" if inch else f"{runout:g} um"
        found.append(
            f"a runout of {size} is over a tenth of the feed per tooth: the high tooth decides the life"
        )
    return tuple(found)
