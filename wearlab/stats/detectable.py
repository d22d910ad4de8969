"""What a comparison can detect, and how many it takes: exact power of t tests on logs.

Power of the two-sided t test comes from the noncentral t distribution, both tails counted; that of two
one-sided tests by integrating over the estimated scatter. Sizes are found by stepping through whole numbers.
"""

from __future__ import annotations

import math

import numpy as np

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import check_level
from wearlab.stats.simultaneous import scatter_rule

MOST = 100_000
"""Sizes beyond this are not looked for."""


def t_power(sigma: float, ratio: float, n_a: int, n_b: int, level: float = 0.95) -> float:
    """Chance that the two-sided t test of two groups finds a true ratio.

    Parameters
    ----------
    sigma : float
        Standard deviation of the logs.
    ratio : float
        True ratio of geometric means.
    n_a, n_b : int
        Sizes of the groups.
    level : float
        One less the size of the test.

    Returns
    -------
    float

    Raises
    ------
    ArgumentError
        When sigma or the ratio is not positive, or a group has no member.

    Examples
    --------
    >>> round(t_power(0.15, 1.3, 5, 5), 6)
    0.679243
    """
    from scipy.special import stdtrit

    _check(sigma, ratio, n_a, n_b)
    df = n_a + n_b - 2
    if df < 1:
        return math.nan
    distance = abs(math.log(ratio)) / (sigma * math.sqrt(1 / n_a + 1 / n_b))
    return beyond(float(stdtrit(df, 0.5 + check_level(level) / 2)), df, distance)


def smallest_ratio(sigma: float, n_a: int, n_b: int, level: float = 0.95, power: float = 0.8) -> float:
    """Smallest true ratio (above 1) that the two-sided t test finds with the given chance.

    Parameters
    ----------
    sigma : float
        Standard deviation of the logs.
    n_a, n_b : int
        Sizes of the groups.
    level, power : float
        One less the size of the test, and the wanted chance.

    Returns
    -------
    float
        Infinite when there are fewer than three values in all.

    Examples
    --------
    >>> [round(smallest_ratio(0.15, n, n), 2) for n in (3, 5, 8, 20)]
    [1.59, 1.35, 1.25, 1.15]
    """
    from scipy.optimize import brentq
    from scipy.special import stdtrit

    _check(sigma, 2.0, n_a, n_b)
    _check_power(power, level)
    df = n_a + n_b - 2
    if df < 1:
        return math.inf
    critical = float(stdtrit(df, 0.5 + level / 2))
    distance = brentq(lambda far: beyond(critical, df, far) - power, 0.0, 2 * critical + 20.0, xtol=1e-12)
    exponent = distance * sigma * math.sqrt(1 / n_a + 1 / n_b)
    return math.exp(exponent) if exponent < 700 else math.inf


def smallest_shift(se: float, df: float, level: float = 0.95, power: float = 0.8) -> float:
    """Smallest difference that a two-sided t test with this standard error and df finds with the given chance.

    Parameters
    ----------
    se : float
        Standard error of the difference.
    df : float
        Degrees of freedom; broken ones are cut to a whole number.
    level, power : float
        One less the size of the test, and the wanted chance.

    Returns
    -------
    float
        Infinite without a degree of freedom or with an infinite error.

    Examples
    --------
    >>> round(math.exp(smallest_shift(0.15 * math.sqrt(2 / 5), 8)), 2)
    1.35
    """
    from scipy.optimize import brentq
    from scipy.special import stdtrit

    _check_power(power, level)
    whole = int(df) if math.isfinite(df) else 0
    if whole < 1 or not math.isfinite(se):
        return math.inf
    critical = float(stdtrit(whole, 0.5 + level / 2))
    return float(brentq(lambda far: beyond(critical, whole, far) - power, 0.0, 2 * critical + 20.0, xtol=1e-12)) * se


def cutters_needed(sigma: float, ratio: float, level: float = 0.95, power: float = 0.8) -> int:
    """Members a side at which the two-sided t test finds a true ratio with the given chance.

    Parameters
    ----------
    sigma : float
        Standard deviation of the logs.
    ratio : float
        True ratio of geometric means, not 1.
    level, power : float
        One less the size of the test, and the wanted chance.

    Returns
    -------
    int

    Raises
    ------
    Refusal
        When more than 100,000 a side would be needed.

    Examples
    --------
    >>> cutters_needed(0.15, 1.25), cutters_needed(0.25, 1.25)
    (9, 21)
    """
    _check(sigma, ratio, 2, 2)
    _check_power(power, level)
    return _smallest_size(lambda n: t_power(sigma, ratio, n, n, level), power, f"a ratio of {ratio:g}")


