"""Small helpers for orders, names and JSON that every room uses alike."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

_DIGITS = re.compile(r"(\d+)")


class ShownAsTable:
    """A record that a notebook shows as its one line and its table; its plain repr stays text."""

    def to_frame(self) -> pd.DataFrame:
        """The record as a table."""
        raise NotImplementedError

    def _repr_html_(self) -> str:
        from html import escape

        table: str = self.to_frame().to_html(max_rows=20, index=False, border=0)
        return f"<p>{escape(repr(self))}</p>\n{table}"


class ShownAsFacts:
    """A record of one answer, which a notebook shows as its facts one below the other."""

    __slots__ = ()

    def to_dict(self) -> dict[str, Any]:
        """The record as JSON-ready facts."""
        raise NotImplementedError

    def _repr_html_(self) -> str:
        from html import escape

        facts = {key: value for key, value in self.to_dict().items() if not isinstance(value, list | tuple)}
        rows = "".join(f"<tr><th>{escape(key)}</th><td>{_fact(value)}</td></tr>" for key, value in facts.items())
        return f"<table>{rows}</table>"


def _fact(value: Any) -> str:
    """A fact as text, its own facts divided by commas."""
    from html import escape

    if isinstance(value, dict):
        return ", ".join(f"{escape(str(key))} {_fact(inner)}" for key, inner in value.items())
    return "-" if value is None else f"{value:.6g}" if isinstance(value, float) else escape(str(value))


def natural_key(text: object) -> tuple[tuple[int, int, str], ...]:
    """Key for the natural order of names, in which E2 comes before E10.

    >>> sorted(["E10", "E2", "E1"], key=natural_key)
    ['E1', 'E2', 'E10']
    """
    parts = (part for part in _DIGITS.split(str(text)) if part)
    return tuple((0, int(part), part) if part.isdecimal() else (1, 0, part) for part in parts)


def natural_sorted(names: Iterable[Any]) -> list[Any]:
    """Names in natural order."""
    return sorted(names, key=natural_key)


def nearest(word: str, words: Sequence[str]) -> str:
    """A hint that names the closest known word, or an empty text.

    >>> nearest("diametre_mm", ["diameter_mm", "teeth"])
    'did you mean diameter_mm?'
    """
    close = get_close_matches(word, words, n=1, cutoff=0.6)
    return f"did you mean {close[0]}?" if close else ""


def plain(value: Any) -> Any:
    """Turn numpy scalars, infinities and missing values into what JSON can hold (a missing number is None).

    >>> plain({"a": float("nan"), "b": (1, 2.0)})
    {'a': None, 'b': [1, 2.0]}
    """
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if hasattr(value, "tolist") and not isinstance(value, str):  # numpy arrays and scalars
        return plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (str, int, bool)):
        return value
    try:
        missing = bool(value != value)
    except TypeError:  # pandas' NA is neither equal to itself nor not
        missing = True
    return None if missing else str(value)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows of a table as JSON-ready dictionaries."""
    names = [str(name) for name in frame.columns]
    return [
        dict(zip(names, (plain(cell) for cell in row), strict=True)) for row in frame.itertuples(index=False, name=None)
    ]


def each_row(frame: pd.DataFrame) -> Iterator[Any]:
    """Rows of a table as named tuples, typed as whatever their columns hold."""
    yield from frame.itertuples()
