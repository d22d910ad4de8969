"""Wear lands as series, one a cutter, measure, zone and flute: what the rules of doubt start from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.logbook.draft import Draft
from wearlab.logbook.order import Looks, changes
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.sheet import Bools, Floats, Ints

LANDS = ("VB", "VBmax", "corner")
"""Measures that grow with use and never heal."""


@dataclass(frozen=True, slots=True)
class Lands:
    """One entry a reading of a land (repeats averaged), ordered by cutter, measure, zone, flute and look.

    Attributes
    ----------
    row : numpy.ndarray of int
        A row of the log that holds the reading.
    cutter, measure, zone, flute, look : numpy.ndarray of int
        Codes: `cutter` into the names of the looks, `measure` into `LANDS`, the others into the draft's words.
    value : numpy.ndarray of float
        Land in mm.
    clock : numpy.ndarray of float
        The clock that most readings have; NaN where it was not read.
    """

    row: Ints
    cutter: Ints
    measure: Ints
    zone: Ints
    flute: Ints
    look: Ints
    value: Floats
    clock: Floats

    def __len__(self) -> int:
        return len(self.row)

    def new_series(self) -> Bools:
        """Where a new series begins."""
        return changes(self.cutter, self.measure, self.zone, self.flute)

    def pick(self, which: Ints | Bools) -> Lands:
        """Some of the readings, in the given order."""
        return Lands(*(getattr(self, name)[which] for name in self.__slots__))


def lands_of(draft: Draft, looks: Looks, clock: str) -> Lands:
    """Series of all usable land readings.

    Parameters
    ----------
    draft : Draft
    looks : Looks
    clock : str
        Column that says how long the cutter had cut.
    """
    measure = draft.word("measure").mapped({name: float(at) for at, name in enumerate(LANDS)})
    value = draft.number("value_mm")
    wanted = np.isfinite(measure[looks.rows]) & np.isfinite(value[looks.rows])
    row = looks.rows[wanted]
    table = Lands(
        row=row,
        cutter=looks.cutter[wanted],
        measure=measure[row].astype(np.int64),
        zone=draft.key("zone")[row],
        flute=draft.key("flute")[row],
        look=looks.look[wanted],
        value=value[row],
        clock=draft.number(clock)[row],
    )
    table = table.pick(np.lexsort((table.row, table.look, table.flute, table.zone, table.measure, table.cutter)))
    return _repeats_averaged(table)


def _repeats_averaged(table: Lands) -> Lands:
    new = changes(table.cutter, table.measure, table.zone, table.flute, table.look)
    if new.all():
        return table
    starts = np.flatnonzero(new)
    sizes = np.diff(np.append(starts, len(table)))
    once = table.pick(starts)
    once.value[:] = np.add.reduceat(table.value, starts) / sizes
    return once


@dataclass(frozen=True, slots=True)
class Steps:
    """Each reading beside the one before it in its series.

    Attributes
    ----------
    after, before : numpy.ndarray of int
        Positions in the lands.
    group : numpy.ndarray of int
        Equal for steps of one cutter, measure, zone and look.
    """

    after: Ints
    before: Ints
    group: Ints


def steps_of(lands: Lands) -> Steps:
    """Steps between successive readings of every series."""
    after = np.flatnonzero(~lands.new_series())
    before = after - 1
    group = combined_key([lands.cutter[after], lands.measure[after], lands.zone[after], lands.look[after]])
    return Steps(after, before, group)


def main_clock(draft: Draft) -> str:
    """The clock that most rows have; minutes where it makes no difference."""
    from wearlab.logbook.columns import CLOCKS

    counts = {name: int(np.isfinite(draft.numbers[name]).sum()) for name in CLOCKS if name in draft.numbers}
    return max(counts, key=lambda name: counts[name]) if counts else CLOCKS[0]
