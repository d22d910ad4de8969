"""Ratio of wear rates: one slope a cutter, in logs, Welch or within blocks; exact permutation of the logs."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from wearlab.compare.life_ratio import Ratio
from wearlab.core.interval import Interval
from wearlab.fit.factors import make_factor
from wearlab.stats.line import fit_line
from wearlab.stats.permutation import exact_mean_difference, score_test_within_blocks
from wearlab.stats.two_groups import blocked, welch


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
    rates = table["rate"].to_numpy(float)
    logs = bool((rates > 0).all())
    values = np.log(rates) if logs else rates
    in_a = (table["group"] == a).to_numpy()
    scale = "ratio" if logs else "difference"
    if adjust:
        return _adjusted(table, values, in_a, level, inner, adjust, scale)
    if block:
        sample = blocked(values, np.where(in_a, "a", "b").tolist(), table[block].astype(str).tolist())
        exact = score_test_within_blocks(values - values.mean(), in_a, table[block].astype(str).tolist(), rng)
    else:
        sample = welch(values[in_a], values[~in_a])
        exact = exact_mean_difference(values[in_a], values[~in_a], rng)
    limits = [sample.interval(one) for one in (level, inner)]
    words = "one slope a cutter, logs, " if logs else "one slope a cutter, raw because a rate is not above 0, "
    return Ratio(
        sample.n_a,
        sample.n_b,
        sample.difference,
        limits[0],
        limits[1],
        sample.p_value,
        exact.p_value,
        exact.smallest_p,
        sample.sd,
        words + sample.method,
        scale,
        sample.why_missing or "",
        sample.se,
        sample.df,
    )


def _adjusted(
    table: pd.DataFrame,
    values: np.ndarray,
    in_a: np.ndarray,
    level: float,
    inner: float,
    adjust: tuple[str, ...],
    scale: str,
) -> Ratio:
    factors = [make_factor(table, column) for column in adjust]
    X = np.hstack(
        [np.ones((len(table), 1)), *(f.columns(table[f.column]) for f in factors), in_a[:, None].astype(float)]
    )
    names = ["intercept", *(name for f in factors for name in f.names), "group"]
    fit = fit_line(X, values, names)
    contrast = np.append(np.zeros(X.shape[1] - 1), 1.0)
    limits = [fit.interval(contrast, one) for one in (level, inner)]
    p = fit.p_value(contrast) if fit.why_missing is None else math.nan
    unknown = Interval(-math.inf, math.inf, level, "none")
    if fit.why_missing is not None:
        limits = [unknown, unknown]
    return Ratio(
        int(in_a.sum()),
        int((~in_a).sum()),
        fit.estimate(contrast),
        limits[0],
        limits[1],
        p,
        math.nan,
        math.nan,
        fit.sigma,
        f"one slope a cutter, least squares, adjusted for {', '.join(adjust)}",
        scale,
        fit.why_missing or "",
        fit.standard_error(contrast),
        float(fit.df),
    )
