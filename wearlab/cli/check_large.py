"""`wearlab check` of a large log: in chunks, in bounded memory, without the rules of doubt."""

from __future__ import annotations

import contextlib
import filecmp
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import click

from wearlab.cli import options, screen
from wearlab.cli.waiting import step
from wearlab.core.errors import FileProblem

if TYPE_CHECKING:
    from wearlab.logbook.large import LogCheck

FROM_BYTES = 32 << 20
"""A log larger than this (some 250,000 rows) is checked in chunks: as a whole it would take minutes and gigabytes."""
CHUNK_BYTES = 8 << 20
"""Small chunks: the rows that are set aside are written in sentences, which takes room beside the rows themselves."""

_LOOKED_AT = (
    "cells, rows, and the order and constants of each cutter. The rules of doubt (slips, exchanged cutters, copies) "
    "and a plan were left out: divide the log to have them."
)


def left_out(checked: LogCheck) -> str:
    """How a large log was checked, and what was left out."""
    if checked.in_chunks:
        return f"The log is large, so it was checked in chunks: {_LOOKED_AT}"
    why = f" (not regular: {checked.why_whole})" if checked.why_whole else ""
    return f"The log is large; it was read as a whole{why}, and not every rule was applied: {_LOOKED_AT}"


def is_large(log: Path) -> bool:
    """Whether a log is to be checked in chunks."""
    with contextlib.suppress(OSError):
        return log.is_file() and log.stat().st_size > FROM_BYTES
    return False


def check_large(
    log: Path, set_aside: Path | None, strict: bool, as_json: bool, csv_file: Path | None, force: bool
) -> None:
    """Check the log, print what was found, and write the rows that are set aside."""
    from wearlab.logbook.large import check_log

    path = set_aside or Path(f"{log.stem}.set-aside.csv")
    with _rows_aside(path, force, asked=set_aside is not None) as stream:
        checked = check_log(
            log,
            set_aside=stream,
            progress=lambda part: step(f"checking {log.name}: {100 * part:.0f} % done"),
            chunk_bytes=CHUNK_BYTES,
        )
    if as_json:
        screen.print_json("wearlab.check/1", facts(checked))
    else:
        _print(checked)
    if csv_file is not None:
        options.write_whole(csv_file, errors_csv(checked), force)
        click.echo(f"Wrote {csv_file} ({checked.errors} errors)", err=True)
    if checked.errors or (strict and any(one.first.severity == "warning" for one in checked.causes)):
        raise click.exceptions.Exit(1)


@contextmanager
def _rows_aside(path: Path, force: bool, asked: bool) -> Iterator[TextIO | None]:
    """A stream for the rows that are set aside; its file appears whole, under its name, when there are any."""
    try:
        handle, name = options.file_beside(path)
    except OSError as error:
        if asked:
            raise FileProblem(f"cannot be written ({error.strerror})", where=str(path)) from None
        click.echo(f"Rows set aside were not written: {path}: cannot be written ({error.strerror})", err=True)
        yield None
        return
    try:
        with os.fdopen(handle, "w+", encoding="utf-8", newline="") as stream:
            yield stream
            stream.seek(0)
            rows = sum(1 for _ in stream) - 1
        if rows > 0:
            _put(Path(name), path, rows, force, asked)
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(name)


def _put(made: Path, path: Path, rows: int, force: bool, asked: bool) -> None:
    told = f"{path} ({rows} rows set aside, as typed, with the reason)"
    if path.exists() and not force:
        if path.is_file() and filecmp.cmp(made, path, shallow=False):
            click.echo(f"Unchanged: {told}", err=True)
            return
        problem = FileProblem(
            "a file stands there already", where=str(path), hint="use --force to replace it, or another name"
        )
        if asked:
            raise problem
        click.echo(f"Rows set aside were not written: {problem.message()}", err=True)
        return
    os.replace(made, path)
    click.echo(f"Wrote {told}", err=True)


def facts(checked: LogCheck) -> dict[str, Any]:
    """The answer in the keys of a small log; findings are the first errors and one for each kind of anything else."""
    counts, digest = checked.counts, checked.digest()
    return {
        "rows_read": counts.rows_read,
        "rows_used": counts.rows_used,
        "rows_set_aside": counts.rows_set_aside,
        "lines_skipped": dict(counts.lines_skipped),
        "corrections": counts.corrections,
        "findings": [one.to_dict() for one in checked.findings],
        "file": checked.source.name,
        "sha256": digest,
        "files": [{"name": checked.source.name, "sha256": digest, "bytes": checked.source.size}],
        "against_plan": None,
        "in_chunks" if checked.in_chunks else "as_a_whole": {
            "left_out": left_out(checked),
            "errors": checked.errors,
            "causes": [
                {"severity": one.first.severity, "code": one.first.code, "column": one.first.column, "rows": one.rows}
                for one in checked.causes
            ],
            "scattered": checked.scattered,
        },
    }


def errors_csv(checked: LogCheck) -> str:
    """Every error as a row of the table of findings; sentences stand beside the first of each kind."""
    from wearlab.logbook.listing import CSV_COLUMNS
    from wearlab.logbook.safety import csv_text

    told = {(one.first.line, one.first.code, one.first.column): one.first for one in checked.causes}
    rows = []
    for line, code, column in checked.blamed().itertuples(index=False, name=None):
        row = {"severity": "error", "code": code, "file": checked.source.name, "line": line, "column": column,
               "rows": 1, "lines": line}  # fmt: skip
        first = told.get((line, code, column))
        if first is not None:
            row |= {"cutter": first.cutter, "found": first.found, "allowed": first.allowed, "hint": first.hint}
        rows.append([row.get(name, "") for name in CSV_COLUMNS])
    return csv_text(CSV_COLUMNS, rows)


def _print(checked: LogCheck) -> None:
    from wearlab.words.counting import counted

    counts = checked.counts
    screen.heading(f"Log {checked.source.name}")
    skipped = sum(counts.lines_skipped.values())
    more = [f"{counted(skipped, 'line')} skipped"] if skipped else []
    more += [f"{counted(counts.corrections, 'correction')} applied"] if counts.corrections else []
    rows = f"{counts.rows_read} rows read = {counts.rows_used} used + {counts.rows_set_aside} set aside"
    screen.say("; ".join([rows, *more]) + ".")
    screen.say(left_out(checked))
    if checked.scattered:
        screen.say("The rows of a cutter do not lie together, so they were sorted first, which took longer.")
    titles = {"error": "Errors: these rows were set aside", "warning": "Warnings: used, and doubtful",
              "note": "Notes: facts and assumptions"}  # fmt: skip
    for severity, title in titles.items():
        own = [one for one in checked.causes if one.first.severity == severity]
        if own:
            screen.say()
            screen.say(f"{title} ({sum(one.rows or 1 for one in own)})")
        for one in own:
            screen.say(f"- {one.text()}")
    if not checked.causes:
        screen.say()
        screen.say("Nothing found.")
