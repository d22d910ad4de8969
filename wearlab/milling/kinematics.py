"""Speeds, feeds, removal rate and time: the kinematics of ISO 3002-3 (formulas from memory, common to every
handbook).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.units import M_PER_FOOT, MM_PER_INCH
from wearlab.milling.arrays import Floats, engaged_width, not_negative, positive


def cutting_speed_m_min(diameter_mm: ArrayLike, spindle_rpm: ArrayLike) -> Floats:
    """Cutting speed vc = pi D n / 1000.

    Parameters
    ----------
    diameter_mm : array_like
        Cutting diameter D.
    spindle_rpm : array_like
        Rotational frequency n in 1/min.

    Raises
    ------
    ArgumentError
        When an entry is not above 0.

    >>> round(float(cutting_speed_m_min(10, 1910)), 2)
    60.0
    """
    return math.pi * positive("diameter_mm", diameter_mm) * positive("spindle_rpm", spindle_rpm) / 1000


def spindle_rpm(diameter_mm: ArrayLike, cutting_speed_m_min: ArrayLike) -> Floats:
    """Rotational frequency n = 1000 vc / (pi D) in 1/min.

    >>> round(float(spindle_rpm(10, 60)), 1)
    1909.9
    """
    speed = positive("cutting_speed_m_min", cutting_speed_m_min)
    return 1000 * speed / (math.pi * positive("diameter_mm", diameter_mm))


def cutting_speed_sfm(diameter_in: ArrayLike, spindle_rpm: ArrayLike) -> Floats:
    """Cutting speed in feet a minute from inches: pi D n / 12, the shop's 0.262 D n.

    >>> round(float(cutting_speed_sfm(2, 1576)), 0)
    825.0
    """
    metric = cutting_speed_m_min(np.asarray(diameter_in, dtype=np.float64) * MM_PER_INCH, spindle_rpm)
    return metric / M_PER_FOOT


def spindle_rpm_from_sfm(diameter_in: ArrayLike, cutting_speed_sfm: ArrayLike) -> Floats:
    """Rotational frequency from feet a minute and inches: 12 v / (pi D), the shop's 3.82 v / D.

    >>> round(float(spindle_rpm_from_sfm(2, 825)), 0)
    1576.0
    """
    metric = np.asarray(cutting_speed_sfm, dtype=np.float64) * M_PER_FOOT
    return spindle_rpm(np.asarray(diameter_in, dtype=np.float64) * MM_PER_INCH, metric)


def feed_rate_mm_min(feed_per_tooth_mm: ArrayLike, teeth: ArrayLike, spindle_rpm: ArrayLike) -> Floats:
    """Feed speed vf = fz N n; inches per tooth give inches a minute.

    >>> round(float(feed_rate_mm_min(0.05, 4, 1910)), 6)
    382.0
    """
    return (
        positive("feed_per_tooth_mm", feed_per_tooth_mm)
        * positive("teeth", teeth)
        * positive("spindle_rpm", spindle_rpm)
    )


def feed_per_tooth_mm(feed_rate_mm_min: ArrayLike, teeth: ArrayLike, spindle_rpm: ArrayLike) -> Floats:
    """Feed per tooth fz = vf / (N n).

    >>> round(float(feed_per_tooth_mm(382, 4, 1910)), 6)
    0.05
    """
    rate = positive("feed_rate_mm_min", feed_rate_mm_min)
    return rate / (positive("teeth", teeth) * positive("spindle_rpm", spindle_rpm))


def removal_rate_cm3_min(
    axial_depth_mm: ArrayLike, radial_width_mm: ArrayLike, feed_rate_mm_min: ArrayLike
) -> Floats:
    """Removal rate Q = ap ae vf / 1000.

    Depth and width enter alike, so k layers of H/k by W and k side passes of H by W/k have the same rate.

    >>> round(float(removal_rate_cm3_min(2, 10, 382)), 4)
    7.64
    """
    section = positive("axial_depth_mm", axial_depth_mm) * positive("radial_width_mm", radial_width_mm)
    return section * positive("feed_rate_mm_min", feed_rate_mm_min) / 1000


def removal_rate_in3_min(
    axial_depth_in: ArrayLike, radial_width_in: ArrayLike, feed_rate_in_min: ArrayLike
) -> Floats:
    """Removal rate in cubic inches a minute from inches: Q = ap ae vf.

    >>> round(float(removal_rate_in3_min(0.3, 2.5, 10.91)), 2)
    8.18
    """
    section = positive("axial_depth_in", axial_depth_in) * positive("radial_width_in", radial_width_in)
    return section * positive("feed_rate_in_min", feed_rate_in_min)


def approach_mm(radial_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Feed travel from the first touch until the cutter's axis reaches the entry face.

    sqrt(ae (D - ae)) up to half the diameter, R beyond, where the leading point of the cutter touches first.
    Serves slab and slot milling with a horizontal cutter too, with the depth in place of the width.

    >>> round(float(approach_mm(2.5, 10)), 2), float(approach_mm(10, 10))
    (4.33, 5.0)
    """
    width, diameter = engaged_width(radial_width_mm, diameter_mm)
    return np.where(width < diameter / 2, np.sqrt(width * np.maximum(diameter - width, 0)), diameter / 2)


