from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.two_groups import blocked, paired, student, welch

A, B = [3.12, 3.58, 2.91, 3.4, 3.77, 3.05], [2.71, 2.96, 2.6, 3.55, 3.08, 2.49]


@pytest.mark.parametrize("method, equal", [(welch, False), (student, True)])
def test_against_scipy(method, equal):
    from scipy.stats import ttest_ind

    for b in (B, B[:3]):
        mine, theirs = method(A, b), ttest_ind(A, b, equal_var=equal)
        ci = theirs.confidence_interval(0.9)
        limits = mine.interval(0.9)
        assert (mine.statistic, mine.p_value, mine.df) == pytest.approx(
            (theirs.statistic, theirs.pvalue, theirs.df), rel=1e-12
        )
        assert (limits.low, limits.high) == pytest.approx((ci.low, ci.high), rel=1e-12)


def test_two_grades_of_seven_lives():
    """Machinery's Handbook, 31st edition, p. 141: means 17.1 and 14.8, decision criterion 2.19, difference
    2.29.
    """
    result = student([15.0, 19.0, 16.9, 16.6, 16.6, 16.1, 19.4], [14.6, 13.5, 15.6, 12.4, 14.6, 13.8, 19.1])
    limits = result.interval()
    assert result.difference == pytest.approx(2.29, abs=0.005)
    assert result.sd == pytest.approx(1.88, abs=0.005)
    assert (limits.high - limits.low) / 2 == pytest.approx(2.19, abs=0.005)
    assert not limits.contains(0)


def test_shoes(stored):
    """Box, Hunter and Hunter, Statistics for Experimenters; R MASS shoes: paired p 0.008539, Welch p
    0.7165.
    """
    shoes = stored("published/shoes")
    assert paired(shoes["A"], shoes["B"]).p_value == pytest.approx(0.008539, abs=5e-7)
    assert welch(shoes["A"], shoes["B"]).p_value == pytest.approx(0.7165, abs=5e-5)
    assert paired(shoes["A"], shoes["B"]).difference == pytest.approx(-0.41)


def test_complete_blocks_are_pairs():
    result = blocked(A + B, ["a"] * 6 + ["b"] * 6, list("uvwxyz") * 2)
    pairs = paired(A, B)
    assert (result.difference, result.se, result.df) == pytest.approx((pairs.difference, pairs.se, pairs.df))


def test_incomplete_blocks_against_statsmodels():
    from statsmodels.regression.linear_model import OLS

    y = np.array([3.1, 2.7, 3.5, 3.0, 2.6, 3.4, 2.2])
    group = list("abaabba")
    block = list("xxyyzzz")
    X = np.column_stack([[one == level for one in block] for level in "xyz"] + [[g == "a" for g in group]])
    with pytest.raises(ArgumentError, match="2 groups, 7 blocks"):
        blocked(y, ["a", "b"], block)
    theirs = OLS(y, X.astype(float)).fit()
    mine = blocked(y, group, block)
    assert (mine.difference, mine.se, mine.df) == pytest.approx(
        (theirs.params[3], theirs.bse[3], theirs.df_resid)
    )


def test_blocks_that_hold_one_group_are_refused():
    with pytest.raises(Refusal, match="no block holds both groups"):
        blocked([1, 2, 3, 4.0], list("aabb"), list("xxyy"))


def test_two_blocks_leave_too_few_degrees_of_freedom():
    result = blocked([1, 2.2, 3, 4.0], list("abab"), list("xxyy"))
    assert "too few" in result.why_missing
    assert result.interval().unbounded == "both"


@pytest.mark.parametrize(
    "result, reason",
    [
        (welch([1.0], [1.0, 2.0, 3.0]), "one value on a side"),
        (student([1.0], [2.0]), "one value on each side"),
        (paired([1.0], [2.0]), "one pair"),
        (welch([1.0, 1.0], [2.0, 2.0]), "no scatter"),
        (student([1.1, 1.1], [2.3, 2.3]), "no scatter"),
        (paired([1.1, 2.1, 3.1], [1.0, 2.0, 3.0]), "the same amount"),
    ],
)
def test_where_there_is_no_test_the_record_says_why(result, reason):
    assert reason in result.why_missing
    assert math.isnan(result.p_value)
    assert result.interval().unbounded == "both"
    assert math.isfinite(result.difference)


def test_faults_are_named():
    with pytest.raises(ArgumentError, match="b: an empty group"):
        welch([1.0], [])
    with pytest.raises(ArgumentError, match="pairs: 2 and 1 values"):
        paired([1.0, 2.0], [1.0])
    with pytest.raises(ArgumentError, match="group: 3 groups; allowed: two"):
        blocked([1, 2, 3], list("abc"), list("xxx"))
    with pytest.raises(ArgumentError, match="inf in row 1"):
        welch([1.0, math.inf], [1.0, 2.0])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([welch, student, paired]), st.sampled_from([1e-6, 1e6]))
def test_reflection_units_and_order(seed, method, factor):
    rng = np.random.default_rng(seed)
    a, b = rng.normal(size=5), rng.normal(size=5) + 1
    order = rng.permutation(5)
    one, mirrored = method(a, b), method(b, a)
    assert mirrored.p_value == pytest.approx(one.p_value, rel=1e-10)
    assert mirrored.interval().low == pytest.approx(-one.interval().high, rel=1e-9)
    other = method(a[order] * factor, b[order] * factor)
    assert other.p_value == pytest.approx(one.p_value, rel=1e-9)
    assert other.interval().high == pytest.approx(one.interval().high * factor, rel=1e-9)
