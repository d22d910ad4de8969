"""Worked examples of the trade, through the public path from log to constants; the source stands beside each."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS

from wearlab.fit.laws import life_ratio
from wearlab.fit.parameters import Parameter, parameters
from wearlab.fit.predict import predict_life
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.trial import Trial

Sample = Callable[[str], Trial]
FitOf = Callable[..., ToolLifeFit]


def constants(fit: ToolLifeFit, level: float = 0.95) -> dict[str, Parameter]:
    return {one.name: one for one in parameters(fit, level)}


def fit_log(trial: Trial, criterion: str = "end", **more: object) -> ToolLifeFit:
    lives = tool_lives(trial, [parse_criterion(criterion)], ["cutting_time_min"])
    return fit_tool_life(lives.to_frame(), trial.facts(), **more)  # type: ignore[arg-type]


def test_t01_two_ends(sample: Sample) -> None:
    """Groover, Fundamentals of Modern Manufacturing, worked example in the tool-life section: n 0.223, C 229 (from
    memory)."""
    found = constants(fit_log(sample("taylor_T01")))
    assert found["n"].estimate == pytest.approx(0.223, abs=5e-4)
    assert found["C"].estimate == pytest.approx(229, abs=0.5)
    assert found["n"].why_missing.startswith("2 lives for 2 constants")
    assert found["n"].interval.unbounded == "both"


def test_t03_from_wear_curves(sample: Sample) -> None:
    """Groover, 5th ed., problem in the tool-life chapter (data seen, answers from memory): n 0.614, C 637.

    With the first life rounded to 20.4 min, as on paper, n is 0.6147 and C 638.3: within the same tolerance."""
    found = constants(fit_log(sample("groover_coated"), "VB=0.75mm"))
    assert found["n"].estimate == pytest.approx(0.614, abs=5e-4)
    assert found["C"].estimate == pytest.approx(637.29, abs=5e-3)


def test_t04_two_points(fit_of: FitOf) -> None:
    """Textbook-style problem on a question-and-answer page (seen): printed n 0.233, cut off rather than rounded."""
    found = constants(fit_of([4.25, 35], V=[180, 110]))
    assert found["n"].estimate == pytest.approx(0.233, abs=1e-3)
    assert found["n"].estimate == pytest.approx(0.23358, abs=5e-6)
    assert found["C"].estimate == pytest.approx(252.4, abs=0.05)


def test_t05_a_held_exponent(sample: Sample) -> None:
    """P. C. Sharma, A Textbook of Production Engineering, Exa 14.1 p. 563 (seen): n 0.125, 18 m/min lasts 3 h;
    18 min at 24 m/min."""
    fit = fit_log(sample("taylor_T05"), held_n=0.125)
    found = constants(fit)
    assert (found["n"].estimate, found["n"].why_missing) == (0.125, "held, not fitted")
    assert found["C"].estimate == pytest.approx(34.449, abs=5e-4)
    answer = predict_life(fit, {"cutting_speed_m_min": 24.0}, beyond=True)
    assert answer.life == pytest.approx(18.02, abs=5e-3)
    assert not answer.tested
    assert "tested: 18 only" in answer.brand


def test_t06_the_speed_for_an_hour(sample: Sample) -> None:
    """P. C. Sharma, Exa 14.7 p. 568 (seen): n 0.224, C 68.4, V60 27.37."""
    found = constants(fit_log(sample("taylor_T06")))
    assert found["n"].estimate == pytest.approx(0.224, abs=5e-4)
    assert found["C"].estimate == pytest.approx(68.4, abs=0.05)
    assert found["v60"].estimate == pytest.approx(27.37, abs=0.01)


@pytest.mark.parametrize(("n", "ratio"), [(0.5, 4.0), (0.25, 16.0)])
def test_t07_t09_half_the_speed(n: float, ratio: float) -> None:
    """Kalpakjian & Schmid, Manufacturing Engineering and Technology, 4th ed. Example 20.2 p. 555 (seen): n 0.5, +300 %;
    a question-and-answer page (seen): n 0.25, sixteen times."""
    assert life_ratio(0.5, n) == ratio


def test_t11_from_two_tests_to_half_the_speed(fit_of: FitOf) -> None:
    """GATE-style set (seen): 60 m/min 81 min, 90 m/min 36 min; n 0.5, C 540, +300 % at half the speed."""
    fit = fit_of([81, 36], V=[60, 90])
    found = constants(fit)
    assert found["n"].estimate == pytest.approx(0.5, rel=1e-12)
    assert found["C"].estimate == pytest.approx(540, rel=1e-10)
    half = predict_life(fit, {"cutting_speed_m_min": 30.0}, beyond=True)
    assert half.life / 81 - 1 == pytest.approx(3.0, rel=1e-10)


def test_e01_three_tests_three_constants(fit_of: FitOf) -> None:
    """EML 4321 homework 11, spring 2011, course solution (seen): V^p f^q T = C with p 2.41, q 1.26, C 3.684e6 from
    rounded exponents, 3.672e6 from unrounded ones."""
    fit = fit_of(
        [30, 15, 9], V=[300, 400, 400], feed_per_rev_mm=[0.2, 0.2, 0.3], factors=["cutting_speed", "feed_per_rev"]
    )
    found = constants(fit)
    assert -found["exponent_cutting_speed_m_min"].estimate == pytest.approx(2.41, abs=5e-3)
    assert -found["exponent_feed_per_rev_mm"].estimate == pytest.approx(1.26, abs=5e-3)
    assert np.exp(found["intercept"].estimate) == pytest.approx(3.672e6, rel=5e-4)
    assert found["intercept"].estimate == pytest.approx(np.log(3.684e6), abs=5e-3)
    assert found["exponent_feed_per_rev_mm"].why_missing.startswith("3 lives for 3 constants")


class TestNasaMilling:
    """Agogino & Goebel, Milling Data Set (UC Berkeley / NASA Ames); regression computed with a second program."""

    FACTORS = ("feed_per_rev", "axial_depth", "work_material")

    def test_the_regression(self, sample: Sample) -> None:
        fit = fit_log(sample("nasa_milling"), "VB=0.3mm", factors=self.FACTORS)
        found = constants(fit)
        assert (fit.lives, fit.censored) == (15, 0)
        assert [cutter for cutter, _ in fit.left_out] == ["case06"]
        assert found["intercept"].estimate == pytest.approx(3.2207, abs=5e-5)
        assert found["exponent_feed_per_rev_mm"].estimate == pytest.approx(-0.3616, abs=5e-5)
        assert found["exponent_axial_depth_mm"].estimate == pytest.approx(-0.9752, abs=5e-5)
        steel = found["ln_ratio_work_material[stainless steel J45]"]
        assert steel.estimate == pytest.approx(-1.4727, abs=5e-5)
        assert found["sigma"].estimate == pytest.approx(0.2366, abs=5e-5)
        assert fit.line is not None
        assert fit.line.r_squared == pytest.approx(0.941, abs=5e-4)
        ratio = found["ratio_work_material[stainless steel J45]"]
        assert (ratio.estimate, ratio.interval.low, ratio.interval.high) == pytest.approx(
            (0.229, 0.175, 0.301), abs=5e-4
        )

    def test_feed_per_tooth_moves_the_intercept_alone(self, sample: Sample) -> None:
        per_rev = constants(fit_log(sample("nasa_milling"), "VB=0.3mm", factors=self.FACTORS))
        per_tooth = constants(
            fit_log(sample("nasa_milling"), "VB=0.3mm", factors=["feed_per_tooth", *self.FACTORS[1:]])
        )
        assert per_tooth["intercept"].estimate == pytest.approx(2.5728, abs=5e-5)
        assert per_tooth["exponent_feed_per_tooth_mm"].estimate == pytest.approx(
            per_rev["exponent_feed_per_rev_mm"].estimate, rel=1e-10
        )
        assert per_tooth["sigma"].estimate == pytest.approx(per_rev["sigma"].estimate, rel=1e-10)

    def test_the_regression_is_statsmodels(self, sample: Sample) -> None:
        trial = sample("nasa_milling")
        fit = fit_log(trial, "VB=0.3mm", factors=self.FACTORS)
        facts = trial.facts().set_index("cutter").loc[fit.used["cutter"]]
        X = np.column_stack(
            [np.ones(15), np.log(facts["feed_per_rev_mm"]), np.log(facts["axial_depth_mm"]),
             facts["work_material"] == "stainless steel J45"]
        ).astype(float)  # fmt: skip
        other = OLS(np.log(fit.used["low"].to_numpy()), X).fit()
        found = constants(fit)
        names = ["intercept", "exponent_feed_per_rev_mm", "exponent_axial_depth_mm",
                 "ln_ratio_work_material[stainless steel J45]"]  # fmt: skip
        for at, name in enumerate(names):
            assert found[name].estimate == pytest.approx(other.params[at], rel=1e-10)
            assert found[name].std_error == pytest.approx(other.bse[at], rel=1e-10)
            limits = (found[name].interval.low, found[name].interval.high)
            assert limits == pytest.approx(tuple(other.conf_int()[at]), rel=1e-9)
        assert found["sigma"].estimate == pytest.approx(np.sqrt(other.scale), rel=1e-10)
        chi2 = [np.sqrt(other.ssr / stats.chi2.ppf(q, 11)) for q in (0.975, 0.025)]
        assert (found["sigma"].interval.low, found["sigma"].interval.high) == pytest.approx(tuple(chi2), rel=1e-9)


def test_groups_of_a_designed_experiment_enter_as_statsmodels_has_them(fit_of: FitOf) -> None:
    """Data of Montgomery, Design and Analysis of Experiments, Problem 6.1 (seen), on ln life; the published effects are
    on the raw scale and are checked in the statistics room."""
    path = Path(__file__).parents[1] / "reference" / "published" / "montgomery_tool_life.csv"
    table = pd.read_csv(path)
    words = {column: table[column].map({-1: "a low", 1: "b high"}) for column in ("speed_A", "geometry_B", "angle_C")}
    fit = fit_of(
        table["life_h"].tolist(), factors=["coating", "coolant", "direction"], coating=words["speed_A"].tolist(),
        coolant=words["geometry_B"].tolist(), direction=words["angle_C"].tolist(),
    )  # fmt: skip
    X = np.column_stack([np.ones(24), *(word == "b high" for word in words.values())]).astype(float)
    other = OLS(np.log(table["life_h"]).to_numpy(), X).fit()
    assert fit.beta.tolist() == pytest.approx(other.params.tolist(), rel=1e-9, abs=1e-12)
    assert fit.sigma == pytest.approx(np.sqrt(other.scale), rel=1e-9)


def test_constants_are_ready_for_json(sample: Sample) -> None:
    for one in parameters(fit_log(sample("taylor_T01"))):
        facts = json.loads(json.dumps(one.to_dict(), allow_nan=False))
        assert set(facts) >= {"name", "estimate", "std_error", "low", "high", "level", "unbounded", "why_missing"}
        assert facts["low"] is None
        assert facts["unbounded"] == "both"
        assert facts["why_missing"]
