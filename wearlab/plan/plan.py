"""The plan: everything that follows from a request, drawn once and for all by its seed."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from wearlab.core.errors import ArgumentError, FileProblem, WearlabError
from wearlab.core.tables import ShownAsTable, plain
from wearlab.logbook.criterion import Criterion, parse_criterion
from wearlab.plan.budget import ArmUse, Budget, arm_use, blocks_over_a_bar, budget
from wearlab.plan.by_simulation import Simulated, life_power, rate_power
from wearlab.plan.interim import Interim, plan_interim
from wearlab.plan.layout import Layout
from wearlab.plan.looks import Looks, plan_looks, weigh_looks
from wearlab.plan.matched import Arm, MatchedPlan, at_speed, match_practices, zones_of
from wearlab.plan.needs import Need, needs_of
from wearlab.plan.order import Run, Treatment, make_order, shared_blocks
from wearlab.plan.request import Request
from wearlab.plan.request_file import read_request, record_request
from wearlab.plan.scatter import sigma_of_cv
from wearlab.plan.sizes import FEWEST, SHOWN, PowerRow, contrasts_of, cutters_for, layout_of, power_rows
from wearlab.plan.speeds import SpeedChoice, choose_speeds, given_speeds
from wearlab.plan.stop_rule import Budget as Tolerance
from wearlab.plan.stop_rule import SizeLimit, doubts, roughing_criteria, size_limit
from wearlab.plan.study import StudySheet, study_sheet

if TYPE_CHECKING:
    import pandas as pd

SCHEMA = "wearlab.plan/1"
SIMULATED, FEWEST_SIMULATED, LARGE = 2000, 100, 20
"""Trials simulated for the size of a plan; fewer from so many cutters a practice on, and never under so few."""
SIMULATION_SEED = 20260414


@dataclass(frozen=True, repr=False)
class Plan(ShownAsTable):
    """A trial before its first chip.

    Attributes
    ----------
    request : Request
    matched : MatchedPlan
        Arms and how they compare.
    criteria : tuple of Criterion
        Every criterion, the one that decides first.
    limit : SizeLimit or None
        From the drawing.
    cutters : int
        Cutters a practice.
    power : tuple of PowerRow
        Forecast of every outcome at several sizes.
    budgets : tuple of Budget
        What those sizes use up.
    speeds : SpeedChoice or None
        Of the Taylor trial.
    speed_arms : tuple of (Arm, int)
        Its arms and their cutters.
    looks : dict of (str, float) to Looks
        By practice and speed; missing without an expected life.
    runs : tuple of Run
    interim : Interim or None
        Limits for looking at the verdict before the end.
    study : StudySheet
    zones : dict of str to (float, float)
    doubts : tuple of str
        What is possible and still asks for a second look.
    """

    request: Request
    matched: MatchedPlan
    criteria: tuple[Criterion, ...]
    limit: SizeLimit | None
    cutters: int
    power: tuple[PowerRow, ...]
    budgets: tuple[Budget, ...]
    speeds: SpeedChoice | None
    speed_arms: tuple[tuple[Arm, int], ...]
    looks: dict[tuple[str, float], Looks]
    runs: tuple[Run, ...]
    interim: Interim | None
    study: StudySheet
    zones: dict[str, tuple[float, float]]
    doubts: tuple[str, ...]

    @property
    def trial_name(self) -> str:
        """What the log's column `trial` says: the name, and the figures that tell one plan from another."""
        return f"{self.request.name} [{self.request.fingerprint}]"

    @property
    def level(self) -> float:
        """Confidence level of the verdict at the end: what looking early has left of it."""
        if self.interim is None:
            return self.request.size.level
        return 1.0 - self.interim.boundaries.looks[-1].nominal * contrasts_of(self.request)

    def arm_of(self, run: Run) -> Arm:
        """Practice and settings of a run."""
        for arm, _ in self.speed_arms:
            if (arm.name, arm.cutting_speed_m_min) == (run.strategy, run.cutting_speed_m_min):
                return arm
        return self.matched.arm(run.strategy)

    def looks_of(self, run: Run) -> Looks | None:
        """Planned looks of a run."""
        return self.looks.get((run.strategy, run.cutting_speed_m_min))

    def simulated(self) -> dict[str, Simulated]:
        """Power at the size of the plan, withdrawn cutters kept as such: where the closed form is none.

        Worked out when it is asked for: whoever only holds a log against the plan need not wait for it.
        """
        return _simulated(self.request, self.cutters) if len(self.request.practices) > 1 else {}

    def looks_weighed(self) -> tuple[tuple[int, Looks], ...]:
        """The standard's cutters looked at less and more often; none without an expected life."""
        arm = self.matched.arm(self.request.reference.name)
        planned = self.looks.get((arm.name, arm.cutting_speed_m_min))
        if planned is None:
            return ()
        return weigh_looks(planned, arm.minutes_a_part, self.request.looks.first)

    def needs(self) -> tuple[Need, ...]:
        """What every question takes, the deciding one among them; none without two practices."""
        return needs_of(self.request, self.cutters) if len(self.request.practices) > 1 else ()

    def forecast(self, outcome: str = "") -> PowerRow | None:
        """Forecast of an outcome (the one that decides) at the size of the plan."""
        wanted = outcome or self.request.size.outcome
        return next((row for row in self.power if (row.outcome, row.cutters) == (wanted, self.cutters)), None)

    def to_frame(self) -> pd.DataFrame:
        """One row a run, in the order in which they are to be made."""
        from wearlab.plan.sheets import run_table

        return run_table(self)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        made: dict[str, Any] = plain(
            {
                "name": self.request.name,
                "fingerprint": self.request.fingerprint,
                "seed": self.request.seed,
                "question": self.request.question,
                "standard": self.request.standard,
                "cutters": self.cutters,
                "criteria": [{"name": one.name, "text": one.text} for one in self.criteria],
                "size_limit": None if self.limit is None else self.limit.to_dict(),
                "runs": [self._run(run) for run in self.runs],
                "rule": self.matched.rule,
                "matched": [row for one in self.matched.fair for row in one.rows(True)],
                "unmatched": [row for one in self.matched.fair for row in one.rows(False)],
                "not_compared": [row for one in self.matched.fair for row in one.rows(None)],
                "predicted": [
                    {
                        "a": one.a,
                        "b": one.b,
                        "zone": zone,
                        "clock": "cutting_time_min",
                        "low": low,
                        "high": high,
                    }
                    for one in self.matched.fair
                    for zone, (low, high) in one.predicted.items()
                ],
                "power": [row.to_dict() for row in self.power],
                "simulated": [
                    {"outcome": name, "cutters": self.cutters, "truth": self.request.size.ratio}
                    | one.to_dict()
                    for name, one in self.simulated().items()
                ],
                "needs": [one.to_dict() for one in self.needs()],
                "budgets": [one.to_dict() for one in self.budgets],
                "speeds": None if self.speeds is None else self.speeds.to_dict(),
                "looks": [
                    {"strategy": name, "cutting_speed_m_min": speed} | one.to_dict()
                    for (name, speed), one in self.looks.items()
                ],
                "looks_weighed": [{"per_life": count} | one.to_dict() for count, one in self.looks_weighed()],
                "level": self.level,
                "interim": None if self.interim is None else self.interim.to_dict(),
                "study": self.study.to_dict(),
                "zones": {name: list(limits) for name, limits in self.zones.items()},
                "doubts": list(self.doubts),
                "request": self.request.to_dict(),
            }
        )
        return made

    def json_text(self) -> str:
        """The plan file that the log refers to."""
        return json.dumps({"schema": SCHEMA} | self.to_dict(), indent=1, ensure_ascii=False) + "\n"

    def _run(self, run: Run) -> dict[str, Any]:
        looks = self.looks_of(run)
        return run.to_dict() | self.arm_of(run).facts() | {"looks_parts": list(looks.parts) if looks else []}

    def __repr__(self) -> str:
        return f"<Plan {self.trial_name}: {len(self.runs)} runs, {self.cutters} cutters a practice>"


