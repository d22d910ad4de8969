"""The files of a plan that are not for printing: blank log, trial file, the plan itself, the study to be filled in."""

from __future__ import annotations

import re
from pathlib import Path

from wearlab.core.errors import FileProblem
from wearlab.plan.blank_log import blank_rows, log_text
from wearlab.plan.inch import land_unit
from wearlab.plan.plan import Plan
from wearlab.plan.trial_file import trial_text
from wearlab.plan.workbook import plan_workbook, typed_into


def stem_of(plan: Plan) -> str:
    """The trial's name as it may stand in a file name.

    >>> import tomllib
    >>> from wearlab.plan.plan import make_plan
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> stem_of(make_plan(request_of(tomllib.loads(EXAMPLE.replace('"shoulder"', '"Shoulder, 2nd try"')))))
    'Shoulder-2nd-try'
    """
    return re.sub(r"[^A-Za-z0-9_-]+", "-", plan.request.name).strip("-") or "trial"


def plan_files(plan: Plan) -> dict[str, str | bytes]:
    """Name and content of every file; the same plan gives the same bytes."""
    stem = stem_of(plan)
    return {
        f"{stem}.plan.json": plan.json_text(),
        f"{stem}.csv": log_text(blank_rows(plan)),
        f"{stem}.xlsx": plan_workbook(plan, f"{stem}.plan.json"),
        f"{stem}.toml": trial_text(plan, f"{stem}.plan.json"),
        f"{stem}.study.csv": plan.study.csv_text(land_unit(plan.request.units)),
    }


def refuse_filled(path: Path, content: str | bytes) -> None:
    """Refuse to write a blank log, workbook or study over one that somebody has filled in.

    Raises
    ------
    FileProblem
        The file is there, differs, and holds readings.
    """
    if not path.is_file() or path.suffix not in (".csv", ".xlsx"):
        return
    there = path.read_bytes()
    if there == (content.encode("utf-8") if isinstance(content, str) else content):
        return
    if typed_into(path) if path.suffix == ".xlsx" else _filled(there.decode("utf-8", errors="replace")):
        raise FileProblem(
            "holds readings already",
            where=str(path),
            allowed="a blank file",
            hint="move it away, or write the plan into another folder; not even --force writes over readings",
        )


def _filled(text: str) -> bool:
    import csv
    import io

    return any((row.get("value") or "").strip() for row in csv.DictReader(io.StringIO(text)))
