"""A measurement study of land readings."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import FileProblem, Refusal
from wearlab.wear.study import measurement_study, read_study

CASES = Path(__file__).parent.parent / "reference" / "reference_cases.json"


def _case() -> tuple[pd.DataFrame, dict[str, float]]:
    """Reference case `gauge`: R aov and lme4, statsmodels; 10 parts x 3 people x 2."""
    case = next(one for one in json.loads(CASES.read_text())["cases"] if one["id"] == "gauge")
    data = case["input"]
    return pd.DataFrame({"part": data["part"], "operator": data["oper"], "value_mm": data["y"]}), case["expected"]


def test_components_as_in_r() -> None:
    readings, expected = _case()
    found = measurement_study(readings)
    assert found.repeatability_mm**2 == pytest.approx(expected["v_repeat"], rel=1e-9)
    assert found.gauge_mm**2 == pytest.approx(expected["total_gauge"], rel=1e-9)
    assert found.part_mm**2 == pytest.approx(expected["v_part"], rel=1e-9)
    limits = found.gauge_interval()
    assert (limits.low**2, limits.high**2) == pytest.approx((expected["mls_lo"], expected["mls_hi"]), rel=1e-8)
    limits = found.repeatability_interval()
    assert (limits.low, limits.high) == pytest.approx((expected["repeat_sd_lo"], expected["repeat_sd_hi"]), rel=1e-9)


def test_analysis_of_variance_agrees_with_reml_in_a_balanced_study() -> None:
    """lme4 REML of the same data: part 0.0045618203, person 1.518053e-5, interaction 5.809826e-5, error 5.401170e-5."""
    readings, expected = _case()
    found = measurement_study(readings).components
    for ours, name in (("part", "reml_part"), ("operator", "reml_oper"), ("interaction", "reml_int"),
                       ("repeatability", "reml_err")):  # fmt: skip
        assert getattr(found, ours) == pytest.approx(expected[name], rel=3e-4)


def test_what_it_means_for_a_life() -> None:
    """0.01 mm of reading error at 0.005 mm/min is 2 minutes (derived)."""
    rng = np.random.default_rng(1)
    grid = pd.MultiIndex.from_product([range(10), list("abc"), range(2)], names=["part", "operator", "repeat"])
    readings = grid.to_frame(index=False)
    readings["value_mm"] = 0.05 * readings["part"] + rng.normal(0, 0.01, len(readings))
    found = measurement_study(readings)
    assert found.life_error(0.005, 1) == pytest.approx(found.standard_error_mm(1) / 0.005)
    assert found.life_error(0.005, 1) == pytest.approx(2.0, rel=0.5)
    assert found.difference_mm == pytest.approx(2.8 * found.gauge_mm)
    assert found.standard_error_mm(4) < found.standard_error_mm(1)
    with pytest.raises(Refusal, match="not above 0"):
        found.life_error(0.0, 4)


def test_two_people_say_little_about_people() -> None:
    readings, _ = _case()
    two = measurement_study(readings[readings["operator"] != 3])
    assert not two.operators_seen
    assert two.study.operator_interval().high > 50 * max(two.components.operator, 1e-9)


def test_a_study_with_a_gap_is_refused() -> None:
    readings, _ = _case()
    with pytest.raises(Refusal):
        measurement_study(readings.iloc[1:])


def test_file_and_its_slips(tmp_path: Path) -> None:
    path = tmp_path / "study.csv"
    path.write_text("part,operator,repeat,value,unit\n1,a,1,120,um\n1,a,2,4.8,thou\n,,,,\n")
    table = read_study(path)
    assert table["value_mm"].tolist() == pytest.approx([0.12, 0.12192])
    path.write_text("part,operator,value,unit\n1,a,x,um\n")
    with pytest.raises(FileProblem, match="line 2, value: 'x' is no number"):
        read_study(path)
    path.write_text("part,operator,value,unit\n1,a,1,furlong\n")
    with pytest.raises(FileProblem, match="line 2, unit: unit 'furlong'"):
        read_study(path)
    path.write_text("part,value\n1,1\n")
    with pytest.raises(FileProblem, match="no column operator, unit"):
        read_study(path)


def test_categories_are_not_under_a_root() -> None:
    """AIAG manual: 1.41 part over gauge; a web form that takes the root is a known slip."""
    readings, _ = _case()
    found = measurement_study(readings)
    assert found.categories == pytest.approx(1.41 * found.part_mm / found.gauge_mm)
    assert found.share == pytest.approx(found.gauge_mm / math.hypot(found.gauge_mm, found.part_mm))
