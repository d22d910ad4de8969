"""Our figures beside published ones, each table named; tables that disagree are both named and neither is preferred."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wearlab.core.interval import Interval
from wearlab.published.lookup import PublishedComparison, PublishedValue
from wearlab.words.counting import counted, listed, sentence
from wearlab.words.rounding import decimals_for, quantity, range_text, significant, trimmed, with_unit

_KINDS = {"mm": "land", "m/min": "speed"}
_KNOWN = {
    "seen": "seen in the source",
    "from memory": "from memory",
    "computed": "computed from what the source states",
    "derived": "derived from what the source states",
}


def known_words(row: PublishedValue) -> str:
    """How a row is known.

    >>> from wearlab.published.lookup import published
    >>> known_words(published(id="T14a")[0])
    'from memory'
    """
    return _KNOWN.get(row.how_known, row.how_known)


def row_figure(row: PublishedValue, units: str = "metric") -> str:
    """What a row states.

    >>> from wearlab.published.lookup import published
    >>> row_figure(published(id="T14a")[0]), row_figure(published(id="S03")[0], "inch")
    ('0.2 to 0.5', '11.8 thou')
    """
    if row.low is not None and row.high is not None and row.value is None:
        return _range(row.low, row.high, row.unit, units)
    if row.value is None:
        return ""
    kind = _KINDS.get(row.unit)
    if kind and units == "inch":
        return quantity(row.value, kind, units)
    return with_unit(trimmed(row.value, 6), row.unit)


def _range(low: float, high: float, unit: str, units: str) -> str:
    kind = _KINDS.get(unit)
    if kind and units == "inch":
        first, second = (quantity(end, kind, units) for end in (low, high))
        return f"{first.split(' ')[0]} to {second}"
    return with_unit(f"{trimmed(low, 6)} to {trimmed(high, 6)}", unit)


def row_name(row: PublishedValue) -> str:
    """Source and place of a row."""
    return f"{row.source}, {row.place}" if row.place else row.source


def comparison_sentence(
    found: PublishedComparison, what: str, interval: Interval | None = None, units: str = "metric"
) -> str:
    """One figure of ours beside one published row.

    Parameters
    ----------
    found : PublishedComparison
    what : str
        Our figure in words, such as "our n of 0.28".
    interval : Interval, optional
        Ours; tells whether its range reaches the published figure.
    units : str
        metric or inch.
    """
    row = found.row
    stated = f"{row_figure(row, units)} ({row_name(row)}; {known_words(row)}; for {stated_for(row)})"
    if found.position == "inside":
        return sentence(f"{what} {'agrees with' if row.value is not None else 'lies within'} the published {stated}"
                        f"{_how_wide(found, interval)}")  # fmt: skip
    reach = ""
    if found.interval_reaches is not None and interval is not None and interval.unbounded != "both":
        reach = (
            "; its plausible range reaches it" if found.interval_reaches else "; its plausible range does not reach it"
        )
    return sentence(f"{what} lies {found.position} the published {stated}{reach}")


def _how_wide(found: PublishedComparison, interval: Interval | None) -> str:
    """What agreement is worth: little where our own range reaches beyond what was published."""
    limits = found.row.limits
    if interval is None or limits is None:
        return ""
    if interval.unbounded == "both":
        return "; its own range is open on both sides, so that nearly any published figure would agree"
    decimals = max(decimals_for(found.value, interval.low, interval.high), 0)
    own = range_text(interval, decimals)
    if limits[0] <= interval.low and interval.high <= limits[1]:
        return f", with all of its plausible range ({own})"
    wide = math.isinf(interval.high) or interval.high - interval.low > 2 * (limits[1] - limits[0])
    worth = "so that the agreement says little" if wide else "which holds what was published and reaches beyond it"
    return f"; its plausible range is {own}, {worth}"


def stated_for(row: PublishedValue) -> str:
    """What a row was stated for."""
    words = " on ".join(part for part in (row.cutter_material, row.work_material) if part) or "cutters in general"
    return f"{words} in {row.operation}" if row.operation else words


def disagreement_sentence(rows: Sequence[PublishedValue], quantity_words: str, units: str = "metric") -> str:
    """Tables that do not overlap, both named; empty where all of them do.

    >>> from wearlab.published.lookup import exponents_for
    >>> disagreement_sentence(exponents_for("HSS")[:2], "n")
    ''
    """
    limits = [(row, row.limits) for row in rows if row.limits is not None]
    apart = [
        (a, b)
        for i, (a, own) in enumerate(limits)
        for b, other in limits[i + 1 :]
        if own is not None and other is not None and (own[1] < other[0] or other[1] < own[0])
    ]
    if not apart:
        return ""
    named = list(dict.fromkeys(f"{row_figure(row, units)} ({row.source})" for pair in apart for row in pair))
    return sentence(
        f"published tables disagree about {quantity_words}: {listed(named)}; this report prefers none of them, and a "
        "figure outside a table is a remark and no fault of the trial"
    )


def nothing_to_compare(cutter_material: str, rows: Sequence[PublishedValue]) -> str:
    """Published rows stand there without a figure of ours."""
    if not rows:
        named = f"a cutter of “{cutter_material}”" if cutter_material else "a cutter whose material is not recorded"
        return sentence(f"no published exponent with a source is at hand for {named}")
    return sentence(
        f"this log gives no exponent of its own to set beside the {counted(len(rows), 'published row')} for "
        f"{cutter_material}; they are listed so that nobody has to search for them, not as a result of this trial"
    )


def scatter_words(cv: float) -> str:
    """A coefficient of variation in words.

    >>> scatter_words(0.187)
    'about 19 % from cutter to cutter'
    """
    return f"about {significant(100 * cv, 2)} % from cutter to cutter"
