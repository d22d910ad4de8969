"""Does a straight line do? Against repeats, and against a bend, with the bend that the data could have shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import Refusal
from wearlab.stats.design import FloatArray, as_matrix, as_vector, check_design, first_dependent
from wearlab.stats.line import NO_SCATTER, fit_line
from wearlab.stats.one_way import FTest


@dataclass(frozen=True)
class Bend:
    """Test of a quadratic term.

    Attributes
    ----------
    curvature : float
        Coefficient of the squared, centred column beside the linear ones.
    se : float
        Its standard error; NaN where `why_missing` says why.
    df : int
        Residual degrees of freedom.
    p_value : float
        Two-sided t test of no bend.
    detectable : float
        Curvature that the data show with the chance `power`; infinite where `why_missing` says why.
    power : float
        That chance.
    why_missing : str or None
        Why there is no test.
    """

    curvature: float
    se: float
    df: int
    p_value: float
    detectable: float
    power: float
    why_missing: str | None


def lack_of_fit(X: ArrayLike, y: ArrayLike, names: Sequence[str] | None = None) -> FTest:
    """F test of a linear model against the scatter of repeats.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix, its constant column included; equal rows are repeats.
    y : array_like, shape (n,)
        Response.
    names : sequence of str, optional
        Names of the columns.

    Returns
    -------
    FTest
        Without an F where there are no repeats, or no more conditions than coefficients.

    Raises
    ------
    Refusal
        When the model itself cannot be fitted.

    Examples
    --------
    >>> x = np.log([110, 110, 140, 140, 180, 180])
    >>> test = lack_of_fit(np.column_stack([np.ones(6), x]), np.log([60, 66, 25, 27, 9, 11]))
    >>> test.df, test.df_error
    (1, 3)
    """
    fit = fit_line(X, y, names)
    matrix, _ = as_matrix(X)
    response = as_vector(y, "y")
    _, condition = np.unique(matrix, axis=0, return_inverse=True)
    condition = condition.ravel()
    sizes = np.bincount(condition)
    # Centred, so that a large common level costs no digits.
    moved = response - response.mean()
    means = np.bincount(condition, moved) / sizes
    pure = float(np.sum((moved - means[condition]) ** 2))
    df_pure, df_lack = len(response) - len(sizes), len(sizes) - len(fit.beta)
    why = None
    if df_pure == 0:
        why = "no condition was repeated: nothing to judge the line by"
    elif df_lack == 0:
        why = f"{len(sizes)} conditions for {len(fit.beta)} coefficients: the model meets every mean"
    elif math.sqrt(pure / df_pure) <= NO_SCATTER * float(np.abs(response).max()):
        why = "the repeats do not differ: no scatter to judge the line by"
    return FTest(max(fit.rss - pure, 0.0), df_lack, pure, df_pure, why)


def bend(
    X: ArrayLike,
    y: ArrayLike,
    column: int,
    names: Sequence[str] | None = None,
    power: float = 0.8,
    level: float = 0.95,
) -> Bend:
    """Test of a bend along one column, and the bend that these data would show.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix, its constant column included.
    y : array_like, shape (n,)
        Response.
    column : int
        The column along which a bend is looked for.
    names : sequence of str, optional
        Names of the columns.
    power : float
        Chance with which `detectable` is shown.
    level : float
        One less the size of the test.

    Returns
    -------
    Bend

    Raises
    ------
    Refusal
        When the straight model cannot be fitted.
    """
    design = check_design(X, names)
    response = as_vector(y, "y", design.n)
    linear = design.X[:, column]
    square = (linear - linear.mean()) ** 2
    larger = np.column_stack([design.X, square])
    levels = len(np.unique(linear))
    if levels < 3 or first_dependent(np.column_stack([design.Z, _scaled(square)])) is not None:
        return _no_bend(
            f"{levels} levels of {design.names[column]}: a bend needs three", design.n - design.p, power
        )
    if design.n < design.p + 2:
        return _no_bend("no observation left to judge a bend by", 0, power)
    try:
        fit = fit_line(larger, response, [*design.names, f"{design.names[column]} squared"])
    except Refusal as refusal:
        return _no_bend(refusal.message(), design.n - design.p - 1, power)
    weight = np.append(np.zeros(design.p), 1.0)
    if fit.why_missing is not None:
        return _no_bend(fit.why_missing, fit.df, power)
    se = fit.standard_error(weight)
    return Bend(
        fit.beta[-1], se, fit.df, fit.p_value(weight), se * _distance(power, fit.df, level), power, None
    )


def _scaled(square: FloatArray) -> FloatArray:
    centred = square - square.mean()
    size = float(np.sqrt(np.mean(centred**2)))
    return centred / size if size > 0 else centred


def _no_bend(why: str, df: int, power: float) -> Bend:
    return Bend(math.nan, math.nan, df, math.nan, math.inf, power, why)


def _distance(power: float, df: int, level: float) -> float:
    """Effect in standard errors that a two-sided t test finds with the wanted chance."""
    from scipy.optimize import brentq
    from scipy.special import stdtrit

    from wearlab.stats.detectable import beyond

    critical = float(stdtrit(df, 0.5 + level / 2))
    return float(brentq(lambda far: beyond(critical, df, far) - power, 0.0, 2 * critical + 20.0, xtol=1e-12))
