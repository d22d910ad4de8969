"""What is believed beforehand of practices and cutters: draws of their lives are weighed by it.

Without it, a posterior takes a difference of a hundredfold for as likely as one of a tenth. Where practices are in
truth nearly alike and cutters few, it then calls the luckier one the better one too surely, and the more so the more
practices there are. Practices are taken as a sample whose ln lives scatter by tau. Tau itself is not known: half its
prior lies below a fifth, and nine tenths of it between a sixteenth and two thirds, so that practices are neither taken
for the very same nor for worlds apart; a threefold difference known to a fifth is pulled in by a tenth. The scatter of
cutters, which few cutters show badly, has a wide prior about what tool lives commonly have.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from wearlab.core.errors import ArgumentError

TYPICAL, WIDTH, TAIL = 0.2, 0.5, 3
"""Scatter of ln life between practices that is as likely exceeded as not; its ln has a Student t about that, of this
width and these degrees of freedom."""
CUTTERS, CUTTERS_WIDTH = 0.3, 1.0
"""Scatter of ln life between cutters, its ln normal about that. Coefficients of variation of tool life of 25 to 45 %
are called typical (Machinery's Handbook, 31st edition, p. 139); a dozen cutters overrule a prior as wide as this."""
POINTS = 400


def weigh(
    beta: np.ndarray, sigma: np.ndarray, rng: np.random.Generator | int | None = None, typical: float = TYPICAL
) -> np.ndarray:
    """Draws, by their index, as many as there are, in proportion to how plausible they are beforehand.

    Parameters
    ----------
    beta : ndarray, shape (draws, practices)
        Ln lives of the practices from a posterior that knows nothing beforehand: flat in beta and in ln sigma.
    sigma : ndarray, shape (draws,)
        Scatter of the cutters' ln lives in the same draws.
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
    integral over tau of tau^-(k-1) exp(-S / (2 tau^2)) p(tau). A prior of tau that is highest at 0 (a half-Cauchy,
    say) states losses too low for several practices that are nearly alike, a flat one chances too high
    (tests/bench/calibration_decide.py). Resampling is systematic, so that equal weights change nothing.

    Examples
    --------
    >>> weigh(np.zeros((4, 1)), np.ones(4), 1).tolist()
    [0, 1, 2, 3]
    """
    draws, practices = beta.shape
    if practices < 2:
        return np.arange(draws)
    squares = ((beta - beta.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    log_weight = log_density(squares, practices, typical) + log_scatter_density(sigma)
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


def log_scatter_density(sigma: np.ndarray) -> np.ndarray:
    """Ln of the prior density of ln sigma, up to a constant.

    >>> round(float(log_scatter_density(np.array([CUTTERS * math.e]))[0]), 6)
    -0.5
    """
    return np.asarray(-0.5 * (np.log(sigma / CUTTERS) / CUTTERS_WIDTH) ** 2)


@cache
def _table(practices: int, typical: float) -> tuple[np.ndarray, np.ndarray]:
    """Ln density on a grid of ln sums of squares."""
    place = np.linspace(-10.0, 10.0, POINTS)
    log_tau = math.log(typical) + WIDTH * place
    nodes = np.linspace(math.log(1e-8), math.log(1e3), POINTS)
    terms = (1 - practices) * log_tau - 0.5 * (TAIL + 1) * np.log1p(place**2 / TAIL)
    terms = terms - np.exp(nodes)[:, None] / (2 * np.exp(2 * log_tau))
    top = terms.max(axis=1)
    return nodes, top + np.log(np.exp(terms - top[:, None]).sum(axis=1))
