"""`wearlab wear`: wear curves and rates."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen


@click.command()
@options.log_argument
@options.criterion
@options.clock
@options.level
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    level: float | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Wear curves of each cutter and zone, and their steady-stage rates.

    The rate is the least-squares slope of the mean land over the flutes, from the end of break-in to the first reading
    at or past the criterion's limit.

    \b
    Example:
      wearlab wear trial.csv --clock cm3 --csv curves.csv
    """
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log
    from wearlab.wear.curves import wear_curves
    from wearlab.wear.rate import wear_rates

    trial = read_log(log)
    column = options.clock_column(clock, trial.clocks())
    curves = wear_curves(trial)
    limit = next((one.limit for one in trial_criteria(trial, criteria)[0] if one.measure in ("VB", "VBmax")), None)
    rates = wear_rates(curves, column, limit, trial.settings.break_in).to_frame(level or trial.settings.level)
    if as_json:
        screen.print_json(
            "wearlab.wear/1",
            {
                "clock": column,
                "limit_mm": limit,
                "break_in": trial.settings.break_in,
                "curves": _curves(curves, rates, column),
            },
        )
    else:
        screen.findings_summary(trial)
        screen.say(
            f"Clock: {column}. Land in mm, mean over the flutes. Rate: mm per unit of the clock, after the first "
            f"{100 * trial.settings.break_in:.0f} % of the age, up to "
            f"{'the last reading' if limit is None else f'{limit:g} mm'}."
        )
        screen.say()
        if rates.empty:
            screen.say("The log holds no wear readings.")
        else:
            screen.table(
                rates,
                [
                    ("cutter", "cutter"),
                    ("measure", "measure"),
                    ("zone", "zone"),
                    ("readings", "readings"),
                    ("rate", "rate"),
                    ("low", "low"),
                    ("high", "high"),
                    ("why_missing", "remark"),
                ],
            )
    if csv_file is not None:
        screen.write_csv(curves.by_zone, csv_file, force)
    screen.leave(trial)


def _curves(curves: Any, rates: Any, clock: str) -> list[dict[str, Any]]:
    """Curves by zone (flute `mean`, with the rate) and by single flute (points alone)."""
    keys = ["cutter", "measure", "zone"]
    rate_of = {tuple(row[key] for key in keys): row for row in rates.to_dict("records")} if len(rates) else {}
    made = []
    for key, curve in curves.by_zone.groupby(keys, sort=False):
        rate = rate_of.get(key, {})
        made.append(
            {
                "cutter": key[0],
                "measure": key[1],
                "zone": key[2],
                "flute": "mean",
                "clock": clock,
                "unit": "mm",
                "points": [
                    {"clock": row[clock], "value": row["mean_mm"], "worst": row["worst_mm"], "flutes": row["flutes"]}
                    for row in curve.to_dict("records")
                ],
                "rate": rate.get("rate"),
                "low": rate.get("low"),
                "high": rate.get("high"),
                "level": rate.get("level"),
                "readings": rate.get("readings"),
                "why_missing": rate.get("why_missing") or None,
            }
        )
    single = curves.by_flute[curves.by_flute["flute"].str.fullmatch(r"\d+")]
    for key, curve in single.groupby([*keys, "flute"], sort=False):
        made.append(
            {
                "cutter": key[0],
                "measure": key[1],
                "zone": key[2],
                "flute": key[3],
                "clock": clock,
                "unit": "mm",
                "points": [{"clock": row[clock], "value": row["value_mm"]} for row in curve.to_dict("records")],
                "rate": None,
                "low": None,
                "high": None,
                "level": None,
                "why_missing": "the rate is taken from the mean over the flutes",
            }
        )
    return made
