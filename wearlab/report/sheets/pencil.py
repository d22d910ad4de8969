"""Bench sheets without a plan, for a pencil: the same head and grid as the bench sheet that is typed into."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any

from wearlab.logbook.bench import Heading, parse_heading
from wearlab.logbook.bench_write import AFTER, LINE, BenchPage
from wearlab.logbook.columns import COLUMNS, END_REASONS, MEASURES
from wearlab.words.counting import listed

MOST_CELLS = 16
"""Cells a line has room for with a pencil; more of them go on a further page."""
FACTS_A_ROW = 6
_WIDTHS = {"reading": 13, "parts": 13, "cutting_time_min": 17, "wear_form": 17, "operator": 15, "date": 16,
           "end_reason": 16, "note": 23}  # fmt: skip
"""Widths in mm of the columns beside the readings."""
_UNITS = {"um": "µm", "deg": "°", "cm3": "cm³"}


def blank_bench_content(pages: Sequence[BenchPage], responses: Iterable[str] = ()) -> dict[str, Any]:
    """What empty bench sheets say.

    Parameters
    ----------
    pages : sequence of BenchPage
        As `blank_bench_page` makes them.
    responses : iterable of str
        Measures that the trial file declares.
    """
    declared = tuple(responses)
    reasons = listed(END_REASONS, most=len(END_REASONS), last="or")
    foot = (
        "A blank cell was looked at and not measured; a stroke / was not looked at. Stop at the end of a whole part. "
        f"Why ended: {reasons}. Readings beyond the sheet go on a second one with the same cutter."
    )
    return {"sheets": [_sheet(page, declared) for page in pages], "foot": foot}


def _sheet(page: BenchPage, responses: tuple[str, ...]) -> dict[str, Any]:
    cutter = next((str(value or "") for name, value in page.head if name == "cutter"), "")
    facts = [in_words(name) for name, _ in page.head if name not in ("cutter", "trial", "run_order", "strategy")]
    facts += [_zone_fact(name, limits) for name, limits in page.zones.items()]
    facts += [""] * (-len(facts) % FACTS_A_ROW)
    headings = [heading for word in page.headings if (heading := parse_heading(word, responses))]
    before, after = ([name for name in page.headings if name in names] for names in (LINE, AFTER))
    return {
        "cutter": cutter,
        "facts": facts,
        "note": "Zones in mm above the end face. Flute 1 is at the dot; count clockwise, seen from the cutting end.",
        "before": [in_words(name) for name in before],
        "after": [in_words(name) for name in after],
        "widths_before": [_WIDTHS[name] for name in before],
        "widths_after": [_WIDTHS[name] for name in after],
        "grids": _grids(headings),
        "looks": [line[0] for line in page.lines],
    }


def _zone_fact(name: str, limits: tuple[Any, Any] | None) -> str:
    return f"zone {name}, mm from … to …" if limits is None else f"zone {name}: {limits[0]:g} to {limits[1]:g} mm"


def in_words(name: str) -> str:
    """A column of the log as the label of a cell: its name without underscores, its unit behind a comma.

    >>> in_words("feed_per_tooth_mm"), in_words("cutting_time_min"), in_words("end_reason")
    ('feed per tooth, mm', 'cutting time, min', 'end reason')
    """
    unit = COLUMNS[name].unit
    ending = "_" + unit.replace("/", "_")
    if not unit or not name.endswith(ending):
        return name.replace("_", " ")
    return f"{name.removesuffix(ending).replace('_', ' ')}, {_UNITS.get(unit, unit)}"


def _grids(headings: list[Heading]) -> list[dict[str, Any]]:
    """Pages of groups: headings of one measure and zone side by side, and no more cells than a line has room for."""
    groups = [
        {"text": text, "columns": [_column(one) for one in own]} for text, own in groupby(headings, key=_group_text)
    ]
    pages: list[list[dict[str, Any]]] = [[]]
    for group in groups:
        if pages[-1] and sum(len(one["columns"]) for one in [*pages[-1], group]) > MOST_CELLS:
            pages.append([])
        pages[-1].append(group)
    return [{"groups": page, "cells": sum(len(group["columns"]) for group in page)} for page in pages]


def _group_text(heading: Heading) -> str:
    unit = _UNITS.get(heading.unit, heading.unit)
    words = (heading.measure, heading.facts.get("side", ""), heading.facts.get("zone", ""))
    where = " ".join(word for word in words if word)
    return f"{where}, {unit}" if unit else where


def _column(heading: Heading) -> str:
    facts = heading.facts
    if "flute" in facts:
        return f"flute {facts['flute']}" if facts["flute"].isdecimal() else facts["flute"]
    needs = MEASURES[heading.measure].needs if heading.measure in MEASURES else ()
    if "pin_mm" in needs:
        return f"pin {facts.get('pin_mm', '…')}"
    if "height_mm" in facts:
        return f"at {facts['height_mm']} mm"
    return f"#{facts['repeat']}" if "repeat" in facts else ""
