"""Carry on or stop: what is known after a block, at the limits that the plan has fixed.

A look is made only where the plan has one, on complete blocks only, and every look is written down: `record_look` keeps
a list beside the plan. The interval of a look is the repeated confidence interval (at the level that the look may use),
so that a difference called at any look is wrong in no more than the plan's share of trials. Giving up early for want
of a chance costs no false alarm (it is never bound to be followed).
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pandas as pd

from wearlab.compare.compare import compare
from wearlab.compare.contrast import Contrast
from wearlab.core.errors import FileProblem, Refusal
from wearlab.core.tables import plain
from wearlab.logbook.findings import number_of
from wearlab.logbook.trial import Trial
from wearlab.plan.layout import Layout, precision
from wearlab.plan.plan import Plan
from wearlab.plan.sizes import contrasts_of, layout_of
from wearlab.plan.spending import Look
from wearlab.stats.value_of_information import WorthOfMore, worth_of_more

ADVICE = ("stop_shown", "stop_unlikely", "carry_on", "finished")
LEDGER = ("look", "blocks", "nominal", "advice", "log", "sha256")
"""Columns of the list of looks."""


@dataclass(frozen=True, slots=True)
class PairStanding:
    """One contrast at a look.

    Attributes
    ----------
    contrast : Contrast
        Its interval is the repeated confidence interval of the look.
    shown : bool
        Whether that interval excludes no difference.
    z : float
        The contrast's p as a standard normal value, with the sign of the estimate.
    if_planned, if_seen, if_none : float
        Chance that the whole trial shows a difference, if the true ratio is the one that must not be missed (in the
        direction seen), the one seen, or 1; NaN at the last look (Lan and Wittes's B-value,
        from memory; approximate for few blocks).
    worth : tuple of WorthOfMore
        What 1, 2, 5 more cutters a practice are worth for choosing the better one, in ln of the outcome.
    """

    contrast: Contrast
    shown: bool
    z: float
    if_planned: float
    if_seen: float
    if_none: float
    worth: tuple[WorthOfMore, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "contrast": self.contrast.to_dict(),
                "shown": self.shown,
                "z": self.z,
                "if_planned": self.if_planned,
                "if_seen": self.if_seen,
                "if_none": self.if_none,
                "worth": [
                    {"more": w.more, "expected": w.expected, "certainty": w.certainty} for w in self.worth
                ],
            }
        )
        return made


@dataclass(frozen=True)
class Standing:
    """What is known at a look.

    Attributes
    ----------
    look : Look
        Its limits.
    blocks : tuple of str
        Complete blocks that were used.
    cutters : tuple of str
    pairs : tuple of PairStanding
    advice : str
        stop_shown, stop_unlikely, carry_on or finished.
    waiting : tuple of str
        Cutters of the log that belong to no complete block of this look and were left out.
    """

    look: Look
    blocks: tuple[str, ...]
    cutters: tuple[str, ...]
    pairs: tuple[PairStanding, ...]
    advice: str
    waiting: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "look": self.look.to_dict(),
            "blocks": list(self.blocks),
            "cutters": list(self.cutters),
            "pairs": [one.to_dict() for one in self.pairs],
            "advice": self.advice,
            "waiting": list(self.waiting),
        }


def only_cutters(trial: Trial, names: Iterable[str]) -> Trial:
    """The trial of some cutters alone."""
    kept = set(names)

    def own(frame: pd.DataFrame) -> pd.DataFrame:
        return frame[frame["cutter"].isin(kept)].reset_index(drop=True)

    return replace(
        trial,
        cutters=own(trial.cutters),
        runs=own(trial.runs),
        wear=own(trial.wear),
        walls=own(trial.walls),
        responses=own(trial.responses) if "cutter" in trial.responses else trial.responses,
    )


def complete_blocks(plan: Plan, trial: Trial) -> list[str]:
    """Blocks of the comparison whose cutters have all ended, in the order of the plan.

    A trial without blocks is counted off in rounds: the first cutters of every practice, the second ones, and so on.
    """
    ended = set(trial.runs["cutter"][trial.runs["end_reason"].astype(str) != ""])
    members = _members(plan)
    return [block for block, names in members.items() if set(names) <= ended]


def carry_on(plan: Plan, trial: Trial) -> Standing:
    """Look at the verdict at the last planned look that the log has come to.

    Parameters
    ----------
    plan : Plan
    trial : Trial

    Raises
    ------
    Refusal
        The plan has no looks before the end, or the log has not come to the first of them: then nothing is shown.
    """
    if plan.interim is None:
        raise Refusal(
            "the plan has no looks at the verdict before the end",
            where="carry on or stop",
            hint="state them under [interim] before the trial begins; afterwards is too late",
        )
    done, looks = complete_blocks(plan, trial), plan.interim.boundaries.looks
    due = [look for look in looks if look.pairs <= len(done)]
    if not due:
        raise Refusal(
            f"{number_of(len(done), 'block')} complete",
            where="carry on or stop",
            allowed=f"the first look is after {looks[0].pairs}",
            hint="nothing was shown, so nothing was spent: finish the block and look then",
        )
    look = due[-1]
    used = done[: look.pairs]
    names = tuple(name for block in used for name in _members(plan)[block])
    pairs = tuple(_standing(plan, look, one) for one in _contrasts(plan, only_cutters(trial, names), look))
    waiting = tuple(name for name in trial.runs["cutter"].astype(str) if name not in names)
    return Standing(look, tuple(used), names, pairs, _advice(plan, look, pairs), waiting)


def conditional_power(z: float, share: float, drift: float, limit: float) -> float:
    """Chance that |z| at the end exceeds the limit, given z at a share of the information.

    Parameters
    ----------
    z : float
        Now.
    share : float
        Of the information, above 0, up to 1.
    drift : float
        True difference in standard errors of the whole trial.
    limit : float
        For |z| at the end.

    Notes
    -----
    B = z sqrt(share) moves to the end with drift (1 - share) and variance 1 - share (K. K. G. Lan and J. Wittes,
    Biometrics 44 (1988) 579, from memory).

    Examples
    --------
    >>> round(conditional_power(1.0, 0.5, 2.8, 1.96), 3)
    0.582
    """
    from scipy.special import ndtr

    if share >= 1.0:
        return float(abs(z) > limit)
    middle, rest = z * math.sqrt(share) + drift * (1.0 - share), math.sqrt(1.0 - share)
    return float(ndtr((middle - limit) / rest) + ndtr((-middle - limit) / rest))


def record_look(path: Path, standing: Standing, trial: Trial) -> str:
    """The list of looks with this one added, as text; the same look at the same log is listed once.

    Raises
    ------
    FileProblem
        The list is there and is none.
    """
    rows = read_looks(path)
    source = trial.sources[0]
    row = {
        "look": str(standing.look.number),
        "blocks": str(len(standing.blocks)),
        "nominal": f"{standing.look.nominal:.6g}",
        "advice": standing.advice,
        "log": source.name,
        "sha256": source.sha256,
    }
    if row not in rows:
        rows.append(row)
    out = io.StringIO()
    writer = csv.DictWriter(out, LEDGER, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def read_looks(path: Path) -> list[dict[str, str]]:
    """Looks that were made so far; none when there is no list."""
    if not path.is_file():
        return []
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    if any(set(row) != set(LEDGER) for row in rows):
        raise FileProblem("not a list of looks", where=str(path), allowed=f"columns {', '.join(LEDGER)}")
    return rows


def _members(plan: Plan) -> dict[str, list[str]]:
    """Cutters of the comparison by block (by round where there are no blocks)."""
    speeds = {(arm.name, arm.cutting_speed_m_min) for arm, _ in plan.speed_arms}
    main_speed = plan.request.cutting_speed_m_min
    own = [run for run in plan.runs if run.cutting_speed_m_min == main_speed]
    found: dict[str, list[str]] = {}
    seen: dict[str, int] = {}
    practices = {one.name for one in plan.request.practices}
    for run in own:
        seen[run.strategy] = seen.get(run.strategy, 0) + 1
        found.setdefault(run.block or f"round {seen[run.strategy]}", []).append(run.cutter)
    if (plan.request.reference.name, main_speed) in speeds:
        # A Taylor trial at the same speed has blocks of its own, in which the other practices do not run.
        by_name = {run.cutter: run.strategy for run in own}
        found = {
            block: names for block, names in found.items() if {by_name[name] for name in names} == practices
        }
    return found


def _contrasts(plan: Plan, trial: Trial, look: Look) -> Sequence[Contrast]:
    size = plan.request.size
    level = 1.0 - look.nominal * contrasts_of(plan.request)
    found = compare(
        trial,
        plan.criteria[0],
        _clock(trial),
        standard=plan.request.standard,
        outcomes=[size.outcome],
        margin=size.margin,
        level=level,
    )
    contrasts = [one for one in found.contrasts if not one.exploratory]
    if not contrasts:
        raise Refusal(
            f"the criterion {plan.criteria[0].text} names no zone, and {size.outcome} was read in several",
            where="carry on or stop",
            hint="a plan that looks before the end decides on one zone, such as lower:VB.mean=0.2mm",
        )
    return contrasts


def _clock(trial: Trial) -> str:
    held = trial.clocks()
    return "cutting_time_min" if "cutting_time_min" in held or not held else held[0]


def _standing(plan: Plan, look: Look, contrast: Contrast) -> PairStanding:
    shown = bool(contrast.interval.unbounded != "both" and not contrast.interval.contains(1.0))
    if look.share >= 1.0 or not math.isfinite(contrast.p_value) or not contrast.estimate > 0:
        return PairStanding(contrast, shown, math.nan, math.nan, math.nan, math.nan)
    z = _z(contrast)
    limit = _limit(plan)
    error = _final_error(plan)
    sign = math.copysign(1.0, z)
    drifts = (sign * math.log(plan.request.size.ratio) / error, math.log(contrast.estimate) / error, 0.0)
    if_planned, if_seen, if_none = (conditional_power(z, look.share, drift, limit) for drift in drifts)
    sigma = contrast.sigma if contrast.sigma > 0 else math.nan
    worth = tuple(
        worth_of_more(abs(math.log(contrast.estimate)), sigma, min(contrast.n_a, contrast.n_b), more)
        for more in (1, 2, 5)
        if math.isfinite(sigma)
    )
    return PairStanding(contrast, shown, z, if_planned, if_seen, if_none, worth)


def _z(contrast: Contrast) -> float:
    from scipy.special import ndtri

    p = min(max(contrast.p_value, 1e-15), 1.0)
    return math.copysign(-float(ndtri(p / 2.0)), math.log(contrast.estimate))


def _limit(plan: Plan) -> float:
    from scipy.special import ndtri

    assert plan.interim is not None
    return -float(ndtri(plan.interim.boundaries.looks[-1].nominal / 2.0))


def _final_error(plan: Plan) -> float:
    layout: Layout = replace(layout_of(plan.request, plan.cutters, plan.request.size.outcome), drop_out=0.0)
    return precision(layout).error


def _advice(plan: Plan, look: Look, pairs: Sequence[PairStanding]) -> str:
    assert plan.interim is not None
    if look.number == len(plan.interim.boundaries.looks):
        return "finished"
    if pairs and all(one.shown for one in pairs):
        return "stop_shown"
    open_ones = [one.if_planned for one in pairs if not one.shown and math.isfinite(one.if_planned)]
    if open_ones and max(open_ones) < plan.interim.give_up_below:
        return "stop_unlikely"
    return "carry_on"
