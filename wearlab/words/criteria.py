"""Criteria, zones and clocks in words."""

from __future__ import annotations

from wearlab.logbook.columns import MEASURES
from wearlab.logbook.criterion import Criterion
from wearlab.words.labels import label
from wearlab.words.rounding import quantity, trimmed, with_unit

_LANDS = {
    ("VB", "mean"): "the mean wear land of the flutes",
    ("VB", "worst"): "the wear land of the worst flute",
    ("VBmax", "mean"): "the greatest wear land averaged over the flutes",
    ("VBmax", "worst"): "the greatest wear land on any flute",
    ("corner", "mean"): "the mean recession of the corners",
    ("corner", "worst"): "the recession of the worst corner",
    ("chip", "mean"): "the mean length of chips out of the edge",
    ("chip", "worst"): "the length of the longest chip out of the edge",
}
_WALLS = {
    "wall": "the deviation of the wall",
    "width": "the width of the slot or step",
    "hang_up": "the height at which the pin stops",
    "floor_radius": "the fillet at the floor",
    "cutter_diameter": "the diameter measured on the cutter",
}
_CLOCK_WORDS = {
    "cutting_time_min": "minutes of cutting",
    "volume_cm3": "volume of metal removed",
    "parts": "parts made",
    "cut_length_m": "length cut",
}


def zone_words(zone: str) -> str:
    """A zone of the edge inside a sentence.

    >>> zone_words("lower"), zone_words(""), zone_words("corner"), zone_words("my zone")
    ('in the lower zone', 'over the whole edge', 'at the corner', 'in zone “my zone”')
    """
    if not zone:
        return "over the whole edge"
    if zone in ("corner", "end", "notch"):
        return f"at the {zone}"
    return f"in the {zone} zone" if zone in ("lower", "middle", "upper") else f"in zone “{zone}”"


def zone_name(zone: str) -> str:
    """A zone as a heading."""
    return zone or "whole edge"


def what_is_read(criterion: Criterion, zones: int = 2) -> str:
    """What a criterion looks at; `zones` is how many zones of the edge the log holds.

    >>> from wearlab.logbook.criterion import parse_criterion
    >>> what_is_read(parse_criterion("lower:VB.worst=0.2mm"))
    'the wear land of the worst flute in the lower zone'
    """
    if criterion.measure in _WALLS:
        return _WALLS[criterion.measure]
    words = _LANDS.get((criterion.measure, criterion.statistic), f"the reading “{criterion.measure}”")
    if criterion.measure not in MEASURES:
        return words
    if criterion.zone:
        return f"{words} {zone_words(criterion.zone)}"
    return f"{words}, wherever along the edge it is worst," if zones > 1 else words


def limit_words(criterion: Criterion, units: str = "metric") -> str:
    """The limit with its unit; as it was typed beside it where the reader's unit is another.

    >>> from wearlab.logbook.criterion import parse_criterion
    >>> limit_words(parse_criterion("VB=0.3mm")), limit_words(parse_criterion("VB=0.3mm"), "inch")
    ('0.3 mm', '11.8 thou (0.3 mm)')
    """
    if criterion.measure not in MEASURES:
        return trimmed(criterion.limit, 6)
    kind = "length" if criterion.measure in ("width", "cutter_diameter", "hang_up", "floor_radius") else "land"
    metric = with_unit(trimmed(criterion.limit, 6), "mm")
    if units == "metric":
        return metric
    digits = 5 if kind == "length" else 3
    return f"{quantity(criterion.limit, kind, units, digits)} ({metric})"


def criterion_words(criterion: Criterion, units: str = "metric", zones: int = 2) -> str:
    """When a life ends, as the end of a sentence that begins "a life ends when".

    >>> from wearlab.logbook.criterion import END, parse_criterion
    >>> criterion_words(parse_criterion("lower:VB.mean=0.2mm"))
    'the mean wear land of the flutes in the lower zone reaches 0.2 mm'
    >>> criterion_words(END)
    'the run ends because the cutter is worn or the part is out of size'
    """
    if criterion.measure == "end":
        return "the run ends because the cutter is worn or the part is out of size"
    verb = "falls to" if criterion.direction == "falls" else "reaches"
    text = f"{what_is_read(criterion, zones)} {verb} {limit_words(criterion, units)}"
    if criterion.height_mm is None:
        return text
    return f"{text} at a height of {quantity(criterion.height_mm, 'length', units)} above the floor"


def criterion_short(criterion: Criterion, units: str = "metric") -> str:
    """A criterion as a label.

    >>> from wearlab.logbook.criterion import parse_criterion
    >>> criterion_short(parse_criterion("lower:VB.mean=0.2mm"), "inch")
    'mean land, lower, 7.87 thou'
    """
    if criterion.measure == "end":
        return "end of the run"
    named = criterion.measure in ("VB", "VBmax", "corner", "chip")
    what = {"VB": "land", "VBmax": "greatest land"}.get(criterion.measure, criterion.measure.replace("_", " "))
    statistic = f"{'mean' if criterion.statistic == 'mean' else 'worst-flute'} " if named else ""
    zone = "worst zone" if named and not criterion.zone else criterion.zone
    limit = limit_words(criterion, units).split(" (")[0]
    return ", ".join(part for part in (f"{statistic}{what}", zone, limit) if part)


def clock_words(clock: str) -> str:
    """What a clock counts.

    >>> clock_words("volume_cm3")
    'volume of metal removed'
    """
    return _CLOCK_WORDS.get(clock, label(clock).text)
