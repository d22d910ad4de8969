"""The laws of tool life as scikit-learn estimators, for pipelines and cross-validation.

Every law of this room is linear in ln columns, so one regressor serves them all; the logarithm stands in front of it in
a pipeline. Targets are ln lives; a target of two columns holds the ln of what is known of each life, low and high, with
-inf and inf where a side is not known.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.pipeline import Pipeline, make_pipeline
from sklearn.preprocessing import FunctionTransformer
from sklearn.utils.validation import check_array, check_is_fitted, column_or_1d, validate_data

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law


class ToolLifeRegressor(RegressorMixin, BaseEstimator):
    """Median ln life as a linear function of its columns.

    Parameters
    ----------
    distribution : str
        Scatter of ln life where lives are censored: lognormal, weibull or loglogistic. Complete lives are fitted by
        least squares, whatever the distribution.

    Attributes
    ----------
    coef_ : array, shape (n_features,)
        Exponents, where the columns are ln settings.
    intercept_ : float
    scale_ : float
        Scale of ln life about the line (degrees of freedom taken off where lives are complete).

    Examples
    --------
    >>> import numpy as np
    >>> speeds = np.array([[100.0], [160.0], [125.0], [100.0]])
    >>> lives = np.array([41.0, 5.0, 15.0, 42.0])
    >>> model = tool_life_pipeline().fit(speeds, np.log(lives))
    >>> round(float(-1 / model[-1].coef_[0]), 3)
    0.222
    """

    def __init__(self, distribution: str = "lognormal") -> None:
        self.distribution = distribution

    def fit(self, X: ArrayLike, y: ArrayLike) -> ToolLifeRegressor:
        """Fit.

        Parameters
        ----------
        X : array_like, shape (n, p)
            Columns that ln life is linear in.
        y : array_like, shape (n,) or (n, 2)
            Ln life, or the ln of its lower and upper bounds.

        Raises
        ------
        ArgumentError
            A lower bound lies above its upper bound.
        Refusal
            Censored lives from which the law cannot be estimated.
        """
        scatter_law(self.distribution)
        columns: np.ndarray = validate_data(self, X, dtype=np.float64, ensure_min_samples=2)
        low, high = _bounds(y, len(columns))
        design = np.column_stack([np.ones(len(columns)), columns])
        if np.array_equal(low, high):
            beta, self.scale_ = _least_squares(design, low)
        else:
            shift = float(np.mean(low[np.isfinite(low)])) if np.isfinite(low).any() else 0.0
            lives = Lives(np.exp(low - shift), np.exp(high - shift))
            fitted = fit_lives(design, lives, self.distribution)
            beta, self.scale_ = fitted.beta.copy(), fitted.sigma
            beta[0] += shift + fitted.sigma * scatter_law(self.distribution).quantile(0.5)
        self.intercept_ = float(beta[0])
        self.coef_ = beta[1:]
        return self

    def predict(self, X: ArrayLike) -> np.ndarray:
        """Median ln life, shape (n,)."""
        check_is_fitted(self)
        columns: np.ndarray = validate_data(self, X, dtype=np.float64, reset=False)
        return np.asarray(columns @ self.coef_ + self.intercept_)

    def score(self, X: ArrayLike, y: ArrayLike, sample_weight: ArrayLike | None = None) -> float:
        """R squared of complete lives; of bounds, the mean log-likelihood of what is known of each life."""
        target = np.asarray(y, dtype=float)
        if target.ndim < 2 or target.shape[1] < 2:
            return float(super().score(X, y, sample_weight))
        low, high = _bounds(y, len(target))
        weights = None if sample_weight is None else np.asarray(sample_weight, dtype=float)
        return float(np.average(self._log_likelihood(self.predict(X), low, high), weights=weights))

    def _log_likelihood(self, centre: np.ndarray, low: np.ndarray, high: np.ndarray) -> np.ndarray:
        from scipy.stats import gumbel_l, logistic, norm

        law = {"lognormal": norm, "weibull": gumbel_l, "loglogistic": logistic}[self.distribution]
        place = centre - self.scale_ * scatter_law(self.distribution).quantile(0.5)
        exact = low == high
        inside = law.cdf(high, place, self.scale_) - law.cdf(low, place, self.scale_)
        dense = law.logpdf(np.where(exact, low, 0.0), place, self.scale_)
        return np.where(exact, dense, np.log(np.maximum(inside, np.finfo(float).tiny)))

    def __sklearn_tags__(self) -> Any:
        tags = super().__sklearn_tags__()
        tags.target_tags.required = True
        return tags


def tool_life_pipeline(distribution: str = "lognormal") -> Pipeline:
    """The logarithm in front of a `ToolLifeRegressor`: settings in, ln life out.

    Fit it on settings above 0, such as cutting speed in m/min and feed per tooth in mm.
    """
    ln = FunctionTransformer(np.log, np.exp, check_inverse=False, feature_names_out="one-to-one")
    return make_pipeline(ln, ToolLifeRegressor(distribution))


def _bounds(y: ArrayLike, n: int) -> tuple[np.ndarray, np.ndarray]:
    if y is None:
        raise ValueError("requires y to be passed, but the target y is None")
    target = np.asarray(y)
    if target.ndim == 2 and target.shape[1] == 2:
        target = check_array(target, dtype=np.float64, ensure_all_finite=False, input_name="y")
        low, high = target[:, 0], target[:, 1]
        if np.isnan(target).any() or (low > high).any():
            raise ArgumentError("a pair of bounds that is no interval", where="y", allowed="low up to high, no NaN")
    else:
        flat = column_or_1d(check_array(y, ensure_2d=False, dtype=None, input_name="y"), warn=True)
        low = high = np.asarray(flat, dtype=np.float64)
    if len(low) != n:
        raise ValueError(f"Found input variables with inconsistent numbers of samples: {[n, len(low)]}")
    return low, high


def _least_squares(design: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, float]:
    """Least squares that takes the shortest solution where columns repeat one another, as the checks ask."""
    centre = design[:, 1:].mean(axis=0)
    slopes, *_ = np.linalg.lstsq(design[:, 1:] - centre, y - y.mean(), rcond=None)
    beta = np.concatenate([[y.mean() - centre @ slopes], slopes])
    residual = y - design @ beta
    df = max(len(y) - np.linalg.matrix_rank(design), 1)
    return beta, float(np.sqrt(residual @ residual / df))
