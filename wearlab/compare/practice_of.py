"""The practice that a cutter's row of facts describes: a whole practice where the feature is recorded and fits, else
the one cut at constant depth and width.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal, WearlabError
from wearlab.milling.cut import Cut
from wearlab.milling.exposure import EdgeExposure, ZoneExposure, Zones, edge_exposure, zone_exposure
from wearlab.milling.matching import Strength, cut_quantities
from wearlab.milling.practices import (
    PRACTICES,
    Cutter,
    Feature,
    FullSlot,
    Helical,
    Layered,
    Plunge,
    Practice,
    Predrilled,
    Ramp,
    Settings,
    Side,
    Trochoidal,
)

FIT = 0.05
"""Share by which passes may miss the feature and still make it."""
PLAIN = ("layered", "side", "full_slot", "finish")
"""Practices of which depth and width of the cut say all that exposure per volume needs."""
NEEDED = ("diameter_mm", "teeth", "spindle_rpm", "feed_per_tooth_mm")


@dataclass(frozen=True)
class PlainCut:
    """One cut at constant depth and width, with no feature around it.

    Attributes
    ----------
    cut : Cut
    volume_cm3 : float
        Of one part; NaN where no part is meant.
    """

    cut: Cut
    volume_cm3: float = math.nan
    name = "cut"

    @property
    def removal_rate_cm3_min(self) -> float:
        """Removal rate."""
        return self.cut.removal_rate_cm3_min

    def main_cut(self) -> Cut:
        """The cut itself."""
        return self.cut

    def edge_exposure(self, heights_mm: ArrayLike) -> EdgeExposure:
        """Exposure by height, per cm3."""
        return edge_exposure(*self._conditions(), heights_mm, volume_cm3=self.volume_cm3)

    def zone_exposure(self, zones: Zones | None = None) -> ZoneExposure:
        """Exposure by zone, per cm3."""
        return zone_exposure(*self._conditions(), zones, volume_cm3=self.volume_cm3)

    def quantities(self, strength: Strength | None = None) -> dict[str, float]:
        """What a fair trial may want equal."""
        return cut_quantities(self.cut, strength)

    def _conditions(self) -> tuple[float, float, float, int, float, float]:
        cut = self.cut
        return (
            cut.axial_depth_mm,
            cut.radial_width_mm,
            cut.feed_per_tooth_mm,
            cut.teeth,
            cut.diameter_mm,
            cut.spindle_rpm,
        )


@dataclass(frozen=True)
class Described:
    """What a row of facts describes.

    Attributes
    ----------
    practice : Practice or PlainCut
    assumed : tuple of str
        What was taken for granted.
    """

    practice: Practice | PlainCut
    assumed: tuple[str, ...]


def practice_of(facts: Mapping[str, Any]) -> Described:
    """The practice of one cutter.

    Parameters
    ----------
    facts : mapping
        Columns of the log, as in a row of `Trial.facts`; what is missing or NaN is not known.

    Raises
    ------
    Refusal
        Diameter, teeth, speed or feed is not recorded, or what this practice needs beyond them; or the geometry forbids
        it.

    Examples
    --------
    >>> facts = {"strategy": "layered", "diameter_mm": 12.0, "teeth": 4, "spindle_rpm": 1857.0, "axial_depth_mm": 3.0,
    ...          "radial_width_mm": 12.0, "feed_per_tooth_mm": 0.05}
    >>> round(practice_of(facts).practice.removal_rate_cm3_min, 2)
    13.37
    """
    lacking = [name for name in NEEDED if not _known(facts, name)]
    if lacking:
        raise Refusal(f"not recorded: {', '.join(lacking)}", where="edge exposure")
    word = _text(facts, "strategy")
    kind = PRACTICES.get(word)
    feature, assumed = _feature(facts)
    if kind is None or word == "finish":
        named = f"“{word}”" if word else "a practice without a name"
        return _plain(facts, [f"{named} is taken as one cut at constant depth and width"] if kind is None else [])
    if feature is None:
        if word in PLAIN:
            return _plain(facts, [])
        raise Refusal("the size of the feature is not recorded", where=f"edge exposure, {word}")
    try:
        made = kind(
            feature=feature,
            cutter=_cutter(facts),
            settings=_settings(facts),
            allowance_wall_mm=_or(facts, "allowance_wall_mm", 0.0),
            allowance_floor_mm=_or(facts, "allowance_floor_mm", 0.0),
            **OPTIONS[word](facts, feature),
        )
        made.passes()
    except WearlabError as problem:
        if word not in PLAIN:
            raise Refusal(problem.found, where=f"edge exposure, {word}") from None
        return _plain(facts, [f"the feature and its passes do not fit together ({problem.found})"])
    return Described(made, tuple(assumed))


def _plain(facts: Mapping[str, Any], assumed: list[str]) -> Described:
    lacking = [name for name in ("axial_depth_mm", "radial_width_mm") if not _known(facts, name)]
    if lacking:
        raise Refusal(f"not recorded: {', '.join(lacking)}", where="edge exposure")
    cut = Cut(
        float(facts["diameter_mm"]),
        int(facts["teeth"]),
        float(facts["spindle_rpm"]),
        float(facts["feed_per_tooth_mm"]),
        float(facts["axial_depth_mm"]),
        float(facts["radial_width_mm"]),
        helix_deg=_or(facts, "helix_deg", 30.0),
        overhang_mm=_or_none(facts, "overhang_mm"),
    )
    sizes = [_or(facts, name, math.nan) for name in ("feature_width_mm", "feature_depth_mm", "feature_length_mm")]
    return Described(PlainCut(cut, math.prod(sizes) / 1000), tuple(assumed))


def _feature(facts: Mapping[str, Any]) -> tuple[Feature | None, list[str]]:
    sizes = [_or_none(facts, name) for name in ("feature_width_mm", "feature_depth_mm", "feature_length_mm")]
    if None in sizes:
        return None, []
    sides = _text(facts, "feature_sides")
    assumed = ["the ends of the feature are taken as open"]
    if not sides:
        sides = "one" if _text(facts, "strategy") == "side" else "closed"
        assumed.append(f"the sides of the feature are taken as {sides}")
    width, depth, length = (float(size) for size in sizes if size is not None)
    return Feature(width, depth, length, sides), assumed


def _cutter(facts: Mapping[str, Any]) -> Cutter:
    centre = _text(facts, "centre_cutting")
    return Cutter(
        float(facts["diameter_mm"]),
        int(facts["teeth"]),
        helix_deg=_or(facts, "helix_deg", 30.0),
        flute_length_mm=_or_none(facts, "flute_length_mm"),
        overhang_mm=_or_none(facts, "overhang_mm"),
        centre_cutting={"yes": True, "no": False}.get(centre),
    )


def _settings(facts: Mapping[str, Any]) -> Settings:
    plunge = _or_none(facts, "plunge_feed_per_tooth_mm")
    return Settings(float(facts["spindle_rpm"]), float(facts["feed_per_tooth_mm"]), plunge)


def _layered(facts: Mapping[str, Any], feature: Feature) -> dict[str, Any]:
    depth = feature.depth_mm - _or(facts, "allowance_floor_mm", 0.0)
    return {"layers": _count(depth, _need(facts, "axial_depth_mm"), "layers", "deep")}


def _side(facts: Mapping[str, Any], feature: Feature) -> dict[str, Any]:
    opened = float(facts["diameter_mm"]) if feature.sides == "closed" else 0.0
    width = feature.width_mm - feature.walls * _or(facts, "allowance_wall_mm", 0.0) - opened
    _same(feature.depth_mm - _or(facts, "allowance_floor_mm", 0.0), _need(facts, "axial_depth_mm"), "axial depth")
    return {"steps": _count(width, _need(facts, "radial_width_mm"), "side passes", "wide")}


def _full_slot(facts: Mapping[str, Any], feature: Feature) -> dict[str, Any]:
    _same(feature.depth_mm - _or(facts, "allowance_floor_mm", 0.0), _need(facts, "axial_depth_mm"), "axial depth")
    return {}


def _predrilled(facts: Mapping[str, Any], feature: Feature) -> dict[str, Any]:
    options = {"drill_mm": _need(facts, "drill_diameter_mm"), "drill_pitch_mm": _need(facts, "drill_pitch_mm")}
    depth = _or(facts, "axial_depth_mm", feature.depth_mm)
    layers = _count(feature.depth_mm - _or(facts, "allowance_floor_mm", 0.0), depth, "layers", "deep")
    return options | ({"then": "layered", "layers": layers} if layers > 1 else {})


OPTIONS: dict[str, Callable[[Mapping[str, Any], Feature], dict[str, Any]]] = {
    Layered.name: _layered,
    Side.name: _side,
    FullSlot.name: _full_slot,
    Plunge.name: lambda facts, _: {"pitch_mm": _need(facts, "plunge_pitch_mm")},
    Predrilled.name: _predrilled,
    Ramp.name: lambda facts, _: {"angle_deg": _need(facts, "ramp_angle_deg")},
    Helical.name: lambda facts, _: {"angle_deg": _need(facts, "ramp_angle_deg")},
    Trochoidal.name: lambda facts, _: {"step_mm": _need(facts, "radial_width_mm")},
}
"""What each practice needs beyond feature, cutter and settings, from the columns of the log."""


def _count(whole: float, each: float, what: str, how: str) -> int:
    """How many passes of one size make the whole."""
    count = max(round(whole / each), 1)
    if abs(count * each - whole) > FIT * whole:
        raise Refusal(f"{count} {what} {each:g} mm {how} do not make {whole:g} mm", where="edge exposure")
    return count


def _same(whole: float, value: float, what: str) -> None:
    if abs(whole - value) > FIT * whole:
        raise Refusal(f"an {what} of {value:g} mm in a feature of {whole:g} mm", where="edge exposure")


def _known(facts: Mapping[str, Any], name: str) -> bool:
    value = facts.get(name)
    return value is not None and value != "" and bool(value == value)


def _need(facts: Mapping[str, Any], name: str) -> float:
    if not _known(facts, name):
        raise Refusal(f"not recorded: {name}", where="edge exposure")
    return float(facts[name])


def _or(facts: Mapping[str, Any], name: str, default: float) -> float:
    return float(facts[name]) if _known(facts, name) else default


def _or_none(facts: Mapping[str, Any], name: str) -> float | None:
    return float(facts[name]) if _known(facts, name) else None


def _text(facts: Mapping[str, Any], name: str) -> str:
    return str(facts[name]) if _known(facts, name) else ""


def heights_to(depth_mm: float, lines_mm: list[float], count: int = 161) -> np.ndarray:
    """Heights for drawing a profile: evenly spaced, with both sides of every line.

    >>> heights_to(8.0, [2.0], 3).tolist()
    [0.0, 2.0, 2.000008, 4.0, 8.0]
    """
    steps = [line + shift for line in lines_mm for shift in (0.0, 1e-6 * depth_mm) if line + shift <= depth_mm]
    return np.unique(np.concatenate([np.linspace(0.0, depth_mm, count), steps]))
