from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives
from wearlab.stats.permutation import (
    exact_mean_difference,
    exact_sign_flip,
    life_scores,
    score_test,
    score_test_within_blocks,
)


def listed(values, size, observed):
    """The same test by listing every split, in whole numbers."""
    values = np.asarray(values) * len(values) - np.sum(values)
    sums = np.array([values[list(rows)].sum() for rows in combinations(range(len(values)), size)])
    return np.mean(np.abs(sums) >= abs(observed)), np.mean(np.abs(sums) >= np.abs(sums).max())


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 6), min_size=1, max_size=6),
    st.lists(st.integers(0, 6), min_size=1, max_size=6),
)
def test_against_listing_every_split_ties_and_all(a, b):
    n = len(a) + len(b)
    observed = sum(a) * n - len(a) * (sum(a) + sum(b))
    p, least = listed(a + b, len(a), observed)
    result = exact_mean_difference(a, b)
    assert result.p_value == pytest.approx(p, abs=1e-15)
    assert result.smallest_p == pytest.approx(least, abs=1e-15)
    assert result.splits == math.comb(n, len(a))


def test_against_scipy_without_ties():
    """Balanced groups without ties, where doubling the smaller tail and going by size agree."""
    from scipy.stats import permutation_test

    rng = np.random.default_rng(3)
    for n in (3, 4, 6):
        a, b = rng.normal(size=n), rng.normal(size=n) + 0.7
        theirs = permutation_test(
            (a, b),
            lambda x, y, axis: x.mean(axis=axis) - y.mean(axis=axis),
            vectorized=True,
            n_resamples=np.inf,
        )
        assert exact_mean_difference(a, b).p_value == pytest.approx(theirs.pvalue, abs=1e-14)


def test_twenty_against_twenty_is_exact_and_near_the_normal():
    rng = np.random.default_rng(9)
    a, b = rng.normal(size=20), rng.normal(size=20) + 0.6
    result = exact_mean_difference(a, b)
    assert result.exact
    assert result.splits == math.comb(40, 20)
    everything = np.concatenate([a, b])
    z = (a.sum() - 20 * everything.mean()) / math.sqrt(20 * 20 / 40 * everything.var(ddof=1))
    assert result.p_value == pytest.approx(math.erfc(abs(z) / math.sqrt(2)), rel=0.05)


def test_whole_numbers_twenty_against_twenty_by_counting():
    """Ranks: the distribution of the rank sum by the recursion of Mann and Whitney (derived)."""
    a = np.array([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 17, 20, 22, 25, 27, 28, 30, 31])
    b = np.setdiff1d(np.arange(1, 41), a)
    ways = np.zeros((21, 40 * 20 + 1), dtype=object)
    ways[0, 0] = 1
    for rank in range(1, 41):
        for size in range(20, 0, -1):
            ways[size, rank:] += ways[size - 1, : ways.shape[1] - rank]
    sums = np.arange(ways.shape[1])
    extreme = np.abs(2 * sums - 20 * 41) >= abs(2 * a.sum() - 20 * 41)
    assert exact_mean_difference(a, b).p_value == pytest.approx(
        int(ways[20][extreme].sum()) / math.comb(40, 20), rel=1e-14
    )


def test_larger_groups_go_by_chance_and_say_so():
    rng = np.random.default_rng(5)
    a, b = rng.normal(size=30), rng.normal(size=30) + 0.5
    one, again = exact_mean_difference(a, b, rng=1), exact_mean_difference(a, b, rng=1)
    assert not one.exact
    assert one == again
    from scipy.stats import ttest_ind

    assert one.p_value == pytest.approx(ttest_ind(a, b).pvalue, rel=0.15)


def test_a_few_against_many_is_still_exact():
    rng = np.random.default_rng(6)
    result = exact_mean_difference(rng.normal(size=3), rng.normal(size=45))
    assert result.exact
    assert result.splits == math.comb(48, 3)


@pytest.mark.parametrize("n, least", [(3, 0.1), (4, 2 / 70), (5, 2 / 252)])
def test_smallest_p(n, least):
    rng = np.random.default_rng(n)
    assert exact_mean_difference(rng.normal(size=n), rng.normal(size=n)).smallest_p == pytest.approx(least)


def test_no_difference_at_all():
    assert exact_mean_difference([1.1, 1.1, 1.1], [1.1, 1.1]).p_value == 1.0
    assert exact_mean_difference([0.1, 0.5, 0.3], [0.3, 0.2, 0.4]).p_value == 1.0


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([1e-6, 1e6]), st.floats(-100, 100))
def test_units_order_and_reflection_change_nothing(seed, factor, shift):
    rng = np.random.default_rng(seed)
    a, b = rng.normal(size=5).round(1), rng.normal(size=6).round(1)
    p = exact_mean_difference(a, b).p_value
    assert exact_mean_difference(b, a).p_value == p
    assert exact_mean_difference(a[::-1] * factor, b[::-1] * factor).p_value == p
    assert exact_mean_difference(-a, -b).p_value == p
    assert exact_mean_difference(a + shift, b + shift).p_value == p


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-5, 5), min_size=1, max_size=9))
def test_sign_flips_against_listing(differences):
    sums = np.array([np.dot(signs, differences) for signs in product([-1, 1], repeat=len(differences))])
    result = exact_sign_flip(differences)
    assert result.p_value == pytest.approx(np.mean(np.abs(sums) >= abs(sum(differences))))
    assert result.smallest_p == pytest.approx(np.mean(np.abs(sums) >= np.abs(sums).max()))


