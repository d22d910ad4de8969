"""Cost of every practice as a function of plausible lives: the lives are fitted once, the money is worked out on draws.

Cutters of one role are fitted together, one level a practice and one scatter for all: with few cutters a pooled scatter
is what makes the stated chances true. For the money the levels are weighed by what is believed beforehand of how
practices differ (`between`); for the change interval they are not, so that no practice's interval leans on another's.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from wearlab.core.errors import Refusal
from wearlab.decide.age_replacement import age_law, best_age
from wearlab.decide.between import weigh
from wearlab.decide.change_interval import ChangeInterval, costs_of_change, draw_laws, interval_from, tame
from wearlab.decide.cost import ITEMS, Operation, cost_items, demotion_money
from wearlab.decide.practices import Member, Practice
from wearlab.decide.shop import ShopCosts
from wearlab.stats.censored import LifeRegression
from wearlab.stats.lives import Lives

AGES = 2000
"""Draws, of those for the money, over which the best age is looked for."""
WEIGHT = 0.5
"""Fractures that the fracture rate of all practices together counts for beside a practice's own."""


@dataclass(frozen=True)
class LifeDraws:
    """Plausible lives of one member: location and sigma of lognormal ln life, and fractures a unit of the clock."""

    location: np.ndarray
    sigma: np.ndarray
    fracture_rate: np.ndarray
    centre: float
    scatter: float
    fracture_centre: float


@dataclass(frozen=True)
class CostModel:
    """One practice, ready to be priced.

    Attributes
    ----------
    practice : Practice
    draws : tuple of LifeDraws
        One a member.
    intervals : tuple of ChangeInterval
        One a member.
    reliability : float or None
        Share of cutters that outlasts the interval, where that is the rule; None where it is least cost.
    """

    practice: Practice
    draws: tuple[LifeDraws, ...]
    intervals: tuple[ChangeInterval, ...]
    reliability: float | None = None

    def items(self, shop: ShopCosts) -> dict[str, Any]:
        """Draws of money a part by item when cutters are changed at the recommended intervals."""
        return self._items(shop, [
            operation_at(member, age_used(member, interval), draw.location, draw.sigma, draw.fracture_rate)
            for member, draw, interval in zip(self.practice.members, self.draws, self.intervals, strict=True)
        ])  # fmt: skip

    def costs(self, shop: ShopCosts) -> np.ndarray:
        """Draws of money a part when cutters are changed at the interval that suits each draw.

        This is what the practice itself costs once its interval has been found in service, and what a choice between
        practices is judged by: at one fixed interval a practice of long lives could look dear only because a few
        cutters had not shown how long they last. The scatter of lives is held at its estimate: all practices share it,
        and with three cutters a side a few draws of a far larger one would make up most of the expected loss
        (tests/bench/calibration_decide.py).
        """
        operations = []
        for member, draw in zip(self.practice.members, self.draws, strict=True):
            ages = self._own_ages(member, draw, shop)
            operations.append(operation_at(member, ages, draw.location, draw.scatter, draw.fracture_rate))
        items = self._items(shop, operations)
        size = len(self.draws[0].location)
        return np.asarray(sum(np.broadcast_to(items[name], size) for name in ITEMS), dtype=float)

    def central_cost(
        self, shop: ShopCosts, *, life: float = 1.0, price: float = 1.0, minutes: float = 1.0, member_moved: int = -1
    ) -> float:
        """Money a part at the fitted lives, the change intervals being made best again.

        `life`, `price` and `minutes` multiply the lives (of one member where `member_moved` names it), the edges'
        prices and the machine minutes a part.
        """
        operations = []
        for at, (member, draw) in enumerate(zip(self.practice.members, self.draws, strict=True)):
            edge = member.edge_cost * price
            centre = draw.centre + (math.log(life) if member_moved in (-1, at) else 0.0)
            if self.reliability is None:
                age = math.exp(centre) * _age_of_unit_life(draw.scatter, *_changes(edge, shop))
            else:
                age = float(age_law("lognormal").quantile(1.0 - self.reliability, centre, draw.scatter))
            one = operation_at(member, age, centre, draw.scatter, draw.fracture_centre)
            operations.append(
                replace(
                    one, edge_cost=edge, cutting_min=one.cutting_min * minutes, other_min=one.other_min * minutes
                )
            )
        items = self._items(shop, operations)
        return float(sum(items[name] for name in ITEMS))

    def cutter_scatter(self, shop: ShopCosts) -> float:
        """Standard deviation of the cost a part that one further cutter of each member points to."""
        step = 1.05
        parts = []
        for at, draw in enumerate(self.draws):
            longer, shorter = (
                self.central_cost(shop, life=life, member_moved=at) for life in (step, 1.0 / step)
            )
            parts.append((longer - shorter) / (2 * math.log(step)) * draw.scatter)
        return math.sqrt(sum(part**2 for part in parts))

    def _items(self, shop: ShopCosts, operations: list[Operation]) -> dict[str, Any]:
        items = cost_items(operations, shop)
        items["edges"] = items["edges"] - demotion_money(operations, shop)
        if self.practice.drilled:
            items["drill"] = shop.figure("drill")
        return items

    def _own_ages(self, member: Member, draw: LifeDraws, shop: ShopCosts) -> np.ndarray:
        """The change age that suits each draw, in whole parts where parts are counted."""
        # Ages move with the life: what suits a life of one suits any other times that life.
        if self.reliability is not None:
            age = float(age_law("lognormal").quantile(1.0 - self.reliability, 0.0, draw.scatter))
        else:
            age = _age_of_unit_life(draw.scatter, *_changes(member.edge_cost, shop))
        ages = np.exp(draw.location) * age
        if not self.practice.parts_known:
            return ages
        whole = np.maximum(np.floor(ages / member.clock_per_part), 1.0) * member.clock_per_part
        return np.asarray(np.where(np.isinf(ages), math.inf, whole))


