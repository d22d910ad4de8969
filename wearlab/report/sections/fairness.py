"""Evidence: whether it was a fair trial."""

from __future__ import annotations

import math

import pandas as pd

from wearlab.compare.fair import Fairness
from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Paragraph, Section, Sentence, TableBlock
from wearlab.report.sections.common import comparison_of
from wearlab.words.counting import sentence
from wearlab.words.fairness import (
    confounded_sentences,
    doubt_sentences,
    matched_sentence,
    not_compared_sentence,
    unmatched_sentence,
)
from wearlab.words.groups import group_name
from wearlab.words.labels import Label, label
from wearlab.words.rounding import MISSING, quantity, significant, trimmed


def fairness_section(analysis: Analysis) -> Section:
    """What was equal on both sides, what was not, and what cannot be told from the practice."""
    comparison = comparison_of(analysis.main)
    title = "Was it a fair trial?"
    if comparison is None:
        text = sentence("nothing was compared, so there is nothing to be fair about")
        return Section("fairness", title, "engineer", (Sentence(text),))
    blocks: list[Block] = []
    rule = analysis.trial.settings.match_rule
    if rule:
        blocks.append(Sentence(sentence(f"the trial file asked for: {rule}")))
    for at, ((a, b), fair) in enumerate(comparison.fair.items()):
        names = [group_name(comparison.by, group, analysis.units) for group in (a, b)]
        texts = [
            matched_sentence(fair),
            unmatched_sentence(fair),
            not_compared_sentence(fair),
            *confounded_sentences(fair),
            *doubt_sentences(fair),
        ]
        if not fair.confounded:
            texts.append(
                sentence("no bar, batch, machine, day or block holds one side alone, as far as they are recorded")
            )
        heading = f"“{names[0]}” against “{names[1]}”" if len(comparison.fair) > 1 else ""
        blocks.append(Paragraph(tuple(text for text in texts if text), heading))
        table = _table(analysis, fair, names, at)
        blocks += [table] if table is not None else []
    return Section("fairness", title, "engineer", tuple(blocks))


def _table(analysis: Analysis, fair: Fairness, names: list[str], at: int) -> TableBlock | None:
    if fair.detail is None:
        return None
    rows = fair.detail.comparisons
    frame = pd.DataFrame(
        [{"quantity": one.quantity, "a": one.a, "b": one.b, "ratio": one.ratio, "equal": one.equal} for one in rows]
    )
    frame.insert(0, "group_a", names[0])
    frame.insert(1, "group_b", names[1])
    units = analysis.units
    texts = {
        "quantity_shown": [label(one.quantity).text for one in rows],
        "a_shown": [_value(one.quantity, one.a, units) for one in rows],
        "b_shown": [_value(one.quantity, one.b, units) for one in rows],
        "equal_shown": ["equal" if one.equal else "not known" if one.equal is None else "differs" for one in rows],
        "ratio_shown": [MISSING if not math.isfinite(one.ratio) else significant(one.ratio) for one in rows],
    }
    labels = {
        "quantity_shown": Label("condition"),
        "a_shown": Label(names[0]),
        "b_shown": Label(names[1]),
        "ratio_shown": Label("first over second"),
        "equal_shown": Label("equal?"),
    }
    note = sentence(
        "cutting power and deflection are worked out with a typical material and stiffness: their ratio counts, "
        "their size is "
        "an illustration"
    )
    how = sentence(
        f"from the usual settings of each side; two figures within {trimmed(100 * fair.detail.tolerance, 1)} % count "
        "as equal"
    )
    key = "matched" if at == 0 else f"matched-{at + 1}"
    return TableBlock(key, frame, "Conditions side by side", labels, texts, note=note, how=how)


def _value(name: str, value: float, units: str) -> str:
    kind = label(name).kind
    return significant(value) if kind == "number" else quantity(value, kind, units)
