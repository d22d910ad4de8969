"""What belongs to a cutter, its run or its condition: one row a cutter, the usual value of each column."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wearlab.logbook.columns import with_scope
from wearlab.logbook.cutter_rules import most_frequent, usual_of
from wearlab.logbook.draft import Draft, Words
from wearlab.logbook.order import Looks, changes, stretch
from wearlab.logbook.sheet import Bools, Codes, Floats, Ints


def facts_of(draft: Draft, looks: Looks, names: Collection[str] | None = None) -> pd.DataFrame:
    """One row a cutter that has usable rows, in the order of the looks.

    Parameters
    ----------
    draft : Draft
    looks : Looks
    names : collection of str, optional
        Columns to look at; all that do not belong to a single reading when left out.

    Returns
    -------
    pandas.DataFrame
        `cutter`, and the columns in which anything stands. Where rows of a cutter disagree, the value of most rows.
    """
    present = looks.cutter[looks.new_cutter]
    table: dict[str, object] = {"cutter": _objects(looks.names)[present] if len(looks.names) else _objects([])}
    for column in with_scope("cutter", "run", "condition"):
        if column.name == "cutter" or (names is not None and column.name not in names):
            continue
        values = _usual(draft, looks, present, column.name)
        if values is not None and not _all_blank(values):
            table[column.name] = values
    return pd.DataFrame(table)


def _usual(draft: Draft, looks: Looks, present: Codes, name: str) -> NDArray[Any] | None:
    """One value a cutter; None where the log does not have the column."""
    if name in draft.single:
        return np.full(len(present), draft.single[name])
    if name in draft.numbers:
        values = draft.numbers[name]
        return looks.take(values)[looks.new_cutter] if name in looks.steady else _usual_numbers(values, looks, present)
    return _usual_words(draft.words[name], looks, present) if name in draft.words else None


def _all_blank(values: NDArray[Any]) -> bool:
    """A column in which nothing stands says no more than one that is not there."""
    return bool((values == "").all() if values.dtype == object else np.isnan(values).all())


def _objects(words: Sequence[str]) -> NDArray[np.object_]:
    array = np.empty(len(words), dtype=object)
    array[:] = words
    return array


def _usual_numbers(values: Floats, looks: Looks, present: Codes) -> Floats:
    ordered = looks.take(values)
    result, disputed = _first_known(looks, ordered, np.isnan(ordered))
    for at in disputed:
        own = ordered[stretch(looks.cutter, present[at])]
        result[at] = most_frequent(own[np.isfinite(own)])
    return result


def _usual_words(words: Words, looks: Looks, present: Codes) -> NDArray[np.object_]:
    codes, blank = looks.take(words.codes), looks.take(~words.filled())
    first, disputed = _first_known(looks, codes.astype(float), blank)
    texts = _objects([*words.vocabulary, ""])[np.nan_to_num(first, nan=len(words.vocabulary)).astype(np.int64)]
    for at in disputed:
        own = stretch(looks.cutter, present[at])
        texts[at] = usual_of(Counter(words.vocabulary[code] for code in codes[own][~blank[own]]))
    return texts


def _first_known(looks: Looks, ordered: Floats, blank: Bools) -> tuple[Floats, Ints]:
    """For each cutter its first known value (NaN = none), and which cutters have more than one."""
    result = ordered[looks.new_cutter]
    moved = (ordered[1:] != ordered[:-1]) & ~looks.new_cutter[1:]
    if not blank.any():
        return result, np.unique(np.searchsorted(np.flatnonzero(looks.new_cutter), np.flatnonzero(moved), "right") - 1)
    place = np.cumsum(looks.new_cutter)[~blank] - 1
    known = ordered[~blank]
    new = changes(place)
    result[:] = np.nan
    result[place[new]] = known[new]
    again = np.concatenate([[False], known[1:] != known[:-1]]) & ~new if len(known) else new
    return result, np.unique(place[again])
