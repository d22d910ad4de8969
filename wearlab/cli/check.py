"""`wearlab check`: is the log sound?"""

from __future__ import annotations

from pathlib import Path

import click

from wearlab.cli import options, screen


@click.command()
@options.log_argument
@click.option("--strict", is_flag=True, help="Warnings count as errors in the exit code.")
@click.option(
    "--set-aside",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Where to write rows that cannot be used (default: LOG.set-aside.csv in this folder).",
)
@options.output
def command(log: Path, strict: bool, set_aside: Path | None, as_json: bool, csv_file: Path | None, force: bool) -> None:
    """Check a log: what is wrong, doubtful or assumed, by file line.

    Nothing is repaired and nothing is dropped in silence: a row that breaks a rule is set aside in a file of its own,
    as it was typed, with the reason. Rows read = rows used + rows set aside.

    \b
    Example:
      wearlab check trial.csv

    \b
    A log needs few columns; one row is one reading:
      cutter,cutting_speed_m_min,cutting_time_min,measure,value,unit
      E1,60,12.5,VB,0.11,mm
      E1,60,25,VB,0.19,mm
    """
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    counts = trial.counts
    if as_json:
        screen.print_json(
            "wearlab.check/1",
            {
                "rows_read": counts.rows_read,
                "rows_used": counts.rows_used,
                "rows_set_aside": counts.rows_set_aside,
                "lines_skipped": dict(counts.lines_skipped),
                "findings": [one.to_dict() for one in trial.findings],
                "file": trial.sources[0].name,
                "sha256": trial.sources[0].sha256,
            },
        )
    else:
        _print(trial)
    if csv_file is not None:
        import pandas as pd

        screen.write_csv(pd.DataFrame([one.to_dict() for one in trial.findings]), csv_file, force)
    if counts.rows_set_aside:
        _write_set_aside(trial, set_aside or Path(f"{log.stem}.set-aside.csv"), force, asked=set_aside is not None)
    if strict and any(one.severity == "warning" for one in trial.findings):
        raise click.exceptions.Exit(1)
    screen.leave(trial)


def _print(trial) -> None:  # type: ignore[no-untyped-def]
    counts = trial.counts
    screen.heading(f"Log {trial.sources[0].name}")
    skipped = sum(counts.lines_skipped.values())
    screen.say(
        f"{counts.rows_read} rows read = {counts.rows_used} used + {counts.rows_set_aside} set aside"
        + (f"; {skipped} lines skipped" if skipped else "")
        + "."
    )
    screen.say(f"{len(trial.cutters)} cutters, {len(trial.wear)} wear readings, {len(trial.walls)} wall readings.")
    for severity, title in (
        ("error", "Errors: these rows were set aside"),
        ("warning", "Warnings: used, but doubtful"),
        ("note", "Notes: facts and assumptions"),
    ):
        own = [one for one in trial.findings if one.severity == severity]
        if own:
            screen.say()
            screen.heading(f"{title} ({len(own)})")
            for one in own:
                screen.say(f"- {one.text()}")
    if not trial.findings:
        screen.say("Nothing found.")


def _write_set_aside(trial, path: Path, force: bool, asked: bool) -> None:  # type: ignore[no-untyped-def]
    from wearlab.core.errors import FileProblem

    try:
        written = options.write_whole(path, screen.csv_text(trial.quarantine), force)
    except FileProblem as problem:
        if asked:
            raise
        click.echo(f"Rows set aside were not written: {problem.message()}", err=True)
        return
    state = "Wrote" if written else "Unchanged:"
    click.echo(f"{state} {path} ({len(trial.quarantine)} rows set aside, as typed, with the reason)", err=True)
