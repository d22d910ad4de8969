"""What is compared: one row a cutter for each outcome and zone, and typical values of each group."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.compare.groups import Grouping, common_ground
from wearlab.compare.life_ratio import Ratio, life_ratio
from wearlab.compare.rate_ratio import rate_ratio
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import nearest
from wearlab.life.derived_clocks import DERIVED
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves
from wearlab.wear.rate import wear_rates

OUTCOMES = ("life", "rate")
"""Outcomes that can be asked for."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome in one zone: one row a cutter."""

    name: str
    criterion: str
    zone: str
    clock: str
    table: pd.DataFrame
    left_out: tuple[tuple[str, str], ...]
    exploratory: bool
    ratio: Callable[..., Ratio]


def outcome_tables(
    trial: Trial, grouping: Grouping, criterion: Criterion, clock: str, outcomes: Sequence[str]
) -> list[Outcome]:
    """Tables of the outcomes that the log allows.

    Raises
    ------
    ArgumentError
        An outcome is not known.
    Refusal
        Fewer than two groups hold any outcome.
    """
    for word in outcomes:
        if word not in OUTCOMES:
            raise ArgumentError(
                f"outcome {word!r}", where="--outcome", allowed=", ".join(OUTCOMES), hint=nearest(word, OUTCOMES)
            )
    wanted = outcomes or OUTCOMES
    made: list[Outcome] = []
    if "life" in wanted:
        made.append(_lives(trial, grouping, criterion, clock))
    if "rate" in wanted and criterion.measure in ("VB", "VBmax") and clock not in DERIVED:
        made += _rates(trial, grouping, criterion, clock)
    made = [one for one in made if one.table["group"].nunique() > 1]
    if not made:
        raise Refusal(
            "fewer than two groups hold a life or a rate",
            where=f"criterion {criterion.text}",
            hint="look at the statuses with `wearlab life`",
        )
    return made


def _lives(trial: Trial, grouping: Grouping, criterion: Criterion, clock: str) -> Outcome:
    lives = tool_lives(trial, [criterion], [clock]).to_frame()
    table = grouping.facts.merge(lives.drop(columns=["clock"]), on="cutter", how="inner")
    known = table["status"] != "none"
    left = tuple((str(r.cutter), str(r.why_missing)) for r in table[~known].itertuples())
    table = table[known].reset_index(drop=True).assign(outcome="life")
    return Outcome("life", criterion.text, criterion.zone, clock, table, left, False, life_ratio)


def _rates(trial: Trial, grouping: Grouping, criterion: Criterion, clock: str) -> list[Outcome]:
    curves = wear_curves(trial)
    break_in, statistic = trial.settings.break_in, criterion.statistic
    rates = wear_rates(curves, clock, criterion.limit, break_in, statistic).to_frame()
    if rates.empty:
        return []
    rates = rates[(rates["measure"] == criterion.measure) & (rates["clock"] == clock)]
    zones = [criterion.zone] if criterion.zone else list(dict.fromkeys(rates["zone"]))
    made = []
    for zone in zones:
        table = grouping.facts.merge(rates[rates["zone"] == zone].drop(columns=["clock"]), on="cutter", how="inner")
        known = table["rate"].notna()
        left = tuple((str(r.cutter), f"rate: {r.why_missing}") for r in table[~known].itertuples())
        table = table[known].reset_index(drop=True).assign(outcome="rate")
        exploratory = not criterion.zone and len(zones) > 1
        made.append(Outcome("rate", criterion.text, zone, clock, table, left, exploratory, rate_ratio))
    return made


def group_rows(outcome: Outcome, grouping: Grouping, adjust: tuple[str, ...]) -> pd.DataFrame:
    """Typical values at the conditions that every group met, so that they can be set side by side."""
    rows = []
    table, _ = common_ground(outcome.table, grouping.names, grouping.by, adjust)
    for name in grouping.names:
        own = table[table["group"] == name]
        censored = int((own["status"] != "exact").sum()) if outcome.name == "life" else 0
        rows.append(
            {
                "group": name,
                "outcome": outcome.name,
                "criterion": outcome.criterion,
                "zone": outcome.zone,
                "clock": outcome.clock,
                "cutters": len(own),
                "censored": censored,
                "estimate": _typical(own, outcome.name),
            }
        )
    return pd.DataFrame(rows)


def _typical(own: pd.DataFrame, outcome: str) -> float:
    """Geometric mean of a group; of lives with some still good the median of a lognormal fit."""
    if own.empty:
        return math.nan
    if outcome == "rate":
        rates = own["rate"].to_numpy(float)
        return float(np.exp(np.log(rates).mean())) if (rates > 0).all() else float(rates.mean())
    if (own["status"] == "exact").all():
        return float(np.exp(np.log(own["life"].to_numpy(float)).mean()))
    from wearlab.stats.censored import fit_lives
    from wearlab.stats.lives import Lives

    try:
        return fit_lives(np.ones((len(own), 1)), Lives(own["low"], own["high"])).median([1.0])
    except Refusal:
        return math.nan
