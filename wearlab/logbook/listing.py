"""Findings as people and programs read them: plain text grouped by cause, CSV, JSON-ready rows."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from wearlab.core.tables import natural_sorted
from wearlab.logbook.findings import Finding, Severity, listed, number_of, sorted_findings
from wearlab.logbook.safety import csv_text

_TITLES: dict[Severity, str] = {
    "error": "Errors: these rows were set aside",
    "warning": "Warnings: used, and doubtful",
    "note": "Notes: facts and assumptions",
}
EACH = ("corrected", "row_withdrawn")
"""Findings of which each is listed: what somebody changed."""
CSV_COLUMNS = ("severity", "code", "file", "line", "cutter", "column", "found", "allowed", "hint", "rows", "lines")
"""Columns of the findings as CSV; the keys of the JSON answer."""


@dataclass(frozen=True, slots=True)
class Group:
    """Findings of one cause: same severity, code, file, column and hint.

    Attributes
    ----------
    first : Finding
        The one that stands first in the file.
    count : int
        How many findings there are.
    lines : tuple of int
        All file lines that they concern, in order.
    cutters : tuple of str
        All cutters that they concern, in natural order.
    """

    first: Finding
    count: int
    lines: tuple[int, ...]
    cutters: tuple[str, ...]

    def text(self) -> str:
        """The cause in one or two sentences: the first finding, and where the others stand.

        >>> a = Finding("error", "no_clock", "no clock", file="a.csv", line=4, lines=(4,))
        >>> Group(a, 3, (4, 5, 9), ()).text()
        'a.csv, line 4: no clock. So too on lines 5 and 9'
        """
        if self.count == 1:
            return self.first.text()
        others = [line for line in self.lines if line not in self.first.lines]
        who = f" (cutters {listed(self.cutters)})" if len(self.cutters) > 1 else ""
        text = self.first.text().rstrip(".?")
        mark = "?" if self.first.text().endswith("?") else "."
        if others:
            return f"{text}{mark} So too on {'line' if len(others) == 1 else 'lines'} {line_ranges(others)}{who}"
        return f"{text}{mark} So too {number_of(self.count - 1, 'time')} more{who}"


def line_ranges(lines: Sequence[int], most: int = 12) -> str:
    """Lines as ranges, in words; cut when there are many.

    >>> line_ranges([2, 3, 4, 9, 12, 13])
    '2 to 4, 9, 12 and 13'
    """
    ordered = sorted(set(lines))
    ranges: list[str] = []
    for _, run in groupby(enumerate(ordered), key=lambda pair: pair[1] - pair[0]):
        own = [line for _, line in run]
        ranges += [f"{own[0]} to {own[-1]}"] if len(own) > 2 else [str(line) for line in own]
    return listed(ranges, most=most)


def grouped_findings(findings: Iterable[Finding]) -> list[Group]:
    """Findings by cause, each group where its first finding stands.

    Parameters
    ----------
    findings : iterable of Finding

    Returns
    -------
    list of Group
        Errors, then warnings, then notes; each by the line of its first finding.
    """
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in sorted_findings(findings):
        cause = finding.found if finding.severity == "note" else finding.hint
        same = cause if finding.code in EACH else _without_figures(cause)
        key = (finding.severity, finding.code, finding.file, finding.column, same)
        groups.setdefault(key, []).append(finding)
    return [
        Group(
            first=own[0],
            count=len(own),
            lines=tuple(sorted({line for finding in own for line in finding.lines})),
            cutters=tuple(natural_sorted({finding.cutter for finding in own if finding.cutter})),
        )
        for own in groups.values()
    ]


def _without_figures(text: str) -> str:
    """A sentence without what differs from row to row: figures, and what was typed.

    >>> _without_figures("Write 0.114 with a point"), _without_figures("'1/4' is no number")
    ('Write # with a point', '# is no number')
    """
    return re.sub(r"'[^']*'|[\d.,]*\d", "#", text)


def findings_text(findings: Iterable[Finding]) -> str:
    """The findings as plain text, one line a cause, under a title for each severity.

    >>> print(findings_text([Finding("note", "encoding", "read as UTF-16", file="a.csv", rows=0)]))
    Notes: facts and assumptions (1)
    - a.csv: read as UTF-16
    """
    every = sorted_findings(findings)
    groups = grouped_findings(every)
    parts = []
    for severity, title in _TITLES.items():
        own = [group for group in groups if group.first.severity == severity]
        if own:
            count = sum(group.count for group in own)
            parts.append("\n".join([f"{title} ({count})", *(f"- {group.text()}" for group in own)]))
    return "\n\n".join(parts) or "Nothing found."


def findings_csv(findings: Iterable[Finding]) -> str:
    """The findings as CSV, one row a finding; no cell starts a formula."""
    rows = [_row(finding) for finding in sorted_findings(findings)]
    return csv_text(CSV_COLUMNS, [[row[name] for name in CSV_COLUMNS] for row in rows])


def _row(finding: Finding) -> dict[str, Any]:
    row = finding.to_dict()
    return row | {
        "lines": " ".join(str(line) for line in row["lines"]),
        "line": "" if row["line"] is None else row["line"],
    }
