"""`wearlab check`: is the log sound?"""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen
from wearlab.cli.check_large import check_large, is_large
from wearlab.cli.held import held_against_plan, plan_option
from wearlab.core.errors import ArgumentError, FileProblem


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
@click.option(
    "--corrected",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="A file of rows set aside that somebody corrected: writes LOG.corrections.csv beside the log.",
)
@click.option("--initials", default="", metavar="A.B.", help="Who corrected it.")
@plan_option
@options.output
def command(
    log: Path,
    strict: bool,
    set_aside: Path | None,
    corrected: Path | None,
    initials: str,
    plan: Path | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Check a log, or a folder of logs as one: what is wrong, doubtful or assumed, by file line.

    Nothing is repaired and nothing is dropped in silence: a row that breaks a rule is set aside in a file of its own,
    as it was typed, with the reason. Rows read = rows used + rows set aside. Correct the cells in that file and hand it
    back with --corrected; the log itself stays as it was typed. A log of more than 32 MiB is checked in chunks, without
    the rules of doubt.

    \b
    Examples:
      wearlab check trial.csv
      wearlab check trial.csv --corrected trial.set-aside.csv --initials A.B.

    \b
    A log needs few columns; one row is one reading:
      cutter,cutting_speed_m_min,cutting_time_min,measure,value,unit
      E1,60,12.5,VB,0.11,mm
      E1,60,25,VB,0.19,mm
    """
    if corrected is None and is_large(log):
        if plan is not None:
            raise ArgumentError(
                f"{log} is too large to be held against a plan",
                where="--plan",
                allowed="a log of 32 MiB at most",
                hint="leave --plan out, or divide the log",
            )
        check_large(log, set_aside, strict, as_json, csv_file, force)
        return
    from wearlab.logbook.listing import findings_csv
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    if corrected is not None:
        _correct(log, trial, corrected, initials, force)
        trial = read_log(log)
    held = held_against_plan(log, plan, trial)
    aside = set_aside or Path(f"{options.stem_of(log)}.set-aside.csv")
    if as_json:
        screen.print_json("wearlab.check/1", _facts(trial, held))
    else:
        _print(trial, held)
        aside = set_aside or Path(f"{options.stem_of(log)}.set-aside.csv")
        if any(one.code == "missing_column" for one in trial.findings):
            _say_words(log, trial)
        else:
            _say_next(log, aside if trial.counts.rows_set_aside else None, bool(trial.counts.rows_used))
    if csv_file is not None:
        options.write_whole(csv_file, findings_csv(trial.findings), force)
        click.echo(f"Wrote {csv_file} ({len(trial.findings)} findings)", err=True)
    if trial.counts.rows_set_aside:
        _write_set_aside(trial, aside, force, asked=set_aside is not None)
    if strict and any(one.severity == "warning" for one in trial.findings):
        raise click.exceptions.Exit(1)
    screen.leave(trial)


def _correct(log: Path, trial: Any, corrected: Path, initials: str, force: bool) -> None:
    """Turn a corrected file of rows set aside into the corrections file beside the log."""
    from datetime import date

    from wearlab.logbook.corrections import corrections_csv
    from wearlab.logbook.quarantine import corrections_from
    from wearlab.words.counting import counted

    found = corrections_from(corrected, trial, initials, date.today().isoformat())
    if not found:
        raise FileProblem(
            "nothing in it was changed", where=str(corrected), hint="correct the cells, then hand it back"
        )
    earlier = list(trial.corrections)
    path = log / "corrections.csv" if log.is_dir() else log.with_name(f"{log.stem}.corrections.csv")
    options.write_whole(path, corrections_csv([*earlier, *found], with_file=log.is_dir()), force or bool(earlier))
    click.echo(f"Wrote {path} ({counted(len(found), 'new correction')})", err=True)


def _say_words(log: Path, trial: Any) -> None:
    """How a shop's own header words are mapped, where a required column is missing; lines to copy."""
    lacking = [one.column for one in trial.findings if one.code == "missing_column"]
    own = [one.column for one in trial.findings if one.code in ("own_column", "unknown_column", "ambiguous_column")]
    screen.say()
    if not own:
        screen.say(f"Next: add {', '.join(dict.fromkeys(lacking))}; `wearlab blank` writes a log with every column.")
        return
    screen.say(
        f"Next: if words of the header are your own, write {log.with_suffix('.toml')} with the lines below, each word "
        "with the column that it means, or without its line; README and `wearlab blank` list the columns. Wanted: "
        f"{', '.join(dict.fromkeys(lacking))}."
    )
    click.echo("  [columns]")
    for word in dict.fromkeys(own):
        click.echo(f'  "{word}" = ""')


def _say_next(log: Path, aside: Path | None, usable: bool) -> None:
    """What to type next, each command on a line of its own."""
    name = shlex.quote(str(log))
    screen.say()
    if aside is not None:
        screen.say(f"Next: correct the cells in {aside} and hand it back:")
        click.echo(f"  wearlab check {name} --corrected {shlex.quote(str(aside))} --initials A.B.")
    if usable:
        screen.say("Next:" if aside is None else "Or go on without them:")
        click.echo(f"  wearlab life {name}")
        click.echo(f"  wearlab report {name}")
    elif aside is None:
        screen.say("Next: fill the log in, then check it again.")


def _facts(trial: Any, held: Any) -> dict[str, Any]:
    counts = trial.counts
    return {
        "rows_read": counts.rows_read,
        "rows_used": counts.rows_used,
        "rows_set_aside": counts.rows_set_aside,
        "lines_skipped": dict(counts.lines_skipped),
        "corrections": counts.corrections,
        "findings": [one.to_dict() for one in trial.findings],
        "file": trial.sources[0].name,
        "sha256": trial.sources[0].sha256,
        "files": [{"name": one.name, "sha256": one.sha256, "bytes": one.size} for one in trial.sources],
        "against_plan": held.to_dict() if held is not None else None,
    }


def _print(trial: Any, held: Any) -> None:
    from wearlab.logbook.listing import findings_text
    from wearlab.words.counting import counted

    counts = trial.counts
    screen.heading(f"Log {screen.log_name(trial)}")
    skipped = sum(counts.lines_skipped.values())
    more = [f"{counted(skipped, 'line')} skipped"] if skipped else []
    more += [f"{counted(counts.corrections, 'correction')} applied"] if counts.corrections else []
    rows = f"{counts.rows_read} rows read = {counts.rows_used} used + {counts.rows_set_aside} set aside"
    screen.say("; ".join([rows, *more]) + ".")
    others = f", {counted(len(trial.responses), 'other reading')}" if len(trial.responses) else ""
    screen.say(
        f"{counted(len(trial.cutters), 'cutter')}, {counted(len(trial.wear), 'wear reading')}, "
        f"{counted(len(trial.walls), 'wall reading')}{others}."
    )
    screen.say()
    _lines(findings_text(trial.findings))
    if held is not None:
        screen.say()
        screen.heading("Against the plan")
        _lines(findings_text(held.findings))
        for cost in held.costs:
            screen.say(f"- {_cost(cost)}")


def _cost(cost: Any) -> str:
    """What the departures leave of the forecast, in a sentence."""
    told = f"{cost.left_a} and {cost.left_b} tell"
    what = f"{cost.outcome}, {cost.a} against {cost.b}: planned {cost.planned} cutters each, {told}"
    if cost.why_none:
        return f"{what}; no verdict: {cost.why_none}"
    shown = f"{100 * cost.planned_power:.0f} in 100 as planned, {100 * cost.power:.0f} now"
    return f"{what}; chance of showing the ratio that must not be missed: {shown}"


def _lines(text: str) -> None:
    for line in text.splitlines():
        screen.say(line)


def _write_set_aside(trial: Any, path: Path, force: bool, asked: bool) -> None:
    from wearlab.logbook.quarantine import quarantine_text
    from wearlab.words.counting import counted

    try:
        written = options.write_whole(path, quarantine_text(trial), force)
    except FileProblem as problem:
        if asked:
            raise
        click.echo(f"Rows set aside were not written: {problem.message()}", err=True)
        return
    state = "Wrote" if written else "Unchanged:"
    rows = counted(len(trial.quarantine), "row")
    click.echo(f"{state} {path} ({rows} set aside, as typed, with the reason)", err=True)
