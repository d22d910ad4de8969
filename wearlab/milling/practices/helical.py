"""Helical entry: the cutter circles and sinks, and bores a round hole wider than itself.

A point of the plan that the cutter covers for the angle 2 psi0 of each orbit is left behind for the rest, so
the cutter meets it again P (1 - psi0/pi) higher, P being the descent an orbit. Hence the depth of cut falls
along the leading edge from P at the wall to less inside, and the end edges take the share (R/R_b)^2 of the
volume (derived).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from wearlab.milling.arrays import Floats, positive
from wearlab.milling.cut import Cut
from wearlab.milling.practices.base import Practice
from wearlab.milling.practices.common import arcs, feed_rate, sinking_end, start_in_solid
from wearlab.milling.practices.passes import Pass, Profile
from wearlab.milling.quadrature import ends_integral, integral, unit_nodes


def helical_end_share(bore_mm: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Share of the volume of a helical bore that the end edges take: (D / D_b)^2.

    >>> float(helical_end_share(20, 10))
    0.25
    """
    return (positive("diameter_mm", diameter_mm) / positive("bore_mm", bore_mm)) ** 2


@dataclass(frozen=True, slots=True)
class Orbit(Profile):
    """Engagement by height in an orbit over the floor that the last one left; `path_mm` is the axis' orbit
    radius.

    At height z the arc of contact reaches from the wall to the angle alpha = psi + arcsin(rho/R sin psi), psi
    = pi (1 - z/P).
    """

    top_mm: float
    path_mm: float
    radius_mm: float

    def arc(self, heights: Floats) -> Floats:
        """Angle of contact at heights below the top."""
        psi = math.pi * (1 - np.clip(heights / self.top_mm, 0, 1))
        return psi + np.arcsin(np.clip(self.path_mm / self.radius_mm * np.sin(psi), -1, 1))

    def shares(self, heights: Floats) -> Floats:
        """Shares of a half turn, of its chip, and of the impacts."""
        arc = self.arc(heights)
        inside = np.where(heights <= self.top_mm, 1.0, 0.0)
        return np.stack([arc / math.pi * inside, (1 - np.cos(arc)) / 2 * inside, inside])

    def sums(self, heights: Floats) -> Floats:
        """Integrals of the shares, panel by panel: the arc has a corner half-way up when rho = R."""
        reached = np.minimum(heights, self.top_mm)
        half = np.minimum(reached, self.top_mm / 2)
        return integral(self._flat, 0.0, half) + integral(self._flat, half, reached)

    def _flat(self, heights: Floats) -> Floats:
        return self.shares(heights.ravel()).reshape(3, *heights.shape)


@dataclass(frozen=True, slots=True)
class FirstAndLast(Profile):
    """Engagement of the first orbit, into a flat face, and of the last, level one, together, in shares of one
    orbit.

    Where the leading edge meets a depth d(alpha) in the steady orbits, the first orbit cuts above z for (1 -
    z/P) of its turn and the level one for (d - z)/P, both where z < d.
    """

    top_mm: float
    path_mm: float
    radius_mm: float
    first: bool
    last: bool

    def shares(self, heights: Floats) -> Floats:
        """Shares of a half turn, of its chip, and of the impacts."""
        steady = Orbit(self.top_mm, self.path_mm, self.radius_mm)
        nodes, weights = unit_nodes()
        reach = steady.arc(np.minimum(heights, self.top_mm))
        alpha = reach[..., None] * nodes
        depth = self._depth(alpha)
        z = np.minimum(heights, self.top_mm)[..., None]
        time = (1 - z / self.top_mm) * self.first + np.maximum(depth - z, 0) / self.top_mm * self.last
        inside = heights <= self.top_mm
        arc = np.sum(time * weights, axis=-1) * reach / math.pi
        chip = np.sum(time * np.sin(alpha) * weights, axis=-1) * reach / 2
        # The point touches for as long as the deepest part of the leading edge, the wall, reaches up to it.
        touch = (1 - np.minimum(heights / self.top_mm, 1)) * (int(self.first) + int(self.last))
        return np.stack([arc * inside, chip * inside, touch * inside])

    def sums(self, heights: Floats) -> Floats:
        """Integrals of the shares."""
        reached = np.minimum(heights, self.top_mm)
        half = np.minimum(reached, self.top_mm / 2)
        return integral(self._flat, 0.0, half, 48) + integral(self._flat, half, reached, 48)

    def _depth(self, alpha: Floats) -> Floats:
        """Depth that the leading edge meets at an angle from the outward direction, in the steady orbits."""
        psi = np.arctan2(self.radius_mm * np.sin(alpha), self.path_mm + self.radius_mm * np.cos(alpha))
        return self.top_mm * (1 - psi / math.pi)

    def _flat(self, heights: Floats) -> Floats:
        return self.shares(heights.ravel()).reshape(3, *heights.shape)


