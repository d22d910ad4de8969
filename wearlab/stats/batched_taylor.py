"""Many complete fits of ln life on ln speed at once, for planning and for calibration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import check_level
from wearlab.stats.batched_lines import line_sums
from wearlab.stats.design import FloatArray


@dataclass(frozen=True)
class PowerLaws:
    """B fits of y = intercept + slope x.

    Attributes
    ----------
    slope, intercept, slope_se, sigma : array, shape (B,)
        Least squares.
    mean_x, sxx : array, shape (B,)
        Mean and sum of squares of x.
    n : int
        Observations of each fit.
    """

    slope: FloatArray
    intercept: FloatArray
    slope_se: FloatArray
    sigma: FloatArray
    mean_x: FloatArray
    sxx: FloatArray
    n: int

    @property
    def exponent(self) -> FloatArray:
        """Minus one over the slope: Taylor's n."""
        with np.errstate(divide="ignore"):
            return -1.0 / self.slope

    def limits(self, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """t limits of the slopes."""
        half = self._quantile(level) * self.slope_se
        return self.slope - half, self.slope + half

    def exponent_limits(self, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """Limits of n by inverting those of the slope; infinite where the slope may be 0."""
        low, high = self.limits(level)
        falls = high < 0
        safe_low, safe_high = np.where(falls, low, -1.0), np.where(falls, high, -1.0)
        return np.where(falls, -1.0 / safe_low, -np.inf), np.where(falls, -1.0 / safe_high, np.inf)

    def mean_limits(self, x: float, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
        """t limits of the mean of y at x."""
        centre = self.intercept + self.slope * x
        half = self._quantile(level) * self.sigma * np.sqrt(1 / self.n + (x - self.mean_x) ** 2 / self.sxx)
        return centre - half, centre + half

    def _quantile(self, level: float) -> float:
        from scipy.special import stdtrit

        return float(stdtrit(self.n - 2, 0.5 + check_level(level) / 2))


def fit_power_laws(x: ArrayLike, y: ArrayLike) -> PowerLaws:
    """Fit a line to each row of `y`.

    Parameters
    ----------
    x : array_like, shape (n,) or (B, n)
        ln speed, shared or one set a row.
    y : array_like, shape (B, n)
        ln life.

    Returns
    -------
    PowerLaws

    Raises
    ------
    ArgumentError
        When the shapes do not match.
    Refusal
        When there are fewer than three observations, or a set of speeds does not vary.

    Examples
    --------
    >>> fits = fit_power_laws(np.log([110, 140, 180]), np.log([[60.0, 25.0, 9.5], [66.0, 27.0, 10.0]]))
    >>> fits.exponent.round(3).tolist()
    [0.267, 0.261]
    """
    across, up = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if up.ndim != 2 or across.shape not in (up.shape, up.shape[1:]):
        raise ArgumentError(
            f"x of shape {across.shape}, y of shape {up.shape}",
            where="x",
            allowed="(n,) or (B, n) and (B, n)",
        )
    n = up.shape[1]
    if n < 3:
        raise Refusal(f"{n} observations", where="batched lines", allowed="at least three")
    mean_x, mean_y, sxx, slope, rss = line_sums(across, up)
    if np.isnan(slope).any():
        raise Refusal(
            "a set of speeds that does not vary", where="batched lines", allowed="two speeds or more"
        )
    sigma = np.sqrt(rss / (n - 2))
    return PowerLaws(slope, mean_y - slope * mean_x, sigma / np.sqrt(sxx), sigma, mean_x, sxx, n)
