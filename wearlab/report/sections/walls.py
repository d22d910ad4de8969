"""Evidence: the walls, the pins, and whether they answer to the wear of the edge."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.compare.walls import trial_walls
from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis
from wearlab.report.figures.style import Look, both_svgs, looks
from wearlab.report.figures.wall_profile import MOST_PANELS, draw_slots, draw_walls
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import group_looks, group_titles, shown_in
from wearlab.wall.profile import WallProfile
from wearlab.wall.separation import HALF_WIDTH
from wearlab.wall.walls import Walls
from wearlab.words.counting import counted, listed, sentence
from wearlab.words.fits import refusal_sentence
from wearlab.words.labels import Label, label
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import MISSING, fixed, quantity, significant
from wearlab.words.units import unit_of
from wearlab.words.walls import agreement_sentences, cause_sentence, growth_sentence, outcome_words

TITLE = "Walls and pins"
HOW_HANG_UP = (
    "the width that the cutter's own first slot had, with the recession of the edge at that look added back, is the "
    "base line; the recession that goes with each zone's land (land over cotangent of relief less tangent of rake, "
    "derived) is taken off both walls; a pin stops at the highest place that is narrower than itself; the range holds "
    "the scatter about the base lines, the error of a land, the class of the pin, and a quarter of a millimetre for a "
    "zone line (common practice, no source)"
)
PINS_TITLE = "Where pins stopped, and where the worn edge says they should"


def walls_section(analysis: Analysis) -> Section:
    """Profiles with pins, predicted beside measured hang-up, and what of the walls is wear."""
    try:
        found = trial_walls(
            analysis.trial, groups=analysis.groups, clock=analysis.clock, level=analysis.level, curves=analysis.curves
        )
    except WearlabError as reason:
        text = refusal_sentence("nothing is said of walls", reason, analysis.units)
        return Section("walls", TITLE, "engineer", (Sentence(text),))
    return Section("walls", TITLE, "engineer", tuple(_blocks(analysis, found)))


def walls_svg(found: Walls, units: str = "metric") -> str | None:
    """The slots with their pins as a picture of its own; None where no width was read."""
    titles = {group: group for group in found.groups.values()}
    figure = _slots_figure(found, titles, looks(list(dict.fromkeys(titles))), units)
    return figure.svg if figure else None


def _blocks(analysis: Analysis, found: Walls) -> list[Block]:
    units, titles = analysis.units, group_titles(analysis)
    blocks: list[Block] = [Sentence(_what_was_read(found, units))]
    texts = agreement_sentences(found.hang_ups.agreement(), units)
    blocks += [Paragraph(texts, PINS_TITLE, listed=True)] if texts else []
    blocks += [Sentence(text) for text in _why_no_prediction(found, units)]
    figure = _slots_figure(found, titles, group_looks(analysis), units)
    blocks += [figure] if figure is not None else []
    table = _hang_up_table(found, titles, units)
    blocks += [table] if table is not None else []
    more = (
        growth_sentence(found.separation, found.level),
        *(cause_sentence(one, analysis.by, units, found.level) for one in found.causes),
        *dict.fromkeys(sentence(one.why_missing) for one in found.profiles if one.why_missing),
    )
    blocks.append(Paragraph(more, "What of the walls is wear, and what was there before", listed=True))
    walls = _walls_figure(found, titles, group_looks(analysis), units)
    blocks += [walls] if walls is not None else []
    return [*blocks, _trend_table(analysis, found, titles)]


def _what_was_read(found: Walls, units: str) -> str:
    slots, pins = counted(len(found.profiles), "slot"), counted(len(found.hang_ups.table), "pin")
    text = f"walls or widths of {slots} of {counted(len(found.groups), 'cutter')} were read, and {pins} tried"
    if math.isfinite(found.nominal.width_mm):
        text += f"; nominal width {quantity(found.nominal.width_mm, 'length', units, 5)}, from {found.nominal.source}"
    return sentence(text)


def _why_no_prediction(found: Walls, units: str) -> list[str]:
    by_reason: dict[str, set[str]] = {}
    for (cutter, _, _), why in found.missing.items():
        by_reason.setdefault(why, set()).add(cutter)
    texts = [
        sentence(f"nothing was predicted for {listed(sorted(cutters))}: {in_plain_words(why, units)}")
        for why, cutters in by_reason.items()
    ]
    if found.edge is not None and found.edge.rake_assumed:
        texts.append(sentence(f"the rake of {listed(list(found.edge.rake_assumed))} is not recorded and taken as 0"))
    return texts


def _chosen(found: Walls) -> list[WallProfile]:
    """For each group the last slot of the cutter that stands in the middle of its group by age."""
    last = {one.cutter: one for one in found.profiles if one.points["width_mm"].notna().any()}
    made = []
    for group in dict.fromkeys(found.groups.values()):
        own = sorted(
            (one for cutter, one in last.items() if found.groups[cutter] == group),
            key=lambda one: one.clocks[found.trends.clock],
        )
        made += [own[len(own) // 2]] if own else []
    return made[:MOST_PANELS]


def _slots_figure(found: Walls, titles: dict[str, str], inks: dict[str, Look], units: str) -> FigureBlock | None:
    chosen = _chosen(found)
    if not chosen:
        return None
    panels = {
        _key(one): f"{titles[found.groups[one.cutter]]}: {', '.join(filter(None, (one.cutter, one.part)))}"
        for one in chosen
    }
    widths = pd.concat([_width_rows(one, found, titles, panels) for one in chosen], ignore_index=True)
    predicted = pd.concat([_predicted_rows(one, found, panels) for one in chosen], ignore_index=True)
    pins = _pin_rows(found, panels, units)
    kinds = {"height": "length", "width": "length"}
    factor = unit_of("length", units).factor
    draw = partial(
        draw_slots,
        shown_in(widths, kinds, units),
        shown_in(predicted, kinds, units),
        shown_in(pins, {"pin": "length", "measured": "length", "predicted": "length"}, units),
        inks,
        depth=found.hang_ups.depth_mm * factor,
        nominal=found.nominal.width_mm * factor,
        x_label=Label("width of the slot", "length").heading(units),
        y_label=Label("height above the floor", "length").heading(units),
    )
    title = "Slots by the last part measured, with the pins where they stopped"
    parts = [
        f"{row.panel}, pin {quantity(float(row.pin), 'length', units, 5)}: measured "
        f"{quantity(float(row.measured), 'length', units)}, predicted {quantity(float(row.predicted), 'length', units)}"
        for row in each_row(pins)
    ]
    description = sentence("; ".join(parts)) if parts else sentence("width by height, as measured and as predicted")
    legend = (
        "Marks: width as measured. Dashed: width that the wear of the edge predicts. Grey bars: pins, standing on the "
        "height at which they stopped (thick line); a ring is the predicted height."
    )
    if math.isfinite(found.nominal.width_mm):
        legend += " The upright line is the nominal width."
    how = sentence(f"the cutter in the middle of its group by age; {HOW_HANG_UP}")
    svg, phone = both_svgs(draw, "slots", title, description)
    data = pd.concat([widths.assign(kind="measured"), predicted.assign(kind="predicted")], ignore_index=True)
    return FigureBlock("slots", data, svg, title, description, legend, how, phone=phone)


Panels = dict[tuple[str, int, str], str]


def _key(one: WallProfile) -> tuple[str, int, str]:
    return one.cutter, one.inspection, one.part


def _width_rows(one: WallProfile, found: Walls, titles: dict[str, str], panels: Panels) -> pd.DataFrame:
    own = one.points[["height_mm", "width_mm"]].dropna()
    own = own.rename(columns={"height_mm": "height", "width_mm": "width"})
    return own.assign(panel=panels[_key(one)], group=titles[found.groups[one.cutter]])


def _predicted_rows(one: WallProfile, found: Walls, panels: Panels) -> pd.DataFrame:
    key = _key(one)
    slot = found.predicted.get(key)
    if slot is None:
        return pd.DataFrame({"panel": [panels[key]], "height": [math.nan], "width": [math.nan]})
    return pd.DataFrame({"panel": panels[key], "height": slot.heights_mm, "width": slot.widths_mm})


def _pin_rows(found: Walls, panels: Panels, units: str) -> pd.DataFrame:
    table = found.hang_ups.table
    rows = [
        (
            panels[key],
            float(row.pin_mm),
            float(row.height_mm),
            float(row.predicted_mm),
            _pin_text(float(row.pin_mm), units),
        )
        for row in each_row(table)
        if (key := (str(row.cutter), int(row.inspection), str(row.part))) in panels
    ]
    return pd.DataFrame(rows, columns=["panel", "pin", "measured", "predicted", "pin_text"])


def _pin_text(pin_mm: float, units: str) -> str:
    return fixed(pin_mm * unit_of("length", units).factor, 2 if units == "metric" else 4)


def _hang_up_table(found: Walls, titles: dict[str, str], units: str) -> TableBlock | None:
    """The last slot of every cutter: measured and predicted hang-up of each pin."""
    table = found.hang_ups.table
    if table.empty:
        return None
    last = table.groupby("cutter", sort=False)["inspection"].transform("max")
    own = table[table["inspection"] == last].reset_index(drop=True)
    rows = own.to_dict("records")
    unit = unit_of("length", units)
    texts = {
        "group_shown": [titles[found.groups[str(row["cutter"])]] for row in rows],
        "pin_shown": [f"{_pin_text(row['pin_mm'], units)} {row['pin_class']}".strip() for row in rows],
        "measured": [outcome_words(row["height_mm"], str(row["outcome"]), units) for row in rows],
        "from_widths": [_height(row["from_widths_mm"], found, units) for row in rows],
        "predicted": [outcome_words(row["predicted_mm"], str(row["predicted_outcome"]), units) for row in rows],
        "range": [_range(row["low"], row["high"], found, units) for row in rows],
    }
    labels = {
        "cutter": label("cutter"),
        "group_shown": label("group"),
        "part": Label("part"),
        "pin_shown": Label(f"pin, {unit.name}"),
        "measured": Label("measured hang-up height"),
        "predicted": Label("predicted from wear"),
        "range": Label("predicted range"),
        "from_widths": Label("from the widths read"),
    }
    depth = found.hang_ups.depth_mm
    deep = f"The slots are {quantity(depth, 'length', units)} deep. " if math.isfinite(depth) else ""
    note = sentence(
        f"floor: the pin reaches it. {deep}A pin tells of width alone: walls that lean the same way let it pass"
    )
    caption = "Hang-up height of every pin in the last slot of every cutter"
    return TableBlock("hang-up", own, caption, labels, texts, note=note, how=sentence(HOW_HANG_UP))


def _height(height_mm: float, found: Walls, units: str) -> str:
    if not math.isfinite(height_mm):
        return MISSING
    if height_mm <= 0:
        return "floor"
    return "does not enter" if height_mm >= found.hang_ups.depth_mm else quantity(height_mm, "length", units)


def _range(low_mm: float, high_mm: float, found: Walls, units: str) -> str:
    ends = [_height(end, found, units) for end in (low_mm, high_mm)]
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def _walls_figure(found: Walls, titles: dict[str, str], inks: dict[str, Look], units: str) -> FigureBlock | None:
    """Mean deviation of each wall over the cutters of a group, first and last slots."""
    rows = found.separation.table
    rows = rows[rows["side"] != HALF_WIDTH]
    if rows.empty:
        return None
    looks_at = rows.groupby("cutter", sort=False)["inspection"]
    ends = {"first": looks_at.transform("min"), "last": looks_at.transform("max")}
    parts = {age: rows["inspection"] == look for age, look in ends.items()}
    several = rows.groupby("cutter")["inspection"].nunique().max() > 1
    table = pd.concat([rows[at].assign(age=age) for age, at in parts.items() if several or age == "last"])
    table = table.assign(group=table["cutter"].map(found.groups))
    means = table.groupby(["age", "group", "side", "height_mm"], sort=False)["value_mm"].agg(["mean", "size"])
    means = means.reset_index().rename(columns={"height_mm": "height", "mean": "deviation_mm", "size": "cutters"})
    drawn = means.assign(group=means["group"].map(titles), deviation=1000 * means["deviation_mm"])
    draw = partial(
        draw_walls,
        shown_in(drawn, {"height": "length", "deviation": "deviation"}, units),
        inks,
        x_label=Label("metal left", "deviation").heading(units),
        y_label=Label("height above the floor", "length").heading(units),
    )
    title = "Both walls by height, mean of the cutters"
    description = sentence(
        "; ".join(
            f"{row.age} slots of “{titles[str(row.group)]}”, {row.side} wall at "
            f"{quantity(float(row.height), 'length', units)}: "
            f"{quantity(1000 * float(row.deviation_mm), 'deviation', units, 2)} of metal left"
            for row in each_row(means)
        )
    )
    legend = "Thin: the first slots. Thick: the last. The walls are drawn as they face each other." if several else ""
    svg, phone = both_svgs(draw, "walls-by-height", title, description)
    how = sentence("mean over the cutters of a group, at their own first and last slot; metal left is positive")
    return FigureBlock("walls-by-height", means, svg, title, description, legend, how, phone=phone)


def _trend_table(analysis: Analysis, found: Walls, titles: dict[str, str]) -> TableBlock:
    units = analysis.units
    frame = found.trends.by_group.replace({math.inf: math.nan, -math.inf: math.nan})
    rows = frame.to_dict("records")
    clock = {"cutting_time_min": "min", "parts": "part"}.get(found.trends.clock)
    per = clock or unit_of({"volume_cm3": "volume", "cut_length_m": "cut_length"}[found.trends.clock], units).name
    clock_factor = 1.0 if clock else 1 / unit_of(
        {"volume_cm3": "volume", "cut_length_m": "cut_length"}[found.trends.clock], units
    ).factor  # fmt: skip
    deviation = unit_of("deviation", units)

    def shown(row: dict, name: str) -> str:  # type: ignore[type-arg]
        value = row[name]
        if not math.isfinite(value):
            return MISSING
        slope = row["unit"] == "um_mm"
        scale = 1.0 if slope else 1000.0 * deviation.factor
        return significant(value * scale * clock_factor, 2)

    slope_unit = "µm/mm" if units == "metric" else "thou/in"
    texts = {
        "group_shown": [titles[str(row["group"])] for row in rows],
        "what_shown": [_what(row, units) for row in rows],
        "slope_shown": [shown(row, "slope") for row in rows],
        "low_shown": [shown(row, "low") for row in rows],
        "high_shown": [shown(row, "high") for row in rows],
        "unit_shown": [f"{slope_unit if row['unit'] == 'um_mm' else deviation.name} per {per}" for row in rows],
    }
    labels = {
        "group_shown": label("group"),
        "what_shown": Label("what"),
        "cutters": label("cutters"),
        "slope_shown": Label("change"),
        "low_shown": Label("from"),
        "high_shown": Label("to"),
        "unit_shown": Label("unit"),
    }
    how = sentence("slope of each cutter's readings on its age, then the mean over cutters with a t interval")
    return TableBlock("wall-trends", frame, "Change of the walls with the age of the cutter", labels, texts, how=how)


def _what(row: dict, units: str) -> str:  # type: ignore[type-arg]
    names = {
        "width": "width",
        "left": "left wall",
        "right": "right wall",
        "size": "metal left, mean of both walls",
        "shift": "middle of the slot, to the right",
        "taper": "taper of each wall",
        "lean": "lean of both walls",
    }
    name = names[row["what"]]
    return f"{name} at {quantity(row['height_mm'], 'length', units)}" if math.isfinite(row["height_mm"]) else name
