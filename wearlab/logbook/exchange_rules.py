"""Two cutters measured under each other's name at one look, though each look alone could be true.

Cutters keep their differences: a flute that is further worn at one look is so at the next. Where the differences of two
cutters, land by land, turn round at one look and back again, the two were most likely exchanged. At a first or last
look nobody knows whether they turn back: cutters of which one breaks away there look the same, so that it is a note,
unless the lands of one of the two would have shrunk.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.logbook.curves import Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.noise import reading_sd
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.sheet import Bools, Floats, Ints

SEEN_MM = 0.030
"""Narrower lands say nothing of which cutter they belong to."""
LEAST_CELLS = 4
TURNED_SD, TURNED_WITHOUT_ONE_SD = 4.0, 3.0
"""The differences have turned round by so many standard deviations of reading error, and still by so many without the
land that says so most. Where two cutters differ in nothing, chance alone reaches the first in 3 of 100,000 pairs."""
SHRUNK_SD = 3.0
"""Seen from one side alone, lands of a cutter that lie the wrong way by so many standard deviations of their mean."""
FITS = 8.0
"""Exchanged, the lands must fit: mean squared gap to the differences beside the look, in variances of reading error."""
MOST_CUTTERS = 60
"""With more cutters at one look the pairs are too many to be judged."""
NEIGHBOURS_SD = 2.0
"""A single difference counts for no more than that of the neighbours and so many standard deviations."""


@dataclass(frozen=True, slots=True)
class _Table:
    """Lands by cutter, look and cell (measure, zone, flute); NaN where nothing was read. `at`: position, -1 = none."""

    cutters: list[int]
    land: Floats
    at: np.ndarray


def check_exchanges(draft: Draft, lands: Lands) -> Bools:
    """Report looks of two cutters that fit when they are exchanged; returns which of the lands belong to them."""
    doubtful = np.zeros(len(lands), dtype=bool)
    number = draft.number("reading")[lands.row]
    known = np.flatnonzero(np.isfinite(number))
    if len(np.unique(lands.cutter[known])) > MOST_CUTTERS or len(known) < 2 * LEAST_CELLS:
        return doubtful
    table = _table_of(lands, known, number[known])
    while (found := _plainest(table)) is not None:
        look, pair = found
        sides = _sides(table, look, pair)
        side = sides[0] if len(sides) == 1 else 0
        sure = not side or any(_shrinks(table.land[own], look, side) for own in pair)
        for own, theirs in (pair, pair[::-1]):
            at = table.at[own, look][table.at[own, look] >= 0]
            doubtful[at] = sure
            table.land[own, look] = np.nan  # judged without it, its neighbours are in line
            name = draft.cutter_of(int(lands.row[lands.cutter == table.cutters[theirs]][0]))
            _report(draft, lands.row[at], name, side, sure)
    return doubtful


def _report(draft: Draft, rows: Ints, name: str, side: int, sure: bool) -> None:
    beside = {-1: "reading before it", 0: "readings before and after it", 1: "reading after it"}[side]
    seen = ", seen from one side alone" if side else ""
    tell = draft.warn if sure else draft.note
    tell(
        "look_out_of_line",
        f"reading {draft.number('reading')[rows[0]]:g} does not fit the {beside}",
        rows,
        cutter=draft.cutter_of(int(rows[0])),
        column="value",
        hint=f"its lands are those of {name} at that look{seen}: were the two exchanged?",
    )


def _sides(table: _Table, look: int, pair: tuple[int, int]) -> list[int]:
    """On which sides of a look (-1 before, 1 after) there is a look of both cutters to hold it against."""
    known = np.isfinite(table.land[pair[0]] + table.land[pair[1]])
    beside = [side for side in (-1, 1) if 0 <= look + side < len(known)]
    return [side for side in beside if (known[look] & known[look + side]).sum() >= LEAST_CELLS]


def _shrinks(land: Floats, look: int, side: int) -> bool:
    """Whether the lands of a cutter are smaller at the later of a look and its neighbour, which wear cannot do."""
    earlier, later = (land[look - 1], land[look]) if side < 0 else (land[look], land[look + 1])
    both = np.isfinite(earlier) & np.isfinite(later)
    error = reading_sd((earlier + later)[both] / 2)
    return bool((earlier - later)[both].sum() > SHRUNK_SD * np.sqrt(2.0 * (error**2).sum()))


def _table_of(lands: Lands, known: np.ndarray, number: Floats) -> _Table:
    cutters, row = np.unique(lands.cutter[known], return_inverse=True)
    looks, look = np.unique(number, return_inverse=True)
    place = combined_key([lands.measure[known], lands.zone[known], lands.flute[known]])
    cells, cell = np.unique(place, return_inverse=True)
    shape = (len(cutters), len(looks), len(cells))
    land, at = np.full(shape, np.nan), np.full(shape, -1)
    land[row, look, cell], at[row, look, cell] = lands.value[known], known
    return _Table(cutters.tolist(), land, at)


def _plainest(table: _Table) -> tuple[int, tuple[int, int]] | None:
    """The look and the two cutters whose differences turn round there most plainly; None where none do."""
    land, best = table.land, (0.0, -1, -1, -1)
    for look in range(land.shape[1]):
        beside = [k for k in (look - 1, look + 1) if 0 <= k < land.shape[1]]
        for a in range(len(table.cutters) if beside else 0):
            for b in range(a + 1, len(table.cutters)):
                turned = _turned_at(land[a], land[b], look, beside)
                if turned > best[0]:
                    best = (turned, look, a, b)
    return None if best[1] < 0 else (best[1], (best[2], best[3]))


def _turned_at(one: Floats, other: Floats, look: int, beside: list[int]) -> float:
    """How plainly the differences of two cutters turn round at a look; 0 where they do not."""
    usable = np.isfinite(one[look]) & np.isfinite(other[look]) & (np.fmax(one[look], other[look]) > SEEN_MM)
    near = np.array([one[k] - other[k] for k in beside])
    known = np.isfinite(near)
    near = np.where(known, near, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    usable &= known.any(axis=0)
    if usable.sum() < LEAST_CELLS:
        return 0.0
    return _turned(one[look][usable] - other[look][usable], near[usable], (one[look] + other[look])[usable] / 2)


def _turned(now: Floats, near: Floats, usual: Floats) -> float:
    """How plainly the differences at a look are the opposite of those beside it; 0 where they are not.

    Standard deviations by which they have turned round, less the mean squared gap that is left when the two are
    exchanged: of several pairs that would do, the one that fits best is named.
    """
    error = np.sqrt(2.0) * reading_sd(usual)
    most = np.abs(near) + NEIGHBOURS_SD * error
    share = -np.clip(now, -most, most) * near / error**2
    weight = near**2 / error**2
    total = share.sum() / np.sqrt(max(weight.sum(), 1e-12))
    best = int(np.argmax(share))
    rest = (share.sum() - share[best]) / np.sqrt(max(weight.sum() - weight[best], 1e-12))
    gap = float(np.mean(((now + near) / error) ** 2))
    if total < TURNED_SD or rest < TURNED_WITHOUT_ONE_SD or gap > FITS:
        return 0.0
    return max(float(total) - gap, 1e-9)
