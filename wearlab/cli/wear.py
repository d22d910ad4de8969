"""`wearlab wear`: wear curves and rates."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen
from wearlab.core.tables import records


@click.command()
@options.log_argument
@options.criterion
@options.clock
@click.option(
    "--study",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Measurement study (part, operator, value, unit): what a reading is worth.",
)
@options.level
@options.units
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    study: Path | None,
    level: float | None,
    units: str,
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
      wearlab wear trial.csv --study gauge.csv
    """
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log
    from wearlab.wear.curves import wear_curves
    from wearlab.wear.rate import wear_rates
    from wearlab.wear.stages import stage_frame, stages_of

    trial = read_log(log)
    column = options.clock_column(clock, trial.clocks())
    curves = wear_curves(trial)
    limit = next((one.limit for one in trial_criteria(trial, criteria)[0] if one.measure in ("VB", "VBmax")), None)
    break_in = trial.settings.break_in
    rates = wear_rates(curves, column, limit, break_in).to_frame(trial.settings.level if level is None else level)
    stages = stage_frame(stages_of(curves, column, break_in))
    judged = _study(study)
    if as_json:
        facts = {"clock": column, "limit_mm": limit, "break_in": break_in, "curves": _curves(curves, rates, column)}
        more = {"stages": records(stages), "study": judged.to_dict() if judged else None}
        screen.print_json("wearlab.wear/1", facts | more)
    else:
        screen.findings_summary(trial)
        _print(rates, stages, column, break_in, limit, units)
        if judged is not None:
            _print_study(judged, rates)
    if csv_file is not None:
        screen.write_csv(curves.by_zone, csv_file, force)
    screen.leave(trial)


def _study(path: Path | None) -> Any:
    if path is None:
        return None
    from wearlab.wear.study import measurement_study, read_study

    return measurement_study(read_study(path))


def _print(rates: Any, stages: Any, column: str, break_in: float, limit: float | None, units: str) -> None:
    from wearlab.words.labels import life_label, rate_label
    from wearlab.words.rounding import quantity

    until = "the last reading" if limit is None else quantity(limit, "land", units)
    screen.say(
        f"Mean land over the flutes; its rate after the first {100 * break_in:.0f} % of the age, up to {until}. Rapid: "
        "the clock from which the curve is at least 1.5 times as steep."
    )
    screen.say()
    if rates.empty:
        screen.say("The log holds no wear readings.")
        return
    rate = rate_label(column, "rate")
    table = rates.merge(stages, on=["cutter", "measure", "zone"], how="left")
    table["what"] = (table["measure"] + " " + table["zone"]).str.strip()
    columns: list[tuple[str, Any]] = [("cutter", "cutter"), ("what", "reading"), ("readings", "used"), ("rate", rate)]
    limits = [("low", rate_label(column, "from")), ("high", rate_label(column, "to"))]
    rapid = ("rapid_from", life_label(column, "rapid"))
    screen.table(table, [*columns, *limits, rapid, ("why_missing", "remark")], units=units)


def _print_study(judged: Any, rates: Any) -> None:
    study, limits = judged.study, judged.gauge_interval()
    screen.say()
    screen.heading("Measurement study")
    screen.say(f"{study.parts} parts, {study.operators} people, {study.repeats} repeats.")
    screen.say(
        f"Standard deviation of repeats {1000 * judged.repeatability_mm:.2g} um; of one reading by anyone "
        f"{1000 * judged.gauge_mm:.2g} um ({1000 * limits.low:.2g} to {1000 * limits.high:.2g})."
    )
    screen.say(f"Two readings of one land may differ by {1000 * judged.difference_mm:.2g} um through chance alone.")
    screen.say(
        f"The gauge takes {100 * judged.share:.0f} % of the scatter in the study (under 10 % good, to 30 % conditional:"
        f" AIAG, Measurement Systems Analysis), {judged.categories:.1f} distinct categories (at least 5)."
    )
    if not judged.operators_seen:
        screen.say("Two people or fewer took part: nothing can be said of people.")
    positive = rates.loc[rates["rate"] > 0, "rate"] if len(rates) else rates
    if len(positive):
        typical = float(positive.median())
        screen.say(
            f"At the typical rate of {typical:.3g} mm, reading error alone makes a life uncertain by "
            f"{judged.life_error(typical, 4):.2g} (standard deviation, mean of four flutes)."
        )


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
