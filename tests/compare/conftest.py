"""Logs for comparisons, written cutter by cutter."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from wearlab.logbook.trial import Trial

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
