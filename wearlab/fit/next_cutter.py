"""The next cutter at a setting: a prediction interval for its life, and a lower tolerance bound for a change interval.

The mean life is no change interval: half of the cutters fail before it. A lower tolerance bound says what nine cutters
in ten should outlast, and how sure that is; with few failures the smaller of the lognormal and Weibull bounds counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsFacts, plain
from wearlab.fit.predict import predict_life
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.stats.life_prediction import next_life
from wearlab.stats.lives import Lives
from wearlab.stats.tolerance import ToleranceBound, life_bound, smaller_bound

FEW = 30
"""Failures below which both laws of scatter are tried and the smaller bound is taken."""


@dataclass(frozen=True, slots=True)
class NextCutter(ShownAsFacts):
    """Of the next cutter at one setting.

    Attributes
    ----------
    settings : dict
    median : float
        Median life.
    interval : Interval
        In which its life should lie.
    bound : ToleranceBound or None
        Life that the share `reliability` should outlast, with the stated confidence.
    other : ToleranceBound or None
        The larger bound, under the other law.
    brand : str
        Inside the tested range, or what lies outside it.
    """

    settings: dict[str, Any]
    median: float
    interval: Interval
    bound: ToleranceBound | None
    other: ToleranceBound | None
    brand: str
    why_missing: str = ""

    def __repr__(self) -> str:
        low, high = self.interval.low, self.interval.high
        return f"<NextCutter: median {self.median:.4g}, its life from {low:.4g} to {high:.4g}; {self.brand}>"

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        limits = self.interval.to_dict()
        made: dict[str, Any] = plain(
            {
                "settings": self.settings,
                "median": self.median,
                "low": limits["low"],
                "high": limits["high"],
                "level": limits["level"],
                "method": limits["method"],
                "bound": _bound(self.bound),
                "other_bound": _bound(self.other),
                "brand": self.brand,
                "why_missing": self.why_missing or None,
            }
        )
        return made


def next_cutter(
    fit: ToolLifeFit,
    settings: dict[str, Any] | None = None,
    level: float = 0.95,
    reliability: float = 0.9,
    confidence: float = 0.9,
    beyond: bool = False,
    rng: int = 0,
) -> NextCutter:
    """Predict the next cutter.

    Parameters
    ----------
    fit : ToolLifeFit
    settings : dict, optional
        Column -> value; what is left out stands at its centre or first group.
    level : float
        Of the prediction interval.
    reliability, confidence : float
        Share that outlasts the bound, and how sure.
    beyond : bool
        Answer outside the guard too, with its brand.
    rng : int
        Seed of the resamples, where lives are censored.

    Raises
    ------
    Refusal
        The setting lies beyond the guard; see `predict_life`.

    Examples
    --------
    >>> from wearlab.fit.tool_life import fit_tool_life
    >>> from wearlab.life.lives import tool_lives
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> fit = fit_tool_life(tool_lives(trial, "VB=0.3mm", "min"), trial, ["feed_per_rev", "axial_depth"])
    >>> following = next_cutter(fit, {"feed_per_rev_mm": 0.5, "axial_depth_mm": 1.5})
    >>> following.interval.low < following.median < following.interval.high
    True
    """
    settings = settings or {}
    at = predict_life(fit, settings, level, beyond)
    if fit.regression is None or fit.held_n is not None:
        why = fit.why_no_interval or "the exponent was held, not fitted"
        unknown = Interval(0.0, math.inf, level, "none")
        return NextCutter(at.settings, at.life, unknown, None, None, at.brand, why)
    row = fit.row(settings)
    try:
        interval = next_life(fit.regression, row, level, rng=rng)
        bound, other = _bounds(fit, row, reliability, confidence, rng)
    except Refusal as refusal:
        unknown = Interval(0.0, math.inf, level, "none")
        return NextCutter(at.settings, at.life, unknown, None, None, at.brand, refusal.found)
    return NextCutter(at.settings, at.life, interval, bound, other, at.brand)


def _bounds(
    fit: ToolLifeFit, row: Any, reliability: float, confidence: float, rng: int
) -> tuple[ToleranceBound, ToleranceBound | None]:
    assert fit.regression is not None
    if fit.regression.failures >= FEW:
        return life_bound(fit.regression, row, reliability, confidence, rng=rng), None
    lives = Lives(fit.used["low"].to_numpy(float), fit.used["high"].to_numpy(float))
    return smaller_bound(fit.X, lives, row, reliability, confidence, rng=rng, names=fit.names)


def _bound(bound: ToleranceBound | None) -> dict[str, Any] | None:
    if bound is None:
        return None
    return {"bound": bound.bound, "reliability": bound.reliability, "confidence": bound.confidence,
            "distribution": bound.distribution, "method": bound.method, "failures": bound.failures}  # fmt: skip
