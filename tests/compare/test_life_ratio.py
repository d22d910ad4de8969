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
