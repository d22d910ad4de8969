"""Argument checks that every file of this room shares."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearlab.core.errors import ArgumentError

Floats = NDArray[np.float64]


def positive(name: str, value: ArrayLike) -> Floats:
    """Return `value` as floats when nothing in it is zero, negative or infinite; nan passes as missing.

    Raises
    ------
    ArgumentError
        When an entry is not above 0, or is infinite.
    """
    array = np.asarray(value, dtype=np.float64)
    _raise_first(name, array, (array <= 0) | np.isinf(array), "finite and above 0")
    return array


def not_negative(name: str, value: ArrayLike) -> Floats:
    """Return `value` as floats when nothing in it is negative or infinite; nan passes as missing.

    Raises
    ------
    ArgumentError
        When an entry is below 0, or is infinite.
    """
    array = np.asarray(value, dtype=np.float64)
    _raise_first(name, array, (array < 0) | np.isinf(array), "finite and 0 or more")
    return array


def between(name: str, value: ArrayLike, low: float, high: float) -> Floats:
    """Return `value` as floats when everything in it lies from `low` to `high`; nan passes as missing.

    Raises
    ------
    ArgumentError
        When an entry lies outside.
    """
    array = np.asarray(value, dtype=np.float64)
    _raise_first(name, array, (array < low) | (array > high), f"{low:g} to {high:g}")
    return array


def engaged_width(radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> tuple[Floats, Floats]:
    """Return the radial width and the diameter as floats when no cut is wider than its cutter.

    Raises
    ------
    ArgumentError
        When either is not above 0, or a width exceeds its diameter.
    """
    width = positive("radial_width_mm", radial_width_mm)
    diameter = positive("diameter_mm", diameter_mm)
    # Widths that are sums of steps miss the diameter by rounding only.
    too_wide = width > diameter * (1 + 1e-9)
    if np.any(too_wide):
        pair = np.broadcast_arrays(width, diameter)
        at = np.argmax(np.broadcast_to(too_wide, pair[0].shape))
        raise ArgumentError(
            f"radial width {pair[0].flat[at]:g} mm on a cutter of {pair[1].flat[at]:g} mm",
            where="radial_width_mm",
            allowed="0 to the cutter's diameter",
            hint="check that axial depth and radial width are not swapped",
        )
    return width, diameter


def _raise_first(name: str, array: Floats, bad: NDArray[np.bool_], allowed: str) -> None:
    if np.any(bad):
        count = int(np.sum(bad))
        more = f" (and {count - 1} more of {array.size})" if count > 1 else ""
        raise ArgumentError(f"{array[bad].flat[0]:g}{more}", where=name, allowed=allowed)
