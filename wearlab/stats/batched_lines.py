"""Straight lines of many units at once: slopes, errors and crossings for a hundred thousand cutters in milliseconds.

Sums run over the rows of each unit by segment. Every unit is centred on its own means first: raw sums of squares lose
all digits once a clock carries an offset.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray, as_vector

BLOCK = 65_536
"""Numbers of a block of rows."""
CLOSE = 1e-3
"""Residual sums of squares below this share of that of y are formed from the residuals; a difference loses digits."""


@dataclass(frozen=True)
class Lines:
    """One least-squares line for each of m units.

    Attributes
    ----------
    slope, intercept : array, shape (m,)
        NaN where the unit has one reading, or readings at one time only.
    slope_se, sigma : array, shape (m,)
        Standard error of the slope and residual standard deviation; NaN below three readings.
    mean_x, mean_y, sxx : array, shape (m,)
        Means and sum of squares of x.
    n : int array, shape (m,)
        Readings.
    """

    slope: FloatArray
    intercept: FloatArray
    slope_se: FloatArray
    sigma: FloatArray
    mean_x: FloatArray
    mean_y: FloatArray
    sxx: FloatArray
    n: NDArray[np.intp]

    def limits(self, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """t limits of the slopes; infinite where there is no standard error."""
        from scipy.special import stdtrit

        df = np.maximum(self.n - 2, 1)
        half = np.where(
            np.isnan(self.slope_se), np.inf, stdtrit(df, 0.5 + level / 2) * np.nan_to_num(self.slope_se)
        )
        centre = np.nan_to_num(self.slope)
        return centre - half, centre + half

    def crossing(self, level_y: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Where each line reaches a level, and the delta-method standard error; NaN for a flat line.

        Parameters
        ----------
        level_y : array_like
            One level, or one a unit.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            ahead = (np.asarray(level_y, dtype=float) - self.mean_y) / self.slope
            error = self.sigma / np.abs(self.slope) * np.sqrt(1.0 / self.n + ahead**2 / self.sxx)
        flat = ~np.isfinite(ahead)
        return np.where(flat, np.nan, self.mean_x + ahead), np.where(flat, np.nan, error)


def fit_lines(x: ArrayLike, y: ArrayLike, starts: ArrayLike) -> Lines:
    """Fit a line to the rows of each unit.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Rows of all units, those of a unit together.
    starts : array_like of int, shape (m,)
        First row of each unit, rising from 0.

    Returns
    -------
    Lines

    Raises
    ------
    ArgumentError
        When lengths differ, a number is not finite, or the starts do not rise from 0.

    Examples
    --------
    >>> lines = fit_lines([5, 10, 15, 5, 10, 20], [0.1, 0.2, 0.3, 0.1, 0.2, 0.4], [0, 3])
    >>> lines.slope.round(3).tolist()
    [0.02, 0.02]
    """
    across = as_vector(x, "x")
    up = as_vector(y, "y", len(across))
    first = _starts(starts, len(across))
    n = np.diff(np.append(first, len(across)))
    if len(first) and (n == n[0]).all():
        return _rectangular(across.reshape(len(n), -1), up.reshape(len(n), -1), n)
    return _ragged(across, up, first, n)


def _starts(starts: ArrayLike, rows: int) -> NDArray[np.intp]:
    first = np.asarray(starts, dtype=np.intp)
    if first.ndim != 1 or (rows > 0) != bool(len(first)):
        raise ArgumentError(f"{first.size} starts for {rows} rows", where="starts", allowed="one a unit")
    if len(first) and (first[0] != 0 or (np.diff(first) <= 0).any() or first[-1] >= rows):
        raise ArgumentError(
            "starts that do not rise from 0 to a row", where="starts", allowed="0 first, rising"
        )
    return first


def _rectangular(x: FloatArray, y: FloatArray, n: NDArray[np.intp]) -> Lines:
    """Units of equal size, one a row of a matrix."""
    mean_x, mean_y, sxx, slope, rss = line_sums(x, y)
    return _lines(slope, rss, mean_x, mean_y, sxx, n)


def line_sums(
    x: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Mean of x and y, sum of squares of x, slope and residual sum of squares of each row, shape (m,) each.

    Parameters
    ----------
    x : array, shape (m, n) or (n,)
        One row shared by all, or one a row of `y`.
    y : array, shape (m, n)

    Notes
    -----
    Rows are taken in blocks that stay in the processor's cache, which halves the time. Where the residuals are small
    beside y they are formed before they are squared, so that a perfect line leaves none.
    """
    m, n = y.shape
    found = np.empty((5, m))
    share = np.full(n, 1.0 / n)
    step = max(BLOCK // max(n, 1), 1)
    room = np.empty((2, min(step, m), n))
    for first in range(0, m, step):
        rows = slice(first, min(first + step, m))
        up, across = y[rows], x if x.ndim == 1 else x[rows]
        mean_x, mean_y = across @ share, up @ share
        dx = np.subtract(across, mean_x[..., None], out=room[0, 0] if x.ndim == 1 else room[0, : len(up)])
        dy = np.subtract(up, mean_y[:, None], out=room[1, : len(up)])
        sxx, syy = np.vecdot(dx, dx), np.vecdot(dy, dy)
        sxy = dy @ dx if x.ndim == 1 else np.vecdot(dx, dy)
        slope = _slope(sxx, sxy, mean_x, n)
        rss = syy - slope * sxy
        close = np.flatnonzero(~(rss > CLOSE * syy))
        if 2 * len(close) > len(up):
            dy -= np.nan_to_num(slope)[:, None] * dx
            rss = np.vecdot(dy, dy)
        elif len(close):
            left = dy[close] - np.nan_to_num(slope[close])[:, None] * (dx if x.ndim == 1 else dx[close])
            rss[close] = np.vecdot(left, left)
        found[0, rows], found[1, rows], found[2, rows], found[3, rows], found[4, rows] = mean_x, mean_y, sxx, slope, rss
    return found[0], found[1], found[2], found[3], found[4]


def _ragged(x: FloatArray, y: FloatArray, first: NDArray[np.intp], n: NDArray[np.intp]) -> Lines:
    """Units of any sizes, by segments."""
    if not len(first):
        empty = np.empty(0)
        return Lines(empty, empty, empty, empty, empty, empty, empty, n)
    mean_x, mean_y = np.add.reduceat(x, first) / n, np.add.reduceat(y, first) / n
    dx, dy = x - np.repeat(mean_x, n), y - np.repeat(mean_y, n)
    sxx, sxy = np.add.reduceat(dx * dx, first), np.add.reduceat(dx * dy, first)
    slope = _slope(sxx, sxy, mean_x, n)
    left = dy - np.repeat(np.nan_to_num(slope), n) * dx
    return _lines(slope, np.add.reduceat(left * left, first), mean_x, mean_y, sxx, n)


def _slope(sxx: FloatArray, sxy: FloatArray, mean_x: FloatArray, n: NDArray[np.intp] | int) -> FloatArray:
    """Slopes; NaN where x does not vary by more than its rounding."""
    still = sxx <= n * (8 * np.finfo(float).eps * mean_x) ** 2
    return np.where(still, np.nan, sxy / np.where(still, 1.0, sxx))


def _lines(
    slope: FloatArray,
    rss: FloatArray,
    mean_x: FloatArray,
    mean_y: FloatArray,
    sxx: FloatArray,
    n: NDArray[np.intp],
) -> Lines:
    judged = (n > 2) & ~np.isnan(slope)
    if judged.all():
        sigma = np.sqrt(rss / (n - 2))
        return Lines(slope, mean_y - slope * mean_x, sigma / np.sqrt(sxx), sigma, mean_x, mean_y, sxx, n)
    sigma = np.where(judged, np.sqrt(rss / np.maximum(n - 2, 1)), np.nan)
    error = sigma / np.sqrt(np.where(judged, sxx, 1.0))
    return Lines(slope, mean_y - slope * mean_x, error, sigma, mean_x, mean_y, sxx, n)
