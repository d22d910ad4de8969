"""From a wear land to the size of the part: recession of the edge, land limit from a wall budget, slot
profile.

All formulas are derived from the two lines of relief and rake that bound a worn edge; they hold while the
land stays on the primary relief.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, between, not_negative, positive


@dataclass(frozen=True, slots=True)
class SlotProfile:
    """Width of a slot by height above its floor, and what narrows it.

    Attributes
    ----------
    heights_mm, widths_mm : ndarray, shape (..., k)
    recession_left_mm, recession_right_mm : ndarray
        Metal left on each wall because the edge has receded.
    error_left_mm, error_right_mm : ndarray
        Metal left on each wall for other reasons (deflection; negative where the wall is cut too deep).
    corner_mm : ndarray
        Metal left on each wall by the worn corner.
    """

    heights_mm: Floats
    widths_mm: Floats
    recession_left_mm: Floats
    recession_right_mm: Floats
    error_left_mm: Floats
    error_right_mm: Floats
    corner_mm: Floats


def recession_mm(land_mm: ArrayLike, relief_deg: ArrayLike, rake_deg: ArrayLike = 0.0) -> Floats:
    """Recession of the edge normal to the wall that goes with a wear land.

    VB tan(alpha) / (1 - tan(alpha) tan(gamma)) = VB / (cot(alpha) - tan(gamma)).

    Parameters
    ----------
    land_mm : array_like
        Width of the flank wear land VB.
    relief_deg : array_like
        Radial primary relief alpha (for an end edge: its own relief, which gives the rise of the floor).
    rake_deg : array_like
        Radial rake gamma.

    Raises
    ------
    ArgumentError
        When a land is negative, relief is not between 0 and 45, rake not between -45 and 45 degrees.

    >>> recession_mm([0.1, 0.2, 0.3], 10).round(4).tolist()
    [0.0176, 0.0353, 0.0529]
    """
    return not_negative("land_mm", land_mm) / _land_per_recession(relief_deg, rake_deg)


def land_limit_mm(wall_budget_mm: ArrayLike, relief_deg: ArrayLike, rake_deg: ArrayLike = 0.0) -> Floats:
    """Wear land at which one wall has used up its budget: e (cot(alpha) - tan(gamma)).

    >>> round(float(land_limit_mm(0.010, 10)), 3)
    0.057
    """
    return not_negative("wall_budget_mm", wall_budget_mm) * _land_per_recession(relief_deg, rake_deg)


def wall_budget_mm(
    tolerance_mm: ArrayLike,
    *,
    setting_error_mm: ArrayLike = 0.0,
    deflection_mm: ArrayLike = 0.0,
    gauge_uncertainty_mm: ArrayLike = 0.0,
) -> Floats:
    """What is left of half the tolerance for wear on one wall; negative when the rest has used it up.

    >>> round(float(wall_budget_mm(0.05, setting_error_mm=0.005, deflection_mm=0.004)), 4)
    0.016
    """
    used = not_negative("setting_error_mm", setting_error_mm) + not_negative("deflection_mm", deflection_mm)
    used = used + not_negative("gauge_uncertainty_mm", gauge_uncertainty_mm)
    return positive("tolerance_mm", tolerance_mm) / 2 - used


def land_reading_factor(helix_deg: ArrayLike) -> Floats:
    """Factor by which a land reads too long when the helical edge is not tilted into the view: 1 / cos(beta).

    >>> [round(float(land_reading_factor(b)), 3) for b in (30, 45)]
    [1.155, 1.414]
    """
    return 1 / np.cos(np.radians(between("helix_deg", helix_deg, 0, 80)))


def land_from_exposure_mm(land_mm: ArrayLike, exposure: ArrayLike, reference_exposure: ArrayLike) -> Floats:
    """Land at other heights when it grows in proportion to an exposure and is `land_mm` at the reference.

    Parameters
    ----------
    land_mm : array_like
        Land where the exposure is `reference_exposure`.
    exposure : array_like
        Contact time, sliding or chip per edge at the heights wanted, all passes of a part added.

    >>> land_from_exposure_mm(0.25, [39.8, 2.1], 39.8).round(4).tolist()
    [0.25, 0.0132]
    """
    share = not_negative("exposure", exposure) / positive("reference_exposure", reference_exposure)
    return not_negative("land_mm", land_mm) * share


def slot_width_profile(
    heights_mm: ArrayLike,
    nominal_width_mm: ArrayLike,
    recession_left_mm: ArrayLike,
    recession_right_mm: ArrayLike | None = None,
    *,
    error_left_mm: ArrayLike = 0.0,
    error_right_mm: ArrayLike = 0.0,
    corner_axial_mm: float = 0.0,
    corner_radial_mm: float = 0.0,
) -> SlotProfile:
    """Width of a slot by height: nominal less recession and wall error of both walls, less the worn corner.

    Parameters
    ----------
    heights_mm : array_like, shape (k,)
        Heights above the floor.
    nominal_width_mm : array_like
        Width that the unworn cutter leaves.
    recession_left_mm, recession_right_mm : array_like
        Recession of the edge at those heights; the right defaults to the left, as the same cutter makes both
        walls.
    error_left_mm, error_right_mm : array_like
        Other wall errors, + = metal left.
    corner_axial_mm, corner_radial_mm : float
        Corner worn to a straight bevel of this height and depth: it leaves `corner_radial_mm` more on each
        wall at the floor, fading to nothing at `corner_axial_mm`.

    Raises
    ------
    ArgumentError
        When a height or a recession is negative, or only one dimension of the corner is given.

    >>> slot_width_profile([0, 1, 4], 10, [0.04, 0.04, 0.002]).widths_mm.round(4).tolist()
    [9.92, 9.92, 9.996]
    """
    heights = np.atleast_1d(not_negative("heights_mm", heights_mm))
    left = not_negative("recession_left_mm", recession_left_mm)
    right = left if recession_right_mm is None else not_negative("recession_right_mm", recession_right_mm)
    error_left = np.asarray(error_left_mm, dtype=np.float64)
    error_right = np.asarray(error_right_mm, dtype=np.float64)
    corner = _worn_corner(heights, corner_axial_mm, corner_radial_mm)
    widths = (
        positive("nominal_width_mm", nominal_width_mm) - left - right - error_left - error_right - 2 * corner
    )
    return SlotProfile(heights, widths, left, right, error_left, error_right, corner)


def slot_from_exposure(
    heights_mm: ArrayLike,
    nominal_width_mm: float,
    exposure: ArrayLike,
    land_mm: float,
    relief_deg: float,
    rake_deg: float = 0.0,
) -> SlotProfile:
    """Slot that one cutter leaves when its land has grown in proportion to an exposure.

    Parameters
    ----------
    heights_mm, exposure : array_like, shape (k,)
        Heights, and what the edge goes through there on one part: all passes of this cutter, roughing and
        finishing added.
    land_mm : float
        Land where the exposure is greatest.

    >>> slot = slot_from_exposure([1.0, 5.0], 10, [39.8, 2.1], 0.25, 10)
    >>> step = slot.widths_mm[1] - slot.widths_mm[0]
    >>> round(float(step), 3)
    0.084
    """
    amounts = not_negative("exposure", exposure)
    land = land_from_exposure_mm(land_mm, amounts, float(np.max(amounts)))
    return slot_width_profile(heights_mm, nominal_width_mm, recession_mm(land, relief_deg, rake_deg))


def _worn_corner(heights: Floats, axial: float, radial: float) -> Floats:
    axial, radial = (
        float(not_negative("corner_axial_mm", axial)),
        float(not_negative("corner_radial_mm", radial)),
    )
    if (axial > 0) != (radial > 0):
        raise ArgumentError(
            f"worn corner {axial:g} mm high and {radial:g} mm deep",
            where="corner",
            allowed="both 0, or both above 0",
        )
    return radial * np.maximum(1 - heights / axial, 0) if axial else np.zeros_like(heights)


def _land_per_recession(relief_deg: ArrayLike, rake_deg: ArrayLike) -> Floats:
    """cot(alpha) - tan(gamma): land that goes with one unit of recession."""
    relief = positive("relief_deg", between("relief_deg", relief_deg, 0, 45))
    rake = between("rake_deg", rake_deg, -45, 45)
    land = 1 / np.tan(np.radians(relief)) - np.tan(np.radians(rake))
    if np.any(land <= 1e-12):
        raise ArgumentError(
            "relief and rake that leave no wedge", where="rake_deg", allowed="relief + rake below 90"
        )
    return land
