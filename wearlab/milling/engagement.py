"""Engagement angle and undeformed chip, with the tooth path taken as a circle (error about asin(fz/D) at each
end).

Angle phi is counted from the point where an up-milling tooth enters with a chip of nothing; h = fz sin(phi).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, between, engaged_width, not_negative, positive


def engagement_angle(radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Engagement angle phi_e in radians: arccos(1 - 2 ae/D), pi in a full slot.

    Computed as 2 arcsin(sqrt(ae/D)), the same angle without the loss of digits at small widths.

    Raises
    ------
    ArgumentError
        When a width is not above 0 or exceeds the diameter.

    >>> round(float(np.degrees(engagement_angle(2.5, 10))), 6)
    60.0
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    return 2 * np.arcsin(np.sqrt(np.minimum(width / diameter, 1.0)))


def entry_and_exit_angle(
    radial_width_mm: ArrayLike, diameter_mm: ArrayLike, direction: str
) -> tuple[Floats, Floats]:
    """Angles at which a tooth enters and leaves the metal, in radians.

    Up milling (conventional) runs from 0 to phi_e and starts with no chip; down milling (climb) runs from pi
    - phi_e to pi and ends with none.

    Parameters
    ----------
    direction : {"climb", "conventional"}

    >>> [round(float(np.degrees(a))) for a in entry_and_exit_angle(2.5, 10, "climb")]
    [120, 180]
    """
    angle = engagement_angle(radial_width_mm, diameter_mm)
    if direction == "conventional":
        return np.zeros_like(angle), angle
    if direction == "climb":
        return math.pi - angle, np.full_like(angle, math.pi)
    raise ArgumentError(f"direction {direction!r}", where="direction", allowed="climb, conventional")


def chip_mm(feed_per_tooth_mm: ArrayLike, angle: ArrayLike) -> Floats:
    """Undeformed chip thickness h = fz sin(phi) at tooth angle phi; 0 on the back of the cutter.

    >>> round(float(chip_mm(0.05, np.pi / 6)), 6)
    0.025
    """
    return positive("feed_per_tooth_mm", feed_per_tooth_mm) * np.maximum(
        np.sin(np.asarray(angle, dtype=np.float64)), 0
    )


def mean_chip_mm(feed_per_tooth_mm: ArrayLike, radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Mean chip thickness over the arc of contact: h_m = 2 fz ae / (D phi_e).

    >>> round(float(mean_chip_mm(0.05, 10, 10)), 4), round(float(mean_chip_mm(0.05, 2.5, 10)), 4)
    (0.0318, 0.0239)
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    return (
        2
        * positive("feed_per_tooth_mm", feed_per_tooth_mm)
        * width
        / (diameter * engagement_angle(width, diameter))
    )


def max_chip_mm(feed_per_tooth_mm: ArrayLike, radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Greatest chip thickness: fz sin(phi_e) = 2 fz sqrt((ae/D)(1 - ae/D)) up to half the diameter, fz
    beyond.

    >>> round(float(max_chip_mm(1, 1, 10)), 6)
    0.6
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    ratio = np.minimum(width / diameter, 0.5)
    return positive("feed_per_tooth_mm", feed_per_tooth_mm) * 2 * np.sqrt(ratio * (1 - ratio))


def feed_factor(radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Factor on the feed per tooth that restores h_max = fz in a narrow cut; 1 from half the diameter up.

    >>> round(float(feed_factor(2.5, 10)), 4)
    1.1547
    """
    return 1 / max_chip_mm(1.0, radial_width_mm, diameter_mm)


def feed_for_mean_chip_mm(
    mean_chip_mm: ArrayLike, radial_width_mm: ArrayLike, diameter_mm: ArrayLike
) -> Floats:
    """Feed per tooth that gives a wanted mean chip: h_m D phi_e / (2 ae).

    >>> round(float(feed_for_mean_chip_mm(0.0318310, 2.5, 10)), 4)
    0.0667
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    return positive("mean_chip_mm", mean_chip_mm) * diameter * engagement_angle(width, diameter) / (2 * width)


def teeth_in_contact(
    teeth: ArrayLike,
    radial_width_mm: ArrayLike,
    diameter_mm: ArrayLike,
    axial_depth_mm: ArrayLike = 0.0,
    helix_deg: ArrayLike = 0.0,
) -> Floats:
    """Teeth in the metal on average: N phi_e/(2 pi) + N ap tan(beta)/(pi D).

    The first term alone (depth or helix 0) is the mean number in contact at one height; the second is what
    the helix adds to the number that touch anywhere along the flute.

    >>> round(float(teeth_in_contact(4, 10, 10, 2, 30)), 2), round(float(teeth_in_contact(4, 2.5, 10)), 3)
    (2.15, 0.667)
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    helix = np.radians(between("helix_deg", helix_deg, 0, 80))
    count = positive("teeth", teeth)
    lag = 2 * not_negative("axial_depth_mm", axial_depth_mm) * np.tan(helix) / diameter
    return count * (engagement_angle(width, diameter) + lag) / (2 * math.pi)


def feed_mark_mm(feed_per_tooth_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Height of the marks that the teeth leave on a wall, R - sqrt(R^2 - fz^2/4), close to fz^2/(4 D).

    >>> round(float(feed_mark_mm(0.2, 10)), 6)
    0.001
    """
    feed = positive("feed_per_tooth_mm", feed_per_tooth_mm)
    return scallop_mm(feed, diameter_mm)


def scallop_mm(step_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Height of the cusp between two circles of one diameter a step apart: R - sqrt(R^2 - step^2/4).

    Written as (step/2)^2 / (R + sqrt(...)) so that small steps keep their digits.

    Raises
    ------
    ArgumentError
        When the step exceeds the diameter: the circles do not meet.

    >>> [round(float(scallop_mm(p, 10)), 2) for p in (2, 4, 5)]
    [0.1, 0.42, 0.67]
    """
    step, diameter = engaged_width(step_mm, diameter_mm)
    radius, half = diameter / 2, step / 2
    return half**2 / (radius + np.sqrt(np.maximum(radius**2 - half**2, 0)))
