"""When to look: inspection times that bracket the limit for the least spindle-stopping.

A gap of g in ln time adds g^2/12 to the variance of a ln life that is only known to lie in it (Sheppard's correction).
Of all sets of so many looks at whole parts, the one with the least mean of that over lognormal lives is found by
dynamic programming, with no gap so wide that the steady stage goes unread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain

BEYOND = 2.326
"""Scatters above the expected ln life up to which looks are planned: 99 lives in 100 end before."""
WIDEST = 0.25
"""Largest gap between looks as a share of the expected life: three readings of the steady stage at the least."""
GRID = 240
"""Places that are weighed for looks; with more parts than that, every second (third, ...) part is."""
MOST = 40
WEIGHED = (3, 5, 7, 10, 15)
"""Looks a life that are set side by side."""


@dataclass(frozen=True)
class Looks:
    """Planned looks of one kind of cutter.

    Attributes
    ----------
    parts : tuple of int
        Parts finished at each look, the new edge (0) not counted.
    minutes : tuple of float
        In the metal.
    expected_life_min, sigma : float
        What they were planned for.
    stop_min : float
        Spindle-stopping time of one look.
    """

    parts: tuple[int, ...]
    minutes: tuple[float, ...]
    expected_life_min: float
    sigma: float
    stop_min: float

    @property
    def before_the_end(self) -> int:
        """Looks up to the expected life."""
        return sum(minute <= self.expected_life_min * (1 + 1e-9) for minute in self.minutes)

    @property
    def expected_looks(self) -> float:
        """Looks that a cutter is expected to see: those up to its life and the one after."""
        from scipy.special import ndtr

        z = np.log(np.asarray(self.minutes[:-1]) / self.expected_life_min) / self.sigma
        return 1.0 + float(np.sum(ndtr(-z)))

    @property
    def chance_past_the_last(self) -> float:
        """Chance that a life is longer than the last planned look."""
        from scipy.special import ndtr

        return float(ndtr(-math.log(self.minutes[-1] / self.expected_life_min) / self.sigma))

    @property
    def cost(self) -> LookCost:
        """What looking this seldom costs in precision."""
        return look_cost(self.minutes, self.expected_life_min, self.sigma)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        cost = self.cost
        made: dict[str, Any] = plain(
            {
                "parts": list(self.parts),
                "minutes": list(self.minutes),
                "expected_life_min": self.expected_life_min,
                "before_the_end": self.before_the_end,
                "expected_looks": self.expected_looks,
                "stop_min": self.stop_min * self.expected_looks,
                "chance_past_the_last": self.chance_past_the_last,
                "sigma": cost.sigma,
                "sigma_good_or_past": cost.sigma_good_or_past,
            }
        )
        return made


@dataclass(frozen=True, slots=True)
class LookCost:
    """Scatter of ln life as it is, and as it appears when looks only say still good or past the limit.

    Attributes
    ----------
    sigma : float
        Between cutters.
    gap_variance : float
        Mean of (gap in ln time)^2 / 12 over the lives that a look on either side brackets.
    """

    sigma: float
    gap_variance: float

    @property
    def sigma_good_or_past(self) -> float:
        """Scatter that is seen; a land that is read and interpolated stays near `sigma`."""
        return math.sqrt(self.sigma**2 + self.gap_variance)

    @property
    def inflation(self) -> float:
        """Variance with the gaps over variance without: also the factor on the number of cutters."""
        return 1.0 + self.gap_variance / self.sigma**2


def even_gap_scatter(cv: float, gap: float) -> float:
    """Scatter seen when looks are a fixed share of the life apart: sqrt(cv^2 + gap^2 / 12).

    >>> round(even_gap_scatter(0.30, 0.25), 4), round(even_gap_scatter(0.30, 0.50), 3)
    (0.3086, 0.333)
    """
    if not (cv > 0 and gap >= 0):
        raise ArgumentError(f"scatter {cv:g}, gap {gap:g}", where="looks", allowed="above 0, and 0 or more")
    return math.sqrt(cv**2 + gap**2 / 12.0)


def look_cost(minutes: Sequence[float], expected_life_min: float, sigma: float) -> LookCost:
    """What the gaps between looks add to the scatter of ln life, averaged over lognormal lives.

    Parameters
    ----------
    minutes : sequence of float
        Looks, rising, above 0.
    expected_life_min : float
        Median life.
    sigma : float
        Scatter of ln life.
    """
    from scipy.special import ndtr

    times = np.log(_rising(minutes) / expected_life_min)
    share = np.diff(ndtr(times / sigma))
    gaps = np.diff(times)
    total = float(share.sum())
    return LookCost(sigma, float(np.sum(share * gaps**2) / 12.0 / total) if total > 0 else math.nan)


def plan_looks(
    expected_life_min: float,
    sigma: float,
    minutes_a_part: float,
    *,
    per_life: int = 7,
    first: float = 0.08,
    stop_min: float = 6.0,
) -> Looks:
    """Looks for one kind of cutter, at whole parts.

    Parameters
    ----------
    expected_life_min : float
        A guess of the median life.
    sigma : float
        Scatter of ln life.
    minutes_a_part : float
        In the metal.
    per_life : int
        Looks up to the expected life.
    first : float
        Share of the expected life of the first look, at the end of break-in.
    stop_min : float
        Spindle-stopping time of a look.

    Examples
    --------
    >>> found = plan_looks(40, 0.34, 0.8)
    >>> found.parts
    (4, 16, 24, 30, 36, 42, 48, 55, 64, 75, 87, 99, 111)
    """
    if not (
        expected_life_min > 0
        and sigma > 0
        and minutes_a_part > 0
        and 0 < first < 0.5
        and 2 <= per_life <= MOST
    ):
        raise ArgumentError(
            f"life {expected_life_min:g} min, scatter {sigma:g}, {minutes_a_part:g} min a part, first {first:g}, "
            f"{per_life} looks",
            where="looks",
            allowed=f"above 0, first below 0.5, 2 to {MOST} looks",
        )
    grid = _grid(expected_life_min, sigma, minutes_a_part, first)
    parts = _best(grid, minutes_a_part, expected_life_min, sigma, per_life)
    return Looks(parts, tuple(count * minutes_a_part for count in parts), expected_life_min, sigma, stop_min)


def weigh_looks(
    planned: Looks, minutes_a_part: float, first: float = 0.08, per_life: Sequence[int] = WEIGHED
) -> tuple[tuple[int, Looks], ...]:
    """The same cutter looked at less and more often: what stops cost beside what gaps cost.

    Parameters
    ----------
    planned : Looks
        Of one kind of cutter.
    minutes_a_part, first
        As in `plan_looks`.
    per_life : sequence of int
        Looks up to the expected life that are asked for; numbers that come out alike are given once.

    Returns
    -------
    tuple of (int, Looks)
        Looks up to the expected life as they came out, and the looks.

    Examples
    --------
    >>> found = weigh_looks(plan_looks(40, 0.34, 0.8), 0.8)
    >>> [(count, round(one.cost.inflation, 3)) for count, one in found]
    [(4, 1.053), (5, 1.034), (7, 1.019), (10, 1.008), (15, 1.004)]
    """
    made: dict[int, Looks] = {}
    for count in per_life:
        one = plan_looks(
            planned.expected_life_min,
            planned.sigma,
            minutes_a_part,
            per_life=count,
            first=first,
            stop_min=planned.stop_min,
        )
        made.setdefault(one.before_the_end, one)
    return tuple(sorted(made.items()))


def _grid(life: float, sigma: float, a_part: float, first: float) -> np.ndarray:
    """Counts of parts at which a look may be made, from the first look to the last."""
    low = max(round(first * life / a_part), 1)
    high = max(math.ceil(math.exp(BEYOND * sigma) * life / a_part), low + 1)
    step = max(math.ceil((high - low) / GRID), 1)
    return np.unique(np.append(np.arange(low, high, step), high))


def _best(grid: np.ndarray, a_part: float, life: float, sigma: float, per_life: int) -> tuple[int, ...]:
    """Least mean squared gap with at least `per_life` looks up to the expected life."""
    from scipy.special import ndtr

    times = np.log(grid * a_part / life)
    share = ndtr(times / sigma)
    gap = times[None, :] - times[:, None]
    cost = np.where(gap > 0, (share[None, :] - share[:, None]) * gap**2, np.inf)
    wide = (grid[None, :] - grid[:, None]) * a_part > WIDEST * life
    # A gap of one place of the grid is always allowed: parts may be longer than the widest gap.
    cost[wide & (np.arange(len(grid))[None, :] - np.arange(len(grid))[:, None] > 1)] = np.inf
    best = np.full(len(grid), np.inf)
    best[0] = 0.0
    back: list[np.ndarray] = []
    chosen = tuple(int(count) for count in grid)
    for _ in range(min(3 * per_life, len(grid) - 1)):
        total = best[:, None] + cost
        back.append(np.argmin(total, axis=0))
        best = np.min(total, axis=0)
        if not math.isfinite(best[-1]):
            continue
        chosen = tuple(int(grid[at]) for at in _path(back))
        if sum(count * a_part <= life * (1 + 1e-9) for count in chosen) >= per_life:
            break
    return chosen


def _path(back: list[np.ndarray]) -> list[int]:
    """Places of the grid from the first look to the last."""
    at = len(back[0]) - 1
    found = [at]
    for pointers in reversed(back):
        at = int(pointers[at])
        found.append(at)
    return found[::-1]


def _rising(minutes: Sequence[float]) -> np.ndarray:
    times = np.asarray(minutes, dtype=float)
    if times.ndim != 1 or len(times) < 2 or not (times > 0).all() or not (np.diff(times) > 0).all():
        raise ArgumentError(
            f"looks at {list(minutes)}", where="looks", allowed="two or more, rising, above 0"
        )
    return times
