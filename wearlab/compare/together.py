"""Several groups in one fit, with one scatter for all of them.

Used where the design says so and not the data: few cutters in every group, or blocks or factors beside the groups.
Each contrast is then judged by the scatter inside all groups, which few cutters a side could not tell by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.compare.life_ratio import Ratio, error_of, others_of
from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.stats.censored import LifeRegression, fit_lives
from wearlab.stats.line import LinearFit, fit_line
from wearlab.stats.lives import Lives


@dataclass(frozen=True, slots=True)
class Together:
    """One fit of all groups of an outcome.

    Attributes
    ----------
    names : tuple of str
        Groups, in the order of the first coefficients.
    table : pandas.DataFrame
        Cutters in the fit.
    method : str
    scale : str
        ratio or difference.
    """

    names: tuple[str, ...]
    table: pd.DataFrame
    method: str
    scale: str
    fit: LifeRegression | LinearFit

    def ratio(self, a: str, b: str, level: float, inner: float, own: Ratio) -> Ratio:
        """The contrast a over b, with the exact test of the pair by itself beside it."""
        weight = np.zeros(len(self.fit.beta))
        weight[self.names.index(a)], weight[self.names.index(b)] = 1.0, -1.0
        fit = self.fit

        def at(one: float) -> Interval:
            return fit.interval(weight, one)

        def p_at(value: float) -> float:
            return fit.p_value(weight, value)

        sigma, se, df = self._error(a, b, weight)
        return Ratio(
            own.n_a, own.n_b, fit.estimate(weight), at(level), at(inner), p_at(0.0), own.p_exact, own.smallest_p,
            sigma, self.method, self.scale, se=se, df=df, at=at, p_at=p_at,
        )  # fmt: skip

    def _error(self, a: str, b: str, weight: np.ndarray) -> tuple[float, float, float]:
        fit = self.fit
        if isinstance(fit, LinearFit):
            return fit.sigma, fit.standard_error(weight), float(fit.df)
        lives, group = lives_of(self.table), self.table["group"].to_numpy()
        spare = max(lives.failures - len(fit.beta), 1)
        sigma = fit.sigma * math.sqrt(lives.failures / spare)
        pair = (group == a) | (group == b)
        return sigma, error_of(sigma, lives.take(pair), group[pair] == a), float(lives.failures - len(fit.beta))


def lives_of(table: pd.DataFrame) -> Lives:
    """Bounds of the lives."""
    return Lives(table["low"].to_numpy(float), table["high"].to_numpy(float))


def lives_together(table: pd.DataFrame, names: tuple[str, ...], block: str, adjust: tuple[str, ...]) -> Together:
    """Life regression of all groups with one scale.

    Raises
    ------
    Refusal
        A group has no failure, or the lives do not carry the model.
    """
    lives = lives_of(table)
    others, labels, blocked = others_of(table, block, adjust, lives.failures - len(names) + 1)
    if block and not blocked:
        raise Refusal("too few failures to fit the blocks", where="several groups in one fit")
    X = np.hstack([_members(table, names), others[:, 1:]])
    fit = fit_lives(X, lives, "lognormal", [*names, *labels[1:]])
    words = "lognormal life regression of all groups, one scale, profile likelihood with the F cut"
    return Together(names, table, words + _beside(blocked, adjust), "ratio", fit)


def values_together(
    values: Callable[[pd.DataFrame], tuple[np.ndarray, str, str]],
) -> Callable[[pd.DataFrame, tuple[str, ...], str, tuple[str, ...]], Together]:
    """Least squares of one number a cutter, made from what turns a table into numbers, their scale and their words."""

    def fitted(table: pd.DataFrame, names: tuple[str, ...], block: str, adjust: tuple[str, ...]) -> Together:
        y, scale, words = values(table)
        others, labels, blocked = others_of(table, block, adjust, 10**9)
        X = np.hstack([_members(table, names), others[:, 1:]])
        fit = fit_line(X, y, [*names, *labels[1:]])
        if fit.why_missing or fit.df < 2:
            raise Refusal(fit.why_missing or "too little is left to judge the scatter by", where="several groups")
        method = f"{words}, least squares of all groups, one scatter"
        return Together(names, table, method + _beside(blocked, adjust), scale, fit)

    return fitted


def _members(table: pd.DataFrame, names: tuple[str, ...]) -> np.ndarray:
    return np.array([[cell == name for name in names] for cell in table["group"]], dtype=float)


def _beside(blocked: str, adjust: tuple[str, ...]) -> str:
    text = ", within blocks" if blocked else ""
    return text + (f", adjusted for {', '.join(adjust)}" if adjust else "")
