"""Which lands deserve a closer look: vectorised tests that pass over everything that is plainly in line.

A log of a million rows has few doubtful readings; the careful rules run on those cutters and zones alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.logbook.curves import Lands
from wearlab.logbook.noise import reading_sd
from wearlab.logbook.order import changes
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.sheet import Bools, Floats, Ints


@dataclass(frozen=True, slots=True)
class Near:
    """Each land beside its neighbours in time; NaN where there is none."""

    before: Floats
    after: Floats

    def outside(self, value: Floats) -> Floats:
        """How far each land lies outside its neighbours, in standard deviations of reading error.

        A first look has no bound below, a last look none above.
        """
        first, last = np.isnan(self.before), np.isnan(self.after)
        low = np.where(first, -np.inf, np.fmin(self.before, self.after))
        high = np.where(last, np.inf, np.fmax(self.before, self.after))
        below, above = low - value, value - high
        edge = np.where(below > 0, low, np.where(above > 0, high, 0.0))
        return np.maximum(np.maximum(below, above), 0.0) / (1.4142 * reading_sd(np.maximum(edge, 0.0)))


def neighbours(lands: Lands) -> Near:
    """The land before and after each one in its series."""
    before, after = np.full(len(lands), np.nan), np.full(len(lands), np.nan)
    if len(lands):
        same = ~lands.new_series()[1:]
        before[1:] = np.where(same, lands.value[:-1], np.nan)
        after[:-1] = np.where(same, lands.value[1:], np.nan)
    return Near(before, after)


def group_medians(group: Ints, values: Floats) -> Floats:
    """For each entry the median of its group.

    >>> group_medians(np.array([0, 1, 0, 0]), np.array([1.0, 9.0, 2.0, 7.0])).tolist()
    [2.0, 9.0, 2.0, 2.0]
    """
    order = np.lexsort((values, group))
    new = changes(group[order])
    starts = np.flatnonzero(new)
    size = np.diff(np.append(starts, len(order)))
    ordered = values[order]
    middle = (ordered[starts + (size - 1) // 2] + ordered[starts + size // 2]) / 2
    result = np.empty(len(values))
    result[order] = middle[np.cumsum(new) - 1]
    return result


def worth_judging(lands: Lands) -> Bools:
    """Lands of which some reading of the same cutter, measure and zone may be a slip."""
    if not len(lands):
        return np.zeros(0, dtype=bool)
    near = neighbours(lands)
    look = combined_key([lands.cutter, lands.measure, lands.zone, lands.look])
    usual = group_medians(look, lands.value)
    off = np.abs(lands.value - usual)
    edge = np.isnan(near.before) | np.isnan(near.after)
    steep = (np.maximum(lands.value, usual) > 2.0 * np.minimum(lands.value, usual)) & (off > 2.0 * reading_sd(usual))
    suspect = (near.outside(lands.value) > 2.0) | steep | (edge & (off > 3.0 * reading_sd(usual)))
    place = np.cumsum(changes(lands.cutter, lands.measure, lands.zone)) - 1
    return np.bincount(place, weights=suspect)[place] > 0


def looks_out_of_line(lands: Lands, cap: float, least: int) -> tuple[Floats, Ints, Ints]:
    """Mean squared deviation of each look, how many lands it has, and for each land which look that is."""
    cell = np.minimum(neighbours(lands).outside(lands.value) ** 2, cap)
    near = neighbours(lands)
    judged = ~(np.isnan(near.before) & np.isnan(near.after))
    look = combined_key([lands.cutter, lands.look])
    _, place = np.unique(look, return_inverse=True)
    count = np.bincount(place, weights=judged)
    total = np.bincount(place, weights=np.where(judged, cell, 0.0))
    score = np.where(count >= least, total / np.maximum(count, 1), 0.0)
    return score, count.astype(np.int64), place
