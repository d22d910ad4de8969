"""An analysis -> the record of a report."""

from __future__ import annotations

from wearlab.report.analysis import Analysis
from wearlab.report.record import Report, Section
from wearlab.report.sections.against import against_section
from wearlab.report.sections.cautions import cautions_section
from wearlab.report.sections.comparison import comparison_section
from wearlab.report.sections.edge import edge_section
from wearlab.report.sections.exposure import exposure_section
from wearlab.report.sections.fairness import fairness_section
from wearlab.report.sections.findings import findings_section
from wearlab.report.sections.judgement import judgement_section
from wearlab.report.sections.lives import lives_section
from wearlab.report.sections.method import method_section
from wearlab.report.sections.money import money_section
from wearlab.report.sections.planned import planned_section
from wearlab.report.sections.provenance import provenance_of, provenance_section
from wearlab.report.sections.published import published_section
from wearlab.report.sections.responses import responses_section
from wearlab.report.sections.survival import survival_section
from wearlab.report.sections.tables import tables_section
from wearlab.report.sections.taylor import taylor_section
from wearlab.report.sections.verdict import headline_title, verdict_section
from wearlab.report.sections.walls import walls_section
from wearlab.report.sections.wear import wear_section
from wearlab.words.counting import counted

EVIDENCE = (
    comparison_section,
    money_section,
    lives_section,
    wear_section,
    edge_section,
    exposure_section,
    walls_section,
    responses_section,
    taylor_section,
    fairness_section,
    planned_section,
    published_section,
    findings_section,
    cautions_section,
)
"""Sections for the engineer, in the order of reading."""


def build_report(
    analysis: Analysis,
    *,
    command: str = "",
    date: str = "",
    before: Analysis | None = None,
    operators: bool = False,
) -> Report:
    """Build the record of a report.

    Parameters
    ----------
    analysis : Analysis
    command : str
        Command that made it, for the record.
    date : str
        Printed where it is given; without it the report has no date and is the same to the byte each time.
    before : Analysis, optional
        An earlier trial, to stand beside this one.
    operators : bool
        Whether initials of operators are named, beside what they read.

    Returns
    -------
    Report

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.report.analysis import analyse
    >>> report = build_report(analyse(read_log(sample_path("taylor_T06"))))
    >>> report.subtitle
    'Trial “taylor_T06” · 2 cutters · ends only, no readings'
    """
    evidence: list[Section] = []
    for make in EVIDENCE:
        section = make(analysis)
        if section is not None:
            evidence.append(section)
    if before is not None:
        evidence.append(against_section(analysis, before))
    workings = [one for one in (judgement_section(analysis), survival_section(analysis)) if one is not None]
    facts = provenance_of(analysis, command, date)
    sections = (
        verdict_section(analysis),
        *evidence,
        *workings,
        method_section(analysis, [*evidence, *workings]),
        tables_section(analysis),
        provenance_section(analysis, facts, operators),
    )
    return Report(headline_title(analysis), _subtitle(analysis), sections, facts, analysis.units)


def _subtitle(analysis: Analysis) -> str:
    trial = analysis.trial
    readings = len(trial.wear) + len(trial.walls) + len(trial.responses)
    parts = [f"Trial “{trial.name}”", counted(len(trial.cutters), "cutter")]
    parts += [counted(readings, "reading")] if readings else ["ends only, no readings"]
    return " · ".join(parts)
