"""Evidence: group against group."""

from __future__ import annotations

import math
from functools import partial

from wearlab.compare.compare import Comparison
from wearlab.compare.contrast import Contrast
from wearlab.core.tables import each_row
from wearlab.report.analysis import Analysis, AtCriterion
from wearlab.report.figures.ratios import draw_ratios
from wearlab.report.figures.style import both_svgs
from wearlab.report.record import Block, FigureBlock, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import comparison_of, comparison_refusal
from wearlab.report.sections.verdict import ratio_table
from wearlab.words.counting import grouped, listed, sentence
from wearlab.words.criteria import criterion_short, zone_name
from wearlab.words.differences import UM_PER_MM, wall_unit
from wearlab.words.fairness import family_sentences, fracture_sentence, note_sentence
from wearlab.words.groups import group_name
from wearlab.words.labels import Label, label
from wearlab.words.outcomes import outcome_name
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import MISSING, p_text, quantity, significant, trimmed
from wearlab.words.units import clock_kind, unit_of
from wearlab.words.verdicts import (
    detectable_sentence,
    predicted_sentence,
    rests_on,
    settle_sentence,
    verdict_headline,
    verdict_sentence,
    verdict_statement,
)

FOUND_BY_LOOKING = "Found by looking, not asked beforehand"
MOST_DRAWN = 14
MOST_OF_WALLS = 6
"""Contrasts of walls up to which each has paragraphs of its own; the table holds all of them."""


def comparison_section(analysis: Analysis) -> Section:
    """All contrasts, at every criterion."""
    blocks: list[Block] = []
    for at in analysis.at:
        comparison = comparison_of(at)
        if comparison is None:
            if at is analysis.main:
                blocks.append(Sentence(comparison_refusal(analysis, at)))
            continue
        blocks += _blocks(analysis, at, comparison)
    return Section("comparison", "Group against group", "engineer", tuple(blocks))


def _blocks(analysis: Analysis, at: AtCriterion, comparison: Comparison) -> list[Block]:
    main = at is analysis.main
    short = criterion_short(at.criterion, analysis.units)
    blocks: list[Block] = []
    # Walls do not depend on the criterion: they stand with the main one only.
    asked = [one for one in comparison.contrasts if not one.exploratory and (main or not of_walls(one))]
    looked = [one for one in comparison.contrasts if one.exploratory]
    if main:
        walls = [one for one in asked if of_walls(one)]
        many = len(walls) > MOST_OF_WALLS
        blocks += [
            block for one in asked if not (many and one in walls) for block in _paragraphs(analysis, one, comparison.by)
        ]
        if many:
            texts = tuple(verdict_statement(one, comparison.by, analysis.units) for one in walls)
            blocks.append(Paragraph(texts, "Walls", listed=True))
    else:
        texts = tuple(verdict_sentence(one, comparison.by, analysis.units) for one in asked)
        blocks += [Paragraph(texts, f"With another end of life: {short}")] if texts else []
    if looked:
        texts = tuple(verdict_statement(one, comparison.by, analysis.units) for one in looked)
        blocks.append(Paragraph(texts, f"{FOUND_BY_LOOKING} ({short})", listed=True))
    if main:
        figure = ratios_figure(analysis, list(comparison.contrasts))
        blocks += [figure] if figure is not None else []
    blocks.append(contrast_table(analysis, at, comparison))
    if main:
        blocks += _beside(analysis, comparison)
    return blocks


def _paragraphs(analysis: Analysis, contrast: Contrast, by: str) -> list[Block]:
    units = analysis.units
    a, b = (group_name(by, group, units) for group in (contrast.a, contrast.b))
    zone = f", {zone_name(contrast.zone)}" if contrast.outcome == "rate" else ""
    what = f"{outcome_name(contrast.outcome, contrast.criterion, units)}{zone}"
    texts = [rests_on(contrast, by, units)]
    if contrast.verdict != "cannot_tell":
        texts += [detectable_sentence(contrast, units), settle_sentence(contrast, units)]
    texts.append(predicted_sentence(contrast))
    texts += [note_sentence(note, units) for note in contrast.notes]
    heading = f"“{a}” against “{b}”, {what}: {_lower(verdict_headline(contrast))}"
    return [
        Paragraph((verdict_sentence(contrast, by, units),), heading),
        Paragraph(tuple(text for text in texts if text), listed=True),
    ]


def of_walls(contrast: Contrast) -> bool:
    """Whether a contrast is of metal left on walls."""
    return contrast.outcome.startswith("wall")


def _lower(text: str) -> str:
    return text[0].lower() + text[1:]


