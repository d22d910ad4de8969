"""Workings: how each figure was computed, and what was assumed."""

from __future__ import annotations

from collections.abc import Iterable

from wearlab.report.analysis import Analysis
from wearlab.report.record import FigureBlock, NoteBlock, Section, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.rounding import significant, trimmed


def method_section(analysis: Analysis, before: Iterable[Section]) -> Section:
    """One note a figure and table that says how it was made, then what holds for all of them."""
    made = {
        block.how: block.title if isinstance(block, FigureBlock) else block.caption
        for section in before
        for block in section.blocks
        if isinstance(block, FigureBlock | TableBlock) and block.how
    }
    notes = [NoteBlock(how, "", title) for how, title in made.items()]
    return Section("method", "How each figure was computed", "researcher", (*notes, *_for_all(analysis)))


def _for_all(analysis: Analysis) -> tuple[NoteBlock, ...]:
    level = trimmed(100 * analysis.level, 2)
    return (
        NoteBlock(
            sentence(
                "the cutter is the unit: readings of one cutter are averaged to one life and one rate before "
                "anything is compared, so more readings of the same cutter never count as more evidence"
            ),
            "own simulation: with every reading counted alone, 13 to 40 of 100 comparisons of equal practices would "
            "look different",
            "What counts as one",
        ),
        NoteBlock(
            sentence(
                "lives and rates are compared as logarithms and told as ratios; a cutter that ended short of the "
                "limit enters as a lower bound of its life, and is neither left out nor taken for worn"
            ),
            "",
            "Ratios and limits",
        ),
        NoteBlock(
            sentence(
                f"a plausible range is a {level} % confidence interval: ranges made this way hold the true figure "
                f"{level} times in 100; a verdict of a difference needs the whole range beyond 1; alike needs the "
                f"range at twice the error inside the margin of {significant(analysis.margin)} times either way; "
                "otherwise the trial cannot tell"
            ),
            "",
            "Plausible, and the four verdicts",
        ),
        NoteBlock(
            sentence(
                "what a trial could have shown is the ratio that a two-sided test of that size and scatter finds "
                "four times in five; it is worked out from the scatter seen, which is itself uncertain with so few "
                "cutters"
            ),
            "",
            "Smallest difference",
        ),
        NoteBlock(
            sentence(
                "lives are taken as lognormal about the equation; readings are taken as exact at their clock; "
                "cutters as independent of one another apart from the blocks that the log names; wear and chipping "
                "as unconnected"
            ),
            "",
            "Assumed, and not checked here",
        ),
    )
