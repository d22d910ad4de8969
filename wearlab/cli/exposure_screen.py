"""Plain text of `wearlab exposure`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearlab.cli import screen
from wearlab.core.units import CM3_PER_INCH3, M_PER_FOOT, MM_PER_INCH
from wearlab.words.labels import label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import quantity
from wearlab.words.units import clock_kind, unit_of

if TYPE_CHECKING:
    from wearlab.compare.exposures import Exposures
    from wearlab.compare.zone_wear import ZoneWear

CLOCK_WORDS = {"cm3": "cm3 removed", "min": "minute in the metal", "parts": "part", "m": "metre fed"}
CLOCK_WORDS_INCH = CLOCK_WORDS | {"cm3": "in3 removed", "m": "foot fed"}
PER_IN3 = {
    "contact_time_min_cm3": CM3_PER_INCH3,
    "sliding_m_cm3": CM3_PER_INCH3 / M_PER_FOOT,
    "chip_mm3_mm_cm3": CM3_PER_INCH3 / MM_PER_INCH**2,
    "impacts_cm3": CM3_PER_INCH3,
    "from_mm": 1 / MM_PER_INCH,
    "to_mm": 1 / MM_PER_INCH,
}
"""What turns a column of the exposure table into an inch reader's."""


def print_exposures(found: Exposures, units: str = "metric") -> None:
    """Exposure by zone, ratios, what was equal, what was refused."""
    inch = units == "inch"
    length, slid, chip, volume = ("in", "ft", "in3/in", "in3") if inch else ("mm", "m", "mm3/mm", "cm3")
    screen.heading(f"Exposure of the edge: one tooth, per {volume} removed")
    frame = found.to_frame()
    screen.table(
        frame.assign(**{name: (frame[name] * factor).round(4) for name, factor in PER_IN3.items()}) if inch else frame,
        [
            ("practice", "practice"),
            ("zone", "zone"),
            ("from_mm", f"from {length}"),
            ("to_mm", f"to {length}"),
            ("contact_time_min_cm3", "contact min"),
            ("sliding_m_cm3", f"slides {slid}"),
            ("chip_mm3_mm_cm3", f"chip {chip}"),
            ("impacts_cm3", "impacts"),
        ],
    )
    screen.say()
    for one in found.practices:
        # 1 cm2 per cm3 is 2.54 in2 per in3.
        floor = float(one.zones.floor_cm2_cm3) * (MM_PER_INCH / 10.0 if inch else 1.0)
        rate = one.removal_rate_cm3_min / (CM3_PER_INCH3 if inch else 1.0)
        area = "in2" if inch else "cm2"
        screen.say(
            f"{one.name}: removal rate {rate:.4g} {volume}/min; the corner makes {floor:.3g} {area} of "
            f"floor per {volume}."
        )
        for text in one.assumed:
            screen.say(f"assumed: {in_plain_words(text, units)}", 2)
        for caution in one.cautions:
            screen.say(f"caution: {caution.code}, {caution.value:.3g} beside {caution.limit:.3g} ({caution.source})", 2)
    for name, why in found.refused.items():
        screen.say(f"{name}: not possible: {in_plain_words(why, units)}.")
    _ratios(found, units)
    _matched(found, units)


def _ratios(found: Exposures, units: str) -> None:
    if found.ratios.empty:
        return
    screen.say()
    words = CLOCK_WORDS_INCH if units == "inch" else CLOCK_WORDS
    screen.heading(f"Growth of wear that follows, per {words[found.clock]}: first over second")
    screen.say(
        "If the land grows with contact time, with distance slid or with chip cut along the edge; a measured ratio "
        "outside of the band says that something else is going on: chipping, heat, a notch, chips cut twice."
    )
    table = found.ratios.assign(pair=found.ratios["a"] + " / " + found.ratios["b"])
    screen.table(
        table,
        [
            ("pair", "pair"),
            ("zone", "zone"),
            ("contact_time", "contact"),
            ("sliding", "sliding"),
            ("chip", "chip"),
            ("low", "band from"),
            ("high", "to"),
        ],
    )
    if (table["why_missing"] != "").any():
        screen.say("no limit: the second does not touch that zone; -: neither does; 0: the first does not.")


def _named(name: str) -> str:
    """A quantity of the cut in words."""
    return label(name).text


def _beside(name: str, pair: tuple[float, float], units: str) -> str:
    kind = label(name).kind
    shown = [quantity(value, kind, units, 4) if kind else f"{value:.4g}" for value in pair]
    return f"{_named(name)} ({shown[0]} and {shown[1]})"


def _matched(found: Exposures, units: str) -> None:
    for (a, b), one in found.matched.items():
        screen.say()
        screen.say(f"Equal in {a} and {b}: {', '.join(map(_named, one.matched)) or 'nothing'}.")
        parts = [_beside(c.quantity, (c.a, c.b), units) for c in one.comparisons if c.equal is False]
        if parts:
            screen.say(f"Not equal: {', '.join(parts)}.")
        if one.not_compared:
            screen.say(f"Not compared: {', '.join(map(_named, one.not_compared))}.")
    if found.matched:
        screen.say()
        screen.say("Power and deflection are worked out with a typical material and stiffness: mind their ratio alone.")


def print_zone_wear(wear: ZoneWear, units: str = "metric") -> None:
    """Measured rates beside what exposure makes of one of them."""
    screen.say()
    unit = unit_of(f"land_per_{clock_kind(wear.clock)}", units)
    screen.heading(f"Wear by zone, predicted and measured, {unit.name}")
    group, zone = wear.reference
    screen.say(f"Exposure tells ratios: {group}, zone {zone}, is taken as measured, and the others follow from it.")
    figures = ["rate", "low", "high", "predicted_low", "predicted_high"]
    scaled = wear.table.assign(**{name: unit.factor * wear.table[name] for name in figures})
    scaled = scaled.replace({math.inf: math.nan, -math.inf: math.nan})
    screen.table(
        scaled,
        [
            ("group", "practice"),
            ("zone", "zone"),
            ("rate", "measured"),
            ("low", "low"),
            ("high", "high"),
            ("predicted_low", "pred."),
            ("predicted_high", "to"),
            ("position", "position"),
        ],
    )
    for at, one in enumerate(wear.contrasts):
        band = one.predicted
        screen.say()
        if one.scale == "ratio" and not math.isfinite(one.estimate):
            screen.say(f"zone {one.zone}, {one.a} over {one.b}: no ratio: {one.why_missing or 'too few cutters'}")
        elif one.scale == "ratio":
            screen.say(
                f"zone {one.zone}, {one.a} over {one.b}: measured {one.estimate:.3g} ({one.interval.low:.3g} to "
                f"{one.interval.high:.3g})"
            )
        else:
            screen.say(f"zone {one.zone}, {one.a} over {one.b}: no ratio, a rate is not above 0")
        if band is not None and not band.why_missing:
            standing = ", ".join(name.replace("_", " ") for name in wear.standing.get(at, ())) or "none"
            screen.say(f"predicted {band.low:.3g} to {band.high:.3g}: {band.position}; left standing: {standing}", 2)
        elif band is not None:
            screen.say(f"no predicted band: {band.why_missing}", 2)
