"""The order of readings within each cutter, as arrays that every rule of a cutter starts from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.draft import Draft
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
    if len(level) and np.isnan(level).any():
        level, mixed = _levels(draft, names, rows, cutter, level)
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
        names, rows, cutter, step - first, new_cutter, new_look, mixed, clean and ordered, draft.size - len(rows)
    )


def _levels(draft: Draft, names: list[str], rows: Ints, cutter: Codes, number: Floats) -> tuple[Floats, list[str]]:
    """What orders the rows of each cutter where some have no reading number, and cutters that have both kinds."""
    has, end = np.isfinite(number), draft.word("measure").equal("end")[rows]
    count = len(names)
    lacking = np.bincount(cutter[~has & ~end], minlength=count) > 0
    having = np.bincount(cutter[has & ~end], minlength=count) > 0
    only_ends = np.bincount(cutter[~end], minlength=count) == 0
    ends_lack = np.bincount(cutter[~has & end], minlength=count) > 0
    numbered = np.where(only_ends, ~ends_lack, ~lacking)
    level = np.where(has, number, np.inf)
    loose = ~numbered[cutter]
    if loose.any():
        level[loose] = _file_order(draft, rows[loose], cutter[loose])
    return level, [names[at] for at in np.flatnonzero(lacking & having)]


def _in_order(cutter: Codes, level: Floats) -> bool:
    """Whether rows stand in order of cutters and levels already."""
    if (cutter[1:] < cutter[:-1]).any():
        return False
    return not ((level[1:] < level[:-1]) & (cutter[1:] == cutter[:-1])).any()


def _file_order(draft: Draft, rows: Ints, cutter: Codes) -> Floats:
    """A running number that steps where the clocks of a cutter change from one of its rows to the next.

    Rows of a cutter that stand in several files are put in order of its clock first: the order of files says nothing.
    """
    clocks = [np.nan_to_num(draft.numbers[name][rows], nan=-1.0) for name in CLOCKS if name in draft.numbers]
    order = np.argsort(cutter, kind="stable")
    if len(draft.parts) > 1 and clocks:
        order = np.lexsort((rows, np.where(_in_several_files(draft, rows, cutter), clocks[0], 0.0), cutter))
    new = changes(cutter[order])
    for clock in clocks:
        ordered = clock[order]
        new[1:] |= ordered[1:] != ordered[:-1]
    level = np.empty(len(rows))
    level[order] = np.cumsum(new)
    return level


def _in_several_files(draft: Draft, rows: Ints, cutter: Codes) -> Bools:
    part = np.searchsorted([one.start for one in draft.parts], rows, side="right")
    most = np.full(int(cutter.max(initial=0)) + 1, -1)
    least = np.full(len(most), len(draft.parts) + 1)
    np.maximum.at(most, cutter, part)
    np.minimum.at(least, cutter, part)
    return (most > least)[cutter]
