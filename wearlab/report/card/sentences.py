"""A decision in plain sentences, for a reader with ten minutes: no statistics word, figures rounded."""

from __future__ import annotations

import math

from wearlab.core.interval import Interval
from wearlab.decide.change_interval import ChangeInterval
from wearlab.decide.condition_rule import ConditionRule
from wearlab.decide.decision import Decision, PracticeDecision
from wearlab.decide.follow import FollowUp
from wearlab.decide.pairs import OneOrSet
from wearlab.decide.sensitivity import Switch
from wearlab.decide.speeds import Optimum, SpeedChoice
from wearlab.logbook.criterion import Criterion
from wearlab.words.counting import counted, grouped, listed
from wearlab.words.rounding import decimals_for, fixed, quantity, significant
from wearlab.words.units import clock_kind

MOST_SURE = 99
"""No chance is printed above this many in a hundred."""

INPUTS = {
    "machine_per_min": "the machine's rate a minute",
    "change_min": "the minutes of a change",
    "scrap": "the cost of a spoiled part",
    "failure": "the cost of a failure in service",
    "cutter_price": "the price of a cutter",
}


def money(value: float, currency: str, low: float = -math.inf, high: float = math.inf) -> str:
    """An amount of money to the digits that its range supports.

    >>> money(1.9493, "EUR", 1.66, 2.55), money(12304.4, "EUR"), money(0.003, "")
    ('1.9 EUR', '12300 EUR', 'less than 0.01')
    """
    if not math.isfinite(value):
        return "not known"
    if math.isinf(low) and math.isinf(high) and 0 < abs(value) < 0.01:
        return f"less than 0.01 {currency}".strip()
    # Two digits that count at the least: a cost of 2 that may be 1.7 or 2.5 is not "2".
    decimals = decimals_for(value, low, high)
    if value:
        decimals = max(decimals, 1 - math.floor(math.log10(abs(value))))
    text = fixed(value, decimals) if math.isfinite(low) or math.isfinite(high) else significant(value, 3)
    return f"{text} {currency}".strip()


def in_hundred(chance: float) -> str:
    """A chance as so many of a hundred, rounded down, never none and never all.

    >>> in_hundred(0.9963), in_hundred(0.31), in_hundred(0.002)
    ('99 of 100', '31 of 100', '1 of 100')
    """
    return f"{min(max(math.floor(100 * chance + 1e-9), 100 - MOST_SURE), MOST_SURE)} of 100"


def per_what(parts_known: bool) -> str:
    """A part, or a cm3 where parts are not counted."""
    return "a part" if parts_known else "a cm³"


def cost_text(one: PracticeDecision, currency: str) -> str:
    """Cost of one practice with its range."""
    if one.cost is None:
        return "not known"
    low, high = one.interval.low, one.interval.high
    value = one.cost.per_part
    decimals = max(decimals_for(value, low, high), 1 - math.floor(math.log10(abs(value))) if value else 0)
    span = f"{fixed(low, decimals)} to {fixed(high, decimals)}"
    return f"{fixed(value, decimals)} {currency} {per_what(one.parts_known)} (plausibly {span})".replace("  ", " ")


def choice_sentences(decision: Decision) -> list[str]:
    """What to run, and how sure that is."""
    if not decision.choice:
        return [f"No choice is printed: {decision.why_no_choice}."]
    best, currency = decision.practice(decision.choice), decision.shop.currency
    said = [f"Run {best.group}: {cost_text(best, currency)}."]
    for one in decision.practices:
        if one.group != best.group and one.cost is not None:
            said.append(f"{one.group[0].upper()}{one.group[1:]} costs {cost_text(one, currency)}.")
    said.append(
        f"{best.group[0].upper()}{best.group[1:]} is the cheapest in {in_hundred(best.chance_best)} plausible cases."
    )
    said.append(verdict_sentence(decision))
    return said


