"""Plain text of `wearlab exposure`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from wearlab.cli import screen

if TYPE_CHECKING:
    from wearlab.compare.exposures import Exposures
    from wearlab.compare.zone_wear import ZoneWear

CLOCK_WORDS = {"cm3": "cm3 removed", "min": "minute in the metal", "parts": "part", "m": "metre fed"}


def print_exposures(found: Exposures) -> None:
    """Exposure by zone, ratios, what was equal, what was refused."""
    screen.heading("Exposure of the edge: one tooth, per cm3 removed")
    screen.table(
        found.to_frame(),
        [
            ("practice", "practice"),
            ("zone", "zone"),
            ("from_mm", "from mm"),
            ("to_mm", "to mm"),
            ("contact_time_min_cm3", "contact min"),
            ("sliding_m_cm3", "slides m"),
            ("chip_mm3_mm_cm3", "chip mm3/mm"),
            ("impacts_cm3", "impacts"),
        ],
    )
    screen.say()
    for one in found.practices:
        floor = float(one.zones.floor_cm2_cm3)
        screen.say(
            f"{one.name}: removal rate {one.removal_rate_cm3_min:.4g} cm3/min; the corner makes {floor:.3g} cm2 of "
            f"floor per cm3."
        )
        for text in one.assumed:
            screen.say(f"assumed: {text}", 2)
        for caution in one.cautions:
            screen.say(f"caution: {caution.code}, {caution.value:.3g} beside {caution.limit:.3g} ({caution.source})", 2)
    for name, why in found.refused.items():
        screen.say(f"{name}: not possible: {why}.")
    _ratios(found)
    _matched(found)


def _ratios(found: Exposures) -> None:
    if found.ratios.empty:
        return
    screen.say()
    screen.heading(f"Growth of wear that follows, per {CLOCK_WORDS[found.clock]}: first over second")
    screen.say(
        "If the land grows with contact time, with metres slid or with chip cut per mm of edge; a measured ratio "
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


def _matched(found: Exposures) -> None:
    for (a, b), one in found.matched.items():
        screen.say()
        screen.say(f"Equal in {a} and {b}: {', '.join(one.matched) or 'nothing'}.")
        parts = [f"{c.quantity} ({c.a:.4g} and {c.b:.4g})" for c in one.comparisons if c.equal is False]
        if parts:
            screen.say(f"Not equal: {', '.join(parts)}.")
        if one.not_compared:
            screen.say(f"Not compared: {', '.join(one.not_compared)}.")
    if found.matched:
        screen.say()
        screen.say("Power and deflection are worked out with a typical material and stiffness: mind their ratio alone.")


def print_zone_wear(wear: ZoneWear) -> None:
    """Measured rates beside what exposure makes of one of them."""
    screen.say()
    screen.heading(f"Wear by zone, predicted and measured (um per unit of {wear.clock})")
    group, zone = wear.reference
    screen.say(f"Exposure tells ratios: {group}, zone {zone}, is taken as measured, and the others follow from it.")
    figures = ["rate", "low", "high", "predicted_low", "predicted_high"]
    scaled = wear.table.assign(**{name: 1000 * wear.table[name] for name in figures})
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
            standing = ", ".join(wear.standing.get(at, ())) or "none"
            screen.say(f"predicted {band.low:.3g} to {band.high:.3g}: {band.position}; left standing: {standing}", 2)
        elif band is not None:
            screen.say(f"no predicted band: {band.why_missing}", 2)
