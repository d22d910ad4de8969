"""Declared responses: their unit is that of the trial file, and values stand in it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.units import TO_MM, length_unit
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed, number_of, short
from wearlab.logbook.settings import Response
from wearlab.logbook.sheet import Bools


def check_responses(draft: Draft, responses: Mapping[str, Response]) -> None:
    """Convert values of declared responses to the declared unit (in `value_mm`); another unit sets its row aside.

    Parameters
    ----------
    draft : Draft
        With the columns `measure`, `unit` and `value_mm`.
    responses : mapping of str to Response
        As the trial file declares them.
    """
    measure = draft.word("measure")
    for name, response in responses.items():
        rows = measure.equal(name) & np.isfinite(draft.number("value")) & draft.good()
        if rows.any():
            _one(draft, response, rows)


def _one(draft: Draft, response: Response, rows: Bools) -> None:
    unit = draft.word("unit")
    typed = [unit.vocabulary[code] for code in np.unique(unit.codes[rows])]
    units = [word for word in typed if word]
    if not response.unit:
        if len({word.lower() for word in units}) > 1:
            draft.warn(
                "response_in_two_units",
                f"{response.name} is typed in {listed([short(word) for word in units])}",
                rows,
                column="unit",
                allowed="one unit",
                hint=f"State the unit of {response.name} in the trial file",
            )
        return
    factors = {word: factor for word in units if (factor := _factor(word, response.unit)) is not None}
    if any(factor != 1.0 for factor in factors.values()):
        scale = np.nan_to_num(unit.mapped(factors), nan=1.0)
        draft.numbers["value_mm"] = np.where(rows, draft.numbers["value_mm"] * scale, draft.numbers["value_mm"])
    strange = rows & unit.where(lambda word: word != "" and word not in factors)
    draft.error(
        "unit_of_response",
        strange,
        lambda row: f"{response.name} in {short(unit.text(row))}",
        column="unit",
        allowed=f"{response.unit}, as the trial file declares it",
        hint="The unit was not guessed: correct it, or the trial file",
    )
    blank = rows & unit.equal("")
    if blank.any():
        count = number_of(int(blank.sum()), "row")
        found = f"{count} with measure {response.name} and no unit: read as {response.unit}"
        draft.note("unit_of_response_blank", found, blank, column="unit")


def _factor(typed: str, declared: str) -> float | None:
    """Typed unit over declared unit; None where they are not the same kind."""
    if typed.strip().lower() == declared.strip().lower():
        return 1.0
    try:
        return TO_MM[length_unit(typed)] / TO_MM[length_unit(declared)]
    except ArgumentError:
        return None
