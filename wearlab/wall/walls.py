"""All that the walls of a trial say: profiles, wear and the rest, causes, hang-up of every pin, trends."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.interval import check_level
from wearlab.core.tables import ShownAsTable, plain, records
from wearlab.logbook.trial import Trial
from wearlab.wall.base_line import BaseLine, base_line, pooled_scatter
from wearlab.wall.causes import Causes, causes
from wearlab.wall.hang_up import HangUps, Slot, hang_ups
from wearlab.wall.nominal import Nominal, nominal_width
from wearlab.wall.prediction import PredictedSlot, predict_slot
from wearlab.wall.profile import WallProfile, wall_profiles
from wearlab.wall.readings import WallReadings, clock_held, wall_readings
from wearlab.wall.recession import AGREE_MM, ZONE_LINE_MM, Recessions, at_heights, recessions
from wearlab.wall.separation import HALF_WIDTH, Separation, separate
from wearlab.wall.shape import WallShape, wall_shape
from wearlab.wall.trend import WallTrends, wall_trends


@dataclass(frozen=True, repr=False, eq=False)
class Walls(ShownAsTable):
    """The walls of a trial.

    Attributes
    ----------
    readings : WallReadings
    nominal : Nominal
        Width that was meant.
    profiles : tuple of WallProfile
        As read.
    edge : Recessions or None
        From the lands that were handed in.
    predicted : dict of (cutter, look, part) to PredictedSlot
        From the lands of the same cutter and its own first slot.
    missing : dict of (cutter, look, part) to str
        Why a slot has no prediction.
    separation : Separation
    causes : tuple of Causes
        By group.
    hang_ups : HangUps
    trends : WallTrends
    groups : dict of str to str
        Cutter -> group.
    level : float
    """

    readings: WallReadings
    nominal: Nominal
    profiles: tuple[WallProfile, ...]
    edge: Recessions | None
    predicted: dict[Slot, PredictedSlot]
    missing: dict[Slot, str]
    separation: Separation
    causes: tuple[Causes, ...]
    hang_ups: HangUps
    trends: WallTrends
    groups: dict[str, str]
    level: float

    def to_frame(self) -> pd.DataFrame:
        """Every height of every slot: what was read and what was predicted."""
        if not self.profiles:
            return pd.DataFrame(columns=["cutter", "group", "inspection", "part", "height_mm", "predicted_width_mm"])
        return pd.concat([self._with_predicted(one) for one in self.profiles], ignore_index=True)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        hung = self.hang_ups.to_dict()
        made: dict[str, Any] = {
            "nominal": self.nominal.to_dict(),
            "depth_mm": hung["depth_mm"],
            "profiles": [self._profile_dict(one) for one in self.profiles],
            "hang_up": hung["hang_up"],
            "agreement": hung["agreement"],
            "wear": {key: cell for key, cell in self.separation.to_dict(self.level).items() if key != "rows"},
            "causes": [one.to_dict(self.level) for one in self.causes],
            "trends": records(self.trends.by_group),
            "clock": self.trends.clock,
            "level": self.level,
            "rake_assumed_zero": list(self.edge.rake_assumed) if self.edge else [],
        }
        return made

    def _profile_dict(self, one: WallProfile) -> dict[str, Any]:
        slot = self.predicted.get((one.cutter, one.inspection, one.part))
        found = one.to_dict(self.level) | {"group": self.groups[one.cutter]}
        found["points"] = records(self._with_predicted(one).drop(columns=["cutter", "inspection", "part", "group"]))
        found["predicted"] = records(slot.to_frame()) if slot else []
        found["why_no_prediction"] = self.missing.get((one.cutter, one.inspection, one.part)) or None
        return plain(found) | {"points": found["points"], "predicted": found["predicted"]}

    def _with_predicted(self, one: WallProfile) -> pd.DataFrame:
        made = one.to_frame()
        made.insert(1, "group", self.groups[one.cutter])
        slot = self.predicted.get((one.cutter, one.inspection, one.part))
        heights = made["height_mm"].to_numpy(dtype=float)
        width = _at_heights_of(slot, heights) if slot else np.full(len(heights), math.nan)
        return made.assign(predicted_width_mm=width)

    def __repr__(self) -> str:
        return f"<Walls: {len(self.profiles)} slots of {len(self.groups)} cutters, {len(self.hang_ups.table)} pins>"


def walls(
    trial: Trial,
    lands: pd.DataFrame | None = None,
    *,
    groups: Mapping[str, str] | None = None,
    clock: str = "",
    level: float | None = None,
    zone_line_mm: float = ZONE_LINE_MM,
) -> Walls:
    """Reduce the wall readings of a trial, and set them beside what the wear of the same cutters predicts.

    Parameters
    ----------
    trial : Trial
    lands : pandas.DataFrame, optional
        Lands of the same cutters at the looks of the walls, in the columns of `recession.recessions`.
    groups : mapping of str to str, optional
        Cutter -> group; by practice when left out.
    clock : str
        Column name of the clock of the trends; the first that all readings know when left out.
    level : float, optional
        Confidence level; the trial file's when left out.
    zone_line_mm : float
        How well the line between two zones is known as a height.

    Raises
    ------
    Refusal
        The log holds no wall reading.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> walls(read_log(sample_path("shoulder_demo")))
    <Walls: 36 slots of 12 cutters, 108 pins>
    """
    level = check_level(trial.settings.level if level is None else level)
    readings, facts = wall_readings(trial), trial.facts()
    held = _groups(readings, facts, groups)
    edge = recessions(lands, facts) if lands is not None else None
    profiles = wall_profiles(readings)
    separation = separate(readings, edge, zone_line_mm)
    depth = _depth(facts, readings, edge)
    predicted, missing = _predictions(readings, edge, depth, zone_line_mm)
    shapes = _unworn_shapes(separation, readings)
    directions = dict(zip(map(str, facts["cutter"]), _words(facts, "direction"), strict=True))
    return Walls(
        readings=readings,
        nominal=nominal_width(readings, facts),
        profiles=profiles,
        edge=edge,
        predicted=predicted,
        missing=missing,
        separation=separation,
        causes=causes(shapes, held, directions, level),
        hang_ups=hang_ups(readings, profiles, predicted, missing, depth, zone_line_mm, level),
        trends=wall_trends(profiles, held, clock or clock_held(readings.table), level),
        groups=held,
        level=level,
    )


def _groups(readings: WallReadings, facts: pd.DataFrame, groups: Mapping[str, str] | None) -> dict[str, str]:
    if groups is None:
        groups = dict(zip(map(str, facts["cutter"]), _words(facts, "strategy"), strict=True))
    return {str(cutter): groups.get(str(cutter), "") or "cutters" for cutter in readings.table["cutter"].unique()}


def _words(facts: pd.DataFrame, name: str) -> list[str]:
    if name not in facts:
        return [""] * len(facts)
    return ["" if cell != cell else str(cell) for cell in facts[name]]


def _depth(facts: pd.DataFrame, readings: WallReadings, edge: Recessions | None) -> float:
    """Height of the mouth: the feature's depth where no reading stands above it, else the highest thing that is known.

    NaN where there are pins alone: the highest of them may still be inside of the slot.
    """
    table = readings.table
    hung = table.loc[table["measure"] == "hang_up", "value_mm"].to_numpy(dtype=float)
    heights = table["height_mm"].dropna().to_numpy(dtype=float)
    seen = float(max([0.0, *hung, *heights]))
    own = facts[facts["cutter"].isin(table["cutter"])]
    if "feature_depth_mm" in own and own["feature_depth_mm"].notna().any():
        stated = float(own["feature_depth_mm"].mode().iloc[0])
        if seen <= stated * (1 + 1e-9):
            return stated
    ends = edge.table["to_mm"].dropna().to_numpy(dtype=float) if edge is not None else np.empty(0)
    return float(max([seen, *ends])) if len(ends) or len(heights) else math.nan


def _predictions(
    readings: WallReadings, edge: Recessions | None, depth_mm: float, zone_line_mm: float
) -> tuple[dict[Slot, PredictedSlot], dict[Slot, str]]:
    """A predicted slot for every one that was measured, or the reason why not."""
    slots = readings.table[["cutter", "inspection", "part"]].drop_duplicates()
    keys = [(str(c), int(i), str(p)) for c, i, p in slots.itertuples(index=False)]
    if edge is None:
        return {}, dict.fromkeys(keys, "no lands were handed in")
    lines, why = _base_lines(readings, edge, zone_line_mm)
    predicted: dict[Slot, PredictedSlot] = {}
    missing: dict[Slot, str] = {}
    for key in keys:
        zones = edge.at(key[0], key[1])
        if key[0] not in lines:
            missing[key] = why[key[0]]
        elif zones.empty:
            missing[key] = "no land was read at this look"
        else:
            predicted[key] = predict_slot(zones, lines[key[0]], depth_mm, zone_line_mm)
    return predicted, missing


def _base_lines(
    readings: WallReadings, edge: Recessions, zone_line_mm: float
) -> tuple[dict[str, BaseLine], dict[str, str]]:
    """Base line of every cutter from its first slot; the scatter about the lines is shared by all of them."""
    widths = readings.of("width")
    raw: dict[str, tuple[np.ndarray, np.ndarray, float]] = {}
    why: dict[str, str] = {}
    for cutter in map(str, readings.table["cutter"].unique()):
        own = widths[widths["cutter"] == cutter]
        if edge.why(cutter) or own.empty:
            why[cutter] = edge.why(cutter) or "no width was read, so there is no base line"
            continue
        first = own[own["inspection"] == own["inspection"].min()]
        unworn = _unworn_widths(first, edge.at(cutter, int(first["inspection"].iloc[0])), zone_line_mm)
        if unworn is None:
            why[cutter] = "no land was read when its first slot was, so there is no base line"
        else:
            raw[cutter] = unworn
    lines = {cutter: base_line(z, w, land_error_mm=e) for cutter, (z, w, e) in raw.items()}
    sigma, df = pooled_scatter(list(lines.values()))
    shared = {
        cutter: base_line(z, w, sigma_mm=sigma, df=df, land_error_mm=e) for cutter, (z, w, e) in raw.items()
    }
    return shared, why


def _unworn_widths(
    first: pd.DataFrame, zones: pd.DataFrame, zone_line_mm: float
) -> tuple[np.ndarray, np.ndarray, float] | None:
    """Heights, widths with the recession added back, and the standard error that the lands bring in.

    Heights on the line between two zones that differ are used only where there are no two others.
    """
    heights = first["height_mm"].to_numpy(dtype=float)
    recession, error, apart = at_heights(zones, heights, zone_line_mm)
    known = np.isfinite(recession)
    sure = known & (apart <= AGREE_MM)
    known = sure if sure.sum() > 1 else known
    if not known.any():
        return None
    widths = first["value_mm"].to_numpy(dtype=float) + 2 * recession
    spread = 2 * float(np.nanmean(error[known])) if np.isfinite(error[known]).any() else 0.0
    return heights[known], widths[known], spread


def _unworn_shapes(separation: Separation, readings: WallReadings) -> dict[str, WallShape]:
    """Shape of every cutter's first slot with the recession taken away; as it was read where no land is known."""
    first = separation.first_rest()
    first = first[first["side"] != HALF_WIDTH]
    error = readings.error_of("wall")
    shapes = {}
    for cutter, own in first.groupby("cutter", sort=False):
        rest = own["rest_mm"].where(own["rest_mm"].notna(), own["value_mm"])
        sides = {side: own["side"] == side for side in ("left", "right")}
        pairs = [(own.loc[at, "height_mm"], rest[at]) for at in sides.values()]
        shapes[str(cutter)] = wall_shape(*pairs[0], *pairs[1], error)
    return shapes


def _at_heights_of(slot: PredictedSlot, heights: np.ndarray) -> np.ndarray:
    """Predicted width at heights; on a step the lower stretch counts."""
    at = np.clip(np.searchsorted(slot.heights_mm, heights, side="left"), 1, len(slot.heights_mm) - 1)
    z0, z1 = slot.heights_mm[at - 1], slot.heights_mm[at]
    w0, w1 = slot.widths_mm[at - 1], slot.widths_mm[at]
    share = np.divide(heights - z0, z1 - z0, out=np.zeros_like(heights), where=z1 > z0)
    return w0 + share * (w1 - w0)

