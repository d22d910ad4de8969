"""Life regression with exact, right-, left- and interval-censored lives.

ln life = X beta + sigma e, with e normal (lognormal lives), smallest extreme value (Weibull) or logistic
(loglogistic). Maximum likelihood by Newton's method; intervals from the profile likelihood cut where F, not
chi-square, says, which is exact for complete lognormal lives and holds its level on few cutters.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.stats.design import FloatArray, as_vector, check_design
from wearlab.stats.life_newton import Optimum, maximise
from wearlab.stats.life_profile import (
    Cut,
    Fraction,
    chi_square_cut,
    deviance_at,
    f_cut,
    profile_limits,
    signed_limit,
)
from wearlab.stats.life_setup import IDENTIFIED, Setup, refuse_inestimable, set_up
from wearlab.stats.lives import Lives
from wearlab.stats.scatter import scatter_law

REFERENCES = {"F": f_cut, "chi-square": chi_square_cut}
"""Cuts of the profile likelihood by name."""


@dataclass(frozen=True)
class LifeRegression:
    """A fitted life regression.

    Attributes
    ----------
    names : tuple of str
        Names of the coefficients.
    distribution : str
        lognormal, weibull or loglogistic.
    beta : array, shape (p,)
        Coefficients of ln life.
    sigma : float
        Scale of ln life (Weibull: one over the shape).
    loglik : float
        Log-likelihood of the lives.
    covariance : array, shape (p + 1, p + 1)
        Of the coefficients and, last, ln sigma (observed information).
    converged : bool
        Always true: a fit that does not converge is refused.
    iterations : int
        Newton steps.
    failures, n : int
        Lives that ended in failure, and all lives.
    X : array, shape (n, p)
        Design.
    lives : Lives
        What was fitted.
    offset : array, shape (n,), or None
        Fixed part of ln life.
    """

    names: tuple[str, ...]
    distribution: str
    beta: FloatArray
    sigma: float
    loglik: float
    covariance: FloatArray
    converged: bool
    iterations: int
    failures: int
    n: int
    X: FloatArray
    lives: Lives = field(repr=False)
    offset: FloatArray | None = field(repr=False)
    setup: Setup = field(repr=False)
    optimum: Optimum = field(repr=False)

    @property
    def df(self) -> int:
        """Failures less coefficients."""
        return self.failures - len(self.beta)

    @property
    def standard_errors(self) -> FloatArray:
        """Wald standard errors of the coefficients and, last, of ln sigma."""
        return np.sqrt(np.diag(self.covariance))

    def estimate(self, contrast: ArrayLike) -> float:
        """Value of a combination of the coefficients."""
        return float(self._vector(contrast) @ self.beta)

    def interval(self, contrast: ArrayLike, level: float = 0.95, reference: str = "F") -> Interval:
        """Profile-likelihood interval of a combination of the coefficients.

        Parameters
        ----------
        contrast : array_like, shape (p,)
            Weights over the coefficients.
        level : float
            Confidence level.
        reference : str
            "F", or "chi-square" for the large-sample cut that covers too little on few lives.

        Returns
        -------
        Interval
            A side without a limit is infinite.

        Raises
        ------
        Refusal
            When a point of the profile cannot be found.
        """
        return self._limits(self._combination(self._vector(contrast), 0.0), level, reference)

    def p_value(self, contrast: ArrayLike, value: float = 0.0, reference: str = "F") -> float:
        """p of the hypothesis that a combination of the coefficients has this value, by the profile
        likelihood.
        """
        return self._p_value(self._combination(self._vector(contrast), 0.0), value, reference)

    def signed_limit(self, contrast: ArrayLike, size: float, p: float | None = None) -> float:
        """Value of a combination whose signed t-like size is `size`: a lower limit where it is positive.

        Parameters
        ----------
        contrast : array_like, shape (p,)
            Weights over the coefficients, or a design row.
        size : float
            As `LifeRegressions.signed_sizes` gives it; Student's t for complete lognormal lives.
        p : float, optional
            Share of the ln quantile of life that is meant; the combination of the coefficients when left out.

        Raises
        ------
        Refusal
            When a point of the profile cannot be found.
        """
        z = 0.0 if p is None else scatter_law(self.distribution).quantile(_check_share(p))
        cut = Cut(self.setup.failures, self.setup.failures - len(self.beta), np.array([size]))
        fraction = self._combination(self._vector(contrast), z)
        limit = float(signed_limit(self.setup.problem, self.optimum, fraction, cut)[0])
        if math.isnan(limit):
            raise Refusal("the profile likelihood has no point there", where="limit of the life regression")
        return limit

    def log_quantile(self, x: ArrayLike, p: float = 0.5) -> float:
        """Ln of the life that a share `p` does not reach, at the design row `x` (offset 0)."""
        return self.estimate(x) + self.sigma * scatter_law(self.distribution).quantile(_check_share(p))

    def quantile(self, x: ArrayLike, p: float) -> float:
        """Life that a share `p` does not reach, at the design row `x`."""
        return math.exp(self.log_quantile(x, p))

    def median(self, x: ArrayLike) -> float:
        """Median life at the design row `x`."""
        return self.quantile(x, 0.5)

    def log_quantile_interval(
        self, x: ArrayLike, p: float = 0.5, level: float = 0.95, reference: str = "F"
    ) -> Interval:
        """Profile-likelihood interval of the ln quantile of life at the design row `x`."""
        z = scatter_law(self.distribution).quantile(_check_share(p))
        return self._limits(self._combination(self._vector(x), z), level, reference)

    def quantile_interval(
        self, x: ArrayLike, p: float = 0.5, level: float = 0.95, reference: str = "F"
    ) -> Interval:
        """Profile-likelihood interval of a quantile of life at the design row `x`."""
        return self.log_quantile_interval(x, p, level, reference).exp()

    def setting(self, x: ArrayLike, column: int, life: float, p: float = 0.5) -> float:
        """Value of one column of the design row `x` at which the quantile of life is `life`; NaN if none
        is.
        """
        row = self._vector(x)
        others = row @ self.beta - row[column] * self.beta[column]
        wanted = math.log(life) - scatter_law(self.distribution).quantile(_check_share(p)) * self.sigma
        return (wanted - others) / self.beta[column] if self.beta[column] != 0 else math.nan

    def setting_interval(
        self,
        x: ArrayLike,
        column: int,
        life: float,
        p: float = 0.5,
        level: float = 0.95,
        reference: str = "F",
    ) -> Interval:
        """Interval of the value of one column of `x` at which the quantile of life is `life`.

        The values at which that life is not contradicted by the profile likelihood. Unbounded on both sides
        when the column's coefficient may be zero.
        """
        row, design = self._vector(x).copy(), self.setup.design
        row[column] = 0.0
        top = np.append(-(row @ design.back), math.log(life) - self._shift(row))
        bottom = np.append(design.back[column], 0.0)
        law = scatter_law(self.distribution)
        fraction = Fraction(top[None], bottom[None], -law.quantile(_check_share(p)))
        return self._limits(fraction, level, reference)

    def _vector(self, contrast: ArrayLike) -> FloatArray:
        vector = np.asarray(contrast, dtype=float)
        if vector.shape != self.beta.shape:
            raise ArgumentError(
                f"{vector.size} weights",
                where="contrast",
                allowed=f"{len(self.beta)}, for {', '.join(self.names)}",
            )
        return vector

    def _shift(self, contrast: FloatArray) -> float:
        return float(contrast @ _centre_beta(self.setup)[0])

    def _combination(self, contrast: FloatArray, z: float) -> Fraction:
        """contrast @ beta + z sigma as a fraction of the fitted parameters."""
        if not contrast.any():
            raise ArgumentError(
                "weights that are all 0", where="contrast", allowed="at least one other than 0"
            )
        top = np.append(contrast @ self.setup.design.back, self._shift(contrast))
        bottom = np.append(np.zeros_like(self.beta), 1.0)
        return Fraction(top[None], bottom[None], z)

    def _cut(self, level: float, reference: str) -> Cut:
        if reference not in REFERENCES:
            raise ArgumentError(f"reference {reference!r}", where="reference", allowed=", ".join(REFERENCES))
        return REFERENCES[reference](self.setup.failures, len(self.beta), check_level(level))

    def _limits(self, fraction: Fraction, level: float, reference: str) -> Interval:
        cut = self._cut(level, reference)
        low, high = profile_limits(self.setup.problem, self.optimum, fraction, cut)
        if math.isnan(low[0]) or math.isnan(high[0]):
            raise Refusal(
                "the profile likelihood has no point there", where="interval of the life regression"
            )
        return Interval(float(low[0]), float(high[0]), level, f"profile likelihood, {reference} cut")

    def _p_value(self, fraction: Fraction, value: float, reference: str) -> float:
        from scipy.special import chdtrc, stdtr

        cut = self._cut(0.95, reference)
        deviance, _ = deviance_at(self.setup.problem, self.optimum, fraction, np.array([value]))
        if math.isnan(deviance[0]):
            raise Refusal(
                f"the profile likelihood has no point at {value:g}", where="p of the life regression"
            )
        deviance = np.maximum(deviance, 0.0)
        if reference == "F":
            return float(2 * stdtr(cut.df[0], -cut.size(deviance)[0]))
        return float(chdtrc(1, deviance[0]))


def fit_lives(
    X: ArrayLike,
    lives: Lives,
    distribution: str = "lognormal",
    names: Sequence[str] | None = None,
    offset: ArrayLike | None = None,
) -> LifeRegression:
    """Fit a life regression by maximum likelihood.

    Parameters
    ----------
    X : array_like, shape (n, p)
        Design matrix of ln life, its constant column included.
    lives : Lives
        One life a row.
    distribution : str
        "lognormal", "weibull" or "loglogistic".
    names : sequence of str, optional
        Names of the columns, used in refusals.
    offset : array_like, shape (n,), optional
        Fixed part of ln life.

    Returns
    -------
    LifeRegression

    Raises
    ------
    ArgumentError
        When shapes do not match or the distribution is not known.
    Refusal
        When the coefficients or the scale cannot be had from these lives; the reason is named.

    Notes
    -----
    Parametrisation after Olsen (from memory); checked against R's survreg in the tests.

    Examples
    --------
    >>> import numpy as np
    >>> speed = np.log([110, 110, 110, 140, 140, 140, 180, 180, 180])
    >>> X = np.column_stack([np.ones(9), speed])
    >>> lives = Lives.right_censored([60, 60, 52, 27, 22, 31, 9, 12, 10], [0, 0, 1, 1, 1, 1, 1, 1, 1])
    >>> fit = fit_lives(X, lives, names=["intercept", "ln speed"])
    >>> fit.beta.round(3).tolist(), fit.failures
    ([21.358, -3.663], 7)
    """
    law = scatter_law(distribution)
    design = check_design(X, names)
    if len(lives) != design.n:
        raise ArgumentError(f"{len(lives)} lives", where="lives", allowed=f"{design.n}, one a row of X")
    fixed = None if offset is None else as_vector(offset, "offset", design.n)
    setup = set_up(design, law, lives.lower[None], lives.upper[None], fixed)
    refuse_inestimable(design, setup.problem.kind[0], setup.problem.first[0], setup.failures[0])
    optimum = maximise(setup.problem, setup.start)
    beta, sigma, covariance = recover(setup, optimum)
    _refuse_degenerate(setup, optimum, covariance)
    return LifeRegression(
        names=design.names, distribution=distribution, beta=beta[0], sigma=float(sigma[0]),
        loglik=float(optimum.loglik[0] + setup.constant[0]), covariance=covariance[0], converged=True,
        iterations=int(optimum.iterations[0]), failures=lives.failures, n=design.n, X=design.X, lives=lives,
        offset=fixed, setup=setup, optimum=optimum,
    )  # fmt: skip


def recover(setup: Setup, optimum: Optimum) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Coefficients, sigma, and the covariance of the coefficients and ln sigma, for the columns as given."""
    theta, back = optimum.theta, setup.design.back
    tau = theta[:, -1:]
    scaled = theta[:, :-1] / tau
    p = scaled.shape[1]
    jacobian = np.zeros((len(theta), p + 1, p + 1))
    jacobian[:, :p, :p] = back / tau[:, :, None]
    jacobian[:, :p, p] = -(scaled @ back.T) / tau
    jacobian[:, p, p] = -1.0 / tau[:, 0]
    bad = ~optimum.converged
    hessian = np.where(bad[:, None, None], -np.eye(p + 1), optimum.hessian)
    size = np.sqrt(np.maximum(-np.diagonal(hessian, axis1=1, axis2=2), 1e-200))
    scaled_size = size[:, :, None] * size[:, None, :]
    # The ridge only matters where a coefficient runs off; it keeps the inverse finite there.
    inverse = np.linalg.inv(-hessian / scaled_size + 1e-15 * np.eye(p + 1)) / scaled_size
    covariance = jacobian @ inverse @ np.swapaxes(jacobian, 1, 2)
    covariance[bad] = np.nan
    return scaled @ back.T + _centre_beta(setup), 1.0 / tau[:, 0], covariance


