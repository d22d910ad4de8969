"""After adoption: does the change interval still hold?

Early changes are counted against what was promised, with an alarm whose rate of false alarms is known; last-part
readings are held against limits that slope along the cutter's age; the interval is worked out again with the lives in
service; and the cutter now in the spindle gets a forecast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsTable, plain
from wearlab.decide.change_interval import ChangeInterval, change_interval, tame
from wearlab.decide.posterior import draw_coefficients
from wearlab.decide.remaining import Remaining, remaining_life
from wearlab.decide.service import Service, service_bounds, service_of
from wearlab.decide.sloped_limits import SlopedLimits, sloped_limits
from wearlab.logbook.trial import Trial
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.lives import Lives

if TYPE_CHECKING:
    import pandas as pd

FALSE_ALARMS = 0.05
"""Chance of an alarm in one review although nothing has changed; the exact chance lies at or below it."""
BAND = 0.99
"""Level of the sloped limits for one reading."""
OWN_LEVEL = 5
"""Failures in service from which the lives in service get a level of their own beside the trial's."""


@dataclass(frozen=True, slots=True)
class EarlyChanges:
    """Failures before the interval against what was promised.

    Attributes
    ----------
    changes, early : int
        Cutters changed, and those that failed before their interval.
    promised : float
        Share that was to be expected.
    alarm_from : int
        Failures from which the alarm sounds.
    false_alarm : float
        Chance of the alarm in this review when the promise still holds.
    """

    changes: int
    early: int
    promised: float
    alarm_from: int
    false_alarm: float

    @property
    def share(self) -> float:
        """Observed share of early failures."""
        return self.early / self.changes if self.changes else math.nan

    @property
    def alarm(self) -> bool:
        """Whether there were more early failures than the promise allows."""
        return self.early >= self.alarm_from

    def interval(self, level: float = 0.95) -> Interval:
        """Exact interval of the true share (Clopper and Pearson)."""
        from scipy.special import betaincinv

        tail, k, n = (1.0 - level) / 2, self.early, self.changes
        low = float(betaincinv(k, n - k + 1, tail)) if k else 0.0
        high = float(betaincinv(k + 1, n - k, 1.0 - tail)) if k < n else 1.0
        return Interval(low, high, level, "exact binomial")


@dataclass(frozen=True, slots=True)
class OutOfLimits:
    """A reading outside the sloped limits."""

    cutter: str
    age: float
    value: float
    low: float
    high: float


@dataclass(frozen=True, repr=False)
class FollowUp(ShownAsTable):
    """What the records in service say.

    Attributes
    ----------
    group : str
    interval_parts : int
        Adopted.
    service : Service
    early : EarlyChanges
    limits : SlopedLimits or None
    read : int
        Readings held against the limits.
    outside : tuple of OutOfLimits
    band_false_alarm : float
        Chance that any of these readings falls outside although nothing has changed.
    why_no_limits : str
    again : ChangeInterval or None
        Interval worked out again with the lives in service, in parts.
    own_level : bool
        The lives in service have a level of their own; else they are taken with the trial's.
    why_not_again : str
    remaining : tuple of Remaining
        Of cutters in the spindle, in parts.
    """

    group: str
    interval_parts: int
    service: Service
    early: EarlyChanges
    limits: SlopedLimits | None
    read: int
    outside: tuple[OutOfLimits, ...]
    band_false_alarm: float
    why_no_limits: str
    again: ChangeInterval | None
    own_level: bool
    why_not_again: str
    remaining: tuple[Remaining, ...]

    @property
    def holds(self) -> bool:
        """Whether nothing here speaks against the interval."""
        return not self.early.alarm and not self.outside

    def to_frame(self) -> pd.DataFrame:
        """One row a change in service."""
        return self.service.ended

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        share = self.early.interval().to_dict()
        return plain(
            {
                "group": self.group,
                "interval_parts": self.interval_parts,
                "holds": self.holds,
                "changes": self.early.changes,
                "early": self.early.early,
                "promised_share": self.early.promised,
                "share": self.early.share,
                "share_low": share["low"],
                "share_high": share["high"],
                "alarm": self.early.alarm,
                "alarm_from": self.early.alarm_from,
                "false_alarm": self.early.false_alarm,
                "limits": None if self.limits is None else self.limits.to_dict(),
                "readings": self.read,
                "outside": [
                    {"cutter": one.cutter, "age": one.age, "value": one.value, "low": one.low, "high": one.high}
                    for one in self.outside
                ],
                "band_false_alarm": self.band_false_alarm,
                "why_no_limits": self.why_no_limits or None,
                "interval_again": None if self.again is None else self.again.to_dict(),
                "own_level": self.own_level,
                "why_not_again": self.why_not_again or None,
                "remaining": [one.to_dict() for one in self.remaining],
                "left_out": [{"cutter": cutter, "why": why} for cutter, why in self.service.left_out],
            }
        )

    def __repr__(self) -> str:
        state = "holds" if self.holds else "alarm"
        return f"<FollowUp {self.group}: {self.early.early} of {self.early.changes} failed early, {state}>"


