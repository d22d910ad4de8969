"""Workings: derived tables in full, for whoever wants to compute further."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.logbook.columns import CLOCKS
from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Section, TableBlock
from wearlab.report.sections.common import comparison_of, with_groups
from wearlab.words.labels import Label, label
from wearlab.words.lives import status_words
from wearlab.words.outcomes import outcome_name
from wearlab.words.rounding import with_unit
from wearlab.words.units import clock_kind, unit_of


def tables_section(analysis: Analysis) -> Section:
    """Lives at every criterion on every clock, typical values of groups, wear curves."""
    made = (_all_lives(analysis), _groups(analysis), _curves(analysis))
    blocks: list[Block] = [block for block in made if block is not None]
    return Section("tables", "Derived tables", "researcher", tuple(blocks))


def _bounded(frame: pd.DataFrame) -> pd.DataFrame:
    return frame.replace({math.inf: math.nan, -math.inf: math.nan})


def _all_lives(analysis: Analysis) -> TableBlock | None:
    frames = [at.lives.to_frame() for at in analysis.at if not isinstance(at.lives, WearlabError)]
    if not frames:
        return None
    frame = with_groups(analysis, pd.concat(frames, ignore_index=True))
    texts = {
        "clock_shown": [label(clock).heading("metric") for clock in frame["clock"]],
        "status_shown": [status_words(*pair) for pair in zip(frame["status"], frame["criterion"], strict=True)],
    }
    labels = {
        "cutter": label("cutter"),
        "criterion": label("criterion"),
        "clock_shown": Label("on the clock"),
        "life": Label("life", "number", 2),
        "low": Label("from", "number", 2),
        "high": Label("to", "number", 2),
        "status_shown": Label("what is known"),
    }
    return TableBlock(
        "all-lives",
        _bounded(frame),
        "Lives at every criterion, on every clock, in the log's standard units",
        labels,
        texts,
    )


def _groups(analysis: Analysis) -> TableBlock | None:
    frames = [found.groups.assign(by=found.by) for at in analysis.at if (found := comparison_of(at)) is not None]
    if not frames:
        return None
    frame = pd.concat(frames, ignore_index=True)
    texts = {
        "outcome_shown": [
            outcome_name(str(one), str(read), analysis.units)
            for one, read in zip(frame["outcome"], frame["criterion"], strict=True)
        ],
        "criterion_shown": [_criterion(str(one)) for one in frame["criterion"]],
    }
    labels = {
        "group": label("group"),
        "outcome_shown": label("outcome"),
        "criterion_shown": label("criterion"),
        "zone": label("zone"),
        "cutters": label("cutters"),
        "censored": label("censored"),
        "estimate": Label("typical value", "number", 5),
    }
    note = (
        "At the conditions that every group met. Lives on the clock of this report: the middle life. Rates in mm for "
        "one unit of the clock: the geometric mean."
    )
    return TableBlock(
        "groups", _bounded(frame), "Typical values of the groups, in the log's standard units", labels, texts, note
    )


def _criterion(text: str) -> str:
    """A criterion in the log's own spelling; an age behind it gets the words of its clock."""
    clock = next((name for name in CLOCKS if text.endswith(f" {name}")), "")
    if not clock:
        return text
    before, _, age = text.removesuffix(f" {clock}").rpartition(" ")
    return f"{before} {with_unit(age, unit_of(clock_kind(clock)).name)}"


def _curves(analysis: Analysis) -> TableBlock | None:
    frame = analysis.curves.by_zone
    if frame.empty:
        return None
    held = [clock for clock in analysis.trial.clocks() if frame[clock].notna().any()]
    labels = {name: label(name) for name in ("cutter", "measure", "zone", "inspection")}
    labels |= {clock: label(clock) for clock in held}
    labels |= {name: label(name) for name in ("mean_mm", "worst_mm", "flutes")}
    return TableBlock("curves", with_groups(analysis, frame), "Wear curves", labels)
