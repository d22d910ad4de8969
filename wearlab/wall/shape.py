"""Shape of a pair of walls: offset and slope of each, told as size, shift, taper and lean.

Straight lines are laid through the readings of both walls at once, so that one scatter judges both. What the walls
do alike (same sign of metal left) is size and taper, what they do opposite is shift and lean: a pin sees the former
and not the latter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain
from wearlab.milling.arrays import Floats
from wearlab.stats.line import LinearFit, fit_line
from wearlab.wall.readings import ReadingError
from wearlab.wall.straightness import straightness_mm

PARTS = {"left_mm": 1.0, "left_um_mm": 1000.0, "right_mm": 1.0, "right_um_mm": 1000.0}
"""Offset and slope of each wall, and the factor from the fit's units."""
PAIRS: dict[str, tuple[tuple[str, float], tuple[str, float]]] = {
    "size_mm": (("left_mm", 0.5), ("right_mm", 0.5)),
    "shift_mm": (("left_mm", 0.5), ("right_mm", -0.5)),
    # Metal left that falls with height makes a slot that opens towards its mouth.
    "taper_um_mm": (("left_um_mm", -0.5), ("right_um_mm", -0.5)),
    "lean_um_mm": (("left_um_mm", 0.5), ("right_um_mm", -0.5)),
}
"""What both walls together say, as sums of their parts."""
SHAPES = (*PARTS, *PAIRS)
FIT_SCATTER = "scatter of the readings about straight walls, their form included"
REPEATS = "repeated readings"


@dataclass(frozen=True, repr=False, eq=False)
class WallShape:
    """Shape of the walls of one slot.

    Attributes
    ----------
    reference_mm : float
        Height at which the offsets stand.
    left_mm, right_mm : float
        Offset of each wall there, + = metal left.
    left_um_mm, right_um_mm : float
        Slope of each wall in um per mm of height, + = more metal left towards the mouth.
    size_mm : float
        Metal left on each wall in the mean of both: half of what the width is short by.
    shift_mm : float
        How far the middle of the slot stands to the right.
    taper_um_mm : float
        How much each wall opens per mm of height, + = narrower at the floor.
    lean_um_mm : float
        How much both walls lean the same way per mm of height, + = to the right towards the mouth.
    straightness_left_mm, straightness_right_mm : float
        Narrowest band about each wall; NaN for fewer than three heights.
    sigma_mm : float
        Standard deviation of one reading, on `df` degrees of freedom, from `basis`.
    readings : int
    why : dict of str to str
        For each number that cannot be had, the reason.
    """

    reference_mm: float
    left_mm: float
    left_um_mm: float
    right_mm: float
    right_um_mm: float
    size_mm: float
    shift_mm: float
    taper_um_mm: float
    lean_um_mm: float
    straightness_left_mm: float
    straightness_right_mm: float
    sigma_mm: float
    df: int
    basis: str
    readings: int
    why: dict[str, str]
    fit: LinearFit

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Student's t interval of one of the eight numbers; unbounded where `why` says why.

        Raises
        ------
        ArgumentError
            There is no number of that name.
        """
        from scipy.special import stdtrit

        check_level(level)
        if name not in SHAPES:
            raise ArgumentError(f"{name!r}", where="wall shape", allowed=", ".join(SHAPES))
        method = f"t, from {self.basis}"
        centre = float(getattr(self, name))
        if not math.isfinite(centre) or not math.isfinite(self.sigma_mm) or self.df < 1:
            return Interval(-math.inf, math.inf, level, method)
        weights, factor = _weights(name, self.fit.names)
        error = self.sigma_mm * math.sqrt(self.fit.leverage_at(weights)) * factor
        half = float(stdtrit(self.df, 0.5 + level / 2)) * error
        return Interval(centre - half, centre + half, level, method)

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready: every number with its interval."""
        made: dict[str, Any] = {"reference_mm": self.reference_mm}
        for name in SHAPES:
            limits = self.interval(name, level).to_dict()
            made[name] = {
                "estimate": getattr(self, name),
                "low": limits["low"],
                "high": limits["high"],
                "why_missing": self.why.get(name) or self.why.get("interval"),
            }
        made |= {
            "straightness_left_mm": self.straightness_left_mm,
            "straightness_right_mm": self.straightness_right_mm,
            "reading_sd_mm": self.sigma_mm,
            "df": self.df,
            "basis": self.basis,
            "level": level,
            "readings": self.readings,
        }
        result: dict[str, Any] = plain(made)
        return result

    def __repr__(self) -> str:
        return (
            f"<WallShape: size {1000 * self.size_mm:.1f} um, shift {1000 * self.shift_mm:.1f} um, "
            f"taper {self.taper_um_mm:.2f} um/mm, lean {self.lean_um_mm:.2f} um/mm>"
        )


