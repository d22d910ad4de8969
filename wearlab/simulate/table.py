"""The log of a simulated trial: its rows in the columns of the log, and their text."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from wearlab.logbook.columns import COLUMNS
from wearlab.simulate.course import Course, Ints, Plan, Slots
from wearlab.simulate.spec import TrialSpec

if TYPE_CHECKING:
    import pandas as pd

Block = dict[str, Any]
"""Rows of one kind: `at` (cutter), `look` and columns, each an array or one value for all."""

_TEXTS = (
    "measure",
    "zone",
    "flute",
    "side",
    "pin_class",
    "part",
    "unit",
    "wear_form",
    "instrument",
    "note",
    "end_reason",
)
_NUMBERS = ("zone_from_mm", "zone_to_mm", "height_mm", "pin_mm", "value")
_SECTION = "section"
_SCOPE, _GAUGE, _PINS = "microscope M1", "bore gauge G2", "pin set P3"


def log_rows(
    spec: TrialSpec, plan: Plan, course: Course, slots: Slots, rng: np.random.Generator
) -> pd.DataFrame:
    """Rows of the log, cutter by cutter, look by look: lands, chip, witness slot, end.

    Text columns hold an empty text where there is nothing, number columns a nan.
    """
    import pandas as pd

    blocks = [
        _lands(spec, plan, course),
        _chips(spec, course, rng),
        *_slots(spec, plan, course, slots),
        _ends(course),
    ]
    merged = _merge(blocks)
    order = np.lexsort((merged[_SECTION], merged["look"], merged["at"]))
    rows = {name: cells[order] for name, cells in merged.items()}
    at, look = rows.pop("at"), rows.pop("look")
    del rows[_SECTION]
    columns = _of_cutters(spec, plan, rng, at) | rows
    columns |= {
        "reading": look + 1,
        "cutting_time_min": np.round(plan.minutes[at, look], 2),
        "volume_cm3": np.round(plan.parts[at, look] * spec.shop.part_cm3, 3),
        "parts": plan.parts[at, look],
    }
    return pd.DataFrame({name: columns[name] for name in COLUMNS if name in columns})


def cutter_names(plan: Plan) -> NDArray[np.object_]:
    """E1, E2, ... in the order in which they were run."""
    return np.array([f"E{i + 1}" for i in range(len(plan.arm))], dtype=object)


def log_text(rows: pd.DataFrame) -> str:
    """The rows as a flat CSV: shortest decimals, nothing for a missing number, lines ended by a line feed."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(rows.columns)
    writer.writerows(zip(*(_texts(rows[name].tolist()) for name in rows.columns), strict=True))
    return out.getvalue()


def _texts(cells: list[Any]) -> list[str]:
    return [cell if isinstance(cell, str) else "" if cell != cell else f"{cell:.10g}" for cell in cells]


def _lands(spec: TrialSpec, plan: Plan, course: Course) -> Block:
    """One row a flute and zone, at every look up to the last; a chipped corner cannot be read."""
    zones = np.array([[zone.name in arm.zones for zone in spec.zones] for arm in spec.arms])[plan.arm]
    shape = course.read_mm.shape
    live = np.arange(shape[1]) <= course.last[:, None]
    at, look, zone, flute = np.nonzero(
        np.broadcast_to(live[:, :, None, None] & zones[:, None, :, None], shape)
    )
    lost = (look == course.last[at]) & (flute + 1 == course.chipped_flute[at]) & (zone == 0)
    return {
        "at": at, "look": look, _SECTION: 0, "measure": "VB", "unit": "mm", "instrument": _SCOPE,
        "zone": np.array([z.name for z in spec.zones], dtype=object)[zone],
        "zone_from_mm": np.array([z.from_mm for z in spec.zones])[zone],
        "zone_to_mm": np.array([z.to_mm for z in spec.zones])[zone],
        "flute": _words(flute + 1),
        "value": np.where(lost, np.nan, course.read_mm[at, look, zone, flute]),
        "note": np.where(lost, "chipped, no land to read", "").astype(object),
    }  # fmt: skip


def _chips(spec: TrialSpec, course: Course, rng: np.random.Generator) -> Block:
    """The chip of every cutter that chipped, 0.3 to 0.8 mm long."""
    length = np.round(0.3 + 0.5 * rng.random(len(course.last)), 2)
    (at,) = np.nonzero(course.chipped_flute)
    zone = spec.zones[0]
    return {
        "at": at, "look": course.last[at], _SECTION: 1, "measure": "chip", "unit": "mm", "instrument": _SCOPE,
        "zone": zone.name, "zone_from_mm": zone.from_mm, "zone_to_mm": zone.to_mm,
        "flute": _words(course.chipped_flute[at]), "value": length[at], "wear_form": "chipping",
    }  # fmt: skip


