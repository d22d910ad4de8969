"""A log held against its plan, in sentences."""

from __future__ import annotations

import math

from wearlab.plan.against import AgainstPlan
from wearlab.plan.answer_cost import AnswerCost
from wearlab.words.counting import agree, counted, in_words, listed, sentence
from wearlab.words.rounding import significant

KINDS = {
    "other_plan": "the plan itself",
    "criterion_left_out": "the end of life",
    "criterion_added": "the end of life",
    "decision_changed": "the rule of the decision",
    "out_of_order": "order within a block",
    "changed_setting": "settings",
    "changed_share": "what runs share",
    "not_in_plan": "cutters that were not planned",
    "first_look_late": "first looks",
    "missing_look": "looks",
    "ended_early": "early ends",
    "blocks_out_of_order": "order of the blocks",
    "order_not_recorded": "order of running",
    "not_run_yet": "cutters that did not run",
    "still_running": "cutters still running",
    "not_read": "lands left out",
}
"""What a departure concerns, by the code of its finding, the weightiest first."""
_SURE = 0.995
_OUTCOMES = {"life": "life", "rate": "wear rate", "wall": "wall error"}


def runs_sentence(held: AgainstPlan) -> str:
    """How many of the planned cutters are in the log.

    >>> runs_sentence(AgainstPlan((), (), ("E1", "E2"), ()))
    'Both planned cutters are in the log.'
    """
    planned, ran = len(held.run) + len(held.not_run), len(held.run)
    if not held.not_run:
        every = "both" if planned == 2 else "the one" if planned == 1 else f"all {in_words(planned)}"
        return sentence(f"{every} planned {agree(planned, 'cutter')} {agree(planned, 'is')} in the log")
    some = in_words(ran) if ran else "none"
    return sentence(f"{some} of {in_words(planned)} planned cutters {agree(ran, 'is')} in the log")


def departures_sentence(held: AgainstPlan) -> str:
    """What was run otherwise than planned, in one line.

    >>> departures_sentence(AgainstPlan((), (), ("E1",), ()))
    'Nothing in it departs from the plan.'
    """
    # Two settings of one cutter that moved together, such as feed a tooth and feed a minute, are one departure.
    found = {(one.code, one.cutter, one.column if one.code == "changed_share" else "")
             for one in held.findings if one.severity != "note"}  # fmt: skip
    if not found:
        return sentence("nothing in it departs from the plan")
    codes = {code for code, _, _ in found}
    kinds = [kind for code, kind in KINDS.items() if code in codes]
    return sentence(f"{counted(len(found), 'departure')} from the plan: {listed(list(dict.fromkeys(kinds)))}")


def early_sentence(held: AgainstPlan) -> str:
    """What a comparison means while planned cutters have not run; empty once all are in the log.

    >>> early_sentence(AgainstPlan((), (), ("E1",), ("E2", "E3", "E4")))  # doctest: +ELLIPSIS
    'Three of four planned cutters have not run: this is a look before the end, and a difference that is called now ...'
    """
    waiting = len(held.not_run)
    if not waiting:
        return ""
    return sentence(
        f"{in_words(waiting)} of {in_words(len(held.run) + waiting)} planned cutters {agree(waiting, 'has')} not run: "
        "this is a look before the end, and a difference that is called now is a false alarm more often than the level "
        "says"
    )


def plan_doubt(held: AgainstPlan | None) -> str:
    """For whoever decides: a look before the end, what departs and what that does; empty when all is well."""
    if held is None:
        return ""
    return " ".join(text for text in (early_sentence(held), _departed(held)) if text)


def _departed(held: AgainstPlan) -> str:
    if not any(one.severity != "note" for one in held.findings):
        return ""
    text = departures_sentence(held).rstrip(".")
    worst = [one for one in held.costs if _weaker(one)]
    if not worst:
        return sentence(f"{text}; what the trial can show is as planned")
    if any(one.why_none for one in worst):
        return sentence(f"{text}; they leave no verdict to come")
    least = min(worst, key=lambda one: one.power)
    return sentence(
        f"{text}; the trial now shows the difference that it was planned for {times_words(least.power)}, "
        f"instead of {times_words(least.planned_power)} with every cutter"
    )


def cost_sentence(cost: AnswerCost) -> str:
    """What is left of the forecast of one pair."""
    left = (
        in_words(cost.left_a) if cost.left_a == cost.left_b else f"{in_words(cost.left_a)} and {in_words(cost.left_b)}"
    )
    what = (
        f"{cost.a} over {cost.b}: of {in_words(cost.planned)} cutters planned on each side {left} have a known "
        f"{_OUTCOMES.get(cost.outcome, cost.outcome)}"
    )
    if cost.planned_blocks:
        what += f", and {in_words(cost.left_blocks)} of {in_words(cost.planned_blocks)} blocks hold both"
    if cost.why_none:
        return sentence(f"{what}; no verdict: {cost.why_none}")
    smallest = "difference" if cost.outcome == "wall" else "ratio"
    if not _weaker(cost):
        return sentence(f"{what}; the trial can show what it was planned to show")
    return sentence(
        f"{what}; the difference that must not be missed is now shown {times_words(cost.power)}, and with every cutter "
        f"it would have been {times_words(cost.planned_power)}; the smallest {smallest} usually "
        f"shown is {smallest_words(cost, cost.detectable)} instead of {smallest_words(cost, cost.planned_detectable)}"
    )


def meaning_sentences(held: AgainstPlan) -> tuple[str, ...]:
    """What each kind of departure means, once.

    >>> from wearlab.logbook.findings import Finding
    >>> late = Finding("warning", "first_look_late", "the first look was at 42 parts", hint="Break-in was not seen")
    >>> meaning_sentences(AgainstPlan((late, late), (), (), ()))
    ('First looks: break-in was not seen.',)
    """
    hints = {one.code: one.hint for one in held.findings if one.hint}
    return tuple(
        sentence(f"{kind}: {hints[code][0].lower()}{hints[code][1:]}") for code, kind in KINDS.items() if code in hints
    )


def gaps_sentence(cost: AnswerCost) -> str:
    """What the gaps between the looks as made would cost, were lands only judged good or past."""
    if not math.isfinite(cost.look_inflation):
        return ""
    more = 100.0 * (cost.look_inflation - 1.0)
    size = f"{significant(more, 2)} %" if more >= 0.05 else "next to nothing"
    return sentence(
        f"the gaps between the looks as made put {size} on the number of cutters if lands are only judged good or "
        "past, and less where a life is read between two lands"
    )


def times_words(chance: float) -> str:
    """A chance as trials in a hundred, never all and never none.

    >>> times_words(0.873), times_words(0.9999), times_words(0.0)
    ('87 times in 100', 'more than 99 times in 100', 'less than once in 100')
    """
    if chance > _SURE:
        return "more than 99 times in 100"
    if chance < 1.0 - _SURE:
        return "less than once in 100"
    return f"{100 * chance:.0f} times in 100" if round(100 * chance) != 1 else "once in 100"


def _weaker(cost: AnswerCost) -> bool:
    return bool(cost.why_none) or cost.planned_power - cost.power > 0.005


def smallest_words(cost: AnswerCost, value: float) -> str:
    """A smallest ratio, or for walls a smallest difference, as it is shown."""
    if not math.isfinite(value):
        return "none"
    return f"{significant(value)} µm" if cost.outcome == "wall" else significant(value)
