"""How many parts the cutter in the spindle still has."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain
from wearlab.decide.age_replacement import age_law


@dataclass(frozen=True, repr=False)
class Remaining:
    """Remaining life of one cutter that is still good.

    Attributes
    ----------
    cutter : str
    age : float
        What it has done, on the clock.
    law : str
    location, sigma : ndarray, shape (draws,)
        Plausible laws of life.
    to_interval : float
        What is left to its planned change; negative where it is overdue.
    """

    cutter: str
    age: float
    law: str
    location: np.ndarray
    sigma: np.ndarray
    to_interval: float

    def chance_of_lasting(self, further: float) -> float:
        """Chance that it lasts so much further."""
        if further < 0:
            raise ArgumentError(f"{further:g}", where="further", allowed="from 0")
        later = age_law(self.law).survival(self.age + further, self.location, self.sigma)
        now = age_law(self.law).survival(self.age, self.location, self.sigma)
        return float(np.sum(later) / np.sum(now))

    @property
    def median(self) -> float:
        """Remaining life that it reaches with even chances."""
        return self._quantile(0.5)

    def interval(self, level: float = 0.9) -> Interval:
        """Interval of the remaining life."""
        check_level(level)
        low, high = self._quantile(0.5 - level / 2), self._quantile(0.5 + level / 2)
        return Interval(low, high, level, f"{self.law}, {len(self.location)} plausible laws, given its age")

    def _quantile(self, share: float) -> float:
        from scipy.optimize import brentq

        top = max(self.age, 1e-9)
        while self.chance_of_lasting(top) > 1.0 - share:
            top *= 2.0
            if top > 1e12:
                return math.inf
        return float(brentq(lambda x: self.chance_of_lasting(x) - (1.0 - share), 0.0, top, xtol=1e-9 * top))

    def to_dict(self, level: float = 0.9) -> dict[str, Any]:
        """JSON-ready."""
        limits = self.interval(level).to_dict()
        lasting = self.chance_of_lasting(self.to_interval) if self.to_interval > 0 else math.nan
        return plain(
            {"cutter": self.cutter, "age": self.age, "median": self.median, "to_interval": self.to_interval,
             "chance_of_reaching_interval": lasting} | limits
        )  # fmt: skip


def remaining_life(
    cutter: str, age: float, law: str, location: ArrayLike, sigma: ArrayLike, interval: float = math.nan
) -> Remaining:
    """Remaining life of a cutter that is still good at an age.

    Parameters
    ----------
    cutter : str
    age : float
        From 0.
    law : {"lognormal", "weibull"}
    location, sigma : array_like, shape (draws,)
        Plausible laws of life.
    interval : float
        Planned change, on the same clock.

    Notes
    -----
    Each plausible law counts with its chance of a cutter lasting that long (Bayes).

    Examples
    --------
    >>> left = remaining_life("E7", 40.0, "weibull", [4.2], [0.25], 60.0)
    >>> round(left.median, 1), left.to_interval, round(left.chance_of_lasting(20.0), 3)
    (23.5, 20.0, 0.591)
    """
    mu, s = np.atleast_1d(np.asarray(location, float)), np.atleast_1d(np.asarray(sigma, float))
    if not (math.isfinite(age) and age >= 0):
        raise ArgumentError(f"age {age:g}", where="remaining life", allowed="from 0")
    start = max(age, 1e-12)
    if not np.sum(age_law(law).survival(start, mu, s)) > 0:
        raise ArgumentError(
            f"age {age:g}, which no plausible law reaches", where="remaining life", allowed="an age within the lives"
        )
    return Remaining(cutter, start, law, mu, s, interval - age)
