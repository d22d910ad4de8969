"""Workings: share of cutters still good by age, what ended them, and ratios material by material."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.compare.causes import Causes
from wearlab.compare.interaction import Interaction
from wearlab.report.analysis import Analysis
from wearlab.report.figures.style import both_svgs
from wearlab.report.figures.survival import draw_survival
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, TableBlock
from wearlab.report.sections.common import comparison_of, group_looks, group_titles, shown_in
from wearlab.words.counting import sentence
from wearlab.words.labels import Label, label
from wearlab.words.outcomes import outcome_name
from wearlab.words.units import clock_kind

TITLE = "Still good at what age, and what ended them"


def survival_section(analysis: Analysis) -> Section | None:
    """Survival, causes and interactions; None where nothing was compared."""
    comparison = comparison_of(analysis.main)
    if comparison is None:
        return None
    blocks: list[Block] = []
    if comparison.causes is not None and len(comparison.causes.survival):
        blocks += [_figure(analysis, comparison.causes), _steps(comparison.causes), _causes(comparison.causes)]
    if comparison.interactions:
        blocks += _interactions(comparison.interactions)
    return Section("survival", TITLE, "researcher", tuple(blocks)) if blocks else None


def _figure(analysis: Analysis, found: Causes) -> FigureBlock:
    kinds = {"age": clock_kind(analysis.clock)}
    names = group_titles(analysis)
    steps, marks = (
        shown_in(one, kinds, analysis.units).assign(group=one["group"].map(lambda group: names.get(group, group)))
        for one in (found.survival, found.marks)
    )
    x_label = label(analysis.clock).heading(analysis.units)
    draw = partial(draw_survival, steps, marks, group_looks(analysis), x_label=x_label)
    title = "Share of cutters still good"
    left = len(found.marks)
    description = sentence(f"step curves of {len(names)} groups; cutters that left still good: {left}")
    legend = sentence("a short upright mark: a cutter that left still good")
    how = sentence("Kaplan and Meier's curve where lives are complete or running, Turnbull's where a life is known "
                   "between two looks only")  # fmt: skip
    svg, phone = both_svgs(draw, "survival", title, description)
    return FigureBlock("survival", found.survival, svg, title, description, legend, how, phone=phone)


def _steps(found: Causes) -> TableBlock:
    labels = {
        "group": label("group"),
        "age": Label("age", "number", 3),
        "still_good": Label("share still good", "number", 2),
        "low": Label("from", "number", 2),
        "high": Label("to", "number", 2),
        "at_risk": Label("cutters in use", "number", 3),
        "method": Label("method"),
    }
    return TableBlock("survival-steps", found.survival, "Steps of the curves", labels)


def _causes(found: Causes) -> TableBlock:
    labels = {
        "group": label("group"),
        "cause": Label("ended by"),
        "cutters": label("cutters"),
        "age": Label("up to the age", "number", 3),
        "share": Label("share", "number", 2),
        "low": Label("from", "number", 2),
        "high": Label("to", "number", 2),
    }
    how = sentence("cumulative incidence after Aalen and Johansen: a cutter that has chipped can no longer wear out, "
                   "so the shares add up")  # fmt: skip
    return TableBlock("causes", found.incidence, "What ended the cutters", labels, how=how)


def _interactions(found: tuple[Interaction, ...]) -> list[Block]:
    parts = [
        one.ratios.rename(columns={"level": "in"}).assign(
            pair=f"{one.a} over {one.b}", what=outcome_name(one.outcome), within=one.within, p_value=one.p_value
        )
        for one in found
    ]
    frame = pd.concat(parts, ignore_index=True)
    labels = {
        "pair": label("pair"),
        "what": Label("of"),
        "in": Label("in"),
        "cutters_a": Label("cutters of the first", "count"),
        "cutters_b": Label("cutters of the second", "count"),
        "ratio": label("ratio"),
        "low": Label("from", "number", 3),
        "high": Label("to", "number", 3),
    }
    text = sentence("each material has its own ratio, and these are never averaged away: a practice may win in one and "
                    "lose in another")  # fmt: skip
    shown = frame.replace({math.inf: math.nan})
    return [Paragraph((text,)), TableBlock("interactions", shown, "Ratios within each material", labels)]
