"""Which cutters belong to which group, and which of them may be compared.

Groups are compared on the ground they share: where a condition such as the speed varies inside the groups and some of
its levels occur in both, cutters at other levels are left out of the comparison and named.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import natural_sorted
from wearlab.fit.factors import factor_columns, resolve, without_unit
from wearlab.logbook.columns import COLUMNS

SHARED = ("work_material", "cutter_material", "coating", "diameter_mm", "teeth", "cutting_speed_m_min", "coolant")
"""Conditions of which both groups must share the levels, unless they are compared themselves or adjusted for."""
SAME = 1.01
"""Numbers whose ratio is no larger are one level of a condition."""


@dataclass(frozen=True, slots=True)
class Grouping:
    """Cutters by group.

    Attributes
    ----------
    by : str
        Column that makes the groups.
    facts : pandas.DataFrame
        As `Trial.facts`, with a text column `group`.
    names : tuple of str
        Groups in natural order.
    left_out : tuple of (str, str)
        Cutters without a group, and why.
    """

    by: str
    facts: pd.DataFrame
    names: tuple[str, ...]
    left_out: tuple[tuple[str, str], ...]


def only(facts: pd.DataFrame, choices: Sequence[str]) -> pd.DataFrame:
    """Keep the cutters that `column=value` names.

    Raises
    ------
    ArgumentError
        A choice has another form, or a value that no cutter holds.
    """
    for choice in choices:
        word, equals, value = choice.partition("=")
        if not equals:
            raise ArgumentError(f"{choice!r}", where="--only", allowed="column=value, such as strategy=side")
        column = resolve(word, [str(name) for name in facts.columns])
        kept = facts[facts[column].map(lambda cell, value=value: _matches(cell, value))]
        if kept.empty:
            levels = natural_sorted({_label(cell) for cell in facts[column]})
            raise ArgumentError(f"no cutter with {column} {value!r}", where="--only", allowed=", ".join(levels))
        facts = kept
    return facts.reset_index(drop=True)


def _matches(cell: object, value: str) -> bool:
    if _label(cell) == value.strip():
        return True
    try:
        return isinstance(cell, float) and abs(cell - float(value)) <= 1e-9 * max(1.0, abs(cell))
    except ValueError:
        return False


def _label(cell: object) -> str:
    return f"{cell:g}" if isinstance(cell, float) and cell == cell else "" if cell != cell else str(cell)


def _levels(cells: pd.Series) -> pd.Series:
    """Labels of a condition; numbers within 1 % are one level, as when one is typed and another worked out."""
    if cells.dtype.kind not in "if":
        return cells.map(_label)
    label: dict[float, str] = {}
    start = math.nan
    for value in sorted(float(cell) for cell in cells.dropna().unique()):
        start = start if value <= SAME * start else value
        label[value] = _label(start)
    return cells.map(lambda cell: label.get(float(cell), ""))


def make_groups(facts: pd.DataFrame, by: str) -> Grouping:
    """Group cutters by a column.

    Raises
    ------
    Refusal
        Fewer than two groups.
    ArgumentError
        The word names no column that holds anything.
    """
    available = factor_columns(facts)
    known = by in COLUMNS or any(without_unit(name) == by for name in COLUMNS)
    if known and by not in available and not any(column.startswith(by) for column in available):
        raise Refusal(
            f"{by} is not recorded", where="--by", allowed=", ".join(available), hint="compare by another column"
        )
    column = resolve(by, available)
    labels = facts[column].map(_label)
    blank = tuple((str(cutter), f"no {column}") for cutter in facts["cutter"][labels == ""])
    kept = facts.assign(group=labels)[labels != ""].reset_index(drop=True)
    names = tuple(natural_sorted(kept["group"].unique()))
    if len(names) < 2:
        raise Refusal(
            f"one {column} only: {names[0] if names else 'none'}", where="--by", hint="a comparison needs two groups"
        )
    return Grouping(column, kept, names, blank)


def common_ground(
    facts: pd.DataFrame, names: Sequence[str], by: str, adjusted: Sequence[str]
) -> tuple[pd.DataFrame, list[str]]:
    """Cutters of some groups at the conditions that all of them met.

    Returns
    -------
    facts : pandas.DataFrame
        Rows that are kept.
    notes : list of str
        What was left out, and what differs throughout.
    """
    kept = facts[facts["group"].isin(list(names))]
    notes: list[str] = []
    for column in SHARED:
        if column == by or column in adjusted or column not in kept or kept[column].isna().all():
            continue
        labels = _levels(kept[column])
        levels = [set(labels[kept["group"] == name]) for name in names]
        shared = set.intersection(*levels)
        if all(one == shared for one in levels):
            continue
        if not shared:
            each = " against ".join(", ".join(natural_sorted(one)) for one in levels)
            notes.append(f"{column} differs throughout: {each}")
            continue
        away = kept[~labels.isin(shared)]
        count = f"{len(away)} cutter{'s' if len(away) != 1 else ''}"
        notes.append(
            f"{count} ({', '.join(natural_sorted(away['cutter']))}) left out: {column} "
            f"{', '.join(natural_sorted(set(labels) - shared))} was not met by every group"
        )
        kept = kept[labels.isin(shared)]
    return kept.reset_index(drop=True), notes
