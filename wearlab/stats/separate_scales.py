"""Ratio of lives with a scatter of its own on each side: Welch's idea for censored lives.

A life regression with one scale for both sides alarms far too often when the smaller side scatters more. Here each side
has its own profile likelihood of ln median life, on the t-like scale on which complete lognormal lives are Student's t.
A difference d is as far away as the best pair of medians that differ by d: the smallest sum of the two squared sizes.
Its reference is Welch's t: the degrees of freedom follow from how the two sides share the way. With complete lognormal
lives this is exactly Welch's test on the logs; with withdrawals it keeps the power that Wald's standard errors lose.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.censored import fit_lives
from wearlab.stats.censored_many import LifeRegressions, fit_lives_many
from wearlab.stats.design import FloatArray
from wearlab.stats.lives import Lives
from wearlab.stats.two_groups import steady_share

STEPS = 60
"""Most steps of the search for the best pair of medians."""
CLOSE = 1e-8
"""Step, as a share of the distance of the medians, at which the search is over."""


@dataclass(frozen=True)
class SeparateScales:
    """A difference of ln median lives, a - b, each side with a scale of its own.

    Attributes
    ----------
    difference : float
        Estimated difference.
    se, df : float
        Wald standard error and Welch degrees of freedom at the estimate: for display, not for the interval.
    n_a, n_b : int
        Lives of each side.
    sd : float
        Pooled scale of ln life.
    method : str
        Which test.
    why_missing : None
        Always None: what cannot be compared is refused.
    """

    difference: float
    se: float
    df: float
    n_a: int
    n_b: int
    sd: float
    method: str
    why_missing: str | None = None
    sides: tuple[LifeRegressions, LifeRegressions] | None = field(default=None, repr=False)
    steady: bool = False

    @property
    def p_value(self) -> float:
        """Two-sided p of no difference."""
        return self.p_at(0.0)

    def p_at(self, value: float) -> float:
        """Two-sided p of a difference of `value`."""
        from scipy.special import stdtr

        size, df = self._size(value)
        return float(2 * stdtr(df, -abs(size)))

    def p_above(self, value: float) -> float:
        """One-sided p of a difference at or below `value`: small when the data put it above."""
        from scipy.special import stdtr

        size, df = self._size(value)
        return float(stdtr(df, -size))

    def interval(self, level: float = 0.95) -> Interval:
        """Differences that are not contradicted; a side without a limit is infinite."""
        check_level(level)
        low, high = (self._limit(side, level) for side in (-1.0, 1.0))
        return Interval(low, high, level, self.method)

    def _size(self, value: float) -> tuple[float, float]:
        """Signed t-like size of a difference of `value` (positive when the estimate is above), and its df."""
        assert self.sides is not None
        size, df = signed_sizes(*self.sides, value, self.steady)
        if math.isnan(size[0]):
            raise Refusal("the profile likelihood has no point there", where="lives with separate scales")
        return float(size[0]), float(df[0])

    def _limit(self, side: float, level: float) -> float:
        from scipy.optimize import brentq
        from scipy.special import stdtrit

        def excess(value: float) -> float:
            size, df = self._size(value)
            return float(stdtrit(df, 0.5 + level / 2)) - abs(size)

        step = max(self.se * float(stdtrit(self.df, 0.5 + level / 2)), 1e-6)
        inner = self.difference
        for _ in range(20):
            outer = inner + side * step
            if excess(outer) < 0:
                return float(brentq(excess, min(inner, outer), max(inner, outer), xtol=1e-9))
            inner, step = outer, 2 * step
        return side * math.inf


def welch_lives(a: Lives, b: Lives, distribution: str = "lognormal", steady: bool = False) -> SeparateScales:
    """Difference of ln median lives, a - b, with a scale of its own on each side.

    Parameters
    ----------
    a, b : Lives
    distribution : str
        As in `fit_lives`.
    steady : bool
        Take the degrees of freedom from `two_groups.steady_share`, by the failures of each side.

    Returns
    -------
    SeparateScales
        On the scale of ln life.

    Raises
    ------
    Refusal
        When a side has fewer than two failures or no scatter.

    Examples
    --------
    >>> result = welch_lives(Lives([40, 52, 61], [40, 52, 61]), Lives.right_censored([30, 35, 50, 55], [1, 1, 1, 0]))
    >>> round(result.difference, 3), round(result.p_value, 3)
    (0.153, 0.578)
    """
    # The single fits name what is missing; the batched ones, of one replicate each, carry the search.
    fits = [fit_lives(np.ones((len(one), 1)), one, distribution) for one in (a, b)]
    first, second = (
        fit_lives_many(np.ones((len(one), 1)), one.lower, one.upper, distribution) for one in (a, b)
    )
    spread = [_median_variance(one)[0] for one in (first, second)]
    share = spread[0] / sum(spread)
    if steady:
        share = float(steady_share(share, fits[0].failures, fits[1].failures))
    df = 1.0 / (share**2 / fits[0].df + (1 - share) ** 2 / fits[1].df)
    sd = math.sqrt(sum(fit.sigma**2 * fit.failures for fit in fits) / sum(fit.df for fit in fits))
    difference = fits[0].log_quantile([1.0]) - fits[1].log_quantile([1.0])
    method = "profile likelihood of each side, Welch t"
    return SeparateScales(
        difference, math.sqrt(sum(spread)), float(df), len(a), len(b), sd, method, None, (first, second), steady
    )


def welch_lives_p_values(
    lower_a: ArrayLike,
    upper_a: ArrayLike,
    lower_b: ArrayLike,
    upper_b: ArrayLike,
    distribution: str = "lognormal",
    steady: bool = False,
) -> FloatArray:
    """p values of many pairs of sides, shape (B,); NaN where a side cannot be fitted.

    Parameters
    ----------
    lower_a, upper_a : array_like, shape (B, n)
        Bounds of the lives of one side.
    lower_b, upper_b : array_like, shape (B, m)
        Of the other.
    distribution, steady
        As in `welch_lives`.
    """
    from scipy.special import stdtr

    sides = []
    for lower, upper in ((lower_a, upper_a), (lower_b, upper_b)):
        bounds = np.asarray(lower, dtype=float), np.asarray(upper, dtype=float)
        sides.append(fit_lives_many(np.ones((bounds[0].shape[1], 1)), *bounds, distribution))
    size, df = signed_sizes(sides[0], sides[1], 0.0, steady)
    known = ~np.isnan(size)
    return np.where(known, 2 * stdtr(np.where(known, df, 1.0), -np.abs(np.nan_to_num(size))), np.nan)


def signed_sizes(
    a: LifeRegressions, b: LifeRegressions, value: float, steady: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Signed t-like size of a difference of ln medians of `value` in each pair of replicates, and its df.

    Parameters
    ----------
    a, b : LifeRegressions
        One-sample fits of the two sides, replicate by replicate.
    value : float
        Hypothetical difference a - b.
    steady : bool
        As in `welch_lives`.

    Returns
    -------
    tuple of array, shape (B,)
        NaN where a side has no fit.
    """
    top, bottom = a.log_quantile([1.0]) - value, b.log_quantile([1.0])
    rows = np.flatnonzero(a.converged & b.converged)
    size, df = np.full((2, len(a.sigma)), np.nan)
    if not len(rows):
        return size, df
    first, second = a.take(rows), b.take(rows)
    at, total = _best_pair(first, second, value, top[rows], bottom[rows])
    way = np.abs(top[rows] - at), np.abs(at - bottom[rows])
    whole = way[0] + way[1]
    share = np.where(whole > 0, way[0] / np.where(whole > 0, whole, 1.0), 0.5)
    if steady:
        share = steady_share(share, first.failures, second.failures)
    df[rows] = 1.0 / (share**2 / (first.failures - 1) + (1 - share) ** 2 / (second.failures - 1))
    size[rows] = np.sign(top[rows] - bottom[rows]) * np.sqrt(total)
    return size, df