def early_changes(changes: int, early: int, promised: float, false_alarms: float = FALSE_ALARMS) -> EarlyChanges:
    """Count failures before the interval against the promised share.

    Parameters
    ----------
    changes, early : int
    promised : float
        Share of cutters that was to be expected to fail before the interval.
    false_alarms : float
        Greatest chance of an alarm in this review when nothing has changed.

    Notes
    -----
    The alarm sounds from the smallest number of early failures that a binomial with the promised share reaches with no
    more than that chance.

    Examples
    --------
    >>> made = early_changes(10, 3, 0.06)
    >>> made.alarm_from, made.alarm, round(made.false_alarm, 4)
    (3, True, 0.0188)
    """
    from scipy.special import bdtrc

    if changes < 0 or not 0 <= early <= changes:
        raise ArgumentError(f"{early} early of {changes} changes", where="early changes", allowed="from 0 to all")
    if not 0 < promised < 1 or not 0 < false_alarms < 1:
        raise ArgumentError(f"promised {promised:g}", where="early changes", allowed="between 0 and 1")
    counts = np.arange(0, changes + 1)
    # Chance of k or more.
    tail = np.concatenate([[1.0], [float(bdtrc(k - 1, changes, promised)) for k in counts[1:]], [0.0]])
    at = int(np.flatnonzero(tail <= false_alarms)[0])
    return EarlyChanges(changes, early, promised, at, float(tail[at]))


def follow(
    lives: Lives,
    log: Trial,
    interval_parts: int,
    planned_cost: float,
    failure_cost: float,
    *,
    group: str = "",
    by: str = "strategy",
    fracture_share: float = 0.0,
    readings: tuple[str, float] | None = None,
    trial: Trial | None = None,
    draws: int = 2000,
    rng: np.random.Generator | int | None = None,
) -> FollowUp:
    """Hold records in service against an adopted interval.

    Parameters
    ----------
    lives : Lives
        Lives of the practice in the trial, in parts.
    log : Trial
        Records in service.
    interval_parts : int
        Adopted interval.
    planned_cost, failure_cost : float
        As in `change_interval`.
    group, by : str
        Practice and the column that names it.
    fracture_share : float
        Share of cutters that was to be expected to chip or break before the interval, beyond wear.
    readings : (str, float), optional
        Measure of the log and its pin (NaN where the measure has none) to hold against sloped limits.
    trial : Trial, optional
        Where those readings come from that make the limits.
    draws : int
    rng : Generator or int, optional

    Raises
    ------
    Refusal
        The log counts no parts, or holds no cutter of the practice; the trial's lives cannot be fitted.
    """
    if interval_parts < 1:
        raise ArgumentError(f"{interval_parts} parts", where="interval", allowed="1 or more")
    generator = np.random.default_rng(rng)
    service = service_of(log, interval_parts, group, by)
    promised = _promised(lives, interval_parts, fracture_share, draws, generator)
    early = early_changes(len(service.ended), int(service.ended["failed"].sum()), promised)
    limits, read, outside, why = _limits(trial, log, group, by, readings)
    X, both, row, own = _together(lives, service)
    again, why_not = None, ""
    try:
        again = change_interval(
            X, both, row, planned_cost, failure_cost, clock="parts", clock_per_part=1.0, draws=draws, rng=generator
        )
    except Refusal as refusal:
        why_not = refusal.found
    return FollowUp(
        group, interval_parts, service, early, limits, read, outside, 1.0 - BAND**read, why, again, own, why_not,
        _remaining(X, both, row, service, interval_parts, draws, generator),
    )  # fmt: skip


