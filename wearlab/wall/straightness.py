"""Straightness of a wall: the narrowest band between two parallel lines that holds every reading."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats


def straightness_mm(heights_mm: ArrayLike, deviations_mm: ArrayLike) -> float:
    """Width of the narrowest band, taken across the wall (ISO 1101, minimum zone; from memory).

    The band lies along a side of the convex hull of the readings, so it is found among those sides and not
    searched for. It holds reading error as well as form: with noisy readings it is too wide.

    Parameters
    ----------
    heights_mm, deviations_mm : array_like, shape (n,)
        Height above the floor, and deviation from nominal there.

    Returns
    -------
    float
        In mm; NaN for fewer than three heights, which no band can judge.

    Raises
    ------
    ArgumentError
        The arrays differ in length, or something is missing.

    Examples
    --------
    >>> round(straightness_mm([0, 1, 2, 3], [0.0, 0.002, 0.0, 0.0]), 6)
    0.002
    >>> round(straightness_mm([0, 4, 8], [0.010, 0.006, 0.002]), 9)
    0.0
    """
    z = np.asarray(heights_mm, dtype=np.float64)
    e = np.asarray(deviations_mm, dtype=np.float64)
    if z.ndim != 1 or z.shape != e.shape or not (np.isfinite(z).all() and np.isfinite(e).all()):
        raise ArgumentError(
            f"{z.shape} heights and {e.shape} deviations", where="straightness", allowed="one number for each height"
        )
    if len(np.unique(z)) < 3:
        return float("nan")
    # The band touches two neighbours of the lower or of the upper hull, and the reading farthest from their line.
    return min(_least_band(z, e), _least_band(z, -e))


def _least_band(z: Floats, e: Floats) -> float:
    """Least band that lies along a side of the lower hull."""
    order = np.lexsort((e, z))
    z, e = z[order], e[order]
    hull: list[int] = []
    for at in range(len(z)):
        if hull and z[at] == z[hull[-1]]:
            continue  # of readings at one height the lowest stands first
        while len(hull) > 1 and _turn(z, e, hull[-2], hull[-1], at) <= 0:
            hull.pop()
        hull.append(at)
    a, b = np.array(hull[:-1]), np.array(hull[1:])
    slopes = (e[b] - e[a]) / (z[b] - z[a])
    above = e[None, :] - (e[a][:, None] + slopes[:, None] * (z[None, :] - z[a][:, None]))
    return float(above.max(axis=1).min())


def _turn(z: Floats, e: Floats, a: int, b: int, c: int) -> float:
    return float((z[b] - z[a]) * (e[c] - e[a]) - (e[b] - e[a]) * (z[c] - z[a]))
