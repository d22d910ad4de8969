"""Wear curves: repeats averaged, single flutes before summary rows, nothing filled in."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.logbook.trial import Trial
from wearlab.wear.curves import WearCurves, _average_repeats, _over_flutes, wear_curves

Make = Callable[..., Trial]


def row(minutes: float, value: float | str, cutter: str = "E1", unit: str = "mm", **more: Any) -> dict[str, Any]:
    return {"cutter": cutter, "reading": int(minutes), "cutting_time_min": minutes, "measure": "VB", "value": value,
            "unit": unit} | more  # fmt: skip


def one_point(trial: Trial) -> pd.Series:
    table = wear_curves(trial).by_zone
    assert len(table) == 1
    return table.iloc[0]


def test_mean_and_worst_over_the_flutes(trial_of: Make) -> None:
    point = one_point(trial_of([row(10, v, flute=f) for f, v in [(1, 0.10), (2, 0.14), (3, 0.12), (4, 0.20)]]))
    assert point["mean_mm"] == pytest.approx(0.14)
    assert point["worst_mm"] == pytest.approx(0.20)
    assert point["flutes"] == 4
    assert point["cutting_time_min"] == 10


def test_repeats_of_a_flute_are_averaged_before_the_flutes(trial_of: Make) -> None:
    rows = [row(10, 0.1, flute=1, repeat=1), row(10, 0.2, flute=1, repeat=2), row(10, 0.3, flute=1, repeat=3),
            row(10, 0.4, flute=2, repeat=1)]  # fmt: skip
    curves = wear_curves(trial_of(rows))
    assert curves.by_flute["value_mm"].tolist() == pytest.approx([0.2, 0.4])
    assert curves.by_flute["repeats"].tolist() == [3, 1]
    assert curves.by_zone["mean_mm"].iloc[0] == pytest.approx(0.3)  # not 0.25, the mean of the four rows
    assert curves.by_zone["worst_mm"].iloc[0] == pytest.approx(0.4)


def test_single_flutes_win_over_rows_that_state_a_mean_or_a_worst(trial_of: Make) -> None:
    rows = [row(10, 0.1, flute=1), row(10, 0.2, flute=2), row(10, 0.9, flute="mean"), row(10, 0.95, flute="worst")]
    point = one_point(trial_of(rows))
    assert point["mean_mm"] == pytest.approx(0.15)
    assert point["worst_mm"] == pytest.approx(0.2)
    assert point["flutes"] == 2


def test_stated_mean_and_worst_stand_where_no_flute_was_read(trial_of: Make) -> None:
    point = one_point(trial_of([row(10, 0.15, flute="mean"), row(10, 0.21, flute="worst"), row(10, 0.5)]))
    assert (point["mean_mm"], point["worst_mm"], point["flutes"]) == (0.15, 0.21, 0)


def test_a_stated_mean_alone_has_no_worst_flute(trial_of: Make) -> None:
    point = one_point(trial_of([row(10, 0.15, flute="mean")]))
    assert point["mean_mm"] == 0.15
    assert pd.isna(point["worst_mm"])


def test_a_row_without_a_flute_stands_for_the_edge(trial_of: Make) -> None:
    point = one_point(trial_of([row(10, 0.15)]))
    assert (point["mean_mm"], point["worst_mm"], point["flutes"]) == (0.15, 0.15, 0)


def test_the_precedence_is_look_by_look(trial_of: Make) -> None:
    rows = [row(10, 0.1, flute=1), row(10, 0.5, flute="mean"), row(20, 0.2, flute="mean"), row(30, 0.3)]
    assert wear_curves(trial_of(rows)).by_zone["mean_mm"].tolist() == pytest.approx([0.1, 0.2, 0.3])


def test_zones_and_measures_stay_apart(trial_of: Make) -> None:
    rows = [row(10, 0.1, zone="lower"), row(10, 0.3, zone="upper"), row(10, 0.4, zone="lower") | {"measure": "VBmax"}]
    table = wear_curves(trial_of(rows)).by_zone
    assert table[["measure", "zone", "mean_mm"]].to_numpy().tolist() == [
        ["VB", "lower", 0.1], ["VB", "upper", 0.3], ["VBmax", "lower", 0.4],
    ]  # fmt: skip


def test_a_look_without_a_reading_is_no_point(trial_of: Make) -> None:
    table = wear_curves(trial_of([row(10, 0.1), row(20, ""), row(30, 0.3)])).by_zone
    assert table["cutting_time_min"].tolist() == [10, 30]


def test_natural_order_and_units(trial_of: Make) -> None:
    rows = [row(10, 100, "E10", "um"), row(10, 0.01, "E2", "in"), row(20, 12, "E2", "thou")]
    table = wear_curves(trial_of(rows)).by_zone
    assert table["cutter"].tolist() == ["E2", "E2", "E10"]
    assert table["mean_mm"].tolist() == pytest.approx([0.254, 0.3048, 0.1])


def test_a_log_without_lands_has_empty_curves(sample: Callable[[str], Trial]) -> None:
    curves = wear_curves(sample("taylor_T01"))
    assert curves.by_zone.empty
    assert {"cutter", "zone", "mean_mm", "worst_mm", "flutes", "cutting_time_min"} <= set(curves.by_zone.columns)
    assert json.dumps(curves.to_dict()) == '{"by_zone": [], "by_flute": []}'


def test_the_record(sample: Callable[[str], Trial]) -> None:
    curves = wear_curves(sample("nasa_milling"))
    assert isinstance(curves, WearCurves)
    assert repr(curves) == "<WearCurves: 16 cutters, 146 points>"  # 167 rows less 21 that were not measured
    assert curves.to_frame() is curves.by_zone
    json.dumps(curves.to_dict(), allow_nan=False)


@settings(max_examples=25)
@given(lands=st.lists(st.integers(1, 999), min_size=2, max_size=6))
def test_worst_is_never_below_the_mean(lands: list[int]) -> None:
    readings = pd.DataFrame(
        {"cutter": "E1", "measure": "VB", "zone": "", "inspection": 0, "flute": [str(i + 1) for i in range(len(lands))],
         "cutting_time_min": 10.0, "volume_cm3": 1.0, "parts": 1.0, "cut_length_m": 1.0,
         "value_mm": [land / 1000 for land in lands]}
    )  # fmt: skip
    point = _over_flutes(_average_repeats(readings)).iloc[0]
    assert point["worst_mm"] == max(lands) / 1000
    assert point["mean_mm"] == pytest.approx(sum(lands) / len(lands) / 1000)
    assert point["mean_mm"] <= point["worst_mm"] + 1e-15