def _best_pair(
    a: LifeRegressions, b: LifeRegressions, value: float, top: FloatArray, bottom: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """ln median of b, that of a being `value` larger, at which the sum of the squared sizes is smallest, and the sum.

    Both squared sizes rise away from their estimates, so the best point lies between; it is where their slopes cancel,
    found by regula falsi (Illinois) with a bisection now and then.
    """
    low, high = np.minimum(top, bottom), np.maximum(top, bottom)
    best, total = (low + high) / 2, np.zeros_like(low)
    rows, last = np.arange(len(low)), np.full(len(low), np.inf)
    # At the lower end both fall or one is at rest, at the upper end the other way round.
    g_low, g_high = (_squares(a, b, value, end)[1] for end in (low, high))
    for step in range(STEPS):
        at = _between(low, high, g_low, g_high, step)
        square, slope = _squares(a, b, value, at)
        best[rows], total[rows] = at, square
        right = slope < 0
        # A side that stays counts for half the next time (Illinois).
        g_low = np.where(right, slope, g_low / 2)
        g_high = np.where(right, g_high / 2, slope)
        low, high = np.where(right, at, low), np.where(right, high, at)
        # An error of the place enters the sum squared.
        moving = ~(np.abs(at - last) <= CLOSE * np.abs(top - bottom)) & ~np.isnan(square)
        if not moving.any():
            break
        keep = np.flatnonzero(moving)
        a, b, rows, last = a.take(keep), b.take(keep), rows[keep], at[keep]
        low, high, g_low, g_high, top, bottom = (one[keep] for one in (low, high, g_low, g_high, top, bottom))
    return best, total


def _between(
    low: FloatArray, high: FloatArray, g_low: FloatArray, g_high: FloatArray, step: int
) -> FloatArray:
    """Where the chord of the slopes crosses zero; the middle where it has no such place, and every fourth time."""
    middle, rise = (low + high) / 2, g_high - g_low
    chord = low - g_low * (high - low) / np.where(rise > 0, rise, 1.0)
    usable = (rise > 0) & (chord > low) & (chord < high) & (step % 4 != 3)
    return np.where(usable, chord, middle)


def _squares(
    a: LifeRegressions, b: LifeRegressions, value: float, at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Sum of the squared sizes of the two sides with b's ln median at `at`, and its derivative."""
    first, second = a.squared_sizes([1.0], at + value, 0.5), b.squared_sizes([1.0], at, 0.5)
    return first[0] + second[0], first[1] + second[1]


def _median_variance(fits: LifeRegressions) -> FloatArray:
    """Wald variance of ln median life, enlarged as a variance with one fitted location is."""
    from wearlab.stats.scatter import scatter_law

    z = scatter_law(fits.distribution).quantile(0.5)
    gradient = np.column_stack([np.ones_like(fits.sigma), z * fits.sigma])
    wald = np.einsum("bi,bij,bj->b", gradient, fits.covariance, gradient)
    return wald * fits.failures / (fits.failures - 1)
