"""Findings: what is wrong, doubtful or assumed in a log, said where it stands.

An `error` is a row that cannot be used and is set aside; a `warning` is used and doubtful; a `note` is a fact or an
assumption, never a false alarm, and never changes the exit code.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

Severity = Literal["error", "warning", "note"]
_ORDER = {"error": 0, "warning": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding; `lines` are the file lines that it concerns and `rows` how many they are."""

    severity: Severity
    code: str
    found: str
    allowed: str = ""
    hint: str = ""
    file: str = ""
    line: int | None = None
    cutter: str = ""
    column: str = ""
    rows: int = 1
    lines: tuple[int, ...] = ()

    def where(self) -> str:
        """File, line, cutter and column as one text."""
        parts = [self.file]
        if self.line is not None:
            parts.append(f"line {self.line}" if self.rows < 2 else f"line {self.line} and {self.rows - 1} more")
        if self.cutter:
            parts.append(f"cutter {self.cutter}")
        if self.column:
            parts.append(self.column)
        return ", ".join(part for part in parts if part)

    def text(self) -> str:
        """The whole finding as one sentence for a terminal or a page."""
        text = f"{self.where()}: {self.found}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        return f"{text}. {self.hint[0].upper()}{self.hint[1:]}" if self.hint else text

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        return {
            "severity": self.severity,
            "code": self.code,
            "file": self.file,
            "line": self.line,
            "cutter": self.cutter,
            "column": self.column,
            "found": self.found,
            "allowed": self.allowed,
            "hint": self.hint,
            "rows": self.rows,
            "lines": list(self.lines),
        }


def short(text: str, most: int = 60) -> str:
    """A cell for a message: quoted, on one line, cut in the middle when it is long.

    >>> short("carbide")
    "'carbide'"
    >>> short("x" * 300, most=20)
    "'xxxxxxxxxx ... xxxxxxxxxx' (300 characters)"
    """
    if len(text) <= most:
        return repr(text)
    half = max(most // 2, 4)
    return f"{(text[:half] + ' ... ' + text[-half:])!r} ({len(text)} characters)"


def number_of(count: int, singular: str, plural: str = "") -> str:
    """A count with its noun.

    >>> number_of(1, "row"), number_of(3, "row")
    ('1 row', '3 rows')
    """
    return f"{count} {singular if count == 1 else plural or singular + 's'}"


def sorted_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Errors, then warnings, then notes; each by file and line."""
    return tuple(sorted(findings, key=lambda f: (_ORDER[f.severity], f.file, f.line or 0, f.code, f.column)))


def about_lines(
    severity: Severity, code: str, lines: Sequence[int], found: str, **facts: Any
) -> Finding:
    """One finding for a group of lines that share a cause; it stands at the first of them."""
    ordered = tuple(sorted({int(line) for line in lines}))
    return Finding(
        severity, code, found, line=ordered[0] if ordered else None, lines=ordered, rows=max(len(ordered), 1), **facts
    )


def count(findings: Iterable[Finding], severity: Severity) -> int:
    """How many findings have this severity."""
    return sum(1 for finding in findings if finding.severity == severity)
