"""Holm's step-down adjustment of several p values."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray


def holm(p_values: ArrayLike) -> FloatArray:
    """p values adjusted so that the chance of any false alarm among them is held (Holm 1979).

    Parameters
    ----------
    p_values : array_like, shape (m,)
        NaN for a comparison without a test, which stays NaN and is not counted.

    Returns
    -------
    array, shape (m,)

    Examples
    --------
    >>> holm([0.01, 0.04, 0.03]).round(3).tolist()
    [0.03, 0.06, 0.06]
    """
    p = np.asarray(p_values, dtype=float)
    if p.ndim != 1 or (p < 0).any() or (p > 1).any():
        raise ArgumentError(f"p values {p.tolist()}", where="holm", allowed="one dimension, 0 to 1")
    adjusted = np.full(len(p), np.nan)
    tested = np.flatnonzero(~np.isnan(p))
    order = tested[np.argsort(p[tested], kind="stable")]
    steps = len(order) - np.arange(len(order))
    adjusted[order] = np.minimum(np.maximum.accumulate(p[order] * steps), 1.0)
    return adjusted
