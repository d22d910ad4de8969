"""Lives and facts built in memory, in the form in which a trial gives them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.logbook.columns import CLOCKS

Bounds = tuple[float, float]


def status_of(low: float, high: float) -> str:
    if low == high:
        return "exact"
    if math.isinf(high):
        return "right"
    return "left" if low == 0 else "interval"


def frames(lives: Sequence[float | Bounds], **facts: Any) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Lives (a number, or what is known of one as low and high) and one fact a cutter; `V` is the cutting speed."""
    bounds = np.array([life if isinstance(life, tuple) else (life, life) for life in lives], dtype=float)
    cutters = [f"E{i + 1}" for i in range(len(bounds))]
    status = [status_of(low, high) for low, high in bounds]
    table = pd.DataFrame(
        {
            "cutter": cutters, "criterion": "end", "zone": "", "clock": "cutting_time_min",
            "life": np.where(bounds[:, 0] == bounds[:, 1], bounds[:, 0], np.nan), "low": bounds[:, 0],
            "high": bounds[:, 1], "status": status, "cause": "worn", "bracket_low": np.nan, "bracket_high": np.nan,
            "first_crossing": np.nan, "last_crossing": np.nan, "why_missing": "",
        }
    )  # fmt: skip
    if "V" in facts:
        facts["cutting_speed_m_min"] = np.array(facts.pop("V"), dtype=float)
    own = {"cutting_speed_m_min": np.nan, "spindle_rpm": np.nan, "strategy": "", "work_material": ""} | facts
    known = pd.DataFrame({"cutter": cutters, "condition": "C1", "end_reason": "worn", "readings": 1} | own)
    return table, known.assign(**dict.fromkeys(CLOCKS, np.nan))


@pytest.fixture(scope="session")
def fit_of() -> Callable[..., ToolLifeFit]:
    """Fit lives with facts: `fit_of([60, 30], V=[100, 120], factors=[...], held_n=...)`."""

    def make(
        lives: Sequence[float | Bounds],
        factors: Sequence[str] | None = None,
        held_n: float | None = None,
        **facts: Any,
    ) -> ToolLifeFit:
        return fit_tool_life(*frames(lives, **facts), factors=factors, held_n=held_n)

    return make
