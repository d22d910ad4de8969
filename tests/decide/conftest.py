"""Small logs made up for these tests: ends of cutters, with and without sets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest

from wearlab.decide.decide import decide
from wearlab.decide.decision import Decision
from wearlab.logbook.trial import Trial

COSTS: dict[str, Any] = {
    "currency": "EUR", "machine_per_min": 1.2, "change_min": 3.0, "scrap": 20.0, "failure": 60.0,
    "parts_per_year": 4000.0,
}  # fmt: skip
COMMON: dict[str, Any] = {
    "set": "", "role": "", "strategy": "layered", "block": "1", "cutter_material": "carbide", "diameter_mm": 10,
    "teeth": 4, "cutter_price": 28, "work_material": "C45", "cutting_speed_m_min": 60, "feed_per_tooth_mm": 0.05,
    "axial_depth_mm": 2, "radial_width_mm": 10, "passes": 4, "feature_width_mm": 10, "feature_depth_mm": 8,
    "feature_length_mm": 120, "measure": "end", "value": "", "unit": "", "end_reason": "worn", "reading": 1,
}  # fmt: skip

MakeLog = Callable[..., Trial]


@pytest.fixture
def costs() -> dict[str, Any]:
    """Costs that are complete for a cutter alone."""
    return dict(COSTS)


@pytest.fixture(scope="session")
def demo_decision(sample: Callable[[str], Trial]) -> Decision:
    """The decision on the invented trial, made once."""
    return decide(sample("shoulder_demo"))


@pytest.fixture
def make_log(trial_of: Callable[..., Trial]) -> MakeLog:
    """A trial from rows, each a dictionary over the common ones."""

    def make(rows: Sequence[dict[str, Any]], toml: str = "", aside: int = 0) -> Trial:
        return trial_of([COMMON | row for row in rows], toml, aside)

    return make


@pytest.fixture
def common() -> dict[str, Any]:
    """What the cutters of these logs share."""
    return dict(COMMON)


@pytest.fixture
def ends() -> Callable[..., list[dict[str, Any]]]:
    """Rows of cutters that ended after so many parts; a part takes 1.3 minutes, blocks alternate."""

    def rows(strategy: str, parts: Sequence[int], minutes: float = 1.3, **more: Any) -> list[dict[str, Any]]:
        depths = {"side": {"axial_depth_mm": 8, "radial_width_mm": 2.5}}
        return [
            {"cutter": f"{strategy}-{i}", "strategy": strategy, "parts": count, "block": i % 3,
             "cutting_time_min": round(count * minutes, 6)} | depths.get(strategy, {}) | more
            for i, count in enumerate(parts)
        ]  # fmt: skip

    return rows
