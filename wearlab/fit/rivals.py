"""Two equations against each other, by what they say of cutters that they have not seen.

Whole blocks are held out where the log has blocks, else single cutters. A larger equation always fits better; whether
it predicts better is another question.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.stats.cross_validation import HeldOut, compare_held_out, held_out_line, held_out_lives
from wearlab.stats.lives import Lives


@dataclass(frozen=True, slots=True)
class Rivals:
    """Two equations.

    Attributes
    ----------
    names : tuple of (str, str)
        Their coefficients, as text.
    mean_scores : tuple of (float, float)
        Mean score of a held-out cutter; larger is better.
    kind : str
        What a score is.
    difference, low, high, p_value : float
        Of the scores, first less second, over the groups held out.
    held_out : str
        cutter or block.
    better : str
        The one with the larger mean score; empty where they are equal or one could not be scored.
    """

    names: tuple[str, str]
    mean_scores: tuple[float, float]
    kind: str
    difference: float
    low: float
    high: float
    p_value: float
    held_out: str
    groups: int
    better: str

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


def rivals(one: ToolLifeFit, two: ToolLifeFit, blocks: dict[str, str] | None = None, level: float = 0.95) -> Rivals:
    """Compare two fits to the same lives.

    Parameters
    ----------
    one, two : ToolLifeFit
    blocks : dict of str to str, optional
        Block of each cutter, held out together.
    level : float
        Of the interval of the difference.

    Raises
    ------
    ArgumentError
        The fits are not to the same cutters.
    Refusal
        Nothing could be scored.
    """
    cutters = list(one.used["cutter"])
    if cutters != list(two.used["cutter"]):
        raise ArgumentError("fits to different cutters", where="rival equations", allowed="the same lives")
    held = "block" if blocks and all(blocks.get(cutter) for cutter in cutters) else "cutter"
    groups = [blocks[cutter] for cutter in cutters] if held == "block" and blocks else cutters
    first, second = (_held_out(fit, groups, one.line is not None and two.line is not None) for fit in (one, two))
    gap = compare_held_out(first, second)
    limits = gap.interval(level)
    scores = (first.mean, second.mean)
    texts = tuple(" + ".join(fit.names[1:]) or "a constant" for fit in (one, two))
    better = "" if not all(map(math.isfinite, scores)) or scores[0] == scores[1] else texts[int(scores[1] > scores[0])]
    return Rivals(
        names=(texts[0], texts[1]), mean_scores=scores, kind=first.kind, difference=gap.difference, low=limits.low,
        high=limits.high, p_value=gap.p_value, held_out=held, groups=len(first.groups), better=better,
    )  # fmt: skip


def _held_out(fit: ToolLifeFit, groups: list[str], complete: bool) -> HeldOut:
    if complete:
        response = np.log(fit.used["low"].to_numpy(float)) - (0.0 if fit.offset is None else fit.offset)
        return held_out_line(fit.X, response, groups, fit.names)
    lives = Lives(fit.used["low"].to_numpy(float), fit.used["high"].to_numpy(float))
    return held_out_lives(fit.X, lives, groups, fit.distribution, fit.names)
