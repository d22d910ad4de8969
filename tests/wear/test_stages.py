"""Stages of a wear curve."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wearlab.wear.curves import WearCurves
from wearlab.wear.stages import stage_frame, stages_of


def _curves(clock: list[float], land: list[float]) -> WearCurves:
    table = pd.DataFrame({"cutter": "E1", "measure": "VB", "zone": "lower", "inspection": range(len(clock)),
                          "cutting_time_min": clock, "mean_mm": land, "worst_mm": land, "flutes": 4})  # fmt: skip
    return WearCurves(table, table)


def test_three_stages_of_a_made_curve() -> None:
    clock = [2.0, 10, 20, 30, 40, 50, 55, 60]
    land = [0.05, 0.08, 0.11, 0.14, 0.17, 0.20, 0.26, 0.34]
    found = stages_of(_curves(clock, land))[0]
    assert found.break_in_until == pytest.approx(6.0)
    assert found.rapid_from == 50.0
    assert found.steady_slope == pytest.approx(0.003)


def test_a_straight_curve_is_never_rapid() -> None:
    clock = list(np.arange(1.0, 10))
    found = stages_of(_curves(clock, [0.01 * one for one in clock]))[0]
    assert np.isnan(found.rapid_from)


def test_reading_error_is_no_rapid_stage() -> None:
    clock = [10.0, 20, 30, 40, 50]
    land = [0.10, 0.13, 0.16, 0.19, 0.24]
    assert stages_of(_curves(clock, land))[0].rapid_from == 40.0
    assert np.isnan(stages_of(_curves(clock, land), reading_error_mm=0.01)[0].rapid_from)


def test_the_published_coated_carbide_curve_ends_rapid() -> None:
    """Groover, 5th ed., problem in ch. 22: the tool failed at the last reading, so the end is not steady wear."""
    found = stages_of(_curves([1.0, 5, 11, 15, 20, 25], [0.12, 0.27, 0.45, 0.58, 0.73, 0.97]))[0]
    assert found.rapid_from == 20.0


def test_a_lone_reading_has_no_stage() -> None:
    frame = stage_frame(stages_of(_curves([5.0], [0.1])))
    assert frame["steady_slope"].isna().all()
