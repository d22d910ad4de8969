"""Edge exposure and what it predicts, in sentences."""

from __future__ import annotations

import math

from wearlab.compare.contrast import Contrast
from wearlab.compare.exposures import Exposures
from wearlab.compare.zone_wear import ZoneWear
from wearlab.words.counting import listed, sentence
from wearlab.words.criteria import zone_words
from wearlab.words.groups import cutters_of
from wearlab.words.rounding import significant

HYPOTHESES = {
    "contact_time": "the time in the metal",
    "sliding": "the metres slid",
    "chip": "the metal cut by each mm of edge",
}
"""What a land may grow with."""
POSITIONS = {
    "reference": "taken as measured",
    "inside": "as predicted",
    "reaches": "prediction within its range",
    "above": "more than predicted",
    "below": "less than predicted",
}
"""Where a measured figure lies against the predicted band."""
CLOCKS = {"cm3": "volume of metal", "min": "minute in the metal", "parts": "part", "m": "metre fed"}


def exposure_sentence(found: Exposures, by: str) -> str:
    """What the practices share and what they do not."""
    rates = {significant(one.removal_rate_cm3_min) for one in found.practices}
    names = [cutters_of(by, one.name) for one in found.practices]
    if len(found.practices) < 2:
        return sentence(f"what a point of the edge goes through, for {names[0]}: worked out from the settings alone")
    same = "remove metal at one rate" if len(rates) == 1 else "differ in removal rate"
    return sentence(f"{listed(names)} {same}; what they do to the edge is worked out here from the settings alone")


def band_sentences(found: Exposures, a: str, b: str, by: str) -> tuple[str, ...]:
    """The band of one pair, zones with one band together."""
    rows = found.ratios
    own = rows[(rows["a"] == a) & (rows["b"] == b) & ~rows["zone"].isin(["end", "notch"])]
    zones: dict[tuple[str, str], list[str]] = {}
    for zone, low, high in zip(own["zone"], own["low"], own["high"], strict=True):
        zones.setdefault((f"{low:.6g}", f"{high:.6g}"), []).append(str(zone))
    return tuple(
        _band(float(low), float(high), listed([zone_words(zone) for zone in held]), a, b, by, found.clock)
        for (low, high), held in zones.items()
    )


def _band(low: float, high: float, where: str, a: str, b: str, by: str, clock: str) -> str:
    first, second = cutters_of(by, a), cutters_of(by, b)
    if math.isnan(low):
        return sentence(f"{where} neither {first} nor {second} cut")
    if math.isinf(low):
        return sentence(f"{where} {first} cut and {second} do not: all wear there should be theirs")
    if high == 0:
        return sentence(f"{where} {second} cut and {first} do not: all wear there should be theirs")
    if high < 1:
        first, second, low, high = second, first, 1 / high, 1 / low
    ends = [significant(low), significant(high)]
    figure = ends[0] if ends[0] == ends[1] else " to ".join(ends)
    return sentence(
        f"{where} the land of {first} should grow {figure} times as fast as that of {second}, for the same "
        f"{CLOCKS[clock]}"
    )


def standing_sentence(one: Contrast, standing: tuple[str, ...]) -> str:
    """What the measured ratio of one zone says of the three ways in which a land may grow."""
    band = one.predicted
    if band is None or band.why_missing or one.scale != "ratio":
        return ""
    gone = [HYPOTHESES[name] for name in band.by_hypothesis if name not in standing]
    kept = [HYPOTHESES[name] for name in standing]
    where = zone_words(one.zone)
    if not gone:
        return sentence(
            f"{where} the measured ratio leaves all three open: a land that grows with {listed(kept, last='or')}"
        )
    if not kept:
        return sentence(f"{where} none of the three accounts for the measured ratio: something else is at work")
    return sentence(f"{where} the measured ratio goes with {listed(kept, last='or')}, and not with {listed(gone)}")


def reference_sentence(wear: ZoneWear, by: str) -> str:
    """What was taken as measured."""
    group, zone = wear.reference
    return sentence(
        f"exposure tells how many times and not how much: the wear of {cutters_of(by, group)} {zone_words(zone)} is "
        "taken as measured, and the rest follows from it"
    )


def position_words(position: str) -> str:
    """Where a measured figure lies, for a cell of a table."""
    return POSITIONS.get(position, "")
