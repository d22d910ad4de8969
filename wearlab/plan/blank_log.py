"""What a plan puts into the log before the first chip: every row that will be read, with all that is known already.

Clocks and values are left open, because a clock that is typed says that the cutter was looked at. A row that is never
filled in is taken out again.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from wearlab.core.units import CM3_PER_INCH3
from wearlab.logbook.columns import CLOCKS, COLUMNS, with_scope
from wearlab.plan.inch import land_unit, length_unit, shown_column, shown_row
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan

if TYPE_CHECKING:
    import pandas as pd

TYPED = (
    "run_order",
    "runout_um",
    "parts",
    "cutting_time_min",
    "volume_cm3",
    "flute",
    "value",
    "unit",
    "wear_form",
    "instrument",
    "operator",
    "date",
    "note",
    "end_reason",
)
"""Columns that are there to be typed into, whether or not a plan fills any of them."""


def blank_rows(plan: Plan) -> pd.DataFrame:
    """The log of a plan, one row a reading, cells as text; empty where something is to be typed.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.plan import make_plan
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> rows = blank_rows(make_plan(request_of(tomllib.loads(EXAMPLE))))
    >>> len(rows), sorted(set(rows["strategy"]))
    (1260, ['layered', 'side'])
    """
    import pandas as pd

    units = plan.request.units
    rows = [row for run in plan.runs for row in run_rows(plan, run)]
    held = {name for row in rows for name in row} | set(TYPED)
    names = [shown_column(name, units)[0] for name in COLUMNS if name in held]
    shown = [shown_row(row, units) for row in rows]
    return pd.DataFrame(
        [[cell_text(row.get(name)) for name in names] for row in shown], columns=names, dtype=object
    )


def run_rows(plan: Plan, run: Run) -> list[dict[str, Any]]:
    """Rows of one cutter: lands and walls at every planned look, and the end."""
    facts = run_facts(plan, run)
    looks = plan.looks_of(run)
    rows: list[dict[str, Any]] = []
    for reading, parts in enumerate(looks.parts if looks else (), start=1):
        note = planned_note(plan, run, parts)
        rows += [facts | {"reading": reading, "note": note} | cells for cells in readings_of(plan)]
    return [*rows, facts | {"measure": "end", "note": "why did it end?"}]


def readings_of(plan: Plan) -> list[dict[str, Any]]:
    """What is read at one look: measure, zone and flute, or height, side and pin; in standard columns."""
    of_lands, of_walls = land_unit(plan.request.units), length_unit(plan.request.units)
    lands: list[dict[str, Any]] = [
        {
            "measure": "VB",
            "zone": zone,
            "zone_from_mm": low,
            "zone_to_mm": high,
            "flute": str(flute),
            "unit": of_lands,
        }
        for zone, (low, high) in plan.zones.items()
        for flute in range(1, plan.request.cutter.teeth + 1)
    ]
    walls = plan.request.walls
    widths = [{"measure": "width", "height_mm": height, "unit": of_walls} for height in walls.heights_mm]
    sides = [
        {"measure": "wall", "side": side, "height_mm": height, "unit": of_walls}
        for side in ("left", "right")
        for height in walls.heights_mm
        if walls.sides
    ]
    pins = [{"measure": "hang_up", "pin_mm": pin, "unit": of_walls} for pin in walls.pins_mm]
    return [*lands, *widths, *sides, *pins]


def run_facts(plan: Plan, run: Run) -> dict[str, Any]:
    """Everything of a run that is known beforehand, in columns of the log."""
    request = plan.request
    cutter = request.cutter
    facts: dict[str, Any] = {
        "trial": plan.trial_name,
        "diameter_mm": cutter.diameter_mm,
        "teeth": cutter.teeth,
        "helix_deg": cutter.helix_deg,
        "flute_length_mm": cutter.flute_length_mm,
        "overhang_mm": cutter.overhang_mm,
        "cutter_price": request.money.cutter_price,
        "feature_width_mm": request.feature.width_mm,
        "feature_depth_mm": request.feature.depth_mm,
        "feature_length_mm": request.feature.length_mm,
        "feature_sides": request.feature.sides,
    }
    facts |= dict(request.cutter_facts) | dict(request.work_facts)
    facts |= plan.arm_of(run).facts() | run.facts()
    return {name: cell for name, cell in facts.items() if cell is not None}


def planned_note(plan: Plan, run: Run, parts: int) -> str:
    """When a look is due."""
    arm = plan.arm_of(run)
    minutes, cm3 = parts * arm.minutes_a_part, parts * arm.part_cm3
    volume = f"{cm3 / CM3_PER_INCH3:.2f} in3" if plan.request.units == "inch" else f"{cm3:.1f} cm3"
    return f"planned at {parts} parts = {minutes:.2f} min = {volume}"


def cell_text(cell: Any) -> str:
    """A cell as it stands in a file: shortest decimals, nothing for nothing.

    >>> cell_text(0.30000000000000004), cell_text(4.0), cell_text(None)
    ('0.3', '4', '')
    """
    if cell is None:
        return ""
    return f"{cell:.10g}" if isinstance(cell, float) else str(cell)


def unfilled(row: Mapping[str, str]) -> bool:
    """Whether a row of a blank log was never filled in: no clock, no value and no end."""
    clocks = (*CLOCKS, *(other for clock in CLOCKS for other, _ in COLUMNS[clock].also))
    return not any(str(row.get(name, "")).strip() for name in (*clocks, "value", "end_reason"))


def log_text(rows: pd.DataFrame) -> str:
    """The rows as a flat CSV."""
    return str(rows.to_csv(index=False, lineterminator="\n"))


def known_columns(plan: Plan) -> list[str]:
    """Columns of the cutter, the run and the condition that the plan fills."""
    held = {name for run in plan.runs for name in run_facts(plan, run)}
    return [column.name for column in with_scope("cutter", "run", "condition") if column.name in held]
