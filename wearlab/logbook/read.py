"""One file, or several -> one checked Trial."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from wearlab.core.errors import FileProblem
from wearlab.core.tables import natural_sorted
from wearlab.logbook.bench import is_bench_page, read_bench_pages
from wearlab.logbook.check import Checked, Incoming, check_sheets
from wearlab.logbook.corrections import Correction, corrections_beside, read_corrections
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import Source, first_bytes, read_source, source_of
from wearlab.logbook.findings import listed
from wearlab.logbook.pages import open_book, sheet_of_book
from wearlab.logbook.quarantine import quarantine_of
from wearlab.logbook.settings import TrialSettings, settings_beside, settings_file, settings_from
from wearlab.logbook.sheet import Remark, Sheet
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
        them it is shows from its content. Or a folder: every log in it, as one (see `read_logs`).
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
    return read_logs([path], settings, corrections=corrections)


def read_logs(
    paths: Sequence[str | Path],
    settings: TrialSettings | None = None,
    *,
    corrections: Sequence[Correction] | None = None,
    name: str = "",
) -> Trial:
    """Read several files as one log; their order does not matter.

    Parameters
    ----------
    paths : sequence of str or pathlib.Path
        Files of any of the kinds that `read_log` reads, and folders, of which every log is read (see `logs_in`). A file
        with the same content as another is read once.
    settings : TrialSettings, optional
        In place of the trial files beside the logs.
    corrections : sequence of Correction, optional
        In place of the corrections files beside the logs.
    name : str
        Name of the trial where the logs state none; that of a folder, or of the first file, when left out.

    Raises
    ------
    FileProblem
        A file cannot be read at all, or the logs have different trial files.

    Examples
    --------
    >>> from wearlab.logbook.samples import sample_path
    >>> both = read_logs([sample_path("taylor_T01"), sample_path("taylor_T06")], name="two textbooks")
    >>> both.name, len(both.sources), len(both.cutters)
    ('two textbooks', 2, 4)
    """
    given = [Path(path) for path in paths]
    files = natural_sorted({log for path in given for log in (logs_in(path) if path.is_dir() else [path])})
    if not name and len(given) == 1 and given[0].is_dir():
        name = given[0].resolve().name
    if not files:
        raise FileProblem("no log", allowed="one file or more")
    if settings is None and len(files) > 1:
        settings = _common_settings(files)
    incoming: list[Incoming] = []
    for path in files:
        source, sheet, own = sheet_of_file(path, settings)
        twin = next((one for one in incoming if one.source.sha256 == source.sha256), None)
        if twin is not None:
            found = f"{source.name} has the same content as {twin.source.name} and was read once"
            twin.sheet.remarks.append(Remark("note", "same_file_twice", found, twin.source.name))
            continue
        beside = corrections_beside(path) if corrections is None else None
        changes = read_corrections(beside) if beside is not None else corrections or ()
        incoming.append(Incoming(sheet, source, changes, beside.name if beside is not None else ""))
        settings = own
    assert settings is not None
    return trial_of(
        name or files[0].stem, check_sheets(incoming, settings), tuple(one.source for one in incoming), settings
    )


def _common_settings(files: Sequence[Path]) -> TrialSettings | None:
    """The one trial file that belongs to several logs; None when a workbook among them holds its own.

    Raises
    ------
    FileProblem
        There are several, and they differ.
    """
    found = {own: path for path in files if (own := settings_file(path)) is not None}
    contents = {own.read_bytes() for own in found}
    if len(contents) > 1:
        names = listed([own.name for own in found])
        raise FileProblem(
            f"the logs have different trial files ({names})",
            where=str(files[0].parent),
            allowed="one trial file for all of them",
            hint="put one trial.toml beside them",
        )
    return settings_beside(next(iter(found.values()))) if found else None


def logs_in(folder: Path) -> list[Path]:
    """The logs that lie in a folder, in natural order; what the program wrote there itself is passed over.

    Raises
    ------
    FileProblem
        There is none.
    """
    try:
        names = natural_sorted(item for item in folder.iterdir() if item.is_file())
    except OSError as error:
        raise FileProblem(f"cannot be read ({error.strerror})", where=str(folder)) from None
    logs = [item for item in names if item.suffix.lower() in LOG_ENDINGS and not _not_a_log(item)]
    if not logs:
        raise FileProblem(
            "a folder without a log",
            where=str(folder),
            allowed=f"files that end in {', '.join(LOG_ENDINGS)}",
            hint="name the log, or the folder it lies in",
        )
    return logs


LOG_ENDINGS = (".csv", ".tsv", ".xlsx")


def _not_a_log(path: Path) -> bool:
    """Corrections, rows set aside, studies, lists of looks, and what spreadsheets leave behind while a file is open."""
    name = path.name.lower()
    own = name == "corrections.csv" or name.endswith((".corrections.csv", ".set-aside.csv", ".study.csv", ".looks.csv"))
    return own or name.startswith((".", "~$"))


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
    if is_bench_page(rows_of_text(text, 200), settings.columns):
        rows = rows_of_text(text)
        sheet = read_bench_pages([(source.name, rows)], settings.columns, settings.responses)
    else:
        sheet = split_table(text, settings.columns, str(path), source.name, settings.responses)
    return Source(source.name, source.sha256, source.size, source.encoding, sheet.delimiter), sheet, settings


def trial_of(name: str, checked: Checked, sources: tuple[Source, ...], settings: TrialSettings) -> Trial:
    """The trial that a checked log makes; `name` stands where the log states none."""
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
    """Names of the trial that the log states, in natural order."""
    column = draft.word("trial")
    names = natural_sorted({column.vocabulary[code] for code in np.unique(column.codes)} - {""})
    if len(names) > 1:
        draft.warn(
            "two_trials",
            f"the log names {len(names)} trials: {listed(names)}",
            column="trial",
            hint="They were read as one; use --only trial=NAME to keep them apart",
        )
    return names
