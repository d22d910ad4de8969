"""Who runs when: blocks, balance, lots, holders."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.plan.balanced_blocks import design_for, smallest_design
from wearlab.plan.order import Run, Treatment, make_order, shared_blocks
from wearlab.plan.request import BlockRequest

TWO = [Treatment("layered", 70.0), Treatment("side", 70.0)]
FOUR = [Treatment(name, 70.0) for name in ("a", "b", "c", "d")]


def by_block(runs: tuple[Run, ...]) -> dict[str, list[Run]]:
    found: dict[str, list[Run]] = {}
    for run in runs:
        found.setdefault(run.block, []).append(run)
    return found


@pytest.mark.parametrize(("practices", "holds"), [(v, h) for v in range(3, 10) for h in range(2, v)])
def test_every_pair_meets_equally_often(practices: int, holds: int) -> None:
    blocks = smallest_design(practices, holds)
    runs = Counter(one for block in blocks for one in block)
    pairs = Counter(pair for block in blocks for pair in combinations(sorted(block), 2))
    assert {len(set(block)) for block in blocks} == {holds}
    assert len(set(runs.values())) == 1
    assert len(pairs) == practices * (practices - 1) // 2
    assert len(set(pairs.values())) == 1
    assert len(blocks) >= practices  # Fisher's inequality


def test_known_smallest_designs() -> None:
    """Number of blocks, from memory of the tables of Cochran and Cox (plans 11.1 and on)."""
    known = {(3, 2): 3, (4, 2): 6, (4, 3): 4, (5, 4): 5, (6, 3): 10, (7, 3): 7, (7, 4): 7, (9, 3): 12}
    assert {key: len(smallest_design(*key)) for key in known} == known


def test_a_number_that_does_not_balance_is_refused_with_those_that_do() -> None:
    with pytest.raises(
        Refusal, match=r"4 cutters a practice of 4 are not balanced in blocks of 3.*3 or 6 cutters"
    ):
        design_for(4, 3, 4)
    with pytest.raises(ArgumentError, match="blocks of 4 for 4"):
        smallest_design(4, 4)
    assert shared_blocks(4, BlockRequest(holds=3), 4) == 0


@pytest.mark.parametrize("seed", range(20))
def test_each_block_holds_each_practice_once(seed: int) -> None:
    runs = make_order(TWO, 6, BlockRequest(), rng=seed)
    for own in by_block(runs).values():
        assert sorted(run.strategy for run in own) == ["layered", "side"]
    assert [run.order for run in runs] == list(range(1, 13))
    assert [run.cutter for run in runs] == [f"E{i}" for i in range(1, 13)]
    assert len({own[0].strategy for own in by_block(runs).values()}) == 2


def test_incomplete_blocks() -> None:
    runs = make_order(FOUR, 6, BlockRequest(holds=3), rng=1)
    blocks = by_block(runs)
    assert {len(own) for own in blocks.values()} == {3}
    together = Counter(
        pair for own in blocks.values() for pair in combinations(sorted(run.strategy for run in own), 2)
    )
    assert set(together.values()) == {shared_blocks(4, BlockRequest(holds=3), 6)} == {4}


def test_places_within_a_block_are_drawn_evenly() -> None:
    """Over 400 seeds each practice opens about half of the blocks (4 standard errors)."""
    opens = [
        own[0].strategy == "side"
        for seed in range(400)
        for own in by_block(make_order(TWO, 6, BlockRequest(), rng=seed)).values()
    ]
    assert abs(np.mean(opens) - 0.5) < 4 * 0.5 / np.sqrt(len(opens))


def test_holders_are_swapped_between_practices() -> None:
    for seed in range(10):
        runs = make_order(TWO, 6, BlockRequest(holders=("H1", "H2")), rng=seed)
        assert set(Counter((run.strategy, run.holder) for run in runs).values()) == {3}
        for own in by_block(runs).values():
            assert {run.holder for run in own} == {"H1", "H2"}
    one = make_order(TWO, 3, BlockRequest(holders=("H1",)), rng=1)
    assert {run.holder for run in one} == {"H1"}


def test_what_a_block_stands_for() -> None:
    runs = make_order(TWO, 4, BlockRequest(machines=("M1", "M2"), batches=True, days=False), rng=1)
    for own in by_block(runs).values():
        assert len({(run.bar, run.machine, run.cutter_batch) for run in own}) == 1
    assert [own[0].machine for own in by_block(runs).values()] == ["M1", "M2", "M1", "M2"]
    assert {run.day for run in runs} == {""}


def test_without_blocks_all_runs_are_shuffled() -> None:
    runs = make_order(TWO, 8, BlockRequest(use=False), rng=2)
    assert {run.block for run in runs} == {""}
    assert Counter(run.strategy for run in runs) == {"layered": 8, "side": 8}
    assert "block" not in runs[0].facts()


def test_speeds_have_blocks_of_their_own_among_the_others() -> None:
    speeds = [(Treatment("layered", v, "speed"), count) for v, count in ((50.0, 5), (70.5, 2), (100.0, 5))]
    runs = make_order(TWO, 6, BlockRequest(), speeds, rng=3)
    assert len(runs) == 24
    for own in by_block(runs).values():
        assert len({(run.strategy, run.cutting_speed_m_min) for run in own}) == len(own)
        assert len({run.cutting_speed_m_min == 70.0 for run in own}) == 1
    first_speed = min(run.order for run in runs if run.cutting_speed_m_min != 70.0)
    last_main = max(run.order for run in runs if run.cutting_speed_m_min == 70.0)
    assert first_speed < last_main


def test_same_seed_same_order() -> None:
    assert make_order(TWO, 6, BlockRequest(), rng=7) == make_order(TWO, 6, BlockRequest(), rng=7)