def centred_approach_mm(work_width_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Extra travel of a face cutter centred on a narrower workpiece, until it cuts the full width.

    (D - sqrt(D^2 - w^2)) / 2.

    >>> round(float(centred_approach_mm(30, 63.5)), 2)
    3.77
    """
    width, diameter = engaged_width(work_width_mm, diameter_mm)
    return (diameter - np.sqrt(np.maximum(diameter**2 - width**2, 0))) / 2


def feed_time_min(
    length_mm: ArrayLike,
    feed_rate_mm_min: ArrayLike,
    *,
    approach_mm: ArrayLike = 0.0,
    overrun_mm: ArrayLike = 0.0,
    passes: ArrayLike = 1,
) -> Floats:
    """Time of `passes` equal passes at feed speed: passes (L + approach + overrun) / vf.

    >>> round(float(feed_time_min(120, 382, approach_mm=5, passes=4)), 4)
    1.3089
    """
    travel = positive("length_mm", length_mm) + not_negative("approach_mm", approach_mm)
    travel = travel + not_negative("overrun_mm", overrun_mm)
    return positive("passes", passes) * travel / positive("feed_rate_mm_min", feed_rate_mm_min)


def revolutions(length_mm: ArrayLike, feed_per_tooth_mm: ArrayLike, teeth: ArrayLike) -> Floats:
    """Turns of the cutter while it is fed over a length: L / (fz N).

    >>> round(float(revolutions(120, 0.05, 4)), 6)
    600.0
    """
    feed = positive("feed_per_tooth_mm", feed_per_tooth_mm) * positive("teeth", teeth)
    return positive("length_mm", length_mm) / feed


def runout_swing_mm(runout_mm: ArrayLike, teeth: ArrayLike) -> Floats:
    """Greatest difference of chip load between neighbouring teeth: TIR sin(pi / N).

    The teeth stand on a circle displaced by TIR/2, so radii differ by TIR/2 cos; neighbours a pitch apart
    differ by at most TIR sin(pi/N) (derived). 1, 0.71 and 0.5 of the total indicator reading for 2, 4 and 6
    teeth.

    >>> [round(float(runout_swing_mm(1, n)), 2) for n in (2, 4, 6)]
    [1.0, 0.71, 0.5]
    """
    return not_negative("runout_mm", runout_mm) * np.sin(math.pi / positive("teeth", teeth))


def cut_diameter_mm(diameter_mm: ArrayLike, runout_mm: ArrayLike) -> Floats:
    """Diameter that a new cutter cuts when its high tooth runs out: D + TIR, approximately.

    >>> round(float(cut_diameter_mm(10, 0.01)), 3)
    10.01
    """
    return positive("diameter_mm", diameter_mm) + not_negative("runout_mm", runout_mm)
