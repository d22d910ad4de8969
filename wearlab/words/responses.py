"""Sentences about declared responses: spindle load, roughness, burr."""

from __future__ import annotations

from collections.abc import Mapping

from wearlab.compare.response_trends import ResponseContrast
from wearlab.words.counting import sentence
from wearlab.words.rounding import significant, trimmed
from wearlab.words.units import clock_kind, unit_of


def response_name(measure: str) -> str:
    """The word of the log with blanks for underscores.

    >>> response_name("spindle_load")
    'spindle load'
    """
    return measure.replace("_", " ")


def name_with_unit(measure: str, unit: str) -> str:
    """Name and unit, as over a column.

    >>> name_with_unit("spindle_load", "%"), name_with_unit("Ra", "um"), name_with_unit("burr_class", "")
    ('spindle load, %', 'Ra, µm', 'burr class')
    """
    shown = {"um": "µm"}.get(unit, unit)
    return f"{response_name(measure)}, {shown}" if shown else response_name(measure)


def per_clock(clock: str, units: str = "metric") -> str:
    """The clock behind a trend.

    >>> per_clock("cutting_time_min"), per_clock("volume_cm3", "inch"), per_clock("parts")
    ('per min', 'per in³', 'per part')
    """
    name = unit_of(clock_kind(clock), units).name
    return "per part" if name == "parts" else f"per {name}"


def contrast_sentence(
    contrast: ResponseContrast, titles: Mapping[str, str], level: float, units: str = "metric"
) -> str:
    """What sets two groups apart in the trend of one response.

    Parameters
    ----------
    contrast : ResponseContrast
    titles : mapping of str to str
        How groups are called.
    level : float
        Confidence level of the range.
    units : str
        metric or inch, for the clock.
    """
    a, b = (f"“{titles.get(name, name)}”" for name in (contrast.a, contrast.b))
    what = response_name(contrast.measure) + (f" ({contrast.zone})" if contrast.zone else "")
    if contrast.why_missing:
        return sentence(f"{what}: {a} and {b} cannot be told apart: {contrast.why_missing}")
    factor = unit_of(clock_kind(contrast.clock), units).factor
    unit = {"um": "µm"}.get(contrast.unit, contrast.unit)
    per = f"{unit} {per_clock(contrast.clock, units)}".strip()
    limits = contrast.interval(level)
    values = (contrast.trend_a, contrast.trend_b, limits.low, limits.high, abs(contrast.difference))
    first, second, least, most, size = (significant(value / factor) for value in values)
    means = f"{what} changes by {first} {per} in {a} cutters and by {second} in {b} cutters"
    span = f"difference {least} to {most} at {trimmed(100 * level, 2)} %"
    if limits.low <= 0.0 <= limits.high:
        return sentence(f"{means}; this trial cannot tell them apart ({span})")
    more = "more" if contrast.difference > 0 else "less"
    return sentence(f"{means}: {size} {per} {more} ({span})")
