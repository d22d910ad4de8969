"""How far a careful reading of a wear land may be off: the yardstick of every rule of doubt."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wearlab.logbook.sheet import Floats

READ_SHARE, READ_MM = 0.04, 0.006
"""Standard deviation of one reading: 4 % of the land and 6 um, apart (common practice, no source)."""

NAMED = 0.35
"""A ratio is named after a factor when their logarithms are no further apart than this."""


def reading_sd(land_mm: ArrayLike) -> Floats:
    """Standard deviation of one reading of a land, in mm.

    >>> round(float(reading_sd(0.2)), 4)
    0.01
    """
    return np.hypot(READ_SHARE * np.asarray(land_mm, dtype=float), READ_MM)


def slip_words(unit: str, ratio: float, within: float = NAMED) -> str:
    """What a reading that is `ratio` times too large most likely is; empty when no slip explains it.

    Parameters
    ----------
    unit : str
        Unit under which the reading was typed: um, mm, thou or in.
    ratio : float
        The reading over what it should be.
    within : float
        How far apart the logarithms of ratio and factor may be.

    >>> slip_words("mm", 41.0)
    '39.4 times too large: thou typed as mm?'
    >>> slip_words("mm", 0.098)
    '10 times too small: did the decimal point slip?'
    >>> slip_words("mm", 2.0)
    ''
    """
    from wearlab.core.units import TO_MM

    slips = {10.0: "did the decimal point slip?", 100.0: "did the decimal point slip?"}
    slips |= {1 / factor: words for factor, words in list(slips.items())}
    size = TO_MM.get(unit, 1.0)
    slips |= {
        size / other: f"{name} typed as {unit}?" for name, other in TO_MM.items() if name != unit and unit in TO_MM
    }
    nearest = min(slips, key=lambda factor: abs(np.log(ratio / factor)))
    if abs(np.log(ratio / nearest)) > within:
        return ""
    times = f"{nearest:.3g} times too large" if nearest > 1 else f"{1 / nearest:.3g} times too small"
    return f"{times}: {slips[nearest]}"
