"""Walls in sentences: how pins answered the prediction, what of the walls is wear, lean against taper."""

from __future__ import annotations

import math

from wearlab.core.interval import Interval
from wearlab.wall.causes import Causes
from wearlab.wall.hang_up import HANGS, REACHES, STAYS_OUT, Agreement
from wearlab.wall.over_cutters import OverCutters
from wearlab.wall.separation import Separation
from wearlab.words.counting import agree, counted, sentence
from wearlab.words.groups import cutters_of
from wearlab.words.rounding import decimals_for, fixed, quantity, significant
from wearlab.words.units import unit_of

OUTCOMES = {REACHES: "reaches the floor", HANGS: "hangs up", STAYS_OUT: "does not enter"}
CUT = {"climb": "climbing", "conventional": "conventionally"}
SIGN = {
    True: "the sign is that of a cutter that gives way",
    False: "the sign is not that of a cutter that gives way: look at the cutter's size or the setting first",
    None: "its sign settles nothing",
}


def agreement_sentences(found: Agreement, units: str = "metric") -> tuple[str, ...]:
    """How the predicted hang-up heights answer the measured ones."""
    if not found.pins:
        return ()
    texts = [
        sentence(
            f"of {counted(found.pins, 'pin')} tried, {found.same_outcome} did what the wear of the edge predicts: "
            "reach the floor, hang up, or stay out"
        )
    ]
    if found.settled:
        texts.append(
            sentence(
                f"for {found.settled} of them the prediction names one place, and {found.settled_inside} "
                f"{agree(found.settled_inside, 'was')} found there"
                + (
                    f"; of these {counted(found.hung, 'pin')} hung, {quantity(found.rms_mm, 'length', units, 2)} from "
                    "the predicted height (root mean square)"
                    if found.hung
                    else ""
                )
            )
        )
    open_pins = found.pins - found.settled
    if open_pins:
        texts.append(
            sentence(
                f"for the other {open_pins} the walls are nearly parallel and about as wide as the pin, so that the "
                "least difference in width decides over much height: there a pin detects, and does not measure"
            )
        )
    return tuple(texts)


def growth_sentence(found: Separation, level: float = 0.95) -> str:
    """Whether walls grew as the recession of the edge says."""
    if found.why_missing:
        return sentence(f"what of the walls is wear was not worked out: {found.why_missing}")
    limits = found.interval(level)
    figure = significant(found.ratio.mean, 2)
    if limits.unbounded:
        return sentence(
            f"walls grew {figure} times as much as the lands of the same cutters predict; {found.ratio.why_missing}"
        )
    decimals = decimals_for(found.ratio.mean, limits.low, limits.high)
    text = (
        f"walls grew {fixed(found.ratio.mean, decimals)} times as much as the lands of the same cutters predict "
        f"(plausibly {fixed(limits.low, decimals)} to {fixed(limits.high, decimals)}, "
        f"{counted(found.ratio.cutters, 'cutter')})"
    )
    if limits.contains(1.0):
        return sentence(f"{text}: nothing here speaks against wear alone")
    if found.ratio.mean > 1:
        return sentence(f"{text}: more than wear alone, as when a blunt edge bends its cutter further")
    return sentence(
        f"{text}: less than the lands say, as when a land is read too long on the helix, or one flute makes the wall"
    )


def cause_sentence(found: Causes, by: str, units: str = "metric", level: float = 0.95) -> str:
    """What the walls looked like before the edge wore."""
    if not found.size.cutters:
        return sentence(f"walls of {cutters_of(by, found.group)} before wear: {found.why_missing}")
    size = _with_range(found.size, found.size.interval(level), units, 1000.0)
    lean = _with_range(found.lean, found.lean.interval(level), units, 1.0, per_mm=True)
    taper = _with_range(found.taper, found.taper.interval(level), units, 1.0, per_mm=True)
    text = (
        f"before they wore, {cutters_of(by, found.group)} left {size} of metal on each wall, a taper of {taper} "
        f"and a lean of {lean}"
    )
    if found.why_missing:
        return sentence(f"{text}. {sentence(found.why_missing)}")
    return sentence(
        f"{text}; by the log both walls were cut {CUT[found.direction]}, so metal left alike on both is deflection and "
        f"the size of the cutter ({SIGN[found.deflection_sign]}), and lean is the spindle's tram or how the part was "
        "clamped"
    )


def _with_range(found: OverCutters, limits: Interval, units: str, scale: float, per_mm: bool = False) -> str:
    """A figure in the reader's unit with its range; slopes are per mm, or per inch, of height."""
    unit = unit_of("deviation", units)
    factor = unit.factor * scale
    name = unit.name
    if per_mm:
        factor, name = (factor, f"{name}/mm") if units == "metric" else (factor * 25.4, f"{name}/in")
    mean = found.mean * factor
    if limits.unbounded:
        return f"{significant(mean, 2)} {name}"
    low, high = limits.low * factor, limits.high * factor
    decimals = decimals_for(mean, low, high)
    return f"{fixed(mean, decimals)} {name} ({fixed(low, decimals)} to {fixed(high, decimals)})"


def outcome_words(height_mm: float, outcome: str, units: str = "metric") -> str:
    """A hang-up height for a cell: floor and mouth in words.

    >>> outcome_words(0.0, "reaches the floor"), outcome_words(2.91, "hangs up"), outcome_words(float("nan"), "")
    ('floor', '2.91 mm', '–')
    """
    if not math.isfinite(height_mm):
        return "–"
    return {REACHES: "floor", STAYS_OUT: "does not enter"}.get(outcome) or quantity(height_mm, "length", units)
