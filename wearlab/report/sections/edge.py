"""Evidence: where along the edge the wear sits."""

from __future__ import annotations

from functools import partial

import pandas as pd

from wearlab.compare.predicted import zone_limits
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis
from wearlab.report.edge_land import edge_land
from wearlab.report.figures.edge import draw_edge
from wearlab.report.figures.style import both_svgs
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import compared, comparison_of, group_looks, group_titles, shown_in
from wearlab.report.sections.lives import MOST_DRAWN, too_many
from wearlab.report.sections.wear import measure_of
from wearlab.report.thinned import evenly_ranked
from wearlab.words.counting import counted, sentence
from wearlab.words.labels import Label, label
from wearlab.words.rounding import quantity, significant
from wearlab.words.shifts import shift_beside
from wearlab.words.units import clock_kind, unit_of
from wearlab.words.verdicts import shift_sentence


def edge_section(analysis: Analysis) -> Section | None:
    """Wear by zone at one age; None where the edge was read in one piece."""
    points = analysis.curves.by_zone
    points = points[points["measure"] == measure_of(analysis)] if len(points) else points
    if not len(points) or points.loc[points["zone"] != "", "zone"].nunique() < 2:
        return None
    limits = zone_limits(analysis.trial)
    table, age = edge_land(points, compared(analysis), analysis.groups, limits, analysis.clock)
    blocks: list[Block] = []
    comparison = comparison_of(analysis.main)
    if comparison is not None:
        texts = tuple(
            text
            for one in comparison.shifts
            for text in (
                shift_sentence(one, comparison.by, analysis.units),
                *shift_beside(one, comparison.by, analysis.units),
            )
        )
        blocks += [Paragraph(texts)] if texts else []
        if not texts and comparison.shift_refusal:
            blocks.append(
                Sentence(sentence(f"whether wear moves along the edge was not compared: {comparison.shift_refusal}"))
            )
    if len(table):
        drawable = all(zone in limits for zone in table["zone"])
        blocks += _shown(analysis, table, age, drawable)
    return Section("edge", "Where along the edge the wear sits", "engineer", tuple(blocks)) if blocks else None


def _shown(analysis: Analysis, table: pd.DataFrame, age: float, drawable: bool) -> list[Block]:
    units = analysis.units
    when = quantity(age, clock_kind(analysis.clock), units)
    kinds = {"land": "land"} | (dict.fromkeys(("start", "stop"), "length") if drawable else {})
    drawn = evenly_ranked(table, ["kind", "group", "zone"], "land", MOST_DRAWN)
    drawn = shown_in(drawn.assign(group=drawn["group"].map(group_titles(analysis))), kinds, units)
    y_label = Label("height above the end of the cutter", "length").heading(units) if drawable else ""
    draw = partial(draw_edge, drawn, group_looks(analysis), x_label=label("mean_mm").heading(units), y_label=y_label)
    title = f"Wear land along the edge at {when}"
    means = table[table["kind"] == "mean"].reset_index(drop=True)
    parts = [
        f"{row.zone} zone, “{group_titles(analysis)[row.group]}”: {quantity(float(row.land), 'land', units)}"
        for row in each_row(means)
    ]
    description = sentence("mean land by zone, from the end of the cutter upwards; " + "; ".join(parts))
    how = sentence(
        f"at {when}, the last age that each of the "
        f"{counted(int((table['kind'] == 'cutter').sum() / means['zone'].nunique()), 'cutter')} compared had reached; "
        "between two looks on the straight line"
    )
    legend = "The thick line is the mean of the cutters, each mark one cutter."
    if len(drawn) < len(table):
        zones = means["zone"].nunique()
        legend += " " + too_many(*(int((one["kind"] == "cutter").sum() / zones) for one in (drawn, table)))
    svg, phone = both_svgs(draw, "edge-figure", title, description)
    labels = {
        "group": label("group"),
        "zone": label("zone"),
        "land": Label("mean land", "land"),
        "cutters": label("cutters"),
    }
    texts = {}
    if drawable:
        texts["height"] = [
            f"{significant(float(row.start) * unit_of('length', units).factor)} to "
            f"{quantity(float(row.stop), 'length', units)}"
            for row in each_row(means)
        ]
        labels = {"group": label("group"), "zone": label("zone"), "height": Label("height"), **labels}
    return [
        FigureBlock("edge-figure", table, svg, title, description, legend, how, phone=phone),
        TableBlock("edge-means", means, f"Mean land by zone at {when}", labels, texts),
    ]
