"""Published values: exponents, constants, criteria, scatter, each a row of `rows.csv` with its source.

Tables that disagree are each a row of their own, so that a check names the table it was made against.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Literal

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsTable, nearest, plain

if TYPE_CHECKING:
    import pandas as pd

Position = Literal["inside", "below", "above"]


@dataclass(frozen=True, slots=True)
class PublishedValue:
    """One figure from outside.

    Attributes
    ----------
    id, topic, quantity : str
        Short name of the row, its subject, and what was stated.
    cutter_material, work_material, operation : str
        What it was stated for; blank = not said.
    low, high, value : float or None
        Range or single figure as printed; all None for a definition or a scope.
    rounding : float
        Half of the last printed digit of `value`; 0 for a range.
    unit : str
        Unit; blank = a pure number.
    source, place : str
        Author and title; page, table, clause.
    how_known : str
        seen, from memory, computed or derived.
    confidence, note : str
        high, medium or low; what else should be said.
    """

    id: str
    topic: str
    quantity: str
    cutter_material: str
    work_material: str
    low: float | None
    high: float | None
    value: float | None
    rounding: float
    unit: str
    operation: str
    source: str
    place: str
    how_known: str
    confidence: str
    note: str

    @property
    def limits(self) -> tuple[float, float] | None:
        """The printed range; for a single figure what its last digit allows; None without a figure.

        >>> published(id="T14b")[0].limits
        (0.245, 0.255)
        """
        if self.low is not None and self.high is not None:
            return self.low, self.high
        if self.value is None:
            return None
        half = Decimal(repr(self.rounding))
        centre = Decimal(repr(self.value))
        return float(centre - half), float(centre + half)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {name: plain(getattr(self, name)) for name in self.__slots__ if name != "rounding"}


@dataclass(frozen=True, slots=True)
class PublishedComparison:
    """A figure of ours beside a published one.

    Attributes
    ----------
    value : float
        Our figure.
    position : str
        inside, below or above the published limits.
    interval_reaches : bool or None
        Whether our interval touches the published limits; None when no interval was given.
    row : PublishedValue
        What it was compared with.
    """

    value: float
    position: Position
    interval_reaches: bool | None
    row: PublishedValue

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready: the comparison and, flat beside it, the row."""
        return {
            **self.row.to_dict(),
            "compared": self.value,
            "position": self.position,
            "interval_reaches": self.interval_reaches,
        }


class PublishedRows(list[PublishedValue], ShownAsTable):
    """Rows of the published table."""

    def to_frame(self) -> pd.DataFrame:
        """One row a published value."""
        import pandas as pd

        return pd.DataFrame([row.to_dict() for row in self])

    def __repr__(self) -> str:
        return f"<PublishedRows: {len(self)} from {len({row.source for row in self})} sources>"


def published(
    topic: str | None = None,
    *,
    id: str | None = None,
    quantity: str | None = None,
    cutter_material: str | None = None,
    work_material: str | None = None,
    operation: str | None = None,
) -> PublishedRows:
    """Rows that match everything that is asked for, in the order of the table.

    Parameters
    ----------
    topic : str, optional
        exponent, constant, criterion, scatter, milling exponent, definition, scope, geometry or test plan.
    id, quantity, cutter_material, work_material, operation : str, optional
        Must equal the row's word.

    Raises
    ------
    ArgumentError
        For a topic that no row has.

    >>> [(row.id, row.low, row.high, row.value) for row in published("exponent", cutter_material="ceramic")]
    [('T16a', 0.5, 0.7, None), ('T16b', None, None, 0.6), ('T16c', 0.4, 0.55, None)]
    """
    if topic is not None and topic not in topics():
        known = topics()
        raise ArgumentError(f"topic {topic!r}", allowed=", ".join(known), hint=nearest(topic, known))
    wanted = {
        "topic": topic, "id": id, "quantity": quantity, "cutter_material": cutter_material,
        "work_material": work_material, "operation": operation,
    }  # fmt: skip
    asked = {name: word for name, word in wanted.items() if word is not None}
    return PublishedRows(row for row in _rows() if all(getattr(row, name) == word for name, word in asked.items()))