def make_plan(request: Request) -> Plan:
    """Work a plan out.

    Parameters
    ----------
    request : Request

    Returns
    -------
    Plan
        The same request gives the same plan, to the byte.

    Raises
    ------
    Refusal
        A practice is impossible, no size within reach answers the question, or the tolerance leaves no room for wear.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> plan = make_plan(request_of(tomllib.loads(EXAMPLE)))
    >>> plan.cutters, len(plan.runs), plan.runs[0].block
    (6, 12, '1')
    """
    matched = match_practices(request)
    limit, criteria = _criteria(request)
    cutters = _cutters(request)
    speeds, speed_arms = _speeds(request, matched)
    looks = _looks(request, [*matched.arms, *(arm for arm, _ in speed_arms)])
    uses = [
        arm_use(arm, looks.get((arm.name, arm.cutting_speed_m_min)), request.money) for arm in matched.arms
    ]
    more = [
        (arm_use(arm, looks.get((arm.name, arm.cutting_speed_m_min)), request.money), n)
        for arm, n in speed_arms
    ]
    sizes = sorted({cutters, *(size for size in SHOWN if size <= request.size.most)} - {0})
    several = len(request.practices) > 1
    return Plan(
        request=request,
        matched=matched,
        criteria=criteria,
        limit=limit,
        cutters=cutters,
        power=tuple(power_rows(request, sizes)) if several else (),
        budgets=tuple(budget(uses, size, request.money, more) for size in (sizes if several else [cutters])),
        speeds=speeds,
        speed_arms=speed_arms,
        looks=looks,
        runs=_runs(request, cutters, speed_arms),
        interim=plan_interim(request, cutters),
        study=study_sheet(request.study, np.random.default_rng([request.seed, 2])),
        zones=zones_of(request, matched.arms),
        doubts=(
            *matched.doubts,
            *(doubts(limit) if limit else ()),
            *_of_bars(request, uses),
            *_of_blocks(request, cutters),
        ),
    )