def _slots(spec: TrialSpec, plan: Plan, course: Course, slots: Slots) -> list[Block]:
    """Widths, walls and pins of the first, a middle and the last look."""
    cut = np.array([arm.witness for arm in spec.arms])[plan.arm]
    looks = np.arange(course.land_mm.shape[1])
    last = course.last[:, None]
    wanted = cut[:, None] & ((looks == 0) | (looks == last // 2) | (looks == last))
    heights, pins = np.array(spec.witness.heights_mm), np.array(spec.witness.pins_mm)
    sides = np.array(["left", "right"], dtype=object)
    at, look, height = _each(wanted, len(heights))
    widths: Block = {
        "at": at, "look": look, _SECTION: 2, "measure": "width", "instrument": _GAUGE,
        "height_mm": heights[height], "value": slots.width_mm[at, look, height],
    }  # fmt: skip
    at, look, side, height = _each(wanted, 2, len(heights))
    walls: Block = {
        "at": at, "look": look, _SECTION: 3, "measure": "wall", "instrument": _GAUGE,
        "side": sides[side], "height_mm": heights[height], "value": slots.wall_mm[at, look, side, height],
    }  # fmt: skip
    at, look, pin = _each(wanted, len(pins))
    stops: Block = {
        "at": at, "look": look, _SECTION: 4, "measure": "hang_up", "instrument": _PINS,
        "pin_mm": pins[pin], "pin_class": spec.witness.pin_class, "value": slots.hang_up_mm[at, look, pin],
    }  # fmt: skip
    return [block | {"unit": "mm", "part": _witness_names(plan, block)} for block in (widths, walls, stops)]


def _witness_names(plan: Plan, block: Block) -> NDArray[np.object_]:
    """Part of a witness slot: the count of parts at which it was cut."""
    return np.array([f"witness {count}" for count in plan.parts[block["at"], block["look"]]], dtype=object)


def _ends(course: Course) -> Block:
    return {
        "at": np.arange(len(course.last)), "look": course.last, _SECTION: 5, "measure": "end",
        "end_reason": course.reason, "note": course.note,
    }  # fmt: skip


def _of_cutters(spec: TrialSpec, plan: Plan, rng: np.random.Generator, at: Ints) -> Block:
    """Columns that are the same in all rows of a cutter."""
    shop, count = spec.shop, len(plan.arm)
    arms = [spec.arms[i] for i in plan.arm]
    practices = [spec.practice(arm.strategy) for arm in arms]
    runout = rng.integers(4, 10, size=count)
    operator = rng.integers(0, len(shop.operators), size=count)
    first = np.busday_offset(shop.first_day, 0, roll="forward")
    by_cutter: Block = {
        "cutter": cutter_names(plan),
        "block": _words(plan.block),
        "bar": np.array([f"bar {block}" for block in plan.block], dtype=object),
        "run_order": np.arange(1, count + 1),
        "runout_um": runout,
        "strategy": np.array([p.strategy for p in practices], dtype=object),
        "cutting_speed_m_min": plan.speed_m_min,
        "spindle_rpm": np.rint([spec.rpm(speed) for speed in plan.speed_m_min]),
        "axial_depth_mm": np.array([p.axial_depth_mm for p in practices]),
        "radial_width_mm": np.array([p.radial_width_mm for p in practices]),
        "passes": np.array([p.passes for p in practices]),
        "direction": np.array([p.direction for p in practices], dtype=object),
        "operator": np.array(shop.operators, dtype=object)[operator],
        "date": np.busday_offset(first, np.arange(count)).astype(str).astype(object),
    }
    same: Block = {
        "trial": spec.name,
        "diameter_mm": shop.diameter_mm,
        "teeth": shop.teeth,
        "relief_deg": shop.relief_deg,
        "rake_deg": shop.rake_deg,
        "feed_per_tooth_mm": shop.feed_per_tooth_mm,
        "feature_width_mm": shop.width_mm,
        "feature_depth_mm": shop.depth_mm,
        "feature_length_mm": shop.length_mm,
        **dict(shop.cells),
    }  # fmt: skip
    return {name: cells[at] for name, cells in by_cutter.items()} | {
        name: _full(cell, len(at)) for name, cell in same.items()
    }


def _each(wanted: NDArray[np.bool_], *sizes: int) -> tuple[Ints, ...]:
    """Index arrays over the wanted cutters and looks and everything inside them."""
    return np.nonzero(
        np.broadcast_to(wanted.reshape(*wanted.shape, *(1 for _ in sizes)), (*wanted.shape, *sizes))
    )


def _words(numbers: Ints) -> NDArray[np.object_]:
    return np.array([str(number) for number in numbers], dtype=object)


def _full(cell: Any, count: int) -> NDArray[Any]:
    return np.full(count, cell, dtype=object if isinstance(cell, str) else None)


def _merge(blocks: list[Block]) -> Block:
    """Rows of all kinds under each other; what a kind does not state is blank."""
    names = ("at", "look", _SECTION, *_TEXTS, *_NUMBERS)
    blank = dict.fromkeys(_TEXTS, "") | dict.fromkeys(_NUMBERS, np.nan)
    merged: Block = {}
    for name in names:
        cells = [block.get(name, blank.get(name)) for block in blocks]
        sizes = [len(block["at"]) for block in blocks]
        merged[name] = np.concatenate(
            [
                cell if isinstance(cell, np.ndarray) else _full(cell, size)
                for cell, size in zip(cells, sizes, strict=True)
            ]
        )
    return merged
