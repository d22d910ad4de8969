"""`wearlab fit`: tool-life equations."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wearlab.cli import options, screen
from wearlab.core.errors import ArgumentError, Refusal


@click.command()
@options.log_argument
@options.criterion
@options.clock
@options.only
@options.factors
@click.option(
    "--hold", default=None, metavar="n=0.25", help="Hold the Taylor exponent at a handbook value; not fitted."
)
@click.option("--at", "settings", multiple=True, metavar="FACTOR=VALUE,...", help="Life at a setting. Repeatable.")
@click.option("--beyond", is_flag=True, help="Answer --at outside the tested range too, with its brand.")
@options.level
@options.output
def command(
    log: Path,
    criteria: tuple[str, ...],
    clock: str | None,
    choose: tuple[str, ...],
    factors: str | None,
    hold: str | None,
    settings: tuple[str, ...],
    beyond: bool,
    level: float | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Fit a tool-life equation to the lives of a log.

    Without --factors: Taylor's V T^n = C, with practice and work material as groups where they vary. ln T is regressed
    on the settings, never the other way round. Cutters that were still good count as "at least so long".

    \b
    Examples:
      wearlab fit trial.csv --only strategy=layered
      wearlab fit trial.csv --factors feed_per_rev,axial_depth,work_material
      wearlab fit trial.csv --at cutting_speed=75
      wearlab fit one_life.csv --hold n=0.125 --at cutting_speed=24 --beyond
    """
    from wearlab.compare.groups import only
    from wearlab.fit.parameters import parameter_frame, parameters
    from wearlab.fit.predict import predict_life, read_setting
    from wearlab.fit.tool_life import fit_tool_life
    from wearlab.life.lives import tool_lives, trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    column = options.clock_column(clock, trial.clocks())
    level = level or trial.settings.level
    facts = only(trial.facts(), choose)
    try:
        lives = tool_lives(trial, chosen[:1], [column]).to_frame()
        lives = lives[lives["cutter"].isin(facts["cutter"])].reset_index(drop=True)
        fit = fit_tool_life(lives, facts, options.words(factors), _held(hold))
        made = parameters(fit, level)
        answers = [predict_life(fit, read_setting(fit, text), level, beyond) for text in settings]
    except Refusal as refusal:
        if not as_json:
            raise
        screen.print_json(
            "wearlab.fit/1",
            {"criterion": chosen[0].text, "clock": column, "parameters": [], "refusal": refusal_facts(refusal)},
        )
        return
    checks = _published(made, facts)
    if as_json:
        screen.print_json("wearlab.fit/1", _facts(fit, made, answers, checks))
    else:
        screen.findings_summary(trial)
        _print(fit, parameter_frame(made), answers, checks, how)
    if csv_file is not None:
        screen.write_csv(parameter_frame(made), csv_file, force)
    screen.leave(trial)


def _held(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        return float(text.removeprefix("n=").strip())
    except ValueError:
        raise ArgumentError(f"{text!r}", where="--hold", allowed="n=NUMBER, such as n=0.25") from None


def refusal_facts(refusal: Refusal) -> dict[str, str]:
    """A refusal for JSON."""
    return {"reason": refusal.message(), "found": refusal.found, "allowed": refusal.allowed, "hint": refusal.hint}


def _published(made: Any, facts: Any) -> list[Any]:
    """The published ranges of n for these cutters, beside the estimate; they annotate and never fail a fit."""
    from wearlab.published.lookup import compare_with_published, exponents_for

    n = next((one for one in made if one.name == "n" and one.std_error == one.std_error), None)
    n = n or next((one for one in made if one.name == "n" and one.estimate == one.estimate), None)
    if n is None or "cutter_material" not in facts or facts["cutter_material"].nunique() != 1:
        return []
    coating = str(facts["coating"].iloc[0]) if "coating" in facts and facts["coating"].nunique() == 1 else None
    rows = exponents_for(str(facts["cutter_material"].iloc[0]), coating or None)
    return compare_with_published(n.estimate, rows, n.interval if n.interval.unbounded is None else None)


def _facts(fit: Any, made: Any, answers: Any, checks: Any) -> dict[str, Any]:
    line = fit.line
    return {
        "law": fit.law.name,
        "formula": fit.law.formula,
        "method": fit.method,
        "criterion": fit.criterion,
        "clock": fit.clock,
        "lives": fit.lives,
        "censored": fit.censored,
        "groups_added": list(fit.added),
        "parameters": [one.to_dict() for one in made],
        "sigma": fit.sigma,
        "r_squared": line.r_squared if line else None,
        "tested_range": fit.tested_range,
        "predictions": [one.to_dict() for one in answers],
        "left_out": [{"cutter": cutter, "why": why} for cutter, why in fit.left_out],
        "published": [one.to_dict() for one in checks],
    }


def _print(fit: Any, frame: Any, answers: Any, checks: Any, how: str) -> None:
    lives = "1 life" if fit.lives == 1 else f"{fit.lives} lives"
    screen.heading(f"{fit.law.formula}: {lives}" + (f", {fit.censored} of them still good" if fit.censored else ""))
    screen.say(f"Criterion {fit.criterion} ({how}), clock {fit.clock}.")
    screen.say(f"Method: {fit.method}.")
    if fit.added:
        screen.say(f"Groups added because they vary: {', '.join(fit.added)}; one slope is assumed for all of them.")
    for cutter, why in fit.left_out:
        screen.say(f"Left out: {cutter} ({why}).")
    screen.say()
    screen.table(
        frame,
        [
            ("name", "constant"),
            ("estimate", "estimate"),
            ("low", "low"),
            ("high", "high"),
            ("level", "level"),
            ("why_missing", "remark"),
        ],
    )
    if fit.line is not None and fit.line.r_squared == fit.line.r_squared:
        screen.say(f"R2 of ln T: {fit.line.r_squared:.3f}.")
    for one in answers:
        setting = ", ".join(
            f"{key} {value:g}" if isinstance(value, float) else f"{key} {value}" for key, value in one.settings.items()
        )
        limits = "" if one.why_missing else f" ({one.interval.low:.4g} to {one.interval.high:.4g})"
        screen.say()
        screen.say(f"Life at {setting}: {one.life:.4g}{limits}. {one.brand[0].upper()}{one.brand[1:]}.")
    if checks:
        screen.say()
        screen.say("Beside published values of n (they annotate, they decide nothing):")
        for one in checks:
            row = one.row
            limits = row.limits
            span = "" if limits is None else f"{limits[0]:g} to {limits[1]:g}"
            screen.say(
                f"- {one.position}: {row.cutter_material} {span or row.value}; {row.source} ({row.how_known})", 2
            )
