"""Ratio of tool lives: lognormal life regression with the F-calibrated profile interval.

Beside it the exact permutation test of the scores of a fit that knows no groups.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import natural_sorted
from wearlab.fit.factors import make_factor
from wearlab.stats.censored import fit_lives
from wearlab.stats.life_bound import one_sided_limit, one_sided_p
from wearlab.stats.lives import Lives
from wearlab.stats.permutation import life_scores, score_test, score_test_within_blocks
from wearlab.stats.separate_scales import welch_lives

SPARE = 4
"""Failures that must be left beside the coefficients before blocks enter a life regression; choice by design size."""


@dataclass(frozen=True, slots=True)
class Ratio:
    """What one outcome says of a over b, before it is judged; logs throughout unless `scale` is difference.

    `se` and `df` are the standard error and the degrees of freedom that a trial like this one would have to beat.
    `at` gives the interval at any level, `p_at` the two-sided p of any value; None where neither can be had.
    `unjudged` says why the interval carries no verdict.
    """

    n_a: int
    n_b: int
    log_ratio: float
    interval: Interval
    inner: Interval
    p_model: float
    p_exact: float
    smallest_p: float
    sigma: float
    method: str
    scale: str = "ratio"
    why_missing: str = ""
    se: float = math.nan
    df: float = math.nan
    note: str = ""
    at: Callable[[float], Interval] | None = field(default=None, repr=False, compare=False)
    p_at: Callable[[float], float] | None = field(default=None, repr=False, compare=False)
    bound_only: bool = False
    unjudged: str = ""


def life_ratio(
    table: pd.DataFrame,
    a: str,
    b: str,
    level: float,
    inner: float,
    block: str,
    adjust: tuple[str, ...],
    rng: int = 0,
) -> Ratio:
    """Compare lives of two groups.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a cutter: `group`, `low`, `high` and the facts.
    a, b : str
        Groups.
    level, inner : float
        Levels of the two intervals.
    block : str
        Column of the blocks, or empty.
    adjust : tuple of str
        Columns of the facts that enter beside the group.
    rng : int
        Seed of the permutation test, used only where there are too many splits to count.

    Notes
    -----
    Where the sides differ in number and nothing else enters, each side has a scatter of its own: a pooled one alarms
    in up to 22 of 100 trials with 3 cutters against 8, when the smaller side scatters three times as much. Where one
    side never failed there is no ratio, and the one limit that the profile likelihood leaves is given.
    """
    in_a = (table["group"] == a).to_numpy()
    n_a, n_b = int(in_a.sum()), int((~in_a).sum())
    every = Lives(table["low"].to_numpy(float), table["high"].to_numpy(float))
    p_exact, smallest = _exact(table, every, in_a, block, bool(adjust), rng)
    table, idle = _telling(table, block, adjust, every)
    in_a = (table["group"] == a).to_numpy()
    lives = Lives(table["low"].to_numpy(float), table["high"].to_numpy(float))
    others, names, blocked = others_of(table, block, adjust, lives.failures)
    X = np.hstack([others, in_a[:, None].astype(float)])
    contrast = np.append(np.zeros(others.shape[1]), 1.0)
    method = "lognormal life regression, profile likelihood with the F cut"
    method += ", within blocks" if blocked else ""
    method += f", adjusted for {', '.join(adjust)}" if adjust else ""
    note = f"no life ended in block {', '.join(idle)}, which so tells nothing within blocks" if idle else ""
    if block and not blocked:
        note = (
            f"{lives.failures} failures are too few to fit the blocks: the interval ignores them, the exact p does not"
        )
    if n_a != n_b and others.shape[1] == 1:
        own = _own_scales(lives, in_a, level, inner, (p_exact, smallest))
        if own is not None:
            return replace(own, note=note)
    try:
        fit = fit_lives(X, lives, "lognormal", [*names, f"group {a}"])
        limits = [fit.interval(contrast, one) for one in (level, inner)]
        p_model = fit.p_value(contrast)
    except Refusal as refusal:
        found = _refused(n_a, n_b, (p_exact, smallest), method, refusal.found, level)
        bound = replace(_bound(X, lives, in_a, found, level, inner), note=note)
        return _with_reasons(bound, a, b, bool(lives.right[in_a].all())) if bound.bound_only else bound
    spare = max(lives.failures - X.shape[1], 1)
    sigma = fit.sigma * math.sqrt(lives.failures / spare)
    return Ratio(
        n_a,
        n_b,
        float(fit.beta[-1]),
        limits[0],
        limits[1],
        p_model,
        p_exact,
        smallest,
        sigma,
        method,
        se=error_of(sigma, lives, in_a),
        df=float(lives.failures - X.shape[1]),
        note=note,
        at=lambda one: fit.interval(contrast, one),
        p_at=lambda value: fit.p_value(contrast, value),
    )


def _with_reasons(bound: Ratio, a: str, b: str, a_is_good: bool) -> Ratio:
    """What a lone limit is, and why it carries no verdict where the side that never failed is the smaller one."""
    good, other = (a, b) if a_is_good else (b, a)
    bound = replace(bound, note=f"no ratio: every cutter of {good} was still good, so there is one limit only")
    if bound.n_a == bound.n_b or (bound.n_a < bound.n_b) != a_is_good:
        return bound
    # With 3 good against 8 of a third of their scatter, 4 more trials in 100 would alarm.
    why = f"{good} never failed and is the smaller side: the limit takes its scatter, of which nothing was seen, to be "
    return replace(bound, unjudged=f"{why}that of {other}")


def _bound(X: np.ndarray, lives: Lives, in_a: np.ndarray, refused: Ratio, level: float, inner: float) -> Ratio:
    """The one limit that is left where one side never failed and the other did; the refusal where it did."""
    sides = [not lives.right[side].all() for side in (in_a, ~in_a)]
    if sum(sides) != 1 or min(in_a.sum(), (~in_a).sum()) < 2:
        return refused
    column = X.shape[1] - 1

    def at(one: float) -> Interval:
        return one_sided_limit(X, lives, column, one)

    def p_at(value: float) -> float:
        return one_sided_p(X, lives, column, value)[0]

    try:
        limits = [at(one) for one in (level, inner)]
        p, df, sigma = one_sided_p(X, lives, column)
    except Refusal:
        return refused
    method = f"{refused.method}: one limit only, for one side never failed"
    sigma *= math.sqrt(lives.failures / max(lives.failures - X.shape[1] + 1, 1))
    return replace(
        refused, interval=limits[0], inner=limits[1], method=method, why_missing="", at=at, p_at=p_at, p_model=p,
        df=float(df), sigma=sigma, se=math.inf, bound_only=True,
    )  # fmt: skip


def _refused(n_a: int, n_b: int, exact: tuple[float, float], method: str, why: str, level: float) -> Ratio:
    """No ratio from these lives; the exact test may still have its say."""
    nan, unknown = math.nan, Interval(-math.inf, math.inf, level, "none")
    return Ratio(n_a, n_b, nan, unknown, unknown, nan, *exact, nan, method, why_missing=why)


def error_of(sigma: float, lives: Lives, in_a: np.ndarray) -> float:
    """Standard error of the ln ratio by the failures on each side: a cutter still good tells less than one worn out."""
    failed = ~lives.right
    sides = [int((failed & in_a).sum()), int((failed & ~in_a).sum())]
    return sigma * math.sqrt(sum(1.0 / one for one in sides)) if min(sides) else math.inf


def _own_scales(lives: Lives, in_a: np.ndarray, level: float, inner: float, exact: tuple[float, float]) -> Ratio | None:
    """Welch's t of censored lives; None where a side has too few failures for a scatter of its own."""
    try:
        sample = welch_lives(lives.take(in_a), lives.take(~in_a), steady=True)
    except Refusal:
        return None
    limits = [sample.interval(one) for one in (level, inner)]
    method = "lognormal life regression, a scatter of its own on each side, Welch t"
    return Ratio(
        sample.n_a,
        sample.n_b,
        sample.difference,
        limits[0],
        limits[1],
        sample.p_value,
        *exact,
        sample.sd,
        method,
        se=sample.se,
        df=sample.df,
        at=sample.interval,
        p_at=sample.p_at,
    )


