"""Does the ratio depend on the material (or any other group)? Looked at, and never averaged away.

A practice may win in one material and lose in another; one ratio over both would belong to neither. The life regression
is fitted with and without the interaction, and each material's ratio is given with the scatter pooled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import natural_sorted, plain
from wearlab.fit.factors import make_factor
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.lives import Lives


@dataclass(frozen=True, repr=False)
class Interaction:
    """Ratio of lives, or of wear rates, a over b within each level of another column.

    Attributes
    ----------
    a, b, within : str
    outcome, zone : str
    ratios : pandas.DataFrame
        `level`, `cutters_a`, `cutters_b`, `ratio`, `low`, `high`.
    p_value : float
        Of one ratio for all levels (likelihood ratio with the F reference on the failures left).
    level : float
    """

    a: str
    b: str
    within: str
    ratios: pd.DataFrame
    p_value: float
    level: float
    outcome: str = "life"
    zone: str = ""

    @property
    def found(self) -> bool:
        """Whether one ratio for all levels is contradicted."""
        return self.p_value < 1.0 - self.level

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "a": self.a,
                "b": self.b,
                "within": self.within,
                "ratios": self.ratios.to_dict("records"),
                "p_value": self.p_value,
                "level": self.level,
                "outcome": self.outcome,
                "zone": self.zone,
            }
        )
        return made


def interaction(
    table: pd.DataFrame,
    a: str,
    b: str,
    within: str = "work_material",
    adjust: tuple[str, ...] = (),
    level: float = 0.95,
) -> Interaction:
    """Look for an interaction in lives.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a cutter of the two groups: `group`, `low`, `high`, the column `within`, and the factors of `adjust`.
    a, b : str
        Groups.
    within : str
        Column whose levels may differ.
    adjust : tuple of str
        Factors that enter beside.
    level : float

    Raises
    ------
    Refusal
        Fewer than two levels hold both groups, or the lives do not carry the larger model.
    """
    table = table[table["group"].isin([a, b])].reset_index(drop=True)
    levels = [str(one) for one in natural_sorted(table[within].unique())]
    shared = [one for one in levels if table.loc[table[within] == one, "group"].nunique() == 2]
    if len(shared) < 2:
        raise Refusal(
            f"{len(shared)} {within} in which both {a} and {b} were run", where="interaction", allowed="two or more"
        )
    table = table[table[within].isin(shared)].reset_index(drop=True)
    lives = Lives(table["low"].to_numpy(float), table["high"].to_numpy(float))
    in_a = (table["group"] == a).to_numpy(float)
    member = np.array([[cell == one for one in shared] for cell in table[within]], dtype=float)
    others = [make_factor(table, column).columns(table[column]) for column in adjust]
    names = [f"{within}[{one}]" for one in shared]
    beside = [f"{column}" for column in adjust]
    full = np.hstack([member, *others, member * in_a[:, None]])
    one_ratio = np.hstack([member, *others, in_a[:, None]])
    large = fit_lives(full, lives, "lognormal", [*names, *beside, *(f"{a} in {one}" for one in shared)])
    small = fit_lives(one_ratio, lives, "lognormal", [*names, *beside, a])
    rows = [
        _row(large, table, within, one, a, b, at + full.shape[1] - len(shared), level) for at, one in enumerate(shared)
    ]
    return Interaction(a, b, within, pd.DataFrame(rows), _p(large, small, len(shared) - 1), level)


def _row(
    fit: LifeRegression, table: pd.DataFrame, within: str, one: str, a: str, b: str, at: int, level: float
) -> dict[str, Any]:
    weight = np.zeros(len(fit.beta))
    weight[at] = 1.0
    try:
        limits = fit.interval(weight, level).exp()
    except Refusal:
        limits = Interval(0.0, math.inf, level, "none")
    own = table[table[within] == one]
    return {
        "level": one,
        "cutters_a": int((own["group"] == a).sum()),
        "cutters_b": int((own["group"] == b).sum()),
        "ratio": math.exp(float(fit.beta[at])),
        "low": limits.low,
        "high": limits.high,
    }


def _p(large: LifeRegression, small: LifeRegression, extra: int) -> float:
    """Equal to the F test of least squares where all lives are complete."""
    from scipy.special import fdtrc

    df = large.failures - len(large.beta)
    if df < 1:
        return math.nan
    deviance = max(2.0 * (large.loglik - small.loglik), 0.0)
    return float(fdtrc(extra, df, math.expm1(deviance / large.failures) * df / extra))
