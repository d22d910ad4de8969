"""Lives drawn from a fitted regression and looked at the way that the observed ones were, then fitted again.

Withdrawal is drawn conditionally: a row that was withdrawn keeps its time of withdrawal; one that failed
gets one beyond its life from the Kaplan-Meier curve of the withdrawal times, where that curve reaches so
far. A row that failed between two looks is looked at again at the same spacing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.censored import LifeRegression
from wearlab.stats.censored_many import LifeRegressions, fit_lives_many
from wearlab.stats.design import FloatArray
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law


@dataclass(frozen=True)
class Refits:
    """Fits to resamples that have one.

    Attributes
    ----------
    beta : array, shape (B, p)
    sigma : array, shape (B,)
    asked : int
        Resamples drawn; those without a fit are left out of the arrays.
    """

    beta: FloatArray
    sigma: FloatArray
    asked: int


def refit_resamples(
    fit: LifeRegression, resamples: int, rng: np.random.Generator | int | None = None
) -> Refits:
    """Draw lives from a fit, look at them as the observed ones were looked at, and fit them again.

    Parameters
    ----------
    fit : LifeRegression
    resamples : int
        At least 100.
    rng : Generator or int, optional

    Returns
    -------
    Refits

    Raises
    ------
    ArgumentError
        When fewer than 100 resamples are asked for.
    Refusal
        When fewer than half of the resamples can be fitted.
    """
    many, _ = refit_many(fit, resamples, rng)
    good = many.converged
    return Refits(many.beta[good], many.sigma[good], resamples)


def refit_many(
    fit: LifeRegression,
    resamples: int,
    rng: np.random.Generator | int | None = None,
    row: FloatArray | None = None,
) -> tuple[LifeRegressions, FloatArray]:
    """Fits to resamples, with or without one further life of the fitted law at a design row.

    Parameters
    ----------
    fit : LifeRegression
    resamples : int
        At least 100.
    rng : Generator or int, optional
    row : array, shape (p,), optional
        Design row (offset 0) of the further life; it gets a coefficient of its own, the last one.

    Returns
    -------
    LifeRegressions
        Of all resamples; those that cannot be fitted are marked.
    array, shape (resamples,)
        The further lives; empty without a row.

    Raises
    ------
    ArgumentError, Refusal
        As in `refit_resamples`.
    """
    if resamples < 100:
        raise ArgumentError(f"{resamples} resamples", where="resamples", allowed="at least 100")
    generator = np.random.default_rng(rng)
    lower, upper = draw_lives(fit, resamples, generator)
    X, offset, further = fit.X, fit.offset, np.empty(0)
    if row is not None:
        X, offset = with_further_life(fit, row)
        scatter = scatter_law(fit.distribution).draw(generator, (resamples, 1))
        life = np.exp(np.clip(fit.estimate(row) + fit.sigma * scatter, -600.0, 600.0))
        lower, upper, further = np.hstack([lower, life]), np.hstack([upper, life]), life[:, 0]
    many = fit_lives_many(X, lower, upper, fit.distribution, None, offset)
    if many.converged.mean() < 0.5:
        raise Refusal(
            f"only {many.converged.sum()} of {resamples} resamples could be fitted",
            where="resampling of lives",
            hint="more failures, or more looks at each",
        )
    return many, further


def with_further_life(fit: LifeRegression, row: FloatArray) -> tuple[FloatArray, FloatArray | None]:
    """Design and offset with one further row that has a coefficient of its own."""
    own = np.append(np.zeros(fit.n), 1.0)
    offset = None if fit.offset is None else np.append(fit.offset, 0.0)
    return np.column_stack([np.vstack([fit.X, row]), own]), offset


def draw_lives(
    fit: LifeRegression, size: int, generator: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Bounds of `size` replicates of lives drawn from a fit, shape (size, n) each."""
    location = fit.X @ fit.beta + (0.0 if fit.offset is None else fit.offset)
    scatter = scatter_law(fit.distribution).draw(generator, (size, fit.n))
    # A life is kept above the smallest number, so that the far tail of a Weibull stays a life.
    life = np.exp(np.clip(location + fit.sigma * scatter, -600.0, 600.0))
    return observe(life, fit.lives, withdrawal_times(fit.lives, size, generator))


def withdrawal_times(lives: Lives, size: int, generator: np.random.Generator) -> FloatArray:
    """Times of withdrawal for `size` replicates, shape (size, n); infinite where none is known to have
    loomed.
    """
    times = np.broadcast_to(np.where(lives.right, lives.lower, np.inf), (size, len(lives))).copy()
    if not lives.right.any():
        return times
    last = np.where(lives.right, lives.lower, np.where(lives.exact, lives.lower, lives.upper))
    points, survival = _withdrawal_curve(last, lives.right)
    for row in np.flatnonzero(~lives.right):
        # Conditional on lasting beyond the row's own life: a share of what the curve has left there.
        beyond = points > last[row]
        left = float(survival[~beyond][-1]) if (~beyond).any() else 1.0
        height = generator.uniform(size=size) * left
        position = np.searchsorted(-survival[beyond], -height, side="left")
        times[:, row] = np.append(points[beyond], np.inf)[position]
    return times


def _withdrawal_curve(last: FloatArray, withdrawn: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Kaplan-Meier curve of the times of withdrawal: failures are what censors them."""
    points = np.unique(last[withdrawn])
    at_risk = np.array([np.sum(last >= point) for point in points])
    events = np.array([np.sum((last == point) & withdrawn) for point in points])
    return points, np.cumprod(1.0 - events / at_risk)


def observe(life: FloatArray, lives: Lives, withdrawal: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Bounds of drawn lives when looked at as the rows of `lives` were."""
    lower, upper = life.copy(), life.copy()
    looked = lives.interval | lives.left
    if looked.any():
        start = np.where(lives.interval, lives.lower, 0.0)[looked]
        spacing = (lives.upper - np.where(lives.interval, lives.lower, 0.0))[looked]
        count = np.floor((life[:, looked] - start) / spacing)
        lower[:, looked] = np.maximum(start + count * spacing, 0.0)
        upper[:, looked] = start + (count + 1) * spacing
    taken = withdrawal <= life
    return np.where(taken, withdrawal, lower), np.where(taken, np.inf, upper)
