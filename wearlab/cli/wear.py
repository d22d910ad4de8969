"""`wearlab wear`: wear curves and rates."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen, study_screen
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
      wearlab wear trial.csv --study gauge.csv --level 0.9
    """
    from wearlab.life.intervals import reading_error, study_errors
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log
    from wearlab.wear.curves import wear_curves
    from wearlab.wear.rate import wear_rates
    from wearlab.wear.responses import response_trends
    from wearlab.wear.stages import stage_frame, stages_of

    trial = read_log(log)
    column = options.clock_column(clock, trial.clocks())
    curves = wear_curves(trial)
    limit = next((one.limit for one in trial_criteria(trial, criteria)[0] if one.measure in ("VB", "VBmax")), None)
    break_in = trial.settings.break_in
    wanted = trial.settings.level if level is None else level
    rates = wear_rates(curves, column, limit, break_in).to_frame(wanted)
    stages = stage_frame(stages_of(curves, column, break_in))
    judged = _study(study)
    parts = judged.components if judged is not None else None
    error = reading_error(trial, *study_errors(parts)) if parts is not None else reading_error(trial)
    others = response_trends(trial, column, break_in)
    if as_json:
        facts: dict[str, Any] = {
            "clock": column,
            "limit_mm": limit,
            "break_in": break_in,
            "curves": _curves(curves, rates, column),
        }
        facts |= {"rule": _rule(break_in, limit, "metric"), "reading_error": asdict(error)}
        study_facts = judged.to_dict(wanted) | {"life_error": _life_error(judged, rates, wanted)} if judged else None
        more = {"stages": records(stages), "study": study_facts, "responses": others.to_dict(wanted)}
        screen.print_json("wearlab.wear/1", facts | more)
    else:
        screen.findings_summary(trial)
        screen.say(_rule(break_in, limit, units))
        screen.say(f"Error of one reading: {1000 * error.one_mm:.2g} um ({error.source}).")
        _print(rates, stages, column, units)
        _print_responses(others, wanted, units)
        if judged is not None:
            study_screen.print_study(judged, rates, column, wanted)
    if csv_file is not None:
        screen.write_csv(curves.by_zone, csv_file, force)
    screen.leave(trial)


def _study(path: Path | None) -> Any:
    if path is None:
        return None
    from wearlab.wear.study import read_study
    from wearlab.wear.study_reml import study_both_ways

    return study_both_ways(read_study(path))


def _life_error(judged: Any, rates: Any, level: float) -> list[dict[str, Any]]:
    """What reading error alone does to a life at the typical rate: one reading, and the mean of four flutes."""
    positive = rates.loc[rates["rate"] > 0, "rate"] if len(rates) else rates
    made: list[dict[str, Any]] = []
    for flutes in (1, 4) if len(positive) else ():
        rate = float(positive.median())
        anova = judged.anova.life_error(rate, flutes) if judged.anova is not None else None
        if judged.reml is None:
            reml = {"reml_sd": None, "low": None, "high": None, "level": level, "why_missing": judged.why_no_reml}
        else:
            sd, limits = judged.reml.life_error(rate, flutes, level)
            reml = {"reml_sd": sd} | limits.to_dict()
        made.append({"rate_mm": rate, "flutes": flutes, "anova_sd": anova} | reml)
    return made


def _rule(break_in: float, limit: float | None, units: str) -> str:
    """How curves, rates and stages come about, in words."""
    from wearlab.words.rounding import quantity

    until = "the last reading" if limit is None else f"the first reading at or past {quantity(limit, 'land', units)}"
    return (
        f"Mean land over the flutes. Rate: least-squares slope after break-in, the first {100 * break_in:.0f} % of the "
        f"age, up to {until}. Rapid: the clock from which the curve is at least 1.5 times as steep."
    )


def _print(rates: Any, stages: Any, column: str, units: str) -> None:
    from wearlab.words.labels import life_label, rate_label

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


def _print_responses(others: Any, level: float, units: str) -> None:
    """Trends of the readings that the trial file declares."""
    if not others.trends:
        return
    from wearlab.words.responses import name_with_unit, per_clock
    from wearlab.words.units import clock_kind, unit_of

    frame = others.to_frame(level)
    factor = unit_of(clock_kind(others.clock), units).factor
    names = [name_with_unit(*pair) for pair in zip(frame["measure"], frame["unit"], strict=True)]
    frame = frame.assign(what=names, **{name: frame[name] / factor for name in ("trend", "low", "high")})
    screen.say()
    screen.heading("Other readings")
    screen.say(f"Least-squares slope after the first {100 * others.break_in:.0f} % of the age, to the last look.")
    screen.say()
    columns: list[tuple[str, Any]] = [("cutter", "cutter"), ("what", "reading")]
    columns += [("zone", "zone")] if frame["zone"].ne("").any() else []
    columns += [("readings", "used"), ("first", "first"), ("last", "last")]
    columns += [("trend", f"trend {per_clock(others.clock, units)}"), ("low", "from"), ("high", "to")]
    columns += [("why_missing", "remark")] if frame["why_missing"].ne("").any() else []
    screen.table(frame, columns, units=units)


def _monotone(values: Any) -> list[float]:
    """The curve that never falls, closest to the readings (isotonic regression); a look without a mean has none."""
    from wearlab.stats.isotonic import isotonic

    known = values.notna().to_numpy()
    made = values.to_numpy(float).copy()
    if known.any():
        made[known] = isotonic(made[known])
    return [float(one) for one in made]


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
                    {
                        "clock": row[clock],
                        "value": row["mean_mm"],
                        "worst": row["worst_mm"],
                        "flutes": row["flutes"],
                        "monotone": level,
                    }
                    for row, level in zip(curve.to_dict("records"), _monotone(curve["mean_mm"]), strict=True)
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
