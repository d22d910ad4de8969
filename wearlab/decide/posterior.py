"""Plausible values of a life regression: draws of its coefficients and its scatter.

Complete lognormal lives: the t posterior with one pooled scatter, a common chi-square draw for all coefficients. Other
lives: the pivots of refitted resamples turned over, which for complete lognormal lives is the same distribution.
"""

from __future__ import annotations

import math

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import LifeRegression
from wearlab.stats.life_resampling import refit_resamples

DRAWS = 4000
"""Draws when no number is given."""


def draw_coefficients(
    fit: LifeRegression, draws: int = DRAWS, rng: np.random.Generator | int | None = None
) -> tuple[np.ndarray, np.ndarray]:
    """Draws of the coefficients and of sigma.

    Parameters
    ----------
    fit : LifeRegression
    draws : int
        At least 100.
    rng : Generator or int, optional

    Returns
    -------
    beta : ndarray, shape (draws, p)
    sigma : ndarray, shape (draws,)
        For resampled fits a few draws fewer where a resample could not be fitted.

    Raises
    ------
    Refusal
        When most resamples cannot be fitted.

    Notes
    -----
    With b, s the fit and b*, s* a refit to lives drawn from it, (b* - b)/s* and s*/s do not depend on the parameters
    for complete lives (Lawless, from memory), so b - (b* - b) s/s* and s^2/s* are draws.
    """
    if draws < 100:
        raise ArgumentError(f"{draws} draws", where="draws", allowed="at least 100")
    generator = np.random.default_rng(rng)
    if fit.distribution == "lognormal" and bool(fit.lives.exact.all()):
        sd = fit.sigma * math.sqrt(fit.n / fit.df)
        sigma = sd * np.sqrt(fit.df / generator.chisquare(fit.df, draws))
        unscaled = fit.covariance[:-1, :-1] / fit.sigma**2
        root = np.linalg.cholesky(unscaled)
        normal = generator.standard_normal((draws, len(fit.beta)))
        return fit.beta + (normal @ root.T) * sigma[:, None], sigma
    refits = refit_resamples(fit, draws, generator)
    scale = fit.sigma / refits.sigma
    return fit.beta - (refits.beta - fit.beta) * scale[:, None], fit.sigma * scale