@dataclass(frozen=True, kw_only=True)
class Helical(Practice):
    """A round hole by circling and sinking, then one level orbit.

    Parameters
    ----------
    angle_deg : float
        Greatest angle of descent along the path of the axis; orbits are made equal.
    max_angle_deg : float, optional
        The cutter maker's limit.
    level : bool
        Whether a last level orbit takes the slope off the floor.

    >>> from wearlab.milling.practices import Cutter, Feature, Settings
    >>> hole = Feature(18, 8, 18, ends="closed")
    >>> helix = Helical(
    ...     feature=hole, cutter=Cutter(10, 4), settings=Settings(1910, 0.05), angle_deg=3, max_angle_deg=5
    ... )
    >>> helix.orbits, round(helix.remains().volume_cm3, 9)
    (7, 0.0)
    """

    name = "helical"

    angle_deg: float = 3.0
    max_angle_deg: float | None = None
    level: bool = True

    def __post_init__(self) -> None:
        super().__post_init__()
        positive("angle_deg", self.angle_deg)

    @property
    def path_radius_mm(self) -> float:
        """Radius rho of the orbit of the axis."""
        return self.rough.width_mm / 2 - self.cutter.radius_mm

    @property
    def orbit_mm(self) -> float:
        """Travel of the axis in one orbit, seen from above."""
        return 2 * math.pi * self.path_radius_mm

    @property
    def orbits(self) -> int:
        """Number of sinking orbits."""
        return math.ceil(
            self.rough.depth_mm / (self.orbit_mm * math.tan(math.radians(self.angle_deg))) - 1e-9
        )

    @property
    def descent_mm(self) -> float:
        """Descent P of one orbit."""
        return self.rough.depth_mm / self.orbits

    def main_cut(self) -> Cut | None:
        """None: the depth changes along the edge."""
        return None

    def _reasons(self) -> list[str]:
        width, diameter = self.rough.width_mm, self.cutter.diameter_mm
        found = []
        if self.feature.ends != "closed" or not math.isclose(self.rough.length_mm, width, rel_tol=1e-6):
            found.append("a helix makes a round hole: closed ends, and as long as wide")
        if width <= diameter * (1 + 1e-9):
            found.append(f"a hole of {width:g} mm leaves a cutter of {diameter:g} mm no room to circle")
        if width > 2 * diameter * (1 + 1e-9):
            found.append(
                f"a hole of {width:g} mm is more than twice the cutter, {diameter:g} mm: a core would stay"
            )
        if self.max_angle_deg is not None and self.angle_deg > self.max_angle_deg:
            found.append(
                f"the angle of {self.angle_deg:g} deg exceeds the cutter's {self.max_angle_deg:g} deg"
            )
        if self.max_angle_deg is None:
            found += start_in_solid(
                self, "a helix without a stated greatest angle counts as a plunge of the centre"
            )
        return found

    def _deepest_mm(self) -> float:
        return self.descent_mm if self.path_radius_mm > 0 else 0.0

    def _passes(self) -> list[Pass]:
        return helical_passes(self, self.orbits, self.descent_mm, self.path_radius_mm, level=self.level)

    def _left_mm3(self) -> float:
        return 0.0 if self.level else level_mm3(self.path_radius_mm, self.cutter.radius_mm, self.descent_mm)

    def _floor_rise_mm(self) -> float:
        return 0.0 if self.level else self.descent_mm

    def _steady_rate_cm3_min(self) -> float:
        """Volume of an orbit over its time."""
        volume = math.pi * self.rough.width_mm**2 / 4 * self.descent_mm
        return volume / 1000 / (self.orbit_mm / feed_rate(self))


def helical_passes(
    practice: Practice, orbits: int, descent: float, path: float, *, level: bool
) -> list[Pass]:
    """First orbit, orbits over the last one's slope, and the level orbit."""
    radius = practice.cutter.radius_mm
    steady = Orbit(descent, path, radius)
    groups = [
        _orbit(practice, "first orbit", 1, descent, path, FirstAndLast(descent, path, radius, True, False))
    ]
    if orbits > 1:
        groups.append(_orbit(practice, "orbit", orbits - 1, descent, path, steady))
    if level:
        last = _orbit(
            practice, "level orbit", 1, descent, path, FirstAndLast(descent, path, radius, False, True)
        )
        groups.append(replace(last, end=None, volume_mm3=level_mm3(path, radius, descent)))
    return groups


def level_mm3(path: float, radius: float, descent: float) -> float:
    """Volume that the level orbit takes: what is left of the slope of a steady floor.

    The cutter has left a point at a distance s from the hole's axis for a share u of an orbit, u from 0 to 1
    - psi0/pi all round; there the floor stands P u above the lowest level.
    """

    def ring(s: Floats) -> Floats:
        cosine = (s**2 + path**2 - radius**2) / (2 * np.maximum(s, 1e-12) * path)
        free = 1 - np.arccos(np.clip(cosine, -1, 1)) / math.pi
        return 2 * math.pi * s * descent * free**2 / 2

    # Nearer to the axis than R - rho the cutter covers everything all the time.
    return ends_integral(ring, abs(radius - path), radius + path)


def _orbit(practice: Practice, kind: str, count: int, descent: float, path: float, profile: Profile) -> Pass:
    radius = practice.cutter.radius_mm
    travel = 2 * math.pi * path * count
    disc = math.pi * radius**2 * descent * count
    # A whole half turn in the metal along the orbit is what the shares are shares of; its plan is the
    # diameter's.
    full = arcs(practice, math.pi * travel, 2 * radius * travel, travel)
    flute = full[2] * practice.cutter.teeth * float(profile.sums(np.array([descent]))[1, 0])
    return Pass(
        kind=kind,
        count=count,
        axial_depth_mm=descent,
        radial_width_mm=2 * radius,
        travel_mm=travel,
        air_mm=0.0,
        rapid_mm=0.0,
        feed_rate_mm_min=feed_rate(practice),
        volume_mm3=flute + disc,
        floor_mm2=math.pi * (radius + path) ** 2 * count,
        full=full,
        profile=profile,
        end=sinking_end(practice, descent_mm=descent * count, feed_mm=travel),
    )
