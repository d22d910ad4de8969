"""What each question takes: cutters for life, wear rate, equivalence, wall error, and for the Taylor exponent."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from wearlab.core.tables import plain
from wearlab.plan.order import balanced
from wearlab.plan.request import Request
from wearlab.plan.sizes import FEWEST, PowerRow, outcomes_of, power_row

MOST = 200
"""Cutters a practice up to which a size is looked for."""


@dataclass(frozen=True, slots=True)
class Need:
    """One question beside the size of the plan.

    Attributes
    ----------
    question : str
        different or alike.
    outcome : str
        life, rate or wall.
    truth : float
        True ratio (for walls the difference in um) that is to be shown; the margin within which practices are alike.
    chance : float
        At the size of the plan.
    detectable : float
        Smallest ratio (difference) usually shown at that size; NaN for alike.
    cutters : int or None
        Cutters a practice that give the wanted chance; None = more than 200.
    """

    question: str
    outcome: str
    truth: float
    chance: float
    detectable: float
    cutters: int | None

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready; an infinite ratio is null."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


def needs_of(request: Request, cutters: int) -> tuple[Need, ...]:
    """Every question that the request allows, at its size and at the size that it would take.

    Parameters
    ----------
    request : Request
        With at least two practices.
    cutters : int
        Cutters a practice of the plan.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> found = needs_of(request_of(tomllib.loads(EXAMPLE)), 6)
    >>> [(one.question, one.outcome, one.cutters) for one in found]
    [('different', 'life', 6), ('alike', 'life', 33), ('different', 'rate', 6), ('alike', 'rate', 33)]
    """
    made = []
    for outcome in outcomes_of(request):
        now = power_row(request, cutters, outcome)
        shown = Need("different", outcome, now.truth, now.power, now.detectable, _least(request, outcome, _shown))
        made.append(shown)
        margin = now.truth if outcome == "wall" else request.size.margin
        made.append(Need("alike", outcome, margin, now.alike_power, math.nan, _least(request, outcome, _alike)))
    return tuple(made)


def _shown(row: PowerRow) -> float:
    return row.power


def _alike(row: PowerRow) -> float:
    return row.alike_power


def _least(request: Request, outcome: str, chance: Callable[[PowerRow], float]) -> int | None:
    """Smallest size with the wanted chance, lost cutters allowed for.

    The chance jumps where incomplete blocks change the analysis, so every size is walked through; lost cutters only
    make it smaller, so they are reckoned with where it suffices without any.
    """
    none_lost = replace(request, scatter=replace(request.scatter, drop_out=0.0))
    for cutters in range(FEWEST, MOST + 1):
        if not balanced(len(request.practices), request.blocks, cutters):
            continue
        if all(chance(power_row(one, cutters, outcome)) >= request.size.power for one in (none_lost, request)):
            return cutters
    return None
