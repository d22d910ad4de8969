"""Evidence: how long each cutter lasted."""

from __future__ import annotations

import math
from functools import partial

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis, AtCriterion
from wearlab.report.figures.lives import MOST_NAMED, draw_lives
from wearlab.report.figures.style import both_svgs
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import group_looks, group_titles, shown_in, with_groups
from wearlab.report.sections.verdict import zone_count
from wearlab.report.thinned import evenly_ranked
from wearlab.words.counting import counted, grouped, sentence
from wearlab.words.criteria import clock_words, criterion_short
from wearlab.words.fits import refusal_sentence
from wearlab.words.labels import Label, label, life_label
from wearlab.words.lives import (
    ENDS,
    censoring_sentence,
    counted_lives,
    life_text,
    missing_sentence,
    planned_sentence,
    rule_sentence,
    span_sentence,
    status_words,
)
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import quantity
from wearlab.words.units import clock_kind, unit_of

SPEED = "cutting_speed_m_min"
MOST_DRAWN = 80
"""Cutters of one group that a figure draws singly."""


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
    order = _in_rows(analysis, table)
    kinds = dict.fromkeys(("low", "high", "bracket_low", "bracket_high"), clock_kind(clock))
    drawn = shown_in(order.assign(group=order["group"].map(group_titles(analysis))), kinds, units)
    if len(drawn) > MOST_NAMED:  # too many to name: shortest life at the top, and no more of them than can be seen
        by_life = drawn.sort_values(["group", "low"], kind="stable").reset_index(drop=True)
        drawn = evenly_ranked(by_life, ["group"], "low", MOST_DRAWN)
    unit = unit_of(clock_kind(clock), units).name
    x_label = clock_words(clock) if clock in ("cutting_time_min", "parts") else f"{clock_words(clock)}, {unit}"
    draw = partial(draw_lives, drawn, group_looks(analysis), x_label=x_label)
    title = "Life of every cutter"
    legend = _legend(order, len(drawn))
    rows = counted(len(drawn), "cutter")
    sorting = f"sorted by group{' and speed' if order['speed'].nunique() > 1 else ''}"
    description = f"{sentence(f'one row for each of {rows}, {sorting}')} {legend}"
    columns = ["cutter", "group", "status", "cause", "life", "low", "high", "bracket_low", "bracket_high"]
    svg, phone = both_svgs(draw, "lives-figure", title, description)
    return FigureBlock(
        "lives-figure", order[columns], svg, title, description, legend, sentence(at_rule(analysis)), phone=phone
    )


def _in_rows(analysis: Analysis, table: pd.DataFrame) -> pd.DataFrame:
    """Cutters in the order of rows, by group, speed and life, with the `name` that stands at each row."""
    facts = analysis.trial.facts().set_index("cutter")
    speeds = facts[SPEED] if SPEED in facts else pd.Series(dtype=float)
    if speeds.nunique() > 1:
        own = [float(speeds.get(cutter, math.nan)) for cutter in table["cutter"]]
    else:
        own = [math.nan] * len(table)
    names = [
        f"{cutter} · {quantity(speed, 'speed', analysis.units)}" if math.isfinite(speed) else str(cutter)
        for cutter, speed in zip(table["cutter"], own, strict=True)
    ]
    ranks = {group: rank for rank, group in enumerate(analysis.group_names)}
    ranked = table.assign(name=names, speed=own, rank=table["group"].map(ranks))
    return ranked.sort_values(["rank", "speed", "low"], kind="stable").drop(columns="rank").reset_index(drop=True)


def _legend(order: pd.DataFrame, drawn: int) -> str:
    """What dots, bars and arrows mean."""
    single = len(order) <= MOST_NAMED
    parts = ["a dot is a life"]
    if single and (order["bracket_low"].notna() & order["bracket_high"].notna()).any():
        parts.append("the pale bar runs from the last look before the limit to the first look past it")
    still = int((order["status"] == "right").sum())
    if still:
        mark = "an arrow" if single else "a triangle"
        parts.append(f"{mark} means “at least”: {counted(still, 'cutter')} ended short of it")
    text = " ".join(map(sentence, parts))
    return text if drawn == len(order) else f"{text} {too_many(drawn, len(order))}"


def too_many(drawn: int, held: int) -> str:
    """That a figure draws some of the cutters only.

    >>> too_many(160, 900)
    '160 of the 900 cutters are drawn, spread evenly from the shortest to the longest; ...'
    """
    return sentence(
        f"{grouped(drawn)} of the {grouped(held)} cutters are drawn, spread evenly from the shortest to the longest; "
        "the table holds all"
    )


def at_rule(analysis: Analysis) -> str:
    """The rule that made the lives."""
    lives = analysis.main.lives
    return "" if isinstance(lives, WearlabError) else lives.rule


def _table(analysis: Analysis, lives: pd.DataFrame) -> TableBlock:
    clock, units, at = analysis.clock, analysis.units, analysis.main
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
        "status_shown": [status_words(status, at.criterion.text) for status in frame["status"]],
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
