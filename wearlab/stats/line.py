"""Ordinary least squares with exact t intervals.

The columns are centred and scaled before a QR decomposition, so that clocks with a large offset and settings
in odd units lose no digits; coefficients and their covariance are given for the columns as they came.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector, check_design

NO_SCATTER = 64 * np.finfo(float).eps
"""Residual scatter below this share of the largest value is rounding, not scatter."""


@dataclass(frozen=True)
class LinearFit:
    """A least-squares fit.

    Attributes
    ----------
    names : tuple of str
        Names of the coefficients.
    beta : array, shape (p,)
        Coefficients.
    covariance : array, shape (p, p)
        Their covariance, `sigma` squared times `root @ root.T`; NaN when `sigma` is.
    sigma : float
        Residual standard deviation on `df` degrees of freedom; NaN when `df` is 0.
    df : int
        Residual degrees of freedom.
    leverage : array, shape (n,)
        Diagonal of the hat matrix.
    residuals, fitted : array, shape (n,)
        What the fit leaves and gives.
    n : int
        Number of observations.
    r_squared : float
        Share of the variation about the mean (about zero without an intercept) that the fit takes up.
    rss : float
        Residual sum of squares.
    root : array, shape (p, p)
        Square root of the unscaled covariance.
    why_missing : str or None
        Why there is no interval, where there is none.
    """

    names: tuple[str, ...]
    beta: FloatArray
    covariance: FloatArray
    sigma: float
    df: int
    leverage: FloatArray
    residuals: FloatArray
    fitted: FloatArray
    n: int
    r_squared: float
    rss: float
    root: FloatArray
    why_missing: str | None

    @property
    def standard_errors(self) -> FloatArray:
        """Standard errors of the coefficients."""
        return np.sqrt(np.diag(self.covariance))

    def estimate(self, contrast: ArrayLike) -> float:
        """Value of a combination of the coefficients."""
        return float(self._vector(contrast) @ self.beta)

    def standard_error(self, contrast: ArrayLike) -> float:
        """Standard error of a combination of the coefficients; NaN where `why_missing` says why."""
        if self.why_missing is not None:
            return math.nan
        return self.sigma * math.sqrt(self.leverage_at(contrast))

    def leverage_at(self, x: ArrayLike) -> float:
        """Leverage h of a point: the variance of the mean there is h times the residual variance."""
        return float(np.sum((self.root.T @ self._vector(x)) ** 2))

    def p_value(self, contrast: ArrayLike, value: float = 0.0) -> float:
        """Two-sided p of the hypothesis that a combination of the coefficients has this value (t test)."""
        from scipy.special import stdtr

        error = self.standard_error(contrast)
        if not error > 0:
            return math.nan
        return float(2 * stdtr(self.df, -abs(self.estimate(contrast) - value) / error))

    def interval(self, contrast: ArrayLike, level: float = 0.95) -> Interval:
        """Exact t interval of a combination of the coefficients.

        Parameters
        ----------
        contrast : array_like, shape (p,)
            Weights over the coefficients.
        level : float
            Confidence level.

        Returns
        -------
        Interval
            Unbounded on both sides where `why_missing` says why.
        """
        return self._around(self.estimate(contrast), self.leverage_at(contrast), level, "t")

    def mean(self, x: ArrayLike, level: float = 0.95) -> Interval:
        """Interval of the mean response at the design row `x`."""
        return self._around(self.estimate(x), self.leverage_at(x), level, "t for the mean")

    def prediction(self, x: ArrayLike, level: float = 0.95) -> Interval:
        """Interval of one further observation at the design row `x`."""
        return self._around(self.estimate(x), 1.0 + self.leverage_at(x), level, "t for the next observation")

    def _vector(self, contrast: ArrayLike) -> FloatArray:
        vector = np.asarray(contrast, dtype=float)
        if vector.shape != self.beta.shape:
            raise ArgumentError(
                f"{vector.size} weights",
                where="contrast",
                allowed=f"{len(self.beta)}, for {', '.join(self.names)}",
            )
        return vector

    def _around(self, centre: float, variance: float, level: float, method: str) -> Interval:
        from scipy.special import stdtrit

        check_level(level)
        if self.why_missing is not None:
            return Interval(-math.inf, math.inf, level, method)
        half = float(stdtrit(self.df, 0.5 + level / 2)) * self.sigma * math.sqrt(variance)
        return Interval(centre - half, centre + half, level, method)


def fit_line(X: ArrayLike, y: ArrayLike, names: Sequence[str] | None = None) -> LinearFit:
    """Fit y = X beta by ordinary least squares.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix, its constant column included.
    y : array_like, shape (n,)
        Response.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    LinearFit

    Raises
    ------
    ArgumentError
        When shapes do not match or a number is not finite.
    Refusal
        When a column is constant or repeats others (named), or there are fewer rows than columns.

    Examples
    --------
    >>> fit = fit_line([[1, 0.0], [1, 1.0], [1, 2.0], [1, 3.0]], [1.0, 3.1, 4.9, 7.0], ["intercept", "x"])
    >>> fit.beta.round(3).tolist(), fit.df
    ([1.03, 1.98], 2)
    """
    design = check_design(X, names)
    response = as_vector(y, "y", design.n)
    shift = response.mean() if design.intercept is not None else 0.0
    Q, R = np.linalg.qr(design.Z)
    gamma = np.linalg.solve(R, Q.T @ (response - shift))
    # A second pass on the residuals takes away what rounding left in the first.
    left = response - shift - design.Z @ gamma
    gamma = gamma + np.linalg.solve(R, Q.T @ left)
    residuals = response - shift - design.Z @ gamma
    beta = design.back @ gamma
    if design.intercept is not None:
        beta[design.intercept] += shift / design.X[0, design.intercept]
    root = design.back @ np.linalg.inv(R)
    rss, total = float(residuals @ residuals), float(np.sum((response - shift) ** 2))
    df = design.n - design.p
    sigma = math.sqrt(rss / df) if df > 0 else math.nan
    return LinearFit(
        names=design.names, beta=beta, covariance=sigma**2 * root @ root.T, sigma=sigma, df=df,
        leverage=np.sum(Q**2, axis=1), residuals=residuals, fitted=response - residuals, n=design.n,
        r_squared=1.0 - rss / total if total > 0 else math.nan, rss=rss, root=root,
        why_missing=_why_missing(sigma, df, response),
    )  # fmt: skip


def _why_missing(sigma: float, df: int, response: FloatArray) -> str | None:
    if df == 0:
        return (
            f"{len(response)} observations for as many coefficients: nothing is left to judge the scatter by"
        )
    if sigma <= NO_SCATTER * float(np.abs(response).max()):
        return "every point lies exactly on the fit: no scatter to judge by"
    return None
