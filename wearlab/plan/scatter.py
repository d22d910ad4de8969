"""Scatter of tool life between cutters: assumed, stated, or from a pilot log."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.plan.request import ScatterRequest

CONDITIONS = (
    "strategy",
    "cutting_speed_m_min",
    "feed_per_tooth_mm",
    "work_material",
    "cutter_material",
    "axial_depth_mm",
    "radial_width_mm",
)
"""Cutters of a pilot log are alike when they share all of these."""


def sigma_of_cv(cv: float) -> float:
    """Standard deviation of the logs of a lognormal quantity from its coefficient of variation: sqrt(ln(1 + cv^2)).

    >>> round(sigma_of_cv(0.35), 4)
    0.3399
    """
    if not 0 < cv < math.inf:
        raise ArgumentError(
            f"coefficient of variation {cv:g}", where="scatter", allowed="above 0, such as 0.35"
        )
    return math.sqrt(math.log1p(cv * cv))


def cv_of_sigma(sigma: float) -> float:
    """The inverse of `sigma_of_cv`.

    >>> round(cv_of_sigma(sigma_of_cv(0.35)), 12)
    0.35
    """
    return math.sqrt(math.expm1(sigma * sigma))


@dataclass(frozen=True, slots=True)
class PilotScatter:
    """Scatter of ln life within conditions, pooled.

    Attributes
    ----------
    sigma : float
        Root mean square within conditions.
    df : int
        Degrees of freedom: lives less conditions.
    lives, conditions, censored : int
        What it comes from; censored lives were left out, which makes the scatter a little too small.
    """

    sigma: float
    df: int
    lives: int
    conditions: int
    censored: int

    @property
    def cv(self) -> float:
        """Coefficient of variation."""
        return cv_of_sigma(self.sigma)

    def interval(self, level: float = 0.95) -> Interval:
        """Chi-square interval of sigma; exact under normal logs."""
        from scipy.special import chdtri

        check_level(level)
        tail = (1 - level) / 2
        low, high = (
            self.sigma * math.sqrt(self.df / float(chdtri(self.df, one))) for one in (tail, 1 - tail)
        )
        return Interval(low, high, level, "chi-square")

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        interval = self.interval()
        made: dict[str, Any] = plain(
            {
                "sigma": self.sigma,
                "cv": self.cv,
                "df": self.df,
                "low": interval.low,
                "high": interval.high,
                "level": interval.level,
                "lives": self.lives,
                "conditions": self.conditions,
                "censored": self.censored,
            }
        )
        return made


def pilot_scatter(trial: Trial, criterion: Criterion, clock: str = "cutting_time_min") -> PilotScatter:
    """Scatter between cutters from a log that is there already.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion
        Of the tool life.
    clock : str

    Raises
    ------
    Refusal
        No condition holds two cutters whose life is known.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.logbook.criterion import parse_criterion
    >>> trial = read_log(sample_path("shoulder_demo"))
    >>> found = pilot_scatter(trial, parse_criterion("lower:VB.mean=0.2mm"))
    >>> round(found.sigma, 3), found.df
    (0.183, 11)
    """
    lives = tool_lives(trial, [criterion], [clock]).to_frame().drop(columns="clock")
    table = lives.merge(trial.facts(), on="cutter", how="left")
    known = table[table["status"] == "exact"]
    names = [name for name in CONDITIONS if name in known.columns]
    logs = np.log(known["life"].to_numpy(float))
    group = (
        known[names].astype(object).where(known[names].notna(), "").apply(tuple, axis=1)
        if names
        else pd.Series(0, index=known.index)
    )
    keys = pd.factorize(group)[0] if len(known) else np.array([], dtype=int)
    counts = np.bincount(keys) if len(keys) else np.array([], dtype=int)
    df = int((counts - 1).sum()) if len(counts) else 0
    if df < 1:
        raise Refusal(
            "no two cutters of the pilot log were run to the criterion under one condition",
            where="scatter",
            hint="state the coefficient of variation under [scatter], or take the default",
        )
    means = np.bincount(keys, weights=logs) / counts
    sigma = math.sqrt(float(np.sum((logs - means[keys]) ** 2)) / df)
    if not sigma > 0:
        raise Refusal(
            "all lives of a condition in the pilot log are the same",
            where="scatter",
            hint="were they measured, or filled in?",
        )
    return PilotScatter(sigma, df, len(known), len(counts), int((table["status"] == "right").sum()))


def with_pilot(request: ScatterRequest, pilot: PilotScatter) -> ScatterRequest:
    """The request with the scatter of a pilot log."""
    source = (
        f"pilot log: {pilot.lives} lives under {pilot.conditions} conditions, {pilot.df} degrees of freedom"
    )
    return replace(request, cv=pilot.cv, source=source)
