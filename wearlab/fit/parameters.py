"""What a fit says in the trade's own constants: n, C, the speed for 60 minutes, exponents and group ratios."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, check_level, exp_or_inf
from wearlab.core.tables import ShownAsTable
from wearlab.fit.factors import SPEED, SQUARE
from wearlab.fit.laws import SECOND_ORDER, slope_beyond_rounding, taylor_c, taylor_n
from wearlab.fit.tool_life import ToolLifeFit

LIFE_QUOTED_MIN = 60.0
"""Life at which v60 is the speed."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """One constant with its uncertainty; `why_missing` says why a number is not there."""

    name: str
    meaning: str
    estimate: float
    std_error: float
    interval: Interval
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        facts = self.interval.to_dict()
        return {
            "name": self.name,
            "meaning": self.meaning,
            "estimate": self.estimate if math.isfinite(self.estimate) else None,
            "std_error": self.std_error if math.isfinite(self.std_error) else None,
            "low": facts["low"],
            "high": facts["high"],
            "level": facts["level"],
            "unbounded": facts["unbounded"],
            "why_missing": self.why_missing or None,
        }


class Parameters(tuple[Parameter, ...], ShownAsTable):
    """The constants of a fit, one after the other."""

    def to_frame(self) -> pd.DataFrame:
        """One row a constant."""
        return parameter_frame(self)

    def __repr__(self) -> str:
        return f"<Parameters: {', '.join(f'{one.name} {one.estimate:.4g}' for one in self)}>"


def parameters(fit: ToolLifeFit, level: float = 0.95) -> Parameters:
    """Every constant of a fit.

    Parameters
    ----------
    fit : ToolLifeFit
    level : float
        Confidence level of the intervals.

    Returns
    -------
    Parameters
        A tuple of Parameter: `n`, `C` and `v60` where speed is a factor; `intercept`; `exponent_COLUMN` for each
        number; for each group `ln_ratio_COLUMN[GROUP]` and `ratio_COLUMN[GROUP]` of lives beside the first group;
        `sigma`.

    Examples
    --------
    >>> from wearlab.fit.tool_life import fit_tool_life
    >>> from wearlab.life.lives import tool_lives
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("taylor_T06"))
    >>> made = parameters(fit_tool_life(tool_lives(trial, "end", "min"), trial))
    >>> [(one.name, round(one.estimate, 3)) for one in made[:2]]
    [('n', 0.224), ('C', 68.41)]
    """
    check_level(level)
    made = _taylor(fit, level) if fit.slope_of(SPEED) is not None or fit.held_n is not None else []
    made.append(_coefficient(fit, 0, "intercept", "ln life where every ln is 0", level))
    for position, name in enumerate(fit.names):
        if position == 0:
            continue
        if name.endswith(SQUARE):
            made.append(
                _coefficient(
                    fit,
                    position,
                    f"second_order_{name[4:].removesuffix(')' + SQUARE)}",
                    "bend of ln life per squared ln, about the centre",
                    level,
                )
            )
        elif name.startswith("ln "):
            column = name.removeprefix("ln ")
            made.append(
                _coefficient(fit, position, f"exponent_{column}", f"life goes as {column} to this power", level)
            )
        else:
            made += _group(fit, position, name, level)
    made.append(
        Parameter(
            "sigma",
            "standard deviation of ln life about the equation",
            fit.sigma,
            math.nan,
            _sigma_interval(fit, level),
            fit.why_no_interval or _why_no_sigma(fit),
        )
    )
    return Parameters(made)


def parameter_frame(made: tuple[Parameter, ...]) -> pd.DataFrame:
    """One row a constant."""
    return pd.DataFrame(
        [
            {
                "name": p.name,
                "meaning": p.meaning,
                "estimate": p.estimate,
                "std_error": p.std_error,
                "low": p.interval.low,
                "high": p.interval.high,
                "level": p.interval.level,
                "why_missing": p.why_missing,
            }
            for p in made
        ]
    )


def _unit(fit: ToolLifeFit, position: int) -> np.ndarray:
    contrast = np.zeros(len(fit.names))
    contrast[position] = 1.0
    return contrast


def _coefficient(fit: ToolLifeFit, position: int, name: str, meaning: str, level: float) -> Parameter:
    contrast = _unit(fit, position)
    limits, why = _limits(fit, contrast, level)
    return Parameter(name, meaning, float(fit.beta[position]), fit.standard_error(contrast), limits, why)


def _limits(fit: ToolLifeFit, contrast: np.ndarray, level: float) -> tuple[Interval, str]:
    """Interval of a combination of the coefficients, or why there is none; one that fails leaves the others theirs."""
    if fit.why_no_interval:
        return _unknown(level), fit.why_no_interval
    try:
        limits = fit.interval(contrast, level)
    except Refusal as refusal:
        return _unknown(level), refusal.found
    return limits, "" if limits.unbounded != "both" else "not bounded by these lives"


def _group(fit: ToolLifeFit, position: int, name: str, level: float) -> list[Parameter]:
    column, _, group = name.rstrip("]").partition("[")
    first = next(factor.levels[0] for factor in fit.factors if factor.column == column)
    log = _coefficient(fit, position, f"ln_ratio_{name}", f"ln of life with {group} over life with {first}", level)
    ratio = Parameter(
        f"ratio_{name}",
        f"life with {group} over life with {first}",
        exp_or_inf(log.estimate),
        math.nan,
        _unknown(level) if log.why_missing else log.interval.exp(),
        log.why_missing,
    )
    return [log, ratio]


def _unknown(level: float) -> Interval:
    return Interval(-math.inf, math.inf, level, "none")


def _taylor(fit: ToolLifeFit, level: float) -> list[Parameter]:
    if fit.held_n is not None:
        c = taylor_c(float(fit.beta[0]), -1.0 / fit.held_n)
        at = "; groups at their first" if any(not factor.numeric for factor in fit.factors) else ""
        held = Parameter("n", "exponent of V T^n = C", fit.held_n, math.nan, _unknown(level), "held, not fitted")
        shift, why = _limits(fit, _unit(fit, 0), level)
        interval = shift if why else shift.map(lambda b0: taylor_c(b0, -1.0 / fit.held_n))  # type: ignore[operator]
        return [held, Parameter("C", f"speed for a life of 1{at}", c, math.nan, interval, why)]
    position = fit.slope_of(SPEED)
    assert position is not None
    slope = slope_beyond_rounding(float(fit.beta[position]), fit.X[:, position], np.log(fit.used["fitted"]))
    if slope >= 0:
        why = f"life does not fall with speed in these lives (slope {slope:.3g}): no Taylor exponent"
        return [Parameter(name, "", math.nan, math.nan, _unknown(level), why) for name in ("n", "C", "v60")]
    if fit.law is SECOND_ORDER:
        why = "the law bends with speed: n is the exponent at the centre of the speeds alone, and C is no constant"
        local = _n(fit, position, slope, level)
        return [
            replace(local, meaning="exponent at the centre of the speeds"),
            *(Parameter(name, "", math.nan, math.nan, _unknown(level), why) for name in ("C", "v60")),
        ]
    made = [_n(fit, position, slope, level), _speed_of_life(fit, position, 1.0, "C", level)]
    if fit.clock == "cutting_time_min":
        made.append(_speed_of_life(fit, position, LIFE_QUOTED_MIN, "v60", level))
    return made


def _n(fit: ToolLifeFit, position: int, slope: float, level: float) -> Parameter:
    """n and its interval by turning the slope's interval over, which is exact where the slope's is."""
    error = fit.standard_error(_unit(fit, position)) / slope**2
    meaning = "exponent of V T^n = C"
    limits, why = _limits(fit, _unit(fit, position), level)
    if why:
        return Parameter("n", meaning, taylor_n(slope), error, limits, why)
    method = f"{limits.method} of the slope, turned over"
    open_low = math.isinf(limits.low)
    low = 0.0 if open_low else -1.0 / limits.low
    if limits.high < 0:
        turned = Interval(low, -1.0 / limits.high, level, method, open_low)
        return Parameter("n", meaning, taylor_n(slope), error, turned)
    why = "the speeds tried were too close together, or the lives too few, to bound n from above"
    return Parameter("n", meaning, taylor_n(slope), error, Interval(low, math.inf, level, method, open_low), why)


def _speed_of_life(fit: ToolLifeFit, position: int, life: float, name: str, level: float) -> Parameter:
    """Speed at which the median life is `life`; C holds every other number at 1 and groups at their first."""
    row = _unit(fit, 0) if name == "C" else fit.row({})
    row[position] = 0.0
    others = "every other number at 1 in its unit" if name == "C" else "every other number at its centre"
    meaning = f"cutting speed in m/min for a median life of {life:g}"
    if len(fit.factors) > 1:
        meaning += f", {others}, groups at their first"
    others_at = float(row @ fit.beta) + fit.median_shift
    estimate = exp_or_inf((math.log(life) - others_at) / float(fit.beta[position]))
    if name != "C":  # a constant is not a speed to run at; this is
        slowest, fastest = fit.tested_range[SPEED]
        if not slowest <= estimate <= fastest:
            meaning += f"; not tested: outside {slowest:g} to {fastest:g} m/min"
    if fit.regression is None:
        return Parameter(name, meaning, estimate, math.nan, _unknown(level), fit.why_no_interval)
    try:
        limits = fit.regression.setting_interval(row, position, life, level=level).exp()
    except Refusal as refusal:
        return Parameter(name, meaning, estimate, math.nan, _unknown(level), refusal.found)
    why = "the slope is not bounded away from 0" if limits.unbounded or limits.low == 0 else ""
    return Parameter(name, meaning, estimate, math.nan, limits, why)


def _sigma_interval(fit: ToolLifeFit, level: float) -> Interval:
    """Chi-square interval of the scatter of complete lives."""
    if fit.line is None or fit.why_no_interval:
        return _unknown(level)
    from scipy.special import chdtri

    df = fit.line.df
    low, high = (fit.sigma * math.sqrt(df / float(chdtri(df, 1.0 - q))) for q in (0.5 + level / 2, 0.5 - level / 2))
    return Interval(low, high, level, "chi-square")


def _why_no_sigma(fit: ToolLifeFit) -> str:
    return "given for complete lives only" if fit.line is None else ""
