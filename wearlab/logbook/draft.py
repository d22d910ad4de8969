"""The log while it is being checked: typed cells by file line, findings so far, and which lines are set aside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from wearlab.logbook.findings import Finding, about_lines


@dataclass(slots=True)
class Draft:
    """Rows by file line.

    Attributes
    ----------
    file : str
        Name of the file, for findings.
    header : list of str
        Header words as typed.
    typed : pandas.DataFrame
        Cells as typed, one row a reading, index = file line, columns = header words.
    data : pandas.DataFrame
        Cells under their standard names: numbers as float (missing = NaN), everything else as text (missing = "").
    bad : dict of int to list of str
        Lines that are set aside, with the codes of the findings that say why.
    words : dict of str to str
        Standard name of a column and the header word that it stands under.
    """

    file: str
    header: list[str]
    header_line: int
    typed: pd.DataFrame
    data: pd.DataFrame
    findings: list[Finding] = field(default_factory=list)
    bad: dict[int, list[str]] = field(default_factory=dict)
    words: dict[str, str] = field(default_factory=dict)

    def as_typed(self, line: int, name: str) -> str:
        """The cell as it stands in the file, for a message that can be found there."""
        return str(self.typed.at[line, self.words[name]])

    def error(self, line: int, code: str, found: str, **facts: Any) -> None:
        """Set a line aside and say why."""
        self.bad.setdefault(line, []).append(code)
        facts.setdefault("cutter", self.cutter_of(line))
        self.findings.append(Finding("error", code, found, file=self.file, line=line, lines=(line,), **facts))

    def header_error(self, code: str, found: str, **facts: Any) -> None:
        """An error of the header: no row is set aside for it alone."""
        self.findings.append(Finding("error", code, found, file=self.file, line=self.header_line, rows=0, **facts))

    def warn(self, code: str, found: str, lines: Iterable[int] = (), **facts: Any) -> None:
        """A doubt about rows that are used all the same."""
        self._about("warning", code, found, lines, facts)

    def note(self, code: str, found: str, lines: Iterable[int] = (), **facts: Any) -> None:
        """A fact or an assumption."""
        self._about("note", code, found, lines, facts)

    def _about(self, severity: Any, code: str, found: str, lines: Iterable[int], facts: dict[str, Any]) -> None:
        made = about_lines(severity, code, list(lines), found, file=self.file, **facts)
        self.findings.append(made if made.lines else replace(made, rows=0))

    def cutter_of(self, line: int) -> str:
        """The cutter on a line, or an empty text."""
        return str(self.data.at[line, "cutter"]) if "cutter" in self.data.columns else ""

    def good(self) -> pd.DataFrame:
        """Rows that nothing has set aside so far."""
        return self.data[~self.data.index.isin(list(self.bad))] if self.bad else self.data

    def has(self, column: str) -> bool:
        """Whether the log holds this column with anything in it."""
        if column not in self.data.columns:
            return False
        cells = self.data[column]
        return bool(cells.notna().any() if cells.dtype.kind == "f" else (cells != "").any())
