"""Gauss-Legendre sums for the few integrals of this room that have no closed form."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.arrays import Floats

NODES = 96


@lru_cache(maxsize=16)
def unit_nodes(count: int = NODES) -> tuple[Floats, Floats]:
    """Nodes and weights on 0..1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return (nodes + 1) / 2, weights / 2


def integral(
    function: Callable[[Floats], Floats], low: ArrayLike, high: ArrayLike, count: int = NODES
) -> Floats:
    """Integral of a vectorised function from `low` to `high` (arrays broadcast); the nodes are the last axis.

    >>> round(float(integral(np.sin, 0, np.pi)), 12)
    2.0
    """
    nodes, weights = unit_nodes(count)
    start = np.asarray(low, dtype=np.float64)
    span = np.asarray(high, dtype=np.float64) - start
    return np.sum(function(start[..., None] + span[..., None] * nodes) * weights, axis=-1) * span


def ends_integral(function: Callable[[Floats], Floats], low: float, high: float, count: int = NODES) -> float:
    """Integral of a function with square-root corners at both ends, by the substitution x = mid + half
    sin(t).

    >>> round(ends_integral(lambda x: np.sqrt(1 - x**2), -1, 1), 12) == round(np.pi / 2, 12)
    True
    """
    middle, half = (low + high) / 2, (high - low) / 2
    return float(
        integral(
            lambda t: function(middle + half * np.sin(t)) * half * np.cos(t), -np.pi / 2, np.pi / 2, count
        )
    )
