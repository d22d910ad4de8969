"""`wearlab compare`: groups of cutters against each other."""

from __future__ import annotations

from pathlib import Path

import click

from wearlab.cli import compare_screen, options, screen
from wearlab.cli.fit import refusal_facts
from wearlab.cli.held import say_if_early
from wearlab.core.errors import Refusal


@click.command()
@options.log_argument
@options.criterion
@options.life_clock
@options.by
@options.standard
@options.only
@options.factors
@click.option(
    "--outcome",
    "outcomes",
    multiple=True,
    metavar="WORD",
    help="life, rate, volume or parts (metal removed, parts made by a cutter until its end), wall (metal left at the "
    "floor at one age), wall_growth. Repeatable; life, rate and walls without it.",
)
@options.margin
@click.option(
    "--wall-margin-um",
    type=float,
    default=None,
    metavar="UM",
    help="Smallest difference of walls worth acting on; half the wall tolerance of the trial file without it.",
)
@options.level
@options.units
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    by: str,
    standard: str,
    choose: tuple[str, ...],
    factors: str | None,
    outcomes: tuple[str, ...],
    margin: float | None,
    wall_margin_um: float | None,
    level: float | None,
    units: str,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Compare practices, or any other groups of cutters, in tool life, wear rate and walls.

    The cutter is the unit: readings, flutes and zones are inside it. A ratio is a over b. Verdicts: different, alike
    (for practical purposes), small_but_real, cannot_tell; none below three cutters a side or when the practice is
    tangled with a day, machine, bar or batch.

    \b
    Examples:
      wearlab compare trial.csv --standard layered
      wearlab compare trial.csv --by work_material \\
        --factors feed_per_rev,axial_depth
      wearlab compare trial.csv --outcome life --outcome wall \\
        --outcome wall_growth
    """
    from wearlab.compare.compare import compare
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    say_if_early(log, trial)
    chosen, how = trial_criteria(trial, criteria)
    try:
        found = compare(
            trial,
            chosen[0],
            options.clock_column(clock, trial.clocks(), derived=True),
            by=by,
            standard=standard,
            choose=choose,
            adjust=options.words(factors) or (),
            outcomes=outcomes,
            margin=margin,
            level=level,
            wall_margin_um=wall_margin_um,
        )
    except Refusal as refusal:
        if not as_json:
            raise
        screen.print_json(
            "wearlab.compare/1", {"by": by, "groups": [], "contrasts": [], "refusal": refusal_facts(refusal)}
        )
        return
    if as_json:
        screen.print_json("wearlab.compare/1", found.to_dict())
    else:
        screen.findings_summary(trial)
        compare_screen.print_comparison(found, how, units)
    if csv_file is not None:
        screen.write_csv(found.to_frame(), csv_file, force)
    screen.leave(trial)
