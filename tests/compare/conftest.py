"""Logs for comparisons, written cutter by cutter."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pandas as pd
import pytest

from wearlab.logbook.columns import CLOCKS, with_scope
from wearlab.logbook.derive import derive_clocks, derive_conditions
from wearlab.logbook.settings import TrialSettings
from wearlab.logbook.trial import Counts, Trial

FACTS = ("cutter", "block", "run_order", "diameter_mm", "teeth", "strategy", "cutting_speed_m_min", "spindle_rpm",
         "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm")  # fmt: skip
"""What the analysis needs to know of a cutter; the rest is the same in all of them."""
Life = float | tuple[float, str]


@pytest.fixture
def ends(trial_of: Callable[..., Trial]) -> Callable[..., Trial]:
    """A log that only knows when each cutter ended: `ends({"a": [15.0, (19.0, "withdrawn")]}, block={"a": "12"})`.

    Further facts are given by group: one value for all of its cutters, or one for each.
    """

    def make(groups: dict[str, list[Life]], by: str = "strategy", toml: str = "", **facts: dict[str, Any]) -> Trial:
        rows = []
        for group, lives in groups.items():
            for at, life in enumerate(lives):
                time, reason = life if isinstance(life, tuple) else (life, "worn")
                own = {name: _one(cells[group], at) for name, cells in facts.items()}
                rows.append(
                    {"cutter": f"{group} {at + 1}", by: group, "cutting_time_min": time, "measure": "end", "value": "",
                     "unit": "", "end_reason": reason} | own
                )  # fmt: skip
        return trial_of(rows, toml)

    return make


@pytest.fixture
def slopes(trial_of: Callable[..., Trial]) -> Callable[..., Trial]:
    """A log of straight wear curves: `slopes({"a": [0.010, 0.012]})` in mm a minute, looks at 5, 10, 20 and 30 min."""

    def make(groups: dict[str, list[float]], toml: str = "", **facts: dict[str, Any]) -> Trial:
        rows = [
            {"cutter": f"{group} {at + 1}", "strategy": group, "reading": look, "cutting_time_min": look}
            | {"measure": "VB", "value": round(0.5 + slope * look, 9), "unit": "mm"}
            | {name: _one(cells[group], at) for name, cells in facts.items()}
            for group, own in groups.items()
            for at, slope in enumerate(own)
            for look in (5, 10, 20, 30)
        ]  # fmt: skip
        return trial_of(rows, toml)

    return make


def _one(cells: Any, at: int) -> Any:
    return cells[at] if isinstance(cells, Iterable) and not isinstance(cells, str) else cells


@pytest.fixture(scope="session")
def trial_from_rows() -> Callable[..., Trial]:
    """Rows of a log in the standard columns as a Trial, without text and without checks: many in little time."""
    return _trial_from_rows


def _trial_from_rows(rows: pd.DataFrame, standard: str = "layered") -> Trial:
    rows = rows.assign(inspection=rows["reading"] - 1, value_mm=rows["value"])
    facts = derive_conditions(rows.drop_duplicates("cutter")[list(FACTS)].reset_index(drop=True))
    rows, _ = derive_clocks(rows, facts)
    of = {scope: [c.name for c in with_scope(scope) if c.name in facts] for scope in ("cutter", "run", "condition")}
    conditions = facts[of["condition"]].drop_duplicates().reset_index(drop=True)
    conditions.insert(0, "condition", [f"C{at + 1}" for at in range(len(conditions))])
    keyed = facts.merge(conditions, on=of["condition"], how="left")
    runs = keyed[["cutter", "condition", *of["run"]]].copy()
    by_cutter = rows.groupby("cutter", sort=False)
    ends = rows[rows["measure"] == "end"].set_index("cutter")["end_reason"]
    runs["end_reason"] = runs["cutter"].map(ends)
    runs["readings"] = runs["cutter"].map(by_cutter["inspection"].nunique())
    for clock in CLOCKS:
        runs[clock] = runs["cutter"].map(by_cutter[clock].max())
    wear = rows[rows["measure"] == "VB"].reset_index(drop=True)
    none = rows.iloc[:0]
    counts = Counts(len(rows), len(rows), 0)
    settings = TrialSettings(standard=standard)
    return Trial("simulated", (), settings, counts, facts[of["cutter"]], conditions, runs, wear, none, none, (), none)
