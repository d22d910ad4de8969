"""Reasons and notes of results in the reader's words: column names become labels, figures change family.

Results say why in terms of the log's columns (`cutting_speed_m_min 55, 85`). Here the column's name becomes its
label and the figures behind it get the reader's unit.
"""

from __future__ import annotations

import re

from wearlab.logbook.columns import COLUMNS
from wearlab.words.labels import label
from wearlab.words.rounding import significant, with_unit
from wearlab.words.units import unit_of

_FIGURE = r"-?\d+(?:\.\d+)?"
_LIST = rf"(?P<figures>{_FIGURE}(?:(?:, | to | against ){_FIGURE})*)"
_NAMES = sorted({name for name in COLUMNS if "_" in name} | {"removal_rate_cm3_min"}, key=len, reverse=True)
_COLUMN = re.compile(
    rf"\b(?P<name>{'|'.join(_NAMES)})\b(?:(?P<sign> of | )(?=-?\d){_LIST}(?P<typed> (?:m/min|mm/min|mm|um|min))?)?"
)
_SINGULAR = {"readings": "reading", "lives": "life", "cutters": "cutter", "rows": "row", "observations": "observation"}
_ONE_OF_MANY = re.compile(rf"(?<![\d.])1 ({'|'.join(_SINGULAR)})\b")
_STRATEGY = re.compile(r"(?<=\bone )strategy(?= only\b)")
_SPEED = re.compile(rf"(?P<figure>{_FIGURE}) m/min\b")


def in_plain_words(text: str, units: str = "metric") -> str:
    """A reason with labels for column names, and figures in the reader's unit.

    >>> in_plain_words("cutting_speed_m_min 55, 105 was met by one group only", "inch")
    'cutting speed 180, 344 sfm was met by one group only'
    >>> in_plain_words("1 readings after break-in; a rate needs 3")
    '1 reading after break-in; a rate needs 3'
    >>> in_plain_words("one strategy only: side")
    'one practice only: side'
    >>> in_plain_words("diameter_mm is not recorded")
    'diameter is not recorded'
    >>> in_plain_words("speed never varied: 70 m/min in every cutter", "inch")
    'speed never varied: 230 sfm in every cutter'
    """
    text = _STRATEGY.sub("practice", text)
    text = _ONE_OF_MANY.sub(lambda match: f"1 {_SINGULAR[match[1]]}", text)
    text = _COLUMN.sub(lambda match: _replaced(match, units), text)
    if units == "inch":
        unit = unit_of("speed", units)
        text = _SPEED.sub(lambda match: with_unit(significant(float(match["figure"]) * unit.factor), unit.name), text)
    return text


def _replaced(match: re.Match[str], units: str) -> str:
    one = label(match["name"])
    if match["figures"] is None:
        return one.text
    unit = unit_of(one.kind, units) if one.kind else None
    if unit is None:
        return f"{one.text} {match['figures']}"
    figures = re.sub(
        _FIGURE,
        lambda figure: significant(float(figure[0]) * unit.factor, 4 if units == "metric" else 3),
        match["figures"],
    )
    return f"{one.text}{match['sign']}{with_unit(figures, unit.name)}"
