"""One cell of a table as text."""

from __future__ import annotations

import math
from typing import Any

from wearlab.words.counting import grouped
from wearlab.words.labels import Label
from wearlab.words.rounding import MISSING, fixed
from wearlab.words.units import unit_of


def cell_text(value: Any, label: Label, units: str = "metric") -> str:
    """A cell in the reader's unit, with the decimals of its column; what is missing is a dash.

    >>> cell_text(0.2, Label("land", "land"), "inch"), cell_text(float("nan"), Label("land", "land"))
    ('7.9', '–')
    >>> cell_text("", Label("why")), cell_text("E1", Label("cutter"))
    ('–', 'E1')
    """
    if not label.kind:
        return MISSING if value is None or value != value or value == "" else str(value)
    try:
        number = float(value)
    except (TypeError, ValueError):
        return MISSING
    if not math.isfinite(number):
        return MISSING
    if label.kind == "count":
        return grouped(round(number))
    unit = unit_of(label.kind, units)
    return fixed(number * unit.factor, unit.digits if label.digits is None else label.digits)
