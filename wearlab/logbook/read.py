"""One file -> one checked Trial."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wearlab.logbook.bench import is_bench_page, read_bench_pages
from wearlab.logbook.check import Checked, check_sheet
from wearlab.logbook.corrections import Correction, corrections_beside, read_corrections
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import Source, first_bytes, read_source, source_of
from wearlab.logbook.findings import listed
from wearlab.logbook.pages import open_book, sheet_of_book
from wearlab.logbook.quarantine import quarantine_of
from wearlab.logbook.settings import TrialSettings, settings_beside, settings_from
from wearlab.logbook.sheet import Sheet
from wearlab.logbook.table import rows_of_text, split_table
from wearlab.logbook.tables import tables_of
from wearlab.logbook.trial import Counts, Trial
from wearlab.logbook.workbook import is_workbook, read_pages


def read_log(
    path: str | Path, settings: TrialSettings | None = None, *, corrections: Sequence[Correction] | None = None
) -> Trial:
    """Read and check one log.

    Parameters
    ----------
    path : str or pathlib.Path
        A flat CSV in the columns of the dictionary, a workbook (.xlsx) or a bench sheet (.csv or .xlsx); which of
        them it is shows from its content.
    settings : TrialSettings, optional
        In place of the trial file beside the log.
    corrections : sequence of Correction, optional
        In place of the corrections file beside the log (NAME.corrections.csv, else corrections.csv).

    Raises
    ------
    FileProblem
        The file cannot be read at all. Everything smaller is a finding of the trial.

    Examples
    --------
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> trial.counts.rows_read, trial.counts.rows_set_aside
    (167, 0)
    """
    path = Path(path)
    source, sheet, settings = sheet_of_file(path, settings)
    beside = corrections_beside(path) if corrections is None else None
    if beside is not None:
        corrections = read_corrections(beside)
    file = beside.name if beside is not None else ""
    return _trial(path.stem, check_sheet(sheet, settings, source, corrections or (), file), (source,), settings)


def sheet_of_file(path: Path, settings: TrialSettings | None = None) -> tuple[Source, Sheet, TrialSettings]:
    """One file of any of the three kinds as a table of readings, and the settings that belong to it.

    Raises
    ------
    FileProblem
        The file cannot be read, or is no log.
    """
    if is_workbook(first_bytes(path)):
        book = open_book(read_pages(path), str(path))
        if settings is None:
            settings = settings_from(book.settings, path) if book.settings else settings_beside(path)
        sheet = sheet_of_book(book, settings.columns, str(path), settings.responses)
        return source_of(path, "workbook"), sheet, settings
    settings = settings_beside(path) if settings is None else settings
    source, text = read_source(path)
    rows = rows_of_text(text)
    if is_bench_page(rows, settings.columns):
        sheet = read_bench_pages([(source.name, rows)], settings.columns, settings.responses)
    else:
        sheet = split_table(text, settings.columns, str(path), source.name, settings.responses)
    return Source(source.name, source.sha256, source.size, source.encoding, sheet.delimiter), sheet, settings


def _trial(name: str, checked: Checked, sources: tuple[Source, ...], settings: TrialSettings) -> Trial:
    draft = checked.draft
    tables = tables_of(draft, checked.looks)
    for clock in tables.derived:
        draft.note(
            "clock_derived", f"{clock} was computed from another clock, the feed and the engagement", column=clock
        )
    names = _trial_names(draft)
    aside = int(draft.bad.sum())
    skipped = sum((part.sheet.lines_skipped() for part in draft.parts[1:]), draft.parts[0].sheet.lines_skipped())
    return Trial(
        name=names[0] if names else name,
        sources=sources,
        settings=settings,
        counts=Counts(draft.size, draft.size - aside, aside, dict(skipped), len(checked.corrections)),
        cutters=tables.cutters,
        conditions=tables.conditions,
        runs=tables.runs,
        wear=tables.wear,
        walls=tables.walls,
        responses=tables.responses,
        findings=draft.findings(),
        quarantine=quarantine_of(draft),
        corrections=checked.corrections,
    )


def _trial_names(draft: Draft) -> list[str]:
    """Names of the trial that the log states, in the order in which they stand."""
    column = draft.word("trial")
    names = list(dict.fromkeys(word for word in column.texts() if word))
    if len(names) > 1:
        draft.warn(
            "two_trials",
            f"the log names {len(names)} trials: {listed(names)}",
            column="trial",
            hint="They were read as one; use --only trial=NAME to keep them apart",
        )
    return names
