"""Every text of every section, over samples, groupings, clocks and units: the rules that all words keep."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from wearlab.report.record import (
    FigureBlock,
    FindingsBlock,
    NoteBlock,
    Paragraph,
    Report,
    Sentence,
    TableBlock,
)
from wearlab.words.cells import cell_text

Reports = Callable[..., Report]
FORBIDDEN = {
    "two blanks": r"  ",
    "blank before a stop": r" [.,;:](?!\d)",
    "two stops": r"(?<!\.)\.\.(?!\.)|,,|;;",
    "no figure": r"\b(?:nan|NaN|None|inf|Infinity|NaT)\b|<NA>",
    "one of many": r"(?<![\d.\u202f–-])1 (?:cutters|lives|rows|readings|errors|warnings|notes|parts|groups|pins)\b",
    "significance alone": r"\bsignificant(?:ly)?\b",
    "a bare p": r"\bp ?[=<>]",
    "a proof": r"\bprov(?:e|es|ed|en)\b",
    "an open range without words": r"\(open\)",
    "braces left over": r"[{}]",
    "a column's name": r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b",
}
FORMULA = r"[a-z]_i\b"
"""An equation may hold an index."""
FILES = (
    r"--[a-z]+ \w+|\b[\w.-]+\.(?:csv|toml)\b|“[^”]*”|\bcost\.\w+"
    r"|\b(?:decision|zones|wall|match|trial|counting|wear)\.\w+"
)
"""An option as it is typed, names of files, what a user typed, and keys of the trial file are quoted as they are."""
MADE: list[tuple[str, dict[str, Any]]] = [
    ("shoulder_demo", {}),
    ("shoulder_demo", {"units": "inch"}),
    ("nasa_milling", {}),
    ("nasa_milling", {"by": "work_material"}),
    ("taylor_T01", {"units": "inch"}),
    ("shoulder_demo", {"only": ("strategy=side",)}),
    ("shoulder_demo", {"units": "inch", "clock": "volume_cm3", "held_n": 0.25, "by": "bar"}),
    ("nasa_milling", {"by": "feed_per_tooth_mm", "factors": ("feed_per_tooth", "axial_depth")}),
    ("taylor_T06", {"units": "inch"}),
]
"""Most of them are made once for the other tests of this folder."""


def texts(report: Report) -> Iterator[tuple[str, str]]:
    """Where a text stands, and the text; what the log itself says in its findings is left out."""
    yield "title", report.title
    yield "subtitle", report.subtitle
    for section in report.sections:
        yield section.key, section.title
        for block in section.blocks:
            for text in _of_block(block, report.units):
                yield section.key, text


def _of_block(block: object, units: str) -> Iterator[str]:
    if isinstance(block, Sentence):
        yield from (block.heading, block.text)
    elif isinstance(block, Paragraph):
        yield from (block.heading, *block.sentences)
    elif isinstance(block, NoteBlock):
        yield from (block.heading, block.text, block.source)
    elif isinstance(block, FigureBlock):
        yield from (block.title, block.description, block.legend, block.how)
        for svg in (block.svg, block.phone):
            yield from re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    elif isinstance(block, TableBlock):
        yield from (block.caption, block.note, block.how)
        for name, label in block.labels.items():
            yield label.heading(units)
            cells = block.texts[name] if name in block.texts else block.frame[name]
            yield from (cell_text(cell, label, units) for cell in dict.fromkeys(cells))
    else:
        assert isinstance(block, FindingsBlock)


@pytest.mark.parametrize(("name", "options"), MADE)
def test_every_text_of_every_section_keeps_the_rules(name: str, options: dict[str, Any], report_of: Reports) -> None:
    report = report_of(name, **options)
    broken = []
    seen = 0
    for where, text in texts(report):
        seen += 1
        own = re.sub(FORMULA, "x", re.sub(FILES, "Q", text))
        own = re.sub(rf"\b{re.escape(name)}\b", "Q", own)
        broken += [(rule, where, text) for rule, pattern in FORBIDDEN.items() if re.search(pattern, own)]
    assert seen > 50
    assert broken == []


@pytest.mark.parametrize(("name", "options"), MADE)
def test_sentences_begin_large_and_end_with_a_stop(name: str, options: dict[str, Any], report_of: Reports) -> None:
    for section in report_of(name, **options).sections:
        for block in section.blocks:
            said = block.sentences if isinstance(block, Paragraph) else ()
            said = (block.text,) if isinstance(block, Sentence) else said
            for text in said:
                assert text[-1] in ".?!", (section.key, text)
                assert text[0] == text[0].upper() or text[0] in "“", (section.key, text)