def read_plan(path: str | Path) -> Plan:
    """A plan from its request (TOML), or from the plan file that was written of it (JSON).

    The order of a written plan is kept as it was written, whatever a later version would draw.

    Raises
    ------
    FileProblem
        The file is neither.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from wearlab.plan.example import EXAMPLE
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "shoulder.toml"
    ...     _ = path.write_text(EXAMPLE, encoding="utf-8")
    ...     read_plan(path)
    <Plan shoulder [...]: 12 runs, 6 cutters a practice>
    """
    path = Path(path)
    if path.suffix.lower() != ".json":
        return make_plan(read_request(path))
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise FileProblem(f"cannot be read ({error.strerror})", where=str(path)) from None
    except ValueError as error:
        raise FileProblem(f"not JSON ({error})", where=str(path)) from None
    if not isinstance(data, Mapping) or data.get("schema") != SCHEMA:
        raise FileProblem("not a plan", where=str(path), allowed=f"a file whose schema is {SCHEMA}")
    try:
        made = make_plan(record_request(data["request"]))
        runs = tuple(Run(**{name: one[name] for name in Run.__slots__}) for one in data["runs"])
    except (KeyError, TypeError, ValueError) as error:
        reason = error.message() if isinstance(error, WearlabError) else f"{type(error).__name__} {error}"
        raise FileProblem(f"not a whole plan ({reason})", where=str(path), hint="write it again") from None
    return replace(made, runs=runs)


def _criteria(request: Request) -> tuple[SizeLimit | None, tuple[Criterion, ...]]:
    stated = [parse_criterion(text).as_planned(name) for name, text in request.criteria]
    limit = None
    if request.tolerance:
        given = dict(request.tolerance)
        zone = str(given.pop("zone", "lower"))
        facts = request.cutter_facts
        if "relief_deg" not in facts or "tolerance_mm" not in given:
            raise ArgumentError(
                "no tolerance_mm under [tolerance], or no relief_deg under [cutter]",
                where="plan",
                hint="a wear limit from the drawing needs both",
            )
        limit = size_limit(
            Tolerance(
                relief_deg=float(facts["relief_deg"]), rake_deg=float(facts.get("rake_deg", 0.0)), **given
            ),
            zone,
        )
        stated.append(limit.criterion)
    return limit, tuple(stated) or roughing_criteria()


def _cutters(request: Request) -> int:
    if request.size.cutters is not None:
        return request.size.cutters
    if len(request.practices) > 1:
        return cutters_for(request)
    if request.speeds is not None:
        return 0
    raise ArgumentError(
        "one practice, and no number of cutters",
        where="plan",
        hint="add a practice, [speeds], or [size] cutters",
    )


