"""The record of a report: what stands in it, in which order, for which reader; figures unrounded, nothing rendered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import pandas as pd

from wearlab.core.tables import plain, records
from wearlab.logbook.findings import Finding
from wearlab.words.labels import Label

Reader = Literal["manager", "engineer", "researcher"]
READERS: tuple[Reader, ...] = ("manager", "engineer", "researcher")


@dataclass(frozen=True, slots=True)
class Sentence:
    """One statement; `weight` is answer (the verdict itself), lead or plain, `heading` a word or two before it."""

    text: str
    weight: Literal["answer", "lead", "plain"] = "plain"
    heading: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"kind": "sentence", "heading": self.heading, "weight": self.weight, "text": self.text}


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Sentences that belong together, under a heading of their own where there is one.

    `card` asks for a place of its own on the first screen.
    """

    sentences: tuple[str, ...]
    heading: str = ""
    card: bool = False
    listed: bool = False

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"kind": "paragraph", "heading": self.heading, "sentences": list(self.sentences)}


@dataclass(frozen=True, slots=True, eq=False)
class TableBlock:
    """A table.

    Attributes
    ----------
    key : str
        Name in addresses and of its download.
    frame : pandas.DataFrame
        Numeric and unrounded, in the standard units; every column can be downloaded.
    caption : str
    labels : mapping of str to Label
        Columns that are shown, in this order; the others are for the download alone.
    texts : mapping of str to sequence of str
        Columns in words that are shown and not downloaded, one text a row.
    note, how : str
        What to mind, and how the figures were computed.
    """

    key: str
    frame: pd.DataFrame
    caption: str
    labels: Mapping[str, Label]
    texts: Mapping[str, Sequence[str]] = field(default_factory=dict)
    note: str = ""
    how: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "kind": "table",
            "key": self.key,
            "caption": self.caption,
            "note": self.note,
            "how": self.how,
            "columns": {name: label.heading() for name, label in self.labels.items()},
            "rows": records(self.frame),
        }


@dataclass(frozen=True, slots=True, eq=False)
class FigureBlock:
    """A figure: the table that it was drawn from, the drawing, and words for those who cannot see it.

    `legend` says what the marks mean that are not named in the drawing; it stands under the title. `phone` is the same
    drawing for a narrow screen; where it is empty the wide one is moved sideways inside its own box.
    """

    key: str
    table: pd.DataFrame
    svg: str
    title: str
    description: str
    legend: str = ""
    how: str = ""
    small: bool = False
    phone: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready; the drawing itself is left out, the table that it shows is not."""
        return {
            "kind": "figure",
            "key": self.key,
            "title": self.title,
            "description": self.description,
            "legend": self.legend,
            "how": self.how,
            "rows": records(self.table),
        }


@dataclass(frozen=True, slots=True)
class FindingsBlock:
    """What the check of the log found."""

    findings: Sequence[Finding]

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"kind": "findings", "findings": [finding.to_dict() for finding in self.findings]}


@dataclass(frozen=True, slots=True)
class NoteBlock:
    """A note with its source."""

    text: str
    source: str = ""
    heading: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"kind": "note", "heading": self.heading, "text": self.text, "source": self.source}


Block = Sentence | Paragraph | TableBlock | FigureBlock | FindingsBlock | NoteBlock


@dataclass(frozen=True, slots=True)
class Section:
    """One section, and the reader whom it is written for."""

    key: str
    title: str
    reader: Reader
    blocks: tuple[Block, ...]

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "key": self.key,
            "title": self.title,
            "reader": self.reader,
            "blocks": [block.to_dict() for block in self.blocks],
        }


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report.

    Attributes
    ----------
    title, subtitle : str
    sections : tuple of Section
        In the order of reading.
    provenance : mapping
        Files with their SHA-256, versions, seed, settings, command; a date only where one was given.
    units : str
        metric or inch: the family of units in which figures are shown.
    """

    title: str
    subtitle: str
    sections: tuple[Section, ...]
    provenance: Mapping[str, Any] = field(default_factory=dict)
    units: str = "metric"

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready: figures in the standard units of the log, whatever the reader's family."""
        made: dict[str, Any] = plain(
            {
                "title": self.title,
                "subtitle": self.subtitle,
                "units": self.units,
                "sections": [section.to_dict() for section in self.sections],
                "provenance": dict(self.provenance),
            }
        )
        return made

    def blocks(self) -> list[Block]:
        """All blocks in order."""
        return [block for section in self.sections for block in section.blocks]

    def _repr_html_(self) -> str:
        """The page itself, in a frame of its own: a notebook's style and the page's do not meet."""
        from html import escape

        from wearlab.report.render import render_html

        page = escape(render_html(self))
        style = "width:100%;height:40em;border:1px solid #ccc"
        return f'<iframe title="{escape(self.title)}" sandbox style="{style}" srcdoc="{page}"></iframe>'

    def __repr__(self) -> str:
        return f"<Report {self.title!r}: {len(self.sections)} sections, {len(self.blocks())} blocks>"
