"""Power by simulation, where no closed form is exact: Welch's test, withdrawn cutters, looks that only say good.

The verdict of every simulated trial is made by the intervals that `compare` uses: Welch or within blocks for wear
rates, the profile likelihood with the F cut for lives.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wearlab.compare.life_ratio import SPARE
from wearlab.core.errors import ArgumentError
from wearlab.plan.layout import Layout

RUNS = 4000


@dataclass(frozen=True, slots=True)
class Simulated:
    """Share of simulated trials whose interval excludes no difference.

    Attributes
    ----------
    shown : float
    runs : int
        Trials.
    not_estimable : int
        Trials that gave no interval; they count as not shown.
    method : str
    """

    shown: float
    runs: int
    not_estimable: int
    method: str

    @property
    def std_error(self) -> float:
        """Of `shown`, from the number of trials."""
        return math.sqrt(max(self.shown * (1.0 - self.shown), 1.0 / self.runs) / self.runs)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "power": self.shown,
            "std_error": self.std_error,
            "trials": self.runs,
            "not_estimable": self.not_estimable,
            "method": self.method,
        }


def rate_power(
    layout: Layout,
    ratio: float,
    level: float = 0.95,
    runs: int = RUNS,
    rng: int | np.random.Generator | None = None,
) -> Simulated:
    """Power of the comparison of wear rates: Welch on logs, or within blocks; no cutter lost.

    Parameters
    ----------
    layout : Layout
    ratio : float
        True ratio.
    level : float
    runs : int
        Simulated trials.
    rng : int, numpy.random.Generator or None
        Passed to `numpy.random.default_rng`.

    Examples
    --------
    >>> found = rate_power(Layout(8, 0.15, outcome="rate"), 1.3, runs=20000, rng=1)
    >>> round(found.shown, 1)
    0.9
    """
    from scipy.special import stdtrit

    a, b = _logs(layout, ratio, runs, np.random.default_rng(rng))
    n = layout.cutters
    if layout.within:
        gap = (a - b)[:, : layout.shared]
        error = gap.std(axis=1, ddof=1) / math.sqrt(layout.shared)
        estimate, df, method = gap.mean(axis=1), np.full(runs, layout.shared - 1.0), "paired t within blocks"
    else:
        va, vb = a.var(axis=1, ddof=1) / n, b.var(axis=1, ddof=1) / n
        estimate, error = a.mean(axis=1) - b.mean(axis=1), np.sqrt(va + vb)
        df, method = (va + vb) ** 2 / ((va**2 + vb**2) / (n - 1)), "Welch t"
    shown = np.abs(estimate) > stdtrit(df, 0.5 + level / 2) * error
    return Simulated(float(shown.mean()), runs, 0, method)


def life_power(
    layout: Layout,
    ratio: float,
    level: float = 0.95,
    *,
    withdrawn: float | None = None,
    looks_per_life: int | None = None,
    runs: int = RUNS,
    rng: int | np.random.Generator | None = None,
) -> Simulated:
    """Power of the comparison of lives: lognormal life regression with the F cut.

    Parameters
    ----------
    layout : Layout
    ratio : float
        True ratio.
    level : float
    withdrawn : float, optional
        Chance that a cutter is taken out, still good, at a random share of its life; the layout's drop-out when
        left out.
    looks_per_life : int, optional
        Looks up to the expected life, evenly spaced, that only say still good or past; None = lives are read off
        a curve.
    runs : int
    rng : int, numpy.random.Generator or None

    Raises
    ------
    ArgumentError
        When a share or number is none.

    Examples
    --------
    >>> found = life_power(Layout(5, 0.25), 1.4, runs=2000, rng=1)
    >>> round(found.shown, 2)
    0.47
    """
    taken = layout.drop_out if withdrawn is None else withdrawn
    if not 0 <= taken < 1 or (looks_per_life is not None and looks_per_life < 1):
        raise ArgumentError(
            f"withdrawn {taken:g}, looks {looks_per_life}",
            where="simulated power",
            allowed="0 to below 1; 1 or more",
        )
    generator = np.random.default_rng(rng)
    life = np.exp(np.concatenate(_logs(layout, ratio, runs, generator), axis=1))
    low, high = life.copy(), life.copy()
    if looks_per_life is not None:
        expected = np.repeat([ratio, 1.0], layout.cutters)
        gap = expected / looks_per_life
        low = np.floor(life / gap) * gap
        high = low + gap
    out = generator.random(life.shape) < taken
    low = np.where(out, life * generator.random(life.shape), low)
    high = np.where(out, np.inf, high)
    bottom, top = _all_limits(layout, low, high, level)
    shown = (bottom > 0) | (top < 0)
    method = "lognormal life regression, F cut" + (
        ", within blocks where enough lives end" if layout.within else ""
    )
    return Simulated(float(shown.mean()), runs, int(np.isnan(bottom).sum()), method)


def _all_limits(
    layout: Layout, low: np.ndarray, high: np.ndarray, level: float
) -> tuple[np.ndarray, np.ndarray]:
    """Limits of every trial, within blocks where enough lives end; blocks in which none ended are left out, as by
    `compare`, and blocks are alike, so that the trials are sorted by how many are left."""
    n, shared = layout.cutters, layout.shared
    bottom, top = np.full((2, len(low)), np.nan)
    ended = np.isfinite(high)
    idle = ~(ended[:, :shared] | ended[:, n : n + shared])
    lost = idle.sum(axis=1)
    within = layout.within & (ended.sum(axis=1) - (shared - lost) - 1 >= SPARE) & (shared - lost >= 2)
    across = np.flatnonzero(~within)
    if len(across):
        bottom[across], top[across] = _limits(layout, low[across], high[across], level, False)
    for few in np.unique(lost[within]):
        rows = np.flatnonzero(within & (lost == few))
        order = np.argsort(idle[rows], axis=1, kind="stable")[:, : shared - few]
        alone = np.tile(np.arange(shared, n), (len(rows), 1))
        chosen = np.hstack([order, alone, n + order, n + alone])
        left = replace(layout, cutters=n - int(few), shared=shared - int(few))
        lows, highs = (np.take_along_axis(table[rows], chosen, axis=1) for table in (low, high))
        bottom[rows], top[rows] = _limits(left, lows, highs, level, True)
    return bottom, top


def _limits(
    layout: Layout, low: np.ndarray, high: np.ndarray, level: float, blocks: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Limits of the ln ratio of every simulated trial."""
    from wearlab.stats.censored_many import fit_lives_many

    fits = fit_lives_many(_design(layout, blocks), low, high)
    contrast = np.zeros(fits.beta.shape[1])
    contrast[-1] = 1.0
    return fits.interval(contrast, level)


def _logs(layout: Layout, ratio: float, runs: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Ln outcomes of both sides; cutters of one number share a block as far as there are shared blocks."""
    shape = (runs, layout.cutters)
    own, common = math.sqrt(1.0 - layout.correlation), math.sqrt(layout.correlation)
    blocks = rng.standard_normal(shape)
    others = np.where(np.arange(layout.cutters) < layout.shared, blocks, rng.standard_normal(shape))
    a = math.log(ratio) + layout.sigma * (own * rng.standard_normal(shape) + common * blocks)
    return a, layout.sigma * (own * rng.standard_normal(shape) + common * others)


def _design(layout: Layout, blocks: bool) -> np.ndarray:
    """Constant, blocks if they are used, and the side, one row a cutter."""
    n = layout.cutters
    columns = [np.ones(2 * n)]
    if blocks:
        block = np.tile(np.arange(n), 2)
        columns += [(block == one).astype(float) for one in range(1, layout.shared)]
    columns.append(np.repeat([1.0, 0.0], n))
    return np.column_stack(columns)
