"""True wear land of a zone by its age: break-in, a steady stage, a rapid stage."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError

Floats = NDArray[np.float64]

_OLDEST = 4.0
"""Ages are looked up to four times the life."""


@dataclass(frozen=True, slots=True)
class LandCurve:
    """Land against age u = t / T, where T is the life to `limit_mm`; the same shape for every cutter and
    zone.

    f(u) = a (1 - exp(-u / tau)) + b u + c max(u - u3, 0)^2, with b such that f(1) is exactly the limit.

    Attributes
    ----------
    limit_mm : float
        Land at the end of life.
    break_in_mm, break_in_age : float
        a and tau: the land worn at once, and how soon.
    rapid_age, rapid_mm : float
        u3 and c: where the rapid stage begins, and how fast it grows.
    """

    limit_mm: float = 0.20
    break_in_mm: float = 0.045
    break_in_age: float = 0.05
    rapid_age: float = 0.90
    rapid_mm: float = 0.50

    @property
    def steady_mm(self) -> float:
        """b: land that the steady stage adds over one life.

        >>> round(LandCurve().steady_mm, 6)
        0.15
        """
        early = -self.break_in_mm * np.expm1(-1 / self.break_in_age)
        late = self.rapid_mm * max(1 - self.rapid_age, 0.0) ** 2
        return float(self.limit_mm - early - late)

    def land_mm(self, age: ArrayLike) -> Floats:
        """Land at an age; 0 at age 0, which is also the age of an edge that never wears (t / inf).

        >>> LandCurve().land_mm([0.0, 0.5, 1.0]).round(4).tolist()
        [0.0, 0.12, 0.2]
        """
        u = np.asarray(age, dtype=float)
        early = -self.break_in_mm * np.expm1(-u / self.break_in_age)
        return early + self.steady_mm * u + self.rapid_mm * np.maximum(u - self.rapid_age, 0.0) ** 2

    def age_at(self, land_mm: ArrayLike) -> Floats:
        """Age at which a land is reached: the inverse of `land_mm`, up to four lives.

        >>> LandCurve().age_at([0.0, 0.2]).round(6).tolist()
        [0.0, 1.0]
        """
        wanted = np.asarray(land_mm, dtype=float)
        low, high = np.zeros(wanted.shape), np.full(wanted.shape, _OLDEST)
        for _ in range(60):  # halving 4 sixty times leaves nothing to see
            middle = (low + high) / 2
            short = self.land_mm(middle) < wanted
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return np.where(wanted > self.land_mm(_OLDEST), np.inf, high)

    def with_limit(self, limit_mm: float) -> LandCurve:
        """The same break-in and rapid stage, another land at the end of life."""
        return replace(self, limit_mm=limit_mm)


def check_curve(curve: LandCurve) -> None:
    """Raise unless the land rises at every age.

    Raises
    ------
    ArgumentError
        When the steady stage does not rise, or an age or land is negative.
    """
    parts = (curve.limit_mm, curve.break_in_age)
    if min(parts) <= 0 or min(curve.break_in_mm, curve.rapid_mm, curve.rapid_age) < 0:
        raise ArgumentError("a land or an age that is negative or 0", where="land curve", allowed="above 0")
    if curve.steady_mm <= 0:
        raise ArgumentError(
            f"a steady stage of {curve.steady_mm:g} mm",
            where="land curve",
            allowed="break-in and rapid stage together below the limit",
        )
