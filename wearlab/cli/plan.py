"""`wearlab plan`: before the first chip."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wearlab.cli import options, screen
from wearlab.cli.fit import refusal_facts
from wearlab.core.errors import ArgumentError, FileProblem, Refusal

if TYPE_CHECKING:
    from wearlab.plan.plan import Plan

SCHEMA = "wearlab.plan/1"


@click.command()
@click.argument("plan", type=click.Path(path_type=Path), required=False)
@click.option("--example", is_flag=True, help="Print a whole plan file to start from, and stop.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FOLDER",
    help="Write the sheets, the blank log, the trial file and the plan into FOLDER.",
)
@click.option(
    "--paper",
    type=click.Choice(["A4", "letter"]),
    default="A4",
    show_default=True,
    help="Paper of the sheets.",
)
@click.option(
    "--pilot",
    type=click.Path(path_type=Path),
    default=None,
    metavar="LOG",
    help="Take the scatter between cutters from this log.",
)
@click.option(
    "--against",
    type=click.Path(path_type=Path),
    default=None,
    metavar="LOG",
    help="Hold a log against the plan: order, looks, settings, ends, and what departures cost.",
)
@click.option(
    "--look",
    type=click.Path(path_type=Path),
    default=None,
    metavar="LOG",
    help="Carry on or stop: look at the verdict where the plan has a look, and write the look down.",
)
@click.option(
    "--study",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Measurement study, filled in: what the gauge means for this trial.",
)
@click.option(
    "--seed",
    type=int,
    default=None,
    metavar="N",
    help="Draw the order by this seed; the plan file's without.",
)
@options.output
def command(
    plan: Path | None,
    example: bool,
    out: Path | None,
    paper: str,
    pilot: Path | None,
    against: Path | None,
    look: Path | None,
    study: Path | None,
    seed: int | None,
    as_json: bool,
    csv_file: Path | None,
    force: bool,
) -> None:
    """Plan a trial that can answer its question: settings, cutters, speeds, looks, order, sheets.

    PLAN is a plan file (TOML; --example prints one), or the NAME.plan.json that was written of it. Practices are
    matched to the standard and what stays unmatched is said; the number of cutters follows from the scatter and the
    ratio that must not be missed; the order is drawn by the seed, so that the same seed gives the same sheets.

    \b
    Example:
      wearlab plan --example > shoulder.toml
      wearlab plan shoulder.toml --out trial
      wearlab plan trial/shoulder.plan.json --against trial/shoulder.csv
    """
    if example:
        from wearlab.plan.example import EXAMPLE

        click.echo(EXAMPLE, nl=False)
        return
    if plan is None:
        raise click.UsageError("Name a plan file, or use --example to print one.")
    try:
        found = _made(plan, pilot, seed)
        content = found.to_dict() | _more(found, plan, against, look, study)
    except Refusal as refusal:
        if not as_json:
            raise
        nothing: dict[str, Any] = {"runs": [], "matched": [], "unmatched": [], "power": [], "seed": seed}
        screen.print_json(SCHEMA, nothing | {"refusal": refusal_facts(refusal)})
        return
    if as_json:
        screen.print_json(SCHEMA, content)
    else:
        _show(found, content)
    if csv_file is not None:
        from wearlab.plan.sheets import run_table

        screen.write_csv(run_table(found), csv_file, force)
    if out is not None:
        _write(found, out, paper, force)
    elif not as_json and not (against or look or study):
        screen.say()
        screen.say("Nothing was written: --out FOLDER writes the sheets and the blank log.")


def _made(path: Path, pilot: Path | None, seed: int | None) -> Plan:
    from wearlab.plan.plan import make_plan, read_plan

    found = read_plan(path)
    if pilot is None and seed is None:
        return found
    if path.suffix.lower() == ".json":
        raise ArgumentError(
            "a plan that is written already",
            where="--pilot, --seed",
            allowed="a plan file (TOML)",
            hint="a plan is not drawn again once its sheets are out",
        )
    request = found.request if seed is None else found.request.with_seed(seed)
    if pilot is not None:
        from wearlab.logbook.read import read_log
        from wearlab.plan.scatter import pilot_scatter, with_pilot

        scatter = pilot_scatter(read_log(pilot), found.criteria[0])
        request = replace(request, scatter=with_pilot(request.scatter, scatter))
    return make_plan(request)


def _more(plan: Plan, path: Path, against: Path | None, look: Path | None, study: Path | None) -> dict[str, Any]:
    """What was asked for beside the plan, by key."""
    from wearlab.logbook.read import read_log

    more: dict[str, Any] = {}
    if against is not None:
        from wearlab.plan.against import against_plan

        more["against"] = against_plan(plan, read_log(against)).to_dict()
    if look is not None:
        from wearlab.plan.files import stem_of
        from wearlab.plan.sequential import carry_on, record_look

        trial = read_log(look)
        standing = carry_on(plan, trial)
        ledger = path.with_name(f"{stem_of(plan)}.looks.csv")
        # The look is written down before it is shown: a look that cannot be written down is not made.
        options.write_whole(ledger, record_look(ledger, standing, trial), force=True)
        more["standing"] = standing.to_dict() | {"written_to": ledger.name}
    if study is not None:
        more["study_meaning"] = _study(plan, study)
    return more


def _study(plan: Plan, path: Path) -> dict[str, Any]:
    from wearlab.plan.scatter import sigma_of_cv
    from wearlab.plan.study import study_meaning
    from wearlab.wear.study import measurement_study, read_study

    arm, criterion = plan.matched.arms[0], plan.criteria[0]
    if arm.expected_life_min is None or criterion.measure not in ("VB", "VBmax"):
        raise Refusal(
            "the plan holds no expected life, or its criterion is no wear land",
            where="--study",
            hint="state expected_life_min of the standard, and a criterion such as lower:VB.mean=0.2mm",
        )
    table = read_study(path)
    sigma = sigma_of_cv(plan.request.scatter.cv)
    meaning = study_meaning(
        measurement_study(table), criterion.limit, arm.expected_life_min, sigma, plan.request.cutter.teeth
    )
    return meaning.to_dict()


def _write(plan: Plan, folder: Path, paper: str, force: bool) -> None:
    """All files, or none where one of them stands in the way."""
    from wearlab.plan.files import plan_files, refuse_filled, stem_of
    from wearlab.report.sheets.pages import render_bench_sheets, render_run_sheet, render_study_sheet

    stem = stem_of(plan)
    texts = plan_files(plan) | {
        f"{stem}.run-sheet.html": render_run_sheet(plan, paper),
        f"{stem}.bench-sheets.html": render_bench_sheets(plan, paper),
        f"{stem}.study-sheets.html": render_study_sheet(plan, paper, f"{stem}.study.csv"),
    }
    for name, text in texts.items():
        path = folder / name
        refuse_filled(path, text)
        content = text.encode("utf-8") if isinstance(text, str) else text
        if path.is_file() and not force and path.read_bytes() != content:
            raise FileProblem(
                "a file stands there already",
                where=str(path),
                hint="use --force to replace it, or another folder; nothing was written",
            )
    for name, text in texts.items():
        state = "Wrote" if options.write_whole(folder / name, text, force) else "Unchanged:"
        click.echo(f"{state} {folder / name}", err=True)


def _show(plan: Plan, content: dict[str, Any]) -> None:
    from wearlab.cli.plan_screen import show_against, show_plan, show_standing, show_study

    only_this = [key for key in ("against", "standing", "study_meaning") if key in content]
    if not only_this:
        show_plan(plan)
    if "against" in content:
        show_against(content["against"])
    if "standing" in content:
        show_standing(content["standing"])
    if "study_meaning" in content:
        show_study(content["study_meaning"])
