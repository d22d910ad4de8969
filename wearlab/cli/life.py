"""`wearlab life`: tool lives."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import click

from wearlab.cli import options, screen


@click.command()
@options.log_argument
@options.criterion
@options.clock
@options.output
def command(
    log: Path, criteria: tuple[str, ...], clock: str | None, as_json: bool, csv_file: Path | None, force: bool
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

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    lives = tool_lives(trial, chosen, [options.clock_column(clock, trial.clocks())] if clock else [])
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
                screen.heading(f"{criterion.text}, {column}")
                screen.table(
                    lives.select(criterion, column),
                    [
                        ("cutter", "cutter"),
                        ("status", "status"),
                        ("life", "life"),
                        ("bracket_low", "last before"),
                        ("bracket_high", "first past"),
                        ("zone", "zone"),
                        ("cause", "cause"),
                        ("why_missing", "remark"),
                    ],
                )
        if doubts:
            screen.say()
            screen.heading("Doubts: the readings disagree about the crossing")
            for one in doubts:
                screen.say(f"- cutter {one.cutter}, {one.criterion}: {one.text}")
    if csv_file is not None:
        screen.write_csv(frame, csv_file, force)
    screen.leave(trial)
