"""Balanced incomplete blocks: no pair of practices shares enough blocks to be judged by itself."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.contrasts import Question, contrasts_of
from wearlab.compare.outcomes import Outcome
from wearlab.compare.rate_ratio import rate_ratio, rate_values
from wearlab.compare.together import values_together

TRUTH = {"A": 0.0, "B": 0.7, "C": 0.1, "D": 0.2}
PAIRS = list(combinations(TRUTH, 2))


def _table() -> pd.DataFrame:
    """Each pair of four practices in two blocks of two cutters."""
    dice = np.random.default_rng(0)
    rows: list[dict[str, object]] = []
    for block, pair in enumerate(PAIRS * 2):
        level = dice.normal(0, 0.3)
        for name in pair:
            rate = math.exp(-4 + TRUTH[name] + level + dice.normal(0, 0.1))
            rows.append({"cutter": f"E{len(rows)}", "group": name, "strategy": name, "block": str(block), "rate": rate})
    return pd.DataFrame(rows).assign(run_order=lambda table: np.arange(len(table), dtype=float))


def test_the_fit_of_all_groups_judges_the_pairs() -> None:
    table = _table()
    outcome = Outcome(
        "rate", "VB", "", "cutting_time_min", table, "rate", (), False, rate_ratio, values_together(rate_values)
    )
    asked = Question(by="strategy", level=0.95, margin=1.25, adjust=(), rng=0, standard=False, limits={})
    contrasts, family, _ = contrasts_of(outcome, PAIRS, asked)
    assert (family.method, family.contrasts, family.groups) == ("holm", 6, 4)
    # By hand: least squares of ln rate on practices and blocks, Student's t with 24 - 4 - 11 degrees of freedom.
    X = np.column_stack([
        *(table["group"] == name for name in TRUTH), *(table["block"] == str(block) for block in range(1, 12))
    ]).astype(float)  # fmt: skip
    beta, rest, *_ = np.linalg.lstsq(X, np.log(table["rate"]))
    assert len(X) - X.shape[1] == 9
    for one in contrasts:
        by_hand = beta[list(TRUTH).index(one.a)] - beta[list(TRUTH).index(one.b)]
        assert math.log(one.estimate) == pytest.approx(by_hand, abs=1e-10)
        assert one.verdict
        assert math.isfinite(one.interval.low)
    assert contrasts[0].sigma == pytest.approx(math.sqrt(rest[0] / 9), rel=1e-9)
    assert contrasts[0].verdict == "different"
