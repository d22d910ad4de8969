"""Evidence: what each practice does to the edge, and whether the wear answers to it."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.compare.exposures import Exposures
from wearlab.compare.trial_exposure import TrialExposure, exposure_of_trial
from wearlab.compare.zone_wear import ZoneWear
from wearlab.core.errors import WearlabError
from wearlab.core.units import CM3_PER_INCH3, M_PER_FOOT, MM_PER_INCH
from wearlab.report.analysis import Analysis
from wearlab.report.figures.exposure import draw_exposure, draw_zone_wear
from wearlab.report.figures.style import both_svgs, looks
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import group_looks, group_titles, shown_in
from wearlab.words.counting import sentence
from wearlab.words.criteria import zone_name
from wearlab.words.exposure import (
    band_sentences,
    exposure_sentence,
    position_words,
    reference_sentence,
    standing_sentence,
)
from wearlab.words.fits import refusal_sentence
from wearlab.words.groups import group_name
from wearlab.words.labels import Label, label, rate_label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import MISSING, significant
from wearlab.words.units import clock_kind, unit_of

TITLE = "What each practice does to the edge"
PER_VOLUME = {
    "contact_time_min_cm3": ("contact time", "min", 1.0),
    "sliding_m_cm3": ("distance slid", "m", 1.0),
    "chip_mm3_mm_cm3": ("metal cut by 1 mm of edge", "mm³", 1.0),
}
PER_VOLUME_INCH = {
    "contact_time_min_cm3": ("contact time", "min", CM3_PER_INCH3),
    "sliding_m_cm3": ("distance slid", "ft", CM3_PER_INCH3 / M_PER_FOOT),
    # mm2 per cm3 to in2 per in3.
    "chip_mm3_mm_cm3": ("metal cut by 1 in of edge", "in³", CM3_PER_INCH3 / MM_PER_INCH**2),
}
DRAWN = ("sliding_m_cm3", "chip_mm3_mm_cm3")
HOW = (
    "from diameter, teeth, speed, feed, depth and width alone, per volume removed and for one tooth: contact time is "
    "the engagement angle's share of a turn over the removal rate, the distance slid is one over teeth, depth and mean "
    "chip, the metal cut by a length of edge is one over teeth and depth; derived with the path of a tooth taken as a "
    "circle, and checked against a cutter swept over a grid; heights are above the end of the cutter"
)


def exposure_section(analysis: Analysis) -> Section:
    """Exposure along the edge, its ratios, and the measured wear beside them."""
    try:
        found = exposure_of_trial(
            analysis.trial, analysis.main.criterion, by=analysis.by, standard=analysis.standard, level=analysis.level,
            curves=analysis.curves,
        )  # fmt: skip
    except WearlabError as reason:
        text = refusal_sentence("what each practice does to the edge was not worked out", reason, analysis.units)
        return Section("exposure", TITLE, "engineer", (Sentence(text),))
    blocks = [*_texts(analysis, found.exposures), *_exposure_blocks(analysis, found.exposures)]
    blocks += _wear_blocks(analysis, found)
    return Section("exposure", TITLE, "engineer", tuple(blocks))


def exposure_svg(found: Exposures, units: str = "metric") -> str:
    """Exposure along the edge as a picture of its own."""
    titles = {one.name: one.name for one in found.practices}
    return _figure(found, titles, units).svg


def _texts(analysis: Analysis, found: Exposures) -> list[Block]:
    by = analysis.by
    lines = [exposure_sentence(found, by)]
    for a, b in found.pairs:
        lines += band_sentences(found, a, b, by)
    blocks: list[Block] = [Sentence(lines[0]), Paragraph(tuple(lines[1:]), listed=True)] if found.pairs else []
    blocks = blocks or [Sentence(lines[0])]
    for name, why in found.refused.items():
        named = group_name(by, name, analysis.units)
        blocks.append(Sentence(sentence(f"nothing is worked out for “{named}”: {in_plain_words(why, analysis.units)}")))
    assumed = {text for one in found.practices for text in one.assumed}
    if assumed:
        texts = "; ".join(in_plain_words(text, analysis.units) for text in sorted(assumed))
        blocks.append(Sentence(sentence(f"taken for granted: {texts}")))
    return blocks


def _exposure_blocks(analysis: Analysis, found: Exposures) -> list[Block]:
    titles = group_titles(analysis)
    return [_figure(found, titles, analysis.units), _zone_table(found, titles, analysis.units)]


def _per_volume(units: str) -> dict[str, tuple[str, str, float]]:
    return PER_VOLUME if units == "metric" else PER_VOLUME_INCH


def _figure(found: Exposures, titles: dict[str, str], units: str) -> FigureBlock:
    volume = unit_of("volume", units).name
    names = _per_volume(units)
    heights = pd.concat([one.height_frame().assign(practice=one.name) for one in found.practices], ignore_index=True)
    zones = found.to_frame().rename(columns={"from_mm": "start", "to_mm": "stop"})
    zones = zones[~zones["zone"].isin(["end", "notch"])]
    drawn = _shown(heights.rename(columns={"height_mm": "height"}), {"height": "length"}, units, titles)
    panels = {name: f"{names[name][0]}, {names[name][1]} per {volume}" for name in DRAWN}
    draw = partial(
        draw_exposure,
        drawn,
        _shown(zones, {"start": "length", "stop": "length"}, units, titles),
        looks([titles[one.name] for one in found.practices]),
        panels=panels,
        y_label=Label("height above the end of the cutter", "length").heading(units),
    )
    title = "What a point of the edge goes through, by height"
    parts = [
        f"“{titles[one.name]}”, {zone_name(str(zone))}: {significant(float(slid) * names[DRAWN[0]][2])} "
        f"{names[DRAWN[0]][1]} slid per {volume}"
        for one in found.practices
        for zone, slid in zip(one.zones.zones, one.zones.sliding_m_cm3, strict=True)
    ]
    description = sentence("; ".join(parts))
    legend = "A mark at the corner is what the end edge adds there." if _has_corner_work(found) else ""
    svg, phone = both_svgs(draw, "exposure", title, description)
    return FigureBlock("exposure", heights, svg, title, description, legend, sentence(HOW), phone=phone)


def _shown(frame: pd.DataFrame, kinds: dict[str, str], units: str, titles: dict[str, str]) -> pd.DataFrame:
    made = shown_in(frame, kinds, units).assign(practice=frame["practice"].map(titles))
    return made.assign(**{name: made[name] * factor for name, (_, _, factor) in _per_volume(units).items()})


def _has_corner_work(found: Exposures) -> bool:
    for one in found.practices:
        if "corner" not in one.zones.zones:
            continue
        low, high = found.zones["corner"]
        frame = one.height_frame()
        inside = frame[(frame["height_mm"] >= low) & (frame["height_mm"] <= high)]
        if float(one.zones.of("corner")["sliding_m_cm3"]) > 1.01 * float(inside["sliding_m_cm3"].mean()):
            return True
    return False


def _zone_table(found: Exposures, titles: dict[str, str], units: str) -> TableBlock:
    frame = found.to_frame()
    volume = unit_of("volume", units).name
    labels = {"practice_shown": label("strategy"), "zone": label("zone"), "heights": Label("height")}
    texts = {
        "practice_shown": [titles[str(name)] for name in frame["practice"]],
        "heights": [_heights(low, high, units) for low, high in zip(frame["from_mm"], frame["to_mm"], strict=True)],
    }
    for name, (text, unit, factor) in _per_volume(units).items():
        labels[f"{name}_shown"] = Label(f"{text}, {unit} per {volume}")
        texts[f"{name}_shown"] = [significant(float(value) * factor) for value in frame[name]]
    return TableBlock("exposure-zones", frame, "Exposure by zone, one tooth", labels, texts, how=sentence(HOW))


def _heights(low: float, high: float, units: str) -> str:
    unit = unit_of("length", units)
    return f"{significant(low * unit.factor)} to {significant(high * unit.factor)} {unit.name}"


def _wear_blocks(analysis: Analysis, found: TrialExposure) -> list[Block]:
    if found.wear is None:
        texts = [sentence(in_plain_words(note, analysis.units)) for note in found.notes]
        return [Paragraph(tuple(texts))] if texts else []
    wear = found.wear
    lines = [reference_sentence(wear, analysis.by)]
    lines += [
        text for at, one in enumerate(wear.contrasts) if (text := standing_sentence(one, wear.standing.get(at, ())))
    ]
    blocks: list[Block] = [Paragraph(tuple(lines), "Wear by zone, predicted and measured")]
    table = wear.table[wear.table["rate"].notna()].reset_index(drop=True)
    if len(table):
        blocks += [_wear_figure(analysis, table, wear), _wear_table(analysis, table, wear)]
    ratios = _ratio_table(analysis, wear)
    return [*blocks, ratios] if ratios is not None else blocks


def _zone_order(wear: ZoneWear) -> list[str]:
    """From the top of the edge down, as it stands in a spindle pointing down."""
    return list(dict.fromkeys(wear.table["zone"]))[::-1]


def _wear_figure(analysis: Analysis, table: pd.DataFrame, wear: ZoneWear) -> FigureBlock:
    units = analysis.units
    kind = f"land_per_{clock_kind(wear.clock)}"
    order = {zone: at for at, zone in enumerate(_zone_order(wear))}
    drawn = table.assign(rank=table["zone"].map(order)).sort_values(["rank", "group"], kind="stable")
    drawn = drawn.assign(
        reference=[(g, z) == wear.reference for g, z in zip(drawn["group"], drawn["zone"], strict=True)],
        group=drawn["group"].map(group_titles(analysis)),
    ).replace({math.inf: math.nan, -math.inf: math.nan})
    figures = ("rate", "low", "high", "predicted_low", "predicted_high")
    draw = partial(
        draw_zone_wear,
        shown_in(drawn, dict.fromkeys(figures, kind), units),
        group_looks(analysis),
        x_label=rate_label(wear.clock).heading(units),
    )
    title = "Wear rate by zone: predicted from the settings, and measured"
    factor = unit_of(kind, units).factor
    parts = [
        f"{row['zone']}, “{row['group']}”: measured {significant(row['rate'] * factor)}, predicted "
        f"{_range(row['predicted_low'] * factor, row['predicted_high'] * factor)}"
        for row in drawn.to_dict("records")
    ]
    description = sentence("; ".join(parts))
    legend = "The grey bar is predicted; the mark is the mean of the cutters with its plausible range."
    how = sentence(
        "rates are slopes of the mean land of each cutter, averaged over the cutters, with a t interval over cutters; "
        "the predicted bar runs over the three exposures, scaled to the zone that is taken as measured, whose own "
        "range it does not hold"
    )
    svg, phone = both_svgs(draw, "zone-wear", title, description)
    return FigureBlock("zone-wear", table, svg, title, description, legend, how, phone=phone)


def _range(low: float, high: float) -> str:
    a, b = significant(low), significant(high)
    return a if a == b else f"{a} to {b}"


def _wear_table(analysis: Analysis, table: pd.DataFrame, wear: ZoneWear) -> TableBlock:
    units = analysis.units
    unit = unit_of(f"land_per_{clock_kind(wear.clock)}", units)
    rows = table.to_dict("records")
    texts = {
        "group_shown": [group_titles(analysis)[str(row["group"])] for row in rows],
        "measured": [significant(row["rate"] * unit.factor) for row in rows],
        "range": [
            _range(row["low"] * unit.factor, row["high"] * unit.factor) if math.isfinite(row["low"]) else MISSING
            for row in rows
        ],
        "predicted": [_range(row["predicted_low"] * unit.factor, row["predicted_high"] * unit.factor) for row in rows],
        "position_shown": [position_words(str(row["position"])) for row in rows],
    }
    labels = {
        "group_shown": label("group"),
        "zone": label("zone"),
        "cutters": label("cutters"),
        "measured": Label(f"measured, {unit.name}"),
        "range": Label("plausible range"),
        "predicted": Label(f"predicted, {unit.name}"),
        "position_shown": Label("measured against predicted"),
    }
    frame = table.replace({math.inf: math.nan, -math.inf: math.nan})
    return TableBlock("zone-wear-table", frame, "Wear rate by zone", labels, texts)


def _measured_ratio(estimate: float | None, scale: str) -> str:
    if scale != "ratio":
        return "no ratio"
    return MISSING if estimate is None else significant(estimate)


def _ratio_table(analysis: Analysis, wear: ZoneWear) -> TableBlock | None:
    """The predicted band beside the measured ratio, zone by zone."""
    rows = wear.to_dict()["measured_ratios"]
    if not rows:
        return None
    by, units = analysis.by, analysis.units
    texts: dict[str, list[str]] = {
        "pair": [f"{group_name(by, row['a'], units)} over {group_name(by, row['b'], units)}" for row in rows],
        "predicted": [
            _range(row["predicted_low"], row["predicted_high"]) if row["predicted_low"] is not None else MISSING
            for row in rows
        ],
        "measured": [_measured_ratio(row["estimate"], row["scale"]) for row in rows],
        "range": [
            _range(row["low"], row["high"])
            if row["scale"] == "ratio" and None not in (row["low"], row["high"])
            else MISSING
            for row in rows
        ],
        "position_shown": [
            position_words(str(row["position"])) if row["position"] else in_plain_words(row["why_missing"] or "", units)
            for row in rows
        ],
    }
    labels = {
        "pair": label("pair"),
        "zone": label("zone"),
        "predicted": Label("predicted times"),
        "measured": Label("measured times"),
        "range": Label("plausible range"),
        "position_shown": Label("measured against predicted"),
    }
    frame = pd.DataFrame(rows).assign(standing=[", ".join(row["standing"]) for row in rows])
    how = sentence("measured: ratio of the wear rates of the cutters, as in the comparison; predicted: from exposure")
    return TableBlock("zone-ratios", frame, "Ratio of wear rates by zone, first over second", labels, texts, how=how)
