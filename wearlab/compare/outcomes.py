"""What is compared: one row a cutter for each outcome and zone, and typical values of each group."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.compare.groups import Grouping, common_ground
from wearlab.compare.life_ratio import Ratio, life_ratio
from wearlab.compare.rate_ratio import rate_ratio, rate_values
from wearlab.compare.together import Together, lives_together, values_together
from wearlab.compare.wall_outcomes import growth_difference, wall_difference, wall_tables, wall_values
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import nearest
from wearlab.life.derived_clocks import DERIVED
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import wear_curves
from wearlab.wear.rate import wear_rates

OUTCOMES = ("life", "rate", "volume", "parts", "wall", "wall_growth")
"""Outcomes that can be asked for: life on the clock asked for, wear rate, metal removed and parts made by a cutter
until its end, metal left at the floor of a wall, and its growth with parts."""
USUAL = ("life", "rate")
"""Outcomes that are taken where none is asked for; walls too where any was read."""
WALLS = ("wall", "wall_growth")
PART_OF_TOLERANCE = 0.5
"""Part of a wall's tolerance that a difference must take up to be worth acting on (common practice, no source)."""
LIVES = {"life": "", "volume": "volume_cm3", "parts": "parts"}
"""Outcomes that are lives, and their clocks."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One outcome in one zone: one row a cutter.

    Attributes
    ----------
    name, criterion, zone, clock : str
    table : pandas.DataFrame
        Facts of the cutters, their `group` and `column`.
    column : str
        What is compared.
    left_out : tuple of (str, str)
        Cutters left out, and why.
    exploratory : bool
    ratio : callable
        Compares two groups; arguments as in `life_ratio`.
    together : callable
        Fits all groups at once; arguments as in `lives_together`.
    margin : float or None
        Smallest difference worth acting on, of an outcome that is compared by differences.
    """

    name: str
    criterion: str
    zone: str
    clock: str
    table: pd.DataFrame
    column: str
    left_out: tuple[tuple[str, str], ...]
    exploratory: bool
    ratio: Callable[..., Ratio]
    together: Callable[..., Together]
    margin: float | None = None


def outcome_tables(
    trial: Trial,
    grouping: Grouping,
    criterion: Criterion,
    clock: str,
    outcomes: Sequence[str],
    wall_margin_um: float | None = None,
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
    wanted = outcomes or USUAL
    made: list[Outcome] = []
    for word, of in LIVES.items():
        if word in wanted and (not of or of in trial.clocks()):
            made.append(_lives(trial, grouping, criterion, of or clock, word))
    if "rate" in wanted and criterion.measure in ("VB", "VBmax") and clock not in DERIVED:
        made += _rates(trial, grouping, criterion, clock)
    made += wall_outcomes(trial, grouping, clock, [word for word in WALLS if word in wanted], wall_margin_um)
    made = [one for one in made if one.table["group"].nunique() > 1]
    if not made:
        raise Refusal(
            "fewer than two groups hold a life or a rate"
            if not outcomes or set(outcomes) <= set(USUAL)
            else f"fewer than two groups hold {' or '.join(outcomes)}",
            where=f"criterion {criterion.text}",
            hint="look at the statuses with `wearlab life`, at walls with `wearlab wall`",
        )
    return made


def _lives(trial: Trial, grouping: Grouping, criterion: Criterion, clock: str, name: str) -> Outcome:
    lives = tool_lives(trial, [criterion], [clock]).to_frame()
    table = grouping.facts.merge(lives.drop(columns=["clock"]), on="cutter", how="inner")
    known = table["status"] != "none"
    left = tuple((str(r.cutter), str(r.why_missing)) for r in table[~known].itertuples())
    table = table[known].reset_index(drop=True).assign(outcome=name)
    return Outcome(
        name, criterion.text, criterion.zone, clock, table, "life", left, False, life_ratio, lives_together
    )


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
        made.append(
            Outcome(
                "rate", criterion.text, zone, clock, table, "rate", left, exploratory, rate_ratio,
                values_together(rate_values),
            )
        )  # fmt: skip
    return made


def wall_outcomes(
    trial: Trial, grouping: Grouping, clock: str, wanted: Sequence[str], margin_um: float | None
) -> list[Outcome]:
    """Outcomes of walls.

    Raises
    ------
    Refusal
        As `wall_outcomes.wall_tables`.
    """
    if not wanted:
        return []
    tables = wall_tables(trial, clock)
    if margin_um is None and trial.settings.wall_tolerance_um is not None:
        margin_um = PART_OF_TOLERANCE * trial.settings.wall_tolerance_um
    made = []
    for word in wanted:
        own = tables.at_floor if word == "wall" else tables.growth
        table = grouping.facts.merge(own, on="cutter", how="inner").assign(outcome=word)
        margin = margin_um / 1000.0 if margin_um and word == "wall" else None
        on = tables.clock if word == "wall" else tables.growth_clock
        left = tables.left_out if word == "wall" else tables.no_growth
        how = wall_difference if word == "wall" else growth_difference
        made.append(
            Outcome(
                word, tables.words(word), "", on, table, "value", left, False, how, values_together(wall_values), margin
            )
        )
    return made


def group_rows(outcome: Outcome, grouping: Grouping, adjust: tuple[str, ...]) -> pd.DataFrame:
    """Typical values at the conditions that every group met, so that they can be set side by side."""
    rows = []
    table, _ = common_ground(outcome.table, grouping.names, grouping.by, adjust)
    for name in grouping.names:
        own = table[table["group"] == name]
        censored = int((own["status"] != "exact").sum()) if outcome.column == "life" else 0
        rows.append(
            {
                "group": name,
                "outcome": outcome.name,
                "criterion": outcome.criterion,
                "zone": outcome.zone,
                "clock": outcome.clock,
                "cutters": len(own),
                "censored": censored,
                "estimate": _typical(own, outcome.column),
            }
        )
    return pd.DataFrame(rows)


def _typical(own: pd.DataFrame, column: str) -> float:
    """Geometric mean of a group; of lives with some still good the median of a lognormal fit; of walls the mean."""
    if own.empty:
        return math.nan
    if column == "value":
        return float(own["value"].mean())
    if column == "rate":
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
