"""The first screen's card on when to change the cutter: at least cost, or without costs the age that most outlast."""

from __future__ import annotations

import numpy as np
import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.fit.factors import SPEED, SQUARE
from wearlab.fit.tool_life import SAME_SPEED, ToolLifeFit
from wearlab.report.analysis import UNGROUPED, Analysis, AtCriterion
from wearlab.report.card.sentences import change_sentence
from wearlab.report.sections.common import compared
from wearlab.stats.lives import Lives
from wearlab.stats.tolerance import smaller_bound
from wearlab.words.changes import for_the_shop, outlast_sentence, why_no_change_sentence, why_pooled
from wearlab.words.groups import cutters_of

FEWEST = 3
"""Lives that reached the limit, below which nothing is promised."""
RELIABILITY, CONFIDENCE = 0.9, 0.9
TITLE = "When to change the cutter"


def change_sentences(analysis: Analysis) -> tuple[str, ...]:
    """One sentence a practice that was chosen or could be; without costs one a group, and what costs would add."""
    found = analysis.decision
    if isinstance(found, WearlabError):
        return _outlasted(analysis)
    chosen = [one for one in found.practices if one.group == found.choice] or list(found.practices)
    return tuple(
        for_the_shop(change_sentence(role, change, analysis.units), "" if found.choice else one.group)
        for one in chosen
        for role, change in one.changes
    )


def _outlasted(analysis: Analysis) -> tuple[str, ...]:
    at = analysis.main
    if isinstance(at.lives, WearlabError):
        return (why_no_change_sentence("no tool life is known"),)
    lives = at.lives.select(at.criterion, analysis.clock)
    lives = lives[lives["cutter"].isin(compared(analysis)) & (lives["status"] != "none")]
    texts, without = [], []
    pooled: dict[str, list[str]] = {}
    for group in analysis.group_names:
        own = lives[lives["cutter"].map(analysis.groups) == group]
        who = "cutters" if group == UNGROUPED else cutters_of(analysis.by, group, analysis.units)
        several = _several(analysis, at, own["cutter"])
        bound = _bound(own, analysis.seed)
        if bound > 0 and several:
            pooled.setdefault(why_pooled(several), []).append(who)
        elif bound > 0:
            texts.append(outlast_sentence(who, bound, analysis.clock, RELIABILITY, CONFIDENCE, analysis.units))
        elif len(own):
            without.append(who)
    texts += [why_no_change_sentence(why, who) for why, who in pooled.items()]
    if without or not texts:
        texts.append(why_no_change_sentence("too few of them reached the limit", without))
    return (*texts, why_no_change_sentence("the shop's costs are not stated", ["least cost"]))


def _several(analysis: Analysis, at: AtCriterion, cutters: pd.Series) -> list[str]:
    """Conditions of the equation of which these cutters met more than one level: one age for all would pool them."""
    facts = analysis.trial.facts()
    facts = facts[facts["cutter"].isin(cutters)]
    used = [one.column for one in at.fit.factors] if isinstance(at.fit, ToolLifeFit) else list(analysis.factors)
    columns = dict.fromkeys([SPEED, *(name.removesuffix(SQUARE) for name in used)])
    return [name for name in columns if name in facts and name != analysis.by and _varied(facts[name])]


def _varied(cells: pd.Series) -> bool:
    known = cells[cells.notna() & (cells.astype(object) != "")]
    if known.dtype.kind in "if" and (known > 0).all():
        return bool(len(known) and known.max() > SAME_SPEED * known.min())
    return bool(known.nunique() > 1)


def _bound(own: pd.DataFrame, seed: int) -> float:
    """Age that nine of ten outlast, nine times in ten; 0 where the lives promise none."""
    lives = Lives(own["low"].to_numpy(float), own["high"].to_numpy(float))
    if lives.failures < FEWEST:
        return 0.0
    try:
        return smaller_bound(np.ones((len(own), 1)), lives, [1.0], RELIABILITY, CONFIDENCE, rng=seed)[0].bound
    except WearlabError:
        return 0.0
