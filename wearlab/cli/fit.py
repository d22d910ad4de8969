"""`wearlab fit`: tool-life equations."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from wearlab.cli import fit_screen, options, screen
from wearlab.core.errors import Refusal


@click.command()
@options.log_argument
@options.criterion
@options.life_clock
@options.only
@options.factors
@click.option(
    "--hold", default=None, metavar="n=0.25", help="Hold the Taylor exponent at a handbook value; not fitted."
)
@click.option(
    "--scatter",
    type=click.Choice(["lognormal", "weibull", "loglogistic"]),
    default="lognormal",
    show_default=True,
    help="Scatter of the lives about the equation.",
)
@click.option("--slopes-by", default=None, metavar="COLUMN", help="A Taylor exponent for each group, scatter pooled.")
@click.option(
    "--prior", default=None, metavar="n=0.25", help="Show the fit with a published exponent beside the fit without."
)
@click.option(
    "--rival", default=None, metavar="COLUMN,...", help="Other factors: which equation predicts unseen cutters better?"
)
@click.option("--judge", is_flag=True, help="Residuals, the pull of each cutter, bends, other laws of scatter.")
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
    scatter: str,
    slopes_by: str | None,
    prior: str | None,
    rival: str | None,
    judge: bool,
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
      wearlab fit trial.csv --at cutting_speed=75 --judge
      wearlab fit trial.csv --slopes-by work_material
      wearlab fit trial.csv --rival cutting_speed,cutting_speed^2,strategy
      wearlab fit one_life.csv --hold n=0.125 --at cutting_speed=24 --beyond
    """
    from wearlab.fit.parameters import parameter_frame
    from wearlab.life.lives import trial_criteria
    from wearlab.logbook.read import read_log

    trial = read_log(log)
    chosen, how = trial_criteria(trial, criteria)
    column = options.clock_column(clock, trial.clocks(), derived=True)
    wanted = _Wanted(
        choose,
        options.words(factors),
        options.exponent(hold, "--hold"),
        scatter,
        slopes_by,
        options.exponent(prior, "--prior"),
        options.words(rival),
        settings,
        beyond,
        trial.settings.level if level is None else level,
    )
    try:
        found = _answer(trial, chosen[0], column, wanted)
    except Refusal as refusal:
        if not as_json:
            raise
        facts = {"criterion": chosen[0].text, "clock": column, "parameters": [], "refusal": refusal_facts(refusal)}
        screen.print_json("wearlab.fit/1", facts)
        return
    if as_json:
        screen.print_json("wearlab.fit/1", _facts(found))
    else:
        screen.findings_summary(trial)
        fit_screen.print_fit(found.fit, parameter_frame(found.parameters), how)
        fit_screen.print_answers(found.predictions, found.following)
        fit_screen.print_beside(found.by_group, found.with_published, found.published)
        fit_screen.print_rivals(found.rivals)
        if judge:
            fit_screen.print_judgement(found.judgement)
    if csv_file is not None:
        screen.write_csv(parameter_frame(found.parameters), csv_file, force)
    screen.leave(trial)


@dataclass(frozen=True, slots=True)
class _Wanted:
    choose: tuple[str, ...]
    factors: list[str] | None
    held_n: float | None
    scatter: str
    slopes_by: str | None
    prior_n: float | None
    rival: list[str] | None
    settings: tuple[str, ...]
    beyond: bool
    level: float


@dataclass(frozen=True, slots=True)
class _Found:
    fit: Any
    parameters: Any
    predictions: list[Any]
    following: list[Any]
    by_group: Any
    with_published: Any
    rivals: Any
    judgement: Any
    published: list[Any]


def _answer(trial: Any, criterion: Any, clock: str, wanted: _Wanted) -> _Found:
    from wearlab.compare.groups import only
    from wearlab.fit.judgement import judge_fit
    from wearlab.fit.next_cutter import next_cutter
    from wearlab.fit.parameters import parameters
    from wearlab.fit.predict import predict_life, read_setting
    from wearlab.fit.tool_life import fit_tool_life
    from wearlab.life.lives import tool_lives

    facts = only(trial.facts(), wanted.choose)
    lives = tool_lives(trial, [criterion], [clock]).to_frame()
    lives = lives[lives["cutter"].isin(facts["cutter"])].reset_index(drop=True)
    fit = fit_tool_life(lives, facts, wanted.factors, wanted.held_n, wanted.scatter)
    made = parameters(fit, wanted.level)
    at = [read_setting(fit, text) for text in wanted.settings]
    return _Found(
        fit,
        made,
        [predict_life(fit, one, wanted.level, wanted.beyond) for one in at],
        [next_cutter(fit, one, wanted.level, beyond=wanted.beyond, rng=trial.settings.seed) for one in at],
        _by_group(lives, facts, wanted.slopes_by, wanted.level),
        _with_published(fit, wanted.prior_n, wanted.level),
        _rivals(fit, lives, facts, wanted),
        judge_fit(fit, wanted.level),
        _published(made, facts),
    )


def _by_group(lives: Any, facts: Any, by: str | None, level: float) -> Any:
    if by is None:
        return None
    from wearlab.fit.by_group import fit_by_group
    from wearlab.fit.factors import factor_columns, resolve

    used = lives.merge(facts, on="cutter")
    return fit_by_group(used[used["status"] != "none"], resolve(by, factor_columns(facts)), level)


def _rivals(fit: Any, lives: Any, facts: Any, wanted: _Wanted) -> Any:
    if wanted.rival is None:
        return None
    from wearlab.fit.rivals import rivals
    from wearlab.fit.tool_life import fit_tool_life

    other = fit_tool_life(lives, facts, wanted.rival, wanted.held_n, wanted.scatter)
    blocks = dict(zip(facts["cutter"], facts["block"], strict=True)) if "block" in facts else None
    return rivals(fit, other, blocks, wanted.level)


def _with_published(fit: Any, prior: float | None, level: float) -> Any:
    if prior is None:
        return None
    from wearlab.fit.published_prior import with_published

    return with_published(fit, prior, level=level, source="given on the command line")


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


def _facts(found: _Found) -> dict[str, Any]:
    fit = found.fit
    return {
        "law": fit.law.name,
        "formula": fit.law.formula,
        "method": fit.method,
        "scatter": fit.distribution,
        "criterion": fit.criterion,
        "clock": fit.clock,
        "lives": fit.lives,
        "censored": fit.censored,
        "groups_added": list(fit.added),
        "parameters": [one.to_dict() for one in found.parameters],
        "sigma": fit.sigma,
        "r_squared": fit.line.r_squared if fit.line else None,
        "tested_range": fit.tested_range,
        "predictions": [one.to_dict() for one in found.predictions],
        "next_cutter": [one.to_dict() for one in found.following],
        "by_group": found.by_group.to_dict() if found.by_group else None,
        "with_published": found.with_published.to_dict() if found.with_published else None,
        "rivals": found.rivals.to_dict() if found.rivals else None,
        "judgement": found.judgement.to_dict(),
        "left_out": [{"cutter": cutter, "why": why} for cutter, why in fit.left_out],
        "published": [one.to_dict() for one in found.published],
    }
