"""Who runs when: practices at random within blocks, blocks in random order, holders swapped, seed kept.

A block is what its runs share: a bar, a day, a machine, a cutter batch. Each holds one cutter of every practice; where
it has no room for all, balanced incomplete blocks are used. A difference between blocks then touches no comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.tables import plain
from wearlab.plan.balanced_blocks import design_for, smallest_design
from wearlab.plan.request import BlockRequest

FEWEST_BLOCKS = 3
"""From so many blocks on, an order in which one practice opens every block is drawn again."""


@dataclass(frozen=True, slots=True)
class Run:
    """One cutter of the trial.

    Attributes
    ----------
    order : int
        Place in the whole trial, from 1.
    cutter : str
        Mark on the shank: E1, E2, ... in the order of running, so that it tells nothing of the practice.
    strategy : str
    cutting_speed_m_min : float
    block : str
        Name of its block; empty = no blocks.
    place : int
        Place within the block, from 1.
    bar, day, machine, holder, cutter_batch : str
        What the block stands for; empty = not planned.
    """

    order: int
    cutter: str
    strategy: str
    cutting_speed_m_min: float
    block: str
    place: int
    bar: str = ""
    day: str = ""
    machine: str = ""
    holder: str = ""
    cutter_batch: str = ""

    def facts(self) -> dict[str, Any]:
        """Columns of the log that the run settles; not the turn in which it is really made, which nobody knows yet."""
        cells = {
            name: getattr(self, name) for name in ("block", "bar", "day", "machine", "holder", "cutter_batch")
        }
        return {"cutter": self.cutter} | {name: cell for name, cell in cells.items() if cell}

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


@dataclass(frozen=True, slots=True)
class Treatment:
    """A practice at a speed; `group` is main for the comparison, speed for the Taylor trial."""

    strategy: str
    cutting_speed_m_min: float
    group: str = "main"


def shared_blocks(practices: int, blocks: BlockRequest, cutters: int) -> int:
    """Blocks that hold any given pair of practices.

    >>> shared_blocks(2, BlockRequest(), 6), shared_blocks(4, BlockRequest(holds=3), 6)
    (6, 4)
    >>> shared_blocks(2, BlockRequest(use=False), 6)
    0
    """
    if not blocks.use or practices < 2:
        return 0
    if blocks.holds is None or blocks.holds >= practices:
        return cutters
    return cutters * (blocks.holds - 1) // (practices - 1) if balanced(practices, blocks, cutters) else 0


def balanced(practices: int, blocks: BlockRequest, cutters: int) -> bool:
    """Whether every pair of practices meets equally often at that number of cutters."""
    if not blocks.use or blocks.holds is None or blocks.holds >= practices:
        return True
    base = smallest_design(practices, blocks.holds)
    return cutters % (len(base) * blocks.holds // practices) == 0


def make_order(
    main: Sequence[Treatment],
    cutters: int,
    blocks: BlockRequest,
    speeds: Sequence[tuple[Treatment, int]] = (),
    rng: int | np.random.Generator | None = None,
) -> tuple[Run, ...]:
    """Draw the order of a trial.

    Parameters
    ----------
    main : sequence of Treatment
        Practices that are compared.
    cutters : int
        Cutters of each.
    blocks : BlockRequest
    speeds : sequence of (Treatment, int)
        Speeds of the Taylor trial and the cutters at each; they have blocks of their own.
    rng : int, numpy.random.Generator or None
        Passed to `numpy.random.default_rng`; the same whole number gives the same order.

    Raises
    ------
    Refusal
        When blocks too small for all practices do not come out balanced.

    Examples
    --------
    >>> runs = make_order([Treatment("layered", 70), Treatment("side", 70)], 3, BlockRequest(), rng=1)
    >>> [(run.cutter, run.strategy, run.block) for run in runs][:3]
    [('E1', 'layered', '1'), ('E2', 'side', '1'), ('E3', 'layered', '2')]
    """
    generator = np.random.default_rng(rng)
    groups = _main_blocks(list(main), cutters, blocks, generator) + _speed_blocks(list(speeds), generator)
    if not blocks.use:
        everything = [one for group in groups for one in group]
        groups = [[everything[i] for i in generator.permutation(len(everything))]]
    else:
        groups = [groups[i] for i in generator.permutation(len(groups))]
    turn = int(generator.integers(max(len(blocks.holders), 1)))
    places = {one: at for at, one in enumerate([*main, *(one for one, _ in speeds)])}
    runs: list[Run] = []
    for number, group in enumerate(groups, start=1):
        for place, one in enumerate(group, start=1):
            shared = _shared(blocks, number) if blocks.use else {}
            holder = _turn(blocks.holders, places[one] + turn + (number if blocks.use else len(runs)))
            runs.append(
                Run(
                    len(runs) + 1,
                    f"E{len(runs) + 1}",
                    one.strategy,
                    one.cutting_speed_m_min,
                    str(number) if blocks.use else "",
                    place,
                    holder=holder,
                    **shared,
                )
            )
    return tuple(runs)


def _main_blocks(
    main: list[Treatment], cutters: int, blocks: BlockRequest, rng: np.random.Generator
) -> list[list[Treatment]]:
    """Blocks of the comparison, practices shuffled in each."""
    if not main or not cutters:
        return []
    if not blocks.use or blocks.holds is None or blocks.holds >= len(main):
        rows: list[tuple[int, ...]] = [tuple(range(len(main)))] * cutters
    else:
        rows = list(design_for(len(main), blocks.holds, cutters))
    names = rng.permutation(len(main))
    while True:
        made = [[main[names[row[i]]] for i in rng.permutation(len(row))] for row in rows]
        openers = {group[0] for group in made}
        if len(main) < 2 or len(made) < FEWEST_BLOCKS or len(openers) > 1:
            return made


def _speed_blocks(speeds: list[tuple[Treatment, int]], rng: np.random.Generator) -> list[list[Treatment]]:
    """Blocks of the Taylor trial: at most one cutter a speed in each, speeds shuffled."""
    most = max((count for _, count in speeds), default=0)
    made: list[list[Treatment]] = [[] for _ in range(most)]
    for one, count in speeds:
        for at in sorted(rng.permutation(most)[:count].tolist()):
            made[at].append(one)
    return [[group[i] for i in rng.permutation(len(group))] for group in made]


def _shared(blocks: BlockRequest, number: int) -> dict[str, str]:
    """What a block stands for."""
    found = {"machine": _turn(blocks.machines, number - 1)}
    for wanted, name, word in (
        (blocks.bars, "bar", "bar"),
        (blocks.days, "day", "day"),
        (blocks.batches, "cutter_batch", "batch"),
    ):
        found[name] = f"{word} {number}" if wanted else ""
    return found


def _turn(names: Sequence[str], at: int) -> str:
    return names[at % len(names)] if names else ""
