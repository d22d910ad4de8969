"""The record of one contrast, and its verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from wearlab.compare.family import Family
from wearlab.compare.predicted import PredictedBand
from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.stats.equivalence import Margin
from wearlab.stats.equivalence import verdict as verdict_of

FEWEST = 3
"""Cutters a side below which there is a description and no verdict."""


@dataclass(frozen=True, slots=True)
class Contrast:
    """Group a against group b in one outcome.

    Attributes
    ----------
    a, b : str
        Groups; a ratio is a over b.
    outcome : str
        life, rate, volume, parts, wall or wall_growth.
    scale : str
        ratio or difference.
    estimate : float
    interval, inner : Interval
        At the level asked for, and at twice its error (90 % for 95 %), which judges equivalence.
    p_value : float
        Of several contrasts that of the interval's method, allowing for the family. Of a single one the exact
        permutation p, where that can reach the level and the sides are of one size; else that of the method.
    p_method : str
    smallest_p : float
        Smallest p that the exact test could have reached.
    sigma : float
        Scatter of ln outcome (of walls, of the outcome) between cutters of one group.
    smallest_detectable : float
        Smallest ratio (or difference) that this trial would have shown four times in five.
    cutters_to_settle : int or None
        Cutters a side that would show a difference of the margin four times in five.
    equivalence : dict
        Margin, interval used, whether it lies inside, and the p of a difference that matters (two one-sided tests,
        allowing for the family).
    p_exact : float
        Exact permutation p of this pair alone.
    family : Family or None
        The contrasts with which the error is shared.
    settle_low, settle_high : int or None
        Cutters to settle it at the limits of the scatter, which so few cutters do not know well.
    predicted : PredictedBand or None
        Band that edge exposure gives for this ratio.
    verdict : str or None
        different, alike, small_but_real, cannot_tell; None where `why_missing` says why.
    """

    a: str
    b: str
    outcome: str
    criterion: str
    zone: str
    clock: str
    scale: str
    n_a: int
    n_b: int
    estimate: float
    interval: Interval
    inner: Interval
    p_value: float
    p_method: str
    smallest_p: float
    method: str
    sigma: float
    smallest_detectable: float
    cutters_to_settle: int | None
    equivalence: dict[str, Any] = field(default_factory=dict)
    verdict: str | None = None
    why_missing: str = ""
    exploratory: bool = False
    notes: tuple[str, ...] = ()
    predicted: PredictedBand | None = None
    p_exact: float = math.nan
    family: Family | None = None
    settle_low: int | None = None
    settle_high: int | None = None

    @property
    def better(self) -> str:
        """The group with the longer life or the slower wear, by the estimate; empty where there is none.

        Of walls it is empty: metal left is no better or worse by itself, the drawing says which is wanted.
        """
        null = 1.0 if self.scale == "ratio" else 0.0
        estimate = self.estimate
        if math.isnan(estimate) and not self.interval.contains(null):
            # One limit alone: it says which is ahead where it leaves out no difference.
            estimate = self.interval.low if self.interval.low > null else self.interval.high
        if self.outcome.startswith("wall") or math.isnan(estimate) or estimate == null:
            return ""
        a_larger = estimate > null
        return self.a if a_larger == (self.outcome != "rate") else self.b

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        limits = self.interval.to_dict()
        return plain(
            {
                "a": self.a,
                "b": self.b,
                "outcome": self.outcome,
                "criterion": self.criterion,
                "zone": self.zone,
                "clock": self.clock,
                "scale": self.scale,
                "cutters_a": self.n_a,
                "cutters_b": self.n_b,
                "estimate": self.estimate,
                "low": limits["low"],
                "high": limits["high"],
                "level": limits["level"],
                "unbounded": limits["unbounded"],
                "p_value": self.p_value,
                "p_method": self.p_method,
                "smallest_p": self.smallest_p,
                "method": self.method,
                "sigma": self.sigma,
                "smallest_detectable": self.smallest_detectable,
                "cutters_to_settle": self.cutters_to_settle,
                "equivalence": self.equivalence,
                "verdict": self.verdict,
                "why_missing": self.why_missing or None,
                "exploratory": self.exploratory,
                "notes": list(self.notes),
                "predicted": self.predicted.to_dict() if self.predicted else None,
                "p_exact": self.p_exact,
                "family": self.family.method if self.family else None,
                "settle_low": self.settle_low,
                "settle_high": self.settle_high,
            }
        )


def judge(
    interval: Interval, inner: Interval, margin: Margin | None, n_a: int, n_b: int, refused: str
) -> tuple[str | None, str]:
    """Verdict of a contrast, or None and why there is none; without a margin it is never alike or small."""
    if refused:
        return None, refused
    if min(n_a, n_b) < FEWEST:
        return (
            None,
            f"{min(n_a, n_b)} cutter{'s' if min(n_a, n_b) != 1 else ''} on a side: described, not judged"
            f" ({FEWEST} needed)",
        )
    if math.isinf(interval.low) and math.isinf(interval.high):
        return None, "no interval could be had"
    if margin is None:
        return ("cannot_tell" if interval.contains(0.0) else "different"), ""
    return verdict_of(interval, inner, margin), ""
