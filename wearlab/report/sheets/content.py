"""What the sheets say: headings, cells and sentences from the records of a plan."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from wearlab.core.units import CM3_PER_INCH3
from wearlab.plan.budget import Budget
from wearlab.plan.files import stem_of
from wearlab.plan.inch import KG_PER_LB, length_unit
from wearlab.plan.plan import Plan
from wearlab.plan.sheets import BenchSheet, Grid, Line, bench_sheets, run_table, settings_table
from wearlab.words.counting import counted, listed
from wearlab.words.criteria import criterion_short, criterion_words
from wearlab.words.labels import Label
from wearlab.words.rounding import significant, trimmed
from wearlab.words.units import unit_of

if TYPE_CHECKING:
    import pandas as pd

_HEADINGS = {
    "order": Label("run"),
    "cutter": Label("cutter"),
    "block": Label("block"),
    "bar": Label("bar"),
    "day": Label("day"),
    "machine": Label("machine"),
    "holder": Label("holder"),
    "cutter_batch": Label("batch"),
    "strategy": Label("practice"),
    "cutting_speed_m_min": Label("cutting speed", "speed"),
    "spindle_rpm": Label("rev/min"),
    "feed_rate_mm_min": Label("feed", "feed_rate"),
    "feed_per_tooth_mm": Label("feed a tooth", "length"),
    "axial_depth_mm": Label("axial depth", "length"),
    "radial_width_mm": Label("radial width", "length"),
    "passes": Label("passes"),
    "cutters": Label("cutters"),
    "removal_rate_cm3_min": Label("removal", "removal"),
    "mean_chip_mm": Label("mean chip", "length"),
    "power_kw": Label("power", "power"),
    "minutes_a_part": Label("min a part"),
    "expected_life_min": Label("life expected, min"),
    "plunge_pitch_mm": Label("plunge pitch", "length"),
    "plunge_feed_per_tooth_mm": Label("plunge feed a tooth", "length"),
    "ramp_angle_deg": Label("ramp angle, °"),
    "drill_diameter_mm": Label("drill", "length"),
    "drill_pitch_mm": Label("drill pitch", "length"),
    "allowance_wall_mm": Label("left on walls", "length"),
    "allowance_floor_mm": Label("left on floor", "length"),
    "diameter_mm": Label("cutter diameter", "length"),
    "teeth": Label("flutes"),
    "overhang_mm": Label("overhang", "length"),
    "coolant": Label("coolant"),
}
_TO_WRITE = {
    "runout_um": Label("runout at the teeth", "deviation"),
    "diameter_low_mm": Label("diameter near the corner", "length"),
    "diameter_high_mm": Label("diameter at the top of the cut", "length"),
    "hardness_1": Label("hardness of the bar, 1"),
    "hardness_2": Label("hardness, 2"),
    "hardness_3": Label("hardness, 3"),
    "coolant_share": Label("coolant, % and pressure"),
    "program": Label("program and revision"),
    "photo_new": Label("photographed new (files)"),
    "started": Label("started: day, hour, initials"),
}
QUANTITIES = {
    "cutting_speed_m_min": "cutting speed",
    "feed_per_tooth_mm": "feed per tooth",
    "feed_rate_mm_min": "feed speed",
    "removal_rate_cm3_min": "removal rate",
    "mean_chip_mm": "mean chip",
    "max_chip_mm": "greatest chip",
    "engagement_angle_deg": "engagement angle",
    "teeth_in_contact": "teeth in contact",
    "power_kw": "power",
    "tip_deflection_um": "deflection of the tip",
    "volume_cm3": "volume a part",
    "cutting_time_min": "cutting time a part",
    "machine_time_min": "machine time a part",
}
_MEASURES = {
    "width": "width, {unit}, at height",
    "wall left": "left wall, {unit}, at height",
    "wall right": "right wall, {unit}, at height",
    "hang_up": "pin stops at, {unit}; pin",
}
_ENDS = (
    ("worn", "the wear limit was reached at this look", "a life, between the last two looks"),
    ("size", "the part went out of size before the wear limit", "a life for the size criterion"),
    ("chipped", "a piece of an edge is out", "a fracture; for wear, it lasted at least so long"),
    ("broken", "a tooth or the cutter is gone", "a fracture; for wear, it lasted at least so long"),
    (
        "withdrawn",
        "taken out still good: needed elsewhere, wrong program, power cut, bar used up",
        "it lasted at least so long",
    ),
    ("budget", "still good at the last look that the trial can afford", "it lasted at least so long"),
    ("pulled_out", "moved in its holder", "it lasted at least so long; walls of that part do not count"),
    ("lost", "lost, reground or mixed up", "it lasted at least to the last reading that can be trusted"),
)
NBSP, SHORT = "\u00a0", 8
FACTS_A_ROW = 6
"""Cells in a row of a bench sheet's head."""
_LANDS = {"metric": "µm", "inch": "thou (0.001 in)"}
_BY_SPEED = ("cutting_speed_m_min", "spindle_rpm", "feed_rate_mm_min")
_RUNS = (
    "order",
    "cutter",
    "block",
    "bar",
    "day",
    "machine",
    "holder",
    "cutter_batch",
    "strategy",
    *_BY_SPEED,
)
_SETTINGS = (
    "strategy",
    "cutting_speed_m_min",
    "spindle_rpm",
    "feed_rate_mm_min",
    "feed_per_tooth_mm",
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
    "removal_rate_cm3_min",
    "mean_chip_mm",
    "power_kw",
    "minutes_a_part",
    "expected_life_min",
    "cutters",
)


