"""The conditions of one cut at constant depth and width, and the numbers that follow from them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import engaged_width, positive
from wearlab.milling.engagement import engagement_angle, max_chip_mm, mean_chip_mm, teeth_in_contact
from wearlab.milling.kinematics import cutting_speed_m_min, feed_rate_mm_min, removal_rate_cm3_min


@dataclass(frozen=True, slots=True)
class Cut:
    """Conditions of one cut.

    Parameters
    ----------
    diameter_mm, teeth, spindle_rpm, feed_per_tooth_mm : float
        D, N, n and fz.
    axial_depth_mm, radial_width_mm : float
        ap and ae.
    helix_deg : float
        Helix angle of the flutes.
    overhang_mm : float, optional
        From the holder to the end face; needed for deflection alone.

    Raises
    ------
    ArgumentError
        When a condition is not above 0, or the width exceeds the diameter.

    >>> cut = Cut(10, 4, 1910, 0.05, axial_depth_mm=2, radial_width_mm=10)
    >>> round(cut.removal_rate_cm3_min, 4), round(cut.mean_chip_mm, 4)
    (7.64, 0.0318)
    """

    diameter_mm: float
    teeth: int
    spindle_rpm: float
    feed_per_tooth_mm: float
    axial_depth_mm: float
    radial_width_mm: float
    helix_deg: float = 30.0
    overhang_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("teeth", "spindle_rpm", "feed_per_tooth_mm", "axial_depth_mm"):
            positive(name, getattr(self, name))
        engaged_width(self.radial_width_mm, self.diameter_mm)
        if not 0 <= self.helix_deg < 80:
            raise ArgumentError(f"{self.helix_deg:g}", where="helix_deg", allowed="0 to below 80")
        if self.overhang_mm is not None and self.overhang_mm < self.axial_depth_mm:
            raise ArgumentError(
                f"overhang {self.overhang_mm:g} mm below the axial depth {self.axial_depth_mm:g} mm",
                where="overhang_mm",
                allowed="the axial depth or more",
            )

    def with_(self, **changes: float) -> Cut:
        """The same cut with some conditions changed."""
        return replace(self, **changes)  # type: ignore[arg-type]

    @property
    def cutting_speed_m_min(self) -> float:
        """vc."""
        return float(cutting_speed_m_min(self.diameter_mm, self.spindle_rpm))

    @property
    def feed_rate_mm_min(self) -> float:
        """vf."""
        return float(feed_rate_mm_min(self.feed_per_tooth_mm, self.teeth, self.spindle_rpm))

    @property
    def removal_rate_cm3_min(self) -> float:
        """Q."""
        return float(removal_rate_cm3_min(self.axial_depth_mm, self.radial_width_mm, self.feed_rate_mm_min))

    @property
    def engagement_angle_deg(self) -> float:
        """phi_e in degrees."""
        return float(np.degrees(engagement_angle(self.radial_width_mm, self.diameter_mm)))

    @property
    def mean_chip_mm(self) -> float:
        """h_m."""
        return float(mean_chip_mm(self.feed_per_tooth_mm, self.radial_width_mm, self.diameter_mm))

    @property
    def max_chip_mm(self) -> float:
        """h_max."""
        return float(max_chip_mm(self.feed_per_tooth_mm, self.radial_width_mm, self.diameter_mm))

    @property
    def teeth_in_contact(self) -> float:
        """Teeth that touch the metal anywhere along the flute, on average."""
        return float(
            teeth_in_contact(
                self.teeth, self.radial_width_mm, self.diameter_mm, self.axial_depth_mm, self.helix_deg
            )
        )
