"""What was fair about a comparison, in words."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wearlab.compare.fair import Fairness
from wearlab.compare.family import Family
from wearlab.compare.fractures import Fractures
from wearlab.core.tables import each_row
from wearlab.words.counting import counted, grouped, listed, sentence
from wearlab.words.groups import cutters_of
from wearlab.words.labels import label
from wearlab.words.outcomes import outcome_name
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import significant

_LEFT_OUT = re.compile(r"^(\d+) cutters? \((.*)\) left out: (.*)$")


def matched_sentence(fair: Fairness) -> str:
    """What was equal on both sides; empty where nothing is known to be."""
    if not fair.matched:
        return ""
    return sentence(f"equal on both sides: {listed(_names(fair.matched), most=10)}")


def unmatched_sentence(fair: Fairness) -> str:
    """What was not equal, and what follows; empty where everything was."""
    if not fair.unmatched:
        return ""
    return sentence(
        f"not equal: {listed(_names(fair.unmatched), most=10)}. The answer therefore belongs to the practice as a "
        "whole, and not to any one of these"
    )


def not_compared_sentence(fair: Fairness) -> str:
    """What could not be compared, and why; empty where all could."""
    if not fair.not_compared:
        return ""
    if any(" " in name for name in fair.not_compared):
        return sentence(f"the cuts themselves could not be compared: {in_plain_words('; '.join(fair.not_compared))}")
    return sentence(
        "whether both sides cut alike could not be checked, because the log does not hold "
        f"{listed(_names(fair.not_compared), last='or')}"
    )


def confounded_sentences(fair: Fairness) -> tuple[str, ...]:
    """What cannot be told from the practice."""
    return tuple(
        sentence(f"{in_plain_words(text)}, so the two cannot be told apart: no conclusion is drawn")
        for text in fair.confounded
    )


def doubt_sentences(fair: Fairness) -> tuple[str, ...]:
    """What is doubtful, but does not refuse a verdict."""
    return tuple(sentence(in_plain_words(text)) for text in fair.doubts)


def note_sentence(note: str, units: str = "metric") -> str:
    """A note of a contrast.

    >>> note_sentence("2 cutters (E1, E2) left out: bar 7 was met by one group only")
    'To compare like with like, 2 cutters were left out here (E1 and E2): bar 7 was met by one group only.'
    """
    match = _LEFT_OUT.match(note)
    if match is None:
        return sentence(in_plain_words(note, units))
    count, names, why = int(match[1]), match[2].split(", "), in_plain_words(match[3], units)
    was = "was" if count == 1 else "were"
    return sentence(
        f"to compare like with like, {counted(count, 'cutter')} {was} left out here ({listed(names, most=12)}): {why}"
    )


_ONE_SCATTER = (
    "with one scatter taken for all groups: where one of them scatters three times as much as the others, a false "
    "alarm comes in about 9 of 100 trials instead of 5"
)
_FAMILIES = {
    "tukey": f"after Tukey, {_ONE_SCATTER}",
    "dunnett": f"after Dunnett, {_ONE_SCATTER}",
    "games_howell": "after Games and Howell, each pair with a scatter of its own",
    "holm": "after Holm",
}
_NOT_HELD = {
    "outcomes": "over the outcomes",
    "zones": "over the zones",
    "materials": "over the ratios within each material",
}


def family_sentences(found: Sequence[Family]) -> tuple[str, ...]:
    """How contrasts share the chance of a false alarm, and over what it is not held; nothing where there is one alone.

    >>> family_sentences([Family("life", "", "holm", 3, 3, ("outcomes",)), Family("rate", "", "holm", 3, 3)])
    ('3 pairs were compared in life and wear rate: ranges and p are wider than for one pair ... over the outcomes.',)
    """
    texts = []
    many = [one for one in found if one.contrasts > 1]
    for method, pairs in dict.fromkeys((one.method, one.contrasts) for one in many):
        own = [one for one in many if (one.method, one.contrasts) == (method, pairs)]
        named = ["metal left on walls" if one.outcome == "wall" else outcome_name(one.outcome) for one in own]
        names = listed(list(dict.fromkeys(named)))
        texts.append(
            f"{counted(pairs, 'pair')} were compared in {names}: ranges and p are wider than for one pair alone "
            f"({_FAMILIES[method]})"
        )
    over = [_NOT_HELD[word] for word in _NOT_HELD if any(word in one.not_held for one in found)]
    if over:
        texts.append(f"the chance of a false alarm is held within each outcome and zone, and not {listed(over)}")
    return (sentence("; ".join(texts)),) if texts else ()


def fracture_sentence(found: Fractures, by: str, units: str = "metric") -> str:
    """Chipped and broken cutters on each side, with what so few can hide."""
    parts = []
    for row in each_row(found.groups):
        high = significant(100 * float(row.high), 2)
        parts.append(
            f"{int(row.fractures)} of {grouped(int(row.cutters))} "
            f"{cutters_of(by, str(row.group), units, int(row.cutters))} (the true share may be as high as {high} %)"
        )
    return sentence(f"chipped or broken: {listed(parts, most=8)}")


def _names(columns: tuple[str, ...]) -> list[str]:
    return [label(name).text for name in columns]