def _promised(lives: Lives, interval: int, fractures: float, draws: int, rng: np.random.Generator) -> float:
    """Share expected to fail before the interval: the mean over plausible laws of wear, and fractures beside it."""
    fit = fit_lives(np.ones((len(lives), 1)), lives)
    location, sigma = _laws(fit, np.ones(1), draws, rng)
    from wearlab.decide.age_replacement import age_law

    lasting = float(np.mean(age_law("lognormal").survival(float(interval), location, sigma)))
    share = 1.0 - lasting * (1.0 - fractures)
    return min(max(share, 1e-6), 1.0 - 1e-6)


def _laws(fit: LifeRegression, row: np.ndarray, draws: int, rng: np.random.Generator) -> tuple[Any, Any]:
    beta, sigma = draw_coefficients(fit, draws, rng)
    return tame(beta @ row, sigma, fit.estimate(row), fit.sigma)


def _together(lives: Lives, service: Service) -> tuple[np.ndarray, Lives, np.ndarray, bool]:
    """Lives of trial and service in one design; from `OWN_LEVEL` failures on, service has its own level."""
    low, high = service_bounds(service.ended)
    both = Lives(np.append(lives.lower, low), np.append(lives.upper, high))
    in_service = np.append(np.zeros(len(lives)), np.ones(len(low)))
    own = int(np.isfinite(high).sum()) >= OWN_LEVEL
    if not own:
        return np.ones((len(both), 1)), both, np.ones(1), False
    return np.column_stack([np.ones(len(both)), in_service]), both, np.ones(2), True


def _remaining(
    X: np.ndarray, both: Lives, row: np.ndarray, service: Service, interval: int, draws: int, rng: np.random.Generator
) -> tuple[Remaining, ...]:
    if service.running.empty:
        return ()
    location, sigma = _laws(fit_lives(X, both), row, draws, rng)
    running = zip(service.running["cutter"], service.running["parts"], strict=True)
    return tuple(
        remaining_life(str(cutter), float(parts), "lognormal", location, sigma, float(interval))
        for cutter, parts in running
    )


def _limits(
    trial: Trial | None, log: Trial, group: str, by: str, readings: tuple[str, float] | None
) -> tuple[SlopedLimits | None, int, tuple[OutOfLimits, ...], str]:
    if trial is None or readings is None:
        return None, 0, (), "no reading on the last part was named"
    before, after = _read(trial, group, by, readings), _read(log, group, by, readings)
    if after.empty:
        return None, 0, (), f"the records in service hold no {readings[0]}"
    curves = [(own["parts"].to_numpy(float), own["value_mm"].to_numpy(float)) for _, own in before.groupby("cutter")]
    try:
        limits = sloped_limits(curves)
    except Refusal as refusal:
        return None, 0, (), refusal.message()
    outside = []
    for cutter, age, value in zip(after["cutter"], after["parts"], after["value_mm"], strict=True):
        band = limits.interval(float(age), BAND)
        if not band.contains(float(value)):
            outside.append(OutOfLimits(str(cutter), float(age), float(value), band.low, band.high))
    return limits, len(after), tuple(outside), ""


def _read(trial: Trial, group: str, by: str, readings: tuple[str, float]) -> pd.DataFrame:
    """Readings of one measure, one a cutter and part count, of the cutters of the practice."""
    measure, pin = readings
    table = trial.walls if (trial.walls["measure"] == measure).any() else trial.wear
    rows = table[(table["measure"] == measure) & table["value_mm"].notna() & table["parts"].notna()]
    if not math.isnan(pin) and "pin_mm" in rows:
        rows = rows[(rows["pin_mm"] - pin).abs() < 1e-6]
    facts = trial.facts()
    if group and by in facts and facts[by].astype(str).ne("").any():
        rows = rows[rows["cutter"].isin(facts["cutter"][facts[by].astype(str) == group])]
    return rows.groupby(["cutter", "parts"])["value_mm"].mean().reset_index()
