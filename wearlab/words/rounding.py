"""Figures rounded to what they support: an estimate to the digits of its interval, p never to nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wearlab.core.interval import Interval
from wearlab.words.units import unit_of

MISSING = "–"
"""What stands in a cell without a figure."""
MOST_DECIMALS = 8


def significant(value: float, digits: int = 3) -> str:
    """A figure to so many digits that count, written without an exponent.

    >>> significant(48.1428), significant(0.00537, 2), significant(1234.5), significant(80.0, 2)
    ('48.1', '0.0054', '1230', '80')
    """
    if not math.isfinite(value):
        return MISSING
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return trimmed(value, decimals) if decimals > 0 else fixed(value, decimals)


def fixed(value: float, decimals: int) -> str:
    """A figure to so many decimals; below 0 to tens, hundreds; never a minus before a zero.

    >>> fixed(2.7888, 1), fixed(1234.0, -1), fixed(-0.001, 1)
    ('2.8', '1230', '0.0')
    """
    if not math.isfinite(value):
        return MISSING
    decimals = min(decimals, MOST_DECIMALS)
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def trimmed(value: float, decimals: int) -> str:
    """As `fixed`, without zeros at the end.

    >>> trimmed(70.0, 1), trimmed(0.250, 3), trimmed(60, 0)
    ('70', '0.25', '60')
    """
    text = fixed(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def decimals_for(estimate: float, low: float, high: float) -> int:
    """Decimals that an interval supports: one digit of its half-width that counts, two where that digit is 1.

    The estimate keeps two digits at least. Without a bounded side three digits of the estimate are kept.

    >>> decimals_for(2.79, 2.09, 3.78), decimals_for(0.2826, 0.246, 0.336), decimals_for(62.6, 59.6, 65.1)
    (1, 2, 0)
    """
    ends = [abs(end - estimate) for end in (low, high) if math.isfinite(end)]
    half = sum(ends) / len(ends) if ends else 0.0
    if not math.isfinite(estimate) or estimate == 0:
        return 2
    size = math.floor(math.log10(abs(estimate)))
    if half <= 0:
        return 2 - size
    power = math.floor(math.log10(half))
    leading = half / 10.0**power
    return min(max(-power + (1 if leading < 2 else 0), 1 - size), MOST_DECIMALS)


def kept_apart(value: float, decimals: int, marks: Sequence[float] = ()) -> str:
    """Round, but not onto a mark that the figure does not reach (1 for a ratio, the margin): then add decimals.

    >>> kept_apart(1.004, 1, [1.0]), kept_apart(1.0, 1, [1.0]), kept_apart(1.24, 1, [1.2, 1.25])
    ('1.004', '1.0', '1.24')
    """
    if not math.isfinite(value):
        return MISSING
    for more in range(decimals, decimals + 4):
        text = fixed(value, more)
        if not any(float(text) == mark != value for mark in marks):
            return text
    return fixed(value, decimals + 4)


def range_text(interval: Interval, decimals: int, marks: Sequence[float] = (), unit: str = "") -> str:
    """An interval in words.

    >>> range_text(Interval(2.09, 3.78, 0.95, "t"), 1, unit="times")
    '2.1 to 3.8 times'
    >>> range_text(Interval(0.0, 3.78, 0.95, "t"), 1), range_text(Interval(2.09, math.inf, 0.95, "t"), 1)
    ('anything up to 3.8', '2.1 or more')
    """
    tail = f" {unit}" if unit else ""
    low_open = not math.isfinite(interval.low) or interval.low == 0
    high_open = not math.isfinite(interval.high)
    low, high = kept_apart(interval.low, decimals, marks), kept_apart(interval.high, decimals, marks)
    if low_open and high_open:
        return "anything is possible"
    if low_open:
        return f"anything up to {high}{tail}"
    if high_open:
        return f"{low}{tail} or more"
    return f"{low} to {high}{tail}"


def p_text(p: float) -> str:
    """A p for a table, never bare in a sentence.

    >>> p_text(0.0001554), p_text(0.03125), p_text(0.4), p_text(float("nan"))
    ('< 0.001', '0.031', '0.40', '–')
    """
    if not math.isfinite(p):
        return MISSING
    if p < 0.001:
        return "< 0.001"
    return f"{p:.3f}" if p < 0.1 else f"{min(p, 1.0):.2f}"


def quantity(value: float, kind: str, units: str = "metric", digits: int = 3) -> str:
    """A figure with its unit in the reader's family, to so many digits that count.

    >>> quantity(70.0, "speed"), quantity(70.0, "speed", "inch"), quantity(0.2, "land", "inch")
    ('70 m/min', '230 sfm', '7.87 thou')
    """
    unit = unit_of(kind, units)
    text = significant(value * unit.factor, digits) if math.isfinite(value) else MISSING
    if unit.name == "parts" and text == "1":
        return "1 part"
    return with_unit(text, unit.name)


def with_unit(text: str, unit: str) -> str:
    """A figure and its unit, set apart as the unit wants it.

    >>> with_unit("30", "°"), with_unit("30", "mm"), with_unit("30", "")
    ('30°', '30 mm', '30')
    """
    if not unit or text == MISSING:
        return text
    return f"{text}{unit}" if unit == "°" else f"{text} {unit}"
