"""Compare groups of cutters: every pair, or everything with a standard."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import pandas as pd

from wearlab.compare.beside import causes_of, interactions_of, shifts_of, with_interactions
from wearlab.compare.causes import Causes
from wearlab.compare.contrast import Contrast
from wearlab.compare.contrasts import Question, contrasts_of
from wearlab.compare.fair import Fairness, with_readers
from wearlab.compare.family import Family
from wearlab.compare.fractures import Fractures, fractures
from wearlab.compare.groups import Grouping, common_ground, make_groups, only
from wearlab.compare.interaction import Interaction
from wearlab.compare.outcomes import WALLS, Outcome, group_rows, outcome_tables, wall_outcomes
from wearlab.compare.predicted import zone_limits
from wearlab.compare.zone_shift import ZoneShift
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import check_level
from wearlab.core.tables import ShownAsTable, nearest, plain
from wearlab.fit.factors import factor_columns, resolve
from wearlab.life.derived_clocks import DERIVED
from wearlab.life.lives import criteria_of, trial_criteria
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial


@dataclass(frozen=True, repr=False)
class Comparison(ShownAsTable):
    """Contrasts of a trial at one criterion on one clock.

    Attributes
    ----------
    by : str
        Column that makes the groups.
    groups : pandas.DataFrame
        One row a group and outcome, at the conditions that every group met: `group`, `outcome`, `zone`, `cutters`,
        `estimate` (geometric mean; of lives the median of a lognormal fit), `censored`.
    values : pandas.DataFrame
        One row a cutter and outcome: what was compared.
    contrasts : tuple of Contrast
    fair : dict of (str, str) to Fairness
    left_out : tuple of (str, str)
        Cutters left out, and why.
    margin : float
        Smallest ratio worth acting on.
    fractures : Fractures
        Chipped and broken cutters by group.
    shifts : tuple of ZoneShift
        Whether wear moves along the edge, for each pair, where two zones were read.
    shift_refusal : str
        Why there are no shifts.
    causes : Causes or None
        Survival of each group, and what ended its cutters.
    interactions : tuple of Interaction
        The ratio within each material, where both groups were run in two or more.
    families : tuple of Family
        For each outcome: how the error is shared by its contrasts, and over what it is not held.
    wall_refusal : str
        Why walls that were read are not compared.
    """

    by: str
    criterion: str
    clock: str
    margin: float
    level: float
    groups: pd.DataFrame
    values: pd.DataFrame
    contrasts: tuple[Contrast, ...]
    fair: dict[tuple[str, str], Fairness]
    left_out: tuple[tuple[str, str], ...]
    fractures: Fractures
    shifts: tuple[ZoneShift, ...] = ()
    shift_refusal: str = ""
    causes: Causes | None = None
    interactions: tuple[Interaction, ...] = ()
    families: tuple[Family, ...] = ()
    wall_refusal: str = ""

    def to_frame(self) -> pd.DataFrame:
        """One row a contrast."""
        rows = []
        for contrast in self.contrasts:
            row = contrast.to_dict()
            row |= {"low": contrast.interval.low, "high": contrast.interval.high}
            predicted = contrast.predicted
            row |= {"predicted_low": predicted.low, "predicted_high": predicted.high} if predicted else {}
            del row["equivalence"], row["predicted"]
            row["notes"] = "; ".join(contrast.notes)
            rows.append(row)
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        made: dict[str, Any] = plain(
            {
                "by": self.by,
                "criterion": self.criterion,
                "clock": self.clock,
                "margin": self.margin,
                "groups": self.groups.to_dict("records"),
                "contrasts": [contrast.to_dict() for contrast in self.contrasts],
                "fair": [{"a": a, "b": b} | one.to_dict() for (a, b), one in self.fair.items()],
                "left_out": [{"cutter": cutter, "why": why} for cutter, why in self.left_out],
                "fractures": self.fractures.to_dict(),
                "zone_shifts": [one.to_dict() for one in self.shifts],
                "zone_shift_refusal": self.shift_refusal or None,
                "causes": self.causes.to_dict() if self.causes else None,
                "interactions": [one.to_dict() for one in self.interactions],
                "families": [one.to_dict() for one in self.families],
                "wall_refusal": self.wall_refusal or None,
            }
        )
        return made

    def __repr__(self) -> str:
        return f"<Comparison by {self.by}: {len(self.contrasts)} contrasts at {self.criterion} on {self.clock}>"


def compare(
    trial: Trial,
    criterion: Criterion | str = "",
    clock: str = "cutting_time_min",
    *,
    by: str = "strategy",
    standard: str = "",
    choose: Sequence[str] = (),
    adjust: Sequence[str] = (),
    outcomes: Sequence[str] = (),
    margin: float | None = None,
    level: float | None = None,
    wall_margin_um: float | None = None,
) -> Comparison:
    """Compare groups of cutters in tool life, in wear rate, and in what else is asked for.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion or str
        A record, a text such as `VB.mean=0.3mm`, or a name from the trial file; the trial's first when left out.
    clock : str
        Column name of the clock, or its short name (min, cm3, parts, m).
    by : str
        Column that makes the groups.
    standard : str
        Group with which all others are compared; every pair when empty.
    choose : sequence of str
        `column=value` texts that cutters must meet.
    adjust : sequence of str
        Factors that enter beside the group (numbers as ln).
    outcomes : sequence of str
        Of `outcomes.OUTCOMES`; life, rate and walls where the log allows when left out.
    margin, level : float, optional
        Smallest ratio worth acting on and confidence level; the trial file's when left out.
    wall_margin_um : float, optional
        Smallest difference of walls worth acting on; half the tolerance in the trial file when left out.

    Raises
    ------
    Refusal
        Fewer than two groups, or no outcome can be had.
    ArgumentError
        A word names no column, group or outcome.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> found = compare(trial, "VB=0.3mm", by="work_material", outcomes=["life"])
    >>> found.contrasts[0].a, found.contrasts[0].verdict
    ('cast iron', 'different')
    """
    margin = trial.settings.margin if margin is None else margin
    level = check_level(trial.settings.level if level is None else level)
    if not margin > 1:
        raise ArgumentError(f"margin {margin:g}", where="--margin", allowed="a ratio above 1, such as 1.25")
    criterion = (criteria_of(trial, criterion) or trial_criteria(trial)[0])[0]
    clock = clock if clock in DERIVED else trial.clock(clock)
    grouping = make_groups(only(trial.facts(), choose), by)
    columns = tuple(resolve(word, factor_columns(grouping.facts)) for word in adjust)
    # Readers are no factor and no group: nobody is to be ranked by them.
    grouping = replace(grouping, facts=with_readers(grouping.facts, trial))
    if wall_margin_um is not None and not wall_margin_um > 0:
        raise ArgumentError(f"margin {wall_margin_um:g}", where="--wall-margin-um", allowed="above 0, in um")
    tables = outcome_tables(trial, grouping, criterion, clock, outcomes, wall_margin_um)
    walls, wall_refusal = _walls_beside(trial, grouping, clock, wall_margin_um) if not outcomes else ([], "")
    tables += walls
    pairs = _pairs(grouping.names, standard or trial.settings.standard, strict=bool(standard))
    asked = Question(
        grouping.by, columns, margin, level, zone_limits(trial), _one_standard(pairs), trial.settings.seed
    )
    made = [contrasts_of(one, pairs, asked) for one in tables]
    contrasts = tuple(own[at] for at in range(len(pairs)) for own, _, _ in made)
    fair = {pair: next(just[pair] for _, _, just in made) for pair in pairs}
    left_out = grouping.left_out + tuple(pair for one in tables for pair in one.left_out)
    shifts, why = shifts_of(trial, criterion, grouping.facts, pairs, grouping.by, columns, clock, level)
    interactions = interactions_of(tables, pairs, grouping.by, columns, level)
    ground, _ = common_ground(grouping.facts, grouping.names, grouping.by, columns)
    return Comparison(
        grouping.by,
        criterion.text,
        clock,
        margin,
        level,
        pd.concat([group_rows(one, grouping, columns) for one in tables], ignore_index=True),
        pd.concat([one.table for one in tables], ignore_index=True),
        with_interactions(contrasts, interactions),
        fair,
        tuple(dict.fromkeys(left_out)),
        fractures(ground, grouping.names, level),
        shifts,
        why,
        causes_of(tables, grouping, columns, level),
        interactions,
        tuple(replace(family, not_held=_not_held(family, tables, interactions)) for _, family, _ in made),
        wall_refusal,
    )


def _walls_beside(
    trial: Trial, grouping: Grouping, clock: str, wall_margin_um: float | None
) -> tuple[list[Outcome], str]:
    """Walls where any was read, or why they cannot be compared; they are asked for by nobody and stop nothing."""
    if trial.walls.empty:
        return [], ""
    try:
        made = wall_outcomes(trial, grouping, clock, WALLS, wall_margin_um)
    except Refusal as refusal:
        return [], refusal.found
    return [one for one in made if one.table["group"].nunique() > 1], ""


def _one_standard(pairs: list[tuple[str, str]]) -> bool:
    return len(pairs) > 1 and len({b for _, b in pairs}) == 1


def _not_held(family: Family, tables: list[Outcome], interactions: tuple[Interaction, ...]) -> tuple[str, ...]:
    """Over what else was looked, so that the chance of a false alarm somewhere is larger than that of this family."""
    others = {one.name for one in tables} - {family.outcome}
    zones = sum(one.name == family.outcome for one in tables) > 1
    parts = [("outcomes", bool(others)), ("zones", zones), ("materials", bool(interactions))]
    return tuple(name for name, there in parts if there)


def _pairs(names: tuple[str, ...], standard: str, strict: bool) -> list[tuple[str, str]]:
    if standard and standard not in names:
        if strict:
            raise ArgumentError(
                f"no group {standard!r}", where="--standard", allowed=", ".join(names), hint=nearest(standard, names)
            )
        standard = ""
    if standard:
        return [(name, standard) for name in names if name != standard]
    return list(combinations(names, 2))
