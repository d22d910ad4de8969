"""A slope for each group, with the scatter pooled over all of them.

Separate exponents with a pooled scatter are the answer; a common exponent is an assumption, and the test of it has
little power on few cutters, so that "not contradicted" is weak.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsTable, natural_sorted, plain
from wearlab.fit.factors import SPEED
from wearlab.fit.laws import slope_beyond_rounding, taylor_c, taylor_n
from wearlab.stats.censored import fit_lives
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives


@dataclass(frozen=True, slots=True)
class GroupExponent:
    """Taylor's constants of one group."""

    group: str
    cutters: int
    n: float
    c: float
    interval: Interval
    why_missing: str = ""


@dataclass(frozen=True, repr=False)
class GroupedFit(ShownAsTable):
    """Taylor's law with a slope for each group.

    Attributes
    ----------
    by : str
    groups : tuple of GroupExponent
        In natural order; a group at one speed has no exponent.
    sigma : float
        Pooled scatter of ln life.
    p_common : float
        p of a common exponent; NaN where fewer than two groups have one.
    method : str
    """

    by: str
    groups: tuple[GroupExponent, ...]
    sigma: float
    p_common: float
    method: str

    def to_frame(self) -> pd.DataFrame:
        """One row a group."""
        return pd.DataFrame(
            [
                {"group": g.group, "cutters": g.cutters, "n": g.n, "C": g.c, "low": g.interval.low,
                 "high": g.interval.high, "level": g.interval.level, "why_missing": g.why_missing}
                for g in self.groups
            ]
        )  # fmt: skip

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {"by": self.by, "groups": self.to_frame().to_dict("records"), "sigma": self.sigma,
             "p_common": self.p_common, "method": self.method}
        )  # fmt: skip
        return made


def fit_by_group(used: pd.DataFrame, by: str, level: float = 0.95) -> GroupedFit:
    """Fit Taylor's law with a slope for each group.

    Parameters
    ----------
    used : pandas.DataFrame
        One row a cutter with a life: `low`, `high`, `status`, the cutting speed, and the column `by`.
    by : str
        Column of the groups.
    level : float

    Raises
    ------
    Refusal
        No group was run at two speeds, or fewer lives than constants.
    """
    used = used.reset_index(drop=True)
    names = natural_sorted(used[by].unique())
    speeds = {name: used.loc[used[by] == name, SPEED].nunique() for name in names}
    sloped = [name for name in names if speeds[name] > 1]
    if not sloped:
        raise Refusal(f"no {by} was run at two speeds", where="exponents by group")
    x = np.log(used[SPEED].to_numpy(float))
    member = np.array([[cell == name for name in names] for cell in used[by]], dtype=float)
    slopes = np.column_stack([member[:, names.index(name)] * x for name in sloped])
    X = np.hstack([member, slopes])
    labels = [f"ln k[{name}]" for name in names] + [f"ln V[{name}]" for name in sloped]
    complete = bool((used["status"] == "exact").all())
    lives = Lives(used["low"].to_numpy(float), used["high"].to_numpy(float))
    if complete:
        fit: Any = fit_line(X, np.log(lives.lower), labels)
    else:
        fit = fit_lives(X, lives, "lognormal", labels)
    why = getattr(fit, "why_missing", None) or ""
    groups = [_exponent(fit, X, names, sloped, name, int((used[by] == name).sum()), why, level) for name in names]
    return GroupedFit(
        by,
        tuple(groups),
        float(fit.sigma),
        _common(fit, X, lives, member, x, names, sloped, complete),
        "least squares, pooled scatter" if complete else "maximum likelihood with censoring, pooled scatter",
    )


def _exponent(
    fit: Any, X: np.ndarray, names: list[str], sloped: list[str], name: str, cutters: int, why: str, level: float
) -> GroupExponent:
    unknown = Interval(-math.inf, math.inf, level, "none")
    if name not in sloped:
        return GroupExponent(name, cutters, math.nan, math.nan, unknown, "one speed only")
    at = len(names) + sloped.index(name)
    own = X[:, names.index(name)] == 1
    slope = slope_beyond_rounding(float(fit.beta[at]), X[own, at], X[own] @ fit.beta)
    if slope >= 0:
        return GroupExponent(name, cutters, math.nan, math.nan, unknown, "life does not fall with speed in these lives")
    n, c = taylor_n(slope), taylor_c(float(fit.beta[names.index(name)]), slope)
    if why:
        return GroupExponent(name, cutters, n, c, unknown, why)
    weight = np.zeros(len(fit.beta))
    weight[at] = 1.0
    limits = fit.interval(weight, level)
    low = -1.0 / limits.low if math.isfinite(limits.low) else 0.0
    high = -1.0 / limits.high if limits.high < 0 else math.inf
    return GroupExponent(name, cutters, n, c, Interval(low, high, level, limits.method),
                         "" if math.isfinite(high) else "not bounded from above by these lives")  # fmt: skip


def _common(
    fit: Any, X: np.ndarray, lives: Lives, member: np.ndarray, x: np.ndarray, names: list[str], sloped: list[str],
    complete: bool,
) -> float:  # fmt: skip
    """F test of equal slopes; of censored lives the likelihood ratio with the F reference on the failures left."""
    from scipy.stats import f as f_law

    extra = len(sloped) - 1
    if extra < 1 or getattr(fit, "why_missing", None):
        return math.nan
    small = np.hstack([member, (member[:, [names.index(name) for name in sloped]].sum(axis=1) * x)[:, None]])
    labels = [f"ln k[{name}]" for name in names] + ["ln V"]
    if complete:
        df = fit.df
        gap = fit_line(small, np.log(lives.lower), labels).rss - fit.rss
        return float(f_law.sf(gap / extra / (fit.rss / df), extra, df)) if df > 0 and fit.rss > 0 else math.nan
    df = fit.failures - X.shape[1]
    if df < 1:
        return math.nan
    deviance = 2 * (fit.loglik - fit_lives(small, lives, "lognormal", labels).loglik)
    return float(f_law.sf(math.expm1(max(deviance, 0.0) / fit.failures) * df / extra, extra, df))
