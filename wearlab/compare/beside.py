"""What stands beside the contrasts: wear along the edge, what ended the cutters, ratios within each material."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from wearlab.compare.causes import Causes, causes
from wearlab.compare.contrast import Contrast
from wearlab.compare.groups import Grouping, common_ground
from wearlab.compare.interaction import Interaction, interaction
from wearlab.compare.outcomes import Outcome
from wearlab.compare.predicted import predict_shift, zone_limits
from wearlab.compare.zone_shift import ZoneShift, zone_shift
from wearlab.core.errors import Refusal
from wearlab.core.tables import each_row
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves

WITHIN = ("work_material", "cutter_material", "coating")
"""Columns within whose levels a ratio is looked at anew, where two of them hold both groups."""


def shifts_of(
    trial: Trial,
    criterion: Criterion,
    facts: pd.DataFrame,
    pairs: list[tuple[str, str]],
    by: str,
    adjust: tuple[str, ...],
    clock: str,
    level: float,
) -> tuple[tuple[ZoneShift, ...], str]:
    """Lowest against highest zone above the corner that were read, for each pair; or why not."""
    curves = wear_curves(trial)
    points = curves.by_zone[curves.by_zone["measure"] == criterion.measure]
    zones = [zone for zone in ("lower", "middle", "upper") if (points["zone"] == zone).any()]
    if len(zones) < 2:
        return (), "two zones above the corner are needed, such as lower and upper"
    by_flute = curves.by_flute[curves.by_flute["measure"] == criterion.measure]
    made, why = [], ""
    for a, b in pairs:
        ground, _ = common_ground(facts, (a, b), by, adjust)
        both = (zones[0], zones[-1])
        try:
            one = zone_shift(points, by_flute, ground, (a, b), both, clock, level)
        except Refusal as refusal:
            why = refusal.found
            continue
        held = ground[ground["cutter"].isin(one.values["cutter"])]
        band = predict_shift(held, (a, b), both, zone_limits(trial), one.scale)
        made.append(replace(one, predicted=replace(band, position=band.beside(one.estimate, one.interval))))
    return tuple(made), why


def causes_of(tables: list[Outcome], grouping: Grouping, adjust: tuple[str, ...], level: float) -> Causes | None:
    """Survival and causes at the conditions that every group met; None where lives were not asked for."""
    for one in tables:
        if one.name == "life":
            ground, _ = common_ground(one.table, grouping.names, grouping.by, adjust)
            return causes(ground, grouping.names, level)
    return None


def interactions_of(
    tables: list[Outcome], pairs: list[tuple[str, str]], by: str, adjust: tuple[str, ...], level: float
) -> tuple[Interaction, ...]:
    """Ratios of lives and rates within each material, cutter material and coating that both groups of a pair met."""
    made = []
    for one in tables:
        if one.exploratory or one.name not in ("life", "rate"):
            continue
        table = one.table
        if one.name == "rate":
            if not (table["rate"] > 0).all():
                continue
            table = table.assign(low=table["rate"], high=table["rate"])  # known exactly: least squares on the logs
        for a, b in pairs:
            ground, _ = common_ground(table, (a, b), by, adjust)
            for within in WITHIN:
                if within == by or within in adjust or within not in ground:
                    continue
                try:
                    found = interaction(ground, a, b, within, adjust, level)
                except Refusal:
                    continue  # one level only, or too few cutters: nothing to look at
                made.append(replace(found, outcome=one.name, zone=one.zone))
    return tuple(made)


def with_interactions(contrasts: tuple[Contrast, ...], found: tuple[Interaction, ...]) -> tuple[Contrast, ...]:
    """Contrasts with a note where their one ratio is contradicted by the ratios within each material."""
    return tuple(
        replace(one, notes=(*one.notes, *(_differs(other) for other in found if other.found and _same(one, other))))
        for one in contrasts
    )


def _same(one: Contrast, other: Interaction) -> bool:
    return (one.a, one.b, one.outcome, one.zone) == (other.a, other.b, other.outcome, other.zone)


def _differs(found: Interaction) -> str:
    each = ", ".join(f"{row.ratio:.3g} in {row.level}" for row in each_row(found.ratios))
    return f"one ratio is not true of every {found.within.replace('_', ' ')}: {each}; take each by itself"
