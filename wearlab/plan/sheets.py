"""The sheets of a plan as records: what stands on the run sheet and on each bench sheet, and what is left open.

Drawing them is the report's business.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearlab.plan.blank_log import run_facts
from wearlab.plan.order import Run
from wearlab.plan.plan import Plan

if TYPE_CHECKING:
    import pandas as pd

MOST_CELLS = 16
"""Lands a line of a bench sheet has room for with a pencil; more of them go on a further page."""
SPARE_LINES = 2
MOST_LINES = 15
"""Lines of one page."""
TO_WRITE = (
    "runout_um",
    "diameter_low_mm",
    "diameter_high_mm",
    "hardness_1",
    "hardness_2",
    "hardness_3",
    "coolant_share",
    "program",
    "photo_new",
    "started",
)
"""What is written down before the first part, because it cannot be had later."""
KNOWN = (
    "strategy",
    "spindle_rpm",
    "feed_rate_mm_min",
    "axial_depth_mm",
    "radial_width_mm",
    "passes",
    "plunge_pitch_mm",
    "plunge_feed_per_tooth_mm",
    "drill_diameter_mm",
    "drill_pitch_mm",
    "ramp_angle_deg",
    "allowance_wall_mm",
    "allowance_floor_mm",
    "diameter_mm",
    "teeth",
    "overhang_mm",
    "coolant",
    "bar",
    "day",
    "machine",
    "holder",
    "cutter_batch",
)
"""What the head of a bench sheet states, where the plan knows it."""


@dataclass(frozen=True, slots=True)
class Grid:
    """One page of a bench sheet.

    Attributes
    ----------
    kind : str
        lands or walls.
    groups : tuple of (str, tuple of str)
        Heading over some columns, and the columns under it: a zone and its flutes, or a measure and its heights.
    """

    kind: str
    groups: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def cells(self) -> int:
        """Columns to write in."""
        return sum(len(columns) for _, columns in self.groups)


@dataclass(frozen=True, slots=True)
class Line:
    """One look: its number, when it is due; all None on a spare line."""

    reading: int | None
    parts: int | None
    minutes: float | None


@dataclass(frozen=True)
class BenchSheet:
    """One cutter's sheet.

    Attributes
    ----------
    run : Run
    known : tuple of (str, value)
        Log columns and their planned cells.
    to_write : tuple of str
        Facts that are written down before the first part.
    grids : tuple of Grid
    lines : tuple of Line
        Planned looks, and spare lines.
    last_parts : int
        The last planned look: beyond it looks go on at the last spacing.
    """

    run: Run
    known: tuple[tuple[str, Any], ...]
    to_write: tuple[str, ...]
    grids: tuple[Grid, ...]
    lines: tuple[Line, ...]
    last_parts: int


def bench_sheets(plan: Plan) -> tuple[BenchSheet, ...]:
    """One sheet a cutter, in the order of running.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.plan import make_plan
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> sheets = bench_sheets(make_plan(request_of(tomllib.loads(EXAMPLE))))
    >>> len(sheets), sheets[0].run.cutter, [grid.cells for grid in sheets[0].grids]
    (12, 'E1', [8])
    """
    grids = _grids(plan)
    return tuple(_sheet(plan, run, grids) for run in plan.runs)


def settings_table(plan: Plan) -> pd.DataFrame:
    """One row a practice and speed: settings and the quantities that follow, in columns of the log and of `milling`."""
    import pandas as pd

    rows = []
    for arm, count in [*((arm, plan.cutters) for arm in plan.matched.arms), *plan.speed_arms]:
        quantities = arm.practice.quantities()
        rows.append(
            arm.facts()
            | {
                "cutters": count,
                "minutes_a_part": arm.minutes_a_part,
                "expected_life_min": arm.expected_life_min,
                "life_from": arm.life_from,
                **{
                    name: quantities[name]
                    for name in ("removal_rate_cm3_min", "mean_chip_mm", "max_chip_mm", "power_kw")
                },
            }
        )
    return pd.DataFrame(rows)


def run_table(plan: Plan) -> pd.DataFrame:
    """One row a run: order, cutter, what it shares, practice, settings, looks."""
    import pandas as pd

    rows = []
    for run in plan.runs:
        looks = plan.looks_of(run)
        rows.append(
            run.to_dict()
            | plan.arm_of(run).facts()
            | {
                "looks_parts": ", ".join(map(str, looks.parts)) if looks else "",
                "looks": len(looks.parts) if looks else 0,
            }
        )
    return pd.DataFrame(rows)


def _sheet(plan: Plan, run: Run, grids: tuple[Grid, ...]) -> BenchSheet:
    looks, facts = plan.looks_of(run), run_facts(plan, run)
    lines = (
        [
            Line(i, parts, minutes)
            for i, (parts, minutes) in enumerate(zip(looks.parts, looks.minutes, strict=True), 1)
        ]
        if looks
        else []
    )
    spare = max(SPARE_LINES, 8 - len(lines))
    return BenchSheet(
        run,
        tuple((name, facts[name]) for name in KNOWN if name in facts),
        TO_WRITE,
        grids,
        tuple(lines[: MOST_LINES - SPARE_LINES] + [Line(None, None, None)] * spare),
        looks.parts[-1] if looks else 0,
    )


def _grids(plan: Plan) -> tuple[Grid, ...]:
    flutes = tuple(str(flute) for flute in range(1, plan.request.cutter.teeth + 1))
    pages: list[list[tuple[str, tuple[str, ...]]]] = [[]]
    for zone in plan.zones:
        if pages[-1] and (len(pages[-1]) + 1) * len(flutes) > MOST_CELLS:
            pages.append([])
        pages[-1].append((zone, flutes))
    walls = plan.request.walls
    heights, pins = tuple(f"{z:g}" for z in walls.heights_mm), tuple(f"{pin:g}" for pin in walls.pins_mm)
    groups = [("width", heights)] if heights else []
    groups += [("wall left", heights), ("wall right", heights)] if heights and walls.sides else []
    groups += [("hang_up", pins)] if pins else []
    return tuple(Grid("lands", tuple(page)) for page in pages if page) + (
        (Grid("walls", tuple(groups)),) if groups else ()
    )
