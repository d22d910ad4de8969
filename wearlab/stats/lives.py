"""Lives that may be known exactly, from one side only, or between two looks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError
from wearlab.stats.design import FloatArray

Mask = NDArray[np.bool_]


@dataclass(frozen=True, init=False)
class Lives:
    """Positive lives with a lower and an upper bound each.

    Parameters
    ----------
    lower : array_like, shape (n,)
        Longest time at which it was known to last; 0 when it had already failed at the first look.
    upper : array_like, shape (n,)
        Shortest time at which it was known to have failed; infinite when it never was. Equal to `lower` for
        an exact life.

    Raises
    ------
    ArgumentError
        When the shapes differ, a bound is missing or negative, the bounds are the wrong way round, or a row
        says nothing at all (0 to infinity).

    Examples
    --------
    >>> lives = Lives([42.5, 60.0, 20.0, 0.0], [42.5, float("inf"), 25.0, 5.0])
    >>> lives.failures, lives.right.tolist()
    (3, [False, True, False, False])
    """

    lower: FloatArray
    upper: FloatArray

    def __init__(self, lower: ArrayLike, upper: ArrayLike) -> None:
        low, high = np.array(lower, dtype=float), np.array(upper, dtype=float)
        _check_bounds(low, high)
        low.setflags(write=False)
        high.setflags(write=False)
        object.__setattr__(self, "lower", low)
        object.__setattr__(self, "upper", high)

    @classmethod
    def right_censored(cls, times: ArrayLike, failed: ArrayLike) -> Lives:
        """Lives from a time each and whether it ended in failure.

        >>> Lives.right_censored([42.5, 60.0], [True, False]).upper.tolist()
        [42.5, inf]
        """
        low = np.asarray(times, dtype=float)
        ended = np.asarray(failed, dtype=bool)
        if low.shape != ended.shape:
            raise ArgumentError(
                f"{low.size} times and {ended.size} marks", where="failed", allowed="one mark a time"
            )
        return cls(low, np.where(ended, low, np.inf))

    def __len__(self) -> int:
        return len(self.lower)

    @property
    def exact(self) -> Mask:
        """Rows whose life is known exactly."""
        return self.lower == self.upper

    @property
    def right(self) -> Mask:
        """Rows still good when last seen."""
        return np.isinf(self.upper)

    @property
    def left(self) -> Mask:
        """Rows that had already failed when first seen."""
        return (self.lower == 0.0) & ~self.right

    @property
    def interval(self) -> Mask:
        """Rows that failed between two looks."""
        return ~(self.exact | self.right | self.left)

    @property
    def failures(self) -> int:
        """Number of rows that ended in failure, however well its time is known."""
        return int(np.count_nonzero(~self.right))

    def take(self, rows: ArrayLike) -> Lives:
        """The lives of some rows, by index or mask."""
        chosen = np.asarray(rows)
        return Lives(self.lower[chosen], self.upper[chosen])


def _check_bounds(low: FloatArray, high: FloatArray) -> None:
    if low.ndim != 1 or low.shape != high.shape:
        raise ArgumentError(
            f"lower of shape {low.shape}, upper of shape {high.shape}",
            where="lives",
            allowed="two vectors of one length",
        )
    for fault, allowed in (
        (np.isnan(low) | np.isnan(high), "a number, 0 or infinity"),
        (low < 0, "a lower bound of 0 or more"),
        (np.isinf(low), "a finite lower bound"),
        (low > high, "a lower bound that is not above the upper"),
        (high == 0, "an upper bound above 0"),
        (
            (low == 0) & np.isinf(high),
            "a row that says something: last seen good after 0, or failed by a finite time",
        ),
    ):
        if fault.any():
            row = int(np.flatnonzero(fault)[0])
            raise ArgumentError(
                f"lower {low[row]:g}, upper {high[row]:g}", where=f"life in row {row}", allowed=allowed
            )
