"""Nonlinear least squares with linearised t intervals, for laws that no logarithm makes straight."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector


@dataclass(frozen=True)
class CurveFit:
    """A nonlinear least-squares fit.

    Attributes
    ----------
    names : tuple of str
        Names of the parameters.
    beta : array, shape (p,)
        Estimates.
    covariance : array, shape (p, p)
        Linearised covariance; NaN when `df` is 0.
    sigma : float
        Residual standard deviation.
    df, n : int
        Residual degrees of freedom, observations.
    rss : float
        Residual sum of squares.
    residuals : array, shape (n,)
    """

    names: tuple[str, ...]
    beta: FloatArray
    covariance: FloatArray
    sigma: float
    df: int
    n: int
    rss: float
    residuals: FloatArray

    @property
    def standard_errors(self) -> FloatArray:
        """Linearised standard errors."""
        return np.sqrt(np.diag(self.covariance))

    def interval(self, parameter: int, level: float = 0.95) -> Interval:
        """Linearised t interval of one parameter; unbounded without degrees of freedom."""
        from scipy.special import stdtrit

        check_level(level)
        if self.df == 0:
            return Interval(-math.inf, math.inf, level, "linearised t")
        half = float(stdtrit(self.df, 0.5 + level / 2) * self.standard_errors[parameter])
        return Interval(self.beta[parameter] - half, self.beta[parameter] + half, level, "linearised t")


def fit_curve(
    model: Callable[[FloatArray], FloatArray],
    y: ArrayLike,
    start: ArrayLike,
    names: Sequence[str] | None = None,
) -> CurveFit:
    """Fit y = model(parameters) by least squares.

    Parameters
    ----------
    model : callable
        Takes the parameters, shape (p,), and gives the fitted values, shape (n,).
    y : array_like, shape (n,)
        Response.
    start : array_like, shape (p,)
        Starting values, none of them 0: their sizes scale the search.
    names : sequence of str, optional
        Names of the parameters.

    Returns
    -------
    CurveFit

    Raises
    ------
    ArgumentError
        When a starting value is 0, or the model does not give a finite value for each row at the start.
    Refusal
        When there are fewer rows than parameters, the search does not come to rest, or the rows do not determine a
        parameter (named).

    Examples
    --------
    >>> x = np.array([1.0, 2.0, 3.0, 4.0])
    >>> fit = fit_curve(lambda b: b[0] * x ** b[1], [2.0, 8.1, 17.9, 32.0], [1.0, 1.0], ["a", "power"])
    >>> fit.beta.round(2).tolist()
    [2.01, 2.0]
    """
    from scipy.optimize import least_squares

    response, first = as_vector(y, "y"), as_vector(start, "start")
    labels = tuple(names) if names is not None else tuple(f"parameter {j + 1}" for j in range(len(first)))
    if (first == 0).any() or len(labels) != len(first):
        raise ArgumentError(f"{first.tolist()}", where="start", allowed=f"{len(labels)} values other than 0")
    if len(response) < len(first):
        raise Refusal(
            f"{len(response)} rows for {len(first)} parameters",
            where="curve",
            allowed=f"at least {len(first)}",
        )
    fitted = np.asarray(model(first), dtype=float)
    if fitted.shape != response.shape or not np.isfinite(fitted).all():
        raise ArgumentError(
            f"values of shape {fitted.shape}", where="model at the start", allowed="one finite value a row"
        )

    def left(scaled: FloatArray) -> FloatArray:
        return np.asarray(model(scaled * np.abs(first)), dtype=float) - response

    found = least_squares(
        left, np.sign(first), jac="3-point", method="lm", x_scale="jac", xtol=3e-16, ftol=3e-16, gtol=3e-16,
        max_nfev=20_000,
    )  # fmt: skip
    if found.status <= 0:
        raise Refusal("the search did not come to rest", where="curve", hint="start nearer to the answer")
    return _record(labels, found, np.abs(first), len(response))


def _record(labels: tuple[str, ...], found: object, scale: FloatArray, n: int) -> CurveFit:
    x, jacobian, residuals = (np.asarray(getattr(found, name)) for name in ("x", "jac", "fun"))
    size = np.linalg.norm(jacobian, axis=0)
    for name, one in zip(labels, size, strict=True):
        if one == 0:
            raise Refusal("the rows do not determine it", where=name)
    R = np.linalg.qr(jacobian / size, mode="r")
    weak = np.flatnonzero(np.abs(np.diag(R)) < 1e-10)
    if len(weak):
        raise Refusal("the rows do not determine it apart from the others", where=labels[int(weak[0])])
    root = (scale / size)[:, None] * np.linalg.inv(R)
    rss, df = float(residuals @ residuals), n - len(labels)
    sigma = math.sqrt(rss / df) if df else math.nan
    return CurveFit(labels, x * scale, sigma**2 * root @ root.T, sigma, df, n, rss, -residuals)
