"""What is left of a forecast once the log is there: known outcomes, shared blocks, gaps between looks."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.tables import plain
from wearlab.life.lives import tool_lives
from wearlab.logbook.trial import Trial
from wearlab.plan.chances import Precision, detectable
from wearlab.plan.layout import chances_left, precision, precision_left
from wearlab.plan.looks import look_cost
from wearlab.plan.plan import Plan
from wearlab.plan.sizes import contrasts_of, layout_of

KNOWN = ("exact", "interval", "left")
"""Statuses of a life that count as an outcome."""
TANGLING = ("block", "bar", "day", "machine")
"""Columns in which a practice must not stand alone."""


@dataclass(frozen=True, slots=True)
class AnswerCost:
    """What the departures leave of the forecast of one contrast.

    Attributes
    ----------
    a, b : str
    outcome : str
    planned, left_a, left_b : int
        Cutters a practice as planned, and those whose outcome is known.
    planned_blocks, left_blocks : int
        Blocks that hold both.
    planned_detectable, detectable : float
        Smallest ratio shown with the wanted chance; for walls the difference in um.
    planned_power, power : float
        Chance of showing the ratio that must not be missed.
    look_inflation : float
        Factor that the gaps between the looks that were made put on the variance, were lands not read but only judged
        good or past.
    why_none : str
        Why there will be no verdict at all; empty when there may be one.
    """

    a: str
    b: str
    outcome: str
    planned: int
    left_a: int
    left_b: int
    planned_blocks: int
    left_blocks: int
    planned_detectable: float
    detectable: float
    planned_power: float
    power: float
    look_inflation: float
    why_none: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready; an infinite ratio is null."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


def answer_costs(
    plan: Plan, trial: Trial, facts: pd.DataFrame, lives: dict[str, str]
) -> Iterable[AnswerCost]:
    """Forecast of every contrast with what is left of the cutters."""
    practices = [one.name for one in plan.request.practices]
    if len(practices) < 2:
        return
    known = {name for name, status in lives.items() if status in KNOWN}
    if plan.request.size.outcome == "wall":
        known = _with_walls(trial)
    standard = plan.request.standard
    pairs = (
        [(a, standard) for a in practices if a != standard]
        if standard
        else [(a, b) for at, a in enumerate(practices) for b in practices[at + 1 :]]
    )
    for a, b in pairs:
        yield _cost(plan, trial, facts, known, a, b)


def _cost(plan: Plan, trial: Trial, facts: pd.DataFrame, known: set[str], a: str, b: str) -> AnswerCost:
    size, contrasts = plan.request.size, contrasts_of(plan.request)
    layout = replace(layout_of(plan.request, plan.cutters, size.outcome), drop_out=0.0)
    ran = {str(name): str(facts.at[name, "strategy"]) if "strategy" in facts else "" for name in facts.index}
    block = {str(name): str(facts.at[name, "block"]) if "block" in facts else "" for name in facts.index}
    own = {side: [name for name in known if ran.get(name) == side and _main(plan, name)] for side in (a, b)}
    shared = {block[name] for name in own[a]} & {block[name] for name in own[b]} - {""}
    left = precision_left(layout, len(shared), len(own[a]), len(own[b]))
    wall = size.outcome == "wall"
    truth = float(size.wall_um or math.nan) if wall else math.log(size.ratio)
    margin = truth if wall else math.log(size.margin)
    full = chances_left(precision(layout), truth, margin, plan.level, contrasts)
    now = chances_left(left, truth, margin, plan.level, contrasts)
    return AnswerCost(
        a,
        b,
        size.outcome,
        plan.cutters,
        len(own[a]),
        len(own[b]),
        layout.shared,
        len(shared),
        _smallest(precision(layout), wall, size.power, plan.level, contrasts),
        math.inf if left is None else _smallest(left, wall, size.power, plan.level, contrasts),
        full.shown,
        now.shown,
        _inflation(plan, trial),
        _why_none(facts, ran, a, b, size.outcome, left is None),
    )


def _main(plan: Plan, name: str) -> bool:
    """Whether a cutter belongs to the comparison; one that was never planned counts by its practice."""
    run = next((one for one in plan.runs if one.cutter == name), None)
    return run is None or run.cutting_speed_m_min == plan.request.cutting_speed_m_min


def _with_walls(trial: Trial) -> set[str]:
    """Cutters whose walls were measured."""
    read = trial.walls[trial.walls["value_mm"].notna()] if len(trial.walls) else trial.walls
    return set(map(str, read["cutter"])) if "cutter" in read else set()


def _smallest(found: Precision, wall: bool, power: float, level: float, contrasts: int) -> float:
    smallest = detectable(found, power, level, contrasts)
    if wall:
        return smallest
    return math.exp(smallest) if smallest < 700 else math.inf


def _inflation(plan: Plan, trial: Trial) -> float:
    """Mean over the cutters of what the gaps of the looks that were made would add."""
    found = []
    for run in plan.runs:
        looks, (clock, made) = plan.looks_of(run), looks_made(trial, run.cutter)
        if looks is None or len(made) < 2:
            continue
        life = (
            looks.expected_life_min
            if clock != "parts"
            else looks.expected_life_min * looks.parts[0] / looks.minutes[0]
        )
        found.append(look_cost(made.tolist(), life, looks.sigma).inflation)
    return float(np.nanmean(found)) if found and not np.isnan(found).all() else math.nan


def _why_none(facts: pd.DataFrame, ran: dict[str, str], a: str, b: str, outcome: str, too_few: bool) -> str:
    """What will stand in the way of any verdict."""
    names = {side: [name for name, strategy in ran.items() if strategy == side] for side in (a, b)}
    for column in TANGLING:
        if column not in facts:
            continue
        levels = {side: {str(facts.at[name, column]) for name in own} for side, own in names.items()}
        for side, other in ((a, b), (b, a)):
            if (
                len(names[side]) > 1
                and len(levels[side]) == 1
                and not levels[side] & levels[other]
                and levels[side] != {""}
            ):
                level = levels[side].pop()
                return f"all of {side} ran in {column} {level} and none of {other}: they cannot be told apart"
    known = {"wall": "a wall that was measured"}.get(outcome, "a life")
    return f"fewer than three cutters a side have {known}" if too_few else ""


def lives_of(plan: Plan, trial: Trial) -> dict[str, str]:
    """Cutter -> status of its life at the plan's first criterion; none where the log does not hold its measure."""
    held = trial.clocks()
    if not held or trial.runs.empty:
        return {}
    clock = "cutting_time_min" if "cutting_time_min" in held else held[0]
    try:
        table = tool_lives(trial, [plan.criteria[0]], [clock]).to_frame()
    except WearlabError:
        return {}
    return dict(zip(table["cutter"].astype(str), table["status"], strict=True))


def looks_made(trial: Trial, cutter: str) -> tuple[str, np.ndarray]:
    """The looks of a cutter on parts, else on minutes; the new edge is none."""
    own = trial.wear[trial.wear["cutter"] == cutter]
    for clock in ("parts", "cutting_time_min"):
        times = own[clock].dropna().to_numpy(float) if clock in own else np.array([])
        times = np.unique(times[times > 0])
        if len(times):
            return clock, times
    return "parts", np.array([])
