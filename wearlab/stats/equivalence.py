"""Is a difference small enough not to matter? Two one-sided tests, and the verdict of a contrast."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval
from wearlab.stats.two_groups import TwoSample

VERDICTS = ("small_but_real", "different", "alike", "cannot_tell")
"""The four verdicts, in the order in which they are asked for."""


@dataclass(frozen=True)
class Margin:
    """The band inside which a difference does not matter, with the value of no difference.

    >>> Margin.ratio(1.25)
    Margin(low=0.8, high=1.25, null=1.0)
    """

    low: float
    high: float
    null: float

    def __post_init__(self) -> None:
        if not self.low < self.null < self.high:
            raise ArgumentError(
                f"a margin from {self.low:g} to {self.high:g}",
                where="margin",
                allowed=f"limits either side of {self.null:g}",
            )

    @classmethod
    def ratio(cls, largest: float) -> Margin:
        """The band of ratios from 1 / largest to largest."""
        if not 1.0 < largest < math.inf:
            raise ArgumentError(
                f"margin {largest:g}", where="margin", allowed="a ratio above 1, such as 1.25"
            )
        return cls(1.0 / largest, largest, 1.0)

    @classmethod
    def difference(cls, largest: float) -> Margin:
        """The band of differences from -largest to largest."""
        if not 0.0 < largest < math.inf:
            raise ArgumentError(f"margin {largest:g}", where="margin", allowed="a difference above 0")
        return cls(-largest, largest, 0.0)


@dataclass(frozen=True)
class Equivalence:
    """Two one-sided tests.

    Attributes
    ----------
    p_lower, p_upper : float
        p of a difference at or below the lower margin, at or above the upper one; NaN without a test.
    low, high : float
        Margins.
    why_missing : str or None
        Why there is no test.
    """

    p_lower: float
    p_upper: float
    low: float
    high: float
    why_missing: str | None

    @property
    def p_value(self) -> float:
        """The larger of the two: p of a difference that matters."""
        return max(self.p_lower, self.p_upper)


def two_one_sided(result: TwoSample, low: float, high: float) -> Equivalence:
    """Test that a difference lies between two margins.

    Parameters
    ----------
    result : TwoSample
        The difference, on the scale of the margins (ln for ratios).
    low, high : float
        Margins.

    Returns
    -------
    Equivalence

    Raises
    ------
    ArgumentError
        When the margins are not in order.

    Examples
    --------
    >>> import math
    >>> from wearlab.stats.two_groups import welch
    >>> z, std = [1.284, 1.374, 1.188, 1.319], [1.194, 1.295, 1.105, 1.247]
    >>> round(two_one_sided(welch(z, std), -math.log(1.25), math.log(1.25)).p_value, 4)
    0.0227
    """
    from scipy.special import stdtr

    if not low < high:
        raise ArgumentError(f"margins {low:g} and {high:g}", where="margins", allowed="the lower one first")
    if result.why_missing is not None:
        return Equivalence(math.nan, math.nan, low, high, result.why_missing)
    above = (result.difference - low) / result.se
    below = (result.difference - high) / result.se
    return Equivalence(float(stdtr(result.df, -above)), float(stdtr(result.df, below)), low, high, None)


def verdict(interval95: Interval, interval90: Interval, margin: Margin | float) -> str:
    """Verdict of a contrast from its 95 % interval, its 90 % interval and the margin.

    Asked in this order: the 95 % interval leaves out no difference and the 90 % interval lies inside the
    margin, small_but_real; it leaves out no difference, different; the 90 % interval lies inside the margin,
    alike; otherwise cannot_tell.

    Parameters
    ----------
    interval95, interval90 : Interval
        Of the ratio or of the difference.
    margin : Margin or float
        The band that does not matter; a number is the largest ratio that does not.

    Returns
    -------
    str
        One of `VERDICTS`.

    Examples
    --------
    >>> verdict(Interval(1.02, 1.19, 0.95, "t"), Interval(1.04, 1.17, 0.90, "t"), 1.25)
    'small_but_real'
    """
    band = margin if isinstance(margin, Margin) else Margin.ratio(margin)
    real = not interval95.contains(band.null)
    small = interval90.inside(band.low, band.high)
    if real:
        return "small_but_real" if small else "different"
    return "alike" if small else "cannot_tell"
