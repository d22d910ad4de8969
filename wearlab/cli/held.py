"""The plan that a log was made from, found and held against it: shared by `check` and `report`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from wearlab.logbook.trial import Trial
    from wearlab.plan.against import AgainstPlan

plan_option = click.option(
    "--plan",
    type=click.Path(path_type=Path),
    default=None,
    metavar="FILE",
    help="Hold the log against this plan (default: the one that the trial file names, or LOG.plan.json beside it).",
)


def held_against_plan(log: Path, plan: Path | None, trial: Trial) -> AgainstPlan | None:
    """The log held against the plan that was named, or that lies beside it; None where there is none.

    A plan that the trial file names and that is not there is said on stderr, and stops nothing.
    """
    from wearlab.plan.beside import plan_beside

    path = plan or plan_beside(log, trial)
    if path is None:
        if trial.settings.plan:
            named = f"{trial.settings.file} names the plan {trial.settings.plan}, which is not there"
            click.echo(f"{named}: the log was not held against it (--plan FILE names another place).", err=True)
        return None
    from wearlab.plan.against import against_plan
    from wearlab.plan.plan import read_plan

    return against_plan(read_plan(path), trial)


def say_if_early(log: Path, trial: Trial) -> None:
    """Say on stderr that a comparison is a look before the end, where the log's plan has cutters that have not run.

    No look is silent: those that a plan allows are made with `wearlab plan --look`, at their own limits.
    """
    from wearlab.core.errors import WearlabError
    from wearlab.plan.beside import plan_beside

    path = plan_beside(log, trial)
    try:
        held = held_against_plan(log, path, trial) if path is not None else None
    except WearlabError:  # a plan that cannot be read is told of by check and report
        return
    if held is None:
        return
    from wearlab.words.planned import early_sentence

    text = early_sentence(held)
    if text:
        click.echo(f"{text} Looks that the plan allows: wearlab plan PLAN --look {log.name}", err=True)
