"""Sides that differ in number have a scatter of their own; practices that never share a day are not judged."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import ttest_ind

from wearlab.compare.fair import fairness
from wearlab.compare.life_ratio import life_ratio


def _table(a: list[float], b: list[float]) -> pd.DataFrame:
    return pd.DataFrame({"group": ["a"] * len(a) + ["b"] * len(b), "low": a + b, "high": a + b})


def test_complete_lives_of_unequal_numbers_are_welch_on_the_logs() -> None:
    a, b = [20.0, 55.0, 31.0], [40.0, 44.0, 39.0, 47.0, 42.0, 38.0, 45.0, 41.0]
    found = life_ratio(_table(a, b), "a", "b", 0.95, 0.90, "", ())
    by_scipy = ttest_ind(np.log(a), np.log(b), equal_var=False)
    low, high = by_scipy.confidence_interval(0.95)
    assert found.p_model == pytest.approx(by_scipy.pvalue, rel=1e-6)
    assert (found.interval.low, found.interval.high) == pytest.approx((low, high), rel=1e-6)
    assert "scatter of its own" in found.method


def test_equal_numbers_keep_the_pooled_scale() -> None:
    a, b = [20.0, 55.0, 31.0], [40.0, 44.0, 39.0]
    found = life_ratio(_table(a, b), "a", "b", 0.95, 0.90, "", ())
    assert found.p_model == pytest.approx(ttest_ind(np.log(a), np.log(b)).pvalue, rel=1e-6)


def test_a_side_with_one_failure_falls_back_to_the_pooled_scale() -> None:
    table = _table([20.0, 25.0, 30.0], [40.0, 44.0, 39.0, 47.0, 42.0])
    table.loc[[1, 2], "high"] = math.inf
    found = life_ratio(table, "a", "b", 0.95, 0.90, "", ())
    assert "profile likelihood" in found.method


def test_false_alarms_of_three_against_eight_with_threefold_scatter() -> None:
    """800 trials at no difference; the pooled scale alarms about four times as often as it says."""
    rng = np.random.default_rng(20261125)
    own = pooled = 0
    for _ in range(800):
        a, b = np.exp(rng.normal(0, 0.45, 3)), np.exp(rng.normal(0, 0.15, 8))
        own += life_ratio(_table(a.tolist(), b.tolist()), "a", "b", 0.95, 0.90, "", ()).p_model < 0.05
        pooled += ttest_ind(np.log(a), np.log(b)).pvalue < 0.05
    assert own / 800 < 0.095, "at most 7.5 %, and Monte-Carlo error"
    assert pooled / 800 > 0.15


def _facts(days: list[str]) -> pd.DataFrame:
    half = len(days) // 2
    return pd.DataFrame({"group": ["a"] * half + ["b"] * half, "day": days, "cutter": range(len(days))})


@pytest.mark.parametrize(
    ("days", "tangled"),
    [
        (["mon", "mon", "tue", "wed", "wed", "thu"], True),
        (["mon", "tue", "wed", "mon", "tue", "wed"], False),
        (["1", "2", "3", "4", "5", "6"], False),
        (["mon", "mon", "tue", "tue", "wed", "wed"], False),
        (["mon", "mon", "mon", "tue", "tue", "tue"], True),
    ],
)
def test_days_that_no_two_practices_share(days: list[str], tangled: bool) -> None:
    assert bool(fairness(_facts(days), "a", "b").confounded) is tangled
