"""Evidence: how long each cutter lasted."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis, AtCriterion
from wearlab.report.figures.lives import draw_lives
from wearlab.report.figures.style import to_svg
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import group_looks, group_titles, shown_in, with_groups
from wearlab.report.sections.verdict import zone_count
from wearlab.words.counting import counted, sentence
from wearlab.words.criteria import clock_words, criterion_short
from wearlab.words.fits import refusal_sentence
from wearlab.words.labels import Label, label, life_label
from wearlab.words.lives import (
    ENDS,
    STATUS_WORDS,
    censoring_sentence,
    counted_lives,
    life_text,
    missing_sentence,
    planned_sentence,
    rule_sentence,
    span_sentence,
)
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import quantity
from wearlab.words.units import clock_kind, unit_of

SPEED = "cutting_speed_m_min"


def lives_section(analysis: Analysis) -> Section:
    """Tool lives at the main criterion; the others in a table."""
    at, units = analysis.main, analysis.units
    blocks: list[Block] = []
    if isinstance(at.lives, WearlabError):
        blocks.append(Sentence(refusal_sentence("no tool lives", at.lives, units)))
        return Section("lives", "How long each cutter lasted", "engineer", tuple(blocks))
    lives = at.lives.select(at.criterion, analysis.clock)
    texts = (
        rule_sentence(at.criterion, units, zone_count(analysis)),
        planned_sentence(at.criterion, analysis.chosen),
        counted_lives(lives),
        span_sentence(lives, analysis.clock, units),
        censoring_sentence(lives, analysis.clock, units),
        missing_sentence(lives, units),
        sentence(f"a part here is {analysis.trial.settings.part}") if analysis.trial.settings.part else "",
    )
    blocks.append(Paragraph(tuple(text for text in texts if text)))
    figure = lives_figure(analysis, lives)
    blocks += [figure] if figure is not None else []
    blocks.append(_table(analysis, lives))
    blocks += [other for one in analysis.at[1:] if (other := _other(analysis, one)) is not None]
    return Section("lives", "How long each cutter lasted", "engineer", tuple(blocks))


def lives_figure(analysis: Analysis, lives: pd.DataFrame) -> FigureBlock | None:
    """One row a cutter; None where no life is known in any way."""
    clock, units = analysis.clock, analysis.units
    table = with_groups(analysis, lives[lives["status"] != "none"])
    if table.empty:
        return None
    facts = analysis.trial.facts().set_index("cutter")
    speeds = facts[SPEED] if SPEED in facts else pd.Series(dtype=float)
    named = speeds.nunique() > 1
    table["name"] = [
        f"{cutter} · {quantity(float(speeds[cutter]), 'speed', units)}"
        if named and speeds[cutter] == speeds[cutter]
        else str(cutter)
        for cutter in table["cutter"]
    ]
    table["speed"] = [float(speeds.get(cutter, math.nan)) for cutter in table["cutter"]] if named else 0.0
    order = table.sort_values(["group", "speed", "low"], kind="stable", key=lambda cells: cells)
    ranks = {group: rank for rank, group in enumerate(analysis.group_names)}
    order = order.sort_values("group", kind="stable", key=lambda cells: cells.map(ranks)).reset_index(drop=True)
    kinds = dict.fromkeys(("low", "high", "bracket_low", "bracket_high"), clock_kind(clock))
    drawn = shown_in(order.assign(group=order["group"].map(group_titles(analysis))), kinds, units)
    unit = unit_of(clock_kind(clock), units).name
    x_label = clock_words(clock) if clock in ("cutting_time_min", "parts") else f"{clock_words(clock)}, {unit}"
    figure = draw_lives(drawn, group_looks(analysis), x_label=x_label)
    title = "Life of every cutter"
    still = int((order["status"] == "right").sum())
    legend = "A dot is a life."
    if order["bracket_low"].notna().any() and order["bracket_high"].notna().any():
        legend += " " + sentence("the pale bar runs from the last look before the limit to the first look past it")
    if still:
        legend += " " + sentence(f"an arrow means “at least”: {counted(still, 'cutter')} ended short of the limit")
    description = sentence(
        f"one row for each of {counted(len(order), 'cutter')}, sorted by group{' and speed' if named else ''}"
    )
    description = f"{description} {legend}"
    columns = ["cutter", "group", "status", "cause", "life", "low", "high", "bracket_low", "bracket_high"]
    svg = to_svg(figure, "lives", title, description)
    return FigureBlock("lives", order[columns], svg, title, description, legend, sentence(at_rule(analysis)))


def at_rule(analysis: Analysis) -> str:
    """The rule that made the lives."""
    lives = analysis.main.lives
    return "" if isinstance(lives, WearlabError) else lives.rule


def _table(analysis: Analysis, lives: pd.DataFrame) -> TableBlock:
    clock, units = analysis.clock, analysis.units
    frame = with_groups(analysis, lives)
    frame = frame[
        [
            "cutter",
            "group",
            "criterion",
            "zone",
            "clock",
            "life",
            "low",
            "high",
            "status",
            "cause",
            "bracket_low",
            "bracket_high",
            "why_missing",
        ]
    ]
    texts = {
        "life_shown": [life_text(row.low, row.high, row.status, clock, units) for row in each_row(frame)],
        "status_shown": [STATUS_WORDS.get(status, status) for status in frame["status"]],
        "cause_shown": [ENDS.get(cause, cause) for cause in frame["cause"]],
    }
    labels = {
        "cutter": label("cutter"),
        "group": label("group"),
        "life_shown": Label("life"),
        "bracket_low": life_label(clock, "last look before"),
        "bracket_high": life_label(clock, "first look past"),
        "status_shown": Label("what is known"),
        "cause_shown": Label("why it ended"),
    }
    if lives["zone"].nunique() > 1:
        labels["zone"] = label("zone")
    return TableBlock("life-table", frame, f"Lives in {clock_words(clock)}", labels, texts)


def _other(analysis: Analysis, at: AtCriterion) -> Block | None:
    """Lives at a further criterion, in one sentence or with the reason for none."""
    short = criterion_short(at.criterion, analysis.units)
    if isinstance(at.lives, WearlabError):
        return Sentence(sentence(f"at {short}: {in_plain_words(at.lives.found, analysis.units)}"))
    lives = at.lives.select(at.criterion, analysis.clock)
    text = f"{counted_lives(lives)} {span_sentence(lives, analysis.clock, analysis.units)}".strip()
    return Sentence(f"With another end of life, {short}: {text[0].lower()}{text[1:]}")
