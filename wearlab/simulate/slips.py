"""What entry slips are made of: where they may be planted, and what they leave behind."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd


class NoPlace(Exception):
    """The log has no place for a slip; the text says what it lacks."""


@dataclass(frozen=True)
class Edit:
    """A changed table, and what was changed in it."""

    table: pd.DataFrame
    rows: tuple[int, ...]
    columns: tuple[str, ...]
    what: str


@dataclass(frozen=True)
class Slip:
    """One kind of slip.

    Attributes
    ----------
    meaning : str
        How it comes about.
    plant : callable
        Takes a table of text cells, which it may change, and a generator.
    """

    meaning: str
    plant: Callable[[pd.DataFrame, np.random.Generator], Edit]


def short(number: float) -> str:
    """A number as it would be typed.

    >>> short(0.12 * 10)
    '1.2'
    """
    return f"{number:.6g}"


def need(table: pd.DataFrame, *columns: str) -> None:
    """Raise unless the log has these columns."""
    missing = [name for name in columns if name not in table.columns]
    if missing:
        raise NoPlace(f"no column {', '.join(missing)}")


def one(positions: Iterable[int], rng: np.random.Generator, lacking: str) -> int:
    """One of the positions at random."""
    found = list(positions)
    if not found:
        raise NoPlace(lacking)
    return found[int(rng.integers(len(found)))]


def lands(table: pd.DataFrame, least_mm: float = 0.0) -> np.ndarray:
    """Positions of land readings in mm that are wider than the least."""
    need(table, "cutter", "measure", "value", "unit")
    ours = ((table["measure"] == "VB") & (table["unit"] == "mm") & (table["value"] != "")).to_numpy()
    positions = np.flatnonzero(ours)
    values = table["value"].to_numpy()[positions].astype(float)
    return positions[values > least_mm]


def looks(table: pd.DataFrame, after: int = 0, before: int = 0) -> list[tuple[str, str]]:
    """(cutter, reading) of land readings with at least so many looks of the cutter earlier and later."""
    need(table, "reading", "cutter")
    wear = table.iloc[lands(table)]
    found: list[tuple[str, str]] = []
    for cutter, readings in wear.groupby("cutter", sort=False)["reading"]:
        ordered = list(dict.fromkeys(readings))
        found += [(str(cutter), reading) for reading in ordered[after : len(ordered) - before or None]]
    return found


def a_look(table: pd.DataFrame, rng: np.random.Generator, after: int = 0, before: int = 0) -> tuple[str, str]:
    """One look at random."""
    found = looks(table, after, before)
    return found[one(range(len(found)), rng, "too few looks at any cutter")]


def of_look(table: pd.DataFrame, cutter: str, reading: str) -> np.ndarray:
    """Whether each row belongs to a look."""
    return ((table["cutter"] == cutter) & (table["reading"] == reading)).to_numpy()


def wear_of_look(table: pd.DataFrame, cutter: str, reading: str) -> np.ndarray:
    """Positions of the land readings of a look."""
    wear = of_look(table, cutter, reading) & (table["measure"] == "VB").to_numpy()
    return np.flatnonzero(wear & (table["value"] != "").to_numpy())


def a_cutter(table: pd.DataFrame, rng: np.random.Generator, wear: bool = True) -> str:
    """One cutter at random, with lands unless `wear` is off."""
    need(table, "cutter")
    own = table["cutter"].iloc[lands(table, 0.03)] if wear else table["cutter"]
    names = list(dict.fromkeys(own))
    return str(names[one(range(len(names)), rng, "no cutter with lands above 0.03 mm")])


def put(table: pd.DataFrame, rows: Iterable[int], column: str, cells: Iterable[str] | str) -> tuple[int, ...]:
    """Write cells into rows of one column, and give back the rows."""
    import pandas as pd

    at = [int(row) for row in rows]
    values = [cells] * len(at) if isinstance(cells, str) else list(cells)
    column_cells = table[column].to_numpy(dtype=object, copy=True)
    column_cells[at] = values
    table[column] = pd.Series(column_cells, index=table.index, dtype=object)
    return tuple(at)
