"""Which speeds for a Taylor fit: what each design knows of n, of v60 and of a bend, and what it costs in machine time.

Life is regressed on speed: ln T = k - (ln v)/n + scatter. The standard error of n is n^2 sigma / sqrt(Sxx) with
Sxx = sum (ln v - mean)^2 (delta method): the spread of the speeds counts in full, the number of cutters under a root.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import plain
from wearlab.plan.chances import Precision, verdict_chances

SIZES = (6, 9, 12, 15, 18, 24)
"""Cutters in all for which a chosen design is shown."""
BEND = 4.0
"""Coefficient of (ln v)^2 of the bend that a design should see: over a ratio of 1.6 in speed the local n then runs from
0.17 to 0.47 about 0.25."""


@dataclass(frozen=True)
class SpeedDesign:
    """Speeds, cutters at each, and what they are expected to tell.

    Attributes
    ----------
    name : str
        two ends, heavy ends, even, four even, fast end.
    speeds_m_min : tuple of float
    counts : tuple of int
    n, sigma : float
        Exponent and scatter of ln life that are assumed.
    minutes : float
        In the metal, all cutters; NaN without an expected life.
    expected : (float, float) or None
        A life in minutes that is expected at a speed in m/min.
    """

    name: str
    speeds_m_min: tuple[float, ...]
    counts: tuple[int, ...]
    n: float
    sigma: float
    minutes: float = math.nan
    expected: tuple[float, float] | None = None

    @property
    def cutters(self) -> int:
        """In all."""
        return sum(self.counts)

    @property
    def sxx(self) -> float:
        """Sum of squares of ln speed about its mean."""
        return float(np.sum(self._centred() ** 2))

    @property
    def std_error_n(self) -> float:
        """Expected standard error of n."""
        return self.n**2 * self.sigma / math.sqrt(self.sxx)

    @property
    def half_width(self) -> float:
        """Half-width of the 95 % interval of n, as a share of n (delta method with Student's t)."""
        from scipy.special import stdtrit

        df = self.cutters - 2
        return float(stdtrit(df, 0.975)) * self.std_error_n / self.n if df > 0 else math.inf

    @property
    def chance_bounded(self) -> float:
        """Chance that the 95 % interval of the slope keeps clear of 0, so that n is bounded at all (exact)."""
        return verdict_chances(
            Precision(self.sigma / math.sqrt(self.sxx), self.cutters - 2), 1.0 / self.n, 1.0
        ).shown

    def std_error_ln_v(self, life_min: float, expected_life_min: float, at_m_min: float) -> float:
        """Expected standard error of ln of the speed for a life (v60 for 60 min), delta method.

        Parameters
        ----------
        life_min : float
        expected_life_min, at_m_min : float
            A life that is expected at a speed.
        """
        ln_v = math.log(at_m_min) - self.n * math.log(life_min / expected_life_min)
        middle = float(np.average(np.log(self.speeds_m_min), weights=self.counts))
        return self.n * self.sigma * math.sqrt(1.0 / self.cutters + (ln_v - middle) ** 2 / self.sxx)

    @property
    def std_error_v60(self) -> float:
        """Expected standard error of the speed for 60 min, as a share of it; NaN without an expected life."""
        return math.nan if self.expected is None else self.std_error_ln_v(60.0, *self.expected)

    def chance_of_bend(self, bend: float = BEND) -> float:
        """Chance that the test of a quadratic term finds a bend (5 %, exact); 0 below three speeds."""
        x = self._centred()
        X = np.column_stack([np.ones_like(x), x])
        square = x**2 - X @ np.linalg.lstsq(X, x**2, rcond=None)[0]
        left = float(square @ square)
        if len(self.speeds_m_min) < 3 or self.cutters < 4 or left < 1e-15:
            return 0.0
        return verdict_chances(Precision(self.sigma / math.sqrt(left), self.cutters - 3), bend, 1.0).shown

    def chance_to_tell(self, other_n: float) -> float:
        """Chance that the 95 % interval of n excludes another value (exact on the slope).

        >>> round(SpeedDesign("", (55, 75, 105), (4, 4, 4), 0.25, 0.3).chance_to_tell(0.4), 2)
        0.98
        """
        gap = 1.0 / self.n - 1.0 / other_n
        return verdict_chances(Precision(self.sigma / math.sqrt(self.sxx), self.cutters - 2), gap, 1.0).shown

    def _centred(self) -> np.ndarray:
        x = np.repeat(np.log(np.asarray(self.speeds_m_min, dtype=float)), self.counts)
        return np.asarray(x - x.mean())

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "name": self.name,
                "speeds_m_min": list(self.speeds_m_min),
                "counts": list(self.counts),
                "n": self.n,
                "sigma": self.sigma,
                "std_error_n": self.std_error_n,
                "half_width_share": self.half_width,
                "std_error_v60_share": self.std_error_v60,
                "chance_bounded": self.chance_bounded,
                "chance_of_bend": self.chance_of_bend(),
                "minutes": self.minutes,
            }
        )
        return made


