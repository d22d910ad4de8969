"""The card as one HTML page: no script, nothing loaded from elsewhere, made for paper in black and white."""

from __future__ import annotations

from importlib.resources import files

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest
from wearlab.decide.standard import Standard
from wearlab.report.card.content import card_content

PAPERS = {"A4": "A4", "letter": "letter"}
"""Papers by the word of the option, as CSS names them."""


def render_card(standard: Standard, units: str = "metric", paper: str = "A4") -> str:
    """The card of a standard as HTML text.

    Parameters
    ----------
    standard : Standard
    units : {"metric", "inch"}
    paper : {"A4", "letter"}

    Raises
    ------
    ArgumentError
        The paper is not known.

    Examples
    --------
    >>> from wearlab.decide.decide import decide
    >>> from wearlab.decide.standard import standard_of
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("shoulder_demo"))
    >>> decision = decide(trial, draws=2000, sensitivity=False)
    >>> page = render_card(standard_of(trial, decision), paper="letter")
    >>> page.lstrip().lower().startswith("<!doctype html>")
    True
    """
    from jinja2 import Environment, StrictUndefined

    if paper not in PAPERS:
        raise ArgumentError(f"paper {paper!r}", where="--paper", allowed=", ".join(PAPERS),
                            hint=nearest(paper, list(PAPERS)))  # fmt: skip
    text = files("wearlab.report.card").joinpath("card.html").read_text(encoding="utf-8")
    made = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    return made.from_string(text).render(card=card_content(standard, units), paper=PAPERS[paper]) + "\n"
