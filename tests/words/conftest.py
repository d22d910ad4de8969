"""Contrasts of every kind, and the rules that every printed sentence keeps."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import pytest

from wearlab.compare.contrast import Contrast
from wearlab.core.interval import Interval

FORBIDDEN = {
    "two blanks": r"  ",
    "blank before a stop": r" [.,;:]",
    "two stops": r"\.\.(?!\.)|,,|;;",
    "no figure": r"\b(?:nan|NaN|None(?! of)|inf|Infinity)\b",
    "one of many": r"(?<![\d.])1 (?:cutters|lives|rows|readings|errors|warnings|notes|parts)\b",
    "many of one": r"\b(?:[02-9]|\d{2,}) (?:cutter|life|row|reading|error|warning|note)\b(?! of\b)",
    "significance alone": r"\bsignificant(?:ly)?\b",
    "a proof": r"\bprov(?:e|es|ed|en)\b",
    "no difference": r"\bno difference\b",
    "a bare p": r"\bp ?[=<>]",
    "a chance that a parameter lies somewhere": r"% probability that",
    "braces left over": r"[{}]",
    "a column's name": r"\b[a-z]+_(?:mm|min|deg|um|cm3)\b",
}
"""What no sentence may hold, and how it is found."""


def faults(text: str) -> list[str]:
    """Names of the rules that a sentence breaks."""
    found = [name for name, pattern in FORBIDDEN.items() if re.search(pattern, text)]
    if text and text[-1] not in ".?!":
        found.append("no stop at the end")
    if text and not (text[0].isupper() or text[0].isdigit() or text[0] in "“"):
        found.append("no capital at the start")
    return found


@pytest.fixture
def broken_rules() -> Callable[[str], list[str]]:
    return faults


@pytest.fixture
def contrast_of() -> Callable[..., Contrast]:
    """A contrast with the facts that a test names; the others fit a verdict of `different`."""

    def make(**facts: Any) -> Contrast:
        interval = facts.pop("interval", (2.09, 3.78))
        limits = Interval(*interval, 0.95, "t")
        values: dict[str, Any] = {
            "a": "side",
            "b": "layered",
            "outcome": "life",
            "criterion": "lower:VB.mean=0.2mm",
            "zone": "lower",
            "clock": "cutting_time_min",
            "scale": "ratio",
            "n_a": 6,
            "n_b": 6,
            "estimate": 2.79,
            "interval": limits,
            "inner": limits,
            "p_value": 0.002,
            "p_method": "exact permutation",
            "smallest_p": 0.002,
            "method": "t",
            "sigma": 0.2,
            "smallest_detectable": 1.41,
            "cutters_to_settle": 13,
            "equivalence": {"margin": 1.25},
            "verdict": "different",
        }
        return Contrast(**(values | facts))

    return make


UNBOUNDED = (-math.inf, math.inf)