@dataclass(frozen=True)
class SpeedChoice:
    """Designs that were weighed, and the surest of n among those that can see a bend.

    Attributes
    ----------
    chosen : SpeedDesign
    weighed : tuple of SpeedDesign
    sizes : tuple of SpeedDesign
        The chosen speeds with fewer and with more cutters.
    """

    chosen: SpeedDesign
    weighed: tuple[SpeedDesign, ...]
    sizes: tuple[SpeedDesign, ...] = ()

    @property
    def error_with_twice_the_cutters(self) -> float:
        """Standard error of n with twice the cutters, as a share of that of the choice."""
        return math.sqrt(0.5)

    @property
    def error_with_a_wider_range(self) -> float:
        """The same with a fastest speed a quarter higher and as many cutters: why spread beats number."""
        ratio = self.chosen.speeds_m_min[-1] / self.chosen.speeds_m_min[0]
        return math.log(ratio) / math.log(1.25 * ratio)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "chosen": self.chosen.to_dict(),
            "weighed": [one.to_dict() for one in self.weighed],
            "sizes": [one.to_dict() for one in self.sizes],
            "error_with_twice_the_cutters": self.error_with_twice_the_cutters,
            "error_with_a_wider_range": self.error_with_a_wider_range,
        }


def choose_speeds(
    lowest_m_min: float,
    highest_m_min: float,
    cutters: int,
    n: float,
    sigma: float,
    *,
    expected_life_min: float | None = None,
    at_m_min: float | None = None,
    shortest_life_min: float = 5.0,
    most_minutes: float = math.inf,
) -> SpeedChoice:
    """Speeds and repeats that make n surest and can still see a bend.

    Parameters
    ----------
    lowest_m_min, highest_m_min : float
        Permitted range.
    cutters : int
        In all; at least 5.
    n, sigma : float
        Guess of the exponent, scatter of ln life.
    expected_life_min, at_m_min : float, optional
        A life that is expected at a speed: gives minutes, and keeps lives long enough to be read.
    shortest_life_min : float
        Speeds at which the expected life is shorter are not used.
    most_minutes : float
        In the metal, all cutters.

    Raises
    ------
    Refusal
        When the range leaves no room, or no design keeps to the minutes.

    Notes
    -----
    Two ends are surest of n and blind to a bend; they are weighed and never chosen.

    Examples
    --------
    >>> choice = choose_speeds(50, 100, 12, 0.25, 0.25)
    >>> choice.chosen.speeds_m_min, choice.chosen.counts
    ((50.0, 71.0, 100.0), (5, 2, 5))
    """
    _check(lowest_m_min, highest_m_min, cutters, n, sigma)
    highest = _highest(lowest_m_min, highest_m_min, n, expected_life_min, at_m_min, shortest_life_min)
    weighed = [
        _design(name, lowest_m_min, highest, counts, n, sigma, expected_life_min, at_m_min)
        for name, counts in _allocations(cutters).items()
    ]
    able = [one for one in weighed if one.name != "two ends" and not one.minutes > most_minutes]
    if not able:
        least = min(one.minutes for one in weighed if one.name != "two ends")
        raise Refusal(
            f"{cutters} cutters take at least {least:.0f} min in the metal",
            where="speeds",
            allowed=f"up to {most_minutes:g} min",
            hint="fewer cutters, or a faster lowest speed",
        )
    best = min(able, key=lambda one: (round(one.std_error_n, 9), -one.chance_of_bend()))
    sizes = (
        _design(best.name, lowest_m_min, highest, counts, n, sigma, expected_life_min, at_m_min)
        for size in SIZES
        if (counts := _allocations(size).get(best.name)) is not None
    )
    return SpeedChoice(best, tuple(weighed), tuple(sizes))


