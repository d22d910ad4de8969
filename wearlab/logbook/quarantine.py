"""Rows that were set aside: a file that can be corrected and read back."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from wearlab.core.errors import FileProblem
from wearlab.core.tables import nearest
from wearlab.logbook.bench import DERIVED
from wearlab.logbook.corrections import Correction, cell_of, read_cells
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import Finding
from wearlab.logbook.listing import line_ranges
from wearlab.logbook.safety import csv_text

if TYPE_CHECKING:
    from wearlab.logbook.trial import Trial

OWN_COLUMNS = ("file", "line", "cell", "why", "what", "more_cells")
"""Columns of a quarantine file that are not the log's."""


def quarantine_of(draft: Draft) -> pd.DataFrame:
    """Rows set aside, as typed: `file`, `line`, the cells under their header words, and the codes that say `why`."""
    reasons = draft.why()
    header = list(dict.fromkeys(word for part in draft.parts for word in told_apart(part.sheet.header)))
    rows = []
    for row, codes in reasons.items():
        part = draft.part_of(row)
        cells = dict(zip(told_apart(part.sheet.header), part.sheet.typed_row(row - part.start), strict=True))
        rows.append(
            [draft.file_of(row), draft.line_of(row), *(cells.get(word, "") for word in header), "; ".join(codes)]
        )
    names = ["file", "line", *(_own(word) for word in header), "why"]
    table = pd.DataFrame(rows, columns=pd.Index(names, dtype=object))
    at = [cell_of(part.sheet, row - part.start) for row in reasons if (part := draft.part_of(row))]
    if any(at):
        table.insert(2, "cell", pd.Series(at, dtype=object))
    more = [_more_cells(draft, row) for row in reasons]
    if any(more):
        table.insert(len(names) - 1, "more_cells", pd.Series(more, dtype=object))
    return table


def _more_cells(draft: Draft, row: int) -> str:
    """Cells beyond the header, so that nothing of a crowded row is lost."""
    part = draft.part_of(row)
    return " | ".join(part.sheet.crowded.get(row - part.start, []))


def told_apart(header: list[str]) -> list[str]:
    """Header words; one that stands twice is told apart by its number.

    >>> told_apart(["cutter", "value", "value"])
    ['cutter', 'value', 'value#2']
    """
    seen: dict[str, int] = {}
    words = []
    for word in header:
        seen[word] = seen.get(word, 0) + 1
        words.append(word if seen[word] == 1 else f"{word}#{seen[word]}")
    return words


def _own(word: str) -> str:
    """A log's own column that is called like one of ours is told apart."""
    return f"{word} (log)" if word in OWN_COLUMNS else word


def quarantine_text(trial: Trial) -> str:
    """The rows that were set aside as CSV: correct the cells and read the file back with the log.

    The last columns say why (the codes) and what is wrong (the sentences). See `corrections_from`.
    """
    return rows_aside_text(trial.quarantine, trial.findings)


def rows_aside_text(table: pd.DataFrame, findings: Iterable[Finding]) -> str:
    """A table of `quarantine_of` as CSV, with the sentences of the errors."""
    sentences: dict[tuple[str, int], list[str]] = {}
    for finding in findings:
        if finding.severity == "error":
            text = finding.found + (f"; allowed: {finding.allowed}" if finding.allowed else "")
            for line in finding.lines:
                sentences.setdefault((finding.file, line), []).append(text)
    rows = [
        [*cells, " | ".join(sentences.get((cells[0], cells[1]), []))]
        for cells in table.itertuples(index=False, name=None)
    ]
    return csv_text([*table.columns, "what"], rows)


def corrections_from(path: str | Path, trial: Trial, initials: str = "", date: str = "") -> list[Correction]:
    """What somebody changed in a quarantine file, as corrections of the log.

    Parameters
    ----------
    path : str or pathlib.Path
        The corrected quarantine file; rows that are still as they were, or were taken out, stay set aside.
    trial : Trial
        The log as it was read when the file was written.
    initials, date : str
        Who corrected it, and when (ISO 8601).

    Raises
    ------
    FileProblem
        The file is no quarantine file of this log.
    """
    path = Path(path)
    header, rows = read_cells(path)
    words = [word for word in trial.quarantine.columns if word not in OWN_COLUMNS]
    if "line" not in header or not set(words) & set(header):
        raise FileProblem(
            "not a file of rows that were set aside",
            where=str(path),
            allowed="the columns line, the log's own, and why",
            hint=nearest("line", header),
        )
    old: dict[str, list[dict[str, str]]] = {}
    for row in _records(trial):
        old.setdefault(row["line"], []).append(row)
    strange = sorted({int(cells["line"]) for _, cells in rows if cells["line"].isdigit() and not _row(cells, old)})
    if strange:
        raise FileProblem(
            f"line {line_ranges(strange)} of the log was not set aside",
            where=str(path),
            allowed="rows that were set aside from this log",
            hint="was the log changed in the meantime? Check it again",
        )
    found = []
    for _, cells in rows:
        typed = _row(cells, old)
        for word in words if typed else ():
            if word in cells and cells[word] != typed[word]:
                change = (int(typed["line"]), _column(word, typed), typed[word], cells[word])
                found.append(Correction(*change, f"corrected in {path.name}", initials, date, typed["file"]))
    return list(dict.fromkeys(found))


def _column(word: str, typed: dict[str, str]) -> str:
    """The column that a correction names; on a bench sheet the heading over the reading stands for what it says."""
    cell = typed.get("cell", "")
    if not cell or word not in DERIVED:
        return word
    return cell if word == "value" else f"{cell}: {word}"


def _records(trial: Trial) -> list[dict[str, str]]:
    names = [str(name) for name in trial.quarantine.columns]
    return [
        dict(zip(names, map(str, cells), strict=True)) for cells in trial.quarantine.itertuples(index=False, name=None)
    ]


def _row(cells: dict[str, str], old: dict[str, list[dict[str, str]]]) -> dict[str, str]:
    """The row of the log that a row of the file belongs to; empty where there is none, or more than one."""
    found = [
        row
        for row in old.get(cells["line"], [])
        if all(cells.get(name, row.get(name, "")) in ("", row.get(name, "")) for name in ("file", "cell"))
    ]
    return found[0] if len(found) == 1 else {}
