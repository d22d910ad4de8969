"""Forces of the teeth at an instant, slice by slice along the flute.

A slice dz of a tooth at angle phi has the tangential force (Kt h + Kte) dz and the radial force (Kr Kt h +
Kre) dz, with h = fz sin(phi). A helix makes the angle lag by z tan(beta)/R at height z. The feed points along
x; the tooth is at y = +R when phi = 0 and at y = -R when phi = pi, so forces on the cutter are

* F_x = -Ft cos(phi) - Fr sin(phi)
* F_y = +Ft sin(phi) - Fr cos(phi)

The coefficients are illustrative unless they were measured on the machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.milling.arrays import Floats, between, engaged_width, not_negative, positive
from wearlab.milling.cut import Cut
from wearlab.milling.engagement import entry_and_exit_angle
from wearlab.milling.quadrature import unit_nodes

SLICES = 48
"""Gauss nodes along the engaged stretch of a tooth."""


@dataclass(frozen=True, slots=True)
class ForceModel:
    """Coefficients of the slice forces.

    Parameters
    ----------
    kt_mpa : float
        Tangential specific force Kt.
    kr : float
        Radial over tangential.
    kte_n_mm, kre_n_mm : float
        Edge forces per mm of edge, that do not depend on the chip; they grow with wear.
    illustrative : bool
        True unless the figures were measured.
    source : str
    """

    kt_mpa: float = 2600.0
    kr: float = 0.4
    kte_n_mm: float = 25.0
    kre_n_mm: float = 25.0
    illustrative: bool = True
    source: str = "size of published coefficients for alloy steel; from memory"

    def __post_init__(self) -> None:
        positive("kt_mpa", self.kt_mpa)
        for name in ("kr", "kte_n_mm", "kre_n_mm"):
            not_negative(name, getattr(self, name))

    def tangential(self, chip_mm: Floats) -> Floats:
        """Force along the cutting speed, N per mm of height."""
        return self.kt_mpa * chip_mm + self.kte_n_mm

    def radial(self, chip_mm: Floats) -> Floats:
        """Force towards the axis, N per mm of height."""
        return self.kr * self.kt_mpa * chip_mm + self.kre_n_mm


def normal_force_n(cut: Cut, direction: str, rotation: ArrayLike, model: ForceModel | None = None) -> Floats:
    """Force on the cutter across the feed, F_y, at rotations of the cutter (rad).

    Parameters
    ----------
    direction : {"climb", "conventional"}
        Irrelevant in a full slot.
    rotation : array_like
        Angle of the first tooth at the end face.

    >>> slot = Cut(10, 4, 1910, 0.05, 2, 10)
    >>> peak = np.max(np.abs(normal_force_n(slot, "climb", np.linspace(0, 2 * np.pi, 721))))
    >>> round(float(peak))
    359
    """
    return _summed(cut, direction, np.asarray(rotation, dtype=np.float64), model or ForceModel(), _across)


def feed_force_n(cut: Cut, direction: str, rotation: ArrayLike, model: ForceModel | None = None) -> Floats:
    """Force on the cutter along the feed, F_x, at rotations of the cutter (rad)."""
    return _summed(cut, direction, np.asarray(rotation, dtype=np.float64), model or ForceModel(), _along)


def loaded_sum(
    cut: Cut,
    direction: str,
    rotation: Floats,
    model: ForceModel,
    weight: Callable[[Floats], Floats],
) -> Floats:
    """Sum over all slices of F_y times a weight of their heights; shape of `rotation`.

    `weight` gets heights of shape (rotation..., teeth, turns, slices).
    """
    return _summed(cut, direction, rotation, model, _across, weight)


def plunge_side_force_n(
    pitch_mm: float,
    axial_feed_mm: float,
    teeth: int,
    diameter_mm: float,
    rotation: ArrayLike,
    kt_mpa: float = 2600.0,
) -> Floats:
    """Side force on the cutter in plunge milling, from the tangential forces of the end edges alone.

    A tooth at the angle psi from the direction of the row has metal from the rim of the last plunge to the
    corner, R - (sqrt(R^2 - p^2 sin^2 psi) - p cos psi) (derived). Forces of teeth that stand opposite cancel
    in part, hence an even number of teeth is smoother and two are the roughest.

    Parameters
    ----------
    rotation : array_like
        Angle of the first tooth.

    >>> turn = np.linspace(0, 2 * np.pi, 721)
    >>> force = plunge_side_force_n(2, 0.05, 4, 10, turn)
    >>> round(float(force.min())), round(float(force.max()))
    (260, 298)
    """
    pitch, diameter = engaged_width(pitch_mm, diameter_mm)
    radius = diameter / 2
    angle = np.asarray(rotation, dtype=np.float64)[..., None] + 2 * math.pi * np.arange(int(teeth)) / int(
        teeth
    )
    inner = np.sqrt(radius**2 - (pitch * np.sin(angle)) ** 2) - pitch * np.cos(angle)
    force = (
        positive("kt_mpa", kt_mpa) * positive("axial_feed_mm", axial_feed_mm) * np.maximum(radius - inner, 0)
    )
    return np.hypot(np.sum(force * np.sin(angle), axis=-1), np.sum(force * np.cos(angle), axis=-1))


def lag_per_mm(helix_deg: ArrayLike, diameter_mm: ArrayLike) -> Floats:
    """Angle by which the tooth lags per mm of height: tan(beta)/R.

    >>> round(float(lag_per_mm(45, 10)), 6)
    0.2
    """
    helix = np.radians(between("helix_deg", helix_deg, 0, 80))
    return 2 * np.tan(helix) / positive("diameter_mm", diameter_mm)


def _across(sine: Floats, cosine: Floats, tangential: Floats, radial: Floats) -> Floats:
    return tangential * sine - radial * cosine


def _along(sine: Floats, cosine: Floats, tangential: Floats, radial: Floats) -> Floats:
    return -tangential * cosine - radial * sine


def _summed(
    cut: Cut,
    direction: str,
    rotation: Floats,
    model: ForceModel,
    component: Callable[[Floats, Floats, Floats, Floats], Floats],
    weight: Callable[[Floats], Floats] | None = None,
) -> Floats:
    heights, lengths, angles = _engaged_slices(cut, direction, rotation)
    sine, cosine = np.sin(angles), np.cos(angles)
    chip = cut.feed_per_tooth_mm * np.maximum(sine, 0)
    force = component(sine, cosine, model.tangential(chip), model.radial(chip)) * lengths
    if weight is not None:
        force = force * weight(heights)
    return np.sum(force, axis=(-3, -2, -1))


def _engaged_slices(cut: Cut, direction: str, rotation: Floats) -> tuple[Floats, Floats, Floats]:
    """Heights, lengths and angles of the slices in metal; shape (rotation..., teeth, turns, slices).

    Each tooth, and each whole turn of it, has one stretch of heights whose angle lies between entry and exit.
    """
    if direction not in ("climb", "conventional"):
        raise ArgumentError(f"direction {direction!r}", where="direction", allowed="climb, conventional")
    entry, exit_ = (float(a) for a in entry_and_exit_angle(cut.radial_width_mm, cut.diameter_mm, direction))
    lag = float(lag_per_mm(cut.helix_deg, cut.diameter_mm))
    depth = cut.axial_depth_mm
    first = np.mod(rotation[..., None] + 2 * math.pi * np.arange(cut.teeth) / cut.teeth, 2 * math.pi)
    turns = np.arange(-1, int(lag * depth / (2 * math.pi)) + 2)
    top = first[..., None] + 2 * math.pi * turns
    low, high = _stretch(top, entry, exit_, lag, depth)
    nodes, weights = unit_nodes(SLICES)
    heights = low[..., None] + (high - low)[..., None] * nodes
    return heights, (high - low)[..., None] * weights, top[..., None] - lag * heights


def _stretch(top: Floats, entry: float, exit_: float, lag: float, depth: float) -> tuple[Floats, Floats]:
    """Heights between which the angle top - lag z lies in the arc of contact."""
    edge = 1e-9  # A tooth that stands exactly at the wall is in the metal.
    if lag == 0:
        inside = (top >= entry - edge) & (top <= exit_ + edge)
        return np.zeros_like(top), np.where(inside, depth, 0.0)
    low = np.clip((top - exit_) / lag, 0, depth)
    high = np.clip((top - entry) / lag, 0, depth)
    return low, np.maximum(high, low)