def equivalence_power(
    sigma: float, n_a: int, n_b: int, margin: float, ratio: float = 1.0, level: float = 0.95
) -> float:
    """Chance that two one-sided t tests (common scatter) call two groups alike.

    Parameters
    ----------
    sigma : float
        Standard deviation of the logs.
    n_a, n_b : int
        Sizes of the groups.
    margin : float
        Largest ratio that does not matter.
    ratio : float
        True ratio.
    level : float
        One less the size of each one-sided test.

    Returns
    -------
    float

    Examples
    --------
    >>> round(equivalence_power(0.15, 9, 9, 1.25), 6)
    0.830332
    """
    from scipy.special import stdtrit

    _check(sigma, ratio, n_a, n_b)
    if not margin > 1:
        raise ArgumentError(f"margin {margin:g}", where="margin", allowed="a ratio above 1")
    df = n_a + n_b - 2
    if df < 1:
        return math.nan
    scale = sigma * math.sqrt(1 / n_a + 1 / n_b)
    bounds = ((-math.log(margin) - math.log(ratio)) / scale, (math.log(margin) - math.log(ratio)) / scale)
    return _between_margins(bounds, df, float(stdtrit(df, check_level(level))))


def cutters_needed_alike(
    sigma: float, margin: float, ratio: float = 1.0, level: float = 0.95, power: float = 0.8
) -> int:
    """Members a side at which two one-sided tests call two groups alike with the given chance.

    Raises
    ------
    Refusal
        When the true ratio is not inside the margin, or more than 100,000 a side would be needed.

    Examples
    --------
    >>> [cutters_needed_alike(sigma, 1.25) for sigma in (0.10, 0.15, 0.20, 0.25)]
    [5, 9, 15, 23]
    """
    _check(sigma, ratio, 2, 2)
    _check_power(power, level)
    if not abs(math.log(ratio)) < math.log(margin):
        raise Refusal(f"a true ratio of {ratio:g} does not lie inside the margin {margin:g}", where="size of a trial")
    return _smallest_size(
        lambda n: equivalence_power(sigma, n, n, margin, ratio, level), power, f"a margin of {margin:g}"
    )


def _smallest_size(power_of: object, power: float, aim: str) -> int:
    """Smallest whole number at which a rising power reaches the wanted one."""
    assert callable(power_of)
    high = 2
    while not power_of(high) >= power:
        if high >= MOST:
            raise Refusal(f"{aim} would take more than {MOST} a side", where="size of a trial")
        high = min(2 * high, MOST)
    low = max(high // 2, 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if power_of(middle) >= power else (middle, high)
    return high if high > 2 or power_of(2) >= power else low


def beyond(critical: float, df: int, distance: float) -> float:
    """P(|t'| > critical) with the given noncentrality."""
    from scipy.special import ndtr

    # t' > c means z + distance > c s: an average of normal probabilities over s, the estimated scatter.
    scatter, weight = scatter_rule(df)
    return float(np.sum(weight * (ndtr(distance - critical * scatter) + ndtr(-distance - critical * scatter))))


def _between_margins(bounds: tuple[float, float], df: int, critical: float) -> float:
    """P(estimate far enough inside both margins), the margins in standard errors from the truth."""
    from scipy.special import ndtr

    low, high = bounds
    largest = (high - low) / (2 * critical)
    scatter, weight = scatter_rule(df, largest)
    return float(np.sum(weight * (ndtr(high - critical * scatter) - ndtr(low + critical * scatter))))


def _check(sigma: float, ratio: float, n_a: int, n_b: int) -> None:
    if not 0 < sigma < math.inf:
        raise ArgumentError(f"sigma {sigma:g}", where="sigma", allowed="a scatter above 0")
    if not 0 < ratio < math.inf:
        raise ArgumentError(f"ratio {ratio:g}", where="ratio", allowed="a ratio above 0")
    if min(n_a, n_b) < 1:
        raise ArgumentError(f"sizes {n_a} and {n_b}", where="sizes", allowed="at least 1 each")


def _check_power(power: float, level: float) -> None:
    check_level(level)
    if not 1 - level < power < 1:
        raise ArgumentError(f"power {power:g}", where="power", allowed=f"between {1 - level:g} and 1, such as 0.8")
