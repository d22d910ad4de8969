"""Life regressions of many replicates of one design: resampling, calibration, power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import check_level
from wearlab.stats.censored import REFERENCES, recover
from wearlab.stats.design import FloatArray, as_vector, check_design
from wearlab.stats.life_newton import Optimum, maximise
from wearlab.stats.life_profile import Fraction, deviance_at, profile_limits
from wearlab.stats.life_setup import Setup, estimable, set_up
from wearlab.stats.scatter import scatter_law


@dataclass(frozen=True)
class LifeRegressions:
    """Fits of B replicates of one design.

    Attributes
    ----------
    names : tuple of str
        Names of the coefficients.
    distribution : str
        lognormal, weibull or loglogistic.
    beta : array, shape (B, p)
        Coefficients; NaN where a replicate has no fit.
    sigma, loglik : array, shape (B,)
        Scale of ln life, log-likelihood of the lives; NaN where there is no fit.
    covariance : array, shape (B, p + 1, p + 1)
        Of the coefficients and, last, ln sigma.
    estimable : bool array, shape (B,)
        Whether the lives of a replicate determine the coefficients and sigma.
    converged : bool array, shape (B,)
        Whether the fit came to rest; a replicate that is not estimable did not.
    iterations : int array, shape (B,)
        Newton steps.
    failures : array, shape (B,)
        Number of failures.
    """

    names: tuple[str, ...]
    distribution: str
    beta: FloatArray
    sigma: FloatArray
    loglik: FloatArray
    covariance: FloatArray
    estimable: NDArray[np.bool_]
    converged: NDArray[np.bool_]
    iterations: NDArray[np.intp]
    failures: FloatArray
    setup: Setup = field(repr=False)
    optimum: Optimum = field(repr=False)

    def log_quantile(self, x: ArrayLike, p: float = 0.5) -> FloatArray:
        """Ln of the life that a share `p` does not reach at the design row `x`, shape (B,)."""
        return self.beta @ np.asarray(x, dtype=float) + self.sigma * scatter_law(self.distribution).quantile(
            p
        )

    def interval(
        self, contrast: ArrayLike, level: float = 0.95, reference: str = "F"
    ) -> tuple[FloatArray, FloatArray]:
        """Profile-likelihood limits of a combination of the coefficients, shape (B,) each; NaN without a
        fit.
        """
        return self._limits(self._combination(contrast, 0.0), level, reference)

    def log_quantile_interval(
        self, x: ArrayLike, p: float = 0.5, level: float = 0.95, reference: str = "F"
    ) -> tuple[FloatArray, FloatArray]:
        """Profile-likelihood limits of the ln quantile of life at the design row `x`, shape (B,) each."""
        return self._limits(
            self._combination(x, scatter_law(self.distribution).quantile(p)), level, reference
        )

    def setting_interval(
        self,
        x: ArrayLike,
        column: int,
        life: float,
        p: float = 0.5,
        level: float = 0.95,
        reference: str = "F",
    ) -> tuple[FloatArray, FloatArray]:
        """Limits of the value of one column of `x` at which the quantile of life is `life`, shape (B,)
        each.
        """
        row = np.array(x, dtype=float)
        row[column] = 0.0
        design, rows = self.setup.design, self._fitted()
        top = np.column_stack(
            [np.tile(-(row @ design.back), (len(rows), 1)), np.log(life) - self._shift(row)[rows]]
        )
        bottom = np.tile(np.append(design.back[column], 0.0), (len(rows), 1))
        z = scatter_law(self.distribution).quantile(p)
        return self._limits(Fraction(top, bottom, -z), level, reference)

    def p_value(self, contrast: ArrayLike, value: float = 0.0) -> FloatArray:
        """F-calibrated p of a combination of the coefficients being `value`, shape (B,); NaN without a fit."""
        return self._p_value(self._combination(contrast, 0.0), value)

    def log_quantile_p_value(self, x: ArrayLike, value: float, p: float = 0.5) -> FloatArray:
        """F-calibrated p of the ln quantile of life at the design row `x` being `value`, shape (B,)."""
        return self._p_value(self._combination(x, scatter_law(self.distribution).quantile(p)), value)

    def setting_p_value(
        self, x: ArrayLike, column: int, life: float, value: float, p: float = 0.5
    ) -> FloatArray:
        """F-calibrated p of the quantile of life being `life` where one column of `x` is `value`, shape (B,)."""
        row = np.array(x, dtype=float)
        row[column] = value
        return self.log_quantile_p_value(row, np.log(life), p)

    def signed_sizes(self, contrast: ArrayLike, value: float = 0.0, p: float | None = None) -> FloatArray:
        """Signed t-like sizes of a hypothesis, positive where the estimate is above `value`, shape (B,).

        Student's t for complete lognormal lives; otherwise the root of the profile deviance on the same scale.

        Parameters
        ----------
        contrast : array_like, shape (p,)
            Weights over the coefficients, or a design row.
        value : float
            Hypothetical value of the combination, or of the ln quantile of life.
        p : float, optional
            Share of the quantile of life that is meant; the combination of the coefficients when left out.
        """
        z = 0.0 if p is None else scatter_law(self.distribution).quantile(p)
        return self._signed_sizes(self._combination(contrast, z), value)

    def squared_sizes(self, contrast: ArrayLike, value: ArrayLike, p: float) -> tuple[FloatArray, FloatArray]:
        """Squared t-like size of a ln quantile of life being `value`, and its derivative by it, shape (B,) each.

        Parameters
        ----------
        contrast : array_like, shape (p,)
            Design row.
        value : array_like, shape (B,)
            Hypothetical ln quantile of each replicate.
        p : float
            Share of the quantile.

        Returns
        -------
        tuple of array
            NaN without a fit.
        """
        rows, wanted = self._fitted(), np.asarray(value, dtype=float)
        fraction = self._combination(contrast, scatter_law(self.distribution).quantile(p))
        deviance, slope = deviance_at(self.setup.problem.subset(rows), self._optima(), fraction, wanted[rows])
        failures = self.failures[rows]
        df = failures - self.beta.shape[1]
        square, rate = np.full((2, len(self.sigma)), np.nan)
        square[rows] = df * np.expm1(np.maximum(deviance, 0.0) / failures)
        rate[rows] = df / failures * np.exp(np.maximum(deviance, 0.0) / failures) * slope
        return square, rate

    def take(self, rows: NDArray[np.intp]) -> LifeRegressions:
        """The fits of some replicates."""
        setup = replace(
            self.setup, problem=self.setup.problem.subset(rows), start=self.setup.start[rows],
            centre=self.setup.centre[rows], constant=self.setup.constant[rows], failures=self.setup.failures[rows],
        )  # fmt: skip
        return LifeRegressions(
            self.names, self.distribution, self.beta[rows], self.sigma[rows], self.loglik[rows],
            self.covariance[rows], self.estimable[rows], self.converged[rows], self.iterations[rows],
            self.failures[rows], setup, self.optimum.take(rows),
        )  # fmt: skip

    def _optima(self) -> Optimum:
        return self.optimum.take(self._fitted())

    def _signed_sizes(self, fraction: Fraction, value: float) -> FloatArray:
        rows = self._fitted()
        some = self._optima()
        deviance, _ = deviance_at(self.setup.problem.subset(rows), some, fraction, np.full(len(rows), value))
        cut = REFERENCES["F"](self.failures[rows], self.beta.shape[1], 0.95)
        size = np.full(len(self.sigma), np.nan)
        found = cut.size(np.nan_to_num(deviance))
        size[rows] = np.where(np.isnan(deviance), np.nan, np.sign(fraction.value(some.theta) - value) * found)
        return size

    def _p_value(self, fraction: Fraction, value: float) -> FloatArray:
        from scipy.special import stdtr

        size = self._signed_sizes(fraction, value)
        known = ~np.isnan(size)
        df = np.where(known, self.failures - self.beta.shape[1], 1.0)
        return np.where(known, 2 * stdtr(df, -np.abs(np.nan_to_num(size))), np.nan)

    def _fitted(self) -> NDArray[np.intp]:
        return np.flatnonzero(self.converged)

    def _shift(self, contrast: FloatArray) -> FloatArray:
        intercept = self.setup.design.intercept
        if intercept is None:
            return np.zeros(len(self.sigma))
        return contrast[intercept] * self.setup.centre / self.setup.design.X[0, intercept]

    def _combination(self, contrast: ArrayLike, z: float) -> Fraction:
        vector, rows = np.asarray(contrast, dtype=float), self._fitted()
        lead = np.tile(vector @ self.setup.design.back, (len(rows), 1))
        bottom = np.zeros((len(rows), len(vector) + 1))
        bottom[:, -1] = 1.0
        return Fraction(np.column_stack([lead, self._shift(vector)[rows]]), bottom, z)

    def _limits(self, fraction: Fraction, level: float, reference: str) -> tuple[FloatArray, FloatArray]:
        rows = self._fitted()
        some = self._optima()
        cut = REFERENCES[reference](self.failures[rows], self.beta.shape[1], check_level(level))
        low, high = np.full((2, len(self.sigma)), np.nan)
        low[rows], high[rows] = profile_limits(self.setup.problem.subset(rows), some, fraction, cut)
        return low, high


def fit_lives_many(
    X: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    distribution: str = "lognormal",
    names: Sequence[str] | None = None,
    offset: ArrayLike | None = None,
    weights: ArrayLike | None = None,
) -> LifeRegressions:
    """Fit one life regression to each of many replicates of one design.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix of ln life, shared by all replicates.
    lower, upper : array_like, shape (B, n) or (n,)
        Bounds of the lives as in `Lives`; one row for all replicates when only the weights differ.
    distribution : str
        "lognormal", "weibull" or "loglogistic".
    names : sequence of str, optional
        Names of the columns.
    offset : array_like, shape (n,), optional
        Fixed part of ln life.
    weights : array_like, shape (B, n), optional
        How often each row counts: the counts of a case resample, for instance.

    Returns
    -------
    LifeRegressions
        A replicate without enough failures, or without an optimum, is marked and holds NaN.

    Raises
    ------
    ArgumentError
        When shapes do not match, a bound is missing or the bounds are the wrong way round.

    Examples
    --------
    >>> fits = fit_lives_many([[1.0]] * 4, [[4, 5, 6, 7], [4, 5, 6, 6]], [[4, 5, 6, 7], [4, 5, 6, np.inf]])
    >>> fits.sigma.round(4).tolist(), fits.failures.tolist()
    ([0.2088, 0.2086], [4.0, 3.0])
    """
    design = check_design(X, names)
    low, high, counts = _replicates(lower, upper, weights, design.n)
    fixed = None if offset is None else as_vector(offset, "offset", design.n)
    setup = set_up(design, scatter_law(distribution), low, high, fixed, counts)
    possible = estimable(setup.problem, setup.failures)
    optimum = _maximise_possible(setup, possible)
    beta, sigma, covariance = recover(setup, optimum)
    lost = ~optimum.converged
    beta[lost], sigma[lost] = np.nan, np.nan
    return LifeRegressions(
        names=design.names, distribution=distribution, beta=beta, sigma=sigma,
        loglik=np.where(lost, np.nan, optimum.loglik + setup.constant), covariance=covariance,
        estimable=possible, converged=optimum.converged, iterations=optimum.iterations,
        failures=setup.failures, setup=setup, optimum=optimum,
    )  # fmt: skip


def _replicates(
    lower: ArrayLike, upper: ArrayLike, weights: ArrayLike | None, n: int
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    low, high = np.atleast_2d(np.asarray(lower, dtype=float)), np.atleast_2d(np.asarray(upper, dtype=float))
    counts = None if weights is None else np.atleast_2d(np.asarray(weights, dtype=float))
    B = max(len(low), len(high), 1 if counts is None else len(counts))
    try:
        low, high = np.broadcast_to(low, (B, n)), np.broadcast_to(high, (B, n))
        counts = None if counts is None else np.broadcast_to(counts, (B, n))
    except ValueError:
        raise ArgumentError(
            f"lower of shape {low.shape}, upper of shape {high.shape}",
            where="lives",
            allowed=f"(B, {n}) or ({n},)",
        ) from None
    if not ((low >= 0) & (high > 0) & (low <= high) & np.isfinite(low)).all():
        raise ArgumentError(
            "bounds missing, negative or the wrong way round", where="lives", allowed="as in Lives"
        )
    return low, high, counts


def _maximise_possible(setup: Setup, possible: NDArray[np.bool_]) -> Optimum:
    """Fit the replicates that can be fitted; the others keep their start and do not count as converged."""
    B, q = setup.start.shape
    rows = np.flatnonzero(possible)
    found = maximise(setup.problem.subset(rows), setup.start[rows]) if len(rows) < B else None
    if found is None:
        found = maximise(setup.problem, setup.start)
    whole = Optimum(
        setup.start.copy(), np.full(B, np.nan), np.zeros((B, q)), np.zeros((B, q, q)), np.zeros(B,
        dtype=bool), np.zeros(B, dtype=np.intp),
    )  # fmt: skip
    for name in Optimum.__dataclass_fields__:
        getattr(whole, name)[rows] = getattr(found, name)
    # All rows explained with certainty, or a curvature of nothing: the optimum lies at infinity.
    flat = (np.diagonal(found.hessian, axis1=1, axis2=2) > -1e-8).any(axis=1)
    certain = (found.loglik > -1e-3) & (setup.problem.exact_weight[rows] == 0)
    whole.converged[rows] &= ~(flat | certain)
    return whole
