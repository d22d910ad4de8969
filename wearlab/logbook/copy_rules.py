"""Readings that were not taken: a look copied from the one before, and lands filled in half-way between neighbours."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from wearlab.logbook.blocks import Block, blocks_of
from wearlab.logbook.curves import Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.order import stretch
from wearlab.logbook.row_rules import combined_key
from wearlab.logbook.screen import Near, neighbours
from wearlab.logbook.sheet import Bools

LEAST_CELLS = 3
"""A look of fewer lands may repeat the one before it, or lie on the line, by chance."""
SEEN_MM = 0.010
"""Narrower lands repeat by chance, at the resolution of the instrument."""

_LEAVE_BLANK = "Was it filled in and not measured? Leave the value blank"
_Key = tuple[int, int, int]


def check_copies(draft: Draft, lands: Lands) -> None:
    """Report looks that repeat the look before, and looks that lie exactly between their neighbours."""
    if not len(lands):
        return
    repeats, on_line, exact = _candidates(lands)
    blocks: dict[int, list[Block]] = {}
    for block in blocks_of(lands, np.isin(lands.cutter, lands.cutter[repeats | on_line | exact])):
        blocks.setdefault(block.cutter, []).append(block)
    for cutter, own in blocks.items():
        present = np.unique(lands.look[stretch(lands.cutter, cutter)])
        copied = [int(look) for before, look in pairwise(present) if _copied(own, before, look)]
        for look in copied:
            hint = "Was the look copied and not measured?"
            _say(draft, lands, cutter, look, "copied_reading", "repeats every land of the reading before it", hint)
        for look in present[1:-1]:
            if int(look) not in copied and _filled_in(draft, lands, own, int(look)):
                found = "lies exactly between the readings before and after it"
                _say(draft, lands, cutter, int(look), "filled_in", found, _LEAVE_BLANK)
        for block in own:
            _one_more_digit(draft, lands, block)


def _candidates(lands: Lands) -> tuple[Bools, Bools, Bools]:
    """Lands of looks that may repeat the one before or lie on the line, and lands that are an exact mean."""
    near = neighbours(lands)
    half = (near.before + near.after) / 2
    seen = np.fmax(near.before, near.after) > SEEN_MM
    _, place = np.unique(combined_key([lands.cutter, lands.look]), return_inverse=True)

    def all_of_look(told: Bools, judged: Bools) -> Bools:
        count = np.bincount(place, weights=judged)
        return ((np.bincount(place, weights=told & judged) >= count) & (count >= LEAST_CELLS))[place]

    repeats = all_of_look(lands.value == near.before, np.isfinite(near.before))
    between = np.fmin(near.before, near.after) - 0.006
    inside = (lands.value >= between) & (lands.value <= np.fmax(near.before, near.after) + 0.006)
    close = inside & ((np.abs(lands.value - half) < 0.006) | _on_line(lands, near))
    on_line = all_of_look(close, seen & np.isfinite(half) & (near.before != near.after))
    exact = (np.abs(lands.value - half) <= 1e-9) & (near.before != near.after)
    return repeats, on_line, exact


def _on_line(lands: Lands, near: Near) -> Bools:
    clock = np.where(np.isfinite(lands.clock), lands.clock, lands.look)
    before, after = np.concatenate([[0.0], clock[:-1]]), np.concatenate([clock[1:], [0.0]])
    with np.errstate(divide="ignore", invalid="ignore"):
        part = (clock - before) / (after - before)
    return np.abs(lands.value - (near.before + part * (near.after - near.before))) < 0.006


def _say(draft: Draft, lands: Lands, cutter: int, look: int, code: str, found: str, hint: str) -> None:
    own = stretch(lands.cutter, cutter)
    rows = lands.row[own[lands.look[own] == look]]
    number = draft.number("reading")[rows[0]]
    where = f"reading {number:g}" if np.isfinite(number) else "this look"
    draft.warn(code, f"{where} {found}", rows, cutter=draft.cutter_of(int(rows[0])), column="value", hint=hint)


def _cells(blocks: list[Block], look: int) -> dict[_Key, float]:
    found: dict[_Key, float] = {}
    for block in blocks:
        for k in np.flatnonzero(block.look == look):
            for f in np.flatnonzero(np.isfinite(block.land[k])):
                found[(block.measure, block.zone, int(block.flute[f]))] = float(block.land[k, f])
    return found


def _copied(blocks: list[Block], before: int, look: int) -> bool:
    old, new = _cells(blocks, before), _cells(blocks, look)
    both = [(old[key], new[key]) for key in old.keys() & new.keys()]
    return sum(a > SEEN_MM for a, _ in both) >= LEAST_CELLS and all(a == b for a, b in both)


def _filled_in(draft: Draft, lands: Lands, blocks: list[Block], look: int) -> bool:
    """Whether all lands of a look stand half-way, or on the line by the clock, to half of the last digit."""
    halves, lines = [], []
    for block in blocks:
        for k in np.flatnonzero(block.look == look):
            if not 0 < k < len(block.look) - 1:
                continue
            part = (block.clock[k] - block.clock[k - 1]) / (block.clock[k + 1] - block.clock[k - 1])
            for f in np.flatnonzero(np.isfinite(block.land[k - 1 : k + 2]).all(axis=0)):
                a, x, b = block.land[k - 1 : k + 2, f]
                if max(a, b) <= SEEN_MM or abs(b - a) < 1e-9:
                    continue
                half_digit = 0.51 * last_digit_mm(draft, int(lands.row[block.at[k, f]]))
                halves.append(abs(x - (a + b) / 2) <= half_digit)
                lines.append(abs(x - (a + part * (b - a))) <= half_digit)
    return len(halves) >= LEAST_CELLS and (all(halves) or all(lines))


def _one_more_digit(draft: Draft, lands: Lands, block: Block) -> None:
    """A land that is the exact mean of its neighbours and has a digit more than either was worked out."""
    for f in range(block.land.shape[1]):
        known = np.flatnonzero(np.isfinite(block.land[:, f]))
        for i, k, j in zip(known, known[1:], known[2:], strict=False):
            rows = [int(lands.row[block.at[at, f]]) for at in (i, k, j)]
            a, x, b = (float(block.land[at, f]) for at in (i, k, j))
            if abs(x - (a + b) / 2) > 1e-9 or a == b:
                continue
            digits = [last_digit_mm(draft, row) for row in rows]
            if digits[1] < 0.5 * min(digits[0], digits[2]):
                draft.warn(
                    "filled_in",
                    f"{x:.6g} mm is the exact mean of the readings before and after it, with a digit more "
                    "than they have",
                    [rows[1]],
                    cutter=draft.cutter_of(rows[1]),
                    column="value",
                    hint=_LEAVE_BLANK,
                )


def last_digit_mm(draft: Draft, row: int) -> float:
    """Size of the last digit of a reading as typed, in mm."""
    typed = draft.typed(row, "value").replace(",", ".")
    mantissa = typed.lower().partition("e")[0]
    decimals = len(mantissa.partition(".")[2])
    value, value_mm = draft.number("value")[row], draft.number("value_mm")[row]
    return float(10.0**-decimals * (value_mm / value if value else 1.0))
