"""Hang-up heights: where each pin stopped, where the widths say it should, and where the worn edge says it should."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import WearlabError
from wearlab.core.tables import each_row, plain, records
from wearlab.logbook.columns import CLOCKS
from wearlab.milling.arrays import Floats
from wearlab.milling.pins import hang_up_height_mm, pin_limits_mm, unseen_fillet_mm
from wearlab.wall.prediction import PredictedSlot
from wearlab.wall.profile import WallProfile
from wearlab.wall.readings import WallReadings
from wearlab.wall.recession import ZONE_LINE_MM

Slot = tuple[str, int, str]
"""Cutter, look, part."""
Widths = tuple[Floats, Floats]
"""Heights and widths of one slot."""
REACHES, HANGS, STAYS_OUT = "reaches the floor", "hangs up", "does not enter"
COLUMNS = [
    "cutter", "inspection", "part", *CLOCKS, "pin_mm", "pin_class", "pin_chamfer_mm", "height_mm", "outcome",
    "from_widths_mm", "predicted_mm", "low", "high", "level", "predicted_outcome", "inside", "unseen_fillet_mm",
    "why_missing",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Agreement:
    """How the predicted heights answer the measured ones.

    Attributes
    ----------
    pins : int
        Pins with both.
    inside : int
        Measured inside the predicted interval.
    same_outcome : int
        Predicted to reach the floor, to hang or to stay out, as it was found.
    settled : int
        Pins whose whole predicted interval is one place: the floor, the mouth or one zone line. Walls that are nearly
        as wide as the pin over a longer stretch leave it almost anywhere, and nothing is settled.
    settled_inside : int
        Of these, measured inside it.
    rms_mm : float
        Root mean square of measured less predicted over the settled pins that hung; NaN where none did.
    hung : int
        How many those are.
    """

    pins: int
    inside: int
    same_outcome: int
    settled: int
    settled_inside: int
    rms_mm: float
    hung: int

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


@dataclass(frozen=True, repr=False)
class HangUps:
    """Hang-up of every pin in every slot.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a pin and slot: `height_mm` as measured, `from_widths_mm` from the widths of the same slot,
        `predicted_mm` with `low`, `high`, `level` from the lands of the cutter, each with its outcome in words,
        `inside` (measured between low and high), `unseen_fillet_mm` (floor fillet that the pin passes over: a
        chamfered pin cannot see a smaller one), `why_missing`.
    depth_mm : float
        Height of the mouth.
    zone_line_mm : float
        How well a zone line is known as a height.
    """

    table: pd.DataFrame
    depth_mm: float
    zone_line_mm: float

    def settled(self) -> pd.DataFrame:
        """Rows whose predicted interval is one place: the floor, the mouth, or one zone line."""
        width = self.table["high"] - self.table["low"]
        narrow = width <= 2 * self.zone_line_mm * (1 + 1e-9)
        return self.table[self.table["predicted_mm"].notna() & narrow]

    def agreement(self) -> Agreement:
        """Count how measured and predicted agree."""
        both = self.table[self.table["predicted_mm"].notna()]
        settled = self.settled()
        hung = settled[(settled["outcome"] == HANGS) & (settled["predicted_outcome"] == HANGS)]
        gap = (hung["height_mm"] - hung["predicted_mm"]).to_numpy(dtype=float)
        return Agreement(
            pins=len(both),
            inside=int(both["inside"].astype(bool).sum()),
            same_outcome=int((both["outcome"] == both["predicted_outcome"]).sum()),
            settled=len(settled),
            settled_inside=int(settled["inside"].astype(bool).sum()),
            rms_mm=float(np.sqrt(np.mean(gap**2))) if len(gap) else math.nan,
            hung=len(gap),
        )

    def to_frame(self) -> pd.DataFrame:
        """The table."""
        return self.table

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        counts = self.agreement().to_dict()
        return {"depth_mm": plain(self.depth_mm), "hang_up": records(self.table), "agreement": counts}

    def __repr__(self) -> str:
        return f"<HangUps: {len(self.table)} pins in slots {self.depth_mm:g} mm deep>"


def hang_ups(
    readings: WallReadings,
    profiles: tuple[WallProfile, ...],
    predicted: Mapping[Slot, PredictedSlot],
    missing: Mapping[Slot, str],
    depth_mm: float,
    zone_line_mm: float = ZONE_LINE_MM,
    level: float = 0.95,
) -> HangUps:
    """Set every measured hang-up beside the predicted one.

    Parameters
    ----------
    readings : WallReadings
    profiles : tuple of WallProfile
    predicted : mapping of (cutter, look, part) to PredictedSlot
    missing : mapping of (cutter, look, part) to str
        Why a slot has no prediction.
    depth_mm : float
        Height of the mouth.
    zone_line_mm : float
        How well a zone line is known as a height.
    level : float
    """
    widths = {(one.cutter, one.inspection, one.part): _widths(one, depth_mm) for one in profiles}
    fillets = _fillets(readings)
    rows = []
    for pin in each_row(readings.of("hang_up")):
        key = (str(pin.cutter), int(pin.inspection), str(pin.part))
        row = {"cutter": key[0], "inspection": key[1], "part": key[2]}
        row |= {clock: float(getattr(pin, clock)) for clock in CLOCKS}
        row |= _measured(pin, depth_mm, widths.get(key))
        slot = predicted.get(key)
        row |= {"predicted_mm": math.nan, "low": math.nan, "high": math.nan, "level": level, "predicted_outcome": ""}
        row |= {"inside": None, "unseen_fillet_mm": math.nan, "why_missing": missing.get(key, "no slot was predicted")}
        if slot is not None:
            row |= _predicted(pin, slot, fillets.get(key, 0.0), level)
        rows.append(row)
    return HangUps(pd.DataFrame(rows, columns=COLUMNS), depth_mm, zone_line_mm)


def outcome(height_mm: float, depth_mm: float) -> str:
    """What a hang-up height means.

    >>> outcome(0.0, 8.0), outcome(2.0, 8.0), outcome(8.0, 8.0)
    ('reaches the floor', 'hangs up', 'does not enter')
    """
    if not math.isfinite(height_mm):
        return ""
    if height_mm <= 0:
        return REACHES
    return STAYS_OUT if math.isfinite(depth_mm) and height_mm >= depth_mm else HANGS


def pin_limits(pin_mm: float, pin_class: str) -> tuple[float, float, str]:
    """Least and greatest true size of a pin, and why its class is not used where it is not.

    >>> pin_limits(12.5, "Z")
    (12.5, 12.50254, '')
    >>> pin_limits(12.5, "")[2]
    'no pin class: the pin is taken as exact'
    """
    if not pin_class:
        return pin_mm, pin_mm, "no pin class: the pin is taken as exact"
    try:
        low, high = pin_limits_mm(pin_mm, pin_class)
    except WearlabError as problem:
        return pin_mm, pin_mm, f"{problem.message()}: the pin is taken as exact"
    return low, high, ""


def _fillets(readings: WallReadings) -> dict[Slot, float]:
    own = readings.of("floor_radius")
    return {
        (str(row.cutter), int(row.inspection), str(row.part)): float(row.value_mm)
        for row in each_row(own)
    }  # fmt: skip


def _measured(pin: Any, depth_mm: float, widths: Widths | None) -> dict[str, Any]:
    height = float(pin.value_mm)
    low, high, _ = pin_limits(float(pin.pin_mm), str(pin.pin_class))
    return {
        "pin_mm": float(pin.pin_mm),
        "pin_class": str(pin.pin_class),
        "pin_chamfer_mm": float(pin.pin_chamfer_mm),
        "height_mm": height,
        "outcome": outcome(height, depth_mm),
        "from_widths_mm": float(hang_up_height_mm(*widths, (low + high) / 2)) if widths else math.nan,
    }


def _widths(slot: WallProfile, depth_mm: float) -> Widths | None:
    """Heights and widths as read; below the lowest and above the highest reading the slot goes on evenly."""
    held = slot.points[["height_mm", "width_mm"]].to_numpy(dtype=float)
    held = held[np.isfinite(held[:, 1])]
    if not len(held):
        return None
    top = max(depth_mm, held[-1, 0]) if math.isfinite(depth_mm) else held[-1, 0]
    z = np.concatenate([[0.0], held[:, 0], [top]])
    return z, np.concatenate([held[:1, 1], held[:, 1], held[-1:, 1]])


def _predicted(pin: Any, slot: PredictedSlot, fillet_mm: float, level: float) -> dict[str, Any]:
    low, high, note = pin_limits(float(pin.pin_mm), str(pin.pin_class))
    known = math.isfinite(float(pin.pin_chamfer_mm))
    chamfer = float(pin.pin_chamfer_mm) if known else 0.0
    middle = (low + high) / 2
    stop = slot.hang_up(middle, fillet_mm, chamfer)
    limits = slot.hang_up_interval(low, high, level, fillet_mm, chamfer)
    found = {"predicted_mm": stop, "predicted_outcome": outcome(stop, slot.top_mm), "why_missing": note}
    if not math.isfinite(stop) or limits.unbounded:
        return found | {"predicted_mm": math.nan, "predicted_outcome": "", "why_missing": "a stretch of the edge that "
                        "the pin comes to was not read"}  # fmt: skip
    gap = (float(slot.widths_mm[0]) - middle) / 2
    unseen = float(unseen_fillet_mm(gap, chamfer)) if known and gap >= 0 else math.nan
    inside = limits.contains(float(pin.value_mm))
    return found | {"low": limits.low, "high": limits.high, "inside": inside, "unseen_fillet_mm": unseen}