def run_content(plan: Plan) -> dict[str, Any]:
    """What the run sheet says."""
    request = plan.request
    runs = run_table(plan).astype(object)
    one_speed = runs["cutting_speed_m_min"].nunique() == 1
    columns = [name for name in _RUNS if not (name in _BY_SPEED and one_speed)]
    return {
        "name": request.name,
        "trial": plan.trial_name,
        "seed": request.seed,
        "question": request.question,
        "log": f"{stem_of(plan)}.csv",
        "book": f"{stem_of(plan)}.xlsx",
        "decides": _decides(plan),
        "forecast": _forecast(plan),
        "blocks": _blocks(plan),
        "settings": _table(settings_table(plan).astype(object), _SETTINGS, request.units),
        "fair": _fair(plan),
        "doubts": list(plan.doubts),
        "runs": _table(runs, columns, request.units),
        "lands": "thousandths of an inch" if request.units == "inch" else "whole µm",
        "totals": _totals(plan),
        "interim": _interim(plan),
        "ends": _ENDS,
    }


def bench_content(plan: Plan) -> dict[str, Any]:
    """What the bench sheets say."""
    return {
        "name": plan.request.name,
        "trial": plan.trial_name,
        "sheets": [_bench(plan, sheet) for sheet in bench_sheets(plan)],
    }


def study_content(plan: Plan, file: str) -> dict[str, Any]:
    """What the sheets of the measurement study say."""
    study = plan.study
    sessions = []
    for (operator, repeat), rows in groupby(study.rows, key=lambda row: (row.operator, row.repeat)):
        own = list(rows)
        half = len(own) if len(own) <= 20 else math.ceil(len(own) / 2)
        sessions.append(
            {
                "operator": operator,
                "repeat": repeat,
                "halves": [own[:half], own[half:]] if own[half:] else [own],
            }
        )
    return {
        "name": plan.request.name,
        "trial": plan.trial_name,
        "seed": plan.request.seed,
        "parts": [f"P{part}" for part in range(1, study.request.parts + 1)],
        "people": counted(len(study.request.operators), "person")
        if len(study.request.operators) == 1
        else f"{len(study.request.operators)} people",
        "repeats": study.request.repeats,
        "readings": len(study.rows),
        "few_people": not study.tells_people_apart,
        "file": file,
        "unit": "thou" if plan.request.units == "inch" else "µm",
        "unit_words": "thousandths of an inch" if plan.request.units == "inch" else "micrometres",
        "sessions": sessions,
    }


def _table(frame: pd.DataFrame, names: Sequence[str], units: str) -> dict[str, Any]:
    """Columns that hold anything, with headings, and cells as text."""
    held = [
        name
        for name in names
        if name in frame and frame[name].map(lambda cell: cell == cell and cell not in ("", None)).any()
    ]
    numeric = {name for name in held if frame[name].map(lambda cell: isinstance(cell, (int, float))).all()}
    return {
        "columns": [{"text": _HEADINGS[name].heading(units), "align": "n" if name in numeric else ""} for name in held],
        "rows": [
            [_cell(name, cell, units) for name, cell in zip(held, row, strict=True)]
            for row in frame[held].itertuples(index=False)
        ],
    }


