"""The land at which to change, for every practice of a decision whose wear was read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import ArgumentError
from wearlab.decide.condition_rule import ConditionRule, looked_at
from wearlab.decide.decision import Decision
from wearlab.decide.practices import criterion_for, practices_of
from wearlab.life.lives import trial_criteria
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial


@dataclass(frozen=True, slots=True)
class PracticeCondition:
    """The rule of one cutter of a practice."""

    group: str
    role: str
    criterion: Criterion
    parts: int
    rule: ConditionRule | None
    why_missing: str

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "group": self.group,
            "role": self.role,
            "criterion": self.criterion.text,
            "look_every_parts": self.parts,
            "rule": None if self.rule is None else self.rule.to_dict(),
            "why_missing": self.why_missing or None,
        }


def condition_rules(trial: Trial, decision: Decision, parts: int) -> tuple[PracticeCondition, ...]:
    """Rules for cutters that are looked at every so many parts.

    Parameters
    ----------
    trial : Trial
    decision : Decision
        Made from it.
    parts : int
        Parts between two looks.

    Raises
    ------
    ArgumentError
        Fewer than one part.
    """
    if parts < 1:
        raise ArgumentError(f"{parts} parts", where="--look-every", allowed="1 or more")
    criteria = trial_criteria(trial, decision.criteria)[0]
    found = practices_of(
        trial, criteria, decision.clock, decision.shop, by=decision.by, choose=decision.chosen
    )
    made = []
    for practice in found.practices:
        for member in practice.members:
            criterion = criterion_for(member.role, criteria)
            cutters = member.lives["cutter"].tolist()
            rule, why = looked_at(trial, criterion, decision.clock, parts * member.clock_per_part, cutters)
            made.append(PracticeCondition(practice.group, member.role, criterion, parts, rule, why))
    return tuple(made)