def verdict_sentence(decision: Decision) -> str:
    """Whether to go on testing."""
    best = decision.practice(decision.choice)
    currency, spend = decision.shop.currency, decision.shop.parts_per_year
    loss, what = best.expected_loss, per_what(best.parts_known)
    yearly = f", {money(loss * spend, currency)} a year" if spend is not None else ""
    wrong = f"choosing it although another is better costs {money(loss, currency)} {what} on average{yearly}"
    if decision.verdict == "settled":
        return f"Settled: {wrong}. Stop testing."
    if decision.verdict == "hardly_matters":
        return f"Not settled, and it hardly matters: {wrong}."
    if decision.verdict == "test_more":
        pays = max((one for one in decision.more if one.pays), key=lambda one: one.worth - one.cost)
        return (
            f"Not settled: {wrong}. {counted(pays.more, 'more cutter')} of each would be worth about "
            f"{money(pays.worth, currency)} a year and cost {money(pays.cost, currency)}: test on."
        )
    if decision.verdict == "stop_testing":
        return f"Not settled, but more cutters would cost more than they are worth: {wrong}. Stop testing."
    return f"Not settled: {wrong}. State parts_per_year, and what more cutters are worth can be said."


def change_sentence(role: str, change: ChangeInterval, units: str = "metric") -> str:
    """When to change the cutter."""
    who = f"the {role} cutter" if role else "the cutter"
    if math.isinf(change.interval):
        return f"No planned change of {who} pays: change it when it is worn."
    clock = quantity(change.interval, clock_kind(change.clock), units)
    every = counted(change.parts, "part") if change.parts else clock
    if change.parts == 0:
        return f"Change {who} before every part: {change.why_missing}."
    beside = f" ({clock})" if change.parts and change.clock != "parts" else ""
    early = f"about {in_hundred(change.failing)} cutters fail before that"
    why = "the cheapest interval" if change.rule == "least_cost" else "the interval that most cutters outlast"
    brand = "" if change.tested else ". Not tested: no cutter ran so long"
    return f"Change {who} every {every}{beside}, {why}; {early}{brand}."


def bound_sentence(change: ChangeInterval, units: str = "metric") -> str:
    """The life that most cutters outlast."""
    bound = change.bounds[0]
    if bound.why_missing or not bound.bound > 0:
        return ""
    share = round(10 * bound.reliability)
    text = quantity(bound.bound, clock_kind(change.clock), units)
    return f"{share} of 10 cutters should last longer than {text}; that is {round(100 * bound.confidence)} % sure."


def look_sentence(rule: ConditionRule, criterion: Criterion, parts: int, units: str = "metric") -> str:
    """At which land, or whatever is read, a cutter is changed at a look."""
    kind = "land" if criterion.measure in ("VB", "VBmax", "chip", "corner") else "length"
    return (
        f"look every {counted(parts, 'part')} and change it from {quantity(abs(rule.change_at), kind, units)} on "
        f"(limit {quantity(abs(rule.limit), kind, units)})"
    )


def pair_sentences(one: OneOrSet, currency: str, parts_known: bool = True) -> list[str]:
    """One cutter or a set, and the price at which they are equal."""
    what = per_what(parts_known)
    single, several = one.single, one.several
    said = [
        f"With the lives as fitted, {single} with one cutter costs {money(one.single_per_part, currency)} {what}, "
        f"{several} with a cutter each {money(one.several_per_part, currency)}."
    ]
    if one.why_missing:
        said.append(f"No price makes them equal: {one.why_missing}.")
    else:
        side = "above" if one.break_even_edge > one.edge_now else "below"
        better = several if side == "above" else single
        said.append(
            f"They cost the same when an edge of the single cutter costs {money(one.break_even_edge, currency)} (now "
            f"{money(one.edge_now, currency)}); {side} that {better} is cheaper."
        )
    if one.demoted_worth > 0:
        saved = money(one.demoted_worth, currency)
        said.append(f"Worn finishers that go on as roughers save {saved} {what}; counted in.")
    return said


