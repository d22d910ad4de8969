"""From the drawing to a stop rule: what the tolerance leaves for wear, and the land that uses it up.

The budget of one wall is half the tolerance less setting error, deflection and gauge uncertainty; the land follows
from the two lines of relief and rake that bound a worn edge (`wearlab.milling.wear_to_size`, derived).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import Refusal
from wearlab.core.tables import plain
from wearlab.logbook.criterion import DEFAULTS_TEXT, Criterion, parse_criterion
from wearlab.milling.wear_to_size import land_limit_mm, wall_budget_mm

REGRIND_MM = ((9.525, 0.10), (19.05, 0.15), (25.4, 0.20), (31.75, 0.25))
"""Land at which a finishing cutter is commonly reground, for diameters below 3/8, 3/4, 1 and 1 1/4 in (common
practice, no source; the limits in inches rounded to 0.05 mm)."""
SMALLEST_LAND_MM = 0.02
"""A limit below this is no more than a shop microscope resolves (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Budget:
    """Where the tolerance goes.

    Attributes
    ----------
    tolerance_mm : float
        Whole tolerance on the width (both walls).
    setting_error_mm, deflection_mm, gauge_uncertainty_mm : float
        What is used up before wear begins, on one wall.
    relief_deg, rake_deg : float
        Radial primary relief and radial rake.
    """

    tolerance_mm: float
    relief_deg: float
    rake_deg: float = 0.0
    setting_error_mm: float = 0.0
    deflection_mm: float = 0.0
    gauge_uncertainty_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class SizeLimit:
    """Land at which a wall has used up its budget.

    Attributes
    ----------
    wall_mm : float
        Budget of one wall for wear.
    land_mm : float
        Land that goes with it.
    width_loss_mm : float
        What a slot whose two walls one cutter makes has lost at that land.
    criterion : Criterion
        The limit as a tool-life criterion of the zone that sets the size.
    """

    budget: Budget
    wall_mm: float
    land_mm: float
    width_loss_mm: float
    criterion: Criterion

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "tolerance_mm": self.budget.tolerance_mm,
                "wall_mm": self.wall_mm,
                "land_mm": self.land_mm,
                "width_loss_mm": self.width_loss_mm,
                "criterion": self.criterion.text,
            }
        )
        return made


def size_limit(budget: Budget, zone: str = "lower", name: str = "size") -> SizeLimit:
    """Wear limit that a tolerance sets.

    Parameters
    ----------
    budget : Budget
    zone : str
        Zone of the edge that makes the wall.
    name : str
        Name of the criterion.

    Raises
    ------
    Refusal
        When setting, deflection and gauge leave nothing of the tolerance for wear.
    ArgumentError
        When relief or rake are no angles of a cutter.

    Examples
    --------
    >>> found = size_limit(Budget(0.06, relief_deg=10, setting_error_mm=0.010, deflection_mm=0.010))
    >>> found.criterion.text, round(found.width_loss_mm, 3)
    ('lower:VB.mean=0.0567mm', 0.02)
    """
    wall = float(
        wall_budget_mm(
            budget.tolerance_mm,
            setting_error_mm=budget.setting_error_mm,
            deflection_mm=budget.deflection_mm,
            gauge_uncertainty_mm=budget.gauge_uncertainty_mm,
        )
    )
    if wall <= 1e-9:
        raise Refusal(
            f"half the tolerance of {budget.tolerance_mm:g} mm is used up before wear begins ({wall:g} mm left)",
            where="stop rule",
            allowed="a wall budget above 0",
            hint="a stiffer set-up, a better gauge, or a finishing pass of its own cutter",
        )
    land = float(land_limit_mm(wall, budget.relief_deg, budget.rake_deg))
    rounded = f"{land:.3g}"
    text = f"{zone}:VB.mean={rounded}mm" if zone else f"VB.mean={rounded}mm"
    return SizeLimit(budget, wall, land, 2 * wall, parse_criterion(text).as_planned(name))


def doubts(limit: SizeLimit) -> tuple[str, ...]:
    """What should be said of a size limit beside its figure."""
    found = []
    if limit.land_mm < SMALLEST_LAND_MM:
        found.append(
            f"a land of {1000 * limit.land_mm:.0f} um is no more than a shop microscope resolves: measure the part, "
            "not the edge"
        )
    return tuple(found)


def roughing_criteria() -> tuple[Criterion, ...]:
    """The pair for roughing: mean land over the flutes, and any one flute (ISO 8688-2, from memory).

    >>> [criterion.text for criterion in roughing_criteria()]
    ['VB.mean=0.3mm', 'VB.worst=0.5mm']
    """
    names = ("roughing, mean of the flutes", "roughing, any one flute")
    return tuple(
        parse_criterion(text).as_planned(name) for text, name in zip(DEFAULTS_TEXT, names, strict=True)
    )


def regrind_land_mm(diameter_mm: float) -> float:
    """Land at which a finishing cutter of a diameter is commonly reground; NaN beyond 1 1/4 in.

    >>> regrind_land_mm(10.0), regrind_land_mm(40.0)
    (0.15, nan)
    """
    return next((land for below, land in REGRIND_MM if diameter_mm < below), math.nan)
