"""Pins and plugs in a slot: the height at which they hang up, and what a floor fillet or a chamfer does to
them.

A pin measures width, not squareness: walls that lean alike leave the width, and the pin, as they were.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, between, not_negative, positive
from wearlab.milling.tables import table_rows


def hang_up_height_mm(heights_mm: ArrayLike, widths_mm: ArrayLike, pin_mm: ArrayLike) -> Floats:
    """Height above the floor at which a pin stops: going down, the first place where the slot is narrower
    than the pin.

    Parameters
    ----------
    heights_mm : array_like, shape (k,)
        Increasing heights; two equal heights make a step.
    widths_mm : array_like, shape (k,)
        Width there, taken as straight in between.
    pin_mm : array_like
        Size of the pin, or of several.

    Returns
    -------
    ndarray
        Shape of `pin_mm`: the lowest height (0, the floor, in a whole profile) where nothing stops the pin,
        the top height where it does not go in.

    Raises
    ------
    ArgumentError
        When the heights fall, the two arrays differ in shape, or something is missing.

    >>> z, w = [0, 0.3, 2.0, 2.2, 8], [9.88, 9.93, 9.93, 9.992, 9.992]
    >>> hang_up_height_mm(z, w, [9.92, 9.95, 9.98]).round(2).tolist()
    [0.24, 2.06, 2.16]
    """
    heights, widths = _profile(heights_mm, widths_mm)
    pins = positive("pin_mm", pin_mm)
    too_narrow = widths < pins[..., None]
    top = len(heights) - 1
    # Index of the highest narrow place: the pin stops on the stretch above it.
    below = top - np.argmax(too_narrow[..., ::-1], axis=-1)
    above = np.minimum(below + 1, top)
    rise = widths[above] - widths[below]
    share = np.divide(pins - widths[below], rise, out=np.zeros_like(pins), where=rise > 0)
    stopped = heights[below] + share * (heights[above] - heights[below])
    reaches = ~np.any(too_narrow, axis=-1)
    return np.where(np.isnan(pins), np.nan, np.where(reaches, heights[0], stopped))


def taper_hang_up_mm(pin_mm: ArrayLike, floor_width_mm: ArrayLike, taper_deg: ArrayLike) -> Floats:
    """Hang-up height above the floor in a slot that opens by `taper_deg` a wall: (d - W_f) / (2 tan theta), 0
    at least.

    >>> round(float(taper_hang_up_mm(9.99, 9.98, 0.1)), 2)
    2.86
    """
    slope = np.tan(np.radians(positive("taper_deg", taper_deg)))
    excess = positive("pin_mm", pin_mm) - positive("floor_width_mm", floor_width_mm)
    return np.maximum(excess, 0) / (2 * slope)


def hang_up_uncertainty_mm(pin_uncertainty_mm: ArrayLike, width_slope: ArrayLike) -> Floats:
    """Uncertainty of a hang-up height from that of the pin: d(pin) / (dW/dz), inf where the walls are
    parallel.

    >>> round(float(hang_up_uncertainty_mm(0.002, 2 * np.tan(np.radians(0.1)))), 2)
    0.57
    """
    pin, slope = np.broadcast_arrays(
        not_negative("pin_uncertainty_mm", pin_uncertainty_mm),
        np.abs(np.asarray(width_slope, dtype=np.float64)),
    )
    return np.divide(pin, slope, out=np.full(slope.shape, math.inf), where=slope > 0)


def fillet_stand_off_mm(fillet_mm: ArrayLike, side_gap_mm: ArrayLike, chamfer_mm: ArrayLike = 0.0) -> Floats:
    """Height at which a pin stands off the floor because of the fillets that a worn corner has left.

    Parameters
    ----------
    fillet_mm : array_like
        Radius r_f of the fillet between floor and wall.
    side_gap_mm : array_like
        Gap on each side of the pin, (W - d) / 2.
    chamfer_mm : array_like
        45 degree chamfer on the end of the pin; 0 for a sharp end.

    Notes
    -----
    The fillet stands A(x) = r_f - sqrt(r_f^2 - (r_f - x)^2) above the floor at a distance x from the wall.
    The pin can rest on it with the lower end of its chamfer, A(g + c); with the upper, A(g) - c; or with the
    chamfer itself at the point where the fillet slopes by 45 degrees, (2 - sqrt 2) r_f - g - c, where that
    point lies on the chamfer (derived).

    >>> round(float(fillet_stand_off_mm(0.1, 0.002)), 3), float(fillet_stand_off_mm(0.1, 0.002, 0.1))
    (0.08, 0.0)
    """
    fillet = not_negative("fillet_mm", fillet_mm)
    gap = not_negative("side_gap_mm", side_gap_mm)
    chamfer = not_negative("chamfer_mm", chamfer_mm)
    lower = _fillet_height(fillet, gap + chamfer)
    upper = _fillet_height(fillet, gap) - chamfer
    slope_point = (1 - math.sqrt(0.5)) * fillet
    on_chamfer = (gap <= slope_point) & (slope_point <= gap + chamfer)
    tangent = np.where(on_chamfer, 2 * slope_point - gap - chamfer, 0)
    return np.maximum(np.maximum(lower, upper), np.maximum(tangent, 0))


def unseen_fillet_mm(side_gap_mm: ArrayLike, chamfer_mm: ArrayLike) -> Floats:
    """Largest floor fillet that a chamfered pin passes over without standing off: what it cannot see.

    The lower end of the chamfer meets the fillet first, as soon as r_f exceeds g + c; a larger fillet shows,
    but smaller than it is. A sharp pin (c = 0) passes over fillets up to the gap alone.

    >>> round(float(unseen_fillet_mm(0.002, 0.1)), 3)
    0.102
    """
    return not_negative("side_gap_mm", side_gap_mm) + not_negative("chamfer_mm", chamfer_mm)


def width_at_pin_mm(pin_mm: ArrayLike, half_angle_deg: ArrayLike) -> Floats:
    """Width of a symmetric V or tapered slot at the height of the centre of a pin lying in it: d / cos(a).

    >>> round(float(width_at_pin_mm(10, 30)), 3)
    11.547
    """
    return positive("pin_mm", pin_mm) / np.cos(np.radians(between("half_angle_deg", half_angle_deg, 0, 89)))


def taper_ratio(half_angle_deg: ArrayLike) -> Floats:
    """Taper C = (D - d) / L = 2 tan(a) of two walls that lean apart by `half_angle_deg` each (ISO 3040, from
    memory).

    >>> round(float(taper_ratio(0.1)), 6)
    0.003491
    """
    return 2 * np.tan(np.radians(between("half_angle_deg", half_angle_deg, 0, 89)))


def perpendicularity_mm(wall_height_mm: ArrayLike, lean_deg: ArrayLike) -> Floats:
    """Width of the perpendicularity zone that a straight, leaning wall fills: h sin(a) (ISO 1101, from
    memory).

    >>> round(float(perpendicularity_mm(20, 0.1)), 3)
    0.035
    """
    return positive("wall_height_mm", wall_height_mm) * np.sin(
        np.radians(between("lean_deg", lean_deg, 0, 89))
    )


def pin_limits_mm(pin_mm: float, pin_class: str, kind: str = "go") -> tuple[float, float]:
    """Least and greatest true size of a pin of a class.

    Parameters
    ----------
    pin_mm : float
        Marked size.
    pin_class : str
        XXX, XX, X, Y, Z or ZZ.
    kind : {"go", "no_go", "master"}
        The tolerance lies above a go size, below a no-go size, and half on each side of a master.

    Raises
    ------
    ArgumentError
        When class, kind or size stands in no row of `pin_classes.csv` (ASME B89.1.5).

    >>> [round(x, 5) for x in pin_limits_mm(9.95, "ZZ")]
    [9.95, 9.95508]
    """
    width = pin_tolerance_um(pin_mm, pin_class) / 1000
    below = {"go": 0.0, "no_go": width, "master": width / 2}
    if kind not in below:
        raise ArgumentError(f"kind {kind!r}", where="kind", allowed=", ".join(below))
    return pin_mm - below[kind], pin_mm - below[kind] + width


def pin_tolerance_um(pin_mm: float, pin_class: str) -> float:
    """Tolerance of a pin class at a size, in um.

    >>> pin_tolerance_um(9.95, "ZZ")
    5.08
    """
    return _size_row("pin_classes.csv", "pin_mm", pin_mm, "class", pin_class.upper())


def standard_tolerance_um(size_mm: float, grade: str) -> float:
    """Standard tolerance of ISO 286-1 for a size, in um; the width of an H slot of that grade.

    >>> standard_tolerance_um(10, "IT7")
    15.0
    """
    return _size_row("standard_tolerances.csv", "size_mm", size_mm, "grade", grade.upper())


def _profile(heights_mm: ArrayLike, widths_mm: ArrayLike) -> tuple[Floats, Floats]:
    heights = not_negative("heights_mm", heights_mm)
    widths = positive("widths_mm", widths_mm)
    if heights.ndim != 1 or heights.shape != widths.shape or heights.size == 0:
        raise ArgumentError(
            f"{heights.shape} heights and {widths.shape} widths",
            where="widths_mm",
            allowed="one width for each height",
        )
    if np.isnan(heights).any() or np.isnan(widths).any():
        raise ArgumentError(
            "a missing height or width", where="widths_mm", allowed="numbers", hint="drop the rows first"
        )
    if np.any(np.diff(heights) < 0):
        raise ArgumentError(
            "heights that fall", where="heights_mm", allowed="increasing heights", hint="sort them"
        )
    return heights, widths


def _fillet_height(fillet: Floats, gap: Floats) -> Floats:
    reach = np.maximum(fillet - gap, 0)
    return np.where(reach > 0, fillet - np.sqrt(np.maximum(fillet**2 - reach**2, 0)), 0)


def _size_row(file: str, where: str, size: float, column: str, word: str) -> float:
    """Value in um of the row whose range holds `size`: over the first number, up to the last; the least is
    included for pins, whose table starts there.
    """
    rows = table_rows(file)
    known = dict.fromkeys(row[column] for row in rows)
    if word not in known:
        raise ArgumentError(f"{column} {word!r}", where=column, allowed=", ".join(known))
    ranges = [
        (float(row["over_mm"]), float(row["up_to_mm"]), float(row["tolerance_um"]))
        for row in rows
        if row[column] == word
    ]
    least, most = ranges[0][0], ranges[-1][1]
    for low, high, tolerance in ranges:
        if low < size <= high or (where == "pin_mm" and size == least):
            return tolerance
    raise ArgumentError(f"{size:g} mm", where=where, allowed=f"{least:g} to {most:g} mm")