def test_six_pairs_are_the_first_that_reach_five_percent():
    assert exact_sign_flip([1.0, 2, 4, 8, 16]).smallest_p == 0.0625
    assert exact_sign_flip([1.0, 2, 4, 8, 16, 32]).smallest_p == 0.03125
    assert exact_sign_flip(np.arange(1.0, 61.0), rng=0).exact is False


def test_blocks_of_two_are_sign_flips():
    rng = np.random.default_rng(7)
    a, b = rng.normal(size=7), rng.normal(size=7)
    scores, in_a = np.concatenate([a, b]), np.repeat([True, False], 7)
    in_blocks = score_test_within_blocks(scores, in_a, list(range(7)) * 2)
    assert in_blocks.p_value == exact_sign_flip(a - b).p_value


def test_blocks_against_listing():
    scores, in_a = np.array([3, 1, 4, 1, 5, 9, 2, 6.0]), np.array([1, 1, 0, 1, 0, 0, 1, 0], dtype=bool)
    block = list("xxxyyyzz")
    sums = []
    for x in combinations(range(3), 2):
        for y in combinations(range(3, 6), 1):
            sums.extend(scores[list(x)].sum() + scores[list(y)].sum() + scores[z] for z in (6, 7))
    sums = np.array(sums)
    expected = 2 * scores[:3].mean() + scores[3:6].mean() + scores[6:].mean()
    far = np.abs(sums - expected) >= abs(scores[in_a].sum() - expected) - 1e-12
    assert score_test_within_blocks(scores, in_a, block).p_value == pytest.approx(far.mean())


def by_listing(parts, marks):
    """Share of all arrangements within the blocks whose sum lies at least as far out, and the least share there is."""
    centred = [np.asarray(part, dtype=float) - np.mean(part) for part in parts]
    seen = sum(part[mark].sum() for part, mark in zip(centred, marks, strict=True))
    ways = [list(combinations(range(len(part)), int(mark.sum()))) for part, mark in zip(centred, marks, strict=True)]
    sums = np.array([
        abs(sum(part[list(way)].sum() for part, way in zip(centred, chosen, strict=True)))
        for chosen in product(*ways)
    ])  # fmt: skip
    return np.mean(sums >= abs(seen) - 1e-9), np.mean(sums >= sums.max() - 1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_blocks_that_lean_different_ways_against_listing(seed):
    # Derived by listing. Where one block has more of the group and another fewer, the signs of their sums matter.
    dice = np.random.default_rng(seed)
    sizes = dice.integers(2, 6, size=int(dice.integers(2, 4)))
    parts = [np.round(dice.normal(size=size), int(dice.integers(0, 3))) for size in sizes]
    marks = [dice.permutation(np.arange(size) < dice.integers(1, size)) for size in sizes]
    found = score_test_within_blocks(
        np.concatenate(parts), np.concatenate(marks), np.repeat(np.arange(len(sizes)), sizes)
    )
    p_value, least = by_listing(parts, marks)
    assert found.p_value == pytest.approx(p_value, abs=1e-12)
    assert found.smallest_p == pytest.approx(least, abs=1e-12)
    assert found.p_value >= found.smallest_p - 1e-15


def test_blocks_that_hold_one_group_are_no_test():
    with pytest.raises(Refusal, match="no block holds both groups"):
        score_test_within_blocks([1, 2, 3, 4], [True, True, False, False], ["x", "x", "y", "y"])


def test_scores_are_the_derivative_of_the_null_model():
    from scipy.stats import norm

    lives = Lives([10, 12, 9, 0, 15, 8], [10, 12, np.inf, 7, 15, 11])
    fit = fit_lives(np.ones((6, 1)), lives)

    def logliks(move):
        with np.errstate(divide="ignore"):
            low = (np.log(lives.lower) - fit.beta[0] - move) / fit.sigma
            high = (np.log(lives.upper) - fit.beta[0] - move) / fit.sigma
            return np.where(lives.exact, norm.logpdf(low), np.log(norm.cdf(high) - norm.cdf(low)))

    h = 1e-6
    scores = life_scores(lives)
    np.testing.assert_allclose(scores, (logliks(h) - logliks(-h)) / (2 * h) * fit.sigma, rtol=1e-5)
    assert scores.sum() == pytest.approx(0, abs=1e-9)


def test_complete_lives_give_the_test_of_mean_logs():
    a, b = np.array([40.0, 52, 61, 47]), np.array([30.0, 35, 50, 28])
    lives = Lives(np.concatenate([a, b]), np.concatenate([a, b]))
    in_a = np.repeat([True, False], 4)
    by_scores = score_test(life_scores(lives), in_a)
    assert by_scores.p_value == exact_mean_difference(np.log(a), np.log(b)).p_value
    assert by_scores.statistic > 0


def test_faults_are_named():
    with pytest.raises(ArgumentError, match="a: an empty group"):
        exact_mean_difference([], [1.0])
    with pytest.raises(ArgumentError, match="in_a: 0 of 2 rows in the group"):
        score_test([1.0, 2.0], [False, False])
    with pytest.raises(ArgumentError, match="in_a: 1 labels; allowed: 2"):
        score_test([1.0, 2.0], [False])
    with pytest.raises(ArgumentError, match="no differences"):
        exact_sign_flip([])
    with pytest.raises(ArgumentError, match="block: 1 blocks; allowed: 2"):
        score_test_within_blocks([1.0, 2.0], [True, False], ["x"])
    with pytest.raises(ArgumentError, match="lives: a list"):
        life_scores([1.0, 2.0])
    with pytest.raises(Refusal, match="1 failure for"):
        life_scores(Lives.right_censored([5.0, 6.0], [1, 0]))
