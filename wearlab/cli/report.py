"""`wearlab report`: the whole answer as one HTML file."""

from __future__ import annotations

import shlex
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import click

from wearlab.cli import options, screen
from wearlab.cli.held import held_against_plan, plan_option


@click.command()
@options.log_argument
@click.option("--out", type=click.Path(path_type=Path), default=None, metavar="FILE", help="Default: LOG.html, here.")
@options.criterion
@options.clock
@options.by
@options.standard
@options.only
@options.factors
@click.option("--hold", default=None, metavar="n=0.25", help="Hold the Taylor exponent at this value; not fitted.")
@click.option("--against", type=click.Path(path_type=Path), default=None, metavar="LOG",
              help="An earlier trial to stand beside this one.")  # fmt: skip
@plan_option
@click.option("--operators", is_flag=True,
              help="Name who read what, by the initials in the log; they stay out otherwise.")  # fmt: skip
@options.margin
@options.level
@options.units
@options.output
def command(
    log: Path,
    out: Path | None,
    criteria: tuple[str, ...],
    clock: str | None,
    by: str,
    standard: str,
    choose: tuple[str, ...],
    factors: str | None,
    hold: str | None,
    against: Path | None,
    plan: Path | None,
    operators: bool,
    margin: float | None,
    level: float | None,
    units: str,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Write the whole answer as one HTML file that opens from a memory stick.

    The verdict first, then the evidence, then every model, assumption and source. No script, nothing loaded from a
    network. With --json the same record is printed as JSON, and no file is written unless --out names one.

    \b
    Example:
      wearlab report trial.csv --standard layered --out answer.html
    """
    from wearlab.logbook.read import read_log
    from wearlab.report.analysis import analyse
    from wearlab.report.build import build_report
    from wearlab.report.render import render_html

    trial = read_log(log)
    analyse_one = partial(
        analyse,
        criteria=criteria,
        by=by,
        standard=standard,
        only=choose,
        margin=margin,
        level=level,
        units=units,
        factors=options.words(factors) or (),
        held_n=options.exponent(hold, "--hold"),
    )
    analysis = analyse_one(trial, clock=options.clock_column(clock, trial.clocks()))
    analysis = replace(analysis, held=held_against_plan(log, plan, trial))
    before = None
    if against is not None:
        earlier = read_log(against)
        before = analyse_one(earlier, clock=options.clock_column(clock, earlier.clocks()))
    report = build_report(analysis, command=command_line(), before=before, operators=operators)
    if as_json:
        screen.print_json("wearlab.report/1", report.to_dict())
    if out is not None or not as_json:
        path = out or Path(f"{options.stem_of(log)}.html")
        written = options.write_whole(path, render_html(report), force)
        click.echo(f"{'Wrote' if written else 'Unchanged:'} {path}", err=as_json)
    screen.leave(trial)


def command_line() -> str:
    """The command as it can be typed again, without the folder of the program."""
    return shlex.join(["wearlab", *sys.argv[1:]])
