"""The Trial: one log, checked, as five tables that every later stage reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import ShownAsTable, nearest
from wearlab.logbook.columns import CLOCK_NAMES, CLOCKS
from wearlab.logbook.corrections import Correction
from wearlab.logbook.files import Source
from wearlab.logbook.findings import Findings, number_of
from wearlab.logbook.settings import TrialSettings


@dataclass(frozen=True, slots=True)
class Counts:
    """Rows read = rows used + rows set aside, always; skipped lines are no readings, counted by kind."""

    rows_read: int
    rows_used: int
    rows_set_aside: int
    lines_skipped: Mapping[str, int] = field(default_factory=dict)
    corrections: int = 0


@dataclass(frozen=True, repr=False)
class Trial(ShownAsTable):
    """One trial.

    Attributes
    ----------
    name : str
        From the column `trial`, else the file's name.
    cutters : pandas.DataFrame
        One row a cutter: what it is (`cutter`, material, coating, diameter, teeth, angles, price).
    conditions : pandas.DataFrame
        One row a different condition: `condition` (C1, C2, ...), work material, practice, speed, feed, engagement.
    runs : pandas.DataFrame
        One row a cutter: `cutter`, `condition`, block, order, holder, ...; `end_reason` (may be empty), `readings`,
        and under each clock's name its value when the cutter was last seen.
    wear : pandas.DataFrame
        One row a wear reading: `line`, `cutter`, `inspection` (0, 1, ... within the cutter), the clocks, `measure`,
        `zone`, `flute`, `value_mm` (NaN = looked at the clock, not measured), what was typed.
    walls : pandas.DataFrame
        One row a wall reading: as wear, with `side`, `height_mm`, `pin_mm`, `part`.
    responses : pandas.DataFrame
        One row a declared response; `value` is in its own unit.
    findings : Findings
        A sequence of Finding: errors, warnings, notes, in this order, each by line.
    quarantine : pandas.DataFrame
        Rows set aside, as typed, with `file`, `line` and `why`.
    corrections : tuple of Correction
        Corrections that were applied to the log as typed.
    """

    name: str
    sources: tuple[Source, ...]
    settings: TrialSettings
    counts: Counts
    cutters: pd.DataFrame
    conditions: pd.DataFrame
    runs: pd.DataFrame
    wear: pd.DataFrame
    walls: pd.DataFrame
    responses: pd.DataFrame
    findings: Findings
    quarantine: pd.DataFrame
    corrections: tuple[Correction, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """One row a cutter, as `facts`."""
        return self.facts()

    def facts(self) -> pd.DataFrame:
        """One row a cutter with all that is known of it: cutter, run and condition side by side."""
        table = self.runs.merge(self.cutters, on="cutter", how="left", validate="one_to_one")
        return table.merge(self.conditions, on="condition", how="left", validate="many_to_one")

    def clocks(self) -> list[str]:
        """Clocks that the log holds, typed or derived."""
        return [name for name in CLOCKS if name in self.runs.columns and self.runs[name].notna().any()]

    def clock(self, word: str = "") -> str:
        """Column of a clock by its name or short name (min, cm3, parts, m); the first that the log holds when empty.

        Raises
        ------
        ArgumentError
            The word names no clock.
        """
        if not word:
            return next(iter(self.clocks()), CLOCKS[0])
        column = CLOCK_NAMES.get(word, word)
        if column not in CLOCKS:
            short = list(CLOCK_NAMES)
            raise ArgumentError(f"clock {word!r}", where="clock", allowed=", ".join(short), hint=nearest(word, short))
        return column

    def errors(self) -> int:
        """How many findings are errors."""
        return self.findings.count_of("error")

    def __repr__(self) -> str:
        cutters = number_of(len(self.cutters), "cutter")
        return (
            f"<Trial {self.name}: {cutters}, {len(self.wear)} wear and {len(self.walls)} wall "
            f"readings; {self.counts.rows_read} rows read, {self.counts.rows_used} used, "
            f"{self.counts.rows_set_aside} set aside>"
        )
