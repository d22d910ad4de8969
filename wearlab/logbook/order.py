"""The order of readings within each cutter, as arrays that every rule of a cutter starts from."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.draft import Draft
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.sheet import Bools, Codes, Floats, Ints


@dataclass(frozen=True, slots=True)
class Looks:
    """Usable rows in order of cutters, looks and lines.

    Attributes
    ----------
    names : list of str
        Cutters in natural order (in order of appearance while a large log is only checked).
    rows : numpy.ndarray of int
        Usable rows, ordered.
    cutter, look : numpy.ndarray of int
        In step with `rows`: index into `names`, and 0, 1, 2, ... within the cutter.
    new_cutter, new_look : numpy.ndarray of bool
        In step with `rows`: whether a cutter, and a look, begins here.
    unnumbered : list of str
        Cutters of which some readings have a number and some have none, so that the order in the file was taken.
    plain : bool
        The rows are all rows of the log as they stand: columns need not be rearranged.
    bad : int
        How many rows were set aside when this order was made.
    by_zone : list of str
        Cutters without reading numbers whose rows stand zone by zone, so that the clock gave the order.
    steady : set of str
        Columns that were found to be filled and the same in all rows of every cutter.
    """

    names: list[str]
    rows: Ints
    cutter: Codes
    look: Codes
    new_cutter: Bools
    new_look: Bools
    unnumbered: list[str]
    plain: bool
    bad: int = 0
    by_zone: list[str] = field(default_factory=list)
    steady: set[str] = field(default_factory=set)

    def take(self, column: NDArray[Any]) -> NDArray[Any]:
        """A column of the log in the order of the rows."""
        return column if self.plain else column[self.rows]


def segment_starts(*keys: NDArray[Any]) -> Ints:
    """Where a new combination of ordered keys begins.

    >>> segment_starts(np.array([0, 0, 1, 1]), np.array([5, 5, 5, 6])).tolist()
    [0, 2, 3]
    """
    return np.flatnonzero(changes(*keys))


def changes(*keys: NDArray[Any]) -> Bools:
    """Whether a row of ordered keys differs from the row before it."""
    new = np.zeros(len(keys[0]), dtype=bool)
    if len(new):
        new[0] = True
        for key in keys:
            new[1:] |= key[1:] != key[:-1]
    return new


def spans(new: Bools) -> list[tuple[int, int]]:
    """Begin and end of each run, from the flags where a new one begins.

    >>> spans(np.array([True, False, True])), spans(np.zeros(0, dtype=bool))
    ([(0, 2), (2, 3)], [])
    """
    starts = np.flatnonzero(new).tolist()
    return list(zip(starts, [*starts[1:], len(new)], strict=True)) if starts else []


def stretch(ordered: NDArray[Any], value: int) -> Ints:
    """Positions of a value in an ordered array.

    >>> stretch(np.array([0, 0, 3, 3, 3]), 3).tolist()
    [2, 3, 4]
    """
    return np.arange(np.searchsorted(ordered, value, "left"), np.searchsorted(ordered, value, "right"))


def looks_of(draft: Draft) -> Looks:
    """Order the usable rows: by reading number where all readings of a cutter have one, else as they stand in the file.

    A row that only says how the cutter ended needs no number; without one it comes last.
    """
    names, rank = draft.cutter_ranks()
    clean = not draft.bad.any()
    rows = np.arange(draft.size) if clean else np.flatnonzero(~draft.bad)
    cutter, level = rank if clean else rank[rows], draft.number("reading")
    level = level if clean else level[rows]
    mixed: list[str] = []
    by_zone: list[str] = []
    if len(level) and np.isnan(level).any():
        level, mixed, by_zone = _levels(draft, names, rows, cutter, level)
    ordered = _in_order(cutter, level)
    if not ordered:
        order = np.lexsort((level, cutter))
        rows, cutter, level = rows[order], cutter[order], level[order]
    new_cutter = changes(cutter)
    new_look = new_cutter.copy()
    new_look[1:] |= level[1:] != level[:-1]
    step = np.cumsum(new_look, dtype=np.int32)
    starts = np.flatnonzero(new_cutter)
    first = np.repeat(step[starts], np.diff(np.append(starts, len(rows))))
    return Looks(
        names,
        rows,
        cutter,
        step - first,
        new_cutter,
        new_look,
        mixed,
        clean and ordered,
        draft.size - len(rows),
        by_zone,
    )


def _levels(
    draft: Draft, names: list[str], rows: Ints, cutter: Codes, number: Floats
) -> tuple[Floats, list[str], list[str]]:
    """What orders the rows where some have no reading number; cutters that have both kinds, and those zone by zone."""
    has, end = np.isfinite(number), draft.word("measure").equal("end")[rows]
    count = len(names)
    lacking = np.bincount(cutter[~has & ~end], minlength=count) > 0
    having = np.bincount(cutter[has & ~end], minlength=count) > 0
    only_ends = np.bincount(cutter[~end], minlength=count) == 0
    ends_lack = np.bincount(cutter[~has & end], minlength=count) > 0
    numbered = np.where(only_ends, ~ends_lack, ~lacking)
    level = np.where(has, number, np.inf)
    loose = ~numbered[cutter]
    sorted_by_clock: list[str] = []
    if loose.any():
        level[loose], by_zone = _file_order(draft, rows[loose], cutter[loose])
        sorted_by_clock = [names[at] for at in np.unique(cutter[loose][by_zone])]
    return level, [names[at] for at in np.flatnonzero(lacking & having)], sorted_by_clock


def _in_order(cutter: Codes, level: Floats) -> bool:
    """Whether rows stand in order of cutters and levels already."""
    if (cutter[1:] < cutter[:-1]).any():
        return False
    return not ((level[1:] < level[:-1]) & (cutter[1:] == cutter[:-1])).any()


def _file_order(draft: Draft, rows: Ints, cutter: Codes) -> tuple[Floats, Bools]:
    """A running number that steps where the clocks of a cutter change from one of its rows to the next.

    Rows of a cutter that stand in several files, or zone by zone, are put in order of its clock first: the order of
    files, and of zones, says nothing. Also which rows stand zone by zone.
    """
    clocks = [np.nan_to_num(draft.numbers[name][rows], nan=-1.0) for name in CLOCKS if name in draft.numbers]
    order = np.argsort(cutter, kind="stable")
    by_zone = np.zeros(len(rows), dtype=bool)
    if clocks:
        first = np.where(_in_several_files(draft, rows, cutter), clocks[0], 0.0)
        by_zone = _zone_by_zone(draft, rows, cutter, order, clocks, first)
        order = np.lexsort((rows, first, cutter))
    new = changes(cutter[order])
    for clock in clocks:
        ordered = clock[order]
        new[1:] |= ordered[1:] != ordered[:-1]
    level = np.empty(len(rows))
    level[order] = np.cumsum(new)
    return level, by_zone


def _zone_by_zone(draft: Draft, rows: Ints, cutter: Codes, order: Ints, clocks: list[Floats], first: Floats) -> Bools:
    """Rows of cutters whose readings stand zone by zone (or flute by flute), each of them from new to worn.

    There the clock goes back from one row to the next, but at most of the places that are read it never does. Fills
    in `first`, by which rows are put in order; a clock that goes back at one place alone is given the look in which
    that reading stands, in `clocks` as well, so that it can be told from the other readings of that look.
    """
    found = np.zeros(len(rows), dtype=bool)
    same = ~changes(cutter[order])
    back = np.zeros(len(rows), dtype=bool)
    for clock in clocks:
        back[1:] |= same[1:] & (np.diff(clock[order]) < 0)
    if not back.any():
        return found
    measured = ~draft.word("measure").equal("end")[rows]
    place = combined_key([draft.key(name)[rows] for name in PLACE])
    ordered = cutter[order]
    for at in np.unique(ordered[back]):
        own = order[stretch(ordered, at)]
        read, ends = own[measured[own]], own[~measured[own]]
        whole = [clock for clock in clocks if (clock[read] >= 0).all()]
        if whole and _rises_at_places(clock := whole[0], place, read):
            found[own] = True
            clock[ends] = np.where(clock[ends] < 0, clock[read].max(initial=0.0), clock[ends])
            first[own] = clock[own]
    return found


PLACE = ("measure", "zone", "flute", "side", "height_mm", "pin_mm", "part", "repeat")
"""What tells one reading of a look from another."""


def _rises_at_places(clock: Floats, place: Ints, own: Ints) -> bool:
    """Whether the clock never goes back at most of the places of a cutter; those that are left are put right.

    A clock that goes back no more often than single readings are out of place is a slip in a log that stands look by
    look.
    """
    at_place = [own[place[own] == one] for one in np.unique(place[own])]
    slipped = [at for at in at_place if (np.diff(clock[at]) < 0).any()]
    out = sum(int((~longest_rising(clock[at])).sum()) for at in slipped)
    if len(at_place) < 2 or 2 * len(slipped) >= len(at_place) or (np.diff(clock[own]) < 0).sum() <= out:
        return False
    known = np.unique(np.concatenate([clock[at] for at in at_place if not (np.diff(clock[at]) < 0).any()]))
    for at in slipped:
        _into_looks(clock, at, known)
    return True


def _into_looks(clock: Floats, at: Ints, known: Floats) -> None:
    """Give readings of one place whose clock goes back the clock of the look between the readings around them."""
    kept = longest_rising(clock[at])
    for i in np.flatnonzero(~kept):
        before, after = at[:i][kept[:i]], at[i + 1 :][kept[i + 1 :]]
        low = clock[before[-1]] if len(before) else -np.inf
        high = clock[after[0]] if len(after) else np.inf
        between = known[(known > low) & (known < high)]
        if len(between):
            clock[at[i]] = between[0] if len(before) else between[-1]


def _in_several_files(draft: Draft, rows: Ints, cutter: Codes) -> Bools:
    part = np.searchsorted([one.start for one in draft.parts], rows, side="right")
    most = np.full(int(cutter.max(initial=0)) + 1, -1)
    least = np.full(len(most), len(draft.parts) + 1)
    np.maximum.at(most, cutter, part)
    np.minimum.at(least, cutter, part)
    return (most > least)[cutter]


def longest_rising(values: Floats) -> Bools:
    """Which values belong to a longest run that never falls: the fewest readings to set aside.

    Parameters
    ----------
    values : numpy.ndarray, shape (n,)
        Clock at each reading, in order.

    Returns
    -------
    numpy.ndarray of bool, shape (n,)

    Examples
    --------
    >>> longest_rising(np.array([0.0, 5.0, 50.0, 15.0, 20.0])).tolist()
    [True, True, False, True, True]
    """
    tails: list[float] = []
    ends: list[int] = []
    before = np.full(len(values), -1)
    for i, value in enumerate(values):
        at = bisect_right(tails, value)
        before[i] = ends[at - 1] if at else -1
        if at == len(tails):
            tails.append(float(value))
            ends.append(i)
        else:
            tails[at], ends[at] = float(value), i
    kept = np.zeros(len(values), dtype=bool)
    i = ends[-1] if ends else -1
    while i >= 0:
        kept[i] = True
        i = int(before[i])
    return kept