def switch_sentence(one: Switch, currency: str) -> str:
    """What one input would have to be for another choice."""
    name = INPUTS.get(one.input, one.input.replace(", times", ""))
    if math.isnan(one.switch_at):
        return ""
    if one.input.endswith(", times"):
        return f"{one.then} would be cheaper if the {name} were {significant(one.switch_at, 2)} times what it is"
    unit = "min" if one.input.endswith("_min") and one.input != "machine_per_min" else currency
    return f"{one.then} would be cheaper if {name} were {significant(one.switch_at, 3)} {unit}".strip()


def steady_inputs(switches: tuple[Switch, ...]) -> list[str]:
    """Inputs that change nothing within reach."""
    return [INPUTS.get(one.input, one.input) for one in switches if math.isnan(one.switch_at)]


def speed_sentence(group: str, one: SpeedChoice, units: str = "metric") -> str:
    """Speeds of least cost and of most parts; a speed that was not tested carries its brand."""
    best, fast = one.least_cost, one.highest_rate
    low, high = max(one.flat_low, one.tested[0]), min(one.flat_high, one.tested[1])
    text = f"{group}: least cost at {quantity(best.speed_m_min, 'speed', units)} ({_branded(best, one, units)})"
    if low < high:
        span = f"{quantity(low, 'speed', units)} to {quantity(high, 'speed', units)}"
        text += f"; of what was tested, {span} costs at most {100 * one.within:g} % more than that"
    elif low == high:
        text += f"; {quantity(low, 'speed', units)} costs at most {100 * one.within:g} % more than that"
    return f"{text}. Most parts an hour at {quantity(fast.speed_m_min, 'speed', units)} ({_branded(fast, one, units)})."


def _branded(best: Optimum, one: SpeedChoice, units: str) -> str:
    if best.tested:
        return "tested"
    if best.speed_m_min > one.limit_m_min:
        return f"above the limit of {quantity(one.limit_m_min, 'speed', units)}"
    low, high = (quantity(end, "speed", units) for end in one.tested)
    return f"not tested: {low} only was" if low == high else f"not tested: {low} to {high} was"


def follow_sentences(found: FollowUp) -> list[str]:
    """What the records in service say."""
    early, parts = found.early, found.interval_parts
    share = early.interval()
    said = [
        f"{early.early} of {counted(early.changes, 'changed cutter')} failed before their {parts} parts; about "
        f"{in_hundred(early.promised)} were to be expected (from these records: {_share(share)}).",
    ]
    if early.alarm:
        said.append(f"Alarm: that many early failures would come by chance in {_rare(early.false_alarm)} reviews.")
    else:
        said.append(
            f"No alarm: it sounds from {early.alarm_from} early failures, and falsely in {_rare(early.false_alarm)} "
            "reviews."
        )
    if found.limits is not None:
        outside = listed([one.cutter for one in found.outside])
        said.append(
            f"{counted(found.read, 'reading')} on parts were held against the trial's trend; outside: "
            f"{outside or 'none'} (one falsely outside in {_rare(found.band_false_alarm)} such reviews)."
        )
    if found.again is not None:
        level = "from the lives in service" if found.own_level else "with the trial's lives and these together"
        said.append(f"Worked out again {level}: {change_sentence('', found.again)}")
    elif found.why_not_again:
        said.append(f"The interval could not be worked out again: {found.why_not_again}.")
    for one in found.remaining:
        limits = one.interval()
        left = f"{_parts(limits.low)} to {_parts(limits.high)}"
        said.append(
            f"Cutter {one.cutter}, in the spindle with {_parts(one.age)} parts done, should last another "
            f"{_parts(one.median)} parts (plausibly {left}); {_parts(one.to_interval)} are left to its change."
        )
    doubt = "The interval is in doubt: shorten it or find the cause."
    said.append("The interval still holds." if found.holds else doubt)
    return said


def _parts(value: float) -> str:
    return "many" if math.isinf(value) else grouped(math.floor(value)) if value >= 0 else f"minus {math.ceil(-value)}"


def _share(share: Interval) -> str:
    return f"plausibly {round(100 * share.low)} to {round(100 * share.high)} of 100"


def _rare(chance: float) -> str:
    return f"{significant(100 * chance, 2)} of 100"
