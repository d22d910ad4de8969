"""Plan against log: what was run otherwise than planned, and what that costs the answer."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.logbook.findings import Finding, number_of, sorted_findings
from wearlab.logbook.trial import Trial
from wearlab.plan.answer_cost import AnswerCost, answer_costs, lives_of, looks_made
from wearlab.plan.as_run import TOLERANCE, Change, RunAsMade, changes_of, runs_as_made
from wearlab.plan.looks import Looks
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan

LATE, WIDE = 1.5, 1.5
"""A first look later than this many times its plan, or a gap wider than this many times the planned one, is said."""
EARLY = ("withdrawn", "chipped", "broken", "pulled_out", "lost", "budget")
"""Ends that leave a life unfinished when the limit was not reached."""


@dataclass(frozen=True)
class AgainstPlan:
    """A log held against its plan.

    Attributes
    ----------
    findings : tuple of Finding
        Departures, in the form of `check`.
    costs : tuple of AnswerCost
        What is left of the forecast.
    run, not_run : tuple of str
        Planned cutters that are in the log, and those that are not.
    plan : str
        Name and mark of the plan.
    seed : int
    runs : tuple of RunAsMade
        Every planned run.
    changes : tuple of Change
        Conditions that were not as planned; each is a finding as well.
    """

    findings: tuple[Finding, ...]
    costs: tuple[AnswerCost, ...]
    run: tuple[str, ...]
    not_run: tuple[str, ...]
    plan: str = ""
    seed: int = 0
    runs: tuple[RunAsMade, ...] = ()
    changes: tuple[Change, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "findings": [one.to_dict() for one in self.findings],
            "costs": [one.to_dict() for one in self.costs],
            "run": list(self.run),
            "not_run": list(self.not_run),
            "plan": self.plan,
            "seed": self.seed,
            "runs": [one.to_dict() for one in self.runs],
            "changes": [one.to_dict() for one in self.changes],
        }


def against_plan(plan: Plan, trial: Trial) -> AgainstPlan:
    """Hold a log against its plan.

    Parameters
    ----------
    plan : Plan
    trial : Trial
        May be unfinished: cutters that have not run yet are a note.
    """
    facts = trial.facts().set_index("cutter")
    planned = {run.cutter: run for run in plan.runs}
    lives = lives_of(plan, trial)
    both = [name for name in planned if name in facts.index]
    changes = tuple(one for name in both for one in changes_of(plan, planned[name], facts.loc[[name]].iloc[0]))
    file = trial.sources[0].name
    findings = [
        *(_identity(plan, trial) if len(facts) else ()),
        *_who_ran(planned, [str(name) for name in facts.index]),
        *_order([planned[name] for name in both], facts),
        *(_settings(one) for one in changes),
        *(one for name in both for one in _looks(plan, planned[name], trial)),
        *_unread(plan, trial, both),
        *_ends(plan, trial, lives, both),
    ]
    return AgainstPlan(
        sorted_findings(replace(one, file=file) for one in findings),
        tuple(answer_costs(plan, trial, facts, lives)),
        tuple(both),
        tuple(name for name in planned if name not in facts.index),
        plan.trial_name,
        plan.request.seed,
        tuple(runs_as_made(plan, trial, facts, lives)),
        changes,
    )


def _identity(plan: Plan, trial: Trial) -> Iterable[Finding]:
    """Whether the log belongs to this plan, and the criteria are still the plan's."""
    if trial.name != plan.trial_name:
        named = f"[{plan.request.fingerprint}]" in trial.name
        if not named:
            yield Finding(
                "warning",
                "other_plan",
                f"the log says trial {trial.name!r}",
                allowed=plan.trial_name,
                column="trial",
                hint="Another plan, or this one changed after the log was made",
            )
    held = {one.text for one in trial.settings.criteria}
    for one in plan.criteria:
        if one.text not in held:
            yield Finding(
                "warning",
                "criterion_left_out",
                f"the plan's criterion {one.text} is not in the trial file",
                allowed=", ".join(c.text for c in plan.criteria),
                hint="A criterion that is chosen after the curves are seen proves little",
            )
    for text in sorted(held - {one.text for one in plan.criteria}):
        yield Finding(
            "warning",
            "criterion_added",
            f"the criterion {text} is not the plan's",
            hint="Report it as found by looking",
        )
    for name, now, then in (
        ("margin", trial.settings.margin, plan.request.size.margin),
        ("level", trial.settings.level, plan.level),
    ):
        if trial.settings.file and abs(now - then) > 1e-5:
            yield Finding(
                "warning",
                "decision_changed",
                f"{name} is {now:g} in the trial file",
                allowed=f"{then:g} in the plan",
            )


def _who_ran(planned: dict[str, Run], logged: Sequence[str]) -> Iterable[Finding]:
    for name in logged:
        if name not in planned:
            yield Finding(
                "warning",
                "not_in_plan",
                "this cutter is not in the plan",
                cutter=name,
                hint="Was a cutter swapped without a note, or its mark misread?",
            )
    missing = [name for name in planned if name not in logged]
    if missing:
        names = ", ".join(missing[:8]) + (f" and {len(missing) - 8} more" if len(missing) > 8 else "")
        yield Finding(
            "note", "not_run_yet", f"{number_of(len(missing), 'planned cutter')} not in the log: {names}"
        )


