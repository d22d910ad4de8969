"""What was fair: which conditions were matched, and whether the practice is tangled with something else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.logbook.trial import Trial
from wearlab.milling.cut import Cut
from wearlab.milling.matching import Matched, matched_conditions

REFUSING = ("block", "bar", "day", "machine", "cutter_batch")
"""A group wholly inside one level of these, alone there, cannot be told from it: no verdict."""
DOUBTING = ("holder", "overhang_mm", "coolant", "operator", "instrument")
"""The same in these is said, and does not refuse."""
READ_WITH = {"operator": "read by", "instrument": "read with"}
"""What belongs to the readings of a cutter, and not to its cut."""
JOINT = "\x1f"
"""Between several readers of one cutter; no cell of a log can hold it."""


@dataclass(frozen=True, slots=True)
class Fairness:
    """Of one pair of groups."""

    matched: tuple[str, ...]
    unmatched: tuple[str, ...]
    not_compared: tuple[str, ...]
    confounded: tuple[str, ...]
    doubts: tuple[str, ...]
    detail: Matched | None = None

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "matched": list(self.matched),
            "unmatched": list(self.unmatched),
            "not_compared": list(self.not_compared),
            "confounded": list(self.confounded),
            "doubts": list(self.doubts),
        }


def fairness(facts: pd.DataFrame, a: str, b: str, by: str = "") -> Fairness:
    """Judge one pair.

    Parameters
    ----------
    facts : pandas.DataFrame
        Facts of the cutters compared, with `group`.
    a, b : str
        Groups.
    by : str
        Column that made the groups, which is not held against itself.
    """
    detail, missing = _conditions(facts, a, b)
    confounded = [text for name in REFUSING if name != by for text in _alone(facts, a, b, name)]
    doubts = [text for name in DOUBTING if name != by for text in _alone(facts, a, b, name)] + _run_order(facts, a, b)
    return Fairness(
        matched=detail.matched if detail else (),
        unmatched=detail.unmatched if detail else (),
        not_compared=detail.not_compared if detail else missing,
        confounded=tuple(dict.fromkeys(confounded)),
        doubts=tuple(dict.fromkeys(doubts)),
        detail=detail,
    )


def _conditions(facts: pd.DataFrame, a: str, b: str) -> tuple[Matched | None, tuple[str, ...]]:
    needed = ("diameter_mm", "teeth", "spindle_rpm", "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm")
    missing = tuple(name for name in needed if name not in facts or facts[name].isna().any())
    absent = [name for name in (a, b) if not (facts["group"] == name).any()]
    if missing or absent:
        return None, missing or tuple(f"no cutter of {name}" for name in absent)
    try:
        cuts = [_typical_cut(facts[facts["group"] == name]) for name in (a, b)]
        return matched_conditions(cuts[0], cuts[1]), ()
    except WearlabError as error:
        return None, (f"engagement: {error.found}",)


def _typical_cut(facts: pd.DataFrame) -> Cut:
    """The condition of most cutters of a group."""
    usual = {
        name: facts[name].mode().iloc[0]
        for name in ("diameter_mm", "teeth", "spindle_rpm", "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm")
    }
    helix = facts["helix_deg"].mode() if "helix_deg" in facts else pd.Series(dtype=float)
    overhang = facts["overhang_mm"].mode() if "overhang_mm" in facts else pd.Series(dtype=float)
    return Cut(
        float(usual["diameter_mm"]),
        int(usual["teeth"]),
        float(usual["spindle_rpm"]),
        float(usual["feed_per_tooth_mm"]),
        float(usual["axial_depth_mm"]),
        float(usual["radial_width_mm"]),
        helix_deg=float(helix.iloc[0]) if len(helix) else 30.0,
        overhang_mm=float(overhang.iloc[0]) if len(overhang) else None,
    )


def _alone(facts: pd.DataFrame, a: str, b: str, column: str) -> list[str]:
    """A group of two or more cutters wholly inside one level in which no cutter of the other group ran."""
    if column not in facts:
        return []
    cells = facts[column].map(lambda cell: "" if cell != cell else str(cell))
    if column in READ_WITH:
        return _read_apart(cells, facts["group"], a, b, column)
    found = []
    for group, other in ((a, b), (b, a)):
        own, others = cells[(facts["group"] == group)], set(cells[(facts["group"] == other)])
        levels = set(own)
        if len(own) >= 2 and len(levels) == 1 and "" not in levels and not levels & others and "" not in others:
            found.append(f"all of {group} was cut with {column} {levels.pop()}, and none of {other}")
    return found or _never_together(cells, facts["group"], a, b, column)


def _read_apart(cells: pd.Series, group: pd.Series, a: str, b: str, column: str) -> list[str]:
    """Two sides that share nobody (no instrument), of which somebody read more than one cutter.

    A cutter may have several readers: two sides share one as soon as a cutter of each was read by the same, whoever
    else read it.
    """
    readers = cells.map(lambda cell: frozenset(cell.split(JOINT)) - {""})
    sides = [list(readers[group == name]) for name in (a, b)]
    if not all(sides) or not all(all(own) for own in sides):
        return []
    first, second = (frozenset().union(*own) for own in sides)
    each = [name for own in sides for cutter in own for name in cutter]
    if first & second or len(each) == len(set(each)):
        return []
    found = []
    for own, name, other in ((sides[0], a, b), (sides[1], b, a)):
        if len(own) > 1 and len(set(own)) == 1:
            found.append(f"all of {name} {_by_these(column, own[0])}, and none of {other}")
    return found or [f"{'nobody' if column == 'operator' else f'no {column}'} read cutters of both {a} and {b}"]


def _by_these(column: str, readers: frozenset[str]) -> str:
    """People are not named."""
    if column == "operator":
        return "was read by the same people"
    return f"was {READ_WITH[column]} {column} {', '.join(sorted(readers))}"


def _never_together(cells: pd.Series, group: pd.Series, a: str, b: str, column: str) -> list[str]:
    """Several levels a side, none of them shared, and some that hold more than one cutter: the level is the unit then.

    A bar or a lot for each cutter alone is no such case: there the levels scatter as the cutters do.
    """
    own, others = set(cells[group == a]), set(cells[group == b])
    crowded = bool(cells[group.isin([a, b])].value_counts().max() > 1)
    if not own or not others or "" in own | others or own & others or not crowded:
        return []
    return [f"no {column} holds both {a} and {b}"]


def _run_order(facts: pd.DataFrame, a: str, b: str) -> list[str]:
    if "run_order" not in facts or facts["run_order"].isna().any():
        return []
    first, second = (facts["run_order"][facts["group"] == name] for name in (a, b))
    for early, late, names in ((first, second, (a, b)), (second, first, (b, a))):
        if len(early) > 1 and len(late) > 1 and early.max() < late.min():
            return [f"all of {names[0]} ran before any of {names[1]}: order and practice cannot be told apart"]
    return []


def shares_blocks(facts: pd.DataFrame) -> str:
    """Column by which cutters are blocked: `block` where at least two blocks hold both groups; else empty."""
    if "block" not in facts or (facts["block"].astype(object) == "").any():
        return ""
    both = facts.groupby("block")["group"].nunique()
    return "block" if int((both > 1).sum()) >= 2 else ""


def with_readers(facts: pd.DataFrame, trial: Trial) -> pd.DataFrame:
    """Facts with who read each cutter and with what, where that is recorded; people are numbered and not named.

    Several of one cutter stand in its cell with `JOINT` between them.
    """
    readings = pd.concat([trial.wear, trial.walls], ignore_index=True)
    made = facts
    for column in READ_WITH:
        if column in facts or column not in readings:
            continue
        known = readings[(readings[column].notna()) & (readings[column].astype(object) != "")]
        if known.empty:
            continue
        cells = known[column].astype(str)
        if column == "operator":
            cells = cells.map({name: str(at + 1) for at, name in enumerate(sorted(cells.unique()))})
        names = cells.groupby(known["cutter"]).agg(lambda own: JOINT.join(sorted(set(own))))
        made = made.assign(**{column: made["cutter"].map(names).fillna("")})
    return made
