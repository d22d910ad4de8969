"""Findings: what is wrong, doubtful or assumed in a log, said where it stands.

An `error` is a row that cannot be used and is set aside; a `warning` is used and doubtful; a `note` is a fact or an
assumption, never a false alarm, and never changes the exit code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, overload

from wearlab.core.tables import nearest

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


class Findings(Sequence[Finding]):
    """All findings of a log: errors, then warnings, then notes, each by file and line.

    A log of a million rows may have a hundred thousand of them, so the sentences are made when they are asked for.

    Parameters
    ----------
    counts : dict of str to int
        How many findings have each severity.
    make : callable
        Makes all of them, in any order.

    >>> findings = Findings({"note": 1}, lambda: [Finding("note", "encoding", "read as UTF-16")])
    >>> len(findings), findings.count_of("error"), findings[0].code
    (1, 0, 'encoding')
    """

    def __init__(self, counts: dict[str, int], make: Callable[[], Iterable[Finding]]) -> None:
        self._counts = counts
        self._make = make
        self._made: tuple[Finding, ...] | None = None

    @classmethod
    def of(cls, findings: Iterable[Finding]) -> Findings:
        """From findings that are there already."""
        made = tuple(findings)
        counts = {severity: count(made, severity) for severity in ("error", "warning", "note")}  # type: ignore[arg-type]
        return cls(counts, lambda: made)

    def _all(self) -> tuple[Finding, ...]:
        if self._made is None:
            self._made = sorted_findings(self._make())
        return self._made

    def count_of(self, severity: Severity) -> int:
        """How many findings have this severity; makes no sentence."""
        return self._counts.get(severity, 0)

    def __len__(self) -> int:
        return sum(self._counts.values())

    @overload
    def __getitem__(self, at: int) -> Finding: ...
    @overload
    def __getitem__(self, at: slice) -> Sequence[Finding]: ...
    def __getitem__(self, at: int | slice) -> Finding | Sequence[Finding]:
        return self._all()[at]

    def __iter__(self) -> Iterator[Finding]:
        return iter(self._all())

    def __eq__(self, other: object) -> bool:
        return isinstance(other, (Findings, tuple, list)) and self._all() == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all())

    def __repr__(self) -> str:
        return f"<Findings: {', '.join(f'{number_of(n, name)}' for name, n in self._counts.items() if n) or 'none'}>"


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


@lru_cache(maxsize=512)
def closest(word: str, words: tuple[str, ...]) -> str:
    """A hint that names the closest known word, or an empty text; a slip that many rows share is looked up once."""
    return nearest(word, words)


def number_of(count: int, singular: str, plural: str = "") -> str:
    """A count with its noun.

    >>> number_of(1, "row"), number_of(3, "row")
    ('1 row', '3 rows')
    """
    return f"{count} {singular if count == 1 else plural or singular + 's'}"


def listed(words: Iterable[object], last: str = "and", most: int = 8) -> str:
    """Words as a list in a sentence, cut when there are many.

    >>> listed([4, 18]), listed("abc"), listed(range(20), most=3)
    ('4 and 18', 'a, b and c', '0, 1, 2 and 17 more')
    """
    texts = [str(word) for word in words]
    if len(texts) > most:
        return f"{', '.join(texts[:most])} {last} {len(texts) - most} more"
    return f"{', '.join(texts[:-1])} {last} {texts[-1]}" if len(texts) > 1 else "".join(texts)


def sorted_findings(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Errors, then warnings, then notes; each by file and line."""
    return tuple(sorted(findings, key=lambda f: (_ORDER[f.severity], f.file, f.line or 0, f.code, f.column)))


def count(findings: Iterable[Finding], severity: Severity) -> int:
    """How many findings have this severity."""
    if isinstance(findings, Findings):
        return findings.count_of(severity)
    return sum(1 for finding in findings if finding.severity == severity)