def wall_shape(
    left_heights_mm: ArrayLike,
    left_mm: ArrayLike,
    right_heights_mm: ArrayLike = (),
    right_mm: ArrayLike = (),
    error: ReadingError | None = None,
) -> WallShape:
    """Shape of a pair of walls; either may be missing.

    Parameters
    ----------
    left_heights_mm, left_mm, right_heights_mm, right_mm : array_like
        Heights above the floor and deviations there, + = metal left. The heights of the two may differ.
    error : ReadingError, optional
        What one reading is worth; without it the scatter about the straight lines is taken.

    Raises
    ------
    ArgumentError
        There is no reading at all, or heights and deviations differ in number.

    Examples
    --------
    >>> lean = wall_shape([0, 4, 8], [0.002, 0.006, 0.010], [0, 4, 8], [-0.002, -0.006, -0.010])
    >>> round(lean.lean_um_mm, 6), round(lean.taper_um_mm, 6), round(1000 * lean.shift_mm, 6)
    (1.0, 0.0, 6.0)
    >>> taper = wall_shape([0, 4, 8], [0.010, 0.006, 0.002], [0, 4, 8], [0.010, 0.006, 0.002])
    >>> round(taper.taper_um_mm, 6), round(taper.lean_um_mm, 6), round(1000 * taper.size_mm, 6)
    (1.0, 0.0, 6.0)
    """
    sides = {"left": _side("left", left_heights_mm, left_mm), "right": _side("right", right_heights_mm, right_mm)}
    heights = np.concatenate([z for z, _ in sides.values()])
    if not heights.size:
        raise ArgumentError("no reading of either wall", where="wall shape", allowed="at least one")
    reference = float(np.unique(heights).mean())
    names, rows = _design(sides, reference)
    fit = fit_line(rows, np.concatenate([e for _, e in sides.values()]), names)
    values, why = _values(fit)
    sigma, df, basis = _scatter(fit, error)
    if df < 1:
        why["interval"] = (
            "every reading lies on a straight wall: no scatter to judge by"
            if fit.df > 0
            else "nothing was read twice, and there are no more readings than the lines through them need"
        )
    return WallShape(
        reference_mm=reference,
        **values,
        straightness_left_mm=straightness_mm(*sides["left"]),
        straightness_right_mm=straightness_mm(*sides["right"]),
        sigma_mm=sigma,
        df=df,
        basis=basis,
        readings=fit.n,
        why=why,
        fit=fit,
    )


def _side(name: str, heights_mm: ArrayLike, deviations_mm: ArrayLike) -> tuple[Floats, Floats]:
    z = np.atleast_1d(np.asarray(heights_mm, dtype=np.float64))
    e = np.atleast_1d(np.asarray(deviations_mm, dtype=np.float64))
    if z.shape != e.shape or not (np.isfinite(z).all() and np.isfinite(e).all()):
        raise ArgumentError(
            f"{z.size} heights and {e.size} deviations of the {name} wall",
            where="wall shape",
            allowed="one number for each height",
        )
    return z, e


def _design(sides: dict[str, tuple[Floats, Floats]], reference: float) -> tuple[list[str], Floats]:
    """Columns of the walls that were read; one height alone has an offset and no slope."""
    names: list[str] = []
    columns: list[Floats] = []
    total = sum(len(z) for z, _ in sides.values())
    start = 0
    for side, (z, _) in sides.items():
        own = slice(start, start + len(z))
        start += len(z)
        parts = [(f"{side}_mm", np.ones(len(z)))] if len(z) else []
        parts += [(f"{side}_um_mm", z - reference)] if len(np.unique(z)) > 1 else []
        for name, cells in parts:
            column = np.zeros(total)
            column[own] = cells
            names.append(name)
            columns.append(column)
    return names, np.column_stack(columns)


def _weights(name: str, held: tuple[str, ...]) -> tuple[Floats, float]:
    """Contrast of the fit, and the factor to the number's unit."""
    terms = PAIRS.get(name, ((name, 1.0),))
    weights = np.zeros(len(held))
    for part, weight in terms:
        weights[held.index(part)] = weight
    return weights, PARTS[terms[0][0]]


def _values(fit: LinearFit) -> tuple[dict[str, float], dict[str, str]]:
    values: dict[str, float] = {}
    why: dict[str, str] = {}
    for name in SHAPES:
        lacking = [part for part, _ in PAIRS.get(name, ((name, 1.0),)) if part not in fit.names]
        if lacking:
            values[name] = math.nan
            why[name] = _reason(lacking, fit.names)
            continue
        weights, factor = _weights(name, fit.names)
        values[name] = fit.estimate(weights) * factor
    return values, why


def _reason(lacking: list[str], held: tuple[str, ...]) -> str:
    side = lacking[0].partition("_")[0]
    if f"{side}_mm" in held:
        return f"the {side} wall was read at one height"
    return f"the {side} wall was not read"


def _scatter(fit: LinearFit, error: ReadingError | None) -> tuple[float, int, str]:
    if error is not None and error.df > 0:
        return error.sd_mm, error.df, REPEATS
    if fit.df > 0 and fit.why_missing is None:
        return fit.sigma, fit.df, FIT_SCATTER
    return math.nan, 0, "nothing"
