"""The record of a report -> one HTML file that needs nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pandas as pd

from wearlab.report.downloads import MOST_BYTES, csv_text, data_address
from wearlab.report.record import (
    Block,
    FigureBlock,
    FindingsBlock,
    NoteBlock,
    Paragraph,
    Reader,
    Report,
    Section,
    Sentence,
    TableBlock,
)
from wearlab.words.cells import cell_text
from wearlab.words.counting import counted, grouped, sentence
from wearlab.words.findings import severity_meaning
from wearlab.words.labels import Label
from wearlab.words.rounding import MISSING

_FIGURE_CELL = re.compile(r"(?:< |-)?\d[\d.\u202f]*(?: (?:to|and) \d[\d.\u202f]*)?(?: ?[^\s\d]\S{0,8})?")

MOST_ROWS = 250
"""Rows of one table that the page shows; the download holds all of them."""
MOST_FINDINGS = 5000
"""Findings that a download holds; `wearlab check` writes all of them."""
MOST_PRINTED = 25
"""Rows of a table of the workings that go on paper; the style of the page says the same."""
MOST_DOWNLOADS = 1_300_000
"""Bytes of downloads in one page, so that the file stays easy to send."""

PARTS: dict[Reader, tuple[str, str]] = {
    "manager": ("Part 1", "For whoever decides"),
    "engineer": ("Part 2", "The evidence, for whoever ran the trial"),
    "researcher": ("Part 3", "The workings, for whoever checks it"),
}
"""What a part is called, and whom it is for."""


def render_html(report: Report) -> str:
    """One self-contained HTML page.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        No script, nothing loaded from outside, every text escaped; the same record gives the same bytes.

    Examples
    --------
    >>> from wearlab.report.record import Report
    >>> render_html(Report("A title", "and what it is about", ())).startswith("<!doctype html>")
    True
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("wearlab.report", "page"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
    )
    style = environment.get_template("page.css").render()
    html = environment.get_template("page.html").render(
        report=report, style=Markup(style), parts=_parts(report), names=PARTS
    )
    return "\n".join(line.rstrip() for line in html.splitlines() if line.strip()) + "\n"


def _parts(report: Report) -> list[dict[str, Any]]:
    """Sections by reader, each block as what the template shows."""
    budget = _Budget(MOST_DOWNLOADS)
    made: list[dict[str, Any]] = []
    for reader, (number, name) in PARTS.items():
        sections = [
            _section(section, report.units, budget, reader) for section in report.sections if section.reader == reader
        ]
        if sections:
            made.append({"reader": reader, "number": number, "name": name, "sections": sections})
    return made


class _Budget:
    """Room that is left for downloads."""

    def __init__(self, room: int) -> None:
        self.room = room

    def take(self, text: str) -> bool:
        """Whether a text may travel inside the page."""
        size = len(text.encode("utf-8"))
        if size > min(MOST_BYTES, self.room):
            return False
        self.room -= size
        return True


def _section(section: Section, units: str, budget: _Budget, reader: Reader) -> dict[str, Any]:
    blocks = [_block(block, units, budget) for block in section.blocks]
    for block in blocks:
        if block["kind"] == "table" and reader == "researcher" and len(block["rows"]) > MOST_PRINTED:
            block["paper"] = sentence(
                f"on paper the first {MOST_PRINTED} rows stand here; the page on a screen holds the rest"
            )
    return {"key": section.key, "title": section.title, "blocks": list(_with_cards(blocks))}


