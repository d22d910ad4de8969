"""A checked draft -> the five tables of a trial."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.tables import natural_key
from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES, ZONES, with_scope
from wearlab.logbook.derive import derive_clocks, derive_conditions
from wearlab.logbook.draft import Draft, Words
from wearlab.logbook.facts import facts_of
from wearlab.logbook.order import Looks
from wearlab.logbook.sheet import Ints

_COMMON = ["line", "cutter", "inspection", *CLOCKS, "measure"]
_SOURCE = ["value_mm", "value", "unit"]
WEAR_COLUMNS = [
    *_COMMON,
    "zone",
    "zone_from_mm",
    "zone_to_mm",
    "flute",
    "repeat",
    *_SOURCE,
    "wear_form",
    "instrument",
    "operator",
    "date",
    "note",
]
WALL_COLUMNS = [
    *_COMMON,
    "side",
    "height_mm",
    "pin_mm",
    "pin_class",
    "pin_chamfer_mm",
    "part",
    "repeat",
    *_SOURCE,
    "instrument",
    "operator",
    "date",
    "note",
]


@dataclass(frozen=True, slots=True)
class Tables:
    """The five tables, the declared responses, and which clocks were derived."""

    cutters: pd.DataFrame
    conditions: pd.DataFrame
    runs: pd.DataFrame
    wear: pd.DataFrame
    walls: pd.DataFrame
    responses: pd.DataFrame
    derived: list[str]


def tables_of(draft: Draft, looks: Looks) -> Tables:
    """Build the tables from the rows that nothing has set aside."""
    facts = derive_conditions(facts_of(draft, looks))
    rows, derived = derive_clocks(_rows(draft, looks), facts)
    runs, cutters, conditions = _split_facts(facts, rows)
    table_of = {word: measure.table for word, measure in MEASURES.items()}
    where = np.array([table_of.get(word, "responses") for word in rows["measure"]], dtype=object)
    return Tables(
        cutters=cutters,
        conditions=conditions,
        runs=runs,
        wear=rows.loc[where == "wear", WEAR_COLUMNS].reset_index(drop=True),
        walls=rows.loc[where == "walls", WALL_COLUMNS].reset_index(drop=True),
        responses=rows.loc[where == "responses", WEAR_COLUMNS].reset_index(drop=True),
        derived=derived,
    )


def _rows(draft: Draft, looks: Looks) -> pd.DataFrame:
    """Every column that the tables hold, in order of cutters, looks and places: that of the file leaves no trace."""
    order = _by_place(draft, looks)
    rows = looks.rows[order]
    table: dict[str, object] = {"line": draft.lines()[rows]}
    for name in dict.fromkeys([*WEAR_COLUMNS, *WALL_COLUMNS, "end_reason"]):
        if name == "inspection":
            table[name] = looks.look[order]
        elif name == "value_mm" or (name in COLUMNS and COLUMNS[name].numeric):
            table[name] = draft.number(name)[rows]
        elif name != "line":
            table[name] = draft.word(name).texts(rows)
    return pd.DataFrame(table)


def _by_place(draft: Draft, looks: Looks) -> Ints:
    """Order within a look: by measure, zone, flute, height, side, pin, part and repeat."""
    rows = looks.rows
    known = {"measure": list(MEASURES), "zone": list(ZONES)}
    keys = [np.nan_to_num(draft.number(name)[rows], nan=-1.0) for name in ("repeat", "pin_mm", "height_mm")]
    words = {
        name: _ranks(draft.word(name), known.get(name, []))[rows]
        for name in ("measure", "zone", "flute", "side", "part")
    }
    repeat, pin, height = keys
    ordered = (repeat, words["part"], pin, words["side"], height, words["flute"], words["zone"], words["measure"])
    return np.lexsort((rows, *ordered, looks.look, looks.cutter))


def _ranks(words: Words, first: list[str]) -> Ints:
    """Rank of each row's word: known words in their own order, then the others in natural order."""
    place = {word: at for at, word in enumerate(first)}
    ordered = sorted(set(words.vocabulary), key=lambda word: (place.get(word, len(place)), natural_key(word)))
    rank = {word: at for at, word in enumerate(ordered)}
    return np.array([rank[word] for word in words.vocabulary], dtype=np.int64)[words.codes]


def _split_facts(facts: pd.DataFrame, rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Facts of cutters -> runs, cutters, conditions."""
    of_condition = [c.name for c in with_scope("condition") if c.name in facts] + ["removal_rate_cm3_min"]
    of_run = [c.name for c in with_scope("run") if c.name in facts]
    of_cutter = [c.name for c in with_scope("cutter") if c.name in facts]
    conditions = facts[of_condition].drop_duplicates().reset_index(drop=True)
    conditions.insert(0, "condition", pd.Series([f"C{i + 1}" for i in range(len(conditions))], dtype=object))
    keyed = facts.merge(conditions, on=of_condition, how="left") if len(facts) else facts.assign(condition="")
    runs = keyed[["cutter", "condition", *of_run]].copy()
    reason = rows[rows["end_reason"] != ""].groupby("cutter")["end_reason"].first().to_dict()
    runs["end_reason"] = pd.Series([reason.get(name, "") for name in runs["cutter"]], index=runs.index, dtype=object)
    measured = rows["measure"] != "end"
    looks = rows[measured].groupby("cutter")["inspection"].nunique().to_dict()
    runs["readings"] = np.array([looks.get(name, 0) for name in runs["cutter"]], dtype=int)
    last = rows.groupby("cutter")[list(CLOCKS)].max()
    for clock in CLOCKS:
        runs[clock] = last[clock].reindex(runs["cutter"]).to_numpy(dtype=float)
    return runs.reset_index(drop=True), facts[of_cutter].reset_index(drop=True), conditions
