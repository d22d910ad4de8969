"""Balanced incomplete blocks: every pair of practices meets in the same number of blocks.

For v practices in blocks of h: each runs r times and each pair meets lambda = r (h - 1) / (v - 1) times, in b = r v / h
blocks, with b >= v (Fisher's inequality; definitions as in any book on design of experiments).
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from math import comb

from wearlab.core.errors import ArgumentError, Refusal

MOST_PRACTICES = 9
STEPS = 20_000
"""Blocks that a search may try before the next larger design is looked for."""

Blocks = tuple[tuple[int, ...], ...]


@cache
def smallest_design(practices: int, holds: int) -> Blocks:
    """The smallest balanced design that a search finds; the one of all subsets at the latest.

    Parameters
    ----------
    practices : int
        v, 3 to 9.
    holds : int
        h, 2 to v - 1.

    Returns
    -------
    tuple of tuple of int
        Practices (0, 1, ...) of every block.

    Raises
    ------
    ArgumentError
        When the numbers do not allow incomplete blocks.

    Examples
    --------
    >>> len(smallest_design(4, 3)), len(smallest_design(7, 3)), len(smallest_design(6, 3))
    (4, 7, 10)
    """
    if not 2 <= holds < practices <= MOST_PRACTICES:
        raise ArgumentError(
            f"blocks of {holds} for {practices} practices",
            where="blocks",
            allowed=f"blocks of 2 or more, fewer than the practices, of which there may be {MOST_PRACTICES}",
        )
    if 2 * holds > practices and practices - holds >= 2:
        # What a balanced design leaves out of each block is balanced too, and smaller to look for.
        others = smallest_design(practices, practices - holds)
        return tuple(tuple(i for i in range(practices) if i not in block) for block in others)
    for meetings in range(1, comb(practices - 2, holds - 2)):
        runs, rest = divmod(meetings * (practices - 1), holds - 1)
        blocks, left = divmod(runs * practices, holds)
        if rest or left or blocks < practices:
            continue
        found = _search(practices, holds, meetings)
        if found is not None:
            return found
    return tuple(combinations(range(practices), holds))


def design_for(practices: int, holds: int, cutters: int) -> Blocks:
    """Blocks in which every practice runs `cutters` times.

    Raises
    ------
    Refusal
        When that number does not come out balanced; the nearest that do are named.
    """
    base = smallest_design(practices, holds)
    runs = len(base) * holds // practices
    if cutters % runs:
        below, above = cutters - cutters % runs, cutters - cutters % runs + runs
        numbers = f"{below} or {above}" if below else f"{above}"
        raise Refusal(
            f"{cutters} cutters a practice of {practices} are not balanced in blocks of {holds} runs",
            where="blocks",
            allowed=f"{numbers} cutters a practice",
            hint="change [size] cutters, or let a block hold one run of every practice",
        )
    return base * (cutters // runs)


def _search(v: int, h: int, meetings: int) -> Blocks | None:
    """Blocks in which every pair meets so often, by trying; None when none was found within the steps allowed."""
    pairs = list(combinations(range(v), 2))
    candidates = {
        pair: [block for block in combinations(range(v), h) if set(pair) <= set(block)] for pair in pairs
    }
    met = dict.fromkeys(pairs, 0)
    chosen: list[tuple[int, ...]] = []
    steps = 0

    def extend(start: int) -> bool:
        nonlocal steps
        at = next((i for i in range(start, len(pairs)) if met[pairs[i]] < meetings), None)
        if at is None:
            return True
        for block in candidates[pairs[at]]:
            steps += 1
            if steps > STEPS:
                return False
            own = list(combinations(block, 2))
            if any(met[pair] >= meetings for pair in own):
                continue
            for pair in own:
                met[pair] += 1
            chosen.append(block)
            if extend(at):
                return True
            chosen.pop()
            for pair in own:
                met[pair] -= 1
        return False

    return tuple(chosen) if extend(0) else None
