"""A life for each flute: how evenly a cutter wears, and which tooth decides."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import natural_sorted
from wearlab.life.crossing import find_crossing
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves


@dataclass(frozen=True, slots=True)
class FluteLife:
    """Life of one flute; status and bracket as for a cutter."""

    cutter: str
    flute: str
    criterion: str
    clock: str
    life: float
    status: str
    bracket_low: float
    bracket_high: float


def flute_lives(trial: Trial, criterion: Criterion, clock: str = "cutting_time_min") -> tuple[FluteLife, ...]:
    """Lives of single flutes at a criterion on a land.

    Without a zone in the criterion, the worst zone of that flute at each look counts.

    Raises
    ------
    Refusal
        The criterion is no land, or no single flute was read.
    """
    if criterion.measure not in ("VB", "VBmax", "corner", "chip"):
        raise Refusal(f"{criterion.measure} does not belong to a flute", where=f"criterion {criterion.text}")
    rows = wear_curves(trial).by_flute
    rows = rows[(rows["measure"] == criterion.measure) & rows["flute"].str.fullmatch(r"\d+")]
    if criterion.zone:
        rows = rows[rows["zone"] == criterion.zone]
    if rows.empty:
        raise Refusal("no single flute was read", where=f"criterion {criterion.text}", allowed="flute 1, 2, ...")
    made = []
    for cutter in natural_sorted(rows["cutter"].unique()):
        own = rows[rows["cutter"] == cutter]
        for flute in natural_sorted(own["flute"].unique()):
            made.append(_life(own[own["flute"] == flute], str(cutter), str(flute), criterion, clock))
    return tuple(made)


def _life(rows: pd.DataFrame, cutter: str, flute: str, criterion: Criterion, clock: str) -> FluteLife:
    worst = rows.groupby("inspection").agg(clock=(clock, "first"), value=("value_mm", "max")).dropna()
    found = find_crossing(worst["clock"].to_numpy(float), worst["value"].to_numpy(float), criterion.limit)
    life = found.life if found.status == "exact" else math.nan
    return FluteLife(cutter, flute, criterion.text, clock, life, found.status, found.bracket_low, found.bracket_high)


def flute_frame(lives: tuple[FluteLife, ...]) -> pd.DataFrame:
    """One row a flute."""
    return pd.DataFrame([{name: getattr(one, name) for name in FluteLife.__slots__} for one in lives])
