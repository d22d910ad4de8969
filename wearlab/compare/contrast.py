"""The record of one contrast, and its verdict."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

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
        life or rate.
    scale : str
        ratio or difference.
    estimate : float
    interval, inner : Interval
        At the level asked for, and at twice its error (90 % for 95 %), which judges equivalence.
    p_value : float
        Exact permutation p where it can reach the level, else that of the interval's method.
    p_method : str
    smallest_p : float
        Smallest p that the exact test could have reached.
    sigma : float
        Scatter of ln outcome between cutters of one group.
    smallest_detectable : float
        Smallest ratio that this trial would have shown four times in five.
    cutters_to_settle : int or None
        Cutters a side that would show a difference of the margin four times in five.
    equivalence : dict
        Margin, interval used, and the p of a difference that matters.
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

    @property
    def better(self) -> str:
        """The group with the longer life or the slower wear, by the estimate; empty where there is none."""
        null = 1.0 if self.scale == "ratio" else 0.0
        if math.isnan(self.estimate) or self.estimate == null:
            return ""
        a_larger = self.estimate > null
        return self.a if a_larger == (self.outcome == "life") else self.b

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
            }
        )


def judge(
    interval: Interval, inner: Interval, margin: float, n_a: int, n_b: int, refused: str
) -> tuple[str | None, str]:
    """Verdict of a ratio, or None and why there is none."""
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
    return verdict_of(interval, inner, Margin.ratio(margin)), ""
