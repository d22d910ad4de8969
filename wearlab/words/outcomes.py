"""How each outcome of a comparison is spoken of."""

from __future__ import annotations

from dataclasses import dataclass

from wearlab.compare.wall_outcomes import read_off
from wearlab.words.rounding import quantity


@dataclass(frozen=True, slots=True)
class Phrase:
    """Words of one outcome: did more, how many times, alike, does more, might do, as much as, did."""

    name: str
    did_more: str
    times: str
    alike: str
    does_more: str
    do: str
    how: str
    did: str


PHRASES = {
    "life": Phrase("life", "lasted longer", "times as long", "last alike", "lasts longer", "last", "as long as",
                   "lasted"),
    "rate": Phrase("wear rate", "wore faster", "times as fast", "wear alike", "wears faster", "wear", "as fast as",
                   "wore"),
    "volume": Phrase("metal removed", "removed more metal before the end", "times as much",
                     "remove about as much metal before the end", "removes more metal before the end", "remove",
                     "as much metal as", "removed"),
    "parts": Phrase("parts made", "made more parts before the end", "times as many",
                    "make about as many parts before the end", "makes more parts before the end", "make",
                    "as many parts as", "made"),
    "wall": Phrase("metal left at the floor", "left more metal", "", "leave about as much metal",
                   "leaves more metal", "leave", "", "left"),
    "wall_growth": Phrase("growth of the metal left", "left more and more metal", "",
                          "leave more and more metal at about one pace", "walls grow faster", "leave", "", "left"),
}  # fmt: skip
"""By the code of the outcome."""


NEAR_FLOOR_MM = 1.0
"""Walls read no higher than this are spoken of as read at the floor (our choice)."""


def outcome_name(outcome: str, criterion: str = "", units: str = "metric") -> str:
    """An outcome in words; of walls with the height, where they were not read near the floor.

    >>> outcome_name("volume")
    'metal removed'
    >>> outcome_name("wall", "metal left 0.5 mm above the floor, at 10 parts")
    'metal left at the floor'
    >>> outcome_name("wall", "metal left 12 mm above the floor, at 10 parts")
    'metal left 12 mm above the floor'
    """
    height = height_words(criterion, units)
    if height and outcome.startswith("wall"):
        return f"{'growth of the ' if outcome == 'wall_growth' else ''}metal left {height} above the floor"
    return PHRASES[outcome].name if outcome in PHRASES else outcome.replace("_", " ")


def height_words(criterion: str, units: str = "metric") -> str:
    """Height above the floor at which walls were compared; empty near the floor, and for what is no wall.

    >>> height_words("metal left 12 mm above the floor, at 10 parts"), height_words("VB=0.3mm")
    ('12 mm', '')
    """
    found = read_off(criterion)
    return quantity(found.height_mm, "length", units) if found and found.height_mm > NEAR_FLOOR_MM else ""