def topics() -> list[str]:
    """Topics of the table, in its order.

    >>> topics()[0]
    'exponent'
    """
    return list(dict.fromkeys(row.topic for row in _rows()))


def exponents_for(cutter_material: str, coating: str | None = None) -> list[PublishedValue]:
    """Published exponents n of V T^n = C for a cutter as the log describes it.

    Parameters
    ----------
    cutter_material : str
        Word of the log's column `cutter_material`; the high-speed steels share one set of rows.
    coating : str, optional
        Word of the log's column `coating`. For carbide, `none` asks for uncoated, any other word for coated,
        and nothing (not recorded) for both, since the log leaves it open.

    Returns
    -------
    list of PublishedValue
        Empty where no table with a source was found, as for CBN and PCD.

    >>> [row.id for row in exponents_for("carbide", "none")]
    ['T14a', 'T14b', 'T14c']
    >>> [row.id for row in exponents_for("carbide", "TiAlN")]
    ['T15a', 'T15b', 'E07a']
    >>> exponents_for("CBN")
    []
    """
    words = _table_words(cutter_material.strip(), (coating or "").strip())
    return [row for row in published("exponent") if row.cutter_material in words]


def compare_with_published(
    value: float, rows: Iterable[PublishedValue], interval: Interval | None = None
) -> list[PublishedComparison]:
    """Set a figure beside published rows. Being outside is worth a remark; it never makes a fit wrong.

    Parameters
    ----------
    value : float
        Our figure, in the unit of the rows.
    rows : iterable of PublishedValue
        Rows without a figure are passed over.
    interval : Interval, optional
        Our interval; tells whether it reaches the published limits.

    Raises
    ------
    ArgumentError
        When the figure is not a number.

    >>> for found in compare_with_published(0.614, exponents_for("carbide", "TiN")):
    ...     print(found.row.id, found.position)
    T15a above
    T15b above
    E07a above
    """
    if not value == value:
        raise ArgumentError("a missing figure", where="value", allowed="a number")
    return [
        PublishedComparison(float(value), _position(value, *limits), _reaches(interval, *limits), row)
        for row in rows
        if (limits := row.limits) is not None
    ]


def _table_words(cutter_material: str, coating: str) -> tuple[str, ...]:
    """Cutter materials in the words of the table."""
    if cutter_material in ("HSS", "HSS-E", "PM-HSS"):
        return ("HSS",)
    if cutter_material != "carbide":
        return (cutter_material,)
    if not coating:
        return ("uncoated carbide", "coated carbide")
    return ("uncoated carbide",) if coating.lower() == "none" else ("coated carbide",)


def _position(value: float, low: float, high: float) -> Position:
    if value < low:
        return "below"
    return "above" if value > high else "inside"


def _reaches(interval: Interval | None, low: float, high: float) -> bool | None:
    return None if interval is None else interval.low <= high and low <= interval.high


def _number(text: str) -> float | None:
    return float(text) if text else None


def _rounding(text: str) -> float:
    """Half a unit of the last printed digit."""
    if not text:
        return 0.0
    digits = Decimal(text).as_tuple().exponent
    return float(Decimal(5).scaleb(int(digits) - 1))


@cache
def _rows() -> tuple[PublishedValue, ...]:
    text = files("wearlab.published").joinpath("rows.csv").read_text(encoding="utf-8")
    return tuple(_row(cells) for cells in csv.DictReader(text.splitlines()))


def _row(cells: dict[str, str]) -> PublishedValue:
    figures = {name: _number(cells[name]) for name in ("low", "high", "value")}
    words = {name: cell for name, cell in cells.items() if name not in figures}
    return PublishedValue(**words, **figures, rounding=_rounding(cells["value"]))  # type: ignore[arg-type]
