"""A whole cutter in another unit: its lands against those of its sisters at the same age, and against its own end."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.logbook.columns import with_scope
from wearlab.logbook.curves import Lands
from wearlab.logbook.draft import Draft
from wearlab.logbook.findings import listed
from wearlab.logbook.noise import slip_words
from wearlab.logbook.order import Looks, changes, spans, stretch
from wearlab.logbook.sheet import Floats, Ints

SEEN_MM = 0.030
"""Lands below this say little: only readings of which one of the two is wider are compared."""
SISTER_RATIO, ANY_RATIO = 6.0, 12.0
"""Lands are off when they differ from cutters on the same condition, or from all cutters, by more than this."""
MOST_SISTERS = 12
"""So many cutters on the same condition are enough to compare with."""
PLAUSIBLE_MM = (0.030, 1.5)
"""The last land of a cutter that cut for a while lies between these (common practice, no source)."""

_Curve = tuple[Floats, Floats]
"""Clock and mean land of one cutter, measure and zone."""


@dataclass(frozen=True, slots=True)
class Off:
    """A cutter whose lands are off by a ratio, and against what."""

    cutter: int
    ratio: float
    against: str


def check_sisters(draft: Draft, looks: Looks, lands: Lands, facts: pd.DataFrame) -> None:
    """Report cutters whose lands as a whole are many times too large or too small."""
    if not len(lands):
        return
    curves = _curves(lands)
    last = {cutter: _last_land(own) for cutter, own in curves.items()}
    conditions = _conditions(facts, looks)
    worn = np.flatnonzero(draft.word("end_reason").equal("worn"))
    ended_worn = {draft.cutter_of(int(row)) for row in worn}
    groups: dict[Hashable, list[int]] = {}
    for cutter in curves:
        groups.setdefault(conditions.get(cutter), []).append(cutter)
    usual_last = float(np.median(list(last.values())))
    for cutter in curves:
        off = _against_sisters(cutter, curves, last, groups[conditions.get(cutter)], looks) or _against_all(
            cutter, curves, last, usual_last
        )
        rows = lands.row[stretch(lands.cutter, cutter)]
        if off is None and last[cutter] < PLAUSIBLE_MM[0] and looks.names[cutter] in ended_worn:
            off = Off(cutter, last[cutter] / 0.3, "a run that ended worn")
        if off is not None:
            _report(draft, looks, off, rows, last[cutter])


def _report(draft: Draft, looks: Looks, off: Off, rows: Ints, last: float) -> None:
    unit = draft.word("unit").text(int(rows[0]))
    if off.against == "a run that ended worn":
        found = f"the run ended worn, but its widest last land is {last:.3g} mm"
        named = slip_words(unit, 1 / 25.4) if unit == "mm" else ""
    else:
        times = f"{off.ratio:.3g} times larger" if off.ratio > 1 else f"{1 / off.ratio:.3g} times smaller"
        found = f"all lands of this cutter are about {times} than those of {off.against}"
        named = slip_words(unit, off.ratio, within=0.6)
    draft.warn(
        "whole_cutter_off",
        found,
        rows,
        cutter=looks.names[off.cutter],
        column="value",
        hint=named or "Is the unit of this cutter right?",
    )


def _curves(lands: Lands) -> dict[int, dict[Hashable, _Curve]]:
    """Mean land over the flutes, by cutter, then by measure and zone."""
    order = np.lexsort((lands.look, lands.zone, lands.measure, lands.cutter))
    table = lands.pick(order)
    starts = np.flatnonzero(changes(table.cutter, table.measure, table.zone, table.look))
    size = np.diff(np.append(starts, len(table)))
    mean = np.add.reduceat(table.value, starts) / size
    once = table.pick(starts)
    clock = np.where(np.isfinite(once.clock), once.clock, once.look)
    result: dict[int, dict[Hashable, _Curve]] = {}
    for begin, end in spans(changes(once.cutter, once.measure, once.zone)):
        key = (int(once.measure[begin]), int(once.zone[begin]))
        result.setdefault(int(once.cutter[begin]), {})[key] = (clock[begin:end], mean[begin:end])
    return result


def _last_land(curves: dict[Hashable, _Curve]) -> float:
    return max(float(land[-1]) for _, land in curves.values())


def _conditions(facts: pd.DataFrame, looks: Looks) -> dict[int, Hashable]:
    """What cutters must share to be sisters: everything that belongs to the condition."""
    names = [column.name for column in with_scope("condition") if column.name in facts]
    code = {name: at for at, name in enumerate(looks.names)}
    rows = facts[["cutter", *names]].astype(object).fillna("").itertuples(index=False, name=None)
    return {code[str(row[0])]: tuple(str(cell) for cell in row[1:]) for row in rows if str(row[0]) in code}


def _against_sisters(
    cutter: int, curves: dict[int, dict[Hashable, _Curve]], last: dict[int, float], group: list[int], looks: Looks
) -> Off | None:
    at = group.index(cutter) if len(group) <= MOST_SISTERS else bisect_left(group, cutter)
    near = group[max(at - MOST_SISTERS // 2, 0) : at + MOST_SISTERS // 2 + 1]
    sisters = [other for other in near if other != cutter]
    if not sisters:
        return None
    ratios = np.array([ratio for key, own in curves[cutter].items() for ratio in _ratios(key, own, sisters, curves)])
    if len(ratios) < 3:
        return None
    middle = float(np.exp(np.median(np.log(ratios))))
    side = ratios > SISTER_RATIO / 1.5 if middle > 1 else ratios < 1.5 / SISTER_RATIO
    if not (middle > SISTER_RATIO or middle < 1 / SISTER_RATIO) or side.mean() < 0.8:
        return None
    if len(sisters) == 1 and PLAUSIBLE_MM[0] <= last[cutter] <= PLAUSIBLE_MM[1]:
        return None  # one of the two is off, and it is not this one
    return Off(cutter, middle, f"{listed([looks.names[at] for at in sisters])}, cut in the same way, at the same age")


def _ratios(key: Hashable, own: _Curve, sisters: list[int], curves: dict[int, dict[Hashable, _Curve]]) -> list[float]:
    """Land over the median of the sisters at the same clock, where either can be seen."""
    found = []
    for clock, land in zip(*own, strict=True):
        others = []
        for other in sisters:
            if key in curves[other]:
                at, values = curves[other][key]
                if at[0] <= clock <= at[-1]:
                    others.append(float(np.interp(clock, at, values)))
        if others:
            usual = float(np.median(others))
            if max(land, usual) > SEEN_MM:
                found.append(max(float(land), 1e-4) / max(usual, 1e-4))
    return found


def _against_all(
    cutter: int, curves: dict[int, dict[Hashable, _Curve]], last: dict[int, float], usual: float
) -> Off | None:
    """The last land against the usual last land of all cutters: for cutters without sisters."""
    looks = max(len(land) for _, land in curves[cutter].values())
    if len(curves) < 4 or looks < 3 or last[cutter] <= 0 or usual <= 0:
        return None
    ratio = last[cutter] / usual
    if 1 / ANY_RATIO <= ratio <= ANY_RATIO or PLAUSIBLE_MM[0] <= last[cutter] <= PLAUSIBLE_MM[1]:
        return None
    return Off(cutter, ratio, "the other cutters at their last look")