def _with_cards(blocks: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Neighbouring cards stand in one row."""
    row: list[dict[str, Any]] = []
    for block in blocks:
        if block.get("card"):
            row.append(block)
            continue
        if row:
            yield {"kind": "cards", "cards": row}
            row = []
        yield block
    if row:
        yield {"kind": "cards", "cards": row}


def _block(block: Block, units: str, budget: _Budget) -> dict[str, Any]:
    if isinstance(block, TableBlock):
        return _table(block, units, budget)
    if isinstance(block, FigureBlock):
        return _figure(block, budget)
    if isinstance(block, FindingsBlock):
        return _findings(block, budget)
    if isinstance(block, NoteBlock):
        return {"kind": "note", "heading": block.heading, "text": block.text, "source": block.source}
    if isinstance(block, Sentence):
        return {"kind": "sentence", "text": block.text, "weight": block.weight, "heading": block.heading}
    assert isinstance(block, Paragraph)
    return {
        "kind": "paragraph",
        "heading": block.heading,
        "sentences": block.sentences,
        "card": block.card,
        "listed": block.listed,
    }


def _figure(block: FigureBlock, budget: _Budget) -> dict[str, Any]:
    from markupsafe import Markup

    return {
        "kind": "figure",
        "key": block.key,
        "title": block.title,
        "svg": Markup(block.svg),
        "phone": Markup(block.phone),
        "legend": block.legend,
        "how": block.how,
        "small": block.small,
        "download": _download(block.key, block.table, budget),
    }


def _download(key: str, frame: pd.DataFrame, budget: _Budget) -> dict[str, str] | None:
    if len(frame) * max(len(frame.columns), 1) * 2 > MOST_BYTES:  # not worth writing out to find that it is too long
        return None
    text = csv_text(frame)
    if not budget.take(text):
        return None
    return {"name": f"{key}.csv", "address": data_address(text)}


def _table(block: TableBlock, units: str, budget: _Budget) -> dict[str, Any]:
    columns = [_column(name, label, block, units) for name, label in block.labels.items()]
    rows = list(zip(*(column["cells"] for column in columns), strict=True))
    download = _download(block.key, block.frame, budget)
    return {
        "kind": "table",
        "key": block.key,
        "caption": block.caption,
        "columns": columns,
        "rows": rows,
        "note": block.note,
        "cut": _cut(len(block.frame), download is not None),
        "paper": "",
        "how": block.how,
        "download": download,
        "long": len(rows) > 12,
    }


def _cut(rows: int, downloadable: bool) -> str:
    """What is said of a table that is longer than the page shows."""
    if rows <= MOST_ROWS:
        return ""
    rest = (
        "all of them are in the download"
        if downloadable
        else "the table is too long to travel inside this page, and the commands write it with --csv"
    )
    return sentence(f"the first {MOST_ROWS} of {counted(rows, 'row')}; {rest}")


def _column(name: str, label: Label, block: TableBlock, units: str) -> dict[str, Any]:
    """Heading and cells of one column; figures stand to the right."""
    if name in block.texts:
        cells = [cell_text(text, Label(label.text)) for text in list(block.texts[name])[:MOST_ROWS]]
        numeric = all(_looks_numeric(cell) for cell in cells)
    else:
        cells = [cell_text(value, label, units) for value in block.frame[name].iloc[:MOST_ROWS]]
        numeric = bool(label.kind)
    return {"heading": label.heading(units), "cells": cells, "numeric": numeric}


def _looks_numeric(cell: str) -> bool:
    """Whether a cell made of words is a figure all the same: a number, a range or a count, with a unit at most."""
    return cell in ("open", MISSING, "") or _FIGURE_CELL.fullmatch(cell) is not None


def _findings(block: FindingsBlock, budget: _Budget) -> dict[str, Any]:
    kept = list(block.findings[:MOST_FINDINGS])
    frame = pd.DataFrame([one.to_dict() for one in kept])
    frame["lines"] = [" ".join(map(str, one.lines)) for one in kept]
    shown = kept[:MOST_ROWS]
    download = _download("findings", frame, budget)
    severities = list(dict.fromkeys(one.severity for one in shown))
    return {
        "kind": "findings",
        "rows": [
            {
                "severity": one.severity,
                "where": one.where(),
                "found": one.found,
                "allowed": one.allowed,
                "hint": one.hint,
            }
            for one in shown
        ],
        "meanings": [(severity, severity_meaning(severity)) for severity in severities],
        "cut": _cut(len(block.findings), download is not None and len(kept) == len(block.findings)),
        "download": download,
        "total": grouped(len(block.findings)),
        "long": len(shown) > 12,
    }
