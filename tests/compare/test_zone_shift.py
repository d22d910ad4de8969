"""Two zones of a cutter, compared between practices."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.zone_shift import GAUGE_MM, reading_error, zone_shift
from wearlab.core.errors import Refusal

A = {"lower": [0.241, 0.228, 0.262, 0.250], "upper": [0.158, 0.171, 0.160, 0.166]}
B = {"lower": [0.272, 0.290, 0.259, 0.281], "upper": [0.131, 0.140, 0.122, 0.139]}


def _points(
    groups: dict[str, dict[str, list[float]]], ages: tuple[float, ...] = (30.0,)
) -> tuple[pd.DataFrame, pd.DataFrame]:
    rows, facts = [], []
    for group, zones in groups.items():
        for at in range(len(zones["lower"])):
            cutter = f"{group}{at}"
            facts.append({"cutter": cutter, "group": group})
            for zone in ("lower", "upper"):
                for look, age in enumerate(ages):
                    rows.append({"cutter": cutter, "zone": zone, "inspection": look, "cutting_time_min": age,
                                 "mean_mm": zones[zone][at] * age / ages[-1]})  # fmt: skip
    return pd.DataFrame(rows), pd.DataFrame(facts)


def _flutes(points: pd.DataFrame, teeth: int = 4) -> pd.DataFrame:
    parts = [points.assign(flute=str(flute + 1), repeats=1, sd_mm=np.nan) for flute in range(teeth)]
    return pd.concat(parts, ignore_index=True)


def _shift(groups: dict[str, dict[str, list[float]]], ages: tuple[float, ...] = (30.0,), level: float = 0.95):  # type: ignore[no-untyped-def]
    points, facts = _points(groups, ages)
    return zone_shift(points, _flutes(points), facts, ("B", "A"), ("lower", "upper"), "cutting_time_min", level)


def test_ratio_of_ratios_as_in_r() -> None:
    """R 4.2.2 t.test on logs, checked with scipy: 1.385070 (1.213831, 1.580466), p 0.00349396."""
    found = _shift({"A": A, "B": B})
    assert found.scale == "ratio"
    assert found.estimate == pytest.approx(1.38507016834609, rel=1e-12)
    assert found.interval.low == pytest.approx(1.21383117503757, rel=1e-10)
    assert found.interval.high == pytest.approx(1.58046638667266, rel=1e-10)
    assert found.p_value == pytest.approx(0.00349396150178424, rel=1e-9)
    assert found.typical_a == pytest.approx(2.07276351674666, rel=1e-12)
    assert found.typical_b == pytest.approx(1.49650433899804, rel=1e-12)


def test_a_zone_below_resolution_turns_ratios_into_shares() -> None:
    shallow = A | {"upper": [0.004, 0.0, 0.012, 0.160]}
    found = _shift({"A": shallow, "B": B})
    assert found.scale == "difference"
    assert found.below == ("A0", "A1", "A2")
    assert found.floor_mm == pytest.approx(3 * GAUGE_MM / 2)
    assert found.typical_b == pytest.approx(np.mean([0.241 / 0.245, 1.0, 0.262 / 0.274, 0.25 / 0.41]))


def test_lands_are_compared_at_the_age_that_every_cutter_reached() -> None:
    points, facts = _points({"A": A, "B": B}, (10.0, 20.0, 30.0))
    longer = points[points["cutter"] == "A0"].assign(inspection=9, cutting_time_min=90.0, mean_mm=9.0)
    points = pd.concat([points, longer.drop_duplicates(["zone"])], ignore_index=True)
    found = zone_shift(points, _flutes(points), facts, ("B", "A"), ("lower", "upper"), "cutting_time_min")
    assert found.age == 30.0
    assert found.estimate == pytest.approx(1.38507016834609, rel=1e-12)


def test_no_common_age_is_refused() -> None:
    points, facts = _points({"A": A, "B": B}, (10.0, 20.0, 30.0))
    late = (points["cutter"] == "B1") & (points["cutting_time_min"] < 30)
    early = (points["cutter"] == "A1") & (points["cutting_time_min"] > 20)
    with pytest.raises(Refusal, match="B1 was first read after the age of 20"):
        zone_shift(points[~late & ~early], _flutes(points), facts, ("B", "A"), ("lower", "upper"), "cutting_time_min")


def test_a_zone_that_was_never_read_is_refused() -> None:
    points, facts = _points({"A": A, "B": B})
    with pytest.raises(Refusal, match="no cutter in which both lower and middle were read"):
        zone_shift(points, _flutes(points), facts, ("B", "A"), ("lower", "middle"), "cutting_time_min")


def test_one_cutter_on_a_side_has_no_interval() -> None:
    one = {zone: values[:1] for zone, values in A.items()}
    found = _shift({"A": one, "B": B})
    assert "one value on a side" in found.why_missing
    assert found.to_dict()["low"] is None


def test_reading_error_comes_from_repeats_where_there_are_any() -> None:
    flutes = pd.DataFrame({"repeats": [2] * 6 + [1] * 4, "sd_mm": [0.003] * 6 + [np.nan] * 4})
    error, where = reading_error(flutes)
    assert error == pytest.approx(0.003)
    assert where.startswith("6 degrees of freedom")
    assert reading_error(flutes.assign(repeats=1))[1].startswith("assumed")
