"""Wear does not heal: a land that falls is reading error, a slip, a lost built-up edge, or another cutter."""

from __future__ import annotations

import numpy as np

from wearlab.logbook.curves import LANDS, Lands, Steps, steps_of
from wearlab.logbook.draft import Draft
from wearlab.logbook.sheet import Ints

FALL_MM, FALL_SHARE = 0.015, 0.05
"""A fall in the mean land beyond both is more than reading error explains (common practice, no source)."""


def check_falls(draft: Draft, lands: Lands) -> None:
    """Report every look at which the mean land of a zone falls, flutes that were read both times compared."""
    steps = steps_of(lands)
    if not len(steps.after):
        return
    order = np.argsort(steps.group, kind="stable")
    ordered = steps.group[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    size = np.diff(np.append(starts, len(ordered)))
    before = np.add.reduceat(lands.value[steps.before[order]], starts) / size
    after = np.add.reduceat(lands.value[steps.after[order]], starts) / size
    little: dict[str, list[int]] = {}
    for i in np.flatnonzero(before - after > 1e-9):
        own = order[starts[i] : starts[i] + size[i]]
        _one_zone(draft, lands, steps, own, float(before[i]), float(after[i]), little)
    for cutter, rows in little.items():
        draft.note(
            "wear_falls_a_little",
            f"{len(rows)} times a mean land falls, by no more than reading error may explain"
            if len(rows) > 1
            else "a mean land falls, by no more than reading error may explain",
            rows,
            cutter=cutter,
            column="value",
        )


def _one_zone(
    draft: Draft, lands: Lands, steps: Steps, own: Ints, before: float, after: float, little: dict[str, list[int]]
) -> None:
    first = int(steps.after[own[0]])
    row = int(lands.row[first])
    cutter, zone = draft.cutter_of(row), draft.word("zone").text(row)
    if before - after <= max(FALL_MM, FALL_SHARE * before):
        little.setdefault(cutter, []).append(row)
        return
    found = (
        f"{LANDS[lands.measure[first]]}{f' in zone {zone}' if zone else ''} falls from {before:.4g} to {after:.4g} mm"
    )
    draft.warn(
        "wear_falls",
        found,
        [row],
        cutter=cutter,
        column="value",
        hint="Misread, a built-up edge gone, or another cutter? Look at the photograph",
    )
