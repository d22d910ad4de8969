"""Kinds of quantities, and how each is shown to a metric and to an inch reader.

Results stay in the log's standard units; only what is printed is converted, and only here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearlab.core.errors import ArgumentError
from wearlab.core.units import CM3_PER_INCH3, M_PER_FOOT, MM_PER_INCH
from wearlab.logbook.columns import CLOCKS

FAMILIES = ("metric", "inch")
"""What `units=` may be."""

KW_PER_HP = 0.745699871582
"""Mechanical horsepower, 550 foot-pounds force a second; from the exact pound, foot and standard gravity."""

UM_PER_THOU = MM_PER_INCH


@dataclass(frozen=True, slots=True)
class Unit:
    """One kind of quantity as one family of readers sees it.

    Attributes
    ----------
    name : str
        As printed behind the figure; empty = a pure number.
    factor : float
        Shown figure = standard figure times this.
    digits : int
        Decimals in tables.
    """

    name: str
    factor: float
    digits: int


_KINDS: dict[str, tuple[Unit, Unit]] = {
    "length": (Unit("mm", 1.0, 3), Unit("in", 1 / MM_PER_INCH, 4)),
    "land": (Unit("mm", 1.0, 3), Unit("thou", 1000 / MM_PER_INCH, 1)),
    "deviation": (Unit("µm", 1.0, 0), Unit("thou", 1 / UM_PER_THOU, 2)),
    "speed": (Unit("m/min", 1.0, 1), Unit("sfm", 1 / M_PER_FOOT, 0)),
    "rotation": (Unit("rev/min", 1.0, 0), Unit("rev/min", 1.0, 0)),
    "feed_rate": (Unit("mm/min", 1.0, 0), Unit("in/min", 1 / MM_PER_INCH, 1)),
    "minutes": (Unit("min", 1.0, 1), Unit("min", 1.0, 1)),
    "volume": (Unit("cm³", 1.0, 1), Unit("in³", 1 / CM3_PER_INCH3, 2)),
    "removal": (Unit("cm³/min", 1.0, 2), Unit("in³/min", 1 / CM3_PER_INCH3, 3)),
    "parts": (Unit("parts", 1.0, 1), Unit("parts", 1.0, 1)),
    "cut_length": (Unit("m", 1.0, 2), Unit("ft", 1 / M_PER_FOOT, 1)),
    "slid_length": (Unit("m slid", 1.0, 1), Unit("ft slid", 1 / M_PER_FOOT, 0)),
    "volume_per_width": (Unit("cm³/mm", 1.0, 2), Unit("in³/in", MM_PER_INCH / CM3_PER_INCH3, 3)),
    "power": (Unit("kW", 1.0, 2), Unit("hp", 1 / KW_PER_HP, 2)),
    "angle": (Unit("°", 1.0, 1), Unit("°", 1.0, 1)),
    "ratio": (Unit("times", 1.0, 2), Unit("times", 1.0, 2)),
    "number": (Unit("", 1.0, 3), Unit("", 1.0, 3)),
    "count": (Unit("", 1.0, 0), Unit("", 1.0, 0)),
}

_CLOCK_KINDS = dict(zip(CLOCKS, ("minutes", "volume", "parts", "cut_length"), strict=True))
_CLOCK_KINDS |= {"slid_m": "slid_length", "cm3_per_mm": "volume_per_width"}
_PER_CLOCK = {"minutes": "min", "volume": "{volume}", "parts": "part", "cut_length": "{length}"}


def check_units(units: str) -> str:
    """Return `units` when it is a family, else raise.

    Raises
    ------
    ArgumentError
        For any other word.
    """
    if units not in FAMILIES:
        raise ArgumentError(f"{units!r}", where="--units", allowed=", ".join(FAMILIES))
    return units


def clock_kind(clock: str) -> str:
    """Kind of quantity that a clock counts.

    >>> clock_kind("cutting_time_min")
    'minutes'
    """
    if clock not in _CLOCK_KINDS:
        raise ArgumentError(f"clock {clock!r}", where="clock", allowed=", ".join(CLOCKS))
    return _CLOCK_KINDS[clock]


def unit_of(kind: str, units: str = "metric") -> Unit:
    """How a kind of quantity is shown to a family of readers.

    Kinds that end in `_per_CLOCKKIND` are wear rates, whose standard unit is mm per unit of the clock.

    >>> unit_of("speed", "inch").name
    'sfm'
    >>> unit_of("land_per_minutes").name
    'µm/min'
    """
    column = FAMILIES.index(check_units(units))
    if kind.startswith("land_per_"):
        clock = _KINDS[kind.removeprefix("land_per_")][column]
        name = "part" if clock.name == "parts" else clock.name
        if units == "metric":
            return Unit(f"µm/{name}", 1000.0 / clock.factor, 2)
        return Unit(f"thou/{name}", 1000.0 / MM_PER_INCH / clock.factor, 3)
    if kind not in _KINDS:
        raise ArgumentError(f"kind {kind!r}", where="unit", allowed=", ".join(_KINDS))
    return _KINDS[kind][column]


def shown(value: float, kind: str, units: str = "metric") -> float:
    """The figure as this family of readers sees it; missing stays missing.

    >>> round(shown(70.0, "speed", "inch"), 1)
    229.7
    """
    return value * unit_of(kind, units).factor if math.isfinite(value) else value
