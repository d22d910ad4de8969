"""When to change the cutter: least cost over plausible laws of life, and a lower bound that most cutters outlast.

With few failures nobody knows whether lives are lognormal or Weibull in the tail that matters, so both are worked out
and the shorter interval is taken. The interval is rounded down to whole parts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import plain
from wearlab.decide.age_replacement import LAWS, AgeOptimum, best_age
from wearlab.decide.posterior import draw_coefficients
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law
from wearlab.stats.tolerance import ToleranceBound, life_bound, shortest_life_confidence

if TYPE_CHECKING:
    import pandas as pd

FEW = 30
"""Failures below which the law is not known well enough to choose it."""
RULES = ("least_cost", "reliability")


@dataclass(frozen=True, repr=False, eq=False)
class PlausibleLaw:
    """Draws of one law of life: ln life = location + sigma e."""

    law: str
    location: np.ndarray
    sigma: np.ndarray


@dataclass(frozen=True, repr=False)
class ChangeInterval:
    """A change interval with what it rests on.

    Attributes
    ----------
    clock : str
        Clock of the lives.
    rule : str
        least_cost, or reliability where the lower bound was asked for.
    interval : float
        On the clock; infinite where no planned change pays.
    parts : int or None
        Whole parts, rounded down; None where parts are not known or there is no end.
    law : str
        Law that the interval comes from.
    optima : tuple of AgeOptimum
        Least-cost age under each law, averaged over plausible laws.
    point_optima : tuple of AgeOptimum
        The same with the fitted law taken as known.
    bounds : tuple of ToleranceBound
        Lower bounds under each law, the smaller first.
    failing : float
        Share of cutters that fail before the interval, mean over plausible laws of the one taken.
    per_part : float
        Clock of one part; NaN where it is not known.
    longest_run : float
        Longest use of any cutter behind it, on the clock.
    failures, lives : int
    sure_shortest : float
        How sure it is, without any law, that the reliable share outlasts the shortest life.
    why_missing : str
        Why there is no interval, or no whole parts.
    plausible : tuple of PlausibleLaw
        The laws that the optima were averaged over; `cost_curve` draws on them.
    """

    clock: str
    rule: str
    interval: float
    parts: int | None
    law: str
    optima: tuple[AgeOptimum, ...]
    point_optima: tuple[AgeOptimum, ...]
    bounds: tuple[ToleranceBound, ...]
    failing: float
    per_part: float
    longest_run: float
    failures: int
    lives: int
    sure_shortest: float
    why_missing: str = ""
    plausible: tuple[PlausibleLaw, ...] = field(default=(), compare=False)

    @property
    def tested(self) -> bool:
        """Whether some cutter ran as long as the interval."""
        return self.interval <= self.longest_run * (1 + 1e-9)

    def to_frame(self) -> pd.DataFrame:
        """One row a law: least-cost age with the law known and averaged over plausible ones, bound, share failing."""
        import pandas as pd

        bound_of = {one.distribution: one for one in self.bounds}
        point_of = {one.law: one for one in self.point_optima}
        return pd.DataFrame(
            [
                {
                    "law": one.law,
                    "least_cost_age": one.age,
                    "least_cost_age_law_known": point_of[one.law].age,
                    "cost_rate": one.rate,
                    "cost_rate_run_to_failure": one.rate_without,
                    "failing_before": one.failing,
                    "lower_bound": bound_of[one.law].bound,
                    "reliability": bound_of[one.law].reliability,
                    "confidence": bound_of[one.law].confidence,
                }
                for one in self.optima
            ]
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "clock": self.clock,
                "rule": self.rule,
                "interval": self.interval,
                "unbounded": "high" if math.isinf(self.interval) else None,
                "parts": self.parts,
                "law": self.law,
                "failing_before": self.failing,
                "tested": self.tested,
                "longest_run": self.longest_run,
                "failures": self.failures,
                "lives": self.lives,
                "laws": self.to_frame().to_dict("records"),
                "why_missing": self.why_missing or None,
            }
        )

    def __repr__(self) -> str:
        parts = "" if self.parts is None else f" = {self.parts} parts"
        return f"<ChangeInterval {self.interval:.4g} {self.clock}{parts}, {self.rule}, {self.law}>"


@dataclass(frozen=True)
class DrawnLaw:
    """One fitted law of life with draws of its coefficients and its scatter."""

    fit: LifeRegression
    beta: np.ndarray
    sigma: np.ndarray


def change_interval(
    X: ArrayLike,
    lives: Lives,
    x: ArrayLike,
    planned_cost: float,
    failure_cost: float,
    *,
    clock: str = "cutting_time_min",
    clock_per_part: float = math.nan,
    rule: str = "least_cost",
    reliability: float = 0.9,
    confidence: float = 0.9,
    draws: int = 2000,
    rng: np.random.Generator | int | None = None,
) -> ChangeInterval:
    """Change interval of the cutters of one design row.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design of ln life; one column of ones for cutters that are all alike.
    lives : Lives
    x : array_like, shape (p,)
        The design row of the cutters in question.
    planned_cost, failure_cost : float
        Money a planned change and a failure in service, edge and change counted in both.
    clock : str
        Clock of the lives, for the record.
    clock_per_part : float
        Clock of one part; 1 where the clock counts parts; NaN where it is not known.
    rule : {"least_cost", "reliability"}
        Which interval to take: of least cost, or the lower bound.
    reliability, confidence : float
        Of the lower bound: the share of cutters that outlasts it, and how sure that is.
    draws : int
        Plausible laws.
    rng : Generator or int, optional

    Raises
    ------
    Refusal
        The lives cannot be fitted; the reason is named.
    ArgumentError
        The rule is not known, or a cost makes no sense.

    Notes
    -----
    Below 30 failures the shorter of the two laws' intervals is taken, at or above it that of the law with the larger
    likelihood.

    Examples
    --------
    >>> lives = Lives([52, 61, 47, 70, 58, 66, 49, 75], [52, 61, 47, 70, 58, 66, 49, 75])
    >>> made = change_interval(np.ones((8, 1)), lives, [1.0], 30.0, 150.0, clock_per_part=1.3, rng=1)
    >>> made.parts < 47 / 1.3, made.parts == int(made.interval / 1.3)
    (True, True)
    """
    if rule not in RULES:
        raise ArgumentError(f"rule {rule!r}", where="change interval", allowed=", ".join(RULES))
    drawn = draw_laws(X, lives, draws, rng)
    return interval_from(
        drawn, x, planned_cost, failure_cost, clock=clock, clock_per_part=clock_per_part, rule=rule,
        reliability=reliability, confidence=confidence,
    )  # fmt: skip


def draw_laws(
    X: ArrayLike, lives: Lives, draws: int = 2000, rng: np.random.Generator | int | None = None
) -> tuple[DrawnLaw, ...]:
    """Fit every law of life and draw plausible ones: what the intervals of all design rows share."""
    generator = np.random.default_rng(rng)
    made = []
    for law in LAWS:
        fit = fit_lives(X, lives, law)
        made.append(DrawnLaw(fit, *draw_coefficients(fit, draws, generator)))
    return tuple(made)


def interval_from(
    drawn: tuple[DrawnLaw, ...], x: ArrayLike, planned_cost: float, failure_cost: float, *,
    clock: str = "cutting_time_min", clock_per_part: float = math.nan, rule: str = "least_cost",
    reliability: float = 0.9, confidence: float = 0.9,
) -> ChangeInterval:  # fmt: skip
    """As `change_interval`, from laws that were drawn before."""
    row = np.asarray(x, dtype=float)
    averaged, known, plausible = [], [], []
    for one in drawn:
        fit = one.fit
        location, scatter = tame(one.beta @ row, one.sigma, fit.estimate(row), fit.sigma)
        plausible.append(PlausibleLaw(fit.distribution, location, scatter))
        averaged.append(best_age(fit.distribution, location, scatter, planned_cost, failure_cost))
        known.append(best_age(fit.distribution, fit.estimate(row), fit.sigma, planned_cost, failure_cost))
    bounds = [_bound(one, row, reliability, confidence) for one in drawn]
    candidates = {one.law: one.age for one in averaged}
    if rule == "reliability":
        candidates = {one.distribution: one.bound for one in bounds}
    lives = drawn[0].fit.lives
    if lives.failures < FEW:
        law = min(candidates, key=lambda name: candidates[name])
    else:
        law = max(drawn, key=lambda one: one.fit.loglik).fit.distribution
    return _record(
        clock, rule, law, candidates[law], clock_per_part, tuple(averaged), tuple(known), tuple(bounds),
        lives, reliability, tuple(plausible),
    )  # fmt: skip


def _bound(one: DrawnLaw, row: np.ndarray, reliability: float, confidence: float) -> ToleranceBound:
    """Lower bound under one law: exact for complete lognormal lives, else the quantile of the draws.

    The draws are pivots turned over, so this quantile is the pivotal bound of `stats.tolerance.life_bound`.
    """
    fit = one.fit
    if fit.distribution == "lognormal" and bool(fit.lives.exact.all()):
        return life_bound(fit, row, reliability, confidence)
    z = scatter_law(fit.distribution).quantile(1 - reliability)
    low = float(np.quantile(one.beta @ row + z * one.sigma, 1.0 - confidence))
    return ToleranceBound(
        math.exp(low), fit.quantile(row, 1 - reliability), reliability, confidence, fit.distribution,
        f"pivot of {len(one.sigma)} refits", fit.failures,
    )  # fmt: skip


def tame(
    location: np.ndarray, sigma: np.ndarray, centre: float, scale: float
) -> tuple[np.ndarray, np.ndarray]:
    """Draws kept within a factor of four of the estimates, so that a mean over them exists.

    The exponential of a Student t has no mean; without a limit the mean cost would rest on the wildest draw.
    """
    four = math.log(4.0)
    return np.clip(location, centre - four, centre + four), np.clip(sigma, scale / 4.0, scale * 4.0)


def whole_parts(interval: float, clock_per_part: float) -> tuple[int | None, str]:
    """Whole parts in an interval, rounded down, or None and why.

    >>> whole_parts(41.9, 1.3), whole_parts(0.9, 1.3)[0]
    ((32, ''), 0)
    """
    if math.isinf(interval):
        return None, "no planned change pays: failures cost too little, or come too much by chance"
    if not clock_per_part > 0:
        return None, "how much of the clock one part takes is not known"
    parts = math.floor(interval / clock_per_part * (1 + 1e-12))
    return parts, "" if parts else "the interval is shorter than one part"


def _record(
    clock: str, rule: str, law: str, interval: float, per_part: float, averaged: tuple[AgeOptimum, ...],
    known: tuple[AgeOptimum, ...], bounds: tuple[ToleranceBound, ...], lives: Lives, reliability: float,
    plausible: tuple[PlausibleLaw, ...],
) -> ChangeInterval:  # fmt: skip
    parts, why = whole_parts(interval, per_part)
    optimum = next(one for one in averaged if one.law == law)
    failing = optimum.failing if rule == "least_cost" else 1.0 - reliability
    ends = np.where(np.isfinite(lives.upper), lives.upper, lives.lower)
    return ChangeInterval(
        clock, rule, interval, parts, law, averaged, known, tuple(sorted(bounds, key=lambda one: one.bound)),
        failing, per_part, float(ends.max()), lives.failures, len(lives),
        shortest_life_confidence(len(lives), reliability), why, plausible,
    )  # fmt: skip


def costs_of_change(edge: float, change_min: float, machine_per_min: float, lost: float) -> tuple[float, float]:
    """Money a planned change and a failure in service.

    Parameters
    ----------
    edge : float
        Money for one edge.
    change_min, machine_per_min : float
        Minutes a change and money a minute.
    lost : float
        What a failure costs beyond edge and change: the spoiled part, rework, the machine standing.

    Raises
    ------
    Refusal
        A planned change would cost nothing.
    """
    planned = edge + change_min * machine_per_min
    if planned <= 0:
        raise Refusal("a planned change that costs nothing", where="change interval", hint="state price and change")
    return planned, planned + lost
