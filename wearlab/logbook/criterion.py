"""Tool-life criteria: what must be reached for a life to have ended.

Written `[zone:]measure[.mean|.worst][@height]=limit unit`, or the word `end`:
`VB.mean=0.3mm`, `lower:VB.worst=0.12mm`, `width@2mm=11.98mm`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.core.units import TO_MM, length_unit
from wearlab.logbook.columns import MEASURES

_PATTERN = re.compile(
    r"^(?:(?P<zone>[^:=]+):)?(?P<measure>[A-Za-z_]\w*)(?:\.(?P<statistic>\w+))?"
    r"(?:@(?P<height>[\d.]+)\s*(?P<height_unit>[^\s=\d]*))?"
    r"=(?P<limit>[+-]?\d*\.?\d+(?:[eE][+-]?\d+)?)\s*(?P<unit>\S*)$"
)
_FORM = "[zone:]measure[.mean|.worst][@height]=limit unit, such as lower:VB.mean=0.2mm, or the word end"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One tool-life criterion.

    Attributes
    ----------
    text : str
        As it was written; also its identity in tables.
    measure : str
        A word of the `measure` column, or `end`.
    limit : float
        In mm (in the declared unit for a response of the trial file).
    zone : str
        Zone of the edge; empty = the worst zone at each reading, never a mean over zones.
    statistic : str
        mean (of the flutes that were read) or worst (flute).
    height_mm : float or None
        Height above the floor, for walls.
    direction : str
        rises, falls or two-sided: the way in which the limit is passed.
    name : str
        Name from the trial file.
    planned : bool
        Stands in the trial file or the plan; else it was chosen afterwards.
    """

    text: str
    measure: str
    limit: float = float("nan")
    zone: str = ""
    statistic: str = "mean"
    height_mm: float | None = None
    direction: str = "rises"
    name: str = ""
    planned: bool = False

    def as_planned(self, name: str) -> Criterion:
        """The same criterion, marked as one that stood in the trial file."""
        return replace(self, name=name, planned=True)


END = Criterion("end", "end", direction="")
"""The life ends when the run ends."""

DEFAULTS_TEXT = ("VB.mean=0.3mm", "VB.worst=0.5mm")
"""Used when none is given: ISO 8688-2:1989 clause 7.4, mean over the teeth and any one tooth (from memory)."""


def parse_criterion(text: str, responses: dict[str, str] | None = None) -> Criterion:
    """Read one criterion.

    Parameters
    ----------
    text : str
        As on the command line.
    responses : dict of str to str, optional
        Names of declared responses and the way they run; their limits carry no length unit.

    Raises
    ------
    ArgumentError
        The text has another form, or names an unknown measure, statistic or unit.

    Examples
    --------
    >>> parse_criterion("lower:VB.worst=120um").limit
    0.12
    >>> parse_criterion("width@2mm=11.98mm").direction
    'falls'
    """
    clean = text.strip()
    if clean == "end":
        return END
    match = _PATTERN.match(clean)
    if match is None:
        raise ArgumentError(f"{text!r} is no criterion", where="criterion", allowed=_FORM)
    measure, statistic = match["measure"], match["statistic"] or "mean"
    declared = responses or {}
    if measure not in declared and (measure not in MEASURES or measure == "end"):
        words = [word for word in MEASURES if word != "end"] + list(declared)
        raise ArgumentError(f"measure {measure!r}", where=f"criterion {text!r}", allowed=", ".join(words),
                            hint=nearest(measure, words))  # fmt: skip
    if statistic not in ("mean", "worst"):
        raise ArgumentError(f"statistic {statistic!r}", where=f"criterion {text!r}", allowed="mean, worst")
    _check_limit(match, measure, measure in declared, text)
    factor = 1.0 if measure in declared else _factor(match["unit"], text)
    height = float(match["height"]) * _factor(match["height_unit"] or "mm", text) if match["height"] else None
    return Criterion(
        text=clean,
        measure=measure,
        limit=float(match["limit"]) * factor,
        zone=(match["zone"] or "").strip(),
        statistic=statistic,
        height_mm=height,
        direction=declared.get(measure) or MEASURES[measure].direction,
    )


def _check_limit(match: re.Match[str], measure: str, declared: bool, text: str) -> None:
    """A land, a width or a chip has a limit above 0; only walls and cutters are read at a height."""
    limit = float(match["limit"])
    if not math.isfinite(limit) or (not declared and measure != "wall" and limit <= 0):
        raise ArgumentError(
            f"a limit of {match['limit']}", where=f"criterion {text!r}", allowed="a finite limit above 0"
        )
    if match["height"] and (declared or "height_mm" not in MEASURES[measure].needs):
        heights = ", ".join(name for name, one in MEASURES.items() if "height_mm" in one.needs)
        raise ArgumentError(f"{measure} at a height", where=f"criterion {text!r}", allowed=f"a height for {heights}")


def _factor(unit: str, text: str) -> float:
    if not unit:
        raise ArgumentError("a limit without a unit", where=f"criterion {text!r}", allowed=", ".join(TO_MM))
    return TO_MM[length_unit(unit)]
