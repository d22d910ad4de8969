"""In-service records of an adopted interval: what was changed when and why, from a log of the same form as a trial's.

One row an end is enough: cutter, parts, measure end, end_reason; a last-part pin or any other reading may stand beside
it. A cutter without an end_reason is the one in the spindle: a reading, or a row with a blank value that only looked at
the clock, says how many parts it has done.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.logbook.trial import Trial

FAILED = ("worn", "size", "chipped", "broken")
"""Reasons that mean a failure when they come before the planned change."""
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
        raise Refusal(f"no cutter of {group}", where=log.sources[0].name)
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


def service_bounds(ended: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Bounds of the lives in service, in parts: worn or out of size is an end, all else is still good at its change."""
    worn = ended["reason"].isin(["worn", "size"]).to_numpy()
    parts = ended["parts"].to_numpy(float)
    return parts, np.where(worn, parts, math.inf)
