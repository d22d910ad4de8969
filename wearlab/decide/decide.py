"""The decision: every practice priced, how sure the choice is, and when to change the cutter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.contrast import FEWEST
from wearlab.compare.fair import fairness
from wearlab.compare.groups import only
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.decide.best import Best, MoreCutters, chance_of_best, settled, worth_of_more_cutters
from wearlab.decide.change_interval import RULES
from wearlab.decide.cost import ITEMS, PartCost
from wearlab.decide.decision import Decision, PracticeDecision
from wearlab.decide.model import CostModel, cost_models
from wearlab.decide.pairs import one_or_sets
from wearlab.decide.posterior import DRAWS
from wearlab.decide.practices import (
    Practice,
    Practices,
    costs_needed,
    lives_of,
    metres_per_part,
    practices_of,
)
from wearlab.decide.sensitivity import Switch, switching_value
from wearlab.decide.shop import ShopCosts, read_costs
from wearlab.decide.speeds import SpeedChoice, speeds_from_fit
from wearlab.fit.tool_life import fit_tool_life
from wearlab.life.derived_clocks import DERIVED
from wearlab.life.lives import criteria_of, trial_criteria
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial

MORE = (1, 2, 3, 4, 6, 8, 12)
"""Numbers of further cutters whose worth is looked at."""
MANY, SCARCE = 4, 3
"""From so many practices with no more cutters than this the stated chance is somewhat too high."""


def decide(
    trial: Trial,
    criteria: Criterion | str | Sequence[Criterion | str] = (),
    clock: str = "cutting_time_min",
    *,
    by: str = "strategy",
    choose: Sequence[str] = (),
    costs: Mapping[str, Any] | None = None,
    rule: str = "least_cost",
    reliability: float = 0.9,
    confidence: float = 0.9,
    speed_limit_m_min: float = math.inf,
    level: float | None = None,
    seed: int | None = None,
    draws: int = DRAWS,
    sensitivity: bool = True,
) -> Decision:
    """Price every practice of a trial and weigh the choice.

    Parameters
    ----------
    trial : Trial
    criteria : Criterion, str, or a sequence of them, optional
        The first counts for all cutters; one named as a role (rough, finish) for cutters of that role. Those of
        `trial_criteria` when left out.
    clock : str
        Clock of the lives: its column or short name (min, cm3, parts, m).
    by : str
        Column that makes the practices.
    choose : sequence of str
        `column=value` texts that cutters must meet.
    costs : mapping, optional
        Costs beside those of the trial file, which they outweigh.
    rule : {"least_cost", "reliability"}
        How the change interval is taken.
    reliability, confidence : float
        Of the lower bound on life.
    speed_limit_m_min : float
        Limit of the cutter's maker, the holder or the machine.
    level : float, optional
        Confidence level; the trial file's when left out.
    seed : int, optional
        The trial file's when left out.
    draws : int
        Plausible worlds.
    sensitivity : bool
        Look for the inputs that would change the choice; the slowest part.

    Raises
    ------
    Refusal
        A cost is missing (all are named), or no practice can be priced.
    ArgumentError
        A word names no column, rule or cost.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> decision = decide(read_log(sample_path("shoulder_demo")), draws=2000, sensitivity=False)
    >>> decision.choice, [one.group for one in decision.practices]
    ('side', ['layered', 'side'])
    """
    level = check_level(trial.settings.level if level is None else level)
    seed = trial.settings.seed if seed is None else seed
    if rule not in RULES:
        raise ArgumentError(f"rule {rule!r}", where="--rule", allowed=", ".join(RULES))
    shop = read_costs(trial.settings.cost, costs)
    shop.need(*costs_needed(only(trial.facts(), choose), shop))
    chosen = criteria_of(trial, criteria) or trial_criteria(trial)[0]
    clock = clock if clock in DERIVED else trial.clock(clock)
    rng = np.random.default_rng(seed)
    found = practices_of(trial, chosen, clock, shop, by=by, choose=choose)
    models, without = cost_models(
        found.practices, shop, clock, rule=rule, reliability=reliability, confidence=confidence, draws=draws, rng=rng
    )
    best, why = _best(models, found.by, shop)
    more = _more(best, models, shop, rng) if best is not None else ()
    speeds, no_speeds = _speeds(trial, chosen[0], clock, found, choose, shop, speed_limit_m_min, draws, rng)
    priced = _practices(found, models, dict(without), best, why, shop, level)
    choice, verdict = "", ""
    switches: tuple[Switch, ...] = ()
    if best is not None:
        choice, verdict = best.choice, settled(best, more)
        switches = _switches(models, best, shop) if sensitivity else ()
    return Decision(
        found.by, clock, found.criteria, tuple(choose), shop, priced, choice, verdict, best, more, switches, speeds,
        no_speeds, found.left_out, (*found.notes, *_winners_curse(models, best)), rule, level, seed, draws, why,
        one_or_sets(models, shop),
    )  # fmt: skip


def _best(models: list[CostModel], by: str, shop: ShopCosts) -> tuple[Best | None, str]:
    """Chance of being best, or why there is none."""
    if len(models) < 2:
        return None, "one practice can be priced: there is nothing to choose from"
    few = [model.practice for model in models if model.practice.fewest < FEWEST]
    if few:
        counts = ", ".join(f"{one.group} {one.fewest}" for one in few)
        return None, f"too few cutters for a chance ({counts}; {FEWEST} needed): the costs are described, not judged"
    tangled = _tangled(models, by)
    if tangled:
        return None, f"{'; '.join(tangled)}: they cannot be told apart"
    if len({model.practice.parts_known for model in models}) > 1:
        return None, "parts are known for some practices only"
    return chance_of_best({model.practice.group: model.costs(shop) for model in models}), ""


def _winners_curse(models: list[CostModel], best: Best | None) -> tuple[str, ...]:
    """A caution where the luckiest of many practices may pass for the best (tests/bench/calibration_decide.txt)."""
    if best is None or len(models) < MANY or min(model.practice.fewest for model in models) > SCARCE:
        return ()
    return (
        f"with {len(models)} practices and {SCARCE} cutters of one, a chance of being the cheapest is stated some 5 in "
        "100 too high: the luckiest of many looks like the best",
    )


def _tangled(models: list[CostModel], by: str) -> list[str]:
    facts = pd.concat([model.practice.facts for model in models], ignore_index=True)
    names = [model.practice.group for model in models]
    found = [
        text for at, a in enumerate(names) for b in names[at + 1 :] for text in _confounded(facts, a, b, by)
    ]
    return list(dict.fromkeys(found))


def _confounded(facts: pd.DataFrame, a: str, b: str, by: str) -> tuple[str, ...]:
    return fairness(facts[facts["group"].isin([a, b])].reset_index(drop=True), a, b, by).confounded


def _more(best: Best, models: list[CostModel], shop: ShopCosts, rng: np.random.Generator) -> tuple[MoreCutters, ...]:
    spend = shop.parts_per_year
    if spend is None:
        return ()
    prices = [sum(member.price for member in model.practice.members) for model in models]
    scatter = [model.cutter_scatter(shop) for model in models]
    return worth_of_more_cutters(best, scatter, MORE, spend=spend, prices=prices, rng=rng)


def _switches(models: list[CostModel], best: Best, shop: ShopCosts) -> tuple[Switch, ...]:
    """Each input in turn, the others held."""
    choice = best.choice

    def priced(**changes: float) -> dict[str, float]:
        own: dict[str, Any] = {name: x for name, x in changes.items() if name in ("life", "price", "minutes")}
        money = shop.with_(**{name: value for name, value in changes.items() if name not in own})
        everyone = {"price": own["price"]} if "price" in own else {}
        return {
            model.practice.group: model.central_cost(
                money, **(own if model.practice.group == choice else everyone)
            )
            for model in models
        }

    made = []
    for name in ("machine_per_min", "change_min", "scrap", "failure"):
        made.append(switching_value(name, shop.figure(name), lambda x, name=name: priced(**{name: x})))  # type: ignore[misc]
    price = float(np.mean([member.price for model in models for member in model.practice.members]))
    made.append(switching_value("cutter_price", price, lambda x: priced(price=x / price)))
    made.append(switching_value(f"life of {choice}, times", 1.0, lambda x: priced(life=x)))
    made.append(switching_value(f"machine time of {choice}, times", 1.0, lambda x: priced(minutes=x)))
    return tuple(made)


def _speeds(
    trial: Trial, criterion: Criterion, clock: str, found: Practices, choose: Sequence[str], shop: ShopCosts,
    limit: float, draws: int, rng: np.random.Generator,
) -> tuple[dict[str, SpeedChoice], str]:  # fmt: skip
    """Speeds by practice from one equation over all cutters, where the log allows one."""
    if clock != "cutting_time_min":
        return {}, "speeds need lives in minutes in the metal"
    if any(len(one.members) > 1 for one in found.practices):
        return {}, "sets of cutters have no single speed"
    try:
        facts = only(trial.facts(), choose)
        lives = lives_of(trial, criterion, clock, found.lives)
        lives = lives[lives["cutter"].isin(facts["cutter"])].reset_index(drop=True)
        fit = fit_tool_life(lives, facts)
    except Refusal as refusal:
        return {}, refusal.found
    grouped = found.by in [factor.column for factor in fit.factors]
    made, why = {}, ""
    for one in found.practices:
        if grouped and one.group not in set(fit.used[found.by]):
            continue
        try:
            made[one.group] = speeds_from_fit(
                fit, machine_per_min=shop.figure("machine_per_min"), change_min=shop.figure("change_min"),
                edge_cost=one.members[0].edge_cost, group=(found.by, one.group) if grouped else None,
                limit_m_min=limit, metres_per_part=metres_per_part(one), draws=draws, rng=rng,
            )  # fmt: skip
        except Refusal as refusal:
            why = refusal.found
    return made, why


def _practices(
    found: Practices, models: list[CostModel], without: dict[str, str], best: Best | None, why: str, shop: ShopCosts,
    level: float,
) -> tuple[PracticeDecision, ...]:  # fmt: skip
    by_group = {model.practice.group: model for model in models}
    return tuple(
        _practice(one, by_group.get(one.group), without.get(one.group, ""), best, why, shop, level)
        for one in found.practices
    )


def _practice(
    practice: Practice, model: CostModel | None, missing: str, best: Best | None, why: str, shop: ShopCosts,
    level: float,
) -> PracticeDecision:  # fmt: skip
    fractures, ran = sum(member.fractures for member in practice.members), len(practice.facts)
    unknown = Interval(-math.inf, math.inf, level, "none")
    if model is None:
        return PracticeDecision(
            practice.group, practice.cutters, None, unknown, math.nan, math.nan, (), fractures, ran,
            practice.parts_known, practice.notes, missing,
        )  # fmt: skip
    items = model.items(shop)
    costs = np.asarray(sum(np.broadcast_to(items[name], len(model.draws[0].location)) for name in ITEMS))
    low, high = np.quantile(costs, [0.5 - level / 2, 0.5 + level / 2])
    at = best.names.index(practice.group) if best is not None else -1
    return PracticeDecision(
        practice.group, practice.cutters, _mean_cost(model, items, shop),
        Interval(float(low), float(high), level, f"{len(costs)} posterior draws"),
        float(best.chances[at]) if best is not None else math.nan,
        float(best.losses[at]) if best is not None else math.nan,
        tuple(zip((member.role for member in practice.members), model.intervals, strict=True)),
        fractures, ran, practice.parts_known, practice.notes, "", why,
    )  # fmt: skip


def _mean_cost(model: CostModel, items: dict[str, Any], shop: ShopCosts) -> PartCost:
    means = {name: float(np.mean(value)) for name, value in items.items()}
    members = model.practice.members
    swap = shop.figure("swap_min") if len(members) > 1 else 0.0
    minutes = sum(one.cutting_min + one.other_min for one in members) + (shop.idle_min or 0.0) + swap
    yearly = math.nan if shop.parts_per_year is None else shop.parts_per_year
    return PartCost(shop.currency, means, float(minutes), model.practice.volume_cm3, yearly)


