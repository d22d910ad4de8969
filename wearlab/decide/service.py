"""In-service records of an adopted interval: what was changed when and why, from a log of the same form as a trial's.

A tally of changes is enough: cutter, parts, end_reason, one row a cutter; a cutter without an end_reason is the one in
the spindle. A log of the full form may hold a last-part pin or any other reading beside the ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.logbook.check import Incoming, check_sheets
from wearlab.logbook.columns import ALSO
from wearlab.logbook.read import read_log, sheet_of_file, trial_of
from wearlab.logbook.sheet import Sheet, Texts
from wearlab.logbook.table import header_key
from wearlab.logbook.trial import Trial

FAILED = ("worn", "size", "chipped", "broken")
"""Reasons that mean a failure when they come before the planned change."""
AS_PLANNED = ("planned", "as planned", "changed", "changed as planned", "interval")
"""Words of a tally for a change at the interval; the log's own word is budget."""
PLANNED = ("budget", "withdrawn")
"""Reasons of a change that was planned (budget: its parts were made) or had nothing to do with the cutter."""


@dataclass(frozen=True)
class Service:
    """Changes in service.

    Attributes
    ----------
    ended : pandas.DataFrame
        One row a changed cutter: `cutter`, `parts`, `reason`, `reached` (made its interval), `failed` (before it).
    running : pandas.DataFrame
        Cutters in the spindle: `cutter`, `parts`.
    left_out : tuple of (str, str)
    """

    ended: pd.DataFrame
    running: pd.DataFrame
    left_out: tuple[tuple[str, str], ...]


def read_service(path: str | Path) -> Trial:
    """Read records in service: a log, or a bare tally of changes (cutter, parts, end_reason).

    A table without a column `measure` is taken for a tally: a row with an `end_reason` is an end (the words of
    `AS_PLANNED` mean budget), one without it a look at the clock of the cutter in the spindle.

    Raises
    ------
    FileProblem
        The file cannot be read, or no column bears a name of the log.
    """
    file = Path(path)
    source, sheet, settings = sheet_of_file(file)
    keys = [header_key(word) for word in sheet.header]
    names = [ALSO.get(settings.columns.get(key, key), (settings.columns.get(key, key), 1.0))[0] for key in keys]
    if "measure" in names:
        return read_log(file)
    over = [""] * sheet.rows
    if "end_reason" in names:
        at = names.index("end_reason")
        over = [sheet.columns[at].typed(row).strip() for row in range(sheet.rows)]
        sheet.columns[at] = Texts.of(["budget" if word.casefold() in AS_PLANNED else word for word in over])
    _put(sheet, names, "measure", ["end" if word else "VB" for word in over])
    _put(sheet, names, "unit", ["" if word else "mm" for word in over])
    _put(sheet, names, "value", [""] * sheet.rows)
    return trial_of(file.name, check_sheets([Incoming(sheet, source)], settings), (source,), settings)


def _put(sheet: Sheet, names: list[str], name: str, cells: list[str]) -> None:
    """A column that a tally leaves out, in place of its own of that name or behind the others; lines stay."""
    if name in names:
        sheet.columns[names.index(name)] = Texts.of(cells)
        return
    width, told = len(sheet.header), sheet.locate
    if told is not None:
        sheet.locate = lambda row, column: told(row, None if column is None or column >= width else column)
    sheet.header.append(name)
    sheet.columns.append(Texts.of(cells))


def service_of(log: Trial, interval_parts: int, group: str = "", by: str = "strategy") -> Service:
    """Changes in service of one practice.

    Parameters
    ----------
    log : Trial
        The in-service log.
    interval_parts : int
        Adopted interval.
    group, by : str
        Practice, and the column that names it; all cutters count where the log does not say.

    Raises
    ------
    Refusal
        The log counts no parts, or holds no cutter of the practice.
    """
    facts = log.facts()
    if group and by in facts and facts[by].astype(str).ne("").any():
        facts = facts[facts[by].astype(str) == group]
    if facts.empty:
        raise Refusal(f"no cutter of {group}" if group else "no cutter", where=log.sources[0].name, hint=_why_none(log))
    if "parts" not in facts or facts["parts"].isna().all():
        raise Refusal("parts are not counted", where=log.sources[0].name, hint="log the parts at each change")
    usable = facts["parts"] > 0
    left = tuple((str(cutter), "no parts at its change") for cutter in facts["cutter"][~usable])
    facts = facts[usable]
    over = facts["end_reason"].astype(str) != ""
    lost = facts["end_reason"].isin(["lost", "pulled_out"])
    left += tuple((str(cutter), "lost or pulled out") for cutter in facts["cutter"][lost])
    ended = facts[over & ~lost]
    reached = ended["parts"] >= interval_parts
    table = pd.DataFrame(
        {
            "cutter": ended["cutter"].astype(str),
            "parts": ended["parts"].astype(float),
            "reason": ended["end_reason"].astype(str),
            "reached": reached,
            "failed": ended["end_reason"].isin(FAILED) & ~reached,
        }
    ).reset_index(drop=True)
    return Service(table, facts[~over][["cutter", "parts"]].reset_index(drop=True), left)


def _why_none(log: Trial) -> str:
    """What the check of the log found, where it set rows aside."""
    aside = log.counts.rows_set_aside
    if not aside:
        return "one row a cutter: cutter, parts, end_reason"
    first = next((f" ({one.where()}: {one.found})" for one in log.findings if one.severity == "error"), "")
    return f"{aside} of {log.counts.rows_read} rows were set aside{first}; wearlab check tells more"


def service_bounds(ended: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Bounds of the lives in service, in parts: worn or out of size is an end, all else is still good at its change."""
    worn = ended["reason"].isin(["worn", "size"]).to_numpy()
    parts = ended["parts"].to_numpy(float)
    return parts, np.where(worn, parts, math.inf)
