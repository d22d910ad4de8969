"""Ratio of lives against R: survreg of exact, right- and interval-censored lives, profile cut where F says.

R 4.2.2, survival; the lives are made up; the script that made the figures stands beside them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.life_ratio import life_ratio

HERE = Path(__file__).parent / "r"
LIVES = pd.read_csv(HERE / "life_ratio_lives.csv", dtype={"block": str}).fillna({"high": np.inf})
EXPECTED = pd.read_csv(HERE / "life_ratio_expected.csv")


@pytest.mark.parametrize("row", EXPECTED.to_dict("records"), ids=lambda row: f"{row['design']}-{row['blocks']}")
def test_estimate_and_interval_are_those_of_r(row: dict[str, float]) -> None:
    table = LIVES[LIVES["design"] == row["design"]].rename(columns={"speed": "cutting_speed_m_min"})
    table = table.assign(cutter=np.arange(len(table)).astype(str)).reset_index(drop=True)
    found = life_ratio(table, "a", "b", 0.95, 0.90, "block" if row["blocks"] else "", ("cutting_speed_m_min",))
    assert ("within blocks" in found.method) == bool(row["blocks"])
    got = (found.log_ratio, found.interval.low, found.interval.high)
    assert got == pytest.approx((row["log_ratio"], row["low"], row["high"]), abs=2e-6)
    assert found.inner.low > found.interval.low
    assert found.inner.high < found.interval.high


def test_the_lives_are_known_in_three_ways() -> None:
    exact, right = LIVES["low"] == LIVES["high"], np.isinf(LIVES["high"])
    assert min(exact.sum(), right.sum(), (~exact & ~right).sum()) >= 8


@pytest.mark.parametrize("idle", [0, 7])
def test_a_block_in_which_no_life_ended_counts_as_absent(idle: int) -> None:
    """With a level of its own such a block fits perfectly at a level without end, whatever the ratio: the estimate and
    interval are those of the other blocks (limit of the likelihood), and it costs no verdict."""
    rng = np.random.default_rng(11)
    lives = {side: middle * np.exp(0.3 * rng.standard_normal(9)) for side, middle in (("a", 80.0), ("b", 40.0))}
    rows = [
        {"cutter": f"{side}{at}", "group": side, "block": str(at), "low": own[at], "high": own[at]}
        for at in range(9)
        for side, own in lives.items()
    ]
    table = pd.DataFrame(rows)
    withdrawn = table.assign(high=table["high"].where(table["block"] != str(idle), np.inf))
    found = life_ratio(withdrawn, "a", "b", 0.95, 0.90, "block", ())
    without = table[table["block"] != str(idle)].reset_index(drop=True)
    expected = life_ratio(without, "a", "b", 0.95, 0.90, "block", ())
    assert (found.n_a, found.n_b) == (9, 9)
    assert found.log_ratio == pytest.approx(expected.log_ratio, rel=1e-12)
    assert (found.interval.low, found.interval.high) == pytest.approx((expected.interval.low, expected.interval.high))
    assert f"no life ended in block {idle}" in found.note
    assert expected.note == ""
