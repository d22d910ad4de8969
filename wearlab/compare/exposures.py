"""Edge exposure of practices side by side: by zone and by height, ratios with the band that wear should keep to, and
what was equal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.practice_of import PlainCut, heights_to, practice_of
from wearlab.compare.predicted import zone_limits
from wearlab.core.errors import ArgumentError, Refusal, WearlabError
from wearlab.core.tables import ShownAsTable, natural_sorted, nearest, plain, records
from wearlab.logbook.trial import Trial
from wearlab.milling.cautions import Caution, cautions
from wearlab.milling.exposure import (
    AMOUNTS,
    CLOCKS,
    HYPOTHESES,
    EdgeExposure,
    ZoneExposure,
    default_zones,
    predicted_band,
)
from wearlab.milling.matching import Matched, matched_conditions
from wearlab.milling.practices import Practice

AnyPractice = Practice | PlainCut
END_ZONES = ("end", "notch")


@dataclass(frozen=True, eq=False)
class PracticeExposure:
    """What one practice does to the edge.

    Attributes
    ----------
    name : str
    practice : Practice or PlainCut
    zones : ZoneExposure
    heights : EdgeExposure
        For drawing.
    quantities : dict of str to float
        What a fair trial may want equal.
    cutters : tuple of str
        Of the log, which ran it.
    assumed : tuple of str
        What was taken for granted.
    cautions : tuple of Caution
    """

    name: str
    practice: AnyPractice
    zones: ZoneExposure
    heights: EdgeExposure
    quantities: dict[str, float]
    cutters: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def removal_rate_cm3_min(self) -> float:
        """Removal rate in full cut."""
        return float(self.practice.removal_rate_cm3_min)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        made: dict[str, Any] = plain(
            {
                "name": self.name,
                "kind": self.practice.name,
                "removal_rate_cm3_min": self.removal_rate_cm3_min,
                "volume_cm3": float(self.zones.pace.volume_cm3),
                "floor_cm2_cm3": float(self.zones.floor_cm2_cm3),
                "zones": records(self.zone_frame()),
                "quantities": self.quantities,
                "cutters": list(self.cutters),
                "assumed": list(self.assumed),
                "cautions": [
                    {"code": one.code, "value": one.value, "limit": one.limit, "source": one.source}
                    for one in self.cautions
                ],
                "remains": self._remains(),
            }
        )
        return made

    def zone_frame(self) -> pd.DataFrame:
        """One row a zone: its ends and the four exposures per cm3."""
        frame = pd.DataFrame({"zone": list(self.zones.zones), "from_mm": self.zones.bounds_mm[:, 0]})
        frame["to_mm"] = self.zones.bounds_mm[:, 1]
        return frame.assign(**{name: np.asarray(getattr(self.zones, name)) for name in AMOUNTS})

    def height_frame(self) -> pd.DataFrame:
        """One row a height."""
        frame = pd.DataFrame({"height_mm": self.heights.heights_mm})
        return frame.assign(**{name: np.asarray(getattr(self.heights, name)) for name in AMOUNTS})

    def _remains(self) -> dict[str, float] | None:
        if isinstance(self.practice, PlainCut):
            return None
        left = self.practice.remains()
        return {"volume_cm3": left.volume_cm3, "wall_cusp_mm": left.wall_cusp_mm, "floor_rise_mm": left.floor_rise_mm}


@dataclass(frozen=True, eq=False)
class Exposures(ShownAsTable):
    """Exposure of several practices.

    Attributes
    ----------
    practices : tuple of PracticeExposure
    refused : dict of str to str
        Practices that have none, and why.
    pairs : tuple of (str, str)
        A ratio is the first over the second.
    ratios : pandas.DataFrame
        One row a pair and zone: the ratio of wear growth under each hypothesis, `low`, `high`; infinite where only the
        first touches the zone, NaN where neither does, and `why_missing` says so.
    matched : dict of (str, str) to Matched
    zones : dict of str to (float, float)
    clock : str
        What growth is counted on in the ratios.
    """

    practices: tuple[PracticeExposure, ...]
    refused: dict[str, str]
    pairs: tuple[tuple[str, str], ...]
    ratios: pd.DataFrame
    matched: dict[tuple[str, str], Matched]
    zones: dict[str, tuple[float, float]]
    clock: str

    def __repr__(self) -> str:
        names = ", ".join(one.name for one in self.practices) or "none"
        return f"<Exposures of {names}: {len(self.zones)} zones, {len(self.pairs)} pairs, {len(self.refused)} refused>"

    def of(self, name: str) -> PracticeExposure:
        """One practice by name.

        Raises
        ------
        ArgumentError
            There is none of that name.
        """
        for one in self.practices:
            if one.name == name:
                return one
        names = [one.name for one in self.practices]
        raise ArgumentError(f"practice {name!r}", where="exposure", allowed=", ".join(names), hint=nearest(name, names))

    def to_frame(self) -> pd.DataFrame:
        """One row a practice and zone."""
        frames = []
        for one in self.practices:
            frame = one.zone_frame()
            frame.insert(0, "practice", one.name)
            frames.append(frame.assign(removal_rate_cm3_min=one.removal_rate_cm3_min))
        return pd.concat(frames, ignore_index=True) if frames else pd.DataFrame(columns=["practice", "zone"])

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        return {
            "practices": [one.to_dict() for one in self.practices],
            "refused": [{"name": name, "why": why} for name, why in self.refused.items()],
            "clock": self.clock,
            "ratios": [row | {"unbounded": _unbounded(row)} for row in records(self.ratios)],
            "matched": self._quantities(True),
            "unmatched": self._quantities(False),
            "not_compared": self._quantities(None),
        }

    def _quantities(self, equal: bool | None) -> list[dict[str, Any]]:
        rows = [
            {"a": a, "b": b, "quantity": c.quantity, "value_a": c.a, "value_b": c.b, "ratio": c.ratio}
            for (a, b), found in self.matched.items()
            for c in found.comparisons
            if c.equal is equal
        ]
        made: list[dict[str, Any]] = plain(rows)
        return made


def exposures(
    practices: Mapping[str, AnyPractice],
    zones: Mapping[str, tuple[float, float]] | None = None,
    *,
    standard: str = "",
    clock: str = "cm3",
    cutters: Mapping[str, Sequence[str]] | None = None,
    assumed: Mapping[str, Sequence[str]] | None = None,
    refused: Mapping[str, str] | None = None,
    runout_mm: float | None = None,
) -> Exposures:
    """Set practices side by side.

    Parameters
    ----------
    practices : mapping of str to Practice or PlainCut
    zones : mapping of str to (float, float), optional
        Heights from and to in mm; the usual ones, with a line where the shallowest practice ends, when left out.
    standard : str
        Practice under every ratio; every pair when empty.
    clock : {"cm3", "min", "parts", "m"}
    cutters, assumed : mapping of str to sequence of str, optional
        Of each practice.
    refused : mapping of str to str, optional
        Practices that have none, and why.
    runout_mm : float, optional
        For the cautions.

    Raises
    ------
    Refusal
        No practice is possible.
    ArgumentError
        The standard or the clock is not known.

    Examples
    --------
    >>> from wearlab.milling.practices import Cutter, Feature, Layered, Settings, Side
    >>> step, tool, run = Feature(10, 8, 120, sides="one"), Cutter(10, 4), Settings(1910, 0.05)
    >>> found = exposures({"layered": Layered(feature=step, cutter=tool, settings=run, layers=4),
    ...                    "side": Side(feature=step, cutter=tool, settings=run, steps=4)})
    >>> found.ratios[["zone", "low", "high"]].round(2).values.tolist()[1]
    ['lower', 3.0, 4.0]
    """
    if clock not in CLOCKS:
        raise ArgumentError(f"clock {clock!r}", where="exposure", allowed=", ".join(CLOCKS))
    why = dict(refused or {})
    possible = _possible(practices, why)
    if not possible:
        reasons = "; ".join(f"{name}: {reason}" for name, reason in why.items())
        raise Refusal(reasons or "no practice was named", where="exposure")
    names = list(possible)
    if standard and standard not in practices and standard not in why:
        raise ArgumentError(f"no practice {standard!r}", where="--standard", allowed=", ".join(names),
                            hint=nearest(standard, names))  # fmt: skip
    limits = dict(zones) if zones else usual_zones(possible)
    ran, taken = cutters or {}, assumed or {}
    made = tuple(
        _one(name, practice, limits, tuple(ran.get(name, ())), tuple(taken.get(name, ())), runout_mm)
        for name, practice in possible.items()
    )
    pairs = _pairs(names, standard)
    by_name = {one.name: one for one in made}
    ratios = [_ratios(by_name[a], by_name[b], clock) for a, b in pairs]
    matched = {(a, b): matched_conditions(by_name[a].quantities, by_name[b].quantities) for a, b in pairs}
    frame = pd.concat(ratios, ignore_index=True) if ratios else _no_ratios()
    return Exposures(made, why, pairs, frame, matched, limits, clock)


def trial_exposures(
    trial: Trial, *, by: str = "strategy", standard: str = "", clock: str = "cm3",
    zones: Mapping[str, tuple[float, float]] | None = None, facts: pd.DataFrame | None = None,
) -> Exposures:  # fmt: skip
    """Exposure of every practice that a log holds, at the conditions of most of its cutters.

    Parameters
    ----------
    trial : Trial
    by : str
        Column that makes the groups.
    standard, clock
        As `exposures`.
    zones : mapping, optional
        In place of those of the trial file or of the readings.
    facts : pandas.DataFrame, optional
        Cutters to be used, with a column `group`; all of the trial by `by` when left out.

    Raises
    ------
    Refusal
        No group has an exposure; the reasons are named.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = trial_exposures(read_log(sample_path("shoulder_demo")), standard="layered")
    >>> found.ratios.loc[found.ratios["zone"] == "lower", ["low", "high"]].round(3).values.tolist()
    [[0.333, 0.392]]
    """
    if facts is None:
        facts = trial.facts()
        if by not in facts:
            raise ArgumentError(f"no column {by!r}", where="--by", allowed=", ".join(map(str, facts.columns)),
                                hint=nearest(by, [str(name) for name in facts.columns]))  # fmt: skip
        facts = facts.assign(group=[_label(cell) for cell in facts[by]])
    practices: dict[str, AnyPractice] = {}
    assumed: dict[str, list[str]] = {}
    cutters: dict[str, list[str]] = {}
    refused: dict[str, str] = {}
    for group in natural_sorted(set(facts["group"]) - {""}):
        own = facts[facts["group"] == group]
        cutters[group] = [str(name) for name in own["cutter"]]
        row, notes = _usual(own)
        try:
            found = practice_of(row)
        except WearlabError as problem:
            refused[group] = problem.found
            continue
        practices[group], assumed[group] = found.practice, [*found.assumed, *notes]
    limits = dict(zones) if zones else zone_limits(trial)
    runout = facts["runout_um"].median() / 1000 if "runout_um" in facts else None
    return exposures(
        practices,
        limits or None,
        standard=standard if standard in cutters else "",
        clock=clock,
        cutters=cutters,
        assumed=assumed,
        refused=refused,
        runout_mm=runout if runout is not None and runout == runout else None,
    )


def usual_zones(practices: Mapping[str, AnyPractice]) -> dict[str, tuple[float, float]]:
    """Zones with a line at the height at which the shallowest practice ends; the end edge where one works there."""
    cuts = [cut for one in practices.values() if (cut := one.main_cut()) is not None]
    diameter = max(_diameter(one) for one in practices.values())
    depth = max([_depth(one) for one in practices.values()])
    layers = [cut.axial_depth_mm for cut in cuts if cut.axial_depth_mm < 0.99 * depth]
    corner = 0.04 * diameter
    layer = min([value for value in layers if value > corner], default=None)
    if layer is None:
        layer = min(max(0.2 * diameter, 2 * corner), depth)
    if depth <= corner:
        return {"edge": (0.0, depth)}
    found = default_zones(diameter, layer, depth)
    ends = any(np.any(_end_sliding(one, diameter) > 0) for one in practices.values())
    return {name: limits for name, limits in found.items() if name != "end" or ends}


def _end_sliding(practice: AnyPractice, diameter: float) -> np.ndarray:
    if isinstance(practice, PlainCut):
        return np.zeros(1)
    return np.asarray(practice.end_exposure(np.linspace(0.1, 1.0, 10) * diameter / 2).sliding_m_cm3)


def _diameter(practice: AnyPractice) -> float:
    return practice.cut.diameter_mm if isinstance(practice, PlainCut) else practice.cutter.diameter_mm


def _depth(practice: AnyPractice) -> float:
    """Height up to which the edge may be looked at."""
    return practice.cut.axial_depth_mm if isinstance(practice, PlainCut) else practice.feature.depth_mm


def _possible(practices: Mapping[str, AnyPractice], why: dict[str, str]) -> dict[str, AnyPractice]:
    """Practices that the geometry allows; the reasons of the others go into `why`."""
    found = {}
    for name, practice in practices.items():
        reasons = () if isinstance(practice, PlainCut) else practice.reasons()
        if reasons:
            why[name] = "; ".join(reasons)
        else:
            found[name] = practice
    return found


def _one(
    name: str,
    practice: AnyPractice,
    limits: dict[str, tuple[float, float]],
    cutters: tuple[str, ...],
    assumed: tuple[str, ...],
    runout_mm: float | None,
) -> PracticeExposure:
    bounds = {zone: ends for zone, ends in limits.items() if zone != "notch"}
    flute = {zone: ends for zone, ends in bounds.items() if zone not in END_ZONES}
    cut = practice.main_cut()
    top = max([high for _, high in flute.values()] or [_depth(practice)])
    lines = [cut.axial_depth_mm] if cut is not None else []
    return PracticeExposure(
        name=name,
        practice=practice,
        zones=practice.zone_exposure(bounds),
        heights=practice.edge_exposure(heights_to(top, lines)),
        quantities=practice.quantities(),
        cutters=cutters,
        assumed=assumed,
        cautions=cautions(cut, runout_mm=runout_mm) if cut is not None else (),
    )


def _pairs(names: list[str], standard: str) -> tuple[tuple[str, str], ...]:
    if standard in names:
        return tuple((name, standard) for name in names if name != standard)
    return tuple(combinations(names, 2))


def _ratios(a: PracticeExposure, b: PracticeExposure, clock: str) -> pd.DataFrame:
    band = predicted_band(a.zones, b.zones, clock)
    frame = pd.DataFrame({"a": a.name, "b": b.name, "zone": list(band.zones), "clock": clock})
    frame = frame.assign(**{name: np.asarray(band.by_hypothesis[name]) for name in HYPOTHESES})
    frame = frame.assign(low=np.asarray(band.low), high=np.asarray(band.high))
    why = [
        f"{b.name} does not touch this zone" if np.isinf(low) else "neither touches this zone" if np.isnan(low) else ""
        for low in frame["low"]
    ]
    if clock == "parts" and not np.isfinite(float(a.zones.pace.volume_cm3 * b.zones.pace.volume_cm3)):
        why = ["the volume of a part is not known"] * len(frame)
    return frame.assign(why_missing=why)


def _unbounded(row: dict[str, Any]) -> str | None:
    """JSON has no infinity: a ratio over nothing is named."""
    return "both" if "does not touch" in str(row["why_missing"]) else None


def _no_ratios() -> pd.DataFrame:
    return pd.DataFrame(columns=["a", "b", "zone", "clock", *HYPOTHESES, "low", "high", "why_missing"])


def _label(cell: object) -> str:
    return f"{cell:g}" if isinstance(cell, float) and cell == cell else "" if cell != cell else str(cell)


def _usual(own: pd.DataFrame) -> tuple[dict[str, Any], list[str]]:
    """The condition of most cutters of a group, and what varied among them."""
    row: dict[str, Any] = {}
    notes = []
    for name in own.columns:
        cells = own[name].dropna()
        cells = cells[cells.astype(object) != ""]
        if cells.empty:
            continue
        row[str(name)] = cells.mode().iloc[0]
        if name in ("cutting_speed_m_min", "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm", "diameter_mm"):
            values = cells.astype(float)
            if values.max() > 1.01 * values.min():
                notes.append(f"{name} runs from {values.min():g} to {values.max():g}; that of most cutters is used")
    return row, notes
