"""Change by condition: the land, or whatever is looked at, at which a cutter is changed rather than put back.

A cutter that is looked at every so many parts must be changed while it can still pass its limit before the next look.
Where wear is measured this beats any age: every cutter is used for nearly as long as it lasts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import check_level
from wearlab.core.limits import reached
from wearlab.core.tables import plain
from wearlab.life.series import criterion_series
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial

Curve = tuple[ArrayLike, ArrayLike]
"""Clock and value of one cutter, in order of the clock, the value rising towards the limit."""


@dataclass(frozen=True, slots=True)
class ConditionRule:
    """A land at which to change.

    Attributes
    ----------
    limit : float
        Of the criterion.
    step : float
        Clock between two looks.
    change_at : float
        Value from which the cutter is changed at a look.
    growth, growth_high : float
        Growth a unit of the clock near the limit: typical, and what the next cutter stays below with the level.
    level : float
    cutters : int
        Cutters behind the growth.
    mean_use, mean_life : float
        Mean clock at the change and at the limit, over cutters whose curve shows both.
    passed : int
        Cutters of the trial that would have passed the limit between two looks.
    why_missing : str
        Why there is no rule.
    """

    limit: float
    step: float
    change_at: float
    growth: float
    growth_high: float
    level: float
    cutters: int
    mean_use: float
    mean_life: float
    passed: int
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({name: getattr(self, name) for name in self.__slots__})


def condition_rule(
    curves: Sequence[Curve], limit: float, step: float, *, level: float = 0.95, reading_sd: float = 0.0
) -> ConditionRule:
    """Value at which a cutter is changed when it is looked at every `step` of the clock.

    Parameters
    ----------
    curves : sequence of (array_like, array_like)
        Clock and value of each cutter.
    limit : float
        Value at which the life ends.
    step : float
        Clock between two looks.
    level : float
        Share of further cutters that stay below the limit until the next look.
    reading_sd : float
        Standard deviation of one reading.

    Returns
    -------
    ConditionRule

    Raises
    ------
    Refusal
        Fewer than three cutters show how the value grows on its way to the limit.

    Notes
    -----
    Growth of each cutter: the step of its readings that meets the limit, so that the quick stage at the end of life is
    in it; a cutter that stopped below the limit says nothing of it. In logs, the upper t prediction limit for the next
    cutter (derived).

    Examples
    --------
    >>> curves = [([0, 10, 20, 30], [0.05, 0.12, 0.19, 0.26 + e]) for e in (-0.01, 0.0, 0.01, 0.02)]
    >>> made = condition_rule(curves, 0.25, 2.0)
    >>> round(made.growth, 4), made.change_at < 0.25 - 2 * made.growth
    (0.0074, True)
    """
    from scipy.special import stdtrit

    check_level(level)
    if not step > 0 or reading_sd < 0:
        raise ArgumentError(f"step {step:g}, reading_sd {reading_sd:g}", where="condition rule", allowed="above 0")
    looks = [(np.asarray(t, float), np.asarray(v, float)) for t, v in curves]
    growths = np.array([rate for one in looks if (rate := _growth(*one, limit)) > 0])
    if len(growths) < 3:
        raise Refusal(
            f"{len(growths)} cutters were read on both sides of the limit",
            where="condition rule",
            allowed="three or more",
        )
    logs = np.log(growths)
    quantile = float(stdtrit(len(logs) - 1, level))
    high = math.exp(logs.mean() + quantile * logs.std(ddof=1) * math.sqrt(1 + 1 / len(logs)))
    change = limit - high * step - quantile * reading_sd
    first = min(float(v[0]) for _, v in looks if len(v))
    if change <= first:
        why = "looks too far apart: a cutter could pass the limit between any two of them"
        return ConditionRule(limit, step, math.nan, math.exp(logs.mean()), high, level, len(logs), math.nan,
                             math.nan, 0, why)  # fmt: skip
    used = [one for t, v in looks if (one := _use(t, v, limit, change, step)) is not None]
    ages, lives = (np.array(column) for column in zip(*used, strict=True)) if used else (np.empty(0), np.empty(0))
    return ConditionRule(
        limit, step, change, math.exp(logs.mean()), high, level, len(logs),
        float(np.minimum(ages, lives).mean()) if used else math.nan, float(lives.mean()) if used else math.nan,
        int((ages > lives).sum()),
    )  # fmt: skip


def condition_rule_of(
    trial: Trial, criterion: Criterion, clock: str, step: float, cutters: Sequence[str], level: float = 0.95
) -> ConditionRule:
    """The rule from a trial's own readings.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion
        A measured one.
    clock : str
    step : float
        Clock between two looks.
    cutters : sequence of str
        Those of one practice.
    level : float

    Raises
    ------
    Refusal
        The criterion is the end of the run, or too few cutters show how the value grows.
    """
    if criterion.measure == "end":
        raise Refusal("the log holds ends only, no readings", where="condition rule")
    wanted, curves = set(cutters), []
    for one in criterion_series(trial, criterion):
        if one.cutter in wanted and clock in one.looks:
            looks = one.looks.dropna(subset=[clock, "value"])
            curves.append((looks[clock].to_numpy(float), looks["value"].to_numpy(float)))
            limit = one.limit
    if not curves:
        raise Refusal("no cutter was read on this clock", where="condition rule")
    return condition_rule(curves, limit, step, level=level)


def looked_at(
    trial: Trial, criterion: Criterion, clock: str, step: float, cutters: Sequence[str]
) -> tuple[ConditionRule | None, str]:
    """The rule, or None and why there is none."""
    if not step > 0:
        return None, "how much of the clock a part takes is not known"
    try:
        rule = condition_rule_of(trial, criterion, clock, step, cutters)
    except Refusal as refusal:
        return None, refusal.found
    return rule, rule.why_missing


def _growth(clock: np.ndarray, value: np.ndarray, limit: float) -> float:
    """Growth a unit of the clock over the step that meets the limit; NaN where none does."""
    past = np.flatnonzero(reached(value, limit))
    if not len(past) or past[0] == 0:
        return math.nan
    at = int(past[0])
    gap = clock[at] - clock[at - 1]
    return float((value[at] - value[at - 1]) / gap) if gap > 0 else math.nan


def _use(
    clock: np.ndarray, value: np.ndarray, limit: float, change: float, step: float
) -> tuple[float, float] | None:
    """Clock of the look at which a cutter would be changed, and its life, on straight lines between its readings."""
    rising = np.maximum.accumulate(value)
    if not len(clock) or rising[-1] < limit or rising[0] >= limit:
        return None
    life = float(np.interp(limit, rising, clock))
    due = clock[0] if rising[0] >= change else float(np.interp(change, rising, clock))
    return math.ceil(due / step - 1e-9) * step, life
