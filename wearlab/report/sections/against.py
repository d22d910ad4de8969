"""This trial beside an earlier one: what changed, and what may have changed it."""

from __future__ import annotations

import pandas as pd

from wearlab.compare.contrast import Contrast
from wearlab.core.errors import WearlabError
from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.report.sections.common import comparison_of, main_contrasts
from wearlab.words.counting import counted, listed, sentence
from wearlab.words.labels import Label, label
from wearlab.words.rounding import significant
from wearlab.words.verdicts import verdict_headline

NOT_CONDITIONS = ("cutter", "run_order", "operator", "note", "end_reason")
MOST_VALUES = 6


def against_section(now: Analysis, before: Analysis) -> Section:
    """Criteria, cutters, conditions, estimates and verdicts of both."""
    conditions, estimates = _conditions(now, before), _estimates(now, before)
    changed = list(dict.fromkeys(conditions["condition"]))
    texts = [
        sentence(f"this trial holds {counted(len(now.trial.cutters), 'cutter')}, the earlier one, "
                 f"“{before.trial.name}”, {counted(len(before.trial.cutters), 'cutter')}"),
        sentence("the end of life is the same in both" if _same_end(now, before) else
                 "life ends at another limit than before, so lives of the two are not alike in kind"),
        sentence(f"what differs between them: {listed(changed)}" if changed else
                 "no recorded condition differs between them"),
        sentence("each of these may be why a figure moved; two trials on two days do not tell which"),
    ]  # fmt: skip
    blocks: list[Block] = [Paragraph(tuple(texts))]
    names = {"before": Label("earlier trial"), "now": Label("this trial")}
    if len(conditions):
        blocks.append(TableBlock("against-conditions", conditions, "Conditions that differ",
                                 {"condition": Label("condition"), **names}))  # fmt: skip
    if len(estimates):
        note = sentence("each figure with its plausible range; ranges that overlap do not show a change")
        blocks.append(TableBlock("against-estimates", estimates, "Figures of both trials",
                                 {"figure": Label("figure"), **names}, note=note))  # fmt: skip
    return Section("against", "Beside an earlier trial", "engineer", tuple(blocks))


def _same_end(now: Analysis, before: Analysis) -> bool:
    return now.main.criterion.text == before.main.criterion.text and now.clock == before.clock


def _conditions(now: Analysis, before: Analysis) -> pd.DataFrame:
    facts = (before.trial.facts(), now.trial.facts())
    rows = [] if _same_end(now, before) else [
        ("end of life", *(f"{one.main.criterion.text} ({label(one.clock).text})" for one in (before, now)))
    ]  # fmt: skip
    for column in dict.fromkeys([*map(str, facts[1].columns), *map(str, facts[0].columns)]):
        held = [_values(table, column) for table in facts]
        if column not in NOT_CONDITIONS and held[0] != held[1]:
            rows.append((label(column).heading(), *held))
    return pd.DataFrame(rows, columns=["condition", "before", "now"])


def _values(table: pd.DataFrame, column: str) -> str:
    if column not in table:
        return "not recorded"
    cells = [cell for cell in table[column].dropna().unique() if cell != ""]
    if not cells:
        return "not recorded"
    if len(cells) > MOST_VALUES:
        numbers = all(isinstance(cell, int | float) for cell in cells)
        return f"{min(cells):g} to {max(cells):g}" if numbers else counted(len(cells), "value")
    return ", ".join(sorted(f"{cell:g}" if isinstance(cell, float) else str(cell) for cell in cells))


def _estimates(now: Analysis, before: Analysis) -> pd.DataFrame:
    held = [_figures(before), _figures(now)]
    names = dict.fromkeys([*held[1], *held[0]])
    rows = [(name, held[0].get(name, "none"), held[1].get(name, "none")) for name in names]
    return pd.DataFrame(rows, columns=["figure", "before", "now"])


def _figures(analysis: Analysis) -> dict[str, str]:
    made: dict[str, str] = {}
    if comparison_of(analysis.main) is not None:
        for one in main_contrasts(analysis):
            name = f"{one.a} over {one.b}, {one.outcome}{', ' + one.zone if one.zone else ''}"
            made[name] = _ratio(one)
            made[f"{name}: verdict"] = verdict_headline(one)
    if not isinstance(analysis.main.fit, WearlabError):
        for each in analysis.main.parameters:
            if each.name in ("n", "v60", "sigma") and each.estimate == each.estimate:
                made[each.name] = f"{significant(each.estimate)}{_span(each.interval)}"
    return made


def _ratio(one: Contrast) -> str:
    return f"{significant(one.estimate)}{_span(one.interval)}" if one.estimate == one.estimate else "none"


def _span(interval: object) -> str:
    low, high = getattr(interval, "low", float("-inf")), getattr(interval, "high", float("inf"))
    if low in (float("-inf"), 0.0) or high == float("inf"):
        return " (open)"
    return f" ({significant(low)} to {significant(high)})"
