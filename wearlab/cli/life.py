"""`wearlab life`: tool lives."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen


@click.command()
@options.log_argument
@options.criterion
@options.life_clock
@options.units
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    units: str,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Tool lives at each criterion on each clock, with status and bracket.

    exact: crossed between two readings. right: still good at the last reading. left: already past the limit at the
    first. interval: only known to lie between two looks. none: no reading, or no use.

    \b
    Example:
      wearlab life trial.csv --criterion lower:VB.mean=0.2mm --clock parts
    """
    from wearlab.life.doubts import life_doubts
    from wearlab.life.lives import tool_lives, trial_criteria
    from wearlab.logbook.read import read_log
    from wearlab.words.labels import life_label

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    lives = tool_lives(trial, chosen, [options.clock_column(clock, trial.clocks(), derived=True)] if clock else [])
    frame = lives.to_frame()
    doubts = life_doubts(lives)
    if as_json:
        more = {"criteria_chosen": how, "doubts": [asdict(one) for one in doubts]}
        screen.print_json("wearlab.life/1", lives.to_dict() | more)
    else:
        screen.findings_summary(trial)
        screen.say(f"Criteria: {', '.join(one.text for one in chosen)} ({how}).")
        screen.say(f"Rule: {lives.rule}.")
        for criterion in chosen:
            for column in lives.clocks:
                screen.say()
                screen.heading(f"{criterion.text}, {life_label(column).heading(units)}")
                columns: list[tuple[str, Any]] = [
                    ("cutter", "cutter"),
                    ("status", "status"),
                    ("life", life_label(column)),
                ]
                before, past = life_label(column, "last before"), life_label(column, "first past")
                screen.table(
                    lives.select(criterion, column),
                    [
                        *columns,
                        ("bracket_low", before),
                        ("bracket_high", past),
                        ("zone", "zone"),
                        ("cause", "cause"),
                        ("why_missing", "remark"),
                    ],
                    units=units,
                )
        if doubts:
            screen.say()
            screen.heading("Doubts: the readings disagree about the crossing")
            for one in doubts:
                screen.say(f"- cutter {one.cutter}, {one.criterion}: {one.text}")
    if csv_file is not None:
        screen.write_csv(frame, csv_file, force)
    screen.leave(trial)