def _cell(name: str, cell: Any, units: str) -> str:
    if cell is None or cell != cell:
        return ""
    label = _HEADINGS[name]
    if units == "inch" and label.kind:
        return significant(float(cell) * unit_of(label.kind, units).factor)
    if name in (
        "mean_chip_mm",
        "power_kw",
        "removal_rate_cm3_min",
        "minutes_a_part",
        "feed_per_tooth_mm",
        "plunge_feed_per_tooth_mm",
    ):
        return significant(float(cell))
    if name == "expected_life_min":
        return trimmed(float(cell), 0)
    if isinstance(cell, float):
        return trimmed(cell, 3)
    # A short name such as "bar 12" stays on one line, so that the row keeps room for a pencil.
    return str(cell).replace(" ", NBSP) if len(str(cell)) <= SHORT else str(cell)


def _decides(plan: Plan) -> str:
    first, size = plan.criteria[0], plan.request.size
    outcome = {"life": "tool life", "rate": "wear rate", "wall": "wall error"}[size.outcome]
    units = plan.request.units
    text = f"{outcome.capitalize()}; a life ends when {criterion_words(first, units)}"
    others = [criterion_short(one, units) for one in plan.criteria[1:]]
    text += f" (also read to {listed(others)})" if others else ""
    if len(plan.request.practices) > 1:
        least = f"difference under {size.wall_um:g} µm" if size.outcome == "wall" else f"ratio under {size.margin:g}"
        text += f"; a {least} is not worth acting on; confidence {100 * plan.level:.3g} %"
    return f"{text}. These stand in the trial file and are not chosen again after the curves are seen."


def _forecast(plan: Plan) -> str:
    row = plan.forecast()
    if row is None:
        return ""
    wall = row.outcome == "wall"
    what, unit = ("difference", " µm") if wall else ("ratio", "")
    found = (
        f"With {counted(row.cutters, 'cutter')} a practice a true {what} of {row.truth:g}{unit} is shown in about "
        f"{100 * row.power:.0f} of 100 such trials"
    )
    if math.isfinite(row.detectable):
        usual = f"{100 * plan.request.size.power:g} in 100, nothing lost"
        found += f"; the smallest {what} that is usually shown ({usual}) is {row.detectable:.3g}{unit}"
    if wall:
        return f"{found}. Scatter of wall error between cutters: {plan.request.size.wall_sd_um:g} µm, as stated."
    scatter = plan.request.scatter
    return f"{found}. Scatter of life between cutters: {100 * scatter.cv:.0f} % ({scatter.source})."


def _fair(plan: Plan) -> list[str]:
    lines = []
    for one in plan.matched.fair:
        equal = [QUANTITIES.get(name, name) for name in one.named(True)]
        others = [
            f"{QUANTITIES.get(row['quantity'], row['quantity'])} ({row['ratio']:.2f} times)"
            for row in one.rows(False)
        ]
        text = f"{one.a} beside {one.b}: equal in {listed(equal, most=12)}"
        lines.append(text + (f". Not equal: {listed(others, most=12)}." if others else "."))
        bands = [
            f"{zone} {low:.2f} to {high:.2f}"
            for zone, (low, high) in one.predicted.items()
            if math.isfinite(high) and low > 0
        ]
        if bands:
            lines.append(
                f"Growth of the land a minute, {one.a} over {one.b}, by edge exposure: {listed(bands)}."
            )
    return lines


def _totals(plan: Plan) -> str:
    use = next((one for one in plan.budgets if one.cutters == plan.cutters), None)
    if use is None or not math.isfinite(use.parts):
        return f"{counted(len(plan.runs), 'cutter')}."
    text = (
        f"{counted(len(plan.runs), 'cutter')}, about {use.parts:.0f} parts, {_stock(use, plan.request.units)} of bar, "
        f"{use.machine_hours:.0f} h of the machine with the looks"
    )
    if math.isfinite(use.money):
        text += f", about {use.money:.0f} {plan.request.money.currency}".rstrip()
    return text + "."


def _blocks(plan: Plan) -> str:
    """What a block is for; empty where there are none to speak of."""
    blocks, count = plan.request.blocks, len(plan.request.practices)
    if not blocks.use or count < 2 or not plan.cutters:
        return ""
    if blocks.holds is not None and blocks.holds < count:
        text = f"Every block holds {blocks.holds} of the {count} practices, and each two meet equally often"
    else:
        text = "Every block of the comparison holds one run of each practice"
    return f"{text}, so that bar, day and machine touch them alike."


def _stock(use: Budget, units: str) -> str:
    if units == "inch":
        return f"{use.cm3 / CM3_PER_INCH3:.0f} in³ or {use.kg / KG_PER_LB:.0f} lb"
    return f"{use.cm3 / 1000:.1f} dm³ or {use.kg:.0f} kg"


