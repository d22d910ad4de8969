"""Factors of a tool-life equation: from words on the command line to columns of a design matrix.

A number goes in as its natural logarithm, so that its coefficient is the exponent of a power law; a text goes in as
groups, each beside the first in natural order.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import natural_sorted, nearest
from wearlab.logbook.columns import COLUMNS

SPEED = "cutting_speed_m_min"
_UNITS = ("_m_min", "_mm_min", "_mm", "_deg", "_um", "_min", "_rpm")
SQUARE = "^2"
"""Written behind a column: its second-order term, about the mean of its ln."""
EXTRA = ("removal_rate_cm3_min",)


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor as it is in the data of a fit.

    Attributes
    ----------
    column : str
        Column of the facts.
    numeric : bool
        Number (goes in as ln) or group.
    levels : tuple
        Values met: sorted numbers, or groups in natural order, of which the first is the reference.
    origin : float
        NaN, or the mean of ln x about which a second-order term is taken.
    """

    column: str
    numeric: bool
    levels: tuple
    origin: float = math.nan

    @property
    def square(self) -> bool:
        """Whether this is the second-order term of its column."""
        return not math.isnan(self.origin)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of its columns in the design."""
        if self.square:
            return (f"(ln {self.column}){SQUARE}",)
        if self.numeric:
            return (f"ln {self.column}",)
        return tuple(f"{self.column}[{level}]" for level in self.levels[1:])

    def columns(self, cells: pd.Series) -> np.ndarray:
        """Its columns in the design, shape (n, k)."""
        if self.square:
            return (np.log(cells.to_numpy(dtype=float))[:, None] - self.origin) ** 2
        if self.numeric:
            return np.log(cells.to_numpy(dtype=float))[:, None]
        return (cells.to_numpy(dtype=object)[:, None] == np.array(self.levels[1:], dtype=object)[None, :]).astype(float)


def resolve(word: str, available: Sequence[str]) -> str:
    """Column that a word names: the column itself, or its shortest unambiguous start, unit left out.

    Raises
    ------
    ArgumentError
        No column or more than one begins like that.

    Examples
    --------
    >>> resolve("axial_depth", ["axial_depth_mm", "radial_width_mm"])
    'axial_depth_mm'
    """
    key = word.strip().lower().replace("-", "_")
    if key.endswith(SQUARE):
        return resolve(key.removesuffix(SQUARE), available) + SQUARE
    for column in available:
        if key == column or key == without_unit(column):
            return column
    matches = [column for column in available if column.startswith(key)]
    if len(matches) == 1:
        return matches[0]
    found = f"{word!r} fits {len(matches)} columns" if matches else f"no column {word!r}"
    raise ArgumentError(
        found,
        where="factor",
        allowed=", ".join(matches or natural_sorted(available)),
        hint=nearest(key, [without_unit(column) for column in available]) if not matches else "",
    )


def without_unit(column: str) -> str:
    """The column's name without its unit.

    >>> without_unit("cutting_speed_m_min")
    'cutting_speed'
    """
    for unit in _UNITS:
        if column.endswith(unit) and column not in ("spindle_rpm",):
            return column.removesuffix(unit)
    return column


def factor_columns(facts: pd.DataFrame) -> list[str]:
    """Columns of the facts that may serve as factors: everything that holds anything."""
    skip = ("cutter", "condition", "end_reason", "readings", "cutting_time_min", "volume_cm3", "parts", "cut_length_m")
    return [str(name) for name in facts.columns if name not in skip and _holds_anything(facts[name])]


def _holds_anything(cells: pd.Series) -> bool:
    if cells.dtype.kind in "if":
        return bool(cells.notna().any())
    return any(cell == cell and cell != "" for cell in cells.tolist())


def make_factor(facts: pd.DataFrame, column: str) -> Factor:
    """A factor with the levels that these cutters hold; `COLUMN^2` is the second-order term about their mean.

    Raises
    ------
    Refusal
        It never varied, or is missing or not positive in a cutter that is named.
    """
    squared, column = column.endswith(SQUARE), column.removesuffix(SQUARE)
    cells = facts[column]
    numeric = cells.dtype.kind in "if" or (column in COLUMNS and COLUMNS[column].numeric)
    missing = facts["cutter"][cells.isna() | (cells.astype(object) == "")]
    if len(missing):
        raise Refusal(
            f"{column} is not recorded for cutter {missing.iloc[0]}"
            + (f" and {len(missing) - 1} more" if len(missing) > 1 else ""),
            where=f"factor {column}",
            hint="record it, or leave these cutters out with --only",
        )
    levels = tuple(np.sort(cells.astype(float).unique()).tolist()) if numeric else tuple(natural_sorted(cells.unique()))
    if len(levels) < 2:
        raise Refusal(
            f"{column} never varied: {_value(levels[0], column)} in every cutter",
            where=f"factor {column}",
            allowed="at least two levels",
        )
    if numeric and levels[0] <= 0:
        raise Refusal(f"{column} of {levels[0]:g} has no logarithm", where=f"factor {column}", allowed="above 0")
    if not squared:
        return Factor(column, numeric, levels)
    if not numeric or len(levels) < 3:
        raise Refusal(
            f"a second-order term of {column} with {len(levels)} levels",
            where=f"factor {column}{SQUARE}",
            allowed="a number at three levels or more",
        )
    return Factor(column, numeric, levels, float(np.log(cells.to_numpy(float)).mean()))


def _value(level: object, column: str) -> str:
    unit = COLUMNS[column].unit if column in COLUMNS else ""
    return f"{level:g} {unit}".strip() if isinstance(level, float) else str(level)
