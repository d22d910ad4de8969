"""What is believed beforehand of how practices differ: draws of their lives are weighed by it.

Without it, a posterior takes a difference of a hundredfold for as likely as one of a tenth. Where practices are in
truth nearly alike and cutters few, it then calls the luckier one the better one too surely, and the more so the more
practices there are. Practices are taken as a sample whose ln lives scatter by tau; tau itself is not known and has a
half-Cauchy prior: as likely below a quarter as above, and threefold differences are hardly pulled in.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from wearlab.core.errors import ArgumentError

TYPICAL = 0.25
"""Scatter of ln life between practices that is as likely exceeded as not."""
LEAST, MOST = 0.02, 10.0
"""Between these tau is looked for; below, practices are alike for every purpose."""
POINTS = 400


def weigh(
    beta: np.ndarray, rng: np.random.Generator | int | None = None, typical: float = TYPICAL
) -> np.ndarray:
    """Draws, by their index, as many as there are, in proportion to how plausible they are beforehand.

    Parameters
    ----------
    beta : ndarray, shape (draws, practices)
        Ln lives of the practices from a posterior that knows nothing beforehand.
    rng : Generator or int, optional
    typical : float
        Median of tau.

    Returns
    -------
    ndarray of int, shape (draws,)
        All of them once where there is one practice.

    Notes
    -----
    With a flat prior of the common level, the density of k levels with sum of squares S about their mean is the
    integral over tau of tau^-(k-1) exp(-S / (2 tau^2)) p(tau). Half-Cauchy prior of a scale: A. Gelman, Bayesian
    Analysis 1 (2006) 515-533 (from memory). Resampling is systematic, so that equal weights change nothing.

    Examples
    --------
    >>> weigh(np.zeros((4, 1)), 1).tolist()
    [0, 1, 2, 3]
    """
    draws, practices = beta.shape
    if practices < 2:
        return np.arange(draws)
    squares = ((beta - beta.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    log_weight = log_density(squares, practices, typical)
    weight = np.exp(log_weight - log_weight.max())
    steps = (np.arange(draws) + np.random.default_rng(rng).uniform()) / draws
    return np.minimum(np.searchsorted(np.cumsum(weight) / weight.sum(), steps), draws - 1)


def log_density(squares: np.ndarray, practices: int, typical: float = TYPICAL) -> np.ndarray:
    """Ln of the prior density of levels with this sum of squares about their mean, up to a constant.

    Examples
    --------
    >>> near, far = log_density(np.array([0.005, 0.6]), 2)
    >>> bool(1.0 < near - far < 4.0)
    True
    """
    if practices < 2 or not typical > 0:
        raise ArgumentError(f"{practices} practices, typical {typical:g}", allowed="two or more, above 0")
    nodes, values = _table(practices, typical)
    return np.interp(np.log(np.maximum(squares, 1e-8)), nodes, values)


@cache
def _table(practices: int, typical: float) -> tuple[np.ndarray, np.ndarray]:
    """Ln density on a grid of ln sums of squares."""
    log_tau = np.linspace(math.log(LEAST), math.log(MOST), POINTS)
    tau = np.exp(log_tau)
    nodes = np.linspace(math.log(1e-8), math.log(1e3), POINTS)
    # In ln tau, so one power of tau less; the half-Cauchy density up to a constant.
    terms = (2 - practices) * log_tau - np.log1p((tau / typical) ** 2) - np.exp(nodes)[:, None] / (2 * tau**2)
    top = terms.max(axis=1)
    return nodes, top + np.log(np.exp(terms - top[:, None]).sum(axis=1))
