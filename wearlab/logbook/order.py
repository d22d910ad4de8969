"""The order of readings within each cutter, as arrays that every rule of a cutter starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.draft import Draft
from wearlab.logbook.sheet import Bools, Floats, Ints


@dataclass(frozen=True, slots=True)
class Looks:
    """Usable rows in order of cutters, looks and lines.

    Attributes
    ----------
    names : list of str
        Cutters in natural order.
    rows : numpy.ndarray of int
        Usable rows, ordered.
    cutter, look : numpy.ndarray of int
        In step with `rows`: index into `names`, and 0, 1, 2, ... within the cutter.
    unnumbered : list of str
        Cutters of which some readings have a number and some have none, so that the order in the file was taken.
    """

    names: list[str]
    rows: Ints
    cutter: Ints
    look: Ints
    unnumbered: list[str]

    def starts(self) -> Ints:
        """Where each cutter begins in `rows`."""
        return segment_starts(self.cutter)

    def per_row(self, size: int) -> Ints:
        """The look of every row of the log; -1 where a row is set aside."""
        looks = np.full(size, -1, dtype=np.int64)
        looks[self.rows] = self.look
        return looks


def segment_starts(*keys: Ints) -> Ints:
    """Where a new combination of ordered keys begins.

    >>> segment_starts(np.array([0, 0, 1, 1]), np.array([5, 5, 5, 6])).tolist()
    [0, 2, 3]
    """
    return np.flatnonzero(changes(*keys))


def changes(*keys: Ints) -> Bools:
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


def stretch(ordered: Ints, value: int) -> Ints:
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
    rows = np.flatnonzero(draft.good())
    cutter, number = rank[rows], draft.number("reading")[rows]
    has, end = np.isfinite(number), draft.word("measure").equal("end")[rows]
    count = len(names)
    lacking = np.bincount(cutter[~has & ~end], minlength=count) > 0
    having = np.bincount(cutter[has & ~end], minlength=count) > 0
    only_ends = np.bincount(cutter[~end], minlength=count) == 0
    ends_lack = np.bincount(cutter[~has & end], minlength=count) > 0
    numbered = np.where(only_ends, ~ends_lack, ~lacking)
    level = np.where(has, number, np.inf)
    if not numbered.all():
        loose = ~numbered[cutter]
        level[loose] = _file_order(draft, rows[loose], cutter[loose])
    order = _order(cutter, level)
    rows, cutter, level = rows[order], cutter[order], level[order]
    new_cutter = changes(cutter)
    step = np.cumsum(changes(cutter, level))
    first = step[np.maximum.accumulate(np.where(new_cutter, np.arange(len(rows)), 0))] if len(rows) else step
    mixed = [names[at] for at in np.flatnonzero(lacking & having)]
    return Looks(names, rows, cutter, step - first, mixed)


def _order(cutter: Ints, level: Floats) -> Ints:
    """Stable order by cutter, then level; nothing to do for a log that is in order already."""
    ahead = cutter[1:] > cutter[:-1]
    level_with_it = (cutter[1:] == cutter[:-1]) & (level[1:] >= level[:-1])
    if bool((ahead | level_with_it).all()):
        return np.arange(len(cutter))
    return np.lexsort((level, cutter))


def _file_order(draft: Draft, rows: Ints, cutter: Ints) -> Floats:
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


def _in_several_files(draft: Draft, rows: Ints, cutter: Ints) -> Bools:
    part = np.searchsorted([one.start for one in draft.parts], rows, side="right")
    most = np.full(int(cutter.max(initial=0)) + 1, -1)
    least = np.full(len(most), len(draft.parts) + 1)
    np.maximum.at(most, cutter, part)
    np.minimum.at(least, cutter, part)
    return (most > least)[cutter]
