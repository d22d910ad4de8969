"""What stands beside a shift of wear along the edge: what the geometry makes of it, and what the gauge cannot see."""

from __future__ import annotations

import math

from wearlab.compare.zone_shift import ZoneShift
from wearlab.words.counting import counted, sentence
from wearlab.words.groups import cutters_of
from wearlab.words.rounding import fixed, quantity, significant

_ENDS = {
    "inside": "what was measured lies in that band",
    "reaches": "what was measured lies outside that band, but its plausible range reaches it",
    "above": "what was measured lies above that band",
    "below": "what was measured lies below that band",
}


def shift_beside(shift: ZoneShift, by: str = "strategy", units: str = "metric") -> tuple[str, ...]:
    """Sentences beside `shift_sentence`; empty where there is nothing to say."""
    texts = []
    if shift.below:
        count = len(shift.below)
        texts.append(
            sentence(
                f"on {counted(count, 'cutter')} one of these zones showed less than "
                f"{quantity(shift.floor_mm, 'land', units)}, which is below the resolution of the gauge and not "
                "nothing; so shares are compared and not ratios"
            )
        )
    band = shift.predicted
    if band is None or band.why_missing or not band.position:
        return tuple(texts)
    position = band.position
    if shift.scale == "ratio":
        low, high = significant(band.low, 2), significant(band.high, 2)
        expected = f"a ratio of the two of {low}" + ("" if low == high else f" to {high}")
    else:
        expected = _shares(band.low, band.high, shift, by, units)
        if band.low + band.high < 0:  # said the other way round
            position = {"above": "below", "below": "above"}.get(position, position)
    texts.append(sentence(f"from the geometry of the cut alone {expected} would be expected; {_ENDS[position]}"))
    return tuple(texts)


def _shares(low: float, high: float, shift: ZoneShift, by: str, units: str) -> str:
    """A difference of shares, turned so that it is one of more on the side that has more."""
    turn = low + high < 0
    ends = sorted(fixed(100 * abs(one), 0) for one in (low, high)) if low * high >= 0 else []
    more, less = (shift.b, shift.a) if turn else (shift.a, shift.b)
    if not ends or math.isnan(low):
        return "a share on both sides that differs little"
    ends = sorted(ends, key=float)
    span = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    return (
        f"a share in the {shift.zones[0]} zone that is {span} points larger on "
        f"{cutters_of(by, more, units)} than on {cutters_of(by, less, units)}"
    )
