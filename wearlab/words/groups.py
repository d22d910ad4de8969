"""Groups of cutters in a sentence: the group's own word in quotation marks, with a noun that fits the column."""

from __future__ import annotations

from wearlab.logbook.columns import COLUMNS
from wearlab.words.labels import label
from wearlab.words.rounding import quantity

_BEFORE = ("strategy", "coating", "cutter_material")
_PREPOSITIONS = {
    "work_material": "in",
    "work_group": "in",
    "bar": "in",
    "machine": "on",
    "holder": "in",
    "block": "in",
    "coolant": "with coolant",
    "direction": "cutting",
}


def group_name(by: str, group: str, units: str = "metric") -> str:
    """The group alone, as a label: a number gets its unit.

    >>> group_name("strategy", "side"), group_name("cutting_speed_m_min", "70", "inch")
    ('side', '230 sfm')
    """
    number = _number(by, group)
    return group if number is None else quantity(number, label(by).kind, units)


def cutters_of(by: str, group: str, units: str = "metric", count: int = 2) -> str:
    """The cutters of a group, as the subject of a sentence.

    >>> cutters_of("strategy", "side"), cutters_of("work_material", "cast iron", count=1)
    ('“side” cutters', 'cutter in “cast iron”')
    >>> cutters_of("feed_per_tooth_mm", "0.05")
    'cutters at feed per tooth 0.05 mm'
    """
    noun = "cutter" if count == 1 else "cutters"
    if _number(by, group) is not None:
        return f"{noun} at {label(by).text} {group_name(by, group, units)}"
    if by in _BEFORE:
        return f"“{group}” {noun}"
    return f"{noun} {_PREPOSITIONS.get(by, f'with {label(by).text}')} “{group}”"


def _number(by: str, group: str) -> float | None:
    column = COLUMNS.get(by)
    if (column is None or not column.numeric) and by != "removal_rate_cm3_min":
        return None
    try:
        return float(group)
    except ValueError:
        return None
