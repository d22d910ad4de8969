"""Verdicts of outcomes that are compared by differences: metal left on walls, and its growth."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.compare.contrast import Contrast
from wearlab.compare.wall_outcomes import read_off
from wearlab.core.interval import Interval
from wearlab.words.counting import agree, counted, sentence
from wearlab.words.groups import cutters_of
from wearlab.words.outcomes import height_words
from wearlab.words.rounding import decimals_for, fixed, quantity, range_text, significant
from wearlab.words.units import clock_kind, unit_of

UM_PER_MM = 1000.0


@dataclass(frozen=True, slots=True)
class Shown:
    """A difference turned so that the first group left more, in the reader's unit."""

    more: str
    less: str
    estimate: float
    interval: Interval
    margin: float
    unit: str

    @property
    def decimals(self) -> int:
        """Decimals that the interval supports."""
        return max(decimals_for(self.estimate, self.interval.low, self.interval.high), 0)

    def about(self) -> str:
        """The estimate with its unit."""
        return f"{fixed(self.estimate, self.decimals)} {self.unit}"

    def plausible(self) -> str:
        """The interval with its unit."""
        return range_text(self.interval, self.decimals, (0.0,), self.unit)


def shown(contrast: Contrast, units: str = "metric") -> Shown:
    """A contrast of walls as people say it."""
    factor = UM_PER_MM * unit_of("deviation", units).factor
    turn = contrast.estimate < 0
    interval = contrast.interval.map(lambda x: -x * factor) if turn else contrast.interval.map(lambda x: x * factor)
    pair = (contrast.b, contrast.a) if turn else (contrast.a, contrast.b)
    margin = contrast.equivalence.get("margin")
    return Shown(*pair, abs(contrast.estimate) * factor, interval, math.nan if margin is None else margin * factor,
                 wall_unit(contrast, units))  # fmt: skip


def wall_unit(contrast: Contrast, units: str = "metric") -> str:
    """Unit of a difference of walls."""
    unit = unit_of("deviation", units).name
    if contrast.outcome == "wall":
        return unit
    kind = clock_kind(contrast.clock)
    return f"{unit} a part" if kind == "parts" else f"{unit} per {unit_of(kind, units).name}"


def difference_statement(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """The verdict on walls in one sentence."""
    found = shown(contrast, units)
    more, less = cutters_of(by, found.more, units), cutters_of(by, found.less, units)
    what = _what_is_left(contrast, units)
    worth = f"the {significant(found.margin)} {found.unit} that this trial calls worth acting on"
    if contrast.verdict == "different":
        return sentence(
            f"{more} left more {what} than {less}: by about {found.about()} (plausibly {found.plausible()})"
        )
    if contrast.verdict == "small_but_real":
        return sentence(
            f"{more} left more {what} than {less}, but by little: about {found.about()} (plausibly "
            f"{found.plausible()}), which is less than {worth}"
        )
    if contrast.verdict == "alike":
        return sentence(
            f"for practical purposes {more} and {less} leave as much {what}: if they differ, it is by less "
            f"than {worth} (best guess {found.about()}, plausibly {found.plausible()})"
        )
    return sentence(f"this trial cannot tell which of {more} and {less} leaves more {what}")


def _what_is_left(contrast: Contrast, units: str) -> str:
    """Metal, where it was left and at what age, or that it grows with use."""
    height = height_words(contrast.criterion, units)
    if contrast.outcome != "wall":
        return f"metal {height} above the floor of the wall with every part" if height else "metal with every part"
    place = f"{height} above the floor" if height else "at the floor"
    found = read_off(contrast.criterion)
    age = f" after {quantity(found.age, clock_kind(found.clock), units)}" if found else ""
    return f"metal {place} of the wall{age}"


def difference_both_ways(contrast: Contrast, by: str = "strategy", units: str = "metric") -> str:
    """How far it stays open, both ways."""
    found = shown(contrast, units)
    more, less = cutters_of(by, found.more, units), cutters_of(by, found.less, units)
    if found.interval.unbounded:
        return sentence(f"how far apart they are stays open; the best guess is {found.about()}")
    low, high = (fixed(abs(end), found.decimals) for end in (found.interval.low, found.interval.high))
    return sentence(
        f"{more} might leave up to {high} {found.unit} more than {less}, or up to {low} {found.unit} less; the best "
        f"guess is {found.about()} more"
    )


def difference_detectable(contrast: Contrast, sides: str, units: str = "metric") -> str:
    """What a trial of this size and scatter would usually have shown of walls."""
    found = shown(contrast, units)
    least = contrast.smallest_detectable * UM_PER_MM * unit_of("deviation", units).factor
    if not math.isfinite(least):
        return sentence(f"with {sides} the scatter between cutters cannot be judged, so what could have been shown is "
                        "not known")  # fmt: skip
    return sentence(
        f"with {sides} and the scatter seen, a difference of {significant(least, 2)} {found.unit} or more would have "
        "shown in four trials out of five; a smaller one would often have been missed"
    )


def difference_settle(contrast: Contrast, units: str = "metric") -> str:
    """How many cutters would settle a difference of the margin; why not where no margin is stated."""
    found = shown(contrast, units)
    if not math.isfinite(found.margin):
        return sentence(
            "how small a difference would be too small to act on was not stated, so these walls cannot be called alike"
        )
    needed = contrast.cutters_to_settle
    if needed is None:
        return sentence("how many cutters would settle it cannot be worked out from this trial")
    return sentence(
        f"to settle a difference of {significant(found.margin)} {found.unit}, about {counted(needed, 'cutter')} on "
        f"each side {agree(needed, 'is')} needed"
    )