def _changes(edge: float, shop: ShopCosts) -> tuple[float, float]:
    lost = shop.figure("failure") + shop.figure("scrap")
    return costs_of_change(edge, shop.figure("change_min"), shop.figure("machine_per_min"), lost)


@lru_cache(maxsize=4096)
def _age_of_unit_life(scatter: float, planned: float, failed: float) -> float:
    """Cheapest age where the median life is one: a life so many times as long has one so many times as late."""
    return best_age("lognormal", 0.0, scatter, planned, failed).age


def age_used(member: Member, interval: ChangeInterval) -> float:
    """Age of the recommended change: whole parts where there are any, else the interval as it is."""
    return interval.parts * member.clock_per_part if interval.parts else interval.interval


def operation_at(member: Member, age: Any, location: Any, sigma: Any, fracture_rate: Any) -> Operation:
    """The work of one member when it is changed at an age or when it fails; arrays of draws give arrays.

    Fractures come on top at a rate that does not depend on age, each with an edge and a change of its own.
    """
    law = age_law("lognormal")
    if np.all(np.isinf(age)):
        use, failing = law.mean_life(location, sigma), 1.0
    else:
        use, failing = law.mean_use(age, location, sigma), 1.0 - law.survival(age, location, sigma)
    each = member.clock_per_part
    return Operation(
        member.role, member.cutting_min, member.other_min, member.edge_cost,
        each * (1.0 / use + fracture_rate), each * (failing / use + fracture_rate),
    )  # fmt: skip


def cost_models(
    practices: tuple[Practice, ...], shop: ShopCosts, clock: str, *, rule: str, reliability: float, confidence: float,
    draws: int, rng: np.random.Generator,
) -> tuple[list[CostModel], list[tuple[str, str]]]:  # fmt: skip
    """Fit the lives of every role and make each practice ready to be priced.

    Returns
    -------
    models : list of CostModel
    without : list of (str, str)
        Practices that cannot be priced, and why.
    """
    without = [(one.group, why) for one in practices if (why := _why_not(one))]
    usable = [one for one in practices if one.group not in dict(without)]
    if not usable:
        reasons = "; ".join(f"{group}: {why}" for group, why in without)
        raise Refusal(f"no practice can be priced ({reasons})", where="decision")
    pieces: dict[tuple[str, str], tuple[LifeDraws, ChangeInterval]] = {}
    for role in dict.fromkeys(member.role for one in usable for member in one.members):
        pieces |= _role(
            [(one.group, member) for one in usable for member in one.members if member.role == role],
            shop, clock, rule, reliability, confidence, draws, rng,
        )  # fmt: skip
    models = []
    for one in usable:
        own = [pieces[one.group, member.role] for member in one.members]
        share = reliability if rule == "reliability" else None
        models.append(CostModel(one, tuple(piece[0] for piece in own), tuple(piece[1] for piece in own), share))
    return models, without


