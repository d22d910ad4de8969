"""What belongs to a cutter, its run or its condition: one row a cutter, the usual value of each column."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearlab.logbook.columns import with_scope
from wearlab.logbook.cutter_rules import most_frequent, usual_of
from wearlab.logbook.draft import Draft, Words
from wearlab.logbook.order import Looks, stretch
from wearlab.logbook.sheet import Floats, Ints


def facts_of(draft: Draft, looks: Looks) -> pd.DataFrame:
    """One row a cutter that has usable rows, in natural order.

    Returns
    -------
    pandas.DataFrame
        `cutter`, and every column of the log that does not belong to a single reading. Where rows of a cutter
        disagree, the value of most rows.
    """
    present = np.unique(looks.cutter)
    table: dict[str, object] = {"cutter": _objects([looks.names[at] for at in present])}
    for column in with_scope("cutter", "run", "condition"):
        if column.name == "cutter":
            continue
        if column.name in draft.numbers:
            table[column.name] = _usual_numbers(draft.numbers[column.name], looks, present)
        elif column.name in draft.words:
            table[column.name] = _usual_words(draft.words[column.name], looks, present)
    return pd.DataFrame(table)


def _objects(words: list[str]) -> NDArray[np.object_]:
    array = np.empty(len(words), dtype=object)
    array[:] = words
    return array


def _usual_numbers(values: Floats, looks: Looks, present: Ints) -> Floats:
    ordered = values[looks.rows]
    known = np.isfinite(ordered)
    result, disputed = _first_known(looks, present, known, ordered)
    for at in disputed:
        own = stretch(looks.cutter, present[at])
        result[at] = most_frequent(ordered[own][known[own]])
    return result


def _usual_words(words: Words, looks: Looks, present: Ints) -> NDArray[np.object_]:
    codes = words.codes[looks.rows]
    known = words.filled()[looks.rows]
    first, disputed = _first_known(looks, present, known, codes.astype(float))
    texts = _objects(["" if np.isnan(code) else words.vocabulary[int(code)] for code in first])
    for at in disputed:
        own = stretch(looks.cutter, present[at])
        texts[at] = usual_of(Counter(words.vocabulary[code] for code in codes[own][known[own]]))
    return texts


def _first_known(looks: Looks, present: Ints, known: NDArray[np.bool_], ordered: Floats) -> tuple[Floats, Ints]:
    """For each cutter its first known value, and which cutters have more than one."""
    cutter, values = looks.cutter[known], ordered[known]
    result = np.full(len(present), np.nan)
    if not len(cutter):
        return result, np.zeros(0, dtype=np.int64)
    new = np.concatenate([[True], cutter[1:] != cutter[:-1]])
    at = np.searchsorted(present, cutter)
    result[at[new]] = values[new]
    moved = ~new & np.concatenate([[False], values[1:] != values[:-1]])
    return result, np.unique(at[moved])
