"""Where a curve crosses a limit.

Three rules. `isotonic`: pool-adjacent-violators, then the first crossing by straight-line interpolation; the rule that
counts. `first`: first upward crossing of the readings as they are. `last`: the crossing after which no reading is
below the limit again. Where they differ by more than the bracket the readings themselves are in doubt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearlab.core.limits import reached

Array = np.ndarray


@dataclass(frozen=True, slots=True)
class Crossing:
    """One crossing.

    Attributes
    ----------
    status : str
        exact, left (already past at the first reading), right (never reached) or none (no reading).
    life : float
        Clock at the crossing by the isotonic rule; NaN unless exact.
    bracket_low, bracket_high : float
        Clock at the readings around it; NaN where there is none.
    first, last : float
        Life by the other two rules; NaN where they find none. Where the first reading is past the limit and later ones
        are not, `first` is the clock of the first reading.
    """

    status: str
    life: float
    bracket_low: float
    bracket_high: float
    first: float
    last: float

    @property
    def rules_disagree(self) -> bool:
        """Whether the rules differ by more than the bracket, or one finds a crossing where the others find none."""
        if self.status != "exact":
            return self.status == "right" and math.isfinite(self.first)
        if not (math.isfinite(self.first) and math.isfinite(self.last)):
            return True
        gap = max(abs(self.first - self.life), abs(self.last - self.life))
        return gap > self.bracket_high - self.bracket_low


def find_crossing(clock: Array, value: Array, limit: float) -> Crossing:
    """Cross a rising curve with a limit; reached means at or past it.

    Parameters
    ----------
    clock, value : numpy.ndarray, shape (n,)
        In order of the clock; a falling curve is given with its sign changed.
    limit : float
        In the unit of `value`.

    Returns
    -------
    Crossing

    Examples
    --------
    >>> find_crossing(np.array([26.0, 29.0, 32.0]), np.array([0.28, 0.29, 0.38]), 0.3).bracket_low
    29.0
    """
    nan = math.nan
    if len(clock) == 0:
        return Crossing("none", nan, nan, nan, nan, nan)
    past = reached(value, limit)
    if not past.any():
        return Crossing("right", nan, float(clock[-1]), nan, nan, nan)
    smooth = _isotonic(value)
    met = np.flatnonzero(reached(smooth, limit))
    if len(met) and met[0] == 0:
        return Crossing("left", nan, nan, float(clock[0]), nan, nan)
    first, last = _first(clock, value, past, limit), _last(clock, value, past, limit)
    if len(met) == 0:  # the readings fell back so far that the monotone curve never gets there
        return Crossing("right", nan, float(clock[-1]), nan, first, last)
    at = int(met[0])
    return Crossing("exact", _between(clock, smooth, at, limit), float(clock[at - 1]), float(clock[at]), first, last)


def _first(clock: Array, value: Array, past: Array, limit: float) -> float:
    """First upward crossing of the readings as they are."""
    at = int(np.argmax(past))
    return _between(clock, value, at, limit) if at else float(clock[0])


def _last(clock: Array, value: Array, past: Array, limit: float) -> float:
    """The crossing after which no reading is below the limit again."""
    below = np.flatnonzero(~past)
    after = int(below[-1]) + 1 if len(below) else 0
    if after == len(past):
        return math.nan
    return _between(clock, value, after, limit) if after else float(clock[0])


def _isotonic(value: Array) -> Array:
    from scipy.optimize import isotonic_regression

    return np.asarray(isotonic_regression(value).x)


def _between(clock: Array, value: Array, at: int, limit: float) -> float:
    """Straight line between reading at - 1 (below the limit) and reading at (at or past it)."""
    t0, t1, v0, v1 = clock[at - 1], clock[at], value[at - 1], value[at]
    # A reading that is the limit but for rounding must not put the crossing behind itself.
    return float(t0 + min((limit - v0) / (v1 - v0), 1.0) * (t1 - t0))
