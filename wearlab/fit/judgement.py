"""What may be said of a fit: its residuals, the pull of each cutter, bends it could have shown, other scatter laws.

Nothing here is a pass mark. A trial that shows no bend is reported with the bend that it would have shown.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, exp_or_inf
from wearlab.core.tables import plain, records
from wearlab.fit.factors import SPEED
from wearlab.fit.laws import SECOND_ORDER, taylor_n
from wearlab.fit.parameters import LIFE_QUOTED_MIN
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.collinearity import Collinearity, collinearity
from wearlab.stats.lack_of_fit import Bend, bend, lack_of_fit
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.one_way import FTest

OTHER_LAWS = ("weibull", "loglogistic")


@dataclass(frozen=True, repr=False)
class Judgement:
    """Of one fit.

    Attributes
    ----------
    points : pandas.DataFrame
        One row a cutter: `cutter`, `life`, `fitted`, `residual` (of ln life; NaN where censored), `leverage`, and
        `n_without`, the Taylor exponent without this cutter (NaN where speed is no factor).
    replicates : FTest or None
        The equation against the scatter of cutters at equal settings; complete lives only.
    bend : Bend or None
        Along ln speed; complete lives only.
    collinear : Collinearity
    by_speed : pandas.DataFrame
        Scatter of ln life at each speed that was tried more than once: `speed`, `cutters`, `sd`.
    other_laws : pandas.DataFrame
        `distribution`, `n`, `low`, `high`, `v60`, `v60_low`, `v60_high`, `log_likelihood`, `why_missing` under other
        laws of scatter; v60 on the clock of minutes alone, and where the law does not bend.
    n_other_way : float
        The exponent that the wrong regression, ln V on ln T, would give; it differs by R squared.
    """

    points: pd.DataFrame
    replicates: FTest | None
    bend: Bend | None
    collinear: Collinearity
    by_speed: pd.DataFrame
    other_laws: pd.DataFrame
    n_other_way: float
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "points": records(self.points),
                "lack_of_fit": _test(self.replicates),
                "bend": _bend(self.bend),
                "variance_inflation": dict(zip(self.collinear.names, self.collinear.inflation, strict=True)),
                "scatter_by_speed": records(self.by_speed),
                "other_laws": records(self.other_laws),
                "n_other_way_round": self.n_other_way,
                "why_missing": self.why_missing or None,
            }
        )
        return made


def judge_fit(fit: ToolLifeFit, level: float = 0.95) -> Judgement:
    """Judge a fit.

    Parameters
    ----------
    fit : ToolLifeFit
    level : float
        Of the intervals under other laws of scatter.
    """
    complete = fit.line is not None
    response = np.log(fit.used["low"].to_numpy(float)) - (0.0 if fit.offset is None else fit.offset)
    position = fit.slope_of(SPEED)
    return Judgement(
        points=_points(fit, response, position, complete),
        replicates=lack_of_fit(fit.X, response, fit.names) if complete else None,
        bend=bend(fit.X, response, position, fit.names, level=level) if complete and position is not None else None,
        collinear=collinearity(fit.X, fit.names),
        by_speed=_by_speed(fit, response),
        other_laws=_other_laws(fit, position, level),
        n_other_way=_other_way(fit, response, position) if complete else math.nan,
        why_missing="" if complete else "some lives are censored: no residuals of them, no F test of fit and no bend",
    )


def _points(fit: ToolLifeFit, response: np.ndarray, position: int | None, complete: bool) -> pd.DataFrame:
    exact = (fit.used["status"] == "exact").to_numpy()
    residual = np.where(exact, response - fit.X @ fit.beta - fit.median_shift, np.nan)
    leverage = fit.line.leverage if fit.line is not None else np.full(len(fit.used), np.nan)
    without = [_n_without(fit, response, position, at) for at in range(len(fit.used))]
    return pd.DataFrame(
        {
            "cutter": fit.used["cutter"],
            "status": fit.used["status"],
            "life": fit.used["low"].where(fit.used["status"] == "exact"),
            "fitted": fit.used["fitted"],
            "residual": residual,
            "leverage": leverage,
            "n_without": without,
        }
    )


def _n_without(fit: ToolLifeFit, response: np.ndarray, position: int | None, at: int) -> float:
    """Taylor's n without one cutter: which cutter carries the answer?"""
    if position is None or fit.why_no_interval:
        return math.nan
    kept = np.arange(len(response)) != at
    try:
        if fit.line is not None:
            return taylor_n(float(fit_line(fit.X[kept], response[kept], fit.names).beta[position]))
        lives = Lives(fit.used["low"].to_numpy(float)[kept], fit.used["high"].to_numpy(float)[kept])
        return taylor_n(float(fit_lives(fit.X[kept], lives, fit.distribution, fit.names).beta[position]))
    except Refusal:
        return math.nan


