"""The interval of each life: how far reading error and the chord between two readings let the crossing move.

The error of a reading comes from a measurement study where one is given, else from repeats in the log, else it is
assumed and said so. Only a life that was crossed between two readings of a land has such an interval; what is known of
the others is their status and bracket.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.life.derived_clocks import DERIVED, per_minute
from wearlab.life.doubts import LifeDoubt
from wearlab.life.lives import MINUTES, ToolLives
from wearlab.life.per_flute import LANDS
from wearlab.life.precision import LifePrecision, life_precision
from wearlab.life.series import Series, criterion_series
from wearlab.life.toollife import ToolLife
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.stats.gauge import Components
from wearlab.wear.curves import wear_curves

ASSUMED_MM = 0.010
"""Standard deviation of one land reading where nothing better is known (common practice, no source)."""
ROOT_12 = math.sqrt(12.0)
SAME_MM = 1e-7
"""Readings closer than this, a tenth of a nanometre, differ by the arithmetic of units alone."""
ENOUGH = 5
"""Repeated readings, beyond the first of each, that a reading error is judged by."""
BEND = (
    "the curve bends more between two looks than a reading error: the straight line there may mislead, look more often"
)
NO_SLOPE = "the last readings up to the crossing do not rise: without a slope no limit can be set to the life"
OUTSIDE = "the crossing does not lie between two readings with this clock: no limit can be set to the life"


@dataclass(frozen=True, slots=True)
class ReadingError:
    """Error of land readings.

    Attributes
    ----------
    one_mm : float
        Standard deviation of one reading about its land, by one person.
    common_mm : float
        Standard deviation that all readings of a look share: person and set-up; 0 where it is not known.
    source : str
        Where they come from.
    """

    one_mm: float
    common_mm: float
    source: str

    def of_mean(self, readings: int) -> float:
        """Standard error of the mean of some readings of one look, mm."""
        return math.hypot(self.one_mm / math.sqrt(max(readings, 1)), self.common_mm)


@dataclass(frozen=True, slots=True)
class LifeInterval:
    """What reading error leaves of one life.

    Attributes
    ----------
    low, high : float
        In the unit of the clock; NaN where `why_missing` says why.
    level : float
    std_error : float
        Of the life.
    too_coarse : bool
        The curve bends more between two looks than a reading error: look more often.
    doubt : str
        What makes the interval doubtful, or leaves it without a limit, in words; empty where nothing does.
    """

    cutter: str
    criterion: str
    clock: str
    life: float
    low: float
    high: float
    level: float
    std_error: float
    too_coarse: bool
    why_missing: str = ""
    doubt: str = ""


def reading_error(trial: Trial, repeatability_mm: float | None = None, common_mm: float = 0.0) -> ReadingError:
    """The error of one land reading: from a study, else from repeats in the log, else assumed.

    Repeats that agree better than the readings can tell apart do not make an error smaller than that of rounding to
    the smallest step between two different readings of the log: the step over root 12, the standard deviation of a
    uniform distribution (JCGM 100:2008, F.2.2.1, from memory). A study counts as it is, unless its repeats agree to the
    last digit.

    Parameters
    ----------
    trial : Trial
    repeatability_mm, common_mm : float, optional
        Standard deviations of a measurement study: of repeats by one person, and of people and what goes with them.

    Raises
    ------
    ArgumentError
        A standard deviation is below 0.
    """
    if repeatability_mm is not None:
        if repeatability_mm < 0 or common_mm < 0:
            raise ArgumentError("a standard deviation below 0", where="reading error", allowed="0 or more")
        if repeatability_mm > SAME_MM:
            return ReadingError(repeatability_mm, common_mm, "from the measurement study")
        return _not_below_rounding(trial, 0.0, common_mm, "the measurement study")
    rows = wear_curves(trial).by_flute
    again = rows[rows["repeats"] > 1] if len(rows) else rows
    df = int((again["repeats"] - 1).sum()) if len(again) else 0
    if df < ENOUGH:
        return ReadingError(ASSUMED_MM, 0.0, "assumed: no study, no repeats")
    pooled = float(((again["repeats"] - 1) * again["sd_mm"] ** 2).sum()) / df
    return _not_below_rounding(trial, math.sqrt(pooled), 0.0, f"{df} repeated readings of the log")


def _not_below_rounding(trial: Trial, one_mm: float, common_mm: float, source: str) -> ReadingError:
    """The error that repeats give, or that of rounding where it is larger."""
    step = _smallest_step_mm(trial)
    if math.isnan(step):
        return ReadingError(ASSUMED_MM, common_mm, "assumed: no two readings of the log differ")
    if one_mm >= step / ROOT_12:
        return ReadingError(one_mm, common_mm, f"from {source}")
    closer = "differ by less than the log can tell" if one_mm > SAME_MM else "agree to the last digit"
    said = f"repeats of {source}" if "study" in source else source
    return ReadingError(
        step / ROOT_12, common_mm, f"rounding to {1000 * step:.3g} um, the log's smallest step: {said} {closer}"
    )


def _smallest_step_mm(trial: Trial) -> float:
    """Smallest difference between two different land readings of the log; NaN where no two differ.

    A mean over flutes that was written down is no reading.
    """
    rows = trial.wear[(trial.wear["flute"] != "mean") & trial.wear["value_mm"].notna()]
    steps = np.diff(np.sort(rows["value_mm"].to_numpy(float)))
    steps = steps[steps > SAME_MM]
    return float(steps.min()) if len(steps) else math.nan


def study_errors(components: Components) -> tuple[float, float]:
    """Standard deviations of repeats by one person, and of people with what goes with them, mm."""
    return math.sqrt(components.repeatability), math.sqrt(components.operator + components.interaction)


def life_intervals(
    trial: Trial, lives: ToolLives, error: ReadingError, level: float = 0.95
) -> tuple[LifeInterval, ...]:
    """Interval of every life, in the order of `lives`.

    Parameters
    ----------
    trial : Trial
    lives : ToolLives
        As `tool_lives` made them of this trial.
    error : ReadingError
        As `reading_error` gives it.
    level : float
        Confidence level.

    Examples
    --------
    >>> from wearlab.life.lives import tool_lives
    >>> from wearlab.logbook.criterion import parse_criterion
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("groover_coated"))
    >>> lives = tool_lives(trial, [parse_criterion("VB=0.75mm")], ["cutting_time_min"])
    >>> [(round(one.low, 1), round(one.high, 1)) for one in life_intervals(trial, lives, reading_error(trial))]
    [(19.9, 21.0), (9.7, 10.3)]
    """
    facts, made = trial.facts(), []
    series: dict[str, dict[str, Series]] = {}
    for life in lives.lives:
        criterion = next(one for one in lives.criteria if one.text == life.criterion)
        why = _why_none(life, criterion)
        if not why:
            if criterion.text not in series:
                series[criterion.text] = {one.cutter: one for one in criterion_series(trial, criterion)}
            made.append(_interval(life, series[criterion.text][life.cutter], criterion, error, level, facts))
            continue
        nan = math.nan
        made.append(LifeInterval(life.cutter, life.criterion, life.clock, life.life, nan, nan, level, nan, False, why))
    return tuple(made)


def _why_none(life: ToolLife, criterion: Criterion) -> str:
    if life.status != "exact":
        return f"no crossing between two readings: {life.why_missing or life.status}"
    if criterion.measure == "end":
        return "the end was booked, not measured"
    return "" if criterion.measure in LANDS else "no error of such readings is known"


def _interval(
    life: ToolLife, series: Series, criterion: Criterion, error: ReadingError, level: float, facts: pd.DataFrame
) -> LifeInterval:
    factor = float(per_minute(facts, life.clock)[life.cutter]) if life.clock in DERIVED else 1.0
    looks = series.looks.dropna(subset=[MINUTES if life.clock in DERIVED else life.clock])
    clock = looks[MINUTES if life.clock in DERIVED else life.clock].to_numpy(float) * factor
    readings = int(looks["flutes"].median()) if criterion.statistic == "mean" else 1
    try:
        found = life_precision(clock, looks["value"].to_numpy(float), series.limit, life.life, error.of_mean(readings))
        doubt = NO_SLOPE if found.no_slope else BEND if found.too_coarse else ""
    except ArgumentError:
        found, doubt = LifePrecision(life.life, math.inf, 0.0, False), OUTSIDE
    limits = found.interval(level)
    return LifeInterval(
        life.cutter, life.criterion, life.clock, life.life, limits.low, limits.high, level, found.std_error,
        found.too_coarse, doubt=doubt,
    )  # fmt: skip


def with_intervals(lives: ToolLives, intervals: Sequence[LifeInterval]) -> pd.DataFrame:
    """The lives with `life_low`, `life_high`, `level`, `std_error` and `why_no_interval` beside them."""
    table = lives.to_frame()
    table["life_low"] = [one.low for one in intervals]
    table["life_high"] = [one.high for one in intervals]
    table["level"] = [one.level for one in intervals]
    table["std_error"] = [one.std_error for one in intervals]
    table["why_no_interval"] = [one.why_missing for one in intervals]
    return table


def coarse_looks(intervals: Sequence[LifeInterval]) -> tuple[LifeDoubt, ...]:
    """Doubts about intervals, on the first clock: the curve bends between two looks, or nothing bounds the life."""
    clocks = [one.clock for one in intervals]
    return tuple(
        LifeDoubt(one.cutter, one.criterion, one.clock, one.doubt)
        for one in intervals if one.doubt and not one.why_missing and one.clock == clocks[0]
    )  # fmt: skip
