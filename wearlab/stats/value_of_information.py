"""What more observations are worth before choosing the better of two: normal linear loss in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.core.errors import ArgumentError


@dataclass(frozen=True)
class WorthOfMore:
    """Worth of more observations, in the unit of the difference (ln cost: share of the yearly spend).

    Attributes
    ----------
    more : int
        Further observations a side.
    expected : float
        Expected gain from deciding after them.
    certainty : float
        Expected gain from knowing the difference: no trial is worth more.
    chance_of_change : float
        Chance that they change the choice.
    """

    more: int
    expected: float
    certainty: float
    chance_of_change: float


def worth_of_more(difference: float, sigma: float, n: int, more: int) -> WorthOfMore:
    """Worth of more observations of each of two alternatives.

    Parameters
    ----------
    difference : float
        Observed difference of means; the sign does not matter.
    sigma : float
        Standard deviation of one observation, taken as known.
    n : int
        Observations a side so far.
    more : int
        Further observations a side.

    Returns
    -------
    WorthOfMore

    Raises
    ------
    ArgumentError
        When sigma or a size is not positive.

    Notes
    -----
    Unit normal loss L(u) = phi(u) - u (1 - Phi(u)) (Raiffa and Schlaifer, from memory; checked by integration).

    Examples
    --------
    >>> worth = worth_of_more(0.05, 0.15, 3, 2)
    >>> round(worth.expected, 4), round(worth.certainty, 4)
    (0.0121, 0.0279)
    """
    from scipy.special import ndtr

    if not (0 < sigma < math.inf and n >= 1 and more >= 0):
        raise ArgumentError(
            f"sigma {sigma:g}, {n} and {more} a side", where="worth of more", allowed="above 0"
        )
    before = 2 * sigma**2 / n
    after = 1.0 / (1.0 / before + more / (2 * sigma**2))
    moved = math.sqrt(max(before - after, 0.0))
    chance = float(ndtr(-abs(difference) / moved)) if moved > 0 else 0.0
    return WorthOfMore(more, _loss(difference, moved), _loss(difference, math.sqrt(before)), chance)


def _loss(difference: float, sd: float) -> float:
    from scipy.special import ndtr

    if sd == 0:
        return 0.0
    u = abs(difference) / sd
    return sd * (math.exp(-0.5 * u * u) / math.sqrt(2 * math.pi) - u * float(ndtr(-u)))
