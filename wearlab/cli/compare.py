"""`wearlab compare`: groups of cutters against each other."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen
from wearlab.cli.fit import refusal_facts
from wearlab.core.errors import Refusal


@click.command()
@options.log_argument
@options.criterion
@options.clock
@options.by
@options.standard
@options.only
@options.factors
@click.option("--outcome", "outcomes", multiple=True, metavar="life|rate", help="Outcome to compare; both without it.")
@options.margin
@options.level
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
    level: float | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Compare practices, or any other groups of cutters, in tool life and wear rate.

    The cutter is the unit: readings, flutes and zones are inside it. A ratio is a over b. Verdicts: different, alike
    (for practical purposes), small_but_real, cannot_tell; none below three cutters a side or when the practice is
    tangled with a day, machine, bar or batch.

    \b
    Examples:
      wearlab compare trial.csv --standard layered
      wearlab compare trial.csv --by work_material --factors feed_per_rev,axial_depth
    """
    from wearlab.compare.compare import compare
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    try:
        found = compare(
            trial,
            chosen[0],
            options.clock_column(clock, trial.clocks()),
            by=by,
            standard=standard,
            choose=choose,
            adjust=options.words(factors) or (),
            outcomes=outcomes,
            margin=margin,
            level=level,
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
        _print(found, how)
    if csv_file is not None:
        screen.write_csv(found.to_frame(), csv_file, force)
    screen.leave(trial)


def _print(found: Any, how: str) -> None:
    screen.heading(f"By {found.by}, criterion {found.criterion} ({how})")
    screen.say(f"Clock {found.clock}. A difference under {found.margin:g} times is taken as not worth acting on.")
    screen.say()
    screen.table(
        found.groups,
        [
            ("group", "group"),
            ("outcome", "outcome"),
            ("zone", "zone"),
            ("cutters", "cutters"),
            ("censored", "still good"),
            ("estimate", "typical"),
        ],
    )
    for one in found.contrasts:
        screen.say()
        _contrast(one)
    for shift in found.shifts:
        screen.say()
        _shift(shift)
    if found.fractures.groups["fractures"].sum():
        screen.say()
        screen.say("Chipped or broken (exact limits):")
        screen.table(
            found.fractures.groups,
            [("group", "group"), ("cutters", "cutters"), ("fractures", "fractures"), ("low", "low"), ("high", "high")],
        )
    for (a, b), fair in found.fair.items():
        screen.say()
        screen.say(f"Equal in {a} and {b}: {', '.join(fair.matched) or 'nothing could be compared'}.")
        if fair.unmatched:
            screen.say(f"Not equal: {', '.join(fair.unmatched)}.")
        if fair.not_compared:
            screen.say(f"Not recorded: {', '.join(fair.not_compared)}.")
    for cutter, why in found.left_out:
        screen.say(f"Left out: {cutter} ({why}).")


def _shift(one: Any) -> None:
    """Whether wear moves along the edge."""
    what = "ratio" if one.scale == "ratio" else "share"
    screen.say(
        f"along the edge: {what} of land in {one.zones[0]} to {one.zones[1]} at {one.age:.4g} ({one.clock}): "
        f"{one.a} {one.typical_a:.3g}, {one.b} {one.typical_b:.3g}"
    )
    if not one.why_missing:
        screen.say(f"{one.scale} {one.estimate:.3g}, interval {one.interval.low:.3g} to {one.interval.high:.3g}", 2)
    if one.below:
        screen.say(
            f"below {one.floor_mm:.3g} mm a land is below resolution, not zero ({one.gauge}): so shares, not ratios", 2
        )


def _contrast(one: Any) -> None:
    zone = f" in zone {one.zone}" if one.zone else ""
    screen.say(f"{one.outcome}{zone}: {one.a} over {one.b}, {one.n_a} and {one.n_b} cutters")
    level = f"{100 * one.interval.level:g} %"
    if one.estimate == one.estimate:
        limits = (
            "no interval"
            if one.interval.unbounded == "both"
            else (f"{level} interval {screen.number(one.interval.low)} to {screen.number(one.interval.high)}")
        )
        screen.say(f"{one.scale} {one.estimate:.4g}, {limits}", 2)
    if one.verdict:
        screen.say(f"verdict: {one.verdict}", 2)
    if one.why_missing:
        screen.say(f"no verdict: {one.why_missing}", 2)
    if one.p_value == one.p_value:
        smallest = f"; the smallest it could reach is {one.smallest_p:.2g}" if one.smallest_p == one.smallest_p else ""
        screen.say(f"p {one.p_value:.2g} ({one.p_method}{smallest})", 2)
    if one.smallest_detectable == one.smallest_detectable:
        screen.say(
            f"smallest ratio that this trial would usually show: {one.smallest_detectable:.3g}; cutters a side to "
            f"settle the margin: {one.cutters_to_settle}",
            2,
        )
    if one.predicted is not None and not one.predicted.why_missing:
        band = one.predicted
        screen.say(f"predicted from edge exposure: {band.low:.3g} to {band.high:.3g}; measured: {band.position}", 2)
    screen.say(f"method: {one.method}", 2)
    for note in one.notes:
        screen.say(f"note: {note}", 2)
