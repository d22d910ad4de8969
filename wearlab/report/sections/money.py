"""Money: what each practice costs, how sure the cheapest is, when to change the cutter."""

from __future__ import annotations

import math
import re

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.decide.cost import ITEMS
from wearlab.decide.decision import Decision
from wearlab.decide.sensitivity import REACH
from wearlab.report.analysis import Analysis
from wearlab.report.card.sentences import (
    bound_sentence,
    change_sentence,
    choice_sentences,
    cost_text,
    pair_sentences,
    steady_inputs,
    switch_sentence,
)
from wearlab.report.record import Block, Paragraph, Section, TableBlock
from wearlab.report.sections.money_figures import money_figures
from wearlab.words.counting import sentence
from wearlab.words.labels import Label, label
from wearlab.words.reasons import in_plain_words

_OPTION = re.compile(r"--\S+")


def money_sentences(analysis: Analysis) -> tuple[str, ...]:
    """For the first screen: costs, and the chance of being the cheapest; or what is asked for."""
    found = analysis.decision
    if isinstance(found, WearlabError):
        return (_asked(found, analysis.units),)
    said = choice_sentences(found)
    if not found.choice:
        priced = [one for one in found.practices if one.cost is not None]
        said += [f"“{one.group}” costs {cost_text(one, found.shop.currency)}." for one in priced]
    return tuple(_plain(text, analysis.units) for text in said)


def _plain(text: str, units: str) -> str:
    return sentence(in_plain_words(text, units))


def _asked(reason: WearlabError, units: str) -> str:
    """Why there is no money; the hint is left out, it names options of a command."""
    if reason.found.startswith("not stated: "):
        meanings = re.findall(r"\(([^()]*)\)", reason.found)
        return sentence(f"not worked out; the shop has not stated: {in_plain_words('; '.join(meanings), units)}")
    return sentence(_OPTION.sub("", f"not worked out: {in_plain_words(reason.found, units)}").strip())


def money_section(analysis: Analysis) -> Section:
    """The cost table and the change intervals."""
    found = analysis.decision
    if isinstance(found, WearlabError):
        return Section("money", "What it costs", "engineer", (Paragraph((_asked(found, analysis.units),)),))
    texts = [f"“{one.group}”: {change_sentence(role, change, analysis.units)}"
             for one in found.practices for role, change in one.changes]  # fmt: skip
    texts += [f"“{one.group}”{f', {role}' if role else ''}: {text}"
              for one in found.practices for role, change in one.changes
              if (text := bound_sentence(change, analysis.units))]  # fmt: skip
    texts += [sentence(f"“{one.group}”: {in_plain_words(reason, analysis.units)}") for one in found.practices
              if (reason := one.why_missing or one.why_no_chance)]  # fmt: skip
    known = all(one.parts_known for one in found.practices)
    texts += [text for one in found.pairs for text in pair_sentences(one, found.shop.currency, known)]
    blocks: list[Block] = [Paragraph(tuple(texts), listed=True), *money_figures(analysis), _costs(found)]
    if found.switches:
        blocks.append(Paragraph(_switches(found), "What would change the choice", listed=True))
    changes = _laws(found)
    return Section("money", "What it costs", "engineer", (*blocks, *([changes] if changes is not None else [])))


def _switches(found: Decision) -> tuple[str, ...]:
    """Which input would have to be what for another choice, the others held; and those that change nothing."""
    said = [sentence(text) for one in found.switches if (text := switch_sentence(one, found.shop.currency))]
    steady = steady_inputs(found.switches)
    if steady:
        said.append(sentence(f"nothing within {REACH:g} times to either side: {'; '.join(steady)}"))
    return tuple(said)


def _costs(found: Decision) -> TableBlock:
    frame = found.to_frame().drop(columns=["unbounded"], errors="ignore").replace({math.inf: math.nan})
    currency = found.shop.currency
    labels = {
        "group": label("group"),
        "cost_per_part": Label(f"cost of a part, {currency}".rstrip(", "), "number", 3),
        "low": Label("from", "number", 3),
        "high": Label("to", "number", 3),
    }
    labels |= {f"money_{name}": Label(name, "number", 3) for name in ITEMS if _counts(frame[f"money_{name}"])}
    labels |= {
        "chance_best": Label("chance of being the cheapest", "number", 3),
        "change_parts": Label("change after parts", "count"),
    }
    how = sentence(
        f"means over {found.draws} plausible lives drawn from the fitted laws, each practice changed at its own "
        "interval; failures before it are counted in"
    )
    note = "" if all(one.parts_known for one in found.practices) else sentence("a part stands for one cm³ of metal")
    return TableBlock("costs", frame, "Cost of each practice", labels, note=note, how=how)


def _counts(column: pd.Series) -> bool:
    return bool((column.fillna(0) != 0).any())


def _laws(found: Decision) -> TableBlock | None:
    frames = [
        change.to_frame().assign(group=one.group, role=role) for one in found.practices for role, change in one.changes
    ]
    if not frames:
        return None
    frame = pd.concat(frames, ignore_index=True).replace({math.inf: math.nan})
    clock = label(found.clock).heading()
    labels = {
        "group": label("group"),
        "law": Label("law of scatter"),
        "least_cost_age": Label(f"cheapest change ({clock})", "number", 3),
        "failing_before": Label("share failing before", "number", 2),
        "lower_bound": Label(f"most outlast ({clock})", "number", 3),
        "reliability": Label("that share", "number", 2),
        "confidence": Label("how sure", "number", 2),
    }
    note = sentence("two laws are shown: where they disagree, the lives do not say which of them holds; an empty cell "
                    "is an age without end, or a bound that the lives cannot give")  # fmt: skip
    return TableBlock("change-intervals", frame, "When to change the cutter, under each law", labels, note=note)
