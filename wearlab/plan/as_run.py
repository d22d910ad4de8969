"""Every planned run beside the run that was made: its turn, its looks, its end, and the settings that differ."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.tables import plain
from wearlab.logbook.trial import Trial
from wearlab.plan.answer_cost import looks_made
from wearlab.plan.blank_log import run_facts
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan

TOLERANCE = 0.02
"""Share by which a number may differ from the plan before it is said."""
SETTINGS = (
    "cutting_speed_m_min",
    "spindle_rpm",
    "feed_per_tooth_mm",
    "feed_rate_mm_min",
    "axial_depth_mm",
    "radial_width_mm",
    "strategy",
    "diameter_mm",
    "teeth",
    "work_material",
    "coolant",
    "overhang_mm",
)
SHARED = ("block", "bar", "day", "machine", "holder", "cutter_batch")


@dataclass(frozen=True, slots=True)
class Change:
    """One condition that was not as planned; `shared` tells what runs share from what is set."""

    cutter: str
    column: str
    planned: Any
    logged: Any
    shared: bool

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


@dataclass(frozen=True, slots=True)
class RunAsMade:
    """A planned run beside the log.

    Attributes
    ----------
    cutter, strategy, block : str
        As planned.
    planned_order : int
    run_order : float
        Turn in which it was really made; NaN where the log does not say.
    looks_due, looks_made : int
        Looks planned up to the cutter's last one, and those made.
    age : float
        Where the last look was, on `clock`; NaN where there was none.
    clock : str
        parts or cutting_time_min.
    end_reason : str
    status : str
        Of the life at the plan's first criterion; empty where the cutter is not in the log.
    """

    cutter: str
    strategy: str
    block: str
    planned_order: int
    run_order: float
    looks_due: int
    looks_made: int
    age: float
    clock: str
    end_reason: str
    status: str

    @property
    def in_log(self) -> bool:
        """Whether the cutter is in the log at all."""
        return self.status != ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


def runs_as_made(plan: Plan, trial: Trial, facts: pd.DataFrame, lives: dict[str, str]) -> Iterable[RunAsMade]:
    """One record a planned run, in the planned order.

    Parameters
    ----------
    plan : Plan
    trial : Trial
    facts : pandas.DataFrame
        `Trial.facts`, by cutter.
    lives : dict of str to str
        Cutter -> status of its life.
    """
    ends = dict(zip(trial.runs["cutter"].astype(str), trial.runs["end_reason"].astype(str), strict=True))
    for run in plan.runs:
        clock, made = looks_made(trial, run.cutter)
        here = run.cutter in facts.index
        yield RunAsMade(
            run.cutter,
            run.strategy,
            run.block,
            run.order,
            _number(facts, run.cutter, "run_order"),
            _due(plan, run, clock, made),
            len(made),
            float(made[-1]) if len(made) else math.nan,
            clock,
            ends.get(run.cutter, "") if ends.get(run.cutter, "") != "nan" else "",
            lives.get(run.cutter, "none") if here else "",
        )


def changes_of(plan: Plan, run: Run, logged: pd.Series) -> Iterable[Change]:
    """What the log says otherwise than the plan; what it leaves open is no change."""
    expected = run_facts(plan, run)
    for name in (*SETTINGS, *SHARED):
        if name not in expected or name not in logged.index:
            continue
        now, then = logged[name], expected[name]
        if now == "" or now != now:
            continue
        if _differs(now, then):
            yield Change(run.cutter, name, then, now, name in SHARED)


def _differs(now: Any, then: Any) -> bool:
    if isinstance(then, (int, float)):
        try:
            return abs(float(now) - then) > TOLERANCE * abs(then)
        except (TypeError, ValueError):
            return True
    return str(now) != str(then)


def _due(plan: Plan, run: Run, clock: str, made: np.ndarray) -> int:
    """Planned looks up to the last one that was made."""
    looks = plan.looks_of(run)
    if looks is None or not len(made):
        return 0
    planned = np.asarray(looks.parts if clock == "parts" else looks.minutes, dtype=float)
    return int((planned <= made[-1] * (1.0 + TOLERANCE)).sum())


def _number(facts: pd.DataFrame, cutter: str, column: str) -> float:
    if cutter not in facts.index or column not in facts:
        return math.nan
    try:
        return float(facts.loc[[cutter], column].iloc[0])
    except (TypeError, ValueError):
        return math.nan
