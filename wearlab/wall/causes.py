"""What bent the walls before the edge wore: deflection and tram told apart by how the two walls answer.

A cutter that gives way leaves metal on a wall cut climbing. Conventionally it digs in where the chip is thick, and is
pushed off by its blunt edge where the pass is light. Where both walls were finished the same way, deflection therefore
has one sign on both (size and taper), and a spindle out of tram has opposite ones (lean). In a slot cut at full width
one wall is climbed and the other is not: both causes then lean the walls the same way, and one slot cannot tell them
apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import Refusal
from wearlab.core.tables import plain
from wearlab.wall.over_cutters import OverCutters, over_cutters
from wearlab.wall.shape import WallShape

BOTH_ALIKE = ("climb", "conventional")
SHAPES = ("size_mm", "taper_um_mm", "shift_mm", "lean_um_mm")
MIXED = (
    "both walls were not finished the same way (or nobody wrote down how), so deflection and tram lean them alike: "
    "cut one slot each way along it, and what changes its side is deflection"
)


@dataclass(frozen=True, slots=True)
class Causes:
    """Shape of unworn walls over the cutters of one group, and what it is put down to.

    Attributes
    ----------
    group, direction : str
        How the walls were met: climb, conventional, or anything else for "not both alike".
    size, taper, shift, lean : OverCutters
        Over the first slots of the cutters, the recession of the edge taken away: mm, and um per mm of height.
    deflection_sign : bool or None
        Whether the metal left has a sign that deflection alone gives it (climb leaves, conventional digs); None where
        its interval holds both signs, and for metal left by a conventional pass, which a light one leaves too.
    why_missing : str
        Why size and taper cannot be put down to deflection, and lean to tram.
    """

    group: str
    direction: str
    size: OverCutters
    taper: OverCutters
    shift: OverCutters
    lean: OverCutters
    deflection_sign: bool | None
    why_missing: str = ""

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = {"group": self.group, "direction": self.direction or None}
        for name, found in zip(SHAPES, (self.size, self.taper, self.shift, self.lean), strict=True):
            limits = found.interval(level)
            made[name] = {
                "estimate": found.mean,
                "low": limits.low,
                "high": limits.high,
                "cutters": found.cutters,
                "why_missing": found.why_missing or None,
            }
        made |= {"level": level, "deflection_sign": self.deflection_sign, "why_missing": self.why_missing or None}
        result: dict[str, Any] = plain(made)
        return result


def causes(
    shapes: Mapping[str, WallShape], groups: Mapping[str, str], directions: Mapping[str, str], level: float = 0.95
) -> tuple[Causes, ...]:
    """Put the unworn shape of the walls down to its causes, one group of cutters at a time.

    Parameters
    ----------
    shapes : mapping of str to WallShape
        Cutter -> shape of its first slot less the recession.
    groups, directions : mapping of str to str
        Cutter -> group, and how its walls were finished: climb, conventional, both or empty.

    Examples
    --------
    >>> from wearlab.wall.shape import wall_shape
    >>> z = [0, 4, 8]
    >>> walls = {c: wall_shape(z, [e, e - 0.002, e - 0.003], z, [e + 0.001, e, e - 0.004])
    ...          for c, e in (("E1", 0.008), ("E2", 0.009), ("E3", 0.0085))}
    >>> found = causes(walls, dict.fromkeys(walls, "side"), dict.fromkeys(walls, "climb"))[0]
    >>> found.deflection_sign, found.why_missing
    (True, '')
    """
    made = []
    for group in dict.fromkeys(groups[cutter] for cutter in shapes):
        own = [cutter for cutter in shapes if groups[cutter] == group]
        direction = usual_direction([directions.get(cutter, "") for cutter in own])
        size, taper, shift, lean = (over_cutters([getattr(shapes[c], name) for c in own]) for name in SHAPES)
        alike = direction in BOTH_ALIKE
        why = "" if alike else MIXED
        if not size.cutters:
            why = "on no first slot were both walls read on their own"
        sign = _sign(size, direction, level) if alike else None
        made.append(Causes(group, direction, size, taper, shift, lean, sign, why))
    return tuple(made)


def _sign(size: OverCutters, direction: str, level: float) -> bool | None:
    limits = size.interval(level)
    if limits.low <= 0 <= limits.high:
        return None
    if direction == "conventional":
        return True if size.mean < 0 else None
    return size.mean > 0


@dataclass(frozen=True, slots=True)
class Reversed:
    """Two slots cut at full width by one cutter, one each way along it: lean in um per mm, shift in mm.

    `tram` keeps its side when the feed is turned round, `deflection` changes it (told for the first slot).
    """

    tram_um_mm: float
    deflection_um_mm: float
    position_mm: float
    deflection_mm: float


def tram_from_reversed(there: WallShape, back: WallShape) -> Reversed:
    """Tell tram from deflection in slots of full width, by one slot each way.

    Parameters
    ----------
    there, back : WallShape
        Of the two slots, left and right as seen from one and the same end.

    Raises
    ------
    Refusal
        A lean is missing.

    Examples
    --------
    >>> from wearlab.wall.shape import wall_shape
    >>> z = [0.0, 8.0]
    >>> there = wall_shape(z, [0.020, 0.030], z, [-0.020, -0.030])
    >>> back = wall_shape(z, [-0.020, -0.006], z, [0.020, 0.006])
    >>> found = tram_from_reversed(there, back)
    >>> round(found.tram_um_mm, 6), round(found.deflection_um_mm, 6)
    (1.5, -0.25)
    """
    for name, shape in (("there", there), ("back", back)):
        if not math.isfinite(shape.lean_um_mm):
            raise Refusal(f"no lean in the slot cut {name}: {shape.why.get('lean_um_mm', '')}", where="tram")
    return Reversed(
        tram_um_mm=_half_sum(there.lean_um_mm, back.lean_um_mm),
        deflection_um_mm=_half_sum(there.lean_um_mm, -back.lean_um_mm),
        position_mm=_half_sum(there.shift_mm, back.shift_mm),
        deflection_mm=_half_sum(there.shift_mm, -back.shift_mm),
    )


def _half_sum(a: float, b: float) -> float:
    return (a + b) / 2


def usual_direction(directions: Sequence[str]) -> str:
    """One word for the ways in which several cutters met their walls: both where they differ.

    >>> usual_direction(["climb", "climb"]), usual_direction(["climb", ""])
    ('climb', 'both')
    """
    words = set(directions)
    return words.pop() if len(words) == 1 else "both"
