"""Comparison of one number a cutter: wear rates (logs), walls (as they are).

Welch or within blocks, with the exact permutation test beside it; least squares where factors enter.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd

from wearlab.compare.life_ratio import Ratio, others_of
from wearlab.core.interval import Interval
from wearlab.stats.line import fit_line
from wearlab.stats.permutation import exact_mean_difference, score_test_within_blocks
from wearlab.stats.two_groups import blocked, welch

Values = Callable[[pd.DataFrame], tuple[np.ndarray, str, str]]
"""What turns a table into numbers to compare, their scale (ratio or difference) and words for the method."""


def rate_values(table: pd.DataFrame) -> tuple[np.ndarray, str, str]:
    """Wear rates: logs, or as they are where one of them is not above 0."""
    rates = table["rate"].to_numpy(float)
    if (rates > 0).all():
        return np.log(rates), "ratio", "one slope a cutter, logs"
    return rates, "difference", "one slope a cutter, raw because a rate is not above 0"


def rate_ratio(
    table: pd.DataFrame, a: str, b: str, level: float, inner: float, block: str, adjust: tuple[str, ...], rng: int = 0
) -> Ratio:
    """Compare wear rates of two groups.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a cutter: `group`, `rate` and the facts.
    a, b, level, inner, block, adjust, rng
        As in `life_ratio`.

    Notes
    -----
    A rate of zero or below has no logarithm: then the raw rates of all cutters are compared, and the difference given.
    """
    return compared_values(rate_values)(table, a, b, level, inner, block, adjust, rng)


def compared_values(values: Values) -> Callable[..., Ratio]:
    """Comparison of two groups in one number a cutter, in the arguments of `rate_ratio`."""

    def compared(
        table: pd.DataFrame,
        a: str,
        b: str,
        level: float,
        inner: float,
        block: str,
        adjust: tuple[str, ...],
        rng: int = 0,
    ) -> Ratio:
        y, scale, words = values(table)
        in_a = (table["group"] == a).to_numpy()
        if adjust:
            return _adjusted(table, y, in_a, level, inner, (block, adjust), (scale, words))
        if block:
            levels = table[block].astype(str).tolist()
            sample = blocked(y, np.where(in_a, "a", "b").tolist(), levels)
            exact = score_test_within_blocks(y - y.mean(), in_a, levels, rng)
        else:
            sample = welch(y[in_a], y[~in_a], steady=True)
            exact = exact_mean_difference(y[in_a], y[~in_a], rng)
        limits = [sample.interval(one) for one in (level, inner)]
        return Ratio(
            sample.n_a, sample.n_b, sample.difference, limits[0], limits[1], sample.p_value, exact.p_value,
            exact.smallest_p, sample.sd, f"{words}, {sample.method}", scale, sample.why_missing or "", sample.se,
            sample.df, at=sample.interval, p_at=sample.p_at,
        )  # fmt: skip

    return compared


def _adjusted(
    table: pd.DataFrame,
    values: np.ndarray,
    in_a: np.ndarray,
    level: float,
    inner: float,
    beside: tuple[str, tuple[str, ...]],
    how: tuple[str, str],
) -> Ratio:
    block, adjust = beside
    others, names, _ = others_of(table, block, adjust, len(table))
    X = np.hstack([others, in_a[:, None].astype(float)])
    fit = fit_line(X, values, [*names, "group"])
    contrast = np.append(np.zeros(X.shape[1] - 1), 1.0)
    n_a, n_b = int(in_a.sum()), int((~in_a).sum())
    method = f"{how[1]}, least squares{', within blocks' if block else ''}, adjusted for {', '.join(adjust)}"
    if fit.why_missing is not None:
        unknown = Interval(-math.inf, math.inf, level, "none")
        return Ratio(
            n_a, n_b, fit.estimate(contrast), unknown, unknown, math.nan, math.nan, math.nan, fit.sigma, method, how[0],
            fit.why_missing, fit.standard_error(contrast), float(fit.df),
        )  # fmt: skip
    limits = [fit.interval(contrast, one) for one in (level, inner)]
    return Ratio(
        n_a, n_b, fit.estimate(contrast), limits[0], limits[1], fit.p_value(contrast), math.nan, math.nan, fit.sigma,
        method, how[0], "", fit.standard_error(contrast), float(fit.df),
        at=lambda one: fit.interval(contrast, one), p_at=lambda value: fit.p_value(contrast, value),
    )  # fmt: skip
