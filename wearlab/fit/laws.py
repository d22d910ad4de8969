"""Laws of tool life: a name, a formula, and how its constants follow from the coefficients of ln T.

Every law here is linear in ln T: ln T = b0 + sum of b_i ln x_i + group terms. The life is regressed on the settings,
never the other way round: speed is set, life scatters, and ln V on ln T would estimate n times R squared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.interval import exp_or_inf
from wearlab.stats.line import NO_SCATTER


@dataclass(frozen=True, slots=True)
class Law:
    """One law."""

    name: str
    formula: str
    source: str


TAYLOR = Law("taylor", "V T^n = C", "F. W. Taylor, On the Art of Cutting Metals, Trans. ASME 28 (1907), from memory")
EXTENDED = Law(
    "extended_taylor", "ln T = ln k - (1/n) ln V + sum of b_i ln x_i", "ISO 3685:1993 annex F for the line, from memory"
)
SECOND_ORDER = Law(
    "second_order",
    "ln T = ln k - (1/n) ln V + b (ln V - mean)^2 + sum of b_i ln x_i",
    "S. M. Wu, Tool-Life Testing by Response Surface Methodology, Trans. ASME J. Eng. Ind. 86 (1964) 105 (abstract)",
)
POWER = Law("power_law", "ln T = ln k + sum of b_i ln x_i + group terms", "log-linear life regression")


def law_for(columns: tuple[str, ...], speed: str) -> Law:
    """The law that a set of factors makes."""
    if f"{speed}^2" in columns:
        return SECOND_ORDER
    if columns == (speed,):
        return TAYLOR
    return EXTENDED if speed in columns else POWER


def slope_beyond_rounding(slope: float, ln_setting: ArrayLike, ln_life: ArrayLike) -> float:
    """A slope, or 0 where what it does to ln life over the settings tried is no more than rounding.

    Equal lives leave slopes such as -7e-32 behind, of which no exponent must be made.

    >>> slope_beyond_rounding(-7e-32, [4.5, 5.0], [2.3, 2.3]), slope_beyond_rounding(-4.0, [4.5, 5.0], [2.3, 0.3])
    (0.0, -4.0)
    """
    effect = abs(slope) * float(np.ptp(np.asarray(ln_setting, dtype=float)))
    return 0.0 if effect <= NO_SCATTER * float(np.abs(np.asarray(ln_life, dtype=float)).max()) else slope


def taylor_n(slope: float) -> float:
    """n from the slope of ln T on ln V.

    >>> taylor_n(-4.0)
    0.25
    """
    return -1.0 / slope if slope < 0 else math.nan


def taylor_c(intercept: float, slope: float) -> float:
    """C, the speed at which the life is one unit of the clock, from intercept and slope of ln T on ln V."""
    return exp_or_inf(-intercept / slope)


def life_at(speed: float, n: float, c: float) -> float:
    """Life at a speed, T = (C / V)^(1/n).

    Parameters
    ----------
    speed : float
        m/min.
    n, c : float
        Exponent, and the speed for a life of 1 min, m/min.

    Examples
    --------
    >>> round(life_at(80.0, 0.5, 400.0), 6)
    25.0
    """
    return _power(c / speed, 1.0 / n)


def speed_for(life: float, n: float, c: float) -> float:
    """Speed for a life, V = C / T^n.

    Parameters
    ----------
    life : float
        min.
    n, c : float
        Exponent, and the speed for a life of 1 min, m/min.

    Examples
    --------
    >>> round(speed_for(25.0, 0.5, 400.0), 6)
    80.0
    """
    return c * _power(life, -n)


def life_ratio(speed_ratio: float, n: float) -> float:
    """How many times the life becomes when the speed is multiplied by `speed_ratio`.

    Parameters
    ----------
    speed_ratio : float
    n : float
        Exponent.

    Examples
    --------
    >>> life_ratio(0.5, 0.25)
    16.0
    """
    return _power(speed_ratio, -1.0 / n)


def _power(base: float, exponent: float) -> float:
    """A power, infinite where no number can hold it."""
    try:
        return float(base**exponent)
    except OverflowError:
        return math.inf