def _by_speed(fit: ToolLifeFit, response: np.ndarray) -> pd.DataFrame:
    """Where the scatter differs twofold between speeds, limits at the noisier end are optimistic."""
    if SPEED not in fit.used:
        return pd.DataFrame({"speed": [], "cutters": [], "sd": []})
    exact = (fit.used["status"] == "exact").to_numpy()
    table = pd.DataFrame({"speed": fit.used[SPEED], "residual": response - fit.X @ fit.beta})[exact]
    grouped = table.groupby("speed")["residual"].agg(["size", "std"]).reset_index()
    grouped.columns = pd.Index(["speed", "cutters", "sd"])
    return grouped[grouped["cutters"] > 1].reset_index(drop=True)


def _exponent_under(slope: float, limits: Interval) -> dict[str, Any]:
    """n and its limits from a slope; where life does not fall with speed there is none, and no limits of it."""
    if slope >= 0:
        return {"why_missing": "life does not fall with speed: no Taylor exponent"}
    low = -1.0 / limits.low if math.isfinite(limits.low) else 0.0
    return {"n": taylor_n(slope), "low": low, "high": -1.0 / limits.high if limits.high < 0 else math.inf}


def _speed_for_an_hour(fit: ToolLifeFit, other: LifeRegression, position: int, level: float) -> dict[str, float]:
    """The speed for a median life of 60 min under another law: its median is not that of the first."""
    if other.beta[position] >= 0 or fit.law is SECOND_ORDER or fit.clock != "cutting_time_min":
        return {}
    row = fit.row({})
    limits = other.setting_interval(row, position, LIFE_QUOTED_MIN, level=level).exp()
    estimate = exp_or_inf(other.setting(row, position, LIFE_QUOTED_MIN))
    return {"v60": estimate, "v60_low": limits.low, "v60_high": limits.high}


def _other_laws(fit: ToolLifeFit, position: int | None, level: float) -> pd.DataFrame:
    rows = []
    lives = Lives(fit.used["low"].to_numpy(float), fit.used["high"].to_numpy(float))
    for law in ("lognormal", *OTHER_LAWS):
        numbers = ("n", "low", "high", "v60", "v60_low", "v60_high", "log_likelihood")
        row: dict[str, Any] = {"distribution": law} | dict.fromkeys(numbers, math.nan) | {"why_missing": ""}
        try:
            other = fit_lives(fit.X, lives, law, fit.names, fit.offset)
            row["log_likelihood"] = other.loglik
            if position is not None:
                weight = np.zeros(len(fit.names))
                weight[position] = 1.0
                limits = other.interval(weight, level)
                row |= _exponent_under(float(other.beta[position]), limits)
                row |= _speed_for_an_hour(fit, other, position, level)
        except Refusal as refusal:
            row["why_missing"] = refusal.found
        rows.append(row)
    return pd.DataFrame(rows)


def _other_way(fit: ToolLifeFit, response: np.ndarray, position: int | None) -> float:
    if position is None or len(fit.names) != 2:
        return math.nan
    x = fit.X[:, position]
    return -float(np.cov(x, response)[0, 1] / np.var(response, ddof=1)) if np.ptp(response) > 0 else math.nan


def _test(test: FTest | None) -> dict[str, Any] | None:
    if test is None:
        return None
    return {
        "f": test.f,
        "df": test.df,
        "df_error": test.df_error,
        "p_value": test.p_value,
        "why_missing": test.why_missing,
    }


def _bend(found: Bend | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {"curvature": found.curvature, "std_error": found.se, "p_value": found.p_value,
            "detectable": found.detectable, "power": found.power, "why_missing": found.why_missing}  # fmt: skip
