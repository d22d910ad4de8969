"""The plan that a log was made from: named in the trial file, beside the log by its name, or by its mark in the log."""

from __future__ import annotations

import json
import re
from pathlib import Path

from wearlab.logbook.trial import Trial

ENDING = ".plan.json"
_MARK = re.compile(r"\[([0-9a-f]{8})\]")


def plan_beside(log: str | Path, trial: Trial | None = None) -> Path | None:
    """The file of the plan that belongs to a log; None where there is none.

    Parameters
    ----------
    log : str or pathlib.Path
        A log, or the folder that it was read from.
    trial : Trial, optional
        As read: its trial file may name the plan (`[trial] plan`), and its name may carry the plan's mark.

    Returns
    -------
    pathlib.Path or None
        What the trial file names, or None where that is not there; else NAME.plan.json beside NAME.csv; else the one
        plan in the folder whose mark the log carries.
    """
    path = Path(log)
    folder = path if path.is_dir() else path.parent
    if trial is not None and trial.settings.plan:
        named = folder / trial.settings.plan
        return named if named.is_file() else None
    own = folder / f"{path.resolve().name if path.is_dir() else path.stem}{ENDING}"
    if own.is_file():
        return own
    marks = set(_MARK.findall(trial.name)) if trial is not None else set()
    found = [one for one in sorted(folder.glob(f"*{ENDING}")) if _mark_of(one) in marks] if marks else []
    return found[0] if len(found) == 1 else None


def _mark_of(path: Path) -> str:
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return ""
    return str(held.get("fingerprint", "")) if isinstance(held, dict) else ""