def _order(runs: Sequence[Run], facts: pd.DataFrame) -> Iterable[Finding]:
    """Order within blocks keeps practice and time apart; order of blocks matters less."""
    if "run_order" not in facts or facts["run_order"].isna().all():
        if runs:
            yield Finding(
                "note", "order_not_recorded", "the order of running is not in the log", column="run_order"
            )
        return
    orders = facts["run_order"].astype(float)
    real = {run.cutter: float(orders.loc[[run.cutter]].iloc[0]) for run in runs}
    known = [run for run in runs if not math.isnan(real[run.cutter])]
    for block in dict.fromkeys(run.block for run in known):
        own = [run for run in known if run.block == block]
        ran = sorted(own, key=lambda run: real[run.cutter])
        if [run.cutter for run in ran] != [run.cutter for run in own]:
            words = f"block {block}" if block else "the trial"
            yield Finding(
                "warning",
                "out_of_order",
                f"{words} ran {', '.join(run.cutter for run in ran)}",
                cutter=ran[0].cutter,
                column="run_order",
                allowed=", ".join(run.cutter for run in own),
                hint="An order that somebody chose lets warm-up, wear of the machine or haste look like a practice",
            )
    firsts = {
        block: min(real[run.cutter] for run in known if run.block == block)
        for block in dict.fromkeys(r.block for r in known)
    }
    if sorted(firsts, key=lambda block: firsts[block]) != list(firsts):
        yield Finding(
            "note",
            "blocks_out_of_order",
            f"blocks ran in the order {', '.join(sorted(firsts, key=lambda b: firsts[b]))}",
            column="run_order",
            allowed=", ".join(firsts),
        )


def _settings(change: Change) -> Finding:
    return Finding(
        "warning",
        "changed_share" if change.shared else "changed_setting",
        f"{change.column} is {_text(change.logged)}",
        cutter=change.cutter,
        column=change.column,
        allowed=f"{_text(change.planned)} in the plan",
        hint="Blocks and holders keep practices apart from what they shared"
        if change.shared
        else "The comparison holds for what was run; the plan's match may be lost",
    )


def _text(cell: Any) -> str:
    return f"{cell:g}" if isinstance(cell, float) else repr(str(cell)) if isinstance(cell, str) else str(cell)


def _looks(plan: Plan, run: Run, trial: Trial) -> Iterable[Finding]:
    looks = plan.looks_of(run)
    clock, made = looks_made(trial, run.cutter)
    if looks is None or not len(made):
        return
    planned = np.asarray(looks.parts if clock == "parts" else looks.minutes, dtype=float)
    unit = "parts" if clock == "parts" else "min"
    if made[0] > LATE * planned[0]:
        yield Finding(
            "warning",
            "first_look_late",
            f"the first look was at {made[0]:g} {unit}",
            cutter=run.cutter,
            column=clock,
            allowed=f"{planned[0]:g} {unit} in the plan",
            hint="Break-in was not seen; the rate takes it in",
        )
    # A late first look is said once, above.
    due = planned[(planned >= made[0] * (1 - TOLERANCE)) & (planned <= made[-1] * (1 + TOLERANCE))]
    missing = [float(at) for at in due if np.min(np.abs(made - at)) > max(0.5 * _gap(planned, at), 1e-9)]
    if missing:
        yield Finding(
            "warning",
            "missing_look",
            f"{number_of(len(missing), 'planned look')} not made, near {_few(missing)} {unit}",
            cutter=run.cutter,
            column=clock,
            hint="The life between two looks is the less certain the further they are apart",
        )


def _gap(planned: np.ndarray, at: float) -> float:
    """The narrower gap beside a planned look."""
    gaps = np.abs(planned - at)
    return float(np.min(gaps[gaps > 0])) if (gaps > 0).any() else 0.0


def _few(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values[:6]) + (" ..." if len(values) > 6 else "")


def _unread(plan: Plan, trial: Trial, names: Sequence[str]) -> Iterable[Finding]:
    """Zones and flutes that a look left out."""
    wanted = {(zone, str(flute)) for zone in plan.zones for flute in range(1, plan.request.cutter.teeth + 1)}
    read = trial.wear[(trial.wear["measure"] == "VB") & trial.wear["value_mm"].notna()]
    for name in names:
        own = read[read["cutter"] == name]
        looks = [
            set(zip(look["zone"].astype(str), look["flute"].astype(str), strict=True))
            for _, look in own.groupby("inspection")
        ]
        missing = sum(len(wanted - found) for found in looks)
        if missing:
            yield Finding(
                "note",
                "not_read",
                f"{number_of(missing, 'planned land')} not read at {number_of(len(looks), 'look')}",
                cutter=name,
                column="value",
            )


def _ends(plan: Plan, trial: Trial, lives: dict[str, str], names: Sequence[str]) -> Iterable[Finding]:
    for row in trial.runs[trial.runs["cutter"].isin(names)].itertuples():
        name, reason = str(row.cutter), str(row.end_reason)
        status = lives.get(name, "none")
        run = next(one for one in plan.runs if one.cutter == name)
        if status in ("right", "none") and reason in EARLY:
            share = _share_of_life(plan.looks_of(run), float(getattr(row, "cutting_time_min", math.nan)))
            yield Finding(
                "warning",
                "ended_early",
                f"ended {reason}{share} before the limit {plan.criteria[0].text} was reached",
                cutter=name,
                column="end_reason",
                hint="It counts as lasting at least so long, not as a life",
            )
        elif status in ("right", "none") and not reason:
            yield Finding(
                "note",
                "still_running",
                "no end, and the limit is not reached",
                cutter=name,
                column="end_reason",
            )


def _share_of_life(looks: Looks | None, minutes: float) -> str:
    if looks is None or not math.isfinite(minutes):
        return ""
    return f" at {100 * minutes / looks.expected_life_min:.0f} % of the expected life"
