"""Slots written row by row: walls, widths, pins and lands of cutters whose truth is known."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from wearlab.logbook.trial import Trial

CUTTER = {
    "cutter_material": "carbide", "diameter_mm": 10, "teeth": 4, "relief_deg": 10, "rake_deg": 0,
    "work_material": "steel", "strategy": "layered", "cutting_speed_m_min": 60, "feed_per_tooth_mm": 0.05,
    "axial_depth_mm": 2, "radial_width_mm": 10,
}  # fmt: skip
ZONES = '[zones]\ncorner = [0, 0.4]\nlower = [0.4, 2]\nmiddle = [2, 5]\nupper = [5, 8]\n'


class Slots:
    """Rows of a log, added one reading at a time."""

    def __init__(self, **facts: Any) -> None:
        self.facts = CUTTER | facts
        self.rows: list[dict[str, Any]] = []

    def add(self, cutter: str, look: int, measure: str, value: float, unit: str = "mm", **more: Any) -> None:
        """One reading; the cutter has cut 10 minutes more at each look."""
        row = {"cutter": cutter, "reading": look, "cutting_time_min": 10.0 * look, "measure": measure}
        self.rows.append(self.facts | row | {"value": round(value, 6), "unit": unit} | more)

    def slot(
        self, cutter: str, look: int, left: dict[float, float], right: dict[float, float], width: float | None = 10.0
    ) -> None:
        """Both walls by height in mm of metal left, and the width that goes with them where one is asked for."""
        for height, value in left.items():
            self.add(cutter, look, "wall", value, height_mm=height, side="left", part=f"p{look}")
        for height, value in right.items():
            self.add(cutter, look, "wall", value, height_mm=height, side="right", part=f"p{look}")
        if width is not None:
            for height in left.keys() & right.keys():
                self.add(cutter, look, "width", width - left[height] - right[height], height_mm=height, part=f"p{look}")

    def lands(self, cutter: str, look: int, **zones: float) -> None:
        """Lands of single zones, one reading of the mean."""
        for zone, land in zones.items():
            self.add(cutter, look, "VB", land, zone=zone, flute="mean")


@pytest.fixture
def slots() -> type[Slots]:
    return Slots


@pytest.fixture
def zones_toml() -> str:
    return ZONES


@pytest.fixture
def standing(trial_of: Callable[..., Trial]) -> Trial:
    """Two cutters that wear as the standing example says: a land of 0.25 mm below 2 mm and 0.013 mm above."""
    made = Slots()
    tan = 0.17632698  # of 10 degrees
    heights = (0.2, 1.0, 3.0, 4.0, 6.0, 7.0)
    for at, cutter in enumerate(("E1", "E2")):
        for look, (low, high) in enumerate([(0.0, 0.0), (0.125, 0.0065), (0.25, 0.013)]):
            made.lands(cutter, look, corner=low, lower=low, middle=high, upper=high)
            bend = 0.004 + 0.001 * at
            wall = {z: bend + tan * (low if z < 2 else high) for z in heights}
            made.slot(cutter, look, wall, wall)
            for pin in (9.90, 9.95, 9.999):
                stop = 0.0 if pin < 9.992 - 2 * tan * low - 0.002 * at else 2.0 if pin < 9.98 else 8.0
                made.add(cutter, look, "hang_up", stop, pin_mm=pin, part=f"p{look}")
    return trial_of(made.rows, toml=ZONES)
