"""Plans of an inch shop: keys of the plan file in inch, and what is written for people and typed into the log.

Inside everything is metric; it is turned where it is read and where it is shown, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wearlab.core.errors import ArgumentError
from wearlab.core.units import CM3_PER_INCH3, M_PER_FOOT, MM_PER_INCH
from wearlab.logbook.columns import COLUMNS

G_CM3_PER_LB_IN3 = 453.59237 / CM3_PER_INCH3
KG_PER_LB = 0.45359237
ENDINGS = (("_in", "_mm", MM_PER_INCH), ("_sfm", "_m_min", M_PER_FOOT), ("_thou", "_um", MM_PER_INCH))
"""Ending of an inch key, ending of its metric one, and metric over inch."""
KEYS = {
    "density_lb_in3": ("density_g_cm3", G_CM3_PER_LB_IN3),
    "bar_in3": ("bar_cm3", CM3_PER_INCH3),
    "bar_per_lb": ("bar_per_kg", 1.0 / KG_PER_LB),
}
"""Keys of [money] in pounds and cubic inches."""
_DIGITS = 12
_INCH_ENDINGS = ("_in", "_sfm", "_in_min", "_in3", "_thou")


def metric_sections(data: Mapping[str, Any]) -> dict[str, Any]:
    """The sections of a plan file with every inch key turned into its metric one.

    Parameters
    ----------
    data : mapping
        As read; with `units = "inch"` under [trial] the limits under [zones] are inches too.

    Raises
    ------
    ArgumentError
        A quantity is given twice, in inch and in metric.

    Examples
    --------
    >>> metric_sections({"cutter": {"diameter_in": 0.5}, "speeds": {"speeds_sfm": [200, 300]}})
    {'cutter': {'diameter_mm': 12.7}, 'speeds': {'speeds_m_min': [60.96, 91.44]}}
    """
    inch = isinstance(data.get("trial"), Mapping) and data["trial"].get("units") == "inch"
    made: dict[str, Any] = {}
    for section, content in data.items():
        if section == "zones" and inch and isinstance(content, Mapping):
            made[section] = {name: _times(ends, MM_PER_INCH) for name, ends in content.items()}
        elif isinstance(content, list):
            made[section] = [_metric(section, one) if isinstance(one, Mapping) else one for one in content]
        else:
            made[section] = _metric(section, content) if isinstance(content, Mapping) else content
    return made


def shown_column(name: str, units: str) -> tuple[str, float]:
    """A column of the log as a shop types it, and standard over shown.

    >>> shown_column("diameter_mm", "inch"), shown_column("teeth", "inch"), shown_column("diameter_mm", "metric")
    (('diameter_in', 25.4), ('teeth', 1.0), ('diameter_mm', 1.0))
    """
    if units == "inch" and name in COLUMNS:
        for other, factor in COLUMNS[name].also:
            if other.endswith(_INCH_ENDINGS):
                return other, factor
    return name, 1.0


def shown_row(row: Mapping[str, Any], units: str) -> dict[str, Any]:
    """A row of the log, or the facts of a run, in the columns and units that the shop types."""
    made: dict[str, Any] = {}
    for name, cell in row.items():
        column, factor = shown_column(name, units)
        number = isinstance(cell, (int, float)) and not isinstance(cell, bool)
        made[column] = float(f"{cell / factor:.{DIGITS_SHOWN}g}") if number and factor != 1.0 else cell
    return made


DIGITS_SHOWN = 6
"""Digits of a converted cell: more than any of these is set or measured to."""


def land_unit(units: str) -> str:
    """Unit in which lands are typed: whole micrometres, or thousandths of an inch."""
    return "thou" if units == "inch" else "um"


def length_unit(units: str) -> str:
    """Unit in which walls and pins are typed."""
    return "in" if units == "inch" else "mm"


def _metric(section: str, table: Mapping[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key, cell in table.items():
        name, factor = _metric_key(section, key)
        if name in made or (name != key and name in table):
            raise ArgumentError(f"{key} and {name} in [{section}]", allowed="one of them")
        made[name] = _times(cell, factor) if factor != 1.0 else cell
    return made


def _metric_key(section: str, key: str) -> tuple[str, float]:
    from wearlab.plan.request_file import SECTIONS

    if key in SECTIONS.get(section, ()):
        return key, 1.0
    if key in KEYS and section == "money":
        return KEYS[key]
    for inch, metric, factor in ENDINGS:
        name = key.removesuffix(inch) + metric
        if key.endswith(inch) and (section == "practice" or name in SECTIONS.get(section, ())):
            return name, factor
    return key, 1.0


def _times(cell: Any, factor: float) -> Any:
    if isinstance(cell, list):
        return [_times(one, factor) for one in cell]
    if isinstance(cell, bool) or not isinstance(cell, (int, float)):
        return cell
    return float(f"{cell * factor:.{_DIGITS}g}")
