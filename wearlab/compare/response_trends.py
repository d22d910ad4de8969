"""Practices set against each other in the trend of a declared response, with the cutter as the unit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np

from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.stats.permutation import exact_mean_difference
from wearlab.stats.two_groups import TwoSample, welch
from wearlab.wear.responses import ResponseTrends

LEAST_CUTTERS = 3
"""Cutters a side below which there is no interval."""


@dataclass(frozen=True, slots=True)
class ResponseContrast:
    """Trend of group a beside that of group b.

    Attributes
    ----------
    trend_a, trend_b : float
        Means over cutters, in units of the response per unit of the clock; NaN for a group without a trend.
    sample : TwoSample or None
        The difference a - b by Welch; None where `why_missing` says why.
    p_value : float
        Two-sided: exact permutation of cutters, where that can reach the level and the sides are of one size; else
        that of the interval. NaN likewise.
    p_exact, smallest_p : float
        Of the exact test, and the smallest that it could have reached.
    p_method : str
    """

    measure: str
    zone: str
    unit: str
    clock: str
    a: str
    b: str
    n_a: int
    n_b: int
    trend_a: float
    trend_b: float
    sample: TwoSample | None
    p_value: float
    why_missing: str = ""
    p_exact: float = math.nan
    smallest_p: float = math.nan
    p_method: str = ""

    @property
    def difference(self) -> float:
        """Mean trend of a less that of b."""
        return self.trend_a - self.trend_b

    def interval(self, level: float = 0.95) -> Interval:
        """Of the difference; unbounded where `why_missing` says why."""
        if self.sample is None:
            return Interval(-math.inf, math.inf, level, "none")
        return self.sample.interval(level)

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready."""
        limits = self.interval(level)
        names = ("measure", "zone", "unit", "clock", "a", "b", "n_a", "n_b", "trend_a", "trend_b", "p_value",
                 "p_method", "p_exact", "smallest_p")  # fmt: skip
        row = {name: getattr(self, name) for name in names}
        row |= {"difference": self.difference, "low": limits.low, "high": limits.high, "level": level}
        made: dict[str, Any] = plain(row | {"why_missing": self.why_missing or None})
        return made


def compare_responses(
    trends: ResponseTrends, groups: Mapping[str, Sequence[str]], standard: str = "", rng: int = 0,
    level: float = 0.95,
) -> tuple[ResponseContrast, ...]:
    """Contrasts of every response and zone, for every pair of groups or every group beside the standard.

    Parameters
    ----------
    trends : ResponseTrends
    groups : mapping of str to sequence of str
        Cutters of each group, in the order in which pairs are made.
    standard : str
        Group with which all others are compared.
    rng : int
        Seed, used where there are too many arrangements to count.
    level : float
        Confidence level that an exact p has to be able to reach to be the one that is quoted.

    Notes
    -----
    Welch's t on one slope a cutter: nothing is taken logarithms of, because a load may fall. Blocks and other
    conditions are not allowed for.
    """
    names = list(groups)
    if standard in names:
        pairs = [(name, standard) for name in names if name != standard]
    else:
        pairs = list(combinations(names, 2))
    frame = trends.to_frame()
    made = []
    for (measure, zone), own in frame.groupby(["measure", "zone"], sort=False):
        known = own[own["trend"].notna()]
        values = {name: known.loc[known["cutter"].isin(groups[name]), "trend"].to_numpy(float) for name in names}
        about = (str(measure), str(zone), str(own["unit"].iloc[0]), trends.clock)
        met = [pair for pair in pairs if len(values[pair[0]]) or len(values[pair[1]])]
        made += [_contrast(about, pair, values, rng, level) for pair in met]
    return tuple(made)


def _contrast(
    about: tuple[str, str, str, str], pair: tuple[str, str], values: Mapping[str, np.ndarray], rng: int,
    level: float,
) -> ResponseContrast:
    a, b = (values[name] for name in pair)
    means = [float(one.mean()) if len(one) else math.nan for one in (a, b)]
    if min(len(a), len(b)) < LEAST_CUTTERS:
        why = f"fewer than {LEAST_CUTTERS} cutters with a trend on a side ({len(a)} and {len(b)})"
        return ResponseContrast(*about, *pair, len(a), len(b), means[0], means[1], None, math.nan, why)
    sample = welch(a, b, steady=True)
    if sample.why_missing:
        return ResponseContrast(*about, *pair, len(a), len(b), means[0], means[1], None, math.nan, sample.why_missing)
    exact = exact_mean_difference(a, b, rng)
    # As in contrasts: shuffling takes both sides to scatter alike, which sides of two sizes do not forgive.
    speaks = len(a) == len(b) and exact.smallest_p <= 1.0 - level + 1e-12
    p_value, how = (exact.p_value, "exact permutation") if speaks else (sample.p_value, "of the interval's method")
    return ResponseContrast(
        *about, *pair, len(a), len(b), means[0], means[1], sample, p_value, "", exact.p_value, exact.smallest_p, how
    )
