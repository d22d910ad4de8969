"""Evidence: cautions."""

from __future__ import annotations

from wearlab.report.analysis import Analysis
from wearlab.report.record import NoteBlock, Section
from wearlab.words.cautions import CAUTIONS


def cautions_section(analysis: Analysis) -> Section:
    """Every caution with its source."""
    return Section(
        "cautions", "Cautions", "engineer", tuple(NoteBlock(one.text, one.source, one.title) for one in CAUTIONS)
    )
