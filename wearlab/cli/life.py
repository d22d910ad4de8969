"""`wearlab life`: tool lives."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from wearlab.cli import life_screen, options, screen
from wearlab.core.errors import Refusal


@click.command()
@options.log_argument
@options.criterion
@options.life_clock
@click.option("--flutes", is_flag=True, help="A life for each flute too, beside the worst flute and the mean.")
@options.units
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    flutes: bool,
    units: str,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Tool lives at each criterion on each clock, with status and bracket.

    exact: crossed between two readings. right: still good at the last reading. left: already past the limit at the
    first. interval: only known to lie between two looks. none: no reading, or no use.

    \b
    Examples:
      wearlab life trial.csv --criterion lower:VB.mean=0.2mm --clock parts
      wearlab life trial.csv --criterion VB=0.3mm --clock min --flutes
    """
    from wearlab.life.doubts import life_doubts
    from wearlab.life.lives import tool_lives, trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    lives = tool_lives(trial, chosen, [options.clock_column(clock, trial.clocks(), derived=True)] if clock else [])
    doubts = life_doubts(lives)
    found, left_out = _by_flute(trial, lives) if flutes else ([], [])
    if as_json:
        more: dict[str, Any] = {"criteria_chosen": how, "doubts": [asdict(one) for one in doubts]}
        if flutes:
            more |= {"flutes": [asdict(one) for table in found for one in table], "flutes_refused": left_out}
        screen.print_json("wearlab.life/1", lives.to_dict() | more)
    else:
        screen.findings_summary(trial)
        life_screen.print_lives(lives, chosen, how, doubts, units)
        life_screen.print_flutes(found, left_out, units)
    if csv_file is not None:
        screen.write_csv(_flute_table(found) if flutes else lives.to_frame(), csv_file, force)
    screen.leave(trial)


def _by_flute(trial: Any, lives: Any) -> tuple[list[Any], list[str]]:
    """Lives by flute at each criterion on each clock, and why there are none at some."""
    from wearlab.life.per_flute import lives_by_flute

    found, refused = [], []
    for criterion in lives.criteria:
        try:
            found += [lives_by_flute(trial, criterion, clock) for clock in lives.clocks]
        except Refusal as refusal:
            refused.append(f"{criterion.text}: {refusal.found}")
    return found, refused


def _flute_table(found: list[Any]) -> Any:
    from wearlab.life.per_flute import flute_frame

    return flute_frame(tuple(one for table in found for one in table))
