"""Tool lives of a trial: at every criterion, on every clock, with status and bracket.

For a measured criterion an end is never an event: a cutter that stopped below the limit is censored at its last
reading. For the criterion named `end` the run's end is the event, if the reason is wear or size; a fracture censors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import ShownAsTable, records
from wearlab.life.crossing import Crossing, find_crossing
from wearlab.life.derived_clocks import DERIVED, on_derived_clock
from wearlab.life.series import Series, criterion_series
from wearlab.life.toollife import ToolLife
from wearlab.logbook.columns import CLOCK_NAMES
from wearlab.logbook.criterion import DEFAULTS_TEXT, Criterion, parse_criterion
from wearlab.logbook.criterion import END as END_CRITERION
from wearlab.logbook.findings import number_of
from wearlab.logbook.trial import Trial

RULE = (
    "mean of repeats, then over the flutes; monotone (isotonic) curve; first crossing of the limit on the straight "
    "line between two readings; a cutter not there yet is censored at its last reading"
)
EVENTS = {"worn": "worn", "size": "worn", "chipped": "fracture", "broken": "fracture"}
"""Reasons for an end that are events, and of which kind."""
MINUTES = "cutting_time_min"
PASS_FAIL = ("pass/fail", "go/no-go")
"""Units of a declared response that only says still good or past it."""


@dataclass(frozen=True, repr=False)
class ToolLives(ShownAsTable):
    """Lives of a trial, with the rule that made them and the criteria that were asked for."""

    lives: tuple[ToolLife, ...]
    criteria: tuple[Criterion, ...]
    clocks: tuple[str, ...]
    rule: str = RULE
    chosen: str = ""

    def to_frame(self) -> pd.DataFrame:
        """One row a cutter, criterion and clock; numeric, NaN and infinity where a number is missing or unbounded."""
        names = [field.name for field in fields(ToolLife)]
        return pd.DataFrame([[getattr(life, name) for name in names] for life in self.lives], columns=names)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"rule": self.rule, "lives": records(self.to_frame())}

    def select(self, criterion: Criterion | str, clock: str) -> pd.DataFrame:
        """Lives at one criterion (a record or its text) on one clock (its column or short name)."""
        table = self.to_frame()
        text = criterion if isinstance(criterion, str) else criterion.text
        column = CLOCK_NAMES.get(clock, clock)
        return table[(table["criterion"] == text) & (table["clock"] == column)].reset_index(drop=True)

    def __repr__(self) -> str:
        table = self.to_frame()
        counts = ", ".join(f"{count} {status}" for status, count in table["status"].value_counts().items())
        asked = number_of(len(self.criteria), "criterion", "criteria")
        return f"<ToolLives: {asked}, {number_of(len(self.clocks), 'clock')}; {counts}>"


def trial_criteria(trial: Trial, texts: Sequence[str] = ()) -> tuple[tuple[Criterion, ...], str]:
    """The criteria to use, and how they were chosen.

    Those that are asked for; else those of the trial file; else ISO 8688-2's pair where the log holds lands, and the
    end of the run where it does not.

    Parameters
    ----------
    trial : Trial
    texts : sequence of str
        As on the command line, or names from the trial file.

    Returns
    -------
    tuple of Criterion, str
        The criteria, and how they were chosen.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> criteria, how = trial_criteria(read_log(sample_path("nasa_milling")))
    >>> [one.text for one in criteria], how
    (['VB.mean=0.3mm', 'VB.worst=0.5mm'], 'default: ISO 8688-2 clause 7.4, from memory')
    """
    planned = {criterion.text: criterion for criterion in trial.settings.criteria}
    if texts:
        named = {criterion.name: criterion for criterion in planned.values()}
        directions = trial.settings.response_directions()
        chosen = [named.get(text) or planned.get(text) or parse_criterion(text, directions) for text in texts]
        return tuple(dict.fromkeys(chosen)), "asked for on the command line"
    if planned:
        return tuple(planned.values()), "from the trial file"
    if (trial.wear["measure"] == "VB").any():
        return tuple(parse_criterion(text) for text in DEFAULTS_TEXT), "default: ISO 8688-2 clause 7.4, from memory"
    return (END_CRITERION,), "default: the log holds no land, so the life ends when the run ends"


def criteria_of(trial: Trial, given: Criterion | str | Sequence[Criterion | str]) -> tuple[Criterion, ...]:
    """Criteria as they are given: records, texts, or names from the trial file; one or several.

    Raises
    ------
    ArgumentError
        A text is no criterion.
    """
    several = [given] if isinstance(given, Criterion | str) else given
    read = [one if isinstance(one, Criterion) else trial_criteria(trial, [one])[0][0] for one in several if one]
    return tuple(dict.fromkeys(read))


def tool_lives(
    trial: Trial,
    criteria: Criterion | str | Sequence[Criterion | str] = (),
    clocks: str | Sequence[str] = (),
) -> ToolLives:
    """Reduce a trial to tool lives.

    Parameters
    ----------
    trial : Trial
    criteria : Criterion, str, or a sequence of them, optional
        Records, texts such as `VB.mean=0.3mm`, or names from the trial file; those of `trial_criteria` when left out.
    clocks : str or sequence of str, optional
        Column names of clocks or their short names (min, cm3, parts, m), or `slid_m` (metres slid by the edge) or
        `cm3_per_mm` (volume per mm of radial width), which follow from minutes; all that the log holds when left out.

    Raises
    ------
    Refusal
        No row of the log can be used, or it holds none of the clocks.
    ArgumentError
        A criterion names a measure, zone or height that the log does not hold.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> lives = tool_lives(read_log(sample_path("groover_coated")), "VB=0.75mm", "min")
    >>> [round(life.life, 3) for life in lives.lives]
    [20.417, 10.0]
    """
    if trial.runs.empty:
        raise Refusal(
            "no row of the log can be used", where=trial.sources[0].name, hint="run `wearlab check` on it to see why"
        )
    wanted, chosen = (criteria_of(trial, criteria), "given") if criteria else trial_criteria(trial)
    used = _used_clocks(trial, [clocks] if isinstance(clocks, str) and clocks else clocks)
    lives: list[ToolLife] = []
    for criterion in wanted:
        typed = [clock for clock in used if clock not in DERIVED]
        lives += _on_clocks(trial, criterion, typed) if typed else []
        for clock in (one for one in used if one in DERIVED):
            lives += on_derived_clock(_on_clocks(trial, criterion, [MINUTES]), trial.facts(), clock)
    return ToolLives(tuple(lives), wanted, used, RULE, chosen)


def _used_clocks(trial: Trial, asked: Sequence[str]) -> tuple[str, ...]:
    held = trial.clocks()
    wanted = tuple(dict.fromkeys(word if word in DERIVED else trial.clock(word) for word in asked))
    missing = [clock for clock in wanted if clock not in held and clock not in DERIVED]
    if any(clock in DERIVED for clock in wanted) and MINUTES not in held:
        missing.append(MINUTES)
    if missing:
        raise Refusal(f"the log does not hold the clock {', '.join(missing)}", allowed=", ".join(held))
    return wanted or tuple(held)


def _on_clocks(trial: Trial, criterion: Criterion, clocks: Sequence[str]) -> list[ToolLife]:
    if criterion.measure == "end":
        return [_timed_end(row, clock) for clock in clocks for row in trial.runs.to_dict("records")]
    return _measured(trial, criterion, clocks)


def _measured(trial: Trial, criterion: Criterion, clocks: Sequence[str]) -> list[ToolLife]:
    series = criterion_series(trial, criterion)
    reasons = trial.runs.set_index("cutter")["end_reason"]
    response = trial.settings.responses.get(criterion.measure)
    only_good_or_past = response is not None and response.unit in PASS_FAIL
    return [
        _cross(one, criterion, clock, str(reasons[one.cutter]), only_good_or_past) for clock in clocks for one in series
    ]


def _cross(series: Series, criterion: Criterion, clock: str, reason: str, only_good_or_past: bool) -> ToolLife:
    looks = series.looks.dropna(subset=[clock]) if clock in series.looks else series.looks.iloc[:0]
    times, values = (
        looks[clock].to_numpy(float) if len(looks) else looks.index.to_numpy(float),
        looks["value"].to_numpy(float),
    )
    found = find_crossing(times, values, series.limit)
    status, low, high, why = _known(found, only_good_or_past)
    life = found.life if status == "exact" else math.nan
    cause = "worn" if status in ("exact", "interval", "left") else reason
    zone = criterion.zone or _zone_at(looks, times, found.bracket_high)
    return ToolLife(
        series.cutter,
        criterion.text,
        zone,
        clock,
        life,
        low,
        high,
        status,
        cause,
        found.bracket_low,
        found.bracket_high,
        found.first,
        found.last,
        why,
    )


def _known(found: Crossing, only_good_or_past: bool) -> tuple[str, float, float, str]:
    """Status, what is known of the life, and why there is none; a life without any use is none."""
    nan = math.nan
    if found.status == "exact" and found.bracket_high > 0:
        if only_good_or_past:
            return "interval", found.bracket_low, found.bracket_high, ""
        if found.life > 0:
            return "exact", found.life, found.life, ""
    if found.status == "left" and found.bracket_high > 0:
        return "left", 0.0, found.bracket_high, "already past the limit at the first reading"
    if found.status in ("exact", "left"):
        return "none", nan, nan, "past the limit before any use"
    if found.status == "none":
        return "none", nan, nan, "no reading of this measure"
    if found.bracket_low <= 0:
        return "none", nan, nan, "no reading after use began"
    fell_back = "the readings passed the limit and fell back below it: the monotone curve does not reach it"
    return "right", found.bracket_low, math.inf, fell_back if found.rules_disagree else "the limit was not reached"


def _zone_at(looks: pd.DataFrame, times: Any, when: float) -> str:
    """The zone that was worst when the limit was passed, or at the last reading."""
    if not len(looks):
        return ""
    at = int((times <= when).sum()) - 1 if math.isfinite(when) else len(looks) - 1
    return str(looks["zone"].iloc[max(at, 0)])


def _timed_end(run: dict[Any, Any], clock: str) -> ToolLife:
    at, reason = float(run[clock]), str(run["end_reason"])
    nan = math.nan
    event = EVENTS.get(reason, "")

    def life(value: float, low: float, high: float, status: str, cause: str, why: str = "") -> ToolLife:
        return ToolLife(str(run["cutter"]), "end", "", clock, value, low, high, status, cause, nan, nan, nan, nan, why)

    if not reason:
        return life(nan, nan, nan, "none", "", "the log does not say why this run ended")
    if not at > 0:
        return life(nan, nan, nan, "none", reason, "no use on this clock before the end")
    if event == "worn":
        return life(at, at, at, "exact", "worn")
    why = "broken or chipped before it was worn out" if event == "fracture" else f"taken out: {reason}"
    return life(nan, at, math.inf, "right", event or reason, why)
