"""Doubts about lives: readings that disagree with themselves about when the limit was crossed."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.life.lives import ToolLives
from wearlab.life.toollife import ToolLife


@dataclass(frozen=True, slots=True)
class LifeDoubt:
    """One doubt, in plain words."""

    cutter: str
    criterion: str
    clock: str
    text: str


def life_doubts(lives: ToolLives) -> tuple[LifeDoubt, ...]:
    """Cutters whose crossing depends on the rule.

    The three rules (monotone curve, first crossing, last crossing) are compared on the first clock; where they differ
    by more than the bracket, or one finds a crossing and another none, the readings themselves are in doubt.
    """
    found = []
    for life in lives.lives:
        if life.clock == lives.clocks[0]:
            text = _doubt(life)
            if text:
                found.append(LifeDoubt(life.cutter, life.criterion, life.clock, text))
    return tuple(found)


def _doubt(life: ToolLife) -> str:
    first, last = life.first_crossing, life.last_crossing
    if life.status == "right" and math.isfinite(first):
        return f"a reading passed the limit at {first:.4g} and later ones fell back below it: not counted as reached"
    if life.status != "exact" or math.isnan(life.bracket_high):  # an end that was booked, not read off a curve
        return ""
    gaps = [abs(one - life.life) for one in (first, last) if math.isfinite(one)]
    if math.isnan(last):
        return f"crossed at {life.life:.4g}, but the last reading is below the limit again"
    if gaps and max(gaps) > life.bracket_high - life.bracket_low:
        return f"{life.life:.4g} by the monotone curve, {first:.4g} at the first and {last:.4g} at the last crossing"
    return ""
