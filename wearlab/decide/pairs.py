"""One cutter or a set: the cost of each practice with one cutter beside that of each set, and the break-even price."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from wearlab.core.tables import plain
from wearlab.decide.cost import demotion_money
from wearlab.decide.model import CostModel, age_used, operation_at
from wearlab.decide.shop import ShopCosts

REACH = 20.0
"""The price is looked for from this times lower to this times higher."""


@dataclass(frozen=True, slots=True)
class OneOrSet:
    """One cutter against a set, at the fitted lives, each at the change intervals that are best for it.

    Attributes
    ----------
    single, several : str
        The two practices.
    single_per_part, several_per_part : float
        Money a part.
    edge_now : float
        Money for one edge of the single cutter.
    break_even_edge : float
        Money for one edge of the single cutter at which both cost the same, the prices of the set held; NaN where
        `why_missing` says why.
    demoted_worth : float
        Money a part that worn finishers save as roughers; it is in `several_per_part`.
    cheaper : str
    """

    single: str
    several: str
    single_per_part: float
    several_per_part: float
    edge_now: float
    break_even_edge: float
    demoted_worth: float
    cheaper: str
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        facts = {name: getattr(self, name) for name in self.__slots__}
        return plain(facts | {"why_missing": self.why_missing or None})


def one_or_sets(models: Sequence[CostModel], shop: ShopCosts) -> tuple[OneOrSet, ...]:
    """Every practice with one cutter against every set; empty where the log holds only one kind.

    Notes
    -----
    The formulas of `one_or_two`, with what lives that scatter add: failures before the change, and an interval that
    moves with the price.
    """
    singles = [one for one in models if len(one.practice.members) == 1]
    sets = [one for one in models if len(one.practice.members) > 1]
    return tuple(_against(single, several, shop) for single in singles for several in sets)


def _against(single: CostModel, several: CostModel, shop: ShopCosts) -> OneOrSet:
    one, other = single.central_cost(shop), several.central_cost(shop)
    edge = single.practice.members[0].edge_cost
    factor, why = _break_even(single, other, shop)
    cheaper = single.practice.group if one <= other else several.practice.group
    return OneOrSet(
        single.practice.group, several.practice.group, one, other, edge, edge * factor, _demoted(several, shop),
        cheaper, why,
    )  # fmt: skip


def _break_even(single: CostModel, other: float, shop: ShopCosts) -> tuple[float, str]:
    """Times the price at which the single cutter costs as much as the set."""
    from scipy.optimize import brentq

    if single.practice.members[0].edge_cost == 0:
        return math.nan, "its edge costs nothing"

    def above(log_factor: float) -> float:
        return single.central_cost(shop, price=math.exp(log_factor)) - other

    span = math.log(REACH)
    if above(-span) >= 0:
        return math.nan, f"the single cutter is dearer even at a {REACH:g}th of its price"
    if above(span) <= 0:
        return math.nan, f"the single cutter is cheaper even at {REACH:g} times its price"
    return math.exp(float(brentq(above, -span, span, xtol=1e-10))), ""


def _demoted(several: CostModel, shop: ShopCosts) -> float:
    """Money a part saved by demotion at the fitted lives and the recommended intervals."""
    operations = [
        operation_at(member, age_used(member, change), draw.centre, draw.scatter, draw.fracture_centre)
        for member, draw, change in zip(several.practice.members, several.draws, several.intervals, strict=True)
    ]
    return float(demotion_money(operations, shop))