def _telling(
    table: pd.DataFrame, block: str, adjust: tuple[str, ...], lives: Lives
) -> tuple[pd.DataFrame, list[str]]:
    """The cutters of blocks in which some life ended, and the names of the other blocks.

    A block of its own level in which nothing ended fits perfectly at a level without end, whatever the ratio: the
    likelihood of the ratio is that of the other blocks. Left in, it would keep the fit from being found at all.
    """
    if not block:
        return table, []
    cells = table[block].astype(str)
    ended = set(cells[~lives.right])
    idle = natural_sorted(set(cells) - ended)
    if not idle or not ended:
        return table, []
    kept = table[cells.isin(ended)].reset_index(drop=True)
    if kept["group"].nunique() < 2 or not others_of(kept, block, adjust, lives.failures)[2]:
        return table, []
    return kept, idle


def others_of(
    table: pd.DataFrame, block: str, adjust: tuple[str, ...], failures: int
) -> tuple[np.ndarray, list[str], str]:
    """Columns beside the group: intercept, blocks where there are enough failures, covariates."""
    columns, names = [np.ones((len(table), 1))], ["ln k"]
    if block:
        levels = sorted(table[block].unique())
        if failures - len(levels) - 1 - len(adjust) >= SPARE:
            columns.append(np.array([[cell == level for level in levels[1:]] for cell in table[block]], dtype=float))
            names += [f"block {level}" for level in levels[1:]]
        else:
            block = ""
    for column in adjust:
        factor = make_factor(table, column)
        columns.append(factor.columns(table[column]))
        names += list(factor.names)
    return np.hstack(columns), names, block


def _exact(
    table: pd.DataFrame, lives: Lives, in_a: np.ndarray, block: str, adjusted: bool, rng: int
) -> tuple[float, float]:
    """Exact p of the scores of a fit that knows no groups; none where other factors must be allowed for."""
    if adjusted:
        return math.nan, math.nan
    try:
        scores = life_scores(lives)
    except Refusal:
        return math.nan, math.nan
    blocks = list(table[block]) if block else []
    found = score_test_within_blocks(scores, in_a, blocks, rng) if blocks else score_test(scores, in_a, rng)
    return found.p_value, found.smallest_p
