"""Plain text for a terminal: aligned tables within 80 columns, wrapped sentences, JSON and CSV."""

from __future__ import annotations

import json
import math
import os
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wearlab.cli.options import write_whole
from wearlab.core.tables import plain
from wearlab.words.units import unit_of

if TYPE_CHECKING:
    import pandas as pd

    from wearlab.logbook.trial import Trial
    from wearlab.words.labels import Label

WIDTH = 80
SQUEEZED = 0.6
"""A text column narrower than this part of its longest text is numbered instead."""
MOST_NOTES = 9


def say(text: str = "", indent: int = 0) -> None:
    """One paragraph, wrapped; the lines of an item that begins with a dash hang behind it."""
    if not text:
        click.echo()
        return
    pad = " " * indent
    hang = pad + "  " * text.startswith("- ")
    for line in textwrap.wrap(
        text, WIDTH, initial_indent=pad, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False
    ):
        click.echo(line)


def heading(text: str) -> None:
    """A heading with a rule under it."""
    click.echo(text if os.environ.get("NO_COLOR") else click.style(text, bold=True))
    click.echo("-" * min(len(text), WIDTH))


def number(value: Any, digits: int = 4) -> str:
    """A cell of a table: four figures, a dash where there is nothing, 'none' where there is no bound.

    >>> number(0.123456), number(float("nan")), number(float("inf")), number("E1")
    ('0.1235', '-', 'no limit', 'E1')
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "-"
    if isinstance(value, float):
        if math.isinf(value):
            return "no limit"
        return f"{value:.{digits}g}" if abs(value) < 1e5 else f"{value:,.0f}"
    return str(value)


def table(
    frame: pd.DataFrame, columns: Sequence[tuple[str, str | Label]], rows: int = 200, units: str = "metric"
) -> None:
    """Aligned columns, numbers to the right; text columns give way so that a line keeps to the width.

    A text column that is empty is left out. Remarks that would be squeezed into a narrow column are numbered, and
    stand under the table.

    Parameters
    ----------
    frame : pandas.DataFrame
    columns : sequence of (str, str or Label)
        Column of the frame and the heading over it; a `Label` shows the figures in the reader's unit. A unit that
        stands over the column before is not repeated.
    rows : int
        Most rows to print; the rest is counted.
    units : str
        metric or inch.
    """
    shown = frame.head(rows)
    columns = [one for one in columns if shown[one[0]].dtype.kind in "if" or any(map(str, shown[one[0]]))] or columns
    cells = [_cells(shown[name], head, units) for name, head in columns]
    heads = _heads([head for _, head in columns], units)
    right = [shown[name].dtype.kind in "if" for name, _ in columns]
    widths = _widths(heads, cells, right)
    notes: list[str] = []
    for at in range(len(cells)):
        if not right[at] and widths[at] < SQUEEZED * max(map(len, cells[at]), default=0):
            cells[at] = _numbered(cells[at], notes)
    widths = _widths(heads, cells, right)
    _lines(heads, widths, right)
    click.echo("  ".join("-" * width for width in widths))
    for row in zip(*cells, strict=True):
        _lines(row, widths, right)
    for at, note in enumerate(notes, start=1):
        say(f"({at}) {note}")
    if len(frame) > rows:
        click.echo(f"... and {len(frame) - rows} more rows; --csv FILE writes them all")


def _widths(heads: Sequence[str], cells: Sequence[Sequence[str]], right: Sequence[bool]) -> list[int]:
    """Width of each column, narrowed until a line fits."""
    widths = [max([len(head), *map(len, column)]) for head, column in zip(heads, cells, strict=True)]
    longest_words = [max((len(word) for cell in column for word in cell.split()), default=0) for column in cells]
    _narrow(widths, list(right), [max(len(head), word) for head, word in zip(heads, longest_words, strict=True)])
    for at in sorted(range(len(widths)), key=lambda i: -len(heads[i])):  # then headings go on two lines
        words = max(len(word) for word in [*heads[at].split(), *cells[at]])
        over = sum(widths) + 2 * (len(widths) - 1) - WIDTH
        if right[at] and over > 0:
            widths[at] = max(words, widths[at] - over)
    return widths


def _numbered(cells: list[str], notes: list[str]) -> list[str]:
    """Numbers in place of texts, which go among the notes; as they are where there are too many different ones."""
    different = [text for text in dict.fromkeys(cells) if text and text not in notes]
    if len(different) > MOST_NOTES or len(different) > len(cells) / 2 + 1:
        return cells
    notes += different
    return [f"({notes.index(text) + 1})" if text else "" for text in cells]


def _heads(heads: Sequence[str | Label], units: str) -> list[str]:
    before, made = "", []
    for head in heads:
        kind = "" if isinstance(head, str) else head.kind
        same = isinstance(head, str) or (kind != "" and kind == before)
        made.append(str(head if isinstance(head, str) else head.text if same else head.heading(units)))
        before = kind
    return made


def _cells(column: pd.Series, head: str | Label, units: str) -> list[str]:
    if isinstance(head, str):
        return [number(cell) for cell in column]
    if not head.kind:
        return [str(cell) for cell in column]
    factor = unit_of(head.kind, units).factor
    return [number(float(cell) * factor) for cell in column]


def _narrow(widths: list[int], right: list[bool], floors: list[int]) -> None:
    """Narrow the widest text column until the line fits; words are broken only when nothing else is left."""
    for least in (floors, [6] * len(widths)):
        while sum(widths) + 2 * (len(widths) - 1) > WIDTH:
            texts = [i for i, numeric in enumerate(right) if not numeric and widths[i] > least[i]]
            if not texts:
                break
            widest = max(texts, key=lambda i: widths[i])
            widths[widest] -= 1


def _lines(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> None:
    """One row; a text that is too long for its column goes on in the line below."""
    folded = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, widths, strict=True)]
    for at in range(max(map(len, folded))):
        parts = [lines[at] if at < len(lines) else "" for lines in folded]
        aligned = [
            part.rjust(width) if numeric else part.ljust(width)
            for part, width, numeric in zip(parts, widths, right, strict=True)
        ]
        click.echo("  ".join(aligned).rstrip())


def print_json(schema: str, content: dict[str, Any]) -> None:
    """One object with its schema; no infinity and no NaN."""
    click.echo(json.dumps(plain({"schema": schema} | content), indent=2, ensure_ascii=False, allow_nan=False))


def write_csv(frame: pd.DataFrame, path: Path, force: bool) -> None:
    """Write a table as CSV; text that a spreadsheet would take for a formula is written with an apostrophe."""
    write_whole(path, csv_text(frame), force)
    click.echo(f"Wrote {path} ({len(frame)} rows)", err=True)


def csv_text(frame: pd.DataFrame) -> str:
    """A table as CSV text."""
    safe = frame.copy()
    for name in safe.columns:
        if safe[name].dtype.kind not in "if":
            safe[name] = safe[name].map(lambda cell: f"'{cell}" if str(cell)[:1] in "=+-@" and str(cell)[:1] else cell)
    return str(safe.to_csv(index=False, lineterminator="\n"))


def findings_summary(trial: Trial) -> None:
    """One line on what the log was worth, wherever a result is printed."""
    counts = trial.counts
    rows = f"{counts.rows_read} rows read, {counts.rows_used} used, {counts.rows_set_aside} set aside"
    text = f"{log_name(trial)}: {rows}"
    say(f"{text}." + (" Look at them with `wearlab check`." if counts.rows_set_aside else ""))


def log_name(trial: Trial) -> str:
    """Name of the file, or of the trial and how many files it is made of."""
    files = len(trial.sources)
    return trial.sources[0].name if files == 1 else f"{trial.name} ({files} files)"


def leave(trial: Trial) -> None:
    """Exit with 1 when the log holds errors."""
    if trial.errors():
        raise click.exceptions.Exit(1)
