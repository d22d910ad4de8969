"""Evidence: our figures beside published ones."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.core.tables import plain
from wearlab.published.lookup import published
from wearlab.report.analysis import Analysis, PublishedCheck
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.criteria import criterion_short
from wearlab.words.labels import Label
from wearlab.words.published import (
    comparison_sentence,
    disagreement_sentence,
    known_words,
    nothing_to_compare,
    row_figure,
    row_name,
    scatter_words,
    stated_for,
)
from wearlab.words.rounding import decimals_for, fixed, quantity, significant

HEADINGS = {
    "exponent": "The exponent of life against speed",
    "criterion": "The limit at which a life ends",
    "scatter": "The scatter from cutter to cutter",
}


def published_section(analysis: Analysis) -> Section:
    """Every check with its sources; being outside a table is a remark and never a fault of the trial."""
    blocks: list[Block] = [
        Paragraph(
            (
                sentence(
                    "published figures come from other cutters, bars and machines, most of them from turning; to lie "
                    "outside "
                    "one is worth a thought and makes no figure of this trial wrong"
                ),
            )
        )
    ]
    for at, check in enumerate(analysis.checks):
        blocks += _check(analysis, check, at)
    blocks += _other_materials(analysis)
    return Section("published", "Beside published values", "engineer", tuple(blocks))


def _check(analysis: Analysis, check: PublishedCheck, at: int) -> list[Block]:
    ours = _ours(analysis, check)
    if check.comparisons:
        texts = [comparison_sentence(found, ours, check.interval, analysis.units) for found in check.comparisons]
        if check.quantity == "exponent":
            texts.append(disagreement_sentence(check.rows, "the exponent"))
    elif check.quantity == "exponent":
        texts = [nothing_to_compare(_material(analysis), check.rows), disagreement_sentence(check.rows, "the exponent")]
    else:
        texts = [sentence(f"no published figure with a source is at hand for {ours}")]
    heading = HEADINGS[check.quantity]
    if check.quantity == "criterion":
        heading += f": {_criterion_name(analysis, check)}"
    blocks: list[Block] = [Paragraph(tuple(text for text in texts if text), heading, listed=len(texts) > 2)]
    if check.rows:
        blocks.append(_table(analysis, check, at, heading))
    return blocks


def _material(analysis: Analysis) -> str:
    cutters = analysis.trial.cutters
    held = (
        [] if "cutter_material" not in cutters else [str(cell) for cell in cutters["cutter_material"].unique() if cell]
    )
    return held[0] if len(held) == 1 else ""


def _criterion_name(analysis: Analysis, check: PublishedCheck) -> str:
    found = next(at.criterion for at in analysis.at if at.criterion.text == check.criterion)
    return criterion_short(found, analysis.units)


def _ours(analysis: Analysis, check: PublishedCheck) -> str:
    """Our figure as the subject of a sentence."""
    if check.quantity == "criterion":
        return f"this trial's limit of {quantity(check.value, 'land', analysis.units)}"
    if check.quantity == "scatter":
        return f"the scatter of life here, {scatter_words(check.value)},"
    if check.interval is None or check.interval.unbounded == "both":
        return f"our n of {significant(check.value, 2)}"
    decimals = decimals_for(check.value, check.interval.low, check.interval.high)
    return f"our n of {fixed(check.value, decimals)}"


def _table(analysis: Analysis, check: PublishedCheck, at: int, heading: str) -> TableBlock:
    positions = {found.row.id: found for found in check.comparisons}
    frame = pd.DataFrame([plain(row.to_dict()) for row in check.rows])
    frame["ours"] = check.value if math.isfinite(check.value) else math.nan
    frame["position"] = [positions[row.id].position if row.id in positions else "" for row in check.rows]
    texts = {
        "figure": [row_figure(row, analysis.units) for row in check.rows],
        "position_shown": [_position(positions.get(row.id)) for row in check.rows],
        "stated_for": [stated_for(row) for row in check.rows],
        "source_shown": [row_name(row) for row in check.rows],
        "known": [known_words(row) for row in check.rows],
    }
    labels = {
        "id": Label("row"),
        "figure": Label("published"),
        "position_shown": Label("ours lies"),
        "stated_for": Label("stated for"),
        "source_shown": Label("source"),
        "known": Label("how known"),
    }
    return TableBlock(f"published-{at + 1}", frame, f"Published rows: {heading[0].lower()}{heading[1:]}", labels, texts)


def _other_materials(analysis: Analysis) -> list[Block]:
    """Exponents of every other cutter material: tables in print disagree by more than most trials could."""
    told = {row.id for check in analysis.checks if check.quantity == "exponent" for row in check.rows}
    rows = [row for row in published(topic="exponent") if row.id not in told]
    if not rows:
        return []
    frame = pd.DataFrame([plain(row.to_dict()) for row in rows])
    texts = {
        "figure": [row_figure(row, analysis.units) for row in rows],
        "stated_for": [stated_for(row) for row in rows],
        "source_shown": [row_name(row) for row in rows],
        "known": [known_words(row) for row in rows],
    }
    labels = {
        "id": Label("row"),
        "figure": Label("published"),
        "stated_for": Label("stated for"),
        "source_shown": Label("source"),
        "known": Label("how known"),
    }
    text = "for other cutters, for orientation alone; tables that disagree stand side by side"
    return [
        Paragraph((sentence(text),), "Published exponents of other cutter materials"),
        TableBlock("published-others", frame, "Published rows: exponents of other cutter materials", labels, texts),
    ]


def _position(found: object) -> str:
    return "" if found is None else str(getattr(found, "position", ""))