def _speeds(request: Request, matched: MatchedPlan) -> tuple[SpeedChoice | None, tuple[tuple[Arm, int], ...]]:
    wanted = request.speeds
    if wanted is None:
        return None, ()
    arm = matched.arm(wanted.practice)
    known: dict[str, Any] = {"expected_life_min": arm.expected_life_min, "at_m_min": arm.cutting_speed_m_min}
    n, sigma = request.scatter.taylor_n, sigma_of_cv(request.scatter.cv)
    if wanted.speeds_m_min:
        counts = wanted.counts or (max(wanted.cutters // len(wanted.speeds_m_min), 1),) * len(
            wanted.speeds_m_min
        )
        design = given_speeds(wanted.speeds_m_min, counts, n, sigma, **known)
        choice = SpeedChoice(design, (design,))
    else:
        choice = choose_speeds(
            wanted.lowest_m_min,
            wanted.highest_m_min,
            wanted.cutters,
            n,
            sigma,
            shortest_life_min=wanted.shortest_life_min,
            **known,
        )
    chosen = choice.chosen
    arms = [at_speed(request, arm, speed) for speed in chosen.speeds_m_min]
    return choice, tuple(zip(arms, chosen.counts, strict=True))


def _looks(request: Request, arms: list[Arm]) -> dict[tuple[str, float], Looks]:
    wanted, sigma = request.looks, sigma_of_cv(request.scatter.cv)
    return {
        (arm.name, arm.cutting_speed_m_min): plan_looks(
            arm.expected_life_min,
            sigma,
            arm.minutes_a_part,
            per_life=wanted.per_life,
            first=wanted.first,
            stop_min=wanted.minutes,
        )
        for arm in arms
        if arm.expected_life_min is not None
    }


def _simulated(request: Request, cutters: int) -> dict[str, Simulated]:
    """Power of the comparison as it will really be made, at the size of the plan."""
    if cutters < FEWEST:
        return {}
    size = request.size
    level = 1.0 - (1.0 - size.level) / contrasts_of(request)
    lives, rates = (layout_of(request, cutters, outcome) for outcome in ("life", "rate"))
    return dict(_simulated_layouts(lives, rates, size.ratio, level))


@lru_cache(maxsize=32)
def _simulated_layouts(
    lives: Layout, rates: Layout, ratio: float, level: float
) -> tuple[tuple[str, Simulated], ...]:
    """The simulation does not hang on the seed of the order, so that plans of one size say the same."""
    runs = SIMULATED
    if lives.cutters > LARGE:  # a fit of so many blocks takes long, and the closed forms are as good there
        runs = max(round(SIMULATED * (LARGE / lives.cutters) ** 3), FEWEST_SIMULATED)
    return (
        ("life", life_power(lives, ratio, level, runs=runs, rng=SIMULATION_SEED)),
        ("rate", rate_power(rates, ratio, level, runs=runs, rng=SIMULATION_SEED)),
    )


def _runs(request: Request, cutters: int, speed_arms: tuple[tuple[Arm, int], ...]) -> tuple[Run, ...]:
    main = [Treatment(one.name, request.cutting_speed_m_min) for one in request.practices]
    speeds = [(Treatment(arm.name, arm.cutting_speed_m_min, "speed"), count) for arm, count in speed_arms]
    return make_order(
        main if cutters else [], cutters, request.blocks, speeds, np.random.default_rng([request.seed, 1])
    )


def _of_blocks(request: Request, cutters: int) -> tuple[str, ...]:
    """What blocks without room for every practice cost the comparison."""
    count, holds = len(request.practices), request.blocks.holds
    if not request.blocks.use or holds is None or holds >= count or not cutters:
        return ()
    shared = shared_blocks(count, request.blocks, cutters)
    return (
        f"a block has room for {holds} of {count} practices: of {cutters * count // holds} blocks each pair meets in "
        f"{shared}, and only these compare it within a block; a larger block, or fewer practices, would tell more",
    )


def _of_bars(request: Request, uses: list[ArmUse]) -> tuple[str, ...]:
    bars = (
        blocks_over_a_bar(uses, request.money.bar_cm3) if request.blocks.use and request.blocks.bars else None
    )
    if bars is None or not math.isfinite(bars) or bars <= 1.0:
        return ()
    return (
        f"one block takes {bars:.1f} bars: bars cut from one length of one heat, or blocks that hold fewer runs",
    )
