"""Rising least-squares fit: pool-adjacent-violators."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray, as_vector


def isotonic(y: ArrayLike, weights: ArrayLike | None = None, increasing: bool = True) -> FloatArray:
    """Closest sequence to `y` that never falls (or never rises).

    Parameters
    ----------
    y : array_like, shape (n,)
        Values in order.
    weights : array_like, shape (n,), optional
        Positive weights, such as the number of flutes behind each mean.
    increasing : bool
        False for a sequence that never rises.

    Returns
    -------
    array, shape (n,)

    Raises
    ------
    ArgumentError
        When a value is not finite or a weight not positive.

    Examples
    --------
    >>> isotonic([0.05, 0.11, 0.09, 0.20]).tolist()
    [0.05, 0.1, 0.1, 0.2]
    """
    from scipy.optimize import isotonic_regression

    values = as_vector(y, "y")
    if weights is not None:
        share = as_vector(weights, "weights", len(values))
        if (share <= 0).any():
            raise ArgumentError(f"weight {share.min():g}", where="weights", allowed="above 0")
    if not len(values):
        return values
    fitted = isotonic_regression(values, weights=None if weights is None else share, increasing=increasing)
    return np.asarray(fitted.x, dtype=float)