def _interim(plan: Plan) -> dict[str, Any] | None:
    if plan.interim is None:
        return None
    found = plan.interim
    looks = found.boundaries.looks
    return {
        "text": "Nobody looks at the comparison in between. At these points, and only there, it is looked at with the "
        "limits below (error spending after Lan and DeMets); every look is written down. So looking early costs no "
        f"false alarms. A true ratio of {plan.request.size.ratio:g} is shown in about {100 * found.power:.0f} of 100 "
        f"trials in which nothing is lost, after {found.expected_blocks:.1f} of {looks[-1].pairs} blocks on average.",
        "rows": [
            {"pairs": one.pairs, "nominal": f"{one.nominal:.2g}", "spent": f"{one.spent:.2g}"}
            for one in looks
        ],
    }


def _bench(plan: Plan, sheet: BenchSheet) -> dict[str, Any]:
    run, units = sheet.run, plan.request.units
    return {
        "cutter": run.cutter,
        "order": run.order,
        "of": len(plan.runs),
        "block": run.block,
        "place": run.place,
        "strategy": run.strategy,
        "known": [(_HEADINGS[name].heading(units), _cell(name, cell, units)) for name, cell in sheet.known],
        "to_write": _full_rows(len(sheet.known), [_TO_WRITE[name].heading(units) for name in sheet.to_write]),
        "grids": [_grid(plan, grid) for grid in sheet.grids],
        "lines": [_line(line) for line in sheet.lines],
        "foot": _foot(sheet, "inches" if units == "inch" else "mm"),
    }


def _full_rows(before: int, texts: list[str]) -> list[str]:
    """Empty cells at the end, so that the last row of the head is whole."""
    return texts + [""] * (-(before + len(texts)) % FACTS_A_ROW)


def _grid(plan: Plan, grid: Grid) -> dict[str, Any]:
    units = plan.request.units
    unit, factor = length_unit(units), unit_of("length", units).factor
    if grid.kind == "walls":
        note = (
            "Walls: deviation from nominal, + = metal left. Pin: height above the floor at which it stops; "
            "0 = reaches it."
        )
        groups = [
            {
                "text": _MEASURES[name].format(unit=unit),
                "columns": tuple(trimmed(float(one) * factor, 4) for one in columns),
            }
            for name, columns in grid.groups
        ]
        return {"kind": grid.kind, "note": note, "groups": groups, "cells": grid.cells}
    groups = []
    for zone, flutes in grid.groups:
        low, high = plan.zones[zone]
        text = f"{zone}, {trimmed(low * factor, 4)} to {trimmed(high * factor, 4)} {unit}"
        groups.append({"text": text, "columns": tuple(f"flute {one}" for one in flutes)})
    layer = " The end of the lower zone is the layer line." if _layer_line(plan) else ""
    limits = "; ".join(criterion_short(one, units) for one in plan.criteria)
    note = (
        f"Wear land of each flute in {_LANDS[units]}, mean over the zone; zones in {unit} above the end face.{layer} "
        "Flute 1 is at the dot; count "
        f"clockwise, seen from the cutting end. Limit: {limits}."
    )
    return {"kind": grid.kind, "note": note, "groups": groups, "cells": grid.cells}


def _layer_line(plan: Plan) -> bool:
    """Whether the lower zone ends where a layer ends."""
    if "lower" not in plan.zones:
        return False
    depths = [cut.axial_depth_mm for arm in plan.matched.arms if (cut := arm.practice.main_cut())]
    return any(math.isclose(plan.zones["lower"][1], depth, rel_tol=1e-6) for depth in depths)


def _line(line: Line) -> dict[str, str]:
    return {
        "reading": "" if line.reading is None else str(line.reading),
        "parts": "" if line.parts is None else str(line.parts),
        "minutes": "" if line.minutes is None else f"({line.minutes:.1f})",
    }


def _foot(sheet: BenchSheet, unit: str) -> str:
    beyond = f" Beyond {sheet.last_parts} parts go on at the same spacing." if sheet.last_parts else ""
    return (
        "Minutes in brackets are those of the planned parts: write over them when other parts were made. "
        "Stop at the end of a whole part; "
        f"go on until the limit is passed.{beyond} Chips: flute, zone, length in {unit}. "
        "Why ended: worn, size, chipped, broken, withdrawn, "
        "budget, pulled_out or lost."
    )
