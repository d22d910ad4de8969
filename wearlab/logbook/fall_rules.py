"""Wear does not heal: a land that falls is reading error, a slip, a lost built-up edge, or another cutter."""

from __future__ import annotations

import numpy as np

from wearlab.logbook.curves import LANDS, Lands, Steps, steps_of
from wearlab.logbook.draft import Draft
from wearlab.logbook.sheet import Ints

FALL_MM, FALL_SHARE = 0.015, 0.05
"""A fall in the mean land beyond both is more than reading error explains (common practice, no source)."""


def check_falls(draft: Draft, lands: Lands) -> None:
    """Report every look at which the mean land of a zone falls."""
    steps = steps_of(lands)
    if not len(steps.after):
        return
    order = np.argsort(steps.group, kind="stable")
    ordered = steps.group[order]
    starts = np.flatnonzero(np.concatenate([[True], ordered[1:] != ordered[:-1]]))
    ends = np.append(starts[1:], len(ordered))
    for begin, end in zip(starts, ends, strict=True):
        _one_zone(draft, lands, steps, order[begin:end])


def _one_zone(draft: Draft, lands: Lands, steps: Steps, own: Ints) -> None:
    before = float(lands.value[steps.before[own]].mean())
    after = float(lands.value[steps.after[own]].mean())
    fall = before - after
    if fall <= 1e-9:
        return
    first = int(steps.after[own[0]])
    row = int(lands.row[first])
    zone = draft.word("zone").text(row)
    found = (
        f"{LANDS[lands.measure[first]]}{f' in zone {zone}' if zone else ''} falls from {before:.4g} to {after:.4g} mm"
    )
    cutter = draft.cutter_of(row)
    if fall > max(FALL_MM, FALL_SHARE * before):
        draft.warn(
            "wear_falls",
            found,
            [row],
            cutter=cutter,
            column="value",
            hint="Misread, a built-up edge gone, or another cutter? Look at the photograph",
        )
    else:
        draft.note(
            "wear_falls_a_little",
            f"{found}: no more than reading error may explain",
            [row],
            cutter=cutter,
            column="value",
        )
