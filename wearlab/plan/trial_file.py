"""The trial file (TOML) that goes beside the log of a plan: question, criteria, margin, zones, seed, costs."""

from __future__ import annotations

import json
from typing import Any

from wearlab.core.units import MM_PER_INCH
from wearlab.plan.plan import Plan


def trial_text(plan: Plan, plan_file: str = "") -> str:
    """The trial file of a plan.

    Parameters
    ----------
    plan : Plan
    plan_file : str
        Name of the plan's own file, which stands in the same folder.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.plan import make_plan
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> text = trial_text(make_plan(request_of(tomllib.loads(EXAMPLE))))
    >>> tomllib.loads(text)["decision"]
    {'outcome': 'life', 'margin': 1.25, 'level': 0.95}
    """
    parts = [f"# Made by the plan {plan.trial_name}."]
    if plan.interim is not None:
        parts.append(
            "# The level is what the planned looks at the verdict have left of the plan's "
            f"{plan.request.size.level:g}."
        )
    for section, cells in trial_cells(plan, plan_file):
        parts.append(_section("[criterion]" if section == "criterion" else section, cells))
    return "\n".join(part for part in parts if part)


def trial_cells(plan: Plan, plan_file: str = "") -> list[tuple[str, dict[str, Any]]]:
    """Sections of the trial file and their cells, in order; `criterion` once for each criterion."""
    request = plan.request
    trial = {"question": request.question, "standard": request.standard, "seed": request.seed}
    size, feature = request.size, request.feature
    unit, factor = ("in", MM_PER_INCH) if request.units == "inch" else ("mm", 1.0)
    wide, deep, long = (f"{one / factor:g} {unit}" for one in (feature.width_mm, feature.depth_mm, feature.length_mm))
    part = f"{wide} wide, {deep} deep, {long} long"
    wall = {} if plan.limit is None else {"tolerance_um": round(500.0 * plan.limit.budget.tolerance_mm, 3)}
    made: list[tuple[str, dict[str, Any]]] = [
        ("trial", trial | ({"plan": plan_file} if plan_file else {})),
        *(("criterion", {"name": one.name, "text": one.text}) for one in plan.criteria),
        ("decision", {"outcome": size.outcome, "margin": size.margin, "level": round(plan.level, 6)}),
        ("match", {"rule": f"equal cutting speed and {request.rule.replace('_', ' ')}"}),
        ("zones", {name: [low, high] for name, (low, high) in plan.zones.items()}),
        ("wall", wall),
        ("counting", {"part": part}),
        ("cost", _costs(plan)),
    ]
    return [(section, cells) for section, cells in made if cells]


def _costs(plan: Plan) -> dict[str, Any]:
    money = plan.request.money
    cells = {
        "currency": money.currency or None,
        "machine_per_min": money.machine_per_min,
        "change_min": money.change_min or None,
    }
    return {name: cell for name, cell in cells.items() if cell is not None}


def _section(name: str, cells: dict[str, Any]) -> str:
    if not cells:
        return ""
    lines = [f"{_key(key)} = {_cell(cell)}" for key, cell in cells.items()]
    return "\n".join([f"[{name}]", *lines]) + "\n"


def _key(word: str) -> str:
    return word if word.replace("_", "").isalnum() and word.isascii() else _cell(word)


def _cell(cell: Any) -> str:
    # JSON's strings, numbers and lists of them are TOML's too.
    return json.dumps(cell, ensure_ascii=False)
