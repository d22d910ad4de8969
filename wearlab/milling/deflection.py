"""Static deflection of an end mill as a stepped cantilever, and the compliance of what holds it.

The fluted part bends like a round bar of 0.8 D (Kops and Vo, Determination of the Equivalent Diameter of an
End Mill Based on its Compliance, CIRP Annals 39/1, 1990, 93-96; volume and pages from memory). Heights are
above the end face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, not_negative, positive
from wearlab.milling.tables import table_rows

FLUTED_SHARE = 0.8
"""Equivalent diameter of the fluted part over the cutting diameter."""


@dataclass(frozen=True, slots=True)
class Tool:
    """What bends: the cutter as a cantilever, and a holder that gives.

    Parameters
    ----------
    diameter_mm, overhang_mm : float
        Cutting diameter and length from the holder to the end face.
    modulus_gpa : float
        Young's modulus of the cutter's material.
    flute_length_mm : float, optional
        Length of the fluted part from the end face; without it the whole overhang is fluted.
    shank_mm : float, optional
        Diameter behind the flutes; without it the cutting diameter.
    fluted_share : float
        Equivalent diameter of the fluted part over the cutting diameter.
    holder_um_per_n : float
        Give of holder and spindle in um per newton, as measured by hanging a weight; taken as a shift of the
        whole cutter.
    """

    diameter_mm: float
    overhang_mm: float
    modulus_gpa: float = 600.0
    flute_length_mm: float | None = None
    shank_mm: float | None = None
    fluted_share: float = FLUTED_SHARE
    holder_um_per_n: float = 0.0

    def __post_init__(self) -> None:
        for name in ("diameter_mm", "overhang_mm", "modulus_gpa", "fluted_share"):
            positive(name, getattr(self, name))
        for name in ("flute_length_mm", "shank_mm"):
            if getattr(self, name) is not None:
                positive(name, getattr(self, name))
        not_negative("holder_um_per_n", self.holder_um_per_n)

    def sections(self) -> tuple[tuple[float, float, float], ...]:
        """Parts from the holder down: distance from and to, and bending stiffness E I in N mm2."""
        fluted = (
            self.overhang_mm if self.flute_length_mm is None else min(self.flute_length_mm, self.overhang_mm)
        )
        step = self.overhang_mm - fluted
        shank = self.diameter_mm if self.shank_mm is None else self.shank_mm
        parts = (
            (0.0, step, self._stiffness(shank)),
            (step, self.overhang_mm, self._stiffness(self.equivalent_mm)),
        )
        return tuple(part for part in parts if part[1] > part[0])

    @property
    def equivalent_mm(self) -> float:
        """Diameter of the round bar that bends like the fluted part."""
        return self.fluted_share * self.diameter_mm

    def _stiffness(self, diameter: float) -> float:
        return self.modulus_gpa * 1000 * math.pi * diameter**4 / 64


def modulus_gpa(cutter_material: str) -> float:
    """Young's modulus of a cutter material, from `elastic_modulus.csv`.

    Raises
    ------
    ArgumentError
        When the material has no row.

    >>> modulus_gpa("carbide")
    600.0
    """
    rows = {row["cutter_material"]: float(row["modulus_gpa"]) for row in table_rows("elastic_modulus.csv")}
    if cutter_material.lower() not in rows:
        raise ArgumentError(
            f"cutter material {cutter_material!r}", where="cutter_material", allowed=", ".join(rows)
        )
    return rows[cutter_material.lower()]


def compliance_um_per_n(tool: Tool, heights_mm: ArrayLike, load_heights_mm: ArrayLike) -> Floats:
    """Deflection in um at a height for a force of 1 N at another; the two broadcast.

    For a plain cantilever of length L: F x^2 (3 x_F - x)/(6 E I) up to the load at x_F = L - z_F, F x_F^2 (3x
    - x_F)/(6 E I) beyond. A stepped tool adds its sections by the unit-load integral of (x_F - s)(x - s)/(E
    I) from the holder to the nearer of the two points.

    Raises
    ------
    ArgumentError
        When a height lies above the overhang.

    >>> tool = Tool(diameter_mm=10, overhang_mm=30)
    >>> [round(float(compliance_um_per_n(tool, 0, z)), 3) for z in (0, 1, 4)]
    [0.075, 0.071, 0.06]
    """
    x, load = np.broadcast_arrays(_from_holder(tool, heights_mm), _from_holder(tool, load_heights_mm))
    near = np.minimum(x, load)
    total = np.zeros(x.shape)
    for start, end, stiffness in tool.sections():
        a, b = np.minimum(start, near), np.minimum(end, near)
        total = total + (_moment_integral(x, load, b) - _moment_integral(x, load, a)) / stiffness
    return total * 1000 + tool.holder_um_per_n


def tip_stiffness_n_per_um(tool: Tool) -> float:
    """Force at the end face that deflects it by 1 um.

    >>> round(tip_stiffness_n_per_um(Tool(10, 30)), 1)
    13.4
    """
    return float(1 / compliance_um_per_n(tool, 0.0, 0.0))


def tip_deflection_um(tool: Tool, force_n: ArrayLike, load_height_mm: ArrayLike = 0.0) -> Floats:
    """Deflection of the end face under one force.

    >>> round(float(tip_deflection_um(Tool(12, 40), 100)), 3)
    8.528
    """
    return np.asarray(force_n, dtype=np.float64) * compliance_um_per_n(tool, 0.0, load_height_mm)


def _from_holder(tool: Tool, heights_mm: ArrayLike) -> Floats:
    heights = not_negative("heights_mm", heights_mm)
    if np.any(heights > tool.overhang_mm * (1 + 1e-12)):
        raise ArgumentError(
            f"height {np.nanmax(heights):g} mm",
            where="heights_mm",
            allowed=f"up to the overhang, {tool.overhang_mm:g} mm",
        )
    return tool.overhang_mm - heights


def _moment_integral(x: Floats, load: Floats, s: Floats) -> Floats:
    """Antiderivative of (x - s)(load - s) in s."""
    return x * load * s - (x + load) * s**2 / 2 + s**3 / 3
