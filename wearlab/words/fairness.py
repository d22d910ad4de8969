"""What was fair about a comparison, in words."""

from __future__ import annotations

import re

from wearlab.compare.fair import Fairness
from wearlab.compare.fractures import Fractures
from wearlab.core.tables import each_row
from wearlab.words.counting import counted, grouped, listed, sentence
from wearlab.words.groups import cutters_of
from wearlab.words.labels import label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import significant

_WIDENED = re.compile(r"^interval widened for (\d+) contrasts \(Bonferroni\), p by Holm$")
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
        "whole, and "
        "not to any one of these"
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
        sentence(f"{_quoted(in_plain_words(text))}, so the two cannot be told apart: no conclusion is drawn")
        for text in fair.confounded
    )


def doubt_sentences(fair: Fairness) -> tuple[str, ...]:
    """What is doubtful, but does not refuse a verdict."""
    return tuple(sentence(in_plain_words(text)) for text in fair.doubts)


def _quoted(text: str) -> str:
    return text


def note_sentence(note: str, units: str = "metric") -> str:
    """A note of a contrast.

    >>> note_sentence("2 cutters (E1, E2) left out: bar 7 was met by one group only")
    'To compare like with like, 2 cutters were left out here (E1 and E2): bar 7 was met by one group only.'
    """
    widened = _WIDENED.match(note)
    if widened is not None:
        return sentence(
            f"its range is wider than it would be alone, because {widened[1]} pairs were compared (Bonferroni; p by "
            "Holm)"
        )
    match = _LEFT_OUT.match(note)
    if match is None:
        return sentence(in_plain_words(note, units))
    count, names, why = int(match[1]), match[2].split(", "), in_plain_words(match[3], units)
    was = "was" if count == 1 else "were"
    return sentence(
        f"to compare like with like, {counted(count, 'cutter')} {was} left out here ({listed(names, most=12)}): {why}"
    )


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
