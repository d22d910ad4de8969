"""Lands of one cutter, measure and zone as a table of looks by flutes: small, dense, easy to judge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from wearlab.logbook.curves import Lands
from wearlab.logbook.noise import reading_sd
from wearlab.logbook.order import changes, spans
from wearlab.logbook.sheet import Bools, Floats, Ints

SEEN_MM = 0.020
"""Ratios of narrower lands say nothing."""


@dataclass(frozen=True, slots=True)
class Between:
    """Readings of a block against their neighbours in time; NaN where there is none on both sides.

    Attributes
    ----------
    line : numpy.ndarray, shape (looks, flutes)
        The straight line between the neighbours.
    outside : numpy.ndarray, shape (looks, flutes)
        How far a reading lies outside its neighbours, in mm: growth, however bent, lies between them.
    spread : numpy.ndarray, shape (looks, flutes)
        Standard deviation of that distance by reading error alone.
    """

    line: Floats
    outside: Floats
    spread: Floats


@dataclass(slots=True)
class Block:
    """One cutter, measure and zone.

    Attributes
    ----------
    land : numpy.ndarray, shape (looks, flutes)
        Readings in mm; NaN where none was taken.
    at : numpy.ndarray of int, shape (looks, flutes)
        Position of each reading in the lands; -1 where none was taken.
    look : numpy.ndarray of int, shape (looks,)
    clock : numpy.ndarray, shape (looks,)
        The clock, or the number of the look where it was not read throughout.
    flute : numpy.ndarray of int, shape (flutes,)
        Codes of the flutes.
    """

    cutter: int
    measure: int
    zone: int
    land: Floats
    at: Ints
    look: Ints
    clock: Floats
    flute: Ints

    def between(self, use: Bools) -> Between:
        """What each reading should be by its neighbours in time; only readings in `use` count as neighbours."""
        line, outside, spread = (np.full(self.land.shape, np.nan) for _ in range(3))
        for f in range(self.land.shape[1]):
            known = np.flatnonzero(use[:, f])
            for k in np.flatnonzero(np.isfinite(self.land[:, f])):
                before, after = known[known < k], known[known > k]
                if len(before) and len(after):
                    i, j = int(before[-1]), int(after[0])
                    a, x, b = self.land[i, f], self.land[k, f], self.land[j, f]
                    line[k, f] = a + self._part(i, int(k), j) * (b - a)
                    outside[k, f] = max(min(a, b) - x, x - max(a, b), 0.0)
                    edge = min(a, b) if x < line[k, f] else max(a, b)
                    spread[k, f] = np.sqrt(2.0) * reading_sd(max(edge, 0.0))
        return Between(line, outside, spread)

    def _part(self, i: int, k: int, j: int) -> float:
        span = self.clock[j] - self.clock[i]
        return float((self.clock[k] - self.clock[i]) / span) if span > 0 else 0.5

    def sisters(self, use: Bools) -> Floats:
        """Median of the other flutes at the same look; NaN where no other flute was read."""
        result = np.full(self.land.shape, np.nan)
        for k, f in zip(*np.nonzero(np.isfinite(self.land)), strict=True):
            others = use[k].copy()
            others[f] = False
            if others.any():
                result[k, f] = np.median(self.land[k, others])
        return result

    def by_sisters(self, use: Bools, sisters: Floats) -> tuple[Floats, Floats]:
        """What each reading should be by its sister flutes, and the standard deviation of the difference.

        The usual ratio of a flute to its sisters is taken from the other looks.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(use & (sisters > SEEN_MM), self.land / sisters, np.nan)
        expected = np.full(self.land.shape, np.nan)
        for f in range(self.land.shape[1]):
            for k in np.flatnonzero(np.isfinite(sisters[:, f])):
                history = np.delete(ratio[:, f], k)
                history = history[np.isfinite(history)]
                expected[k, f] = sisters[k, f] * (np.median(history) if len(history) > 1 else 1.0)
        return expected, np.hypot(1.3 * reading_sd(np.nan_to_num(expected)), 0.05 * np.nan_to_num(expected))


def blocks_of(lands: Lands, wanted: Bools | None = None) -> Iterator[Block]:
    """All blocks, or those of which a land is wanted, in order of cutters, measures and zones."""
    for begin, end in spans(changes(lands.cutter, lands.measure, lands.zone)):
        if wanted is None or wanted[begin:end].any():
            yield block_of(lands, np.arange(begin, end))


def block_of(lands: Lands, own: Ints) -> Block:
    """The block of some readings of one cutter, measure and zone."""
    look, row = np.unique(lands.look[own], return_inverse=True)
    flute, column = np.unique(lands.flute[own], return_inverse=True)
    shape = (len(look), len(flute))
    land, at, clock = np.full(shape, np.nan), np.full(shape, -1, dtype=np.int64), np.full(len(look), np.nan)
    land[row, column], at[row, column], clock[row] = lands.value[own], own, lands.clock[own]
    if not np.isfinite(clock).all() or (np.diff(clock) <= 0).any():
        clock = look.astype(float)
    first = own[0]
    return Block(
        int(lands.cutter[first]), int(lands.measure[first]), int(lands.zone[first]), land, at, look, clock, flute
    )