def ratios_figure(analysis: Analysis, contrasts: list[Contrast]) -> FigureBlock | None:
    """Every ratio of the main criterion."""
    chosen = [one for one in contrasts if one.scale == "ratio" and math.isfinite(one.estimate)][:MOST_DRAWN]
    if not chosen:
        return None
    table = ratio_table(analysis, chosen)
    title = "Ratios with their plausible ranges"
    description = " ".join(sentence(f"{row.name}: {row.shown}") for row in each_row(table))
    draw = partial(
        draw_ratios,
        table,
        margin=analysis.margin,
        x_label="times as long, or times as slowly worn, first over second",
        worse="second is better",
        better="first is better",
    )
    legend = sentence(
        "a ratio of wear rates is turned over here, so that above 1 always speaks for the first; the shaded zone is "
        f"less than {significant(analysis.margin)} times either way"
    )
    if "predicted_low" in table:
        legend += " " + sentence(
            "the grey bar is what contact time, sliding and chip load of the edge would make of it, from the "
            "settings alone"
        )
    how = sentence("the ratios of the table below, those of wear rates turned over")
    svg, phone = both_svgs(draw, "ratios", title, description)
    return FigureBlock("ratios", table, svg, title, description, legend, how, phone=phone)


def contrast_table(analysis: Analysis, at: AtCriterion, comparison: Comparison) -> TableBlock:
    """One row a contrast, in the order estimate, range, p, and what it could have shown."""
    by, units = comparison.by, analysis.units
    frame = comparison.to_frame()
    texts = {
        "pair": [f"{group_name(by, one.a, units)} over {group_name(by, one.b, units)}" for one in comparison.contrasts],
        "outcome_shown": [_outcome(one, units) for one in comparison.contrasts],
        "verdict_shown": [verdict_headline(one) for one in comparison.contrasts],
        "p_shown": [_p(one) for one in comparison.contrasts],
        "cutters_shown": [f"{grouped(one.n_a)} and {grouped(one.n_b)}" for one in comparison.contrasts],
        "estimate_shown": [_figure(one, one.estimate, units) for one in comparison.contrasts],
        "from_shown": [_figure(one, one.interval.low, units) for one in comparison.contrasts],
        "to_shown": [_figure(one, one.interval.high, units) for one in comparison.contrasts],
        "least_shown": [_least(one, units) for one in comparison.contrasts],
    }
    labels = {
        "pair": label("pair"),
        "outcome_shown": Label("in"),
        "cutters_shown": Label("cutters"),
        "estimate_shown": Label("ratio, or difference"),
        "from_shown": Label("from"),
        "to_shown": Label("to"),
        "verdict_shown": Label("verdict"),
        "p_shown": Label("p, two-sided"),
        "least_shown": Label("smallest it could show"),
        "cutters_to_settle": label("cutters_to_settle"),
    }
    frame = frame.replace({math.inf: math.nan, -math.inf: math.nan})
    key = "contrasts" if at is analysis.main else f"contrasts-{analysis.at.index(at) + 1}"
    level = trimmed(100 * comparison.level, 2)
    methods = in_plain_words(listed(list(dict.fromkeys(one.method for one in comparison.contrasts)), most=4), units)
    how = sentence(
        f"{methods}; ranges at {level} %; p stands beside the ratio and never instead of it, exact by permutation "
        "where that can reach the level; what was found by looking carries no p"
    )
    return TableBlock(key, frame, f"Contrasts at {criterion_short(at.criterion, units)}", labels, texts, how=how)


def _outcome(contrast: Contrast, units: str) -> str:
    if contrast.outcome != "rate":
        return outcome_name(contrast.outcome, contrast.criterion, units)
    kind = "wear rate" if contrast.scale == "ratio" else "wear rate, difference"
    return f"{kind}, {zone_name(contrast.zone)}" if contrast.zone else kind


def _p(contrast: Contrast) -> str:
    return "" if contrast.exploratory else p_text(contrast.p_value)


def _figure(contrast: Contrast, value: float, units: str) -> str:
    """A ratio, or a difference of rates with its unit; an open end is said."""
    if math.isinf(value) or (contrast.scale == "ratio" and value == 0):
        return "open"
    if contrast.scale == "ratio":
        return significant(value)
    if of_walls(contrast):
        shown = value * UM_PER_MM * unit_of("deviation", units).factor
        return f"{significant(shown)} {wall_unit(contrast, units)}"
    return quantity(value, f"land_per_{clock_kind(contrast.clock)}", units)


def _least(contrast: Contrast, units: str) -> str:
    """The smallest ratio or difference that would usually have shown."""
    value = contrast.smallest_detectable
    if not math.isfinite(value):
        return MISSING
    return f"{significant(value)} times" if contrast.scale == "ratio" else _figure(contrast, value, units)


def _beside(analysis: Analysis, comparison: Comparison) -> list[Block]:
    texts = [
        *family_sentences(comparison.families),
        fracture_sentence(comparison.fractures, comparison.by, analysis.units),
    ]
    if comparison.wall_refusal:
        texts.append(sentence(f"walls are not compared: {in_plain_words(comparison.wall_refusal, analysis.units)}"))
    left = comparison.left_out
    if left:
        by_reason: dict[str, list[str]] = {}
        for cutter, why in left:
            by_reason.setdefault(why, []).append(cutter)
        parts = [f"{listed(names)} ({in_plain_words(why, analysis.units)})" for why, names in by_reason.items()]
        texts.append(sentence(f"not in the comparison, or not in all of it: {listed(parts)}"))
    return [Paragraph(tuple(texts), "Beside the verdict")]
