"""What several sections need: tables in the reader's units, the cutters that were compared, groups and their looks."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from wearlab.compare.compare import Comparison
from wearlab.compare.contrast import Contrast
from wearlab.compare.groups import common_ground
from wearlab.core.errors import WearlabError
from wearlab.report.analysis import Analysis, AtCriterion
from wearlab.report.figures.style import Look, looks
from wearlab.words.counting import listed, sentence
from wearlab.words.fits import refusal_sentence
from wearlab.words.groups import group_name
from wearlab.words.labels import label
from wearlab.words.units import unit_of


def shown_in(frame: pd.DataFrame, kinds: Mapping[str, str], units: str) -> pd.DataFrame:
    """A copy in the reader's units, for drawing."""
    return frame.assign(**{name: frame[name] * unit_of(kind, units).factor for name, kind in kinds.items()})


def group_titles(analysis: Analysis) -> dict[str, str]:
    """Group -> its name as it is shown."""
    return {group: group_name(analysis.by, group, analysis.units) for group in analysis.group_names}


def group_looks(analysis: Analysis) -> dict[str, Look]:
    """A look for every group, by the name as it is shown."""
    return looks(list(group_titles(analysis).values()))


def with_groups(analysis: Analysis, frame: pd.DataFrame) -> pd.DataFrame:
    """A table of cutters with the column `group` behind them."""
    made = frame.copy()
    made.insert(1, "group", made["cutter"].map(analysis.groups).fillna(""))
    return made


def comparison_of(at: AtCriterion) -> Comparison | None:
    """The comparison, or None where it was refused."""
    return None if isinstance(at.comparison, WearlabError) else at.comparison


def main_contrasts(analysis: Analysis) -> list[Contrast]:
    """Contrasts that carry the verdict: of the outcome that the trial file names, else of life, else of the rate."""
    comparison = comparison_of(analysis.main)
    if comparison is None:
        return []
    wanted = analysis.trial.settings.outcome or "life"
    found = [one for one in comparison.contrasts if one.outcome == wanted]
    others = [one for one in comparison.contrasts if not one.outcome.startswith("wall")]
    return found or [one for one in others if not one.exploratory] or others or list(comparison.contrasts)


def compared(analysis: Analysis) -> list[str]:
    """Cutters on which the contrasts of the main criterion rest; all of them where nothing was compared."""
    comparison = comparison_of(analysis.main)
    if comparison is None:
        return list(analysis.groups)
    names: dict[str, None] = {}
    for contrast in main_contrasts(analysis):
        values = comparison.values
        own = values[(values["outcome"] == contrast.outcome)]
        if contrast.outcome == "rate":
            own = own[own["zone"] == contrast.zone]
        kept, _ = common_ground(own, (contrast.a, contrast.b), comparison.by, ())
        names |= dict.fromkeys(map(str, kept["cutter"]))
    return list(names)


def comparison_refusal(analysis: Analysis, at: AtCriterion) -> str:
    """Why nothing was compared, and by what else it might be."""
    reason = at.comparison
    assert isinstance(reason, WearlabError)
    others = [name for name in other_columns(analysis) if name != analysis.by]
    elsewhere = ""
    if others:
        elsewhere = f"Its cutters differ in {listed([label(name).text for name in others])}: try --by {others[0]}."
    if reason.where == "--by" and "is not recorded" in reason.found:
        column = label(analysis.by).text
        text = sentence(
            f"this log does not record the {column} of its cutters, so there is nothing to compare by {column}"
        )
        return f"{text} {elsewhere}".strip()
    text = refusal_sentence("nothing was compared", reason, analysis.units)
    return f"{text} {elsewhere}".strip() if reason.where == "--by" else text


def other_columns(analysis: Analysis) -> list[str]:
    """Text columns in which the cutters fall into two to six groups."""
    facts = analysis.trial.facts()
    found = []
    for name in ("strategy", "work_material", "coating", "cutter_material", "direction", "coolant", "machine"):
        if name in facts:
            cells = facts[name].astype(object)
            if 2 <= cells[cells != ""].nunique() <= 6:
                found.append(name)
    return found


def finite_or_nan(value: float) -> float:
    """Unbounded becomes missing: drawing and downloads know no infinity."""
    return value if math.isfinite(value) else math.nan
