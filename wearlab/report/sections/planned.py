"""Evidence: the log held against its plan, and what the departures cost the answer."""

from __future__ import annotations

from typing import Any

import pandas as pd

from wearlab.plan.against import AgainstPlan
from wearlab.report.analysis import Analysis
from wearlab.report.record import Block, Paragraph, Section, Sentence, TableBlock
from wearlab.words.counting import sentence
from wearlab.words.labels import Label, label
from wearlab.words.planned import (
    KINDS,
    cost_sentence,
    departures_sentence,
    early_sentence,
    gaps_sentence,
    meaning_sentences,
    runs_sentence,
    smallest_words,
)
from wearlab.words.reasons import in_plain_words
from wearlab.words.rounding import MISSING, quantity, significant

TITLE = "Was it run as planned?"
_STATUS = {
    "exact": "reached",
    "interval": "reached",
    "left": "before the first look",
    "right": "not reached",
    "none": "not read",
    "": MISSING,
}


def planned_section(analysis: Analysis) -> Section | None:
    """Departures, their cost, and every run as planned and as made; None where no plan is known of."""
    held, named = analysis.held, analysis.whole.settings.plan
    if held is None:
        if not named:
            return None
        text = sentence(f"the trial file names the plan {named}, which was not at hand: nothing was held against it")
        return Section("plan", TITLE, "engineer", (Sentence(text),))
    texts = (
        sentence(f"the log was held against the plan “{held.plan}”, its order drawn by lot with seed {held.seed}"),
        runs_sentence(held),
        departures_sentence(held),
        early_sentence(held),
    )
    blocks: list[Block] = [Paragraph(tuple(text for text in texts if text)), *_cost(held)]
    table = _departures(held, analysis.units)
    if table is not None:
        blocks.append(table)
    meanings = meaning_sentences(held)
    if meanings:
        blocks.append(Paragraph(meanings, "What such departures mean", listed=True))
    runs = _runs(held)
    blocks += [runs] if runs is not None else []
    return Section("plan", TITLE, "engineer", tuple(blocks))


def _cost(held: AgainstPlan) -> list[Block]:
    if not held.costs:
        return []
    texts = [cost_sentence(one) for one in held.costs]
    gaps = gaps_sentence(held.costs[0])
    blocks: list[Block] = [Paragraph((*texts, *([gaps] if gaps else [])), "What that leaves of the answer")]
    frame = pd.DataFrame([one.to_dict() for one in held.costs])
    shown = {
        "pair_shown": [f"{one.a} over {one.b}" for one in held.costs],
        "known_shown": [f"{one.left_a} and {one.left_b} of {one.planned}" for one in held.costs],
        "blocks_shown": [f"{one.left_blocks} of {one.planned_blocks}" for one in held.costs],
        "ratio_shown": [
            " → ".join(smallest_words(one, value) for value in (one.planned_detectable, one.detectable))
            for one in held.costs
        ],
        "chance_shown": [f"{_percent(one.planned_power)} → {_percent(one.power)}" for one in held.costs],
    }
    labels = {
        "pair_shown": Label("compared"),
        "known_shown": Label("cutters that tell"),
        "blocks_shown": Label("blocks with both"),
        "ratio_shown": Label("smallest shown"),
        "chance_shown": Label("chance to show it"),
    }
    how = sentence(
        "the forecast of the plan worked out again with the cutters and blocks that are left, at the scatter that the "
        "plan assumed; the verdict itself uses the scatter that was seen"
    )
    note = sentence("before the arrow with every planned cutter, after it with those that tell; the chance is that of "
                    "showing the ratio that the plan was made not to miss")  # fmt: skip
    return [*blocks, TableBlock("plan-cost", frame, "Forecast, planned and now", labels, shown, note=note, how=how)]


def _departures(held: AgainstPlan, units: str) -> TableBlock | None:
    order = list(KINDS)
    found = sorted(
        held.findings, key=lambda one: (one.severity == "note", order.index(one.code) if one.code in order else 99)
    )
    if not found:
        return None
    changes = {(one.cutter, one.column): one for one in held.changes}
    frame = pd.DataFrame(
        [
            {"code": one.code, "severity": one.severity, "cutter": one.cutter, "column": one.column,
             "found": one.found, "planned": one.allowed, "meaning": one.hint}
            for one in found
        ]
    )  # fmt: skip
    texts: dict[str, list[str]] = {"kind_shown": [], "cutter_shown": [], "found_shown": [], "planned_shown": []}
    for one in found:
        change = changes.get((one.cutter, one.column)) if one.code.startswith("changed_") else None
        now, then = in_plain_words(one.found, units), in_plain_words(one.allowed, units)
        if change is not None:
            name = label(change.column)
            now = f"{name.text} {_value(change.logged, name.kind, units)}"
            then = _value(change.planned, name.kind, units)
        texts["kind_shown"].append(KINDS.get(one.code, one.code.replace("_", " ")))
        texts["cutter_shown"].append("" if one.code == "out_of_order" else one.cutter)
        texts["found_shown"].append(now)
        texts["planned_shown"].append(then.removesuffix(" in the plan"))
    labels = {
        "kind_shown": Label("what"),
        "cutter_shown": label("cutter"),
        "found_shown": Label("as run"),
        "planned_shown": Label("as planned"),
    }
    return TableBlock("plan-departures", frame, "What was run otherwise than planned", labels, texts)


def _runs(held: AgainstPlan) -> TableBlock | None:
    if not held.runs:
        return None
    frame = pd.DataFrame([one.to_dict() for one in held.runs])
    texts = {
        "looks_shown": [f"{one.looks_made}, due {one.looks_due}" if one.looks_made else MISSING for one in held.runs],
        "end_shown": [_end(one.end_reason, one.in_log) for one in held.runs],
        "limit_shown": [_STATUS.get(one.status, one.status) for one in held.runs],
    }
    labels = {
        "planned_order": Label("planned turn", "count"),
        "run_order": Label("real turn", "count"),
        "cutter": label("cutter"),
        "strategy": label("strategy"),
        "block": Label("block"),
        "looks_shown": Label("looks"),
        "end_shown": label("end_reason"),
        "limit_shown": Label("wear limit"),
    }
    note = sentence("due are the planned looks up to the last one that was made; more looks than planned do no harm")
    return TableBlock("plan-runs", frame, "Every run, planned and made", labels, texts, note=note)


def _value(cell: Any, kind: str, units: str) -> str:
    if isinstance(cell, (int, float)) and not isinstance(cell, bool):
        return quantity(float(cell), kind, units, 4) if kind and kind != "number" else significant(float(cell), 4)
    return str(cell)


def _end(reason: str, in_log: bool) -> str:
    return "not in the log" if not in_log else reason.replace("_", " ") or "not said"


def _percent(chance: float) -> str:
    return "> 99 %" if chance > 0.995 else "< 1 %" if chance < 0.005 else f"{100 * chance:.0f} %"
