"""Exact permutation tests of linear statistics.

A difference of means depends on the labels only through the sum of one group, so the splits need not be
listed: the values are cut into two halves, the sums of all subsets of each half are sorted by subset size,
and pairs are counted by searching. Twelve against twelve (2.7 million splits) takes about a millisecond,
twenty against twenty (1.4e11) well under a second. Sign flips and permutations within blocks are counted the
same way.

Two-sided by size: a split counts when its difference is at least as far from the mean as the observed one,
equality being judged with a relative tolerance so that rounding does not break ties.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.design import FloatArray, as_vector

TIE = 1e-12
"""Differences closer than this share of the largest possible one count as equal."""
LARGEST_HALF = 2**20
"""Most subset sums that are held for one half; beyond it the test is by random splits."""
RESAMPLES = 99_999
"""Random splits where there are too many to count."""


@dataclass(frozen=True)
class PermutationResult:
    """A permutation test.

    Attributes
    ----------
    p_value : float
        Two-sided by size.
    smallest_p : float
        Smallest p that any arrangement of these values could have reached.
    splits : int
        Number of arrangements (counted, or drawn when not `exact`).
    statistic : float
        Observed difference of means, mean difference, or sum of scores less its expectation.
    exact : bool
        Whether all arrangements were counted.
    """

    p_value: float
    smallest_p: float
    splits: int
    statistic: float
    exact: bool


def exact_mean_difference(
    a: ArrayLike, b: ArrayLike, rng: np.random.Generator | int | None = None
) -> PermutationResult:
    """Permutation test of the difference of two means, mean(a) - mean(b).

    Parameters
    ----------
    a, b : array_like, shape (n,), (m,)
        Values of the two groups.
    rng : Generator or int, optional
        Only used beyond about twenty against twenty, where random splits are drawn.

    Returns
    -------
    PermutationResult

    Raises
    ------
    ArgumentError
        When a group is empty or a value is not finite.

    Examples
    --------
    >>> result = exact_mean_difference([1.14, 1.28, 1.07, 1.22], [0.88, 0.98, 0.79, 1.08])
    >>> result.splits, round(result.p_value, 4), round(result.smallest_p, 4)
    (70, 0.0571, 0.0286)
    """
    first, second = as_vector(a, "a"), as_vector(b, "b")
    if not (len(first) and len(second)):
        raise ArgumentError("an empty group", where="a" if len(second) else "b", allowed="at least one value")
    values = np.concatenate([first, second])
    in_a = np.arange(len(values)) < len(first)
    return _test([values - values.mean()], [in_a], float(first.mean() - second.mean()), rng)


def score_test(
    scores: ArrayLike, in_a: ArrayLike, rng: np.random.Generator | int | None = None
) -> PermutationResult:
    """Permutation test of the sum of label-free scores in one group.

    Parameters
    ----------
    scores : array_like, shape (n,)
        Scores computed without the labels, from `life_scores` or a rank test.
    in_a : array_like of bool, shape (n,)
        Which rows belong to the group.
    rng : Generator or int, optional
        Only used where there are too many splits to count.

    Returns
    -------
    PermutationResult
        With the sum of the group's scores less its expectation as the statistic.

    Examples
    --------
    >>> score_test([1.0, 2.0, 3.0, 4.0], [True, True, False, False]).p_value
    0.3333333333333333
    """
    values, members = _labelled(scores, in_a)
    values = values - values.mean()
    return _test([values], [members], float(values[members].sum()), rng)


def score_test_within_blocks(
    scores: ArrayLike, in_a: ArrayLike, block: Sequence[object], rng: np.random.Generator | int | None = None
) -> PermutationResult:
    """Permutation test of a sum of scores, labels being exchanged only inside their block.

    Parameters
    ----------
    scores, in_a : array_like, shape (n,)
        As in `score_test`.
    block : sequence, length n
        Block of each row.
    rng : Generator or int, optional
        Only used where there are too many arrangements to count.

    Raises
    ------
    Refusal
        When no block holds both groups.

    Examples
    --------
    >>> score_test_within_blocks([1.0, 2.0, 3.0, 5.0], [1, 0, 1, 0], ["x", "x", "y", "y"]).p_value
    0.5
    """
    values, members = _labelled(scores, in_a)
    labels = np.asarray([str(one) for one in block])
    if len(labels) != len(values):
        raise ArgumentError(f"{len(labels)} blocks", where="block", allowed=f"{len(values)}, one a row")
    parts, marks = [], []
    for name in dict.fromkeys(labels.tolist()):
        rows = labels == name
        if 0 < members[rows].sum() < rows.sum():
            parts.append(values[rows] - values[rows].mean())
            marks.append(members[rows])
    if not parts:
        raise Refusal("no block holds both groups", where="permutation within blocks")
    observed = float(sum(part[mark].sum() for part, mark in zip(parts, marks, strict=True)))
    return _test(parts, marks, observed, rng)


def exact_sign_flip(
    differences: ArrayLike, rng: np.random.Generator | int | None = None
) -> PermutationResult:
    """Sign-flip test of paired differences.

    Parameters
    ----------
    differences : array_like, shape (n,)
        One difference a pair.
    rng : Generator or int, optional
        Only used beyond forty pairs.

    Returns
    -------
    PermutationResult
        With the mean difference as the statistic.

    Examples
    --------
    >>> exact_sign_flip([0.1, 0.2, 0.15, 0.3, 0.05, 0.12]).p_value
    0.03125
    """
    values = as_vector(differences, "differences")
    if not len(values):
        raise ArgumentError("no differences", where="differences", allowed="at least one")
    # A flipped pair is a block of two values, plus and minus half the difference.
    parts = [np.array([half, -half]) for half in values / 2]
    marks = [np.array([True, False])] * len(values)
    return _test(parts, marks, float(values.mean()), rng)


def life_scores(lives: object, X: ArrayLike | None = None, distribution: str = "lognormal") -> FloatArray:
    """Scores of lives from the life regression that knows no groups, for `score_test`.

    The score of a row is the derivative of its log-likelihood by the location, in units of one over sigma:
    about the standardised ln life where it is known, the expected one beyond a bound where it is not.

    Parameters
    ----------
    lives : Lives
    X : array_like, shape (n, p), optional
        Design of the null model; a constant when left out.
    distribution : str
        As in `fit_lives`.

    Returns
    -------
    array, shape (n,)
        Scores that sum to zero; larger for longer lives.

    Raises
    ------
    Refusal
        When the null model cannot be fitted.

    Examples
    --------
    >>> from wearlab.stats.lives import Lives
    >>> life_scores(Lives([4, 5, 6, 7], [4, 5, 6, 7])).round(3).tolist()
    [-1.423, -0.354, 0.519, 1.257]
    """
    from wearlab.stats.censored import fit_lives
    from wearlab.stats.lives import Lives
    from wearlab.stats.score import location_scores

    if not isinstance(lives, Lives):
        raise ArgumentError(f"a {type(lives).__name__}", where="lives", allowed="Lives")
    design = np.ones((len(lives), 1)) if X is None else X
    return location_scores(fit_lives(design, lives, distribution))


def _labelled(scores: ArrayLike, in_a: ArrayLike) -> tuple[FloatArray, NDArray[np.bool_]]:
    values, members = as_vector(scores, "scores"), np.asarray(in_a, dtype=bool)
    if members.shape != values.shape:
        raise ArgumentError(f"{members.size} labels", where="in_a", allowed=f"{len(values)}, one a score")
    if not 0 < members.sum() < len(values):
        raise ArgumentError(
            f"{members.sum()} of {len(values)} rows in the group", where="in_a", allowed="both groups"
        )
    return values, members


def _test(
    parts: list[FloatArray],
    marks: list[NDArray[np.bool_]],
    statistic: float,
    rng: np.random.Generator | int | None,
) -> PermutationResult:
    """Test the summed deviation of the marked values; `parts` are centred, one a block."""
    observed = abs(float(sum(part[mark].sum() for part, mark in zip(parts, marks, strict=True))))
    sizes = [int(mark.sum()) for mark in marks]
    if len(parts) == 1:  # the smaller side has the same sums with the other sign; over blocks the signs count
        sizes = [min(sizes[0], len(marks[0]) - sizes[0])]
    furthest = _furthest(parts, sizes)
    slack = TIE * max(furthest, float(max(np.abs(part).max() for part in parts)), np.finfo(float).tiny)
    halves = _halves(parts, sizes)
    splits = math.prod(math.comb(len(part), size) for part, size in zip(parts, sizes, strict=True))
    if halves is None:
        return _by_chance(parts, marks, observed - slack, statistic, rng)
    count = _count(halves, observed - slack)
    least = _count(halves, furthest - slack)
    return PermutationResult(count / splits, least / splits, splits, statistic, True)


def _furthest(parts: list[FloatArray], sizes: list[int]) -> float:
    """Largest deviation that any arrangement reaches, on either side."""
    ordered = [np.sort(part) for part in parts]
    low = sum(part[:size].sum() for part, size in zip(ordered, sizes, strict=True))
    high = sum(part[len(part) - size :].sum() for part, size in zip(ordered, sizes, strict=True))
    return float(max(-low, high))


Tables = list[tuple[FloatArray, FloatArray]]
"""Pairs of sorted sums; an arrangement is one of the left and one of the right of one pair."""


def _halves(parts: list[FloatArray], sizes: list[int]) -> Tables | None:
    """Sums of the two halves of all arrangements, or None when there are too many of them."""
    if len(parts) == 1:
        return _halves_of_one(parts[0], sizes[0])
    counts = [math.comb(len(part), size) for part, size in zip(parts, sizes, strict=True)]
    order = sorted(range(len(parts)), key=lambda j: -counts[j])
    sides: tuple[list[int], list[int]] = ([], [])
    total = [1, 1]
    for j in order:
        side = 0 if total[0] <= total[1] else 1
        sides[side].append(j)
        total[side] *= counts[j]
    if max(total) > LARGEST_HALF:
        return None
    sums = []
    for side_blocks in sides:
        values = np.zeros(1)
        for j in side_blocks:
            values = np.add.outer(values, _subset_sums(parts[j], sizes[j])[sizes[j]]).ravel()
        sums.append(np.sort(values))
    return [(sums[0], sums[1])]


def _halves_of_one(values: FloatArray, size: int) -> Tables | None:
    half = len(values) // 2
    if max(_subsets(half, size), _subsets(len(values) - half, size)) > LARGEST_HALF:
        return None
    left, right = _subset_sums(values[:half], size), _subset_sums(values[half:], size)
    return [
        (np.sort(left[k]), np.sort(right[size - k]))
        for k in range(size + 1)
        if len(left[k]) and len(right[size - k])
    ]


def _subsets(n: int, size: int) -> int:
    return sum(math.comb(n, k) for k in range(min(n, size) + 1))


def _subset_sums(values: FloatArray, largest: int) -> list[FloatArray]:
    """Sums of all subsets by their size, up to `largest`."""
    sums = [np.zeros(1)] + [np.empty(0)] * largest
    for value in values:
        for k in range(largest, 0, -1):
            if len(sums[k - 1]):
                sums[k] = np.concatenate([sums[k], sums[k - 1] + value])
    return sums


def _count(tables: Tables, threshold: float) -> int:
    """Number of arrangements whose sum is at least `threshold` away from zero."""
    if threshold <= 0:
        return sum(len(left) * len(right) for left, right in tables)
    count = 0
    for left, right in tables:
        few, many = (left, right) if len(left) <= len(right) else (right, left)
        # Reversing keeps the searched values rising, which keeps the search in the cache.
        above = len(many) * len(few) - int(np.searchsorted(many, threshold - few[::-1], side="left").sum())
        below = int(np.searchsorted(many, -threshold - few[::-1], side="right").sum())
        count += above + below
    return count


def _by_chance(
    parts: list[FloatArray],
    marks: list[NDArray[np.bool_]],
    threshold: float,
    statistic: float,
    rng: np.random.Generator | int | None,
) -> PermutationResult:
    """Random arrangements; the observed one counts as one of them."""
    generator = np.random.default_rng(rng)
    count, left = 0, RESAMPLES
    width = sum(len(part) for part in parts)
    while left:
        batch = min(left, max(1, 2_000_000 // width))
        total = np.zeros(batch)
        for part, mark in zip(parts, marks, strict=True):
            shuffled = generator.permuted(np.broadcast_to(part, (batch, len(part))), axis=1)
            total += shuffled[:, : int(mark.sum())].sum(axis=1)
        count += int((np.abs(total) >= threshold).sum())
        left -= batch
    return PermutationResult((count + 1) / (RESAMPLES + 1), 1 / (RESAMPLES + 1), RESAMPLES, statistic, False)
