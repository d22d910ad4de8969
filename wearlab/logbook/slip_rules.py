"""Slips of single readings: a point in the wrong place, another unit, digits exchanged.

A reading is doubted when its neighbours in time and its sister flutes both speak against it; what it most likely is
is named, and nothing is repaired.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.logbook.blocks import Between, Block, blocks_of
from wearlab.logbook.cells import number_in
from wearlab.logbook.curves import LANDS, Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.noise import reading_sd, slip_words
from wearlab.logbook.screen import worth_judging
from wearlab.logbook.sheet import Bools, Floats

RATIO, RATIO_SD = 3.0, 3.5
"""A reading this many times off, and this many standard deviations, may be a slip of the unit or of the point."""
ALONE_SD, BOTH_SD = 4.0, 3.3
"""Without a ratio a reading is out of line so many standard deviations outside its neighbours in time, when there are
no sister flutes, or when they speak against it as well."""
DIGITS_SD, DIGITS_FIT_SD = 3.4, 1.5
"""When two digits exchanged would bring it so close to what is expected, less is enough."""

CHIPPED = ("chipping", "flaking", "catastrophic failure", "cracks")


@dataclass(frozen=True, slots=True)
class Slipped:
    """A doubtful reading, what it should be, and by what it was judged."""

    at: int
    expected: float
    named: str


def check_slips(draft: Draft, lands: Lands) -> Bools:
    """Report readings that are out of line; returns which of the lands they are."""
    doubtful = np.zeros(len(lands), dtype=bool)
    form = draft.word("wear_form").equal(*CHIPPED)
    for block in blocks_of(lands, worth_judging(lands)):
        for slipped in _of_block(draft, block, lands):
            if not form[lands.row[slipped.at]]:
                doubtful[slipped.at] = True
                _report(draft, lands, slipped)
    return doubtful


def _of_block(draft: Draft, block: Block, lands: Lands) -> list[Slipped]:
    """Slips of one block, the worst first, each judged without those found before."""
    use = np.isfinite(block.land)
    typed = _TypedCells(draft, block, lands)
    found: list[Slipped] = []
    while len(found) < max(2, use.size // 4):
        judged = _judged(block, use)
        score = np.where(judged.doubtful | _digits_fit(block, use, judged, typed), judged.score, np.nan)
        if not np.isfinite(score).any():
            break
        k, f = (int(i) for i in np.unravel_index(int(np.nanargmax(score)), score.shape))
        use[k, f] = False
        at, expected = int(block.at[k, f]), float(judged.expected[k, f])
        found.append(Slipped(at, expected, _cause(draft, lands, at, expected, typed.of(k, f))))
    return found


@dataclass(frozen=True, slots=True)
class _Judged:
    """What each reading of a block should be, how far off it is, and whether that is too far."""

    expected: Floats
    score: Floats
    near_score: Floats
    doubtful: Bools


def _judged(block: Block, use: Bools) -> _Judged:
    between, sisters, land = block.between(use), block.sisters(use), block.land
    by_sisters, sisters_sd = block.by_sisters(use, sisters)
    time_says, sisters_say = np.isfinite(between.line), np.isfinite(by_sisters)
    middle = (between.line + by_sisters) / 2
    expected = np.where(time_says & sisters_say, middle, np.where(time_says, between.line, by_sisters))
    score = np.abs(land - expected) / (1.2 * reading_sd(np.nan_to_num(expected)))
    by_ratio = _slip_of_ratio(block, use, between, sisters, expected, score)
    outside = np.where(time_says, between.outside / np.nan_to_num(between.spread, nan=1.0), 0.0)
    off_sisters = np.where(sisters_say, np.abs(land - by_sisters) / np.nan_to_num(sisters_sd, nan=1.0), np.inf)
    by_size = np.where(sisters_say, (outside > BOTH_SD) & (off_sisters > BOTH_SD), outside > ALONE_SD)
    by_size &= time_says & _apart_from_sisters(use, between)
    near = np.where(time_says & sisters_say, np.minimum(1.5 * outside, off_sisters), off_sisters)
    return _Judged(
        expected, np.where(use, score, np.nan), np.where(np.isfinite(near), near, 0.0), use & (by_ratio | by_size)
    )


def _slip_of_ratio(
    block: Block, use: Bools, between: Between, sisters: Floats, expected: Floats, score: Floats
) -> Bools:
    """Readings that are many times off, by their neighbours in time and by their sisters."""
    land = block.land
    time_says, sisters_say = np.isfinite(between.line), np.isfinite(sisters)
    far = _ratio_beyond(land, expected) & (score > RATIO_SD)
    result = far & (~time_says | _ratio_beyond(land, between.line)) & (~sisters_say | _ratio_beyond(land, sisters))
    result |= time_says & _outside_neighbours(block, use) & far
    return result & (time_says | _edge_allows(block, use))


@dataclass(frozen=True, slots=True)
class _TypedCells:
    """The readings of a block as they were typed."""

    draft: Draft
    block: Block
    lands: Lands

    def of(self, k: int, f: int) -> str:
        """One of them."""
        return self.draft.typed(int(self.lands.row[self.block.at[k, f]]), "value")


def _digits_fit(block: Block, use: Bools, judged: _Judged, typed: _TypedCells) -> Bools:
    """Readings that are off, and would not be with two neighbouring digits exchanged."""
    result = np.zeros(block.land.shape, dtype=bool)
    for k, f in zip(*np.nonzero(use & (judged.near_score > DIGITS_SD)), strict=True):
        expected, land = float(judged.expected[k, f]), float(block.land[k, f])
        fit = DIGITS_FIT_SD * 1.2 * float(reading_sd(max(expected, 0.0)))
        result[k, f] = bool(_exchanged_digits(typed.of(k, f), land, expected, fit))
    return result


def _ratio_beyond(land: Floats, expected: Floats) -> Bools:
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(expected > 0, land / expected, np.nan)
    return (ratio > RATIO) | (ratio < 1 / RATIO)


def _outside_neighbours(block: Block, use: Bools) -> Bools:
    """Three times above the greater, or below the lesser, of the readings before and after."""
    result = np.zeros(block.land.shape, dtype=bool)
    for f in range(block.land.shape[1]):
        known = np.flatnonzero(use[:, f])
        for k in known:
            near = [*known[known < k][-1:], *known[known > k][:1]]
            if len(near) == 2:
                low, high, land = block.land[near, f].min(), block.land[near, f].max(), block.land[k, f]
                below = land < low / RATIO and low - land > RATIO_SD * reading_sd(low)
                result[k, f] = land > RATIO * high or below
    return result


def _edge_allows(block: Block, use: Bools) -> Bools:
    """At the first and the last look growth itself may be steep: the one neighbour must speak against the reading.

    A last reading may be far above the one before it when its own flute alone wore out: then it must be above the
    sisters by more than any flute differs.
    """
    result = np.zeros(block.land.shape, dtype=bool)
    for f in range(block.land.shape[1]):
        known = np.flatnonzero(use[:, f])
        if not len(known):
            continue
        first, last = known[0], known[-1]
        others = block.land[last][use[last] & (np.arange(block.land.shape[1]) != f)]
        alone = len(others) >= 2 and block.land[last, f] > 6.0 * others.max()
        if len(known) > 1:
            result[first, f] = block.land[first, f] > RATIO * block.land[known[1], f] or _far_below(
                block, use, first, f
            )
            result[last, f] = alone or block.land[last, f] < block.land[known[-2], f] / RATIO
        else:
            result[first, f] = alone or _far_below(block, use, first, f)
    return result


def _far_below(block: Block, use: Bools, k: int, f: int) -> bool:
    """Below all sisters by more than any flute differs."""
    others = block.land[k][use[k] & (np.arange(block.land.shape[1]) != f)]
    if len(others) < 2:
        return False
    least, land = float(others.min()), float(block.land[k, f])
    return land < least / 5.0 and least - land > 3.0 * float(reading_sd(least))


def _apart_from_sisters(use: Bools, between: Between) -> Bools:
    """At least half of the other flutes of the look are in line, so that the look as a whole is not to blame."""
    judged = use & np.isfinite(between.line)
    in_line = judged & (between.outside < 2.5 * np.nan_to_num(between.spread))
    others = judged.sum(axis=1, keepdims=True) - judged
    fine = in_line.sum(axis=1, keepdims=True) - in_line
    return (others == 0) | (fine >= 0.5 * others)


def _cause(draft: Draft, lands: Lands, at: int, expected: float, typed: str) -> str:
    value = float(lands.value[at])
    if value <= 0 or expected <= 0:
        return ""
    digits = _exchanged_digits(typed, value, expected, 3.0 * float(reading_sd(expected)))
    unit = draft.word("unit").text(int(lands.row[at]))
    factor = slip_words(unit, value / expected)
    return factor or digits if _ratio_beyond(np.array(value), np.array(expected)) else digits or factor


def _exchanged_digits(typed: str, value: float, expected: float, fit: float) -> str:
    """The reading with two neighbouring digits exchanged, if that is within `fit` of what is expected."""
    number = number_in(typed)
    for i in range(len(typed) - 1):
        a, b = typed[i], typed[i + 1]
        if not (a.isdigit() and b.isdigit() and a != b):
            continue
        other = f"{typed[:i]}{b}{a}{typed[i + 2 :]}"
        if abs(value * number_in(other) / number - expected) < fit:
            return f"two digits exchanged, {other}?"
    return ""


def _report(draft: Draft, lands: Lands, slipped: Slipped) -> None:
    row = int(lands.row[slipped.at])
    found = (
        f"{place_words(draft, lands, slipped.at)} is {lands.value[slipped.at]:.4g} mm where the readings around it say "
        f"{slipped.expected:.3g} mm"
    )
    draft.warn(
        "reading_out_of_line",
        found,
        [row],
        cutter=draft.cutter_of(row),
        column="value",
        hint=slipped.named or "Misread, or mistyped? Look at the bench sheet",
    )


def place_words(draft: Draft, lands: Lands, at: int) -> str:
    """Measure, zone and flute of a land in words."""
    row = int(lands.row[at])
    parts = [LANDS[lands.measure[at]]]
    if zone := draft.word("zone").text(row):
        parts.append(f"in zone {zone}")
    if flute := draft.word("flute").text(row):
        parts.append(f"of flute {flute}" if flute.isdecimal() else f"({flute} of the flutes)")
    return " ".join(parts)
