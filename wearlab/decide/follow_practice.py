"""Following up one practice of a trial: its lives, costs and expected fractures, put to the records in service."""

from __future__ import annotations

import math

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.change_interval import costs_of_change
from wearlab.decide.decision import Decision
from wearlab.decide.follow import FollowUp, follow
from wearlab.decide.model import fracture_centres
from wearlab.decide.practices import Member, Practice, practices_of
from wearlab.life.lives import trial_criteria
from wearlab.logbook.trial import Trial
from wearlab.stats.lives import Lives


def follow_practice(
    trial: Trial,
    decision: Decision,
    log: Trial,
    practice: str = "",
    *,
    role: str = "",
    interval_parts: int | None = None,
    readings: tuple[str, float] | None = None,
    draws: int = 2000,
) -> FollowUp:
    """Hold records in service against the interval that a trial's decision gave.

    Parameters
    ----------
    trial : Trial
    decision : Decision
        Made from it.
    log : Trial
        Records in service: one `end` row a cutter with its parts and reason is enough.
    practice : str
        The decision's choice when left out.
    role : str
        Which cutter of a set.
    interval_parts : int, optional
        Adopted interval; the decision's when left out.
    readings : (str, float), optional
        Measure and pin (NaN where it has none) to hold against limits that slope along the cutter's age.
    draws : int

    Raises
    ------
    Refusal
        No practice was chosen, it has no interval, or the log counts no parts.
    ArgumentError
        A set has no cutter of that role.
    """
    name = practice or decision.choice
    if not name:
        raise Refusal(f"no practice was chosen: {decision.why_no_choice}", where="follow-up", hint="name it")
    decision.practice(name)
    found = practices_of(
        trial, trial_criteria(trial, decision.criteria)[0], decision.clock, decision.shop, by=decision.by,
        choose=decision.chosen,
    )  # fmt: skip
    own = next(one for one in found.practices if one.group == name)
    member = _member(own, role)
    if not own.parts_known:
        raise Refusal("the trial counts no parts", where="follow-up")
    parts = interval_parts or _recommended(decision, name, member.role)
    rate = fracture_centres([_member(one, member.role) for one in found.practices if _has(one, member.role)])
    at = [one.group for one in found.practices if _has(one, member.role)].index(name)
    shop = decision.shop
    planned, failed = costs_of_change(
        member.edge_cost, shop.figure("change_min"), shop.figure("machine_per_min"),
        shop.figure("failure") + shop.figure("scrap"),
    )  # fmt: skip
    lives = Lives(member.lives["low"] / member.clock_per_part, member.lives["high"] / member.clock_per_part)
    return follow(
        lives, log, parts, planned, failed, group=name, by=decision.by,
        fracture_share=-math.expm1(-rate[at] * parts * member.clock_per_part), readings=readings, trial=trial,
        draws=draws, rng=np.random.default_rng(decision.seed),
    )  # fmt: skip


def _has(practice: Practice, role: str) -> bool:
    return any(member.role == role for member in practice.members)


def _member(practice: Practice, role: str) -> Member:
    if len(practice.members) == 1 and not role:
        return practice.members[0]
    for member in practice.members:
        if member.role == role:
            return member
    raise ArgumentError(
        f"no cutter with the role {role!r} in {practice.group}", where="role",
        allowed=", ".join(member.role or "(none)" for member in practice.members),
    )  # fmt: skip


def _recommended(decision: Decision, group: str, role: str) -> int:
    for name, change in decision.practice(group).changes:
        if name == role:
            if not change.parts:
                raise Refusal(change.why_missing or "no whole parts", where="follow-up", hint="give --interval")
            return change.parts
    raise Refusal(decision.practice(group).why_missing, where="follow-up", hint="give --interval")