def _centre_beta(setup: Setup) -> FloatArray:
    """What the centre of the ln lives adds to the coefficients, shape (B, p)."""
    added = np.zeros((len(setup.centre), setup.design.p))
    intercept = setup.design.intercept
    if intercept is not None:
        added[:, intercept] = setup.centre / setup.design.X[0, intercept]
    return added


def _refuse_degenerate(setup: Setup, optimum: Optimum, covariance: FloatArray) -> None:
    names = setup.design.names
    if not optimum.converged[0] or (optimum.loglik[0] > -1e-3 and not setup.problem.exact_weight[0]):
        raise Refusal(
            "the lives can be met without any scatter, so its size cannot be judged",
            where="life regression",
            hint="more cutters, or more looks at each",
        )
    tau = optimum.theta[0, -1]
    inverse = np.linalg.inv(setup.design.back)
    size = np.sqrt(np.diag(inverse @ covariance[0, :-1, :-1] @ inverse.T))
    lost = np.flatnonzero(size * tau > IDENTIFIED)
    if len(lost):
        raise Refusal(
            "its coefficient runs off to infinity: a level of it has no failure bounded from both sides",
            where=names[int(lost[-1])],
        )


def _check_share(p: float) -> float:
    if not 0.0 < p < 1.0:
        raise ArgumentError(f"share {p:g}", where="p", allowed="between 0 and 1, such as 0.5 for the median")
    return p
