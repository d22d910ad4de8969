"""Power of a comparison by simulation, all trials at once.

Wear rates: with Gaussian reading errors at common times the slope of a cutter is all that its readings say, so slopes
are drawn instead of readings. Lives: drawn, withdrawn at a limit, seen at looks, and compared by the life regression.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.design import FloatArray, as_vector
from wearlab.stats.scatter import scatter_law
from wearlab.stats.two_groups import steady_share


@dataclass(frozen=True)
class SimulatedPower:
    """Share of simulated trials that found a difference.

    Attributes
    ----------
    found, trials : int
        Trials that found it, and all trials that could be judged.
    not_judged : int
        Trials without a test, counted as not found.
    """

    found: int
    trials: int
    not_judged: int

    @property
    def power(self) -> float:
        """Share of all trials."""
        return self.found / self.trials

    @property
    def se(self) -> float:
        """Monte-Carlo standard error of the share."""
        return math.sqrt(self.power * (1 - self.power) / self.trials)

    def interval(self, level: float = 0.95) -> Interval:
        """Wilson interval of the share."""
        from scipy.special import ndtri

        z2 = float(ndtri(0.5 + check_level(level) / 2)) ** 2
        centre = (self.found + z2 / 2) / (self.trials + z2)
        half = math.sqrt(z2 * (self.power * (1 - self.power) * self.trials + z2 / 4)) / (self.trials + z2)
        return Interval(centre - half, centre + half, level, "Wilson")


def welch_p_values(a: FloatArray, b: FloatArray, steady: bool = False) -> FloatArray:
    """Welch p values of many pairs of groups, shape (B,); NaN without scatter.

    Parameters
    ----------
    a, b : array, shape (B, n), (B, m)
    steady : bool
        As in `two_groups.welch`.
    """
    from scipy.special import stdtr

    n, m = a.shape[1], b.shape[1]
    var_a, var_b = a.var(axis=1, ddof=1) / n, b.var(axis=1, ddof=1) / m
    both = var_a + var_b
    safe = np.where(both > 0, both, 1.0)
    share = steady_share(var_a / safe, n, m) if steady else var_a / safe
    df = 1.0 / np.maximum(share**2 / (n - 1) + (1 - share) ** 2 / (m - 1), np.finfo(float).tiny)
    t = (a.mean(axis=1) - b.mean(axis=1)) / np.sqrt(safe)
    return np.where(both > 0, 2 * stdtr(df, -np.abs(t)), np.nan)


def rate_power(
    n_a: int,
    n_b: int,
    ratio: float,
    sigma: float,
    times: ArrayLike,
    reading_error: float,
    rate: float = 1.0,
    level: float = 0.95,
    trials: int = 10_000,
    rng: np.random.Generator | int | None = None,
) -> SimulatedPower:
    """Power of Welch's t on ln wear rates, each rate the slope of a cutter's readings.

    Where a slope of a trial is not positive, the slopes themselves are compared in that trial.

    Parameters
    ----------
    n_a, n_b : int
        Cutters a side, at least 2.
    ratio : float
        True ratio of rates a / b.
    sigma : float
        Scatter of ln rate between cutters.
    times : array_like
        Times of the readings.
    reading_error : float
        Standard deviation of one reading.
    rate : float
        Median rate of b, in units of a reading by time.
    level : float
        One less the size of the test.
    trials : int
        Simulated trials.
    rng : Generator or int, optional

    Returns
    -------
    SimulatedPower

    Examples
    --------
    >>> found = rate_power(6, 6, 1.3, 0.15, [5, 10, 15, 20, 25, 30, 35, 40], 0.006, 0.006, rng=1)
    >>> 0.6 < found.power < 0.8
    True
    """
    clock = as_vector(times, "times")
    sxx = float(np.sum((clock - clock.mean()) ** 2)) if len(clock) else 0.0
    if min(n_a, n_b) < 2 or sigma < 0 or reading_error < 0 or min(ratio, rate, trials) <= 0 or sxx <= 0:
        raise ArgumentError(
            f"{n_a} and {n_b} cutters, scatter {sigma:g}, error {reading_error:g}, ratio {ratio:g}",
            where="power of a comparison of rates",
            allowed="at least 2 a side, no negative scatter, a positive ratio, two times or more",
        )
    generator = np.random.default_rng(rng)
    error = reading_error / math.sqrt(sxx)
    a = _slopes(generator, (trials, n_a), rate * ratio, sigma, error)
    b = _slopes(generator, (trials, n_b), rate, sigma, error)
    positive = np.all(a > 0, axis=1) & np.all(b > 0, axis=1)
    log_a, log_b = (np.log(np.where(positive[:, None], one, 1.0)) for one in (a, b))
    use = positive[:, None]
    p = welch_p_values(np.where(use, log_a, a), np.where(use, log_b, b))
    return SimulatedPower(int(np.sum(p < 1 - check_level(level))), trials, int(np.isnan(p).sum()))


def life_power(
    n_a: int,
    n_b: int,
    ratio: float,
    sigma: float,
    median: float = 1.0,
    limit: float = math.inf,
    looks: ArrayLike | None = None,
    level: float = 0.95,
    distribution: str = "lognormal",
    trials: int = 2_000,
    rng: np.random.Generator | int | None = None,
) -> SimulatedPower:
    """Power of the life regression's F-calibrated test of two practices.

    Parameters
    ----------
    n_a, n_b : int
        Cutters a side.
    ratio : float
        True ratio of lives a / b.
    sigma : float
        Scale of ln life.
    median : float
        Median life of b.
    limit : float
        Time at which cutters are taken out still good.
    looks : array_like, optional
        Times of the looks when a life is only known to lie between two of them.
    level : float
        One less the size of the test.
    distribution : str
        Law of life.
    trials : int
        Simulated trials.
    rng : Generator or int, optional

    Returns
    -------
    SimulatedPower
        Trials in which the ratio cannot be estimated count as not found.

    Examples
    --------
    >>> found = life_power(8, 8, 1.4, 0.25, rng=1, trials=500)
    >>> 0.6 < found.power < 0.8
    True
    """
    if min(n_a, n_b) < 1 or sigma <= 0 or min(ratio, median, limit, trials) <= 0:
        raise ArgumentError(
            f"{n_a} and {n_b} cutters, scatter {sigma:g}, ratio {ratio:g}, limit {limit:g}",
            where="power of a comparison of lives",
            allowed="positive sizes, scatter, ratio and limit",
        )
    law, generator = scatter_law(distribution), np.random.default_rng(rng)
    in_a = np.arange(n_a + n_b) < n_a
    location = math.log(median) - sigma * law.quantile(0.5) + np.where(in_a, math.log(ratio), 0.0)
    life = np.exp(location + sigma * law.draw(generator, (trials, n_a + n_b)))
    lower, upper = seen_at(life, limit, looks)
    fits = fit_lives_many(np.column_stack([np.ones(n_a + n_b), in_a]), lower, upper, distribution)
    p = fits.p_value([0.0, 1.0])
    return SimulatedPower(int(np.sum(p < 1 - check_level(level))), trials, int(np.isnan(p).sum()))


def seen_at(
    life: FloatArray, limit: float = math.inf, looks: ArrayLike | None = None
) -> tuple[FloatArray, FloatArray]:
    """Bounds of lives that are withdrawn at a limit and, where looks are given, only seen at those.

    Examples
    --------
    >>> low, high = seen_at(np.array([3.0, 12.0, 40.0]), 30.0, [10.0, 20.0, 30.0])
    >>> low.tolist(), high.tolist()
    ([0.0, 10.0, 30.0], [10.0, 20.0, inf])
    """
    lower, upper = life, life
    if looks is not None:
        grid = np.concatenate([[0.0], np.sort(as_vector(looks, "looks")), [np.inf]])
        step = np.searchsorted(grid, life, side="left")
        # Being taken out is a look as well.
        lower, upper = grid[step - 1], np.minimum(grid[step], limit)
    taken = life > limit
    return np.where(taken, limit, lower), np.where(taken, np.inf, upper)


def _slopes(
    generator: np.random.Generator, shape: tuple[int, int], rate: float, sigma: float, error: float
) -> FloatArray:
    return rate * np.exp(sigma * generator.standard_normal(shape)) + error * generator.standard_normal(shape)
