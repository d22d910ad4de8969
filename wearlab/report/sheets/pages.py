"""The sheets of a plan as HTML pages for printing: no script, nothing loaded from elsewhere, black and white."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from importlib.resources import files
from typing import Any

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.logbook.bench_write import BenchPage
from wearlab.plan.plan import Plan
from wearlab.report.sheets.content import bench_content, run_content, study_content
from wearlab.report.sheets.pencil import blank_bench_content

PAPERS = {"A4": "A4", "letter": "letter"}
"""Papers by the word of the option, as CSS names them."""


def render_run_sheet(plan: Plan, paper: str = "A4") -> str:
    """The run sheet, upright.

    Parameters
    ----------
    plan : Plan
    paper : {"A4", "letter"}

    Raises
    ------
    ArgumentError
        The paper is not known.
    """
    return _render("run.html", run_content(plan), paper, "portrait")


def render_bench_sheets(plan: Plan, paper: str = "A4") -> str:
    """One page a cutter (more where a line has no room for all lands), on its side; see `render_run_sheet`."""
    return _render("bench.html", bench_content(plan), paper, "landscape")


def render_study_sheet(plan: Plan, paper: str = "A4", file: str = "the study's file") -> str:
    """The measurement study: which lands, then one page a person and turn; see `render_run_sheet`."""
    return _render("study.html", study_content(plan, file), paper, "portrait")


def render_blank_bench_sheets(pages: Sequence[BenchPage], paper: str = "A4", responses: Iterable[str] = ()) -> str:
    """Bench sheets without a plan, one page a cutter (more where a line has no room for all readings), on its side.

    Parameters
    ----------
    pages : sequence of BenchPage
        As `blank_bench_page` makes them.
    paper : {"A4", "letter"}
    responses : iterable of str
        Measures that the trial file declares.

    Raises
    ------
    ArgumentError
        The paper is not known.
    """
    return _render("pencil.html", blank_bench_content(pages, responses), paper, "landscape")


def _render(template: str, content: dict[str, Any], paper: str, turned: str) -> str:
    from jinja2 import Environment, StrictUndefined

    if paper not in PAPERS:
        raise ArgumentError(
            f"paper {paper!r}", where="--paper", allowed=", ".join(PAPERS), hint=nearest(paper, list(PAPERS))
        )
    room = files("wearlab.report.sheets")
    plain = Environment(autoescape=False, undefined=StrictUndefined)
    style = plain.from_string(room.joinpath("sheet.css").read_text(encoding="utf-8"))
    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    page = made.from_string(room.joinpath(template).read_text(encoding="utf-8"))
    from markupsafe import Markup

    # The style sheet is the project's own text; everything else is escaped.
    css = Markup(style.render(paper=PAPERS[paper], turned=turned))
    return page.render(style=css, **content) + "\n"
