"""One trial beside an earlier one, in sentences: which figure moved, how far, and what may have moved it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wearlab.core.interval import Interval
from wearlab.words.counting import agree, counted, grouped, listed, sentence
from wearlab.words.criteria import zone_words
from wearlab.words.groups import cutters_of
from wearlab.words.ratios import inverse
from wearlab.words.rounding import decimals_for, fixed, range_text, significant

MOVED = "more than the scatter of both trials explains"
NOT_SHOWN = "no change is shown, and none inside that range is ruled out"
OPEN = "open"
"""Stands for a side of a range that the lives do not bound."""


def held_sentences(before: int, now: int, earlier: str, same: Sequence[str], namesakes: Sequence[str]) -> list[str]:
    """How many cutters each trial holds, and which of them are the same ones.

    >>> held_sentences(5, 1, "May", [], [])
    ['This trial holds 1 cutter, the earlier one, “May”, 5 cutters; none of them is in both.']
    """
    head = f"this trial holds {counted(now, 'cutter')}, the earlier one, “{earlier}”, {counted(before, 'cutter')}"
    if same:
        texts = [sentence(f"{head}; {counted(len(same), 'cutter')} {agree(len(same), 'is')} in both: {listed(same)}")]
    else:
        texts = [sentence(f"{head}; none of them is in both")]
    if namesakes:
        texts.append(
            sentence(
                f"{counted(len(namesakes), 'name')} of cutters {agree(len(namesakes), 'is')} in both logs with other "
                f"readings, and {agree(len(namesakes), 'was')} taken for other cutters: {listed(namesakes)}"
            )
        )
    return texts


def end_sentence(same: bool, before: str, now: str) -> str:
    """Whether life ends alike in both."""
    if same:
        return sentence("a life ends alike in both")
    return sentence(
        f"a life ends otherwise: {now} now, {before} then; lives of the two are not alike in kind, and to judge both "
        "by one rule name it with --criterion"
    )


def ratio_sentence(
    names: tuple[str, str],
    outcome: str,
    zone: str,
    figures: tuple[float, float],
    change: Interval | None,
    by: str,
    units: str = "metric",
    why: str = "",
) -> str:
    """A ratio of two groups then and now; `figures` are before and now, `change` the interval of now over before.

    >>> found = Interval(0.9, 1.9, 0.95, "t")
    >>> ratio_sentence(("side", "layered"), "life", "", (2.1, 2.8), found, "strategy")[:65]
    '“side” cutters lasted 2.8 times as long as “layered” cutters, and'
    """
    before, now = figures
    if now < 1.0:
        names, before, now = (names[1], names[0]), 1.0 / before, 1.0 / now
        change = None if change is None else inverse(change)
    verb, how = ("lasted", "as long as") if outcome == "life" else ("wore", "as fast as")
    where = f" {zone_words(zone)}" if outcome != "life" and zone else ""
    a, b = (cutters_of(by, name, units) for name in names)
    return sentence(
        f"{a} {verb} {significant(now, 2)} times {how} {b}{where}, and {significant(before, 2)} times in the earlier "
        f"trial; {_verdict('that ratio', now / before, change, 1.0, why)}"
    )


def verdicts_sentence(before: str, now: str) -> str:
    """Both verdicts where they differ; empty where they are the same.

    >>> verdicts_sentence("This trial cannot tell", "Different")
    'The verdict of the earlier trial was “this trial cannot tell”, and here it is “different”.'
    """
    if before == now:
        return ""
    then, here = (f"“{text[0].lower()}{text[1:]}”" for text in (before, now))
    return sentence(f"the verdict of the earlier trial was {then}, and here it is {here}")


def life_sentence(
    group: str, ratio: float, change: Interval | None, cutters: tuple[int, int], by: str, units: str = "metric",
    why: str = "",
) -> str:  # fmt: skip
    """Lives of one group now over then, at the conditions that both trials met."""
    before, now = cutters
    who = cutters_of(by, group, units)
    sizes = f"{counted(before, 'cutter')} then and {grouped(now)} now"
    if not math.isfinite(ratio):
        return sentence(f"how lives of {who} moved ({sizes}) cannot be told: {why}")
    return sentence(f"of {who} alone ({sizes}): {_verdict('their life', ratio, change, 1.0, why)}")


def exponent_sentence(figures: tuple[float, float], change: Interval | None, why: str = "") -> str:
    """The Taylor exponent then and now.

    >>> exponent_sentence((0.25, 0.28), Interval(-0.02, 0.08, 0.95, "t"))
    'The Taylor exponent is n = 0.28, and was 0.25: it moved by 0.030 (plausibly -0.020 to 0.080), so that no ...'
    """
    before, now = figures
    head = f"the Taylor exponent is n = {significant(now, 3)}, and was {significant(before, 3)}"
    if change is None:
        return sentence(f"{head}; how far it moved cannot be judged: {why}")
    decimals = decimals_for(now - before, change.low, change.high)
    likely = _range(change, decimals, 0.0)
    ends = MOVED if not change.contains(0.0) else f"so that {NOT_SHOWN}"
    return sentence(f"{head}: it moved by {fixed(now - before, decimals)} ({likely}), {ends}")


def _verdict(what: str, ratio: float, change: Interval | None, null: float, why: str) -> str:
    if change is None:
        moved = f"{what} is {significant(ratio, 3)} times what it was"
        return f"{moved}, and whether that is a change cannot be judged: {why}"
    decimals = decimals_for(ratio, change.low, change.high)
    text = f"{what} is {fixed(ratio, decimals)} times what it was ({_range(change, decimals, null)})"
    return f"{text}, so that {NOT_SHOWN}" if change.contains(null) else f"{text}, {MOVED}"


def _range(change: Interval, decimals: int, null: float) -> str:
    low_open = not math.isfinite(change.low) or (null == 1.0 and change.low <= 0)
    if low_open and not math.isfinite(change.high):
        return "with no bound on either side"
    if null == 0.0 and not change.unbounded:
        return f"plausibly {fixed(change.low, decimals)} to {fixed(change.high, decimals)}"
    return f"plausibly {range_text(change, decimals, (null,))}"


def why_sentence(moved: bool | None, differing: Sequence[str], same: bool) -> str:
    """What may have moved a figure.

    Parameters
    ----------
    moved : bool or None
        Whether any figure moved by more than scatter explains; None where none could be judged.
    differing : sequence of str
        What differs between the trials, in words.
    same : bool
        Whether most cutters are the same ones.

    >>> why_sentence(True, ["machine"], False)
    'Of all that the logs record only machine differs; a new day, bar or hand may hide behind it.'
    """
    if same:
        if differing:
            return sentence(
                f"cutters are the same ones, so a figure moved by what is set or logged otherwise: {listed(differing)}"
            )
        return sentence("cutters are the same ones and nothing is set or logged otherwise: the figures are the same")
    if moved is False:
        return sentence(
            "no figure moved by more than scatter explains"
            + (f"; what differs ({listed(differing)}) need not have done anything, and may have" if differing else "")
        )
    if not differing:
        return sentence(
            "nothing that the logs record differs: what moved a figure is the draw of cutters, or a day, bar or hand "
            "that they do not record"
        )
    if len(differing) == 1:
        return sentence(
            f"of all that the logs record only {differing[0]} differs; a new day, bar or hand may hide behind it"
        )
    return sentence(
        f"what may have moved a figure: {listed(differing, most=10)}; these changed together, so two trials do not "
        "tell which of them did it"
    )


def span_text(estimate: float, interval: Interval | None) -> str:
    """A figure with its range for a cell; a side without a bound is said.

    >>> span_text(2.0, Interval(1.5, math.inf, 0.95, "t")), span_text(2.0, Interval(0.0, math.inf, 0.95, "t"))
    ('2.0 (1.5 or more)', '2 (no range)')
    """
    if not math.isfinite(estimate):
        return ""
    if interval is None or (interval.low in (0.0, -math.inf) and math.isinf(interval.high)):
        return f"{significant(estimate, 2)} (no range)"
    decimals = decimals_for(estimate, interval.low, interval.high)
    if interval.low < 0 and not interval.unbounded:
        return f"{fixed(estimate, decimals)} ({fixed(interval.low, decimals)} to {fixed(interval.high, decimals)})"
    return f"{fixed(estimate, decimals)} ({range_text(interval, decimals)})"
