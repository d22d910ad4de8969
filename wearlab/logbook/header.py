"""Header words -> columns of the dictionary, with everything that is wrong with the header."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wearlab.core.tables import nearest
from wearlab.logbook.columns import ALSO, BARE_WORDS, CLOCKS, COLUMNS, Column
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import short
from wearlab.logbook.table import header_key

_REQUIRED = tuple(column.name for column in COLUMNS.values() if column.need == "required")


@dataclass(frozen=True, slots=True)
class Mapped:
    """One header word that is understood: where it stands, which column it is, and its unit's factor."""

    position: int
    word: str
    column: Column
    factor: float


def map_header(draft: Draft, renamed: Mapping[str, str]) -> list[Mapped]:
    """Understand the header of a draft of one sheet; what is not understood becomes a finding.

    Parameters
    ----------
    draft : Draft
        Receives the findings, and where each column stands.
    renamed : dict of str to str
        The shop's own words and the columns that they mean.
    """
    part = draft.parts[0]
    mapped: dict[str, Mapped] = {}
    for position, word in enumerate(part.sheet.header):
        key = header_key(word)
        if key in renamed:
            draft.note("renamed_column", f"{word!r} read as {renamed[key]}", column=word)
            key = renamed[key]
        name, factor = ALSO.get(key, (key, 1.0))
        if name in mapped:
            _two_of_one(draft, mapped[name].word, word)
        elif name in COLUMNS:
            mapped[name] = Mapped(position, word, COLUMNS[name], factor)
        elif key in BARE_WORDS:
            question = BARE_WORDS[key]
            draft.header_error(
                "ambiguous_column",
                f"column {word!r} leaves a question open and was not used",
                column=word,
                hint=question[0].upper() + question[1:],
            )
        elif key:
            _unknown(draft, word, key)
    part.at = {name: item.position for name, item in mapped.items()}
    _missing(draft, set(mapped))
    return list(mapped.values())


def _two_of_one(draft: Draft, first: str, second: str) -> None:
    draft.header_error(
        "two_columns_for_one",
        f"{first!r} and {second!r} hold the same quantity",
        column=second,
        allowed="one column and one unit per quantity",
        hint=f"Only {first!r} was used; take one out",
    )


def _unknown(draft: Draft, word: str, key: str) -> None:
    close = nearest(key, [*COLUMNS, *ALSO])
    if close:
        draft.warn(
            "unknown_column",
            f"column {short(word)} is not known and was not used",
            column=word,
            hint=close[0].upper() + close[1:],
        )
    else:
        draft.note("own_column", f"column {short(word)} is the shop's own and was not used", column=word)


def _missing(draft: Draft, names: set[str]) -> None:
    for column in COLUMNS.values():
        if column.need == "required" and column.name not in names and not _end_only(draft, column):
            draft.header_error(
                "missing_column",
                f"no column {column.name} ({column.meaning})",
                column=column.name,
                allowed=f"a log with the columns {', '.join(_REQUIRED)} and a clock",
                hint=_how_to_add(column, draft, names),
            )
    if not names & set(CLOCKS):
        draft.header_error(
            "missing_column",
            "no clock: nothing says how long a cutter had cut",
            column="cutting_time_min",
            allowed=f"at least one of {', '.join(CLOCKS)}",
            hint="Every row was set aside; add a clock, or map the shop's own word to it under [columns] "
            "in the trial file",
        )
    filled = names - _blank_columns(draft)
    for column in COLUMNS.values():
        if column.need == "expected" and not _family_present(column, filled):
            blank = column.name in names
            draft.warn(
                "column_not_recorded",
                f"column {column.name} is blank in every row ({column.meaning})"
                if blank
                else f"no column {column.name} ({column.meaning})",
                column=column.name,
                hint=f"Without it {column.lost}",
            )


def _blank_columns(draft: Draft) -> set[str]:
    """Columns in which nothing stands, of a log that has rows."""
    part = draft.parts[0]
    if not part.sheet.rows:
        return set()
    wanted = {column.name for column in COLUMNS.values() if column.need == "expected" or column.family}
    return {name for name, at in part.at.items() if name in wanted and bool(part.sheet.columns[at].blank().all())}


def _how_to_add(column: Column, draft: Draft, names: set[str]) -> str:
    if column.name in ("measure", "value", "unit") and "end_reason" in names:
        return "Every row was set aside; a log that only knows when each cutter ended has the measure end in every row"
    return "Every row was set aside; add the column, or map the shop's own word to it under [columns] in the trial file"


def _end_only(draft: Draft, column: Column) -> bool:
    """A log that only knows when each cutter ended has no value and no unit."""
    part = draft.parts[0]
    if column.name not in ("value", "unit") or "measure" not in part.at:
        return False
    return {text.lower() for text in part.sheet.columns[part.at["measure"]].coded().different} <= {"end"}


def _family_present(column: Column, names: set[str]) -> bool:
    if column.family:
        return any(COLUMNS[name].family == column.family for name in names)
    return column.name in names
