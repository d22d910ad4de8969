"""How each outcome of a comparison is spoken of."""

from __future__ import annotations

from dataclasses import dataclass


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


def outcome_name(outcome: str) -> str:
    """An outcome in words.

    >>> outcome_name("volume")
    'metal removed'
    """
    return PHRASES[outcome].name if outcome in PHRASES else outcome.replace("_", " ")
