"""This trial beside an earlier one: what changed, and what may have changed it."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.report.analysis import Analysis
from wearlab.report.between import Between, Change, between
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.words.against import (
    end_sentence,
    exponent_sentence,
    held_sentences,
    life_sentence,
    ratio_sentence,
    span_text,
    verdicts_sentence,
    why_sentence,
)
from wearlab.words.counting import counted, sentence
from wearlab.words.criteria import clock_words
from wearlab.words.groups import group_name
from wearlab.words.labels import Label, label
from wearlab.words.rounding import quantity

SETTINGS = {
    "criteria": "the end of life",
    "clock": "the clock",
    "by": "what makes the groups",
    "standard": "the standard of the comparison",
    "only": "the choice of cutters",
    "factors": "the factors of the equation",
    "held_n": "an exponent that is held",
    "margin": "the difference worth acting on",
    "level": "the confidence level",
    "break_in": "the share of use left out at the start",
    "zones": "the borders of the zones",
}
"""Settings in words, as they stand in a sentence."""
NOT_SET = "not set"
NOT_RECORDED = "not recorded"
NAMES = {"before": Label("earlier trial"), "now": Label("this trial")}


def against_section(now: Analysis, before: Analysis) -> Section:
    """Which figures moved and how far; then settings, cutters, conditions and readings that differ."""
    found = between(now, before)
    blocks: list[Block] = [
        Paragraph(tuple(_changes(found, now)), "What changed", listed=True),
        Paragraph((*_held(found, before, now), _why(found)), "Why"),
    ]
    tables = (_figures(found, now), _differences(found, now), _readings(found))
    blocks += [block for block in tables if block is not None]
    return Section("against", "Beside an earlier trial", "engineer", tuple(blocks))


def _changes(found: Between, now: Analysis) -> list[str]:
    texts = [_said(one, now) for one in found.changes]
    return texts or [sentence("no figure stands in both trials, so none of them can be said to have moved")]


def _said(one: Change, now: Analysis) -> str:
    figures = (one.before, one.now)
    if one.key == "ratio":
        pair = (one.names[0], one.names[1])
        said = ratio_sentence(pair, one.outcome, one.zone, figures, one.interval, now.by, now.units, one.why_missing)
        return f"{said} {verdicts_sentence(*one.verdicts)}".strip()
    if one.key == "life":
        return life_sentence(one.names[0], one.change, one.interval, one.cutters, now.by, now.units, one.why_missing)
    return exponent_sentence(figures, one.interval, one.why_missing)


def _held(found: Between, before: Analysis, now: Analysis) -> list[str]:
    texts = held_sentences(*found.cutters, before.trial.name, found.same, found.namesakes)
    ends = (f"{one.main.criterion.text} on {clock_words(one.clock)}" for one in (before, now))
    return [*texts, end_sentence(found.same_end, *ends)]


def _why(found: Between) -> str:
    judged = [one.shown for one in found.changes if one.shown is not None]
    differing = [SETTINGS[name] for name, _, _ in found.settings]
    differing += [label(name).text for name, _, _ in found.conditions]
    if len(found.readings):
        differing.append(f"readings of {counted(len(found.readings), 'cutter')}")
    return why_sentence(any(judged) if judged else None, differing, 2 * len(found.same) >= min(found.cutters))


def _figures(found: Between, now: Analysis) -> TableBlock | None:
    if not found.changes:
        return None
    frame = pd.DataFrame([_row(one) for one in found.changes]).replace({math.inf: math.nan, -math.inf: math.nan})
    texts = {
        "figure_shown": [_name(one, now) for one in found.changes],
        "before_shown": [span_text(one.before, one.before_interval) for one in found.changes],
        "now_shown": [span_text(one.now, one.now_interval) for one in found.changes],
        "change_shown": [span_text(one.change, one.interval) for one in found.changes],
        "cutters_shown": ["{} and {}".format(*one.cutters) for one in found.changes],
    }
    labels = {
        "figure_shown": Label("figure"),
        "before_shown": NAMES["before"],
        "now_shown": NAMES["now"],
        "change_shown": Label("change"),
        "cutters_shown": Label("cutters, then and now"),
    }
    how = sentence(
        "a change of a ratio or of a life is now over then, of the exponent now less then; its interval takes from "
        "each trial's own interval the side that matters (Zou and Donner, Statistics in Medicine 27, 2008, 1693, from "
        "memory), which asks that the trials are independent; lives of a group are compared at the conditions that "
        "both met, and adjusted for cutting speed where it varies"
    )
    return TableBlock("against-figures", frame, "Figures of both trials, each with its plausible range", labels, texts,
                      how=how)  # fmt: skip


def _row(one: Change) -> dict[str, object]:
    made: dict[str, object] = {"figure": one.key, "groups": " over ".join(one.names), "outcome": one.outcome}
    for name, value, interval in (
        ("before", one.before, one.before_interval),
        ("now", one.now, one.now_interval),
        ("change", one.change, one.interval),
    ):
        made |= {
            name: value,
            f"{name}_low": math.nan if interval is None else interval.low,
            f"{name}_high": math.nan if interval is None else interval.high,
        }
    return made | {"cutters_before": one.cutters[0], "cutters_now": one.cutters[1], "why_missing": one.why_missing}


def _name(one: Change, now: Analysis) -> str:
    names = [group_name(now.by, name, now.units) for name in one.names]
    if one.key == "exponent":
        return "Taylor exponent n"
    if one.key == "life":
        return f"life of {names[0]}"
    zone = f", {one.zone}" if one.zone and one.outcome != "life" else ""
    return f"{'life' if one.outcome == 'life' else 'wear rate'}, {names[0]} over {names[1]}{zone}"


def _differences(found: Between, now: Analysis) -> TableBlock | None:
    rows = [("settings", SETTINGS[name], before or NOT_SET, held or NOT_SET) for name, before, held in found.settings]
    rows += [
        ("cutters and cut", label(name).text, _shown(name, before, now.units), _shown(name, held, now.units))
        for name, before, held in found.conditions
    ]
    if not rows:
        return None
    frame = pd.DataFrame(rows, columns=["kind", "what", "before", "now"])
    labels = {"kind": Label("in"), "what": Label("what differs"), **NAMES}
    return TableBlock("against-conditions", frame, "What differs between the two", labels)


def _shown(name: str, cells: str, units: str) -> str:
    """Values of a column in the reader's unit; what was not recorded is said."""
    if not cells:
        return NOT_RECORDED
    kind = label(name).kind
    if not kind or kind == "count":
        return cells
    try:
        digits = 4 if units == "metric" else 3
        return ", ".join(quantity(float(cell), kind, units, digits) for cell in cells.split(", "))
    except ValueError:
        low, _, high = cells.partition(" to ")
        ends = [quantity(float(end), kind, units) for end in (low, high)] if high else [cells]
        return " to ".join(ends)


def _readings(found: Between) -> TableBlock | None:
    if found.readings.empty:
        return None
    labels = {
        "cutter": label("cutter"),
        "equal": Label("readings alike", "count"),
        "corrected": Label("another value", "count"),
        "added": Label("only in this trial", "count"),
        "gone": Label("only in the earlier one", "count"),
    }
    note = sentence("cutters of both logs whose readings are not all alike; the end of a run counts as one")
    return TableBlock("against-readings", found.readings, "Readings that differ", labels, note=note)