def _why_not(practice: Practice) -> str:
    for member in practice.members:
        if member.failures == 0:
            who = f"the {member.role} cutters" if member.role else "its cutters"
            return f"none of {who} reached {member.criterion}, so how long they last is not known"
    return ""


def _role(
    members: list[tuple[str, Member]], shop: ShopCosts, clock: str, rule: str, reliability: float, confidence: float,
    draws: int, rng: np.random.Generator,
) -> dict[tuple[str, str], tuple[LifeDraws, ChangeInterval]]:  # fmt: skip
    """Lives and intervals of one role over all practices."""
    index = [at for at, (_, member) in enumerate(members) for _ in range(len(member.lives))]
    X = np.eye(len(members))[index]
    low = np.concatenate([member.lives["low"].to_numpy(float) for _, member in members])
    high = np.concatenate([member.lives["high"].to_numpy(float) for _, member in members])
    lives = Lives(low, high)
    drawn = draw_laws(X, lives, draws, rng)
    fit, beta, sigma = next((one.fit, one.beta, one.sigma) for one in drawn if one.fit.distribution == "lognormal")
    kept = weigh(beta, sigma, rng)
    few = tuple(replace(one, beta=one.beta[:AGES], sigma=one.sigma[:AGES]) for one in drawn)
    rates, centres = _fracture_rates([member for _, member in members], len(sigma), rng)
    made = {}
    for at, (group, member) in enumerate(members):
        location, scatter = tame(beta[kept, at], sigma[kept], float(fit.beta[at]), _corrected(fit))
        planned, failed = _changes(member.edge_cost, shop)
        interval = interval_from(
            few, np.eye(len(members))[at], planned, failed, clock=clock, clock_per_part=member.clock_per_part,
            rule=rule, reliability=reliability, confidence=confidence,
        )  # fmt: skip
        own = LifeDraws(location, scatter, rates[at], float(fit.beta[at]), _corrected(fit), centres[at])
        # What another practice's cutters ran is no test of this one.
        made[group, member.role] = (own, replace(interval, longest_run=member.longest))
    return made


def _corrected(fit: LifeRegression) -> float:
    """Scatter of ln life with the divisor that few failures need."""
    return fit.sigma * math.sqrt(fit.failures / max(fit.df, 1))


def fracture_centres(members: list[Member]) -> list[float]:
    """Fractures a unit of the clock: a practice's own count, leaning on that of all by `WEIGHT`.

    Where nothing broke anywhere the rate is 0: how high it may still be is said, not priced.
    """
    return [shape / exposure if exposure > 0 else 0.0 for shape, exposure in _fracture_shapes(members)]


def _fracture_rates(members: list[Member], size: int, rng: np.random.Generator) -> tuple[list[Any], list[float]]:
    """Draws of the fracture rates, and their centres."""
    drawn = [
        rng.gamma(shape, 1.0 / exposure, size) if exposure > 0 else np.zeros(size)
        for shape, exposure in _fracture_shapes(members)
    ]
    return drawn, fracture_centres(members)


def _fracture_shapes(members: list[Member]) -> list[tuple[float, float]]:
    """Gamma shape and rate of each member's fracture rate; rate 0 where nothing is priced."""
    total, broken = math.fsum(member.exposure for member in members), sum(member.fractures for member in members)
    if not broken or not total > 0:
        return [(0.0, 0.0) for _ in members]
    behind = WEIGHT * total / broken
    return [(member.fractures + WEIGHT, member.exposure + behind) for member in members]
