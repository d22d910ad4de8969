"""A whole look that does not fit the looks before and after it: another cutter, zones exchanged, another unit.

Every land of the look is held against the straight line between its neighbours in time. When most of them are off, the
explanations are tried one by one; the one that brings the lands back in line is named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.units import TO_MM
from wearlab.logbook.blocks import Block, blocks_of
from wearlab.logbook.curves import Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed
from wearlab.logbook.noise import reading_sd, slip_words
from wearlab.logbook.order import Looks, stretch
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.screen import looks_out_of_line, neighbours
from wearlab.logbook.sheet import Bools, Floats, Ints

LEAST_CELLS = 6
"""A look with fewer lands that have a neighbour in time is not judged as a whole."""
CAP = 16.0
"""Squared deviations are cut here, so that one slip does not condemn a look."""

LEAST_WORN, WORN_MM = 3, 0.030
FALL_SHARE_OF_CELLS, FALL_MM, FALL_SD = 0.75, 0.010, 5.0
"""A cutter was changed when at least this share of at least so many lands above `WORN_MM` fall, on the mean by more
than 10 um and by five standard deviations of reading error."""
RETURN_SHARE = 0.25
"""The next look goes on as before when it is above the look before by this part of the fall."""


@dataclass(frozen=True, slots=True)
class _Cell:
    """A land of a look, the lesser and the greater of its neighbours in time, and its position in the lands.

    The first look has no bound below and the last none above: nobody knows how fast the land grew.
    """

    land: float
    low: float
    high: float
    at: int

    def bounded(self) -> _Cell:
        """With bounds on both sides, so that a first or last look is not explained by any large factor."""
        high = self.high if np.isfinite(self.high) else 3.0 * self.low + 0.05
        low = self.low if np.isfinite(self.low) else self.high / 4.0 - 0.02
        return replace(self, low=low, high=high)

    def deviation(self) -> float:
        """How far the land lies outside its neighbours, in standard deviations of reading error."""
        outside = max(self.low - self.land, self.land - self.high, 0.0)
        edge = self.low if self.land < self.low else self.high
        return outside / (1.4142 * float(reading_sd(max(edge, 0.0))))


_Cells = dict[tuple[int, int], _Cell]
"""Lands of a look by measure and zone, and flute."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """A look that is out of line: where its lands are, how far they are off (1 = as expected), and the likely cause."""

    at: Ints
    score: float
    cause: str


def split_at_changes(draft: Draft, looks: Looks, lands: Lands) -> Lands:
    """Report looks from which on nearly all lands are lower, and count what follows as another cutter's.

    Returns
    -------
    Lands
        With a new code of the cutter from each such look on.
    """
    if not len(lands):
        return lands
    code = lands.cutter.copy()
    step = int(code.max()) + 1
    before = neighbours(lands).before
    worn = before > WORN_MM
    place = combined_key([lands.cutter, lands.look])
    _, place = np.unique(place, return_inverse=True)
    falls = np.bincount(place, weights=worn & (lands.value < before))
    fall_everywhere = falls >= np.maximum(FALL_SHARE_OF_CELLS * np.bincount(place, weights=worn), LEAST_WORN)
    suspect = np.unique(lands.cutter[fall_everywhere[place]])
    if not len(suspect):
        return lands
    judge = _Judge(lands)
    for cutter in suspect:
        own = stretch(lands.cutter, cutter)
        changed = [look for look in _changed_looks(lands, own) if not judge.exchanged(int(cutter), look, draft)]
        for nth, look in enumerate(changed, start=1):
            later = own[lands.look[own] >= look]
            code[later] = cutter + nth * step
            _report_change(draft, looks.names[cutter], lands, own[lands.look[own] == look])
    order = np.lexsort((lands.look, lands.flute, lands.zone, lands.measure, code))
    return replace(lands, cutter=code).pick(order)


def _changed_looks(lands: Lands, own: Ints) -> list[int]:
    found: list[int] = []
    present = np.unique(lands.look[own])
    cells = {int(look): _values(lands, own[lands.look[own] == look]) for look in present}
    for earlier, before, look, after in zip(
        [None, *present[:-2]], present, present[1:], [*present[2:], None], strict=False
    ):
        fall = _fall(cells[int(before)], cells[int(look)])
        if fall is None or (earlier is not None and _rises(cells[int(earlier)], cells[int(look)])):
            continue  # nothing falls, or the look before was too high and this one goes on as the one before that
        rise = 0.0 if after is None else _mean_step(cells[int(before)], cells[int(after)])
        if rise < RETURN_SHARE * fall:  # else the look alone is out of line, and the next goes on as before
            found.append(int(look))
    return found


_Readings = dict[tuple[int, int, int], float]
"""Lands of a look by measure, zone and flute."""


def _values(lands: Lands, at: Ints) -> _Readings:
    keys = zip(lands.measure[at].tolist(), lands.zone[at].tolist(), lands.flute[at].tolist(), strict=True)
    return dict(zip(keys, lands.value[at].tolist(), strict=True))


def _pairs(before: _Readings, after: _Readings) -> tuple[Floats, Floats]:
    both = [(value, after[key]) for key, value in before.items() if key in after and value > WORN_MM]
    return np.array([a for a, _ in both]), np.array([b for _, b in both])


def _fall(before: _Readings, after: _Readings) -> float | None:
    """The mean fall of lands that were worn, when nearly all fall and by more than reading error; else None."""
    old, new = _pairs(before, after)
    if len(old) < LEAST_WORN or (new < old).mean() < FALL_SHARE_OF_CELLS:
        return None
    error = float(np.sqrt((reading_sd(old) ** 2 + reading_sd(new) ** 2).sum())) / len(old)
    fall = float((old - new).mean())
    return fall if fall > max(FALL_MM, FALL_SD * error) else None


def _rises(before: _Readings, after: _Readings) -> bool:
    """Whether the lands as a whole rise by more than reading error."""
    old, new = _pairs(before, after)
    if not len(old):
        return False
    error = float(np.sqrt((reading_sd(old) ** 2 + reading_sd(new) ** 2).sum())) / len(old)
    return float((new - old).mean()) > 3.0 * error


def _mean_step(before: _Readings, after: _Readings) -> float:
    old, new = _pairs(before, after)
    return float((new - old).mean()) if len(old) else 0.0


def _report_change(draft: Draft, cutter: str, lands: Lands, at: Ints) -> None:
    rows = lands.row[at]
    number = draft.number("reading")[rows[0]]
    where = f"reading {number:g}" if np.isfinite(number) else "this look"
    draft.warn(
        "wear_falls_everywhere",
        f"from {where} on nearly all lands are lower than before",
        rows,
        cutter=cutter,
        column="value",
        hint="Was the cutter changed, re-ground or cleaned? One name stands for one cutter and one sharpening",
    )


# ------------------------------------------------------------------ one look out of line


def check_looks(draft: Draft, lands: Lands) -> Bools:
    """Report looks that do not fit their neighbours; returns which of the lands belong to them."""
    doubtful = np.zeros(len(lands), dtype=bool)
    if not len(lands):
        return doubtful
    scores, counts, place = looks_out_of_line(lands, CAP, LEAST_CELLS)
    suspect = np.unique(lands.cutter[(scores > limit(counts))[place]])
    judge = _Judge(lands) if len(suspect) else None
    for cutter in suspect:
        for misfit in judge.misfits(int(cutter), draft) if judge else []:
            doubtful[misfit.at] = True
            row = int(lands.row[misfit.at[0]])
            number = draft.number("reading")[row]
            where = f"reading {number:g}" if np.isfinite(number) else "this look"
            draft.warn(
                "look_out_of_line",
                f"{where} does not fit the readings before and after it",
                lands.row[misfit.at],
                cutter=draft.cutter_of(row),
                column="value",
                hint=misfit.cause or "Was another cutter measured?",
            )
    return doubtful


class _Judge:
    """Looks of all cutters, judged one cutter at a time."""

    def __init__(self, lands: Lands) -> None:
        self.lands = lands
        self.blocks: dict[int, list[Block]] = {}
        for block in blocks_of(lands):
            self.blocks.setdefault(block.cutter, []).append(block)

    def misfits(self, cutter: int, draft: Draft) -> list[Misfit]:
        """Looks of a cutter that are out of line, the worst first, each judged without those found before."""
        found: list[Misfit] = []
        out: set[int] = set()
        while True:
            scored = {look: cells for look, cells in self._cells(cutter, out).items() if len(cells) >= LEAST_CELLS}
            excess = {look: score(cells) / limit(len(cells)) for look, cells in scored.items()}
            worst = max(excess, key=lambda look: excess[look], default=None)
            if worst is None or excess[worst] <= 1.0:
                return found
            cells = scored[worst]
            out.add(worst)
            cause = self._cause(cutter, worst, cells, draft)
            found.append(Misfit(self._at(cutter, worst), score(cells), cause))

    def _cells(self, cutter: int, out: set[int]) -> dict[int, _Cells]:
        """Lands of each look that have a neighbour in time."""
        result: dict[int, _Cells] = {}
        for block in self.blocks[cutter]:
            use = np.isfinite(block.land) & ~np.isin(block.look, list(out))[:, None]
            for k, f in zip(*np.nonzero(use), strict=True):
                known = np.flatnonzero(use[:, f])
                near = [float(block.land[i, f]) for i in (*known[known < k][-1:], *known[known > k][:1])]
                if not near:
                    continue
                first, last = k == known[0], k == known[-1]
                low, high = -np.inf if first else min(near), np.inf if last else max(near)
                cell = _Cell(float(block.land[k, f]), low, high, int(block.at[k, f]))
                key = (block.measure * 1_000_000 + block.zone, int(block.flute[f]))
                result.setdefault(int(block.look[k]), {})[key] = cell
        return result

    def _at(self, cutter: int, look: int) -> Ints:
        own = stretch(self.lands.cutter, cutter)
        return own[self.lands.look[own] == look]

    def _cause(self, cutter: int, look: int, cells: _Cells, draft: Draft) -> str:
        """The explanation under which the look fits."""
        now = score(cells)
        tried = [*_other_units(cells, draft, self.lands), *_other_zones(cells, draft, self.lands)]
        tried += self._other_cutters(cutter, look, cells, draft)
        best = min(tried, key=lambda one: one[0], default=(np.inf, ""))
        return best[1] if best[0] < min(0.35 * now, float(limit(len(cells)))) else ""

    def exchanged(self, cutter: int, look: int, draft: Draft) -> bool:
        """Whether the lands of a look would fit if they were exchanged with those of another cutter at that look."""
        cells = self._cells(cutter, set()).get(look, {})
        if len(cells) < LEAST_CELLS:
            return False
        best = min((one[0] for one in self._other_cutters(cutter, look, cells, draft)), default=np.inf)
        return bool(best < min(0.35 * score(cells), float(limit(len(cells)))))

    def _other_cutters(self, cutter: int, look: int, cells: _Cells, draft: Draft) -> list[tuple[float, str]]:
        """Cutters with which this look was exchanged: the lands of each must fit the curves of the other."""
        tried = []
        number = draft.number("reading")[self.lands.row[self._at(cutter, look)[0]]]
        for other in self.blocks:
            if other == cutter:
                continue
            own = stretch(self.lands.cutter, other)
            same = own[draft.number("reading")[self.lands.row[own]] == number]
            theirs = self._cells(other, set()).get(int(self.lands.look[same[0]]), {}) if len(same) else {}
            both = theirs.keys() & cells.keys()
            inside = all(np.isfinite(cell.high) and np.isfinite(cell.low) for cell in theirs.values())
            if len(both) < 0.8 * len(cells) or (inside and score(theirs) < 0.5 * float(limit(len(theirs)))):
                continue  # too little in common, or the other cutter's look is in line as it is
            ours_now = {key: replace(cells[key], land=theirs[key].land) for key in both}
            theirs_now = {key: replace(theirs[key], land=cells[key].land) for key in both}
            name = draft.cutter_of(int(self.lands.row[same[0]]))
            words = f"its lands are those of {name} at that look: were the two exchanged?"
            tried.append((max(score(ours_now), score(theirs_now)), words))
        return tried


def score(cells: _Cells) -> float:
    """Mean squared deviation, each cut at `CAP`; well below 1 for a look that fits."""
    return float(np.mean([min(cell.deviation() ** 2, CAP) for cell in cells.values()]))


def limit(cells: ArrayLike) -> Floats:
    """Score from which a look of so many lands is out of line."""
    return 1.0 + 4.0 * np.sqrt(2.0 / np.maximum(np.asarray(cells, dtype=float), 1.0))


def _other_units(cells: _Cells, draft: Draft, lands: Lands) -> list[tuple[float, str]]:
    factors = {10.0, 0.1, 100.0, 0.01, *(a / b for a in TO_MM.values() for b in TO_MM.values() if a != b)}
    unit = draft.word("unit").text(int(lands.row[next(iter(cells.values())).at]))
    tried = []
    for factor in factors:
        words = slip_words(unit, factor)
        if words:
            scaled = {key: replace(cell.bounded(), land=cell.land / factor) for key, cell in cells.items()}
            tried.append((score(scaled), f"all its lands are {words}"))
    return tried


def _other_zones(cells: _Cells, draft: Draft, lands: Lands) -> list[tuple[float, str]]:
    tried = []
    for one, other in combinations(sorted({zone for zone, _ in cells}), 2):
        partner = {one: other, other: one}
        source = {key: (partner.get(key[0], key[0]), key[1]) for key in cells}
        if not all(key in cells for key in source.values()):
            continue
        exchanged = {key: replace(cell, land=cells[source[key]].land) for key, cell in cells.items()}
        names = [draft.word("zone").text(int(lands.row[_first(cells, zone)])) for zone in (one, other)]
        if all(names):
            tried.append((score(exchanged), f"were the zones {listed(names)} exchanged?"))
    return tried


def _first(cells: _Cells, zone: int) -> int:
    return next(cell.at for (own, _), cell in cells.items() if own == zone)
