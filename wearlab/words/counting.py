"""Counted things: 1 cutter, 2 cutters; lists with an "and"; names cut short."""

from __future__ import annotations

import re
from collections.abc import Sequence

THIN = "\u202f"
"""Narrow space that keeps thousands apart and does not break."""

_BLANKS = re.compile(r"[ \t\r\n]+")
"""Blanks that run together; the narrow one inside a number is none of them."""

_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_PLURALS = {
    "inspection": "inspections",
    "has": "have",
    "is": "are",
    "was": "were",
    "it": "they",
    "its": "their",
    "life": "lives",
    "does": "do",
    "counts": "count",
    "this": "these",
}


def plural(word: str) -> str:
    """More than one of it.

    >>> plural("cutter"), plural("life"), plural("was"), plural("box")
    ('cutters', 'lives', 'were', 'boxes')
    """
    if word in _PLURALS:
        return _PLURALS[word]
    if word.endswith(("s", "x", "ch", "sh")):
        return f"{word}es"
    if word.endswith("y") and word[-2:-1] not in "aeiou":
        return f"{word[:-1]}ies"
    return f"{word}s"


def agree(count: int, word: str) -> str:
    """The word alone, for one or for more.

    >>> agree(1, "was"), agree(0, "was")
    ('was', 'were')
    """
    return word if count == 1 else plural(word)


def counted(count: int, word: str) -> str:
    """A number and its thing; the thing is the last word.

    >>> counted(1, "cutter"), counted(0, "cutter"), counted(2374, "wear reading")
    ('1 cutter', 'no cutters', '2\\u202f374 wear readings')
    """
    before, _, last = word.rpartition(" ")
    word = f"{before} {agree(count, last)}".strip()
    return f"no {word}" if count == 0 else f"{grouped(count)} {word}"


def grouped(count: int) -> str:
    """A whole number with its thousands apart.

    >>> grouped(999), grouped(100000)
    ('999', '100\\u202f000')
    """
    return f"{count:,}".replace(",", THIN)


def in_words(count: int) -> str:
    """Small numbers as words, for the start of a sentence.

    >>> in_words(6), in_words(14)
    ('six', '14')
    """
    return _WORDS[count] if 0 <= count < len(_WORDS) else grouped(count)


def listed(names: Sequence[str], most: int = 6, last: str = "and") -> str:
    """Names as a list in a sentence.

    >>> listed(["E1"]), listed(["E1", "E2"]), listed(["E1", "E2", "E3"]), listed(list("abcdefgh"), 3)
    ('E1', 'E1 and E2', 'E1, E2 and E3', 'a, b, c and 5 more')
    """
    names = list(names)
    if len(names) > most:
        return f"{', '.join(names[:most])} {last} {len(names) - most} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def sentence(text: str) -> str:
    """First letter large, one full stop at the end; a name that opens it is left as it was written.

    >>> sentence("no verdict: 2 cutters on a side"), sentence("“side” cutters lasted longer.")
    ('No verdict: 2 cutters on a side.', '“side” cutters lasted longer.')
    """
    text = _BLANKS.sub(" ", text).strip(" ")
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".?!" else f"{text}."
