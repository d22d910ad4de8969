"""Life at a setting, and the guard that keeps answers inside what was tested."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.fit.predict import predict_life, read_setting
from wearlab.fit.tool_life import ToolLifeFit

FitOf = Callable[..., ToolLifeFit]
Case = Callable[[str], dict[str, Any]]
SPEED = "cutting_speed_m_min"


@pytest.fixture
def taylor(fit_of: FitOf, reference_case: Case) -> ToolLifeFit:
    given = reference_case("taylor_ols")["input"]
    return fit_of(given["T"], V=given["V"])


def test_median_life_and_interval_as_r_gives_them(taylor: ToolLifeFit, reference_case: Case) -> None:
    """R predict.lm at 150 m/min with a confidence interval (stored case taylor_ols)."""
    want, tol = reference_case("taylor_ols")["expected"], reference_case("taylor_ols")["rel_tol"]
    answer = predict_life(taylor, {SPEED: 150.0})
    assert answer.life == pytest.approx(want["T150"], rel=tol)
    assert (answer.interval.low, answer.interval.high) == pytest.approx(
        (want["T150_ci_lo"], want["T150_ci_hi"]), rel=tol
    )
    assert answer.tested
    assert json.loads(json.dumps(answer.to_dict(), allow_nan=False))["brand"] == "inside the tested range"


def test_a_censored_fit_answers_as_r_does(fit_of: FitOf, reference_case: Case) -> None:
    """R survreg: median at 140 m/min (stored case aft_right_lognormal)."""
    case = reference_case("aft_right_lognormal")
    given = case["input"]
    lives = [life if event else (life, math.inf) for life, event in zip(given["T"], given["event"], strict=True)]
    answer = predict_life(fit_of(lives, V=given["V"]), {SPEED: 140.0})
    assert answer.life == pytest.approx(case["expected"]["median_at_140"], rel=case["rel_tol"])
    assert answer.interval.low < answer.life < answer.interval.high


class TestGuard:
    @pytest.mark.parametrize("speed", [110.0, 145.0, 180.0])
    def test_inside(self, taylor: ToolLifeFit, speed: float) -> None:
        assert predict_life(taylor, {SPEED: speed}).brand == "inside the tested range"

    @pytest.mark.parametrize("speed", [109.0, 106.0, 181.0, 186.0])
    def test_up_to_ten_per_cent_outside_is_branded(self, taylor: ToolLifeFit, speed: float) -> None:
        answer = predict_life(taylor, {SPEED: speed})
        assert not answer.tested
        assert answer.brand == f"not tested: {SPEED} {speed:g} (tested: 110 to 180)"

    @pytest.mark.parametrize("speed", [99.9, 50.0, 198.1, 400.0])
    def test_farther_is_refused_unless_asked_for(self, taylor: ToolLifeFit, speed: float) -> None:
        with pytest.raises(Refusal, match=r"no figure for cutting_speed_m_min .* \(tested: 110 to 180\)"):
            predict_life(taylor, {SPEED: speed})
        answer = predict_life(taylor, {SPEED: speed}, beyond=True)
        assert "tested: 110 to 180" in answer.brand
        assert math.isfinite(answer.life)

    @pytest.mark.parametrize("withdrawn", [False, True])
    def test_a_combination_that_nobody_tried(self, fit_of: FitOf, withdrawn: bool) -> None:
        """Fast always went with fine and slow with coarse: slow and fine lies inside both ranges and was never cut."""
        speeds = np.array([80, 90, 100, 110, 120, 130, 140, 150.0])
        feeds = np.array([0.125, 0.105, 0.11, 0.085, 0.09, 0.07, 0.075, 0.055])
        lives: list[Any] = [60.0, 55, 40, 44, 25, 28, 17, 20]
        if withdrawn:
            lives[0] = (60.0, math.inf)
        fit = fit_of(lives, factors=["cutting_speed", "feed_per_tooth"], V=speeds, feed_per_tooth_mm=feeds)
        assert predict_life(fit, {SPEED: 115.0, "feed_per_tooth_mm": 0.085}).tested
        with pytest.raises(Refusal, match="combination of settings unlike any that was tested"):
            predict_life(fit, {SPEED: 80.0, "feed_per_tooth_mm": 0.055})
        branded = predict_life(fit, {SPEED: 80.0, "feed_per_tooth_mm": 0.055}, beyond=True)
        assert not branded.tested

    def test_a_held_exponent_is_guarded_too(self, fit_of: FitOf) -> None:
        fit = fit_of([10, 11, 5, 6], held_n=0.25, V=[100, 100, 120, 120])
        with pytest.raises(Refusal, match="tested: 100 to 120"):
            predict_life(fit, {SPEED: 200.0})
        low, high = (predict_life(fit, {SPEED: v}).life for v in (120.0, 100.0))
        assert high / low == pytest.approx(1.2**4, rel=1e-12)


class TestSettings:
    @pytest.mark.parametrize(
        ("settings", "match"),
        [
            ({"feed": 1.0}, "feed is no factor of this fit"),
            ({SPEED: -1.0}, "a number above 0"),
            ({SPEED: 0.0}, "a number above 0"),
            ({SPEED: math.nan}, "a number above 0"),
            ({SPEED: math.inf}, "a number above 0"),
            ({SPEED: "fast"}, "a number above 0"),
        ],
    )
    def test_bad_ones(self, taylor: ToolLifeFit, settings: dict[str, Any], match: str) -> None:
        with pytest.raises(ArgumentError, match=match):
            predict_life(taylor, settings, beyond=True)

    def test_groups(self, fit_of: FitOf) -> None:
        fit = fit_of(
            [60, 150, 40, 110, 20, 45, 22, 60], V=[80, 80, 90, 90, 110, 110, 105, 105], strategy=["a", "b"] * 4
        )
        a, b = (predict_life(fit, {SPEED: 95.0, "strategy": one}).life for one in "ab")
        assert b / a == pytest.approx(math.exp(fit.beta[2]), rel=1e-12)
        assert predict_life(fit, {SPEED: 95.0}).life == a  # the first group stands in
        with pytest.raises(ArgumentError, match="strategy 'c'; allowed: a, b"):
            predict_life(fit, {"strategy": "c"})

    def test_read_from_the_command_line(self, fit_of: FitOf) -> None:
        fit = fit_of(
            [60, 150, 40, 110, 20, 45, 22, 60], V=[80, 80, 90, 90, 110, 110, 105, 105], strategy=["a", "b"] * 4
        )
        assert read_setting(fit, "cutting_speed=95, strategy=b") == {SPEED: 95.0, "strategy": "b"}
        for text, match in [("95", "factor=value"), ("cutting_speed=fast", "above 0"), ("cutting_speed=-3", "above 0"),
                            ("coolant=air", "no column 'coolant'")]:  # fmt: skip
            with pytest.raises(ArgumentError, match=match):
                read_setting(fit, text)

    def test_a_life_that_no_number_can_hold(self, fit_of: FitOf) -> None:
        fit = fit_of([1e5, 5, 1e-4, 8e3, 30], V=[100, 101.5, 103, 100.6, 101.2])
        answer = predict_life(fit, {SPEED: 1.0}, beyond=True)
        assert answer.life == math.inf
        assert not answer.tested
