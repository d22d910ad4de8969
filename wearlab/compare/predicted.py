"""The band in which a measured ratio should lie, from what each practice does to the edge.

Computed before any chip is cut: if the land grows with contact time, with sliding or with chip cut per mm of edge, the
ratio of wear rates in a zone lies between the least and the greatest of the three exposure ratios. A measured ratio
outside the band says that something else is going on: chipping, heat, a notch, chips cut twice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.logbook.trial import Trial
from wearlab.milling.exposure import HYPOTHESES, ZoneExposure, predicted_band, zone_exposure

CLOCKS = {"cutting_time_min": "min", "volume_cm3": "cm3", "cut_length_m": "m", "parts": "parts"}
_NEEDED = ("axial_depth_mm", "radial_width_mm", "feed_per_tooth_mm", "teeth", "diameter_mm", "spindle_rpm")

_FEATURE = ("feature_width_mm", "feature_depth_mm", "feature_length_mm")


@dataclass(frozen=True, slots=True)
class PredictedBand:
    """Of the ratio a over b; `position` says where the measured interval lies against it."""

    low: float
    high: float
    by_hypothesis: dict[str, float]
    position: str = ""
    why_missing: str = ""

    def beside(self, estimate: float, interval: Interval) -> str:
        """inside (the estimate lies in the band), reaches (only its interval does), above or below."""
        if self.why_missing or not math.isfinite(estimate):
            return ""
        if self.low <= estimate <= self.high:
            return "inside"
        if interval.low <= self.high and interval.high >= self.low:
            return "reaches"
        return "above" if estimate > self.high else "below"

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "low": self.low,
                "high": self.high,
                "by_hypothesis": self.by_hypothesis,
                "position": self.position or None,
                "why_missing": self.why_missing or None,
            }
        )
        return made


def zone_limits(trial: Trial) -> dict[str, tuple[float, float]]:
    """Limits of each zone above the end face in mm: of the trial file, else those that the readings state."""
    limits = dict(trial.settings.zones)
    stated = trial.wear.dropna(subset=["zone_from_mm", "zone_to_mm"])
    for zone, rows in stated.groupby("zone"):
        low, high = float(rows["zone_from_mm"].median()), float(rows["zone_to_mm"].median())
        if zone and high > low:
            limits.setdefault(str(zone), (low, high))
    return limits


def predict_ratio(
    facts: pd.DataFrame, a: str, b: str, zone: str, limits: dict[str, tuple[float, float]], clock: str, outcome: str
) -> PredictedBand:
    """Predict the ratio of wear rates (or of lives) of two groups in one zone.

    Parameters
    ----------
    facts : pandas.DataFrame
        Facts of the cutters compared, with `group`.
    a, b : str
        Groups.
    zone : str
        Zone of the edge.
    limits : dict of str to (float, float)
        As `zone_limits`.
    clock : str
        Column name of the clock.
    outcome : str
        rate or life; a life goes as one over the rate.
    """
    if zone not in limits:
        return _none(f"no limits in mm are stated for zone {zone!r}" if zone else "no zone is named")
    if clock not in CLOCKS:
        return _none(f"no band is given on the clock {clock}")
    needed = (*_NEEDED, *_FEATURE) if clock == "parts" else _NEEDED
    missing = [name for name in needed if name not in facts or facts[name].isna().any()]
    if missing:
        return _none(f"not recorded: {', '.join(missing)}")
    absent = [name for name in (a, b) if not (facts["group"] == name).any()]
    if absent:
        return _none(f"no cutter of {absent[0]} is left to compare in this zone")
    try:
        first, second = (_exposure(facts[facts["group"] == name], zone, limits[zone]) for name in (a, b))
        band = predicted_band(first, second, CLOCKS[clock])
    except WearlabError as error:
        return _none(error.message())
    low, high = band.of(zone)
    by = {name: float(ratio[..., 0]) for name, ratio in band.by_hypothesis.items()}
    if not (math.isfinite(low) and math.isfinite(high) and low > 0):
        return _none(f"zone {zone} is not in the cut in both groups")
    if outcome == "life":
        return PredictedBand(1.0 / high, 1.0 / low, {name: 1.0 / ratio for name, ratio in by.items()})
    return PredictedBand(low, high, by)


def predict_shift(
    facts: pd.DataFrame,
    groups: tuple[str, str],
    zones: tuple[str, str],
    limits: dict[str, tuple[float, float]],
    scale: str,
) -> PredictedBand:
    """Predict how the wear of two zones divides, one practice against another.

    Parameters
    ----------
    facts, limits
        As in `predict_ratio`.
    groups, zones : tuple of (str, str)
        First over second.
    scale : str
        ratio: of the ratios first zone over second; difference: of the shares of the first zone.
    """
    unknown = [zone for zone in zones if zone not in limits]
    missing = [name for name in _NEEDED if name not in facts or facts[name].isna().any()]
    if unknown or missing:
        return _none(f"no limits in mm are stated for zone {unknown[0]!r}" if unknown else
                     f"not recorded: {', '.join(missing)}")  # fmt: skip
    try:
        sides = [_exposures(facts[facts["group"] == name], {zone: limits[zone] for zone in zones}) for name in groups]
    except WearlabError as error:
        return _none(error.message())
    by = {}
    for name, amount in HYPOTHESES.items():
        first, second = ([float(one) for one in getattr(side, amount)] for side in sides)
        by[name] = _shift(first, second, scale)
    found = list(by.values())
    if not all(math.isfinite(one) for one in found):
        return _none(f"{zones[0]} or {zones[1]} is not in the cut on one side, so their ratio is open")
    return PredictedBand(min(found), max(found), by)


def _shift(first: list[float], second: list[float], scale: str) -> float:
    if scale == "ratio":
        below = first[1] * second[0]
        return first[0] * second[1] / below if below > 0 else math.nan
    shares = [one[0] / sum(one) if sum(one) > 0 else math.nan for one in (first, second)]
    return shares[0] - shares[1]


def _exposures(facts: pd.DataFrame, zones: dict[str, tuple[float, float]]) -> ZoneExposure:
    depth, width, feed, teeth, diameter, rpm = (float(facts[name].mode().iloc[0]) for name in _NEEDED)
    return zone_exposure(depth, width, feed, teeth, diameter, rpm, zones)


def _exposure(facts: pd.DataFrame, zone: str, limits: tuple[float, float]) -> ZoneExposure:
    depth, width, feed, teeth, diameter, rpm = (float(facts[name].mode().iloc[0]) for name in _NEEDED)
    volume = math.nan
    if all(name in facts and facts[name].notna().all() for name in _FEATURE):
        volume = math.prod(float(facts[name].mode().iloc[0]) for name in _FEATURE) / 1000.0
    return zone_exposure(depth, width, feed, teeth, diameter, rpm, {zone: limits}, volume_cm3=volume)


def _none(why: str) -> PredictedBand:
    return PredictedBand(math.nan, math.nan, {}, "", why)
