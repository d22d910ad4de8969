"""A law with a second-order speed term, and two equations against each other."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.linear_model import OLS

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.fit.laws import SECOND_ORDER
from wearlab.fit.parameters import parameters
from wearlab.fit.predict import predict_life
from wearlab.fit.rivals import rivals
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life

SPEED = np.repeat([60.0, 75.0, 95.0, 120.0], 3)


def _fit(life: np.ndarray, factors: list[str] | None = None, speed: np.ndarray = SPEED) -> ToolLifeFit:
    cutters = [f"E{at + 1}" for at in range(len(life))]
    lives = pd.DataFrame(
        {"cutter": cutters, "criterion": "end", "zone": "", "clock": "cutting_time_min", "life": life, "low": life,
         "high": life, "status": "exact", "cause": "worn", "why_missing": ""}
    )  # fmt: skip
    facts = pd.DataFrame({"cutter": cutters, "cutting_speed_m_min": speed, "spindle_rpm": math.nan})
    return fit_tool_life(lives, facts, factors)


def _bent(curvature: float) -> np.ndarray:
    x = np.log(SPEED)
    noise = np.random.default_rng(7).normal(0, 0.1, len(x))
    return np.exp(3.0 - 4.0 * (x - x.mean()) + curvature * (x - x.mean()) ** 2 + noise)


CURVED = ["cutting_speed", "cutting_speed^2"]


def test_second_order_is_least_squares_on_the_square() -> None:
    life = _bent(-6.0)
    fit = _fit(life, CURVED)
    x = np.log(SPEED)
    by_statsmodels = OLS(np.log(life), np.column_stack([np.ones(12), x, (x - x.mean()) ** 2])).fit()
    assert fit.law is SECOND_ORDER
    assert fit.beta == pytest.approx(by_statsmodels.params, rel=1e-9)
    found = {one.name: one for one in parameters(fit)}
    assert found["n"].estimate == pytest.approx(-1 / by_statsmodels.params[1])
    assert found["n"].meaning == "exponent at the centre of the speeds"
    assert found["second_order_cutting_speed_m_min"].estimate == pytest.approx(by_statsmodels.params[2])
    assert math.isnan(found["C"].estimate)
    assert "bends with speed" in found["C"].why_missing


def test_life_at_a_speed_follows_the_bend() -> None:
    fit = _fit(
        np.exp(3.0 - 4.0 * np.log(SPEED / 85) - 6.0 * np.log(SPEED / 85) ** 2 + 0.01 * np.tile([-1, 0, 1], 4)), CURVED
    )
    assert predict_life(fit, {"cutting_speed_m_min": 85.0}).life == pytest.approx(math.exp(3.0), rel=0.01)


def test_two_speeds_have_no_bend() -> None:
    with pytest.raises(Refusal, match="second-order term of cutting_speed_m_min with 2 levels"):
        _fit(np.array([50.0, 55.0, 20.0, 22.0]), CURVED, np.array([60.0, 60.0, 90.0, 90.0]))


def test_a_real_bend_predicts_better_and_a_made_up_one_does_not() -> None:
    bent, straight = _bent(-12.0), _bent(0.0)
    found = rivals(_fit(bent, CURVED), _fit(bent))
    assert found.better == found.names[0]
    assert found.low > 0
    found = rivals(_fit(straight, CURVED), _fit(straight))
    assert found.low < 0 < found.high
    assert found.held_out == "cutter"
    assert found.groups == 12


def test_scores_are_squared_errors_of_cutters_left_out() -> None:
    life = _bent(0.0)
    found = rivals(_fit(life), _fit(life, CURVED))
    x = np.column_stack([np.ones(12), np.log(SPEED)])
    hat = x @ np.linalg.pinv(x)
    left = (np.log(life) - hat @ np.log(life)) / (1 - np.diag(hat))
    assert found.mean_scores[0] == pytest.approx(-np.mean(left**2), rel=1e-9)


def test_blocks_are_held_out_whole() -> None:
    life = _bent(0.0)
    fit = _fit(life)
    blocks = {cutter: f"bar {at % 3}" for at, cutter in enumerate(fit.used["cutter"])}
    found = rivals(fit, _fit(life, CURVED), blocks)
    assert found.held_out == "block"
    assert found.groups == 3


def test_fits_to_other_cutters_are_no_rivals() -> None:
    with pytest.raises(ArgumentError, match="the same lives"):
        rivals(_fit(_bent(0.0)), _fit(_bent(0.0)[:9], None, SPEED[:9]))
