"""Error that a cutter's static deflection leaves on a wall, height by height.

Each height of the wall is finished in the instant in which a tooth passes it, and only the forces of that
instant count. So the error is not in proportion to the removal rate or to the peak force. Climb cutting
pushes the cutter off the wall and leaves metal, conventional cutting pulls it in; a full slot shifts both
walls the same way.

Static, with the cutter and its holder alone giving, and forces that do not notice the deflection.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.arrays import Floats, not_negative
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool, compliance_um_per_n
from wearlab.milling.tooth_forces import ForceModel, lag_per_mm, loaded_sum


@dataclass(frozen=True, slots=True)
class WallError:
    """Error of one wall by height.

    Attributes
    ----------
    heights_mm : ndarray
        Above the end face, hence above the floor.
    error_um : ndarray
        Metal left (+) or dug away (-); nan above the axial depth, where the pass makes no wall.
    wall : str
        `climb` or `conventional`.
    illustrative : bool
        True when the force coefficients are not measured: take signs and ratios, not the figures.
    """

    heights_mm: Floats
    error_um: Floats
    wall: str
    illustrative: bool


@dataclass(frozen=True, slots=True)
class SlotError:
    """Errors of both walls of a slot cut at full width.

    `width_um` is what the width gains over the cutter (minus the metal left on both sides); `shift_um` what
    the middle moves towards the wall cut conventionally.
    """

    heights_mm: Floats
    climb_um: Floats
    conventional_um: Floats
    illustrative: bool

    @property
    def width_um(self) -> Floats:
        """Change of the slot's width by height."""
        return -(self.climb_um + self.conventional_um)

    @property
    def shift_um(self) -> Floats:
        """Shift of the slot's middle by height, towards the conventional wall."""
        return (self.climb_um - self.conventional_um) / 2


def wall_error(
    cut: Cut, tool: Tool, heights_mm: ArrayLike, wall: str = "climb", model: ForceModel | None = None
) -> WallError:
    """Error of the wall that a pass leaves.

    For each height the cutter is turned so that a tooth stands at the wall there; the forces of all slices in
    the metal at that instant, each times the deflection that it causes at that height, are added up.

    Parameters
    ----------
    cut : Cut
        The finishing pass, or the rough pass whose undercut is wanted.
    tool : Tool
        Same diameter as the cut.
    heights_mm : array_like
        Heights above the floor.
    wall : {"climb", "conventional"}
        How the pass meets the wall. In a full slot both exist.
    model : ForceModel, optional

    Raises
    ------
    ArgumentError
        When the wall is neither, a height is negative, or tool and cut differ in diameter.
    Refusal
        When the cut is deeper than the tool is long.

    >>> cut, tool = Cut(10, 4, 1910, 0.05, 8, 2.5), Tool(10, 30)
    >>> wall_error(cut, tool, [0, 4, 8], "climb").error_um.round().tolist()
    [37.0, 8.0, 19.0]
    """
    if wall not in ("climb", "conventional"):
        raise ArgumentError(f"wall {wall!r}", where="wall", allowed="climb, conventional")
    heights = _check(cut, tool, heights_mm)
    model = model or ForceModel()
    at_wall, sign = (math.pi, 1.0) if wall == "climb" else (0.0, -1.0)
    made = heights <= cut.axial_depth_mm * (1 + 1e-12)
    z = np.where(made, heights, 0.0)
    rotation = at_wall + float(lag_per_mm(cut.helix_deg, cut.diameter_mm)) * z

    def give(slices: Floats) -> Floats:
        return compliance_um_per_n(tool, z[..., None, None, None], slices)

    error = sign * loaded_sum(cut, wall, rotation, model, give)
    return WallError(heights, np.where(made, error, math.nan), wall, model.illustrative)


def slot_error(cut: Cut, tool: Tool, heights_mm: ArrayLike, model: ForceModel | None = None) -> SlotError:
    """Errors of both walls of a full-width slot.

    Raises
    ------
    Refusal
        When the cut is narrower than the cutter: then there is one wall only.

    >>> cut = Cut(10, 4, 1910, 0.05, 2, 10)
    >>> slot = slot_error(cut, Tool(10, 30), [0.0, 2.0])
    >>> slot.climb_um.round().tolist(), bool(np.all(np.abs(slot.width_um) < 1e-9))
    ([25.0, 17.0], True)
    """
    if not math.isclose(cut.radial_width_mm, cut.diameter_mm, rel_tol=1e-9):
        raise Refusal(
            f"a cut of {cut.radial_width_mm:g} mm with a cutter of {cut.diameter_mm:g} mm makes one wall, not a slot",
            where="slot_error",
            hint="use wall_error",
        )
    climb = wall_error(cut, tool, heights_mm, "climb", model)
    conventional = wall_error(cut, tool, heights_mm, "conventional", model)
    return SlotError(climb.heights_mm, climb.error_um, conventional.error_um, climb.illustrative)


def needed_clearance_mm(
    undercut_um: float, runout_um: float, recession_um: float, margin_um: float = 50.0
) -> float:
    """How far roughing must stay off the finished wall: undercut + TIR/2 + recession + margin.

    >>> needed_clearance_mm(36, 20, 30, 50)
    0.126
    """
    parts = [undercut_um, runout_um / 2, recession_um, margin_um]
    return float(np.sum(not_negative("clearance", parts)) / 1000)


def _check(cut: Cut, tool: Tool, heights_mm: ArrayLike) -> Floats:
    if not math.isclose(cut.diameter_mm, tool.diameter_mm, rel_tol=1e-9):
        raise ArgumentError(
            f"cut of {cut.diameter_mm:g} mm, tool of {tool.diameter_mm:g} mm",
            where="tool",
            allowed="one diameter",
        )
    if cut.axial_depth_mm > tool.overhang_mm:
        raise Refusal(
            f"an axial depth of {cut.axial_depth_mm:g} mm exceeds the overhang of {tool.overhang_mm:g} mm",
            where="wall_error",
        )
    return np.atleast_1d(not_negative("heights_mm", heights_mm))
