"""Everything that a report needs, computed once from a trial; a question without an answer keeps its reason."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

import pandas as pd

from wearlab.compare.compare import Comparison, compare
from wearlab.compare.groups import make_groups
from wearlab.compare.groups import only as only_cutters
from wearlab.compare.outcomes import group_rows, outcome_tables
from wearlab.core.errors import ArgumentError, Refusal, WearlabError
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import natural_sorted
from wearlab.decide.decide import decide
from wearlab.decide.decision import Decision
from wearlab.fit.parameters import Parameter, parameters
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.life.lives import ToolLives, tool_lives, trial_criteria
from wearlab.logbook.columns import CLOCK_NAMES
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.plan.against import AgainstPlan
from wearlab.published.lookup import (
    PublishedComparison,
    PublishedValue,
    compare_with_published,
    exponents_for,
    published,
)
from wearlab.wear.curves import WearCurves, wear_curves
from wearlab.wear.rate import WearRates, wear_rates
from wearlab.words.units import check_units

T = TypeVar("T")

BREAK_INS_BESIDE = (0.0, 0.2)
"""Shares of a cutter's age left out at the start that rates are shown for beside the trial's own."""
UNGROUPED = "cutters"
"""The one group where the column that makes groups is not recorded."""


@dataclass(frozen=True, slots=True)
class PublishedCheck:
    """One figure of ours beside published rows.

    Attributes
    ----------
    quantity : str
        exponent, criterion or scatter.
    value : float
        Ours; NaN where there is none and the rows stand alone.
    interval : Interval or None
        Ours.
    criterion : str
        Text of the criterion that it belongs to.
    rows : tuple of PublishedValue
    comparisons : tuple of PublishedComparison
    """

    quantity: str
    value: float
    interval: Interval | None
    criterion: str
    rows: tuple[PublishedValue, ...]
    comparisons: tuple[PublishedComparison, ...]


@dataclass(frozen=True, slots=True)
class AtCriterion:
    """What follows from one criterion: each a result, or the refusal that stands in its place.

    `parts` holds the groups' typical lives in parts, where the log counts parts beside another clock.
    """

    criterion: Criterion
    lives: ToolLives | WearlabError
    fit: ToolLifeFit | WearlabError
    parameters: tuple[Parameter, ...]
    comparison: Comparison | WearlabError
    parts: pd.DataFrame | None = None


@dataclass(frozen=True, repr=False)
class Analysis:
    """A trial with all that a report says of it.

    Attributes
    ----------
    trial : Trial
        With the cutters that were chosen.
    whole : Trial
        As read.
    clock, by, standard, only, level, margin, units, seed
        Settings, as used.
    chosen : str
        How the criteria were chosen.
    curves : WearCurves
    rates : tuple of WearRates
        On the clock, up to the first criterion's limit: at the trial's break-in, then at 0 and 20 % beside it.
    groups : dict of str to str
        Cutter -> group, in the order of the log; one group `cutters` where the column is not recorded.
    at : tuple of AtCriterion
        One a criterion; the first carries the verdict.
    checks : tuple of PublishedCheck
    decision : Decision or WearlabError
        What the practices cost, or why that is not known.
    factors, held_n : tuple of str, float or None
        Factors of the equation that were asked for, and the exponent that was held.
    held : AgainstPlan or None
        The log held against its plan, where there is one.
    """

    trial: Trial
    whole: Trial
    clock: str
    by: str
    standard: str
    only: tuple[str, ...]
    level: float
    margin: float
    units: str
    seed: int
    chosen: str
    curves: WearCurves
    rates: tuple[WearRates, ...]
    groups: dict[str, str]
    at: tuple[AtCriterion, ...]
    checks: tuple[PublishedCheck, ...]
    decision: Decision | WearlabError = field(default_factory=lambda: Refusal("not worked out"))
    factors: tuple[str, ...] = ()
    held_n: float | None = None
    held: AgainstPlan | None = None

    @property
    def group_names(self) -> list[str]:
        """Groups in natural order."""
        return natural_sorted(set(self.groups.values()))

    @property
    def main(self) -> AtCriterion:
        """The criterion that carries the verdict."""
        return self.at[0]

    def _repr_html_(self) -> str:
        """The comparison at the criterion that carries the verdict, or why there is none."""
        from html import escape

        found = self.main.comparison
        shown = found._repr_html_() if isinstance(found, Comparison) else f"<p>{escape(found.message())}</p>"
        return f"<p>{escape(repr(self))}</p>\n{shown}"

    def __repr__(self) -> str:
        return f"<Analysis of {self.trial.name} by {self.by}: {len(self.at)} criteria on {self.clock}>"


def analyse(
    trial: Trial,
    *,
    criteria: Sequence[str] = (),
    clock: str = "",
    by: str = "strategy",
    standard: str = "",
    only: Sequence[str] = (),
    level: float | None = None,
    margin: float | None = None,
    units: str = "metric",
    seed: int | None = None,
    factors: Sequence[str] = (),
    held_n: float | None = None,
    held: AgainstPlan | None = None,
) -> Analysis:
    """Run lives, rates, fit, comparison and published checks on a trial.

    Parameters
    ----------
    trial : Trial
    criteria : sequence of str
        Texts or names of criteria; those of the trial file or the usual ones when left out. The first carries the
        verdict.
    clock : str
        Column name or short name of the clock; minutes where the log holds them, else the first it holds.
    by : str
        Column that makes the groups.
    standard : str
        Group with which all others are compared.
    only : sequence of str
        `column=value` texts that cutters must meet.
    level, margin : float, optional
        Confidence level and smallest ratio worth acting on; the trial file's when left out.
    units : str
        metric or inch.
    seed : int, optional
        The trial file's when left out.
    factors : sequence of str
        Factors of the equation; the comparison is adjusted for those that do not make its groups.
    held_n : float, optional
        Hold the Taylor exponent there instead of fitting it.
    held : AgainstPlan, optional
        The log held against its plan (`against_plan`), for the report to show.

    Returns
    -------
    Analysis
        Questions that the numbers cannot answer hold the error that says why.

    Raises
    ------
    ArgumentError
        An option names what does not exist.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> found = analyse(read_log(sample_path("nasa_milling")), by="work_material")
    >>> found.main.comparison.contrasts[0].verdict, str(found.main.fit).split(":")[0]
    ('different', 'Taylor exponent')
    """
    settings = trial.settings
    level = check_level(settings.level if level is None else level)
    margin = settings.margin if margin is None else margin
    chosen_trial = _with_cutters(trial, tuple(only))
    wanted, how = trial_criteria(trial, criteria)
    column = _clock(trial, clock)
    curves = wear_curves(chosen_trial)
    asked = _Asked(column, by, standard, level, margin, bool(criteria), tuple(factors), held_n)
    at = tuple(_at(chosen_trial, one, asked) for one in wanted)
    at = (_with_parts(chosen_trial, at[0], column), *at[1:])
    limit = wanted[0].limit if wanted[0].measure in ("VB", "VBmax") else None
    return Analysis(
        trial=chosen_trial,
        whole=trial,
        clock=column,
        by=by,
        standard=standard or settings.standard,
        only=tuple(only),
        level=level,
        margin=margin,
        units=check_units(units),
        seed=settings.seed if seed is None else seed,
        chosen=how,
        curves=curves,
        rates=_rates(curves, column, limit, settings.break_in),
        groups=_groups(chosen_trial, by),
        at=at,
        checks=_checks(chosen_trial, at),
        decision=_or_reason(
            lambda: decide(
                trial, [wanted[0]], column, by=by, choose=tuple(only), level=level, seed=seed
            )
        ),
        factors=tuple(factors),
        held_n=held_n,
        held=held,
    )


def _clock(trial: Trial, clock: str) -> str:
    held = trial.clocks()
    column = CLOCK_NAMES.get(clock, clock)
    if not column:
        return "cutting_time_min" if "cutting_time_min" in held or not held else held[0]
    if column not in CLOCK_NAMES.values():
        raise ArgumentError(f"clock {clock!r}", where="--clock", allowed=", ".join(CLOCK_NAMES))
    return column


def _with_cutters(trial: Trial, choices: tuple[str, ...]) -> Trial:
    """The trial with the chosen cutters alone; what was read and found stays as it was."""
    if not choices:
        return trial
    kept = set(only_cutters(trial.facts(), choices)["cutter"])

    def chosen(table: pd.DataFrame) -> pd.DataFrame:
        return table[table["cutter"].isin(kept)].reset_index(drop=True)

    return replace(
        trial,
        cutters=chosen(trial.cutters),
        runs=chosen(trial.runs),
        wear=chosen(trial.wear),
        walls=chosen(trial.walls),
        responses=chosen(trial.responses),
    )


def _rates(curves: WearCurves, clock: str, limit: float | None, break_in: float) -> tuple[WearRates, ...]:
    shares = dict.fromkeys((break_in, *BREAK_INS_BESIDE))
    return tuple(wear_rates(curves, clock, limit, share) for share in shares)


def _groups(trial: Trial, by: str) -> dict[str, str]:
    facts = trial.facts()
    column = by if by in facts else next((str(name) for name in facts if str(name).startswith(by)), "")
    cells = facts[column].map(group_label) if column else pd.Series("", index=facts.index)
    if (cells == "").all():
        return dict.fromkeys(map(str, facts["cutter"]), UNGROUPED)
    return dict(zip(map(str, facts["cutter"]), cells.replace("", f"no {column}"), strict=True))


def group_label(cell: object) -> str:
    """A cell of a column as the name of a group, as the comparison names it.

    >>> group_label(70.0), group_label("side"), group_label(float("nan"))
    ('70', 'side', '')
    """
    return f"{cell:g}" if isinstance(cell, float) and cell == cell else "" if cell != cell else str(cell)


def _or_reason(compute: Callable[[], T]) -> T | WearlabError:
    """The result; or the error that says why there is none, for the report to show."""
    try:
        return compute()
    except WearlabError as reason:
        return reason


@dataclass(frozen=True, slots=True)
class _Asked:
    """What was asked of every criterion."""

    clock: str
    by: str
    standard: str
    level: float
    margin: float
    criteria: bool
    factors: tuple[str, ...]
    held_n: float | None

    def beside(self) -> tuple[str, ...]:
        """Factors of the comparison: those of the equation that do not make the groups."""
        return tuple(name for name in self.factors if not self.by.startswith(name))


def _at(trial: Trial, criterion: Criterion, asked: _Asked) -> AtCriterion:
    lives = _or_reason(lambda: tool_lives(trial, [criterion]))
    if isinstance(lives, WearlabError):
        if asked.criteria and isinstance(lives, ArgumentError):
            raise lives
        return AtCriterion(criterion, lives, lives, (), lives)
    own = lives.select(criterion, asked.clock)
    fit = _or_reason(lambda: fit_tool_life(own, trial.facts(), asked.factors or None, asked.held_n))
    if isinstance(fit, ArgumentError) and (asked.factors or asked.held_n is not None):
        raise fit
    made = () if isinstance(fit, WearlabError) else parameters(fit, asked.level)
    try:
        comparison: Comparison | WearlabError = compare(
            trial, criterion, asked.clock, by=asked.by, standard=asked.standard, adjust=asked.beside(),
            margin=asked.margin, level=asked.level,
        )  # fmt: skip
    except Refusal as reason:
        comparison = reason
    return AtCriterion(criterion, lives, fit, made, comparison)


def _with_parts(trial: Trial, at: AtCriterion, clock: str) -> AtCriterion:
    """The same with typical lives in parts, which is what a shop counts in."""
    done = at.comparison
    if isinstance(done, WearlabError) or clock == "parts" or "parts" not in trial.clocks():
        return at
    grouping = make_groups(trial.facts(), done.by)
    found = _or_reason(lambda: outcome_tables(trial, grouping, at.criterion, "parts", ["life"]))
    return at if isinstance(found, WearlabError) else replace(at, parts=group_rows(found[0], grouping, ()))


def _checks(trial: Trial, at: tuple[AtCriterion, ...]) -> tuple[PublishedCheck, ...]:
    made = [_exponent(trial, at[0])]
    made += [check for one in at if (check := _criterion(one.criterion)) is not None]
    made += [check for check in (_scatter(trial, at[0]),) if check is not None]
    return tuple(made)


def _exponent(trial: Trial, at: AtCriterion) -> PublishedCheck:
    """n beside the tables for the cutter material, where all cutters share one."""
    rows = tuple(exponents_for(*_usual_cutter(trial)))
    n = next((one for one in at.parameters if one.name == "n" and math.isfinite(one.estimate)), None)
    if n is None or n.why_missing == "held, not fitted":
        return PublishedCheck("exponent", math.nan, None, at.criterion.text, rows, ())
    found = tuple(compare_with_published(n.estimate, rows, n.interval))
    return PublishedCheck("exponent", n.estimate, n.interval, at.criterion.text, rows, found)


def _usual_cutter(trial: Trial) -> tuple[str, str]:
    """Cutter material and coating, empty where not recorded or mixed."""
    words = []
    for name in ("cutter_material", "coating"):
        cells = trial.cutters[name].astype(object) if name in trial.cutters else pd.Series(dtype=object)
        held = [str(cell) for cell in cells.unique() if cell == cell and cell != ""]
        words.append(held[0] if len(held) == 1 else "")
    return words[0], words[1]


def _criterion(criterion: Criterion) -> PublishedCheck | None:
    """The limit beside those of the standards for the same statistic in milling."""
    if criterion.measure not in ("VB", "VBmax"):
        return None
    statistic = "worst" if criterion.measure == "VBmax" else criterion.statistic
    rows = tuple(row for row in published("criterion", quantity=f"VB.{statistic}") if "milling" in row.operation)
    found = tuple(compare_with_published(criterion.limit, rows))
    return PublishedCheck("criterion", criterion.limit, None, criterion.text, rows, found)


def _scatter(trial: Trial, at: AtCriterion) -> PublishedCheck | None:
    """Coefficient of variation of life about the equation, or between cutters of one group.

    sqrt(exp(sigma^2) - 1), exact for a lognormal life.
    """
    sigma = math.nan
    if not isinstance(at.fit, WearlabError):
        sigma = at.fit.sigma
    elif not isinstance(at.comparison, WearlabError):
        sigma = next((c.sigma for c in at.comparison.contrasts if c.outcome == "life"), math.nan)
    if not math.isfinite(sigma) or sigma <= 0:
        return None
    cv = math.sqrt(math.expm1(sigma**2))
    rows = tuple(published("scatter", quantity="coefficient of variation of tool life"))
    return PublishedCheck("scatter", cv, None, at.criterion.text, rows, tuple(compare_with_published(cv, rows)))
