"""`wearlab demo`: the whole job on the built-in trial."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from wearlab.cli import options, screen, waiting

SAMPLE = "shoulder_demo"


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("wearlab-demo"),
    show_default=True,
    metavar="FOLDER",
    help="Where the log, the trial file and the report go.",
)
@options.units
@options.output
def command(out: Path, units: str, as_json: bool, csv_file: Path | None, force: bool) -> None:
    """Run the whole job on the built-in trial: check, lives, fit, comparison, report.

    The trial is invented and simulated; the truth that made it stands beside it, so that you can see what the tool
    finds again. Everything is written into one folder, which then holds a log to copy from.

    \b
    Example:
      wearlab demo --out try-it
    """
    from wearlab.logbook.read import read_log
    from wearlab.logbook.samples import sample_path
    from wearlab.report.analysis import analyse
    from wearlab.report.build import build_report
    from wearlab.report.render import render_html

    waiting.step("Checking the log")
    shipped = sample_path(SAMPLE)
    log = out / "trial.csv"
    for source, target in (
        (shipped, log),
        (shipped.with_suffix(".toml"), out / "trial.toml"),
        (shipped.with_name(f"{SAMPLE}_truth.json"), out / "truth.json"),
    ):
        options.write_whole(target, source.read_bytes(), force)
    trial = read_log(log)
    waiting.step("Lives, equation, comparison, costs")
    analysis = analyse(trial, units=units)
    waiting.step("Drawing the report")
    report = build_report(analysis, command="wearlab demo")
    options.write_whole(out / "report.html", render_html(report), force)
    if as_json:
        screen.print_json("wearlab.report/1", report.to_dict())
        return
    _print(out, trial, report)


def _print(out: Path, trial, report) -> None:  # type: ignore[no-untyped-def]
    screen.heading("Demonstration trial (invented, simulated)")
    screen.findings_summary(trial)
    for block in report.sections[0].blocks:
        facts = block.to_dict()
        if facts["kind"] == "sentence":
            screen.say()
            screen.say(facts["text"])
    screen.say()
    screen.say(
        f"Open {out / 'report.html'} in a browser. The log is {out / 'trial.csv'}, the trial file {out / 'trial.toml'},"
        f" and {out / 'truth.json'} holds the truth that made them."
    )
    screen.say()
    screen.say("Next, with the same log or your own:")
    log = shlex.quote(str(out / "trial.csv"))
    for line in (
        f"wearlab check {log}",
        f"wearlab compare {log} --clock parts",
        f"wearlab fit {log} --at cutting_speed=75",
    ):
        click.echo(f"  {line}")
