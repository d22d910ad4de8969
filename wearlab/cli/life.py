"""`wearlab life`: tool lives."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from wearlab.cli import life_screen, options, screen
from wearlab.core.errors import Refusal
from wearlab.core.tables import records


@click.command()
@options.log_argument
@options.criterion
@options.life_clock
@click.option(
    "--study",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Measurement study (part, operator, value, unit): the error of a land reading behind the interval of a life.",
)
@options.level
@click.option("--flutes", is_flag=True, help="A life for each flute too, beside the worst flute and the mean.")
@options.units
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    study: Path | None,
    level: float | None,
    flutes: bool,
    units: str,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Tool lives at each criterion on each clock, with status, bracket and interval.

    exact: crossed between two readings. right: still good at the last reading. left: already past the limit at the
    first. interval: only known to lie between two looks. none: no reading, or no use. The interval of an exact life
    (from, to) holds the error of the readings, from --study, from repeats in the log, or assumed.

    \b
    Examples:
      wearlab life trial.csv --criterion lower:VB.mean=0.2mm --clock parts
      wearlab life trial.csv --criterion VB=0.3mm --clock min --flutes
      wearlab life trial.csv --study gauge.csv --level 0.9
    """
    from wearlab.life.doubts import life_doubts
    from wearlab.life.intervals import coarse_looks, life_intervals, reading_error, with_intervals
    from wearlab.life.lives import tool_lives, trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    lives = tool_lives(trial, chosen, [options.clock_column(clock, trial.clocks(), derived=True)] if clock else [])
    error = reading_error(trial, *_from_study(study))
    intervals = life_intervals(trial, lives, error, trial.settings.level if level is None else level)
    table = with_intervals(lives, intervals)
    doubts = (*life_doubts(lives), *coarse_looks(intervals))
    found, left_out = _by_flute(trial, lives) if flutes else ([], [])
    if as_json:
        more: dict[str, Any] = {
            "rule": lives.rule, "lives": records(table), "criteria_chosen": how,
            "doubts": [asdict(one) for one in doubts], "reading_error": asdict(error),
        }  # fmt: skip
        if flutes:
            more |= {"flutes": [asdict(one) for table in found for one in table], "flutes_refused": left_out}
        screen.print_json("wearlab.life/1", more)
    else:
        screen.findings_summary(trial)
        life_screen.print_lives(lives, table, how, error, units)
        life_screen.print_doubts(doubts)
        life_screen.print_flutes(found, left_out, units)
    if csv_file is not None:
        screen.write_csv(_flute_table(found) if flutes else table, csv_file, force)
    screen.leave(trial)


def _from_study(path: Path | None) -> tuple[float | None, float]:
    """Reading errors from a measurement study, where one is given."""
    if path is None:
        return None, 0.0
    from wearlab.life.intervals import study_errors
    from wearlab.wear.study import read_study
    from wearlab.wear.study_reml import study_both_ways

    return study_errors(study_both_ways(read_study(path)).components)


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
