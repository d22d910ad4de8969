"""Age replacement: when to change a cutter that may fail before its planned change.

Cost a unit of use when cutters are changed at age tau or when they fail, whichever comes first:
[C_p S(tau) + C_f (1 - S(tau))] / integral of S from 0 to tau, with S the share of cutters that last to an age, C_p the
planned change and C_f the failure in service (renewal-reward theorem; Barlow and Proschan, Mathematical Theory of
Reliability, from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain

GRID = 200
"""Ages looked at before the best of them is refined."""
GAIN = 1e-9
"""Relative gain over no planned change that counts as one."""


class AgeLaw(Protocol):
    """What age replacement needs of a law of life, ln life = location + sigma e."""

    @property
    def name(self) -> str:
        """Name of the law."""

    def survival(self, age: Any, location: Any, sigma: Any) -> Any:
        """Share of cutters that last to an age."""

    def mean_use(self, age: Any, location: Any, sigma: Any) -> Any:
        """Mean use of a cutter that is changed at an age: integral of the survival up to it."""

    def mean_life(self, location: Any, sigma: Any) -> Any:
        """Mean life."""

    def quantile(self, share: float, location: Any, sigma: Any) -> Any:
        """Age that a share does not reach."""


@dataclass(frozen=True)
class LognormalLife:
    """Lognormal lives: location is the mean of ln life, sigma its standard deviation."""

    name: str = "lognormal"

    def survival(self, age: Any, location: Any, sigma: Any) -> Any:
        from scipy.special import ndtr

        return ndtr((location - np.log(age)) / sigma)

    def mean_use(self, age: Any, location: Any, sigma: Any) -> Any:
        from scipy.special import log_ndtr

        z = (np.log(age) - location) / sigma
        # The tail is formed in logs, so that a large sigma does not overflow.
        return age * self.survival(age, location, sigma) + np.exp(location + sigma**2 / 2 + log_ndtr(z - sigma))

    def mean_life(self, location: Any, sigma: Any) -> Any:
        return np.exp(location + np.square(sigma) / 2)

    def quantile(self, share: float, location: Any, sigma: Any) -> Any:
        from scipy.special import ndtri

        return np.exp(location + sigma * ndtri(share))


@dataclass(frozen=True)
class WeibullLife:
    """Weibull lives: exp(location) is the characteristic life, 1 / sigma the shape."""

    name: str = "weibull"

    def survival(self, age: Any, location: Any, sigma: Any) -> Any:
        return np.exp(-self._hazard(age, location, sigma))

    def mean_use(self, age: Any, location: Any, sigma: Any) -> Any:
        from scipy.special import gammainc

        return self.mean_life(location, sigma) * gammainc(sigma, self._hazard(age, location, sigma))

    def mean_life(self, location: Any, sigma: Any) -> Any:
        from scipy.special import gammaln

        return np.exp(location + gammaln(1.0 + sigma))

    def quantile(self, share: float, location: Any, sigma: Any) -> Any:
        return np.exp(location + sigma * math.log(-math.log1p(-share)))

    @staticmethod
    def _hazard(age: Any, location: Any, sigma: Any) -> Any:
        return np.exp(np.minimum((np.log(age) - location) / sigma, 700.0))


LAWS: dict[str, AgeLaw] = {law.name: law for law in (LognormalLife(), WeibullLife())}
"""Laws of life by name."""


@dataclass(frozen=True, slots=True)
class AgeOptimum:
    """The age of planned change that costs least.

    Attributes
    ----------
    law : str
    age : float
        In the unit of the lives; infinite where no planned change pays.
    rate : float
        Money a unit of use at that age.
    rate_without : float
        Money a unit of use when cutters run until they fail.
    failing : float
        Share of cutters that fail before that age.
    planned_cost, failure_cost : float
    draws : int
        Plausible laws averaged over; 1 where the law was taken as known.
    """

    law: str
    age: float
    rate: float
    rate_without: float
    failing: float
    planned_cost: float
    failure_cost: float
    draws: int = 1

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({name: getattr(self, name) for name in self.__slots__})


def age_law(name: str) -> AgeLaw:
    """The law of life of a name.

    Raises
    ------
    ArgumentError
        For another name than lognormal and weibull.
    """
    if name not in LAWS:
        raise ArgumentError(f"law of life {name!r}", where="law", allowed=", ".join(LAWS))
    return LAWS[name]


def cost_rate(
    age: ArrayLike, law: str, location: ArrayLike, sigma: ArrayLike, planned_cost: float, failure_cost: float
) -> np.ndarray:
    """Money a unit of use when cutters are changed at an age.

    Parameters
    ----------
    age : array_like
        Planned ages; infinity = run until failure.
    law : {"lognormal", "weibull"}
    location, sigma : array_like
        ln life = location + sigma e; Weibull: ln of the characteristic life and one over the shape.
    planned_cost, failure_cost : float
        Money a planned change and a failure in service, edge and change counted in both.

    Examples
    --------
    >>> rates = cost_rate([30.0, 45.4, np.inf], "lognormal", np.log(60.0) - 0.0431, 0.29356, 1.0, 2.0)
    >>> (60 * rates).round(3).tolist()
    [2.029, 1.651, 2.0]
    """
    life = age_law(law)
    t, mu, s = np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in (age, location, sigma)))
    ends = np.isfinite(t)
    finite = np.where(ends, t, 1.0)
    lasting = np.where(ends, life.survival(finite, mu, s), 0.0)
    use = np.where(ends, life.mean_use(finite, mu, s), life.mean_life(mu, s))
    return np.asarray((planned_cost * lasting + failure_cost * (1.0 - lasting)) / use)


def best_age(
    law: str, location: ArrayLike, sigma: ArrayLike, planned_cost: float, failure_cost: float
) -> AgeOptimum:
    """The age of planned change that costs least, for one law or averaged over plausible ones.

    Parameters
    ----------
    law : {"lognormal", "weibull"}
    location, sigma : float or array_like, shape (draws,)
        One law, or draws from its posterior: then the mean cost over the draws is made least.
    planned_cost, failure_cost : float

    Returns
    -------
    AgeOptimum

    Raises
    ------
    ArgumentError
        A cost or sigma is not above 0, or a failure costs less than a planned change.

    Examples
    --------
    >>> best = best_age("weibull", np.log(67.0), 1 / 3.7138, 1.0, 5.0)
    >>> round(best.age, 1), round(best.failing, 3)
    (35.3, 0.089)
    """
    mu, s = np.atleast_1d(np.asarray(location, float)), np.atleast_1d(np.asarray(sigma, float))
    _check(s, planned_cost, failure_cost)

    def mean_rate(log_age: ArrayLike) -> np.ndarray:
        ages = np.exp(np.atleast_1d(log_age))[:, None]
        return cost_rate(ages, law, mu, s, planned_cost, failure_cost).mean(axis=1)

    without = float(cost_rate(np.inf, law, mu, s, planned_cost, failure_cost).mean())
    log_age = _least(mean_rate, *_window(age_law(law), mu, s))
    rate = float(mean_rate(log_age)[0])
    if rate >= without * (1.0 - GAIN):
        return AgeOptimum(law, math.inf, without, without, 1.0, planned_cost, failure_cost, len(mu))
    failing = 1.0 - float(np.mean(age_law(law).survival(math.exp(log_age), mu, s)))
    return AgeOptimum(law, math.exp(log_age), rate, without, failing, planned_cost, failure_cost, len(mu))


def _check(sigma: np.ndarray, planned: float, failure: float) -> None:
    if not (sigma > 0).all():
        raise ArgumentError(f"sigma {sigma.min():g}", where="age replacement", allowed="above 0")
    if not planned > 0 or not math.isfinite(failure):
        raise ArgumentError(
            f"planned change {planned:g}, failure {failure:g}", where="age replacement", allowed="above 0, finite"
        )
    if failure < planned:
        raise ArgumentError(
            f"a failure that costs {failure:g}, less than a planned change of {planned:g}",
            where="age replacement",
            hint="a failure costs its edge and its change too",
        )


def _window(law: AgeLaw, location: np.ndarray, sigma: np.ndarray) -> tuple[float, float]:
    """Ln ages between which the best one lies: from far below nearly every life to beyond nearly all of them."""
    low = np.quantile(np.log(law.quantile(1e-9, location, sigma)), 0.05)
    high = np.quantile(np.log(law.quantile(1.0 - 1e-6, location, sigma)), 0.95)
    return float(low), float(high)


def _least(function: Any, low: float, high: float) -> float:
    """Place of the least value: the best of a grid, refined between its neighbours."""
    from scipy.optimize import minimize_scalar

    grid = np.linspace(low, high, GRID)
    at = int(np.argmin(function(grid)))
    bounds = (float(grid[max(at - 1, 0)]), float(grid[min(at + 1, GRID - 1)]))
    found = minimize_scalar(lambda x: float(function(x)[0]), bounds=bounds, method="bounded", options={"xatol": 1e-7})
    return float(found.x)
