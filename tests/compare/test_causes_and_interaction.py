"""Survival, competing causes, and a ratio that may depend on the material."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.linear_model import OLS

from wearlab.compare.causes import causes
from wearlab.compare.compare import compare
from wearlab.compare.interaction import interaction
from wearlab.core.errors import Refusal
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.trial import Trial

TIMES = [42.5, 55.1, 61.0, 48.3, 70.0, 58.8, 64.2, 70.0, 70.0, 51.7]
ENDED = [1, 1, 1, 1, 0, 1, 1, 0, 0, 1]


def _table(times: list[float], ended: list[int], cause: list[str] | None = None) -> pd.DataFrame:
    status = ["exact" if one else "right" for one in ended]
    return pd.DataFrame({"cutter": [f"E{at}" for at in range(len(times))], "group": "a", "status": status, "low": times,
                         "high": [t if one else math.inf for t, one in zip(times, ended, strict=True)],
                         "cause": cause or ["worn" if one else "withdrawn" for one in ended]})  # fmt: skip


def test_survival_as_in_r() -> None:
    """R survfit, checked with lifelines and scipy: S(50) 0.8, S(60) 0.5 (0.183606, 0.753174) by log-log."""
    found = causes(_table(TIMES, ENDED), ("a",))
    steps = found.survival.set_index("age")["still_good"]
    assert steps[steps.index <= 50].iloc[-1] == pytest.approx(0.8)
    at60 = found.survival[found.survival["age"] <= 60].iloc[-1]
    assert at60["still_good"] == pytest.approx(0.5)
    assert (at60["low"], at60["high"]) == pytest.approx((0.183605590619015, 0.75317407699823), rel=1e-9)
    assert found.marks["age"].tolist() == [70.0, 70.0, 70.0]


def test_shares_of_causes_add_up() -> None:
    """Ten cutters, all ended: without censoring the share of each cause is its count (definition)."""
    cause = ["worn"] * 6 + ["fracture"] * 4
    table = _table(TIMES, [1] * 6 + [0] * 4, cause)
    found = causes(table, ("a",)).incidence.set_index("cause")
    assert found.loc["worn", "share"] == pytest.approx(0.6)
    assert found.loc["fracture", "share"] == pytest.approx(0.4)
    assert found.loc["fracture", "low"] < 0.4 < found.loc["fracture", "high"]


def test_one_less_survival_would_be_too_large() -> None:
    cause = ["worn", "fracture"] * 5
    table = _table(TIMES, [1, 0] * 5, cause)
    found = causes(table, ("a",))
    worn = float(found.incidence.set_index("cause").loc["worn", "share"])
    assert worn == pytest.approx(0.5)
    assert 1 - found.survival["still_good"].iloc[-1] > worn


def test_a_group_without_lives_is_left_out() -> None:
    found = causes(_table(TIMES, ENDED), ("a", "b"))
    assert set(found.survival["group"]) == {"a"}
    assert causes(_table(TIMES, ENDED).assign(status="none"), ("a",)).survival.empty


def _nasa() -> pd.DataFrame:
    trial = read_log(sample_path("nasa_milling"))
    lives = tool_lives(trial, [parse_criterion("VB=0.3mm")], ["cutting_time_min"]).to_frame()
    table = trial.facts().merge(lives[lives["status"] == "exact"], on="cutter")
    return table.assign(group=table["axial_depth_mm"].map(lambda cell: f"{cell:g}"))


def test_deep_against_shallow_in_each_material() -> None:
    """Complete lives: the same as least squares with an interaction, by statsmodels."""
    table = _nasa()
    found = interaction(table, "1.5", "0.75", adjust=("feed_per_rev_mm",))
    steel = (table["work_material"] != "cast iron").to_numpy(float)
    deep = (table["group"] == "1.5").to_numpy(float)
    y, feed = np.log(table["low"].to_numpy(float)), np.log(table["feed_per_rev_mm"].to_numpy(float))
    full = OLS(y, np.column_stack([1 - steel, steel, feed, deep * (1 - steel), deep * steel])).fit()
    small = OLS(y, np.column_stack([1 - steel, steel, feed, deep])).fit()
    assert found.ratios["ratio"].tolist() == pytest.approx(np.exp(full.params[3:]).tolist(), rel=1e-6)
    low, high = np.exp(full.conf_int()[3:]).T
    assert found.ratios["low"].tolist() == pytest.approx(low.tolist(), rel=1e-5)
    assert found.ratios["high"].tolist() == pytest.approx(high.tolist(), rel=1e-5)
    assert found.p_value == pytest.approx(full.compare_f_test(small)[1], rel=1e-5)
    assert found.ratios["cutters_a"].sum() + found.ratios["cutters_b"].sum() == 15


def test_one_material_has_no_interaction() -> None:
    table = _nasa()
    with pytest.raises(Refusal, match=r"1 work_material in which both 1\.5 and 0\.75 were run"):
        interaction(table[table["work_material"] == "cast iron"], "1.5", "0.75")


def test_a_ratio_that_turns_with_the_material_is_said(slopes: Callable[..., Trial]) -> None:
    """Rates: least squares on the logs with an interaction, by statsmodels; the contrast says it is no one ratio."""
    rates = {"a": [0.010, 0.011, 0.012, 0.030, 0.032, 0.029], "b": [0.020, 0.022, 0.019, 0.015, 0.016, 0.014]}
    materials = ["soft"] * 3 + ["hard"] * 3
    found = compare(slopes(rates, work_material={"a": materials, "b": materials}), parse_criterion("VB=9mm"))
    (one,) = [other for other in found.interactions if other.outcome == "rate"]
    y = np.log([*rates["a"], *rates["b"]])
    in_a, hard = np.repeat([1.0, 0.0], 6), np.tile(np.repeat([0.0, 1.0], 3), 2)
    full = OLS(y, np.column_stack([hard, 1 - hard, in_a * hard, in_a * (1 - hard)])).fit()
    small = OLS(y, np.column_stack([hard, 1 - hard, in_a])).fit()
    assert one.ratios["level"].tolist() == ["hard", "soft"]
    assert one.ratios["ratio"].tolist() == pytest.approx(np.exp(full.params[2:]).tolist(), rel=1e-5)
    assert one.p_value == pytest.approx(full.compare_f_test(small)[1], rel=1e-4)
    (contrast,) = [other for other in found.contrasts if other.outcome == "rate"]
    (note,) = contrast.notes
    assert note == "one ratio is not true of every work material: 2.02 in hard, 0.54 in soft; take each by itself"
    assert "materials" in next(family for family in found.families if family.outcome == "rate").not_held
    mixed = {"a": materials, "b": materials[::-1]}
    alike = compare(slopes({"a": rates["b"], "b": rates["b"][::-1]}, work_material=mixed), parse_criterion("VB=9mm"))
    assert not any("not true" in note for other in alike.contrasts for note in other.notes)