def given_speeds(
    speeds_m_min: Sequence[float],
    counts: Sequence[int],
    n: float,
    sigma: float,
    *,
    expected_life_min: float | None = None,
    at_m_min: float | None = None,
) -> SpeedDesign:
    """A design of the shop's own.

    >>> design = given_speeds([45, 60, 80], [3, 3, 3], 0.25, 0.2936)
    >>> round(design.std_error_n, 3)
    0.026
    """
    if len(speeds_m_min) != len(counts) or len(speeds_m_min) < 2 or min(counts) < 1:
        raise ArgumentError(
            f"{len(speeds_m_min)} speeds and {len(counts)} counts",
            where="speeds",
            allowed="a count for each of two or more",
        )
    _check(min(speeds_m_min), max(speeds_m_min), sum(counts), n, sigma)
    made = tuple(map(float, speeds_m_min))
    minutes = _minutes(made, counts, n, expected_life_min, at_m_min)
    return SpeedDesign("as given", made, tuple(counts), n, sigma, minutes, _expected(expected_life_min, at_m_min))


def _check(low: float, high: float, cutters: int, n: float, sigma: float) -> None:
    if not 0 < low < high:
        raise ArgumentError(
            f"speeds from {low:g} to {high:g} m/min",
            where="speeds",
            allowed="the first above 0 and below the second",
        )
    if cutters < 5:
        raise ArgumentError(
            f"{cutters} cutters",
            where="speeds",
            allowed="at least 5: three speeds, and something left for the scatter",
        )
    if not (0 < n < 2 and sigma > 0):
        raise ArgumentError(
            f"n {n:g}, scatter {sigma:g}", where="speeds", allowed="n between 0 and 2, scatter above 0"
        )


def _highest(
    low: float, high: float, n: float, life: float | None, at: float | None, shortest: float
) -> float:
    """The fastest speed at which lives are still long enough to be read."""
    if life is None or at is None:
        return high
    fastest = at * (life / shortest) ** n
    if fastest <= 1.05 * low:
        raise Refusal(
            f"at {low:g} m/min the expected life is already near {shortest:g} min",
            where="speeds",
            hint="a slower range, or a shorter shortest_life_min",
        )
    return min(high, float(math.floor(fastest)))


def _allocations(cutters: int) -> dict[str, tuple[int, ...]]:
    """Cutters at each speed, from the slowest, by name of the design."""
    middle = max(2, round(cutters / 6)) if cutters >= 6 else 1
    ends, odd = divmod(cutters - middle, 2)
    found: dict[str, tuple[int, ...]] = {
        "two ends": ((cutters + 1) // 2, cutters // 2),
        "heavy ends": (ends, middle + odd, ends),
        "even": _even(cutters, 3),
    }
    if cutters >= 8:
        found["four even"] = _even(cutters, 4)
        quarter = cutters // 4
        found["fast end"] = (quarter, quarter, cutters - 2 * quarter)
    return found


def _even(cutters: int, speeds: int) -> tuple[int, ...]:
    base, more = divmod(cutters, speeds)
    # What is left over goes to the ends, where it counts most.
    order = sorted(range(speeds), key=lambda i: (min(i, speeds - 1 - i), -i))
    return tuple(base + (1 if order.index(i) < more else 0) for i in range(speeds))


def _design(
    name: str,
    low: float,
    high: float,
    counts: tuple[int, ...],
    n: float,
    sigma: float,
    life: float | None,
    at: float | None,
) -> SpeedDesign:
    steps = np.linspace(math.log(low), math.log(high), len(counts))
    inner = [float(round(math.exp(step))) for step in steps[1:-1]]
    speeds = (float(low), *inner, float(high))
    minutes = _minutes(speeds, counts, n, life, at)
    return SpeedDesign(name, speeds, counts, n, sigma, minutes, _expected(life, at))


def _expected(life: float | None, at: float | None) -> tuple[float, float] | None:
    return None if life is None or at is None else (life, at)


def _minutes(
    speeds: Sequence[float], counts: Sequence[int], n: float, life: float | None, at: float | None
) -> float:
    if life is None or at is None:
        return math.nan
    return sum(count * life * (speed / at) ** (-1.0 / n) for speed, count in zip(speeds, counts, strict=True))
