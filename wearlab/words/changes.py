"""When to change a cutter, for whoever decides."""

from __future__ import annotations

from collections.abc import Sequence

from wearlab.words.counting import listed, sentence
from wearlab.words.labels import label
from wearlab.words.rounding import quantity
from wearlab.words.units import clock_kind

LEAST_COST = "least cost"


def for_the_shop(text: str, group: str = "") -> str:
    """A sentence on a change without the words of statistics; with the practice before it where none was chosen.

    >>> for_the_shop("Change the cutter every 89 parts, the cheapest interval; 5 of 100 fail before that.", "side")
    '“side”: change the cutter every 89 parts, where the cost is least; 5 of 100 fail before that.'
    """
    text = text.replace("the cheapest interval", "where the cost is least")
    text = text.replace("the interval that most cutters outlast", "which most cutters outlast")
    return f"“{group}”: {text[0].lower()}{text[1:]}" if group else text


def outlast_sentence(
    who: str, life: float, clock: str, reliability: float, confidence: float, units: str = "metric"
) -> str:
    """The age that most cutters of a group outlast.

    >>> outlast_sentence("“side” cutters", 61.2, "cutting_time_min", 0.9, 0.9)
    '9 of 10 “side” cutters should last longer than 61 min; that is 90 % sure.'
    """
    kind = clock_kind(clock)
    text = quantity(life, kind, units, 2)
    share, sure = round(10 * reliability), round(100 * confidence)
    return sentence(f"{share} of 10 {who} should last longer than {text}; that is {sure} % sure")


def why_no_change_sentence(why: str, who: Sequence[str] = ()) -> str:
    """Why an age is not given.

    >>> why_no_change_sentence("the shop's costs are not stated", ["least cost"])
    "At what age a change costs least is not known: the shop's costs are not stated."
    >>> why_no_change_sentence("too few of them reached the limit", ["“side” cutters"])
    'No age is given for “side” cutters: too few of them reached the limit.'
    """
    if list(who) == [LEAST_COST]:
        return sentence(f"at what age a change costs least is not known: {why}")
    if who:
        return sentence(f"no age is given for {listed(who)}: {why}")
    return sentence(f"no age for a change is given: {why}")


def why_pooled(columns: Sequence[str]) -> str:
    """Why cutters that ran at several conditions are given no common age.

    >>> why_pooled(["cutting_speed_m_min"])
    'these cutters ran at more than one cutting speed; ask `wearlab fit` for a life at one'
    """
    names = listed([label(name).text for name in columns])
    return f"these cutters ran at more than one {names}; ask `wearlab fit` for a life at one"
