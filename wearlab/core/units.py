"""Conversion factors, exact by definition, and the units in which readings may be typed."""

from __future__ import annotations

from wearlab.core.errors import ArgumentError

MM_PER_INCH = 25.4
"""Exact: the international inch."""
M_PER_FOOT = 0.3048
"""Exact: the international foot."""
CM3_PER_INCH3 = 16.387064
"""Exact: 2.54 cubed."""

TO_MM: dict[str, float] = {"um": 1e-3, "mm": 1.0, "thou": 0.0254, "in": 25.4}
"""Units in which a length reading may be typed, and their size in mm."""

_SPELLINGS = {
    "um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um", "mm": "mm", "thou": "thou", "mil": "thou",
    "in": "in", "inch": "in", "inches": "in", '"': "in",
}  # fmt: skip


def length_unit(text: str) -> str:
    """Standard spelling of a length unit: um, mm, thou or in.

    Raises
    ------
    ArgumentError
        When the unit is not a length unit that readings may be typed in.

    >>> length_unit("µm")
    'um'
    """
    unit = _SPELLINGS.get(text.strip().lower())
    if unit is None:
        raise ArgumentError(f"unit {text!r}", allowed=", ".join(TO_MM))
    return unit


def to_mm(value: float, unit: str) -> float:
    """Convert a length to millimetres.

    >>> to_mm(10, "thou")
    0.254
    """
    return value * TO_MM[length_unit(unit)]
