"""Several groups: every pair, or each against a standard, with the chance of any false alarm held.

The method follows from the sizes alone, never from the data: with four values or fewer in every group the scatter of
one group cannot be judged, so a common one is assumed (Tukey, Dunnett); with more, each group keeps its own (Games-
Howell, Holm over Welch). A common scatter that is not one turns a nominal 5 % into 8 to 12 %.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import natural_sorted, nearest
from wearlab.stats.design import FloatArray, as_vector
from wearlab.stats.holm import holm
from wearlab.stats.simultaneous import (
    dunnett_quantile,
    dunnett_sf,
    studentised_range_quantile,
    studentised_range_sf,
)
from wearlab.stats.two_groups import TwoSample, student, welch

FEW = 4
"""Up to this many values in every group a common scatter is assumed."""
ALL_PAIRS = ("welch", "tukey", "games_howell", "holm_welch")
"""Methods for all pairs."""
AGAINST_STANDARD = ("welch", "dunnett", "holm_welch")
"""Methods for comparisons with a standard."""


@dataclass(frozen=True)
class Contrast:
    """One difference of a family, a - b.

    Attributes
    ----------
    a, b : str
        The groups.
    difference, se, df : float
        Estimate, standard error, degrees of freedom; NaN where `why_missing` says why.
    p_value : float
        Two-sided, adjusted for the family.
    n_a, n_b : int
        Sizes.
    sd : float
        Standard deviation behind the standard error.
    method : str
        Method of the family.
    family : tuple of float
        What the simultaneous quantile depends on: the number of means, the loadings, or the number of tests.
    why_missing : str or None
        Why there is no test.
    """

    a: str
    b: str
    difference: float
    se: float
    df: float
    p_value: float
    n_a: int
    n_b: int
    sd: float
    method: str
    family: tuple[float, ...]
    why_missing: str | None

    def interval(self, level: float = 0.95) -> Interval:
        """Simultaneous interval of the difference; Bonferroni's where the p values are Holm's.

        Parameters
        ----------
        level : float
            Chance that all intervals of the family cover.
        """
        check_level(level)
        if self.why_missing is not None:
            return Interval(-math.inf, math.inf, level, self.method)
        half = self._quantile(level) * self.se
        return Interval(self.difference - half, self.difference + half, level, self.method)

    def _quantile(self, level: float) -> float:
        from scipy.special import stdtrit

        if self.method in ("tukey", "games_howell"):
            return studentised_range_quantile(level, int(self.family[0]), self.df) / math.sqrt(2)
        if self.method == "dunnett":
            return dunnett_quantile(level, self.family, self.df)
        return float(stdtrit(self.df, 1 - (1 - level) / (2 * self.family[0])))


@dataclass(frozen=True)
class SeveralGroups:
    """A family of contrasts.

    Attributes
    ----------
    contrasts : tuple of Contrast
        In natural order of the groups; every group over the standard where there is one.
    method : str
        "welch" (two groups), "tukey", "games_howell", "dunnett" or "holm_welch".
    standard : str or None
        The group that all others are compared with.
    left_out : tuple of str
        Groups of one value, which are described but not tested.
    """

    contrasts: tuple[Contrast, ...]
    method: str
    standard: str | None
    left_out: tuple[str, ...]


def choose(sizes: ArrayLike, against_standard: bool = False) -> str:
    """Method for groups of these sizes.

    Examples
    --------
    >>> choose([4, 4, 4]), choose([5, 5, 5]), choose([3, 8]), choose([4, 4, 4], against_standard=True)
    ('tukey', 'games_howell', 'welch', 'dunnett')
    """
    counted = np.asarray(sizes)
    if len(counted) < 3:
        return "welch"
    if (counted <= FEW).all():
        return "dunnett" if against_standard else "tukey"
    return "holm_welch" if against_standard else "games_howell"


def all_pairs(groups: Mapping[str, ArrayLike], method: str | None = None) -> SeveralGroups:
    """Compare every pair of groups.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group; logs where ratios are wanted.
    method : str, optional
        One of `ALL_PAIRS`; by the sizes when left out.

    Returns
    -------
    SeveralGroups

    Raises
    ------
    ArgumentError
        When the method is not known, or a group is empty.
    Refusal
        When fewer than two groups hold two values or more.

    Examples
    --------
    >>> family = all_pairs({"A": [1.0, 1.2, 1.1], "B": [1.5, 1.7, 1.6], "C": [1.0, 1.1, 1.3]})
    >>> [(one.a, one.b, round(one.p_value, 4)) for one in family.contrasts]
    [('A', 'B', 0.0054), ('A', 'C', 0.939), ('B', 'C', 0.0075)]
    """
    tested, left_out = _sorted_groups(groups)
    chosen = _method(method, choose([len(one) for one in tested.values()]), ALL_PAIRS)
    pairs = list(combinations(tested, 2))
    return SeveralGroups(_family(tested, pairs, chosen), chosen, None, left_out)


def against_standard(
    groups: Mapping[str, ArrayLike], standard: str, method: str | None = None
) -> SeveralGroups:
    """Compare every group with a standard.

    Parameters
    ----------
    groups : mapping of str to array_like
        Values of each group, the standard among them.
    standard : str
        Name of the standard.
    method : str, optional
        One of `AGAINST_STANDARD`; by the sizes when left out.

    Returns
    -------
    SeveralGroups

    Raises
    ------
    ArgumentError
        When the standard or the method is not known, or a group is empty.
    Refusal
        When the standard or all others hold fewer than two values.
    """
    if standard not in groups:
        raise ArgumentError(
            f"standard {standard!r}", where="standard", allowed=", ".join(natural_sorted(groups)),
            hint=nearest(standard, list(groups)),
        )  # fmt: skip
    tested, left_out = _sorted_groups(groups)
    if standard not in tested:
        raise Refusal(
            "one value only: nothing can be compared with it", where=standard, allowed="at least two values"
        )
    sizes = [len(one) for one in tested.values()]
    chosen = _method(method, choose(sizes, against_standard=True), AGAINST_STANDARD)
    pairs = [(name, standard) for name in tested if name != standard]
    return SeveralGroups(_family(tested, pairs, chosen), chosen, standard, left_out)


def _sorted_groups(groups: Mapping[str, ArrayLike]) -> tuple[dict[str, FloatArray], tuple[str, ...]]:
    values = {name: as_vector(groups[name], str(name)) for name in natural_sorted(groups)}
    for name, group in values.items():
        if not len(group):
            raise ArgumentError("an empty group", where=name, allowed="at least one value")
    tested = {name: group for name, group in values.items() if len(group) > 1}
    if len(tested) < 2:
        raise Refusal(
            f"{len(tested)} groups with two values or more",
            where="comparison of groups",
            allowed="at least two",
        )
    return tested, tuple(name for name, group in values.items() if len(group) == 1)


def _method(asked: str | None, by_size: str, known: tuple[str, ...]) -> str:
    if asked is not None and asked not in known:
        raise ArgumentError(f"method {asked!r}", where="method", allowed=", ".join(known))
    return asked or by_size


def _family(groups: dict[str, FloatArray], pairs: list[tuple[str, str]], method: str) -> tuple[Contrast, ...]:
    """The contrasts of the pairs, with p values adjusted for the family."""
    pooled = method in ("tukey", "dunnett")
    results = _pooled(groups, pairs) if pooled else [welch(groups[a], groups[b]) for a, b in pairs]
    family = _what_the_quantile_needs(groups, pairs, method)
    p_values = _adjusted(results, family, method)
    return tuple(
        Contrast(
            a, b, one.difference, one.se, one.df, p, one.n_a, one.n_b, one.sd, method, family, one.why_missing
        )
        for (a, b), one, p in zip(pairs, results, p_values, strict=True)
    )


def _pooled(groups: dict[str, FloatArray], pairs: list[tuple[str, str]]) -> list[TwoSample]:
    """Differences judged by the scatter inside all groups together."""
    df = sum(len(one) - 1 for one in groups.values())
    sd = math.sqrt(sum(float(np.sum((one - one.mean()) ** 2)) for one in groups.values()) / df)
    found = []
    for a, b in pairs:
        alone = student(groups[a], groups[b])
        size = max(float(np.abs(groups[name]).max()) for name in groups)
        why = "no scatter in any group" if sd <= 64 * np.finfo(float).eps * size else None
        se = math.nan if why else sd * math.sqrt(1 / alone.n_a + 1 / alone.n_b)
        found.append(TwoSample(alone.difference, se, float(df), alone.n_a, alone.n_b, sd, "pooled t", why))
    return found


def _what_the_quantile_needs(
    groups: dict[str, FloatArray], pairs: list[tuple[str, str]], method: str
) -> tuple[float, ...]:
    if method in ("tukey", "games_howell"):
        return (float(len(groups)),)
    if method == "dunnett":
        standard = len(groups[pairs[0][1]])
        return tuple(math.sqrt(len(groups[a]) / (len(groups[a]) + standard)) for a, _ in pairs)
    return (float(len(pairs)) if method == "holm_welch" else 1.0,)


def _adjusted(results: list[TwoSample], family: tuple[float, ...], method: str) -> list[float]:
    if method in ("tukey", "games_howell"):
        means = int(family[0])
        return [
            math.nan
            if one.why_missing
            else studentised_range_sf(abs(one.statistic) * math.sqrt(2), means, one.df)
            for one in results
        ]
    if method == "dunnett":
        return [
            math.nan if one.why_missing else dunnett_sf(abs(one.statistic), family, one.df) for one in results
        ]
    raw = [one.p_value for one in results]
    return raw if method == "welch" else holm(raw).tolist()
