"""Sheets -> one checked draft: every rule in its order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wearlab.logbook.cell_rules import check_cells
from wearlab.logbook.cells import type_cells
from wearlab.logbook.columns import ALSO, CLOCKS
from wearlab.logbook.copy_rules import check_copies
from wearlab.logbook.corrections import Correction, apply_corrections, say_corrections
from wearlab.logbook.curves import lands_of, main_clock
from wearlab.logbook.cutter_rules import check_cutters, check_names
from wearlab.logbook.draft import Draft, Part
from wearlab.logbook.exchange_rules import check_exchanges
from wearlab.logbook.facts import facts_of
from wearlab.logbook.fall_rules import check_falls
from wearlab.logbook.files import Source
from wearlab.logbook.findings import number_of
from wearlab.logbook.header import map_header
from wearlab.logbook.join import joined
from wearlab.logbook.look_rules import check_looks, split_at_changes
from wearlab.logbook.order import Looks, looks_of
from wearlab.logbook.practice_rules import check_practices
from wearlab.logbook.profile_rules import check_profiles
from wearlab.logbook.redundancy import GIVEN, check_given_twice
from wearlab.logbook.response_rules import check_responses
from wearlab.logbook.row_rules import check_rows
from wearlab.logbook.settings import TrialSettings
from wearlab.logbook.sheet import Sheet, nothing_in
from wearlab.logbook.sister_rules import check_sisters
from wearlab.logbook.slip_rules import check_slips
from wearlab.logbook.table import header_key


@dataclass(frozen=True, slots=True)
class Checked:
    """A log to which every rule has been applied."""

    draft: Draft
    looks: Looks
    corrections: tuple[Correction, ...] = ()


@dataclass(frozen=True, slots=True)
class Incoming:
    """One file on its way in: its cells, how it was read, and the corrections that belong to it."""

    sheet: Sheet
    source: Source
    corrections: Sequence[Correction] = ()
    corrections_file: str = ""


def check_sheets(files: Sequence[Incoming], settings: TrialSettings) -> Checked:
    """Type the cells of one or several sheets, put them together and apply every rule.

    Parameters
    ----------
    files : sequence of Incoming
    settings : TrialSettings
        For the shop's own header words and declared responses.
    """
    drafts, applied = [], []
    for file in files:
        done = apply_corrections(file.sheet, file.corrections)
        draft = typed_draft(file.sheet, settings, file.source)
        say_corrections(draft, file.corrections_file, done)
        applied += [one for one, problem in done if not problem]
        drafts.append(draft)
    draft = joined(drafts)
    looks = check_errors(draft, settings)
    _doubts(draft, looks, settings)
    return Checked(draft, looks, tuple(applied))


def check_errors(draft: Draft, settings: TrialSettings) -> Looks:
    """Apply every rule that may set a row aside; returns the order of the rows that are left."""
    if draft.broken.all():
        return looks_of(draft)
    check_cells(draft)
    check_rows(draft, settings.responses)
    check_responses(draft, settings.responses)
    looks = check_cutters(draft)
    bad = int(draft.bad.sum())
    check_given_twice(draft, looks, facts_of(draft, looks, GIVEN))
    return looks if int(draft.bad.sum()) == bad else looks_of(draft)


def _doubts(draft: Draft, looks: Looks, settings: TrialSettings) -> None:
    """Rules that set nothing aside: what one rule has explained, the next does not blame again."""
    facts = facts_of(draft, looks)
    check_names(draft)
    check_practices(draft, facts)
    lands = lands_of(draft, looks, main_clock(draft))
    check_profiles(draft, looks, lands, settings)
    check_sisters(draft, looks, lands, facts)
    check_copies(draft, lands)
    lands = split_at_changes(draft, looks, lands)
    lands = lands.pick(~check_exchanges(draft, lands))
    lands = lands.pick(~check_looks(draft, lands))
    lands = lands.pick(~check_slips(draft, lands))
    check_falls(draft, lands)


def typed_draft(sheet: Sheet, settings: TrialSettings, source: Source) -> Draft:
    """Cells of one sheet under their standard names, with what is wrong with the sheet as a whole."""
    _skip_unfilled(sheet, settings)
    draft = Draft([Part(sheet)])
    _say_how_read(draft, sheet, source)
    _broken_lines(draft, sheet)
    mapped = map_header(draft, settings.columns)
    if any(blame.code == "missing_column" for blame in draft.blames):
        draft.bad[:] = draft.broken[:] = True  # no row is a reading, and nothing more is said of any
    type_cells(draft, mapped)
    return draft


def _skip_unfilled(sheet: Sheet, settings: TrialSettings) -> None:
    """Rows of a printed log that nobody has filled in: no clock, no value, no end."""
    keys = [header_key(word) for word in sheet.header]
    names = [ALSO.get(key, (key, 1.0))[0] for key in (settings.columns.get(key, key) for key in keys)]
    if "value" not in names or not set(CLOCKS) & set(names):
        return
    asked = [
        column for name, column in zip(names, sheet.columns, strict=True) if name in (*CLOCKS, "value", "end_reason")
    ]
    empty = nothing_in(asked, sheet.rows)
    empty[list(sheet.crowded) + sheet.unclosed] = False
    if "measure" in names:
        empty &= ~sheet.columns[names.index("measure")].blank()
    if empty.any():
        sheet.skip_rows(empty, "not filled in")


def _say_how_read(draft: Draft, sheet: Sheet, source: Source) -> None:
    if source.encoding not in ("UTF-8", "workbook", ""):
        draft.note("encoding", f"read as {source.encoding}")
    if sheet.delimiter not in ("comma", ""):
        draft.note("delimiter", f"cells are divided by {sheet.delimiter}")
    for kind, lines in sheet.skipped.items():
        draft.note("lines_skipped", f"{number_of(len(lines), kind + ' line')} skipped", lines=lines)
    for remark in sheet.remarks:
        draft.remark(remark)
    if not sheet.rows:
        blank = "not filled in" in sheet.skipped
        draft.header_error(
            "no_rows",
            "no row is filled in yet" if blank else "a header and no row under it",
            allowed="one row a reading",
            hint="Type the first readings" if blank else "Is this the right file, and was it saved?",
        )


def _broken_lines(draft: Draft, sheet: Sheet) -> None:
    width = len(sheet.header)
    draft.broken_error(
        "quote_never_closes",
        sheet.unclosed,
        "a quote opens on this line and never closes",
        hint="Take the quote out, or close it; the lines after it were read as rows of their own",
    )
    draft.broken_error(
        "too_many_cells",
        sheet.crowded,
        lambda row: f"{width + len(sheet.crowded[row])} cells under {number_of(width, 'column name')}",
        allowed=f"up to {number_of(width, 'cell')}",
        hint="A decimal comma, or a comma in a note? Put the cell in quotes",
    )
