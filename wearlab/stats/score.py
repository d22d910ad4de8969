"""Scores of a fitted life regression: how much longer each row lasted than the fit expects."""

from __future__ import annotations

import numpy as np

from wearlab.stats.censored import LifeRegression
from wearlab.stats.design import FloatArray
from wearlab.stats.scatter import scatter_law


def location_scores(fit: LifeRegression) -> FloatArray:
    """Derivative of each row's log-likelihood by its location, times sigma, shape (n,).

    For an exact lognormal life it is the standardised residual; for a bound, the expected one beyond it. The
    scores are orthogonal to the columns of the fitted design.

    Parameters
    ----------
    fit : LifeRegression

    Examples
    --------
    >>> from wearlab.stats.censored import fit_lives
    >>> from wearlab.stats.lives import Lives
    >>> fit = fit_lives([[1.0]] * 4, Lives([4, 5, 6, 7], [4, 5, 6, float("inf")]))
    >>> location_scores(fit).round(3).tolist()
    [-1.253, -0.416, 0.267, 1.402]
    """
    law, lives = scatter_law(fit.distribution), fit.lives
    location = fit.X @ fit.beta + (0.0 if fit.offset is None else fit.offset)
    with np.errstate(divide="ignore"):
        low, high = (np.log(lives.lower) - location) / fit.sigma, (np.log(lives.upper) - location) / fit.sigma
    scores = np.empty(len(lives))
    for rows, bound, terms in (
        (lives.exact, low, law.exact), (lives.right, low, law.right), (lives.left, high, law.left),
    ):  # fmt: skip
        scores[rows] = -terms(bound[rows])[1]
    rows = lives.interval
    _, by_low, by_high, *_ = law.between(low[rows], high[rows])
    scores[rows] = -(by_low + by_high)
    return scores
