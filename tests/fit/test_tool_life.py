"""Tool-life equations against R, scipy and statsmodels; refusals with their reason; direction of the regression."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.fit.parameters import Parameter, parameters
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.trial import Trial

FitOf = Callable[..., ToolLifeFit]
Case = Callable[[str], dict[str, Any]]
SPEED = "cutting_speed_m_min"


def constants(fit: ToolLifeFit, level: float = 0.95) -> dict[str, Parameter]:
    return {one.name: one for one in parameters(fit, level)}


def limits(one: Parameter) -> tuple[float, float]:
    return one.interval.low, one.interval.high


class TestStoredCases:
    """Figures of other programs, stored with their versions; the tolerance is the case's own."""

    def test_taylor_ols(self, fit_of: FitOf, reference_case: Case) -> None:
        """R lm and predict; statsmodels and scipy agree to 2.5e-14."""
        case = reference_case("taylor_ols")
        fit = fit_of(case["input"]["T"], V=case["input"]["V"])
        want, tol = case["expected"], case["rel_tol"]
        found = constants(fit)
        slope = found[f"exponent_{SPEED}"]
        got = {
            "intercept": found["intercept"].estimate, "slope": slope.estimate, "se_slope": slope.std_error,
            "s": found["sigma"].estimate, "slope_lo": slope.interval.low, "slope_hi": slope.interval.high,
            "n": found["n"].estimate, "n_lo": found["n"].interval.low, "n_hi": found["n"].interval.high,
            "C": found["C"].estimate,
        }  # fmt: skip
        for name, figure in got.items():
            assert figure == pytest.approx(want[name], rel=tol), name
        assert fit.line is not None
        assert fit.law.name == "taylor"
        assert fit.method.startswith("least squares of ln T")

    def test_the_other_way_round_is_another_number_and_not_ours(self, fit_of: FitOf, reference_case: Case) -> None:
        case = reference_case("taylor_ols")
        ln_v, ln_t = np.log(case["input"]["V"]), np.log(case["input"]["T"])
        reverse = -np.polyfit(ln_t, ln_v, 1)[0]
        assert reverse == pytest.approx(case["expected"]["n_reverse"], rel=1e-8)
        assert constants(fit_of(case["input"]["T"], V=case["input"]["V"]))["n"].estimate > reverse * 1.02

    def test_right_censored_lognormal(self, fit_of: FitOf, reference_case: Case) -> None:
        """R survival::survreg; lifelines agrees to 3e-8."""
        case = reference_case("aft_right_lognormal")
        given, want, tol = case["input"], case["expected"], case["rel_tol"]
        lives = [life if event else (life, math.inf) for life, event in zip(given["T"], given["event"], strict=True)]
        fit = fit_of(lives, V=given["V"])
        found = constants(fit)
        slope = found[f"exponent_{SPEED}"]
        # The case measures ln V from ln 140; here it is ln V itself.
        at_140 = found["intercept"].estimate + slope.estimate * math.log(140)
        assert at_140 == pytest.approx(want["intercept"], rel=tol)
        assert slope.estimate == pytest.approx(want["slope"], rel=tol)
        assert slope.std_error == pytest.approx(want["se_slope"], rel=tol)
        assert found["sigma"].estimate == pytest.approx(want["scale"], rel=tol)
        assert found["n"].estimate == pytest.approx(want["n"], rel=tol)
        assert (fit.lives, fit.censored) == (12, 2)
        assert fit.line is None
        assert "profile-likelihood" in fit.method

    def test_profile_interval(self, fit_of: FitOf, reference_case: Case) -> None:
        """R survreg with an offset and uniroot; brentq on a Nelder-Mead profile agrees to 6.5e-12."""
        case = reference_case("profile_slope_lognormal")
        given, want = case["input"], case["expected"]
        lives = [life if event else (life, math.inf) for life, event in zip(given["T"], given["event"], strict=True)]
        found = constants(fit_of(lives, V=given["V"]))
        assert limits(found[f"exponent_{SPEED}"]) == pytest.approx((want["F_lo"], want["F_hi"]), rel=case["rel_tol"])
        assert limits(found["n"]) == pytest.approx((-1 / want["F_lo"], -1 / want["F_hi"]), rel=case["rel_tol"])

    def test_every_kind_of_censoring(self, fit_of: FitOf, reference_case: Case) -> None:
        """R survreg with Surv(type = 'interval2'); lifelines agrees to 1.1e-7."""
        case = reference_case("aft_interval_lognormal")
        given, want, tol = case["input"], case["expected"], case["rel_tol"]
        lives = [
            (low, math.inf if high is None else high) for low, high in zip(given["lower"], given["upper"], strict=True)
        ]
        fit = fit_of(lives, V=given["V"])
        assert set(fit.used["status"]) == {"exact", "interval", "left", "right"}
        slope = constants(fit)[f"exponent_{SPEED}"]
        assert slope.estimate == pytest.approx(want["slope"], rel=tol)
        assert slope.std_error == pytest.approx(want["se_slope"], rel=tol)
        assert fit.sigma == pytest.approx(want["scale"], rel=tol)
        assert fit.regression is not None
        assert fit.regression.loglik == pytest.approx(want["loglik"], rel=tol)

    def test_extended_taylor(self, fit_of: FitOf, reference_case: Case) -> None:
        """R lm; statsmodels agrees to 1.5e-14."""
        case = reference_case("extended_taylor")
        given, want, tol = case["input"], case["expected"], case["rel_tol"]
        fit = fit_of(
            given["T"], V=given["V"], feed_per_tooth_mm=given["f"], factors=["cutting_speed", "feed_per_tooth"]
        )
        found = constants(fit)
        assert fit.law.name == "extended_taylor"
        assert found["intercept"].estimate == pytest.approx(want["intercept"], rel=tol)
        for name, key in ((SPEED, "V"), ("feed_per_tooth_mm", "f")):
            assert found[f"exponent_{name}"].estimate == pytest.approx(want[f"b{key}"], rel=tol)
            assert found[f"exponent_{name}"].std_error == pytest.approx(want[f"se_b{key}"], rel=tol)
        assert found["sigma"].estimate == pytest.approx(want["s"], rel=tol)
        assert found["n"].estimate == pytest.approx(-1 / want["bV"], rel=tol)


def random_design(seed: int, n: int = 9) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    speeds = rng.choice([90.0, 120.0, 160.0], size=n)
    speeds[:3] = 90.0, 120.0, 160.0
    return speeds, np.exp(20 - 3.6 * np.log(speeds) + rng.normal(0, rng.uniform(0.05, 0.5), n))


class TestAgainstScipy:
    @pytest.mark.parametrize("seed", range(12))
    def test_complete_lives(self, fit_of: FitOf, seed: int) -> None:
        speeds, lives = random_design(seed)
        found = constants(fit_of(lives.tolist(), V=speeds), 0.9)
        other = stats.linregress(np.log(speeds), np.log(lives))
        half = stats.t.ppf(0.95, 7) * other.stderr
        slope = found[f"exponent_{SPEED}"]
        assert slope.estimate == pytest.approx(other.slope, rel=1e-10)
        assert limits(slope) == pytest.approx((other.slope - half, other.slope + half), rel=1e-9)
        if other.slope + half < 0:
            assert limits(found["n"]) == pytest.approx((-1 / (other.slope - half), -1 / (other.slope + half)), rel=1e-9)
        else:
            assert found["n"].interval.unbounded == "high"
        assert found["C"].estimate == pytest.approx(np.exp(-other.intercept / other.slope), rel=1e-9)

    @pytest.mark.parametrize("seed", range(8))
    def test_the_interval_of_the_speed_for_an_hour_is_fiellers(self, fit_of: FitOf, seed: int) -> None:
        """Values of ln V at which a t test does not contradict a median of 60 (Fieller's theorem, from memory)."""
        speeds, lives = random_design(seed, 12)
        found = constants(fit_of(lives.tolist(), V=speeds))
        x, y = np.log(speeds), np.log(lives)
        n, sxx = len(x), np.sum((x - x.mean()) ** 2)
        slope = np.sum((x - x.mean()) * y) / sxx
        s2 = np.sum((y - y.mean() - slope * (x - x.mean())) ** 2) / (n - 2)
        t2 = stats.t.ppf(0.975, n - 2) ** 2
        d = math.log(60) - y.mean()
        # (d - slope u)^2 = t2 s2 (1/n + u^2 / sxx) with u = ln V - mean ln V
        a, b, c = slope**2 - t2 * s2 / sxx, -2 * d * slope, d**2 - t2 * s2 / n
        if a <= 0:
            assert found["v60"].why_missing
            return
        roots = np.sort(np.roots([a, b, c]).real)
        assert limits(found["v60"]) == pytest.approx(tuple(np.exp(roots + x.mean())), rel=1e-7)
        assert found["v60"].estimate == pytest.approx(math.exp(d / slope + x.mean()), rel=1e-10)

    @pytest.mark.parametrize("seed", range(6))
    def test_censored_lives_are_at_the_maximum(self, fit_of: FitOf, seed: int) -> None:
        speeds, lives = random_design(seed, 12)
        stop = np.median(lives)
        known = [life if life < stop else (float(stop), math.inf) for life in lives.tolist()]
        fit = fit_of(known, V=speeds)
        x = np.log(speeds)
        ended = lives < stop

        def minus_loglik(theta: np.ndarray) -> float:
            mean, sigma = theta[0] + theta[1] * (x - x.mean()), math.exp(theta[2])
            z = (np.log(np.where(ended, lives, stop)) - mean) / sigma
            return -float(np.sum(np.where(ended, stats.norm.logpdf(z) - math.log(sigma), stats.norm.logsf(z))))

        start = np.array([fit.beta[0] + fit.beta[1] * x.mean(), fit.beta[1], math.log(fit.sigma)])
        patient = {"xatol": 1e-9, "fatol": 1e-12, "maxiter": 20000, "maxfev": 20000}
        best = optimize.minimize(minus_loglik, start + 0.3, method="Nelder-Mead", options=patient)
        assert minus_loglik(start) <= best.fun + 1e-9
        assert start == pytest.approx(best.x, abs=2e-5)

    def test_complete_lives_give_the_same_interval_by_either_road(self, fit_of: FitOf) -> None:
        """The profile likelihood with the F cut is the t interval when every life is known."""
        speeds, lives = random_design(3)
        fit = fit_of(lives.tolist(), V=speeds)
        assert fit.line is not None
        assert fit.regression is not None
        for contrast in ([0.0, 1.0], [1.0, math.log(120)]):
            by_line, by_likelihood = fit.line.interval(contrast), fit.regression.interval(contrast)
            assert (by_likelihood.low, by_likelihood.high) == pytest.approx((by_line.low, by_line.high), rel=1e-8)


class TestRefusals:
    def test_speed_never_varied_on_a_published_log(self, sample: Callable[[str], Trial]) -> None:
        trial = sample("nasa_milling")
        lives = tool_lives(trial, [parse_criterion("VB=0.3mm")], ["cutting_time_min"]).to_frame()
        with pytest.raises(Refusal, match="Taylor exponent: speed never varied: 826 rev/min in every cutter"):
            fit_tool_life(lives, trial.facts())
        with pytest.raises(ArgumentError, match="no column 'cutting_speed'") as caught:
            fit_tool_life(lives, trial.facts(), factors=["cutting_speed", "feed_per_rev"])
        assert "bracket" not in caught.value.allowed  # what belongs to a life is no factor of it
        assert "feed_per_rev_mm" in caught.value.allowed

    @pytest.mark.parametrize(
        ("lives", "facts", "match"),
        [
            ([10, 11, 12], {"V": [100, 100, 100]}, "speed never varied: 100 m/min"),
            ([10], {"V": [100]}, "speed never varied: 100 m/min"),
            ([30, 40, 35, 28], {"V": [70, 70.0065, 70.0065, 70]}, "speed varied by less than 1 %: 70 to 70.0065 m/min"),
            ([10, 11], {}, "no cutting speed is recorded"),
            ([(9, math.inf)] * 3, {"V": [100, 120, 140]}, "0 failures for 2 coefficients"),
            ([(9, math.inf), (9, math.inf), 5, 4], {"V": [100, 120, 140, 160]}, "2 failures for 2 coefficients"),
            ([10, 5, 2, 8], {"V": [100, 120, np.nan, 110]}, "not recorded for cutter E3"),
            (
                [10, 5, 2, 8],
                {"V": [100, 120, 140, 110], "strategy": ["a", "b", "", "a"]},
                "strategy is not recorded for",
            ),
            ([(8, 10), (4, 6), (2, 3)], {"V": [100, 150, 200]}, "without any scatter"),
            ([(0, 10), (0, 6), (0, 3)], {"V": [100, 150, 200]}, "without any scatter"),
        ],
    )
    def test_a_named_reason(self, fit_of: FitOf, lives: list[Any], facts: dict[str, Any], match: str) -> None:
        with pytest.raises(Refusal, match=match):
            fit_of(lives, **facts)

    @pytest.mark.parametrize(
        ("factor", "values", "match"),
        [
            ("axial_depth", {"axial_depth_mm": 2.0}, "axial_depth_mm never varied: 2 mm in every cutter"),
            ("coating", {"coating": "TiN"}, "coating never varied: TiN in every cutter"),
            ("runout", {"runout_um": [0.0, 3.0, 4.0, 5.0]}, "runout_um of 0 has no logarithm"),
            ("hardness", {"hardness": [200.0, np.nan, 210.0, np.nan]}, "not recorded for cutter E2 and 1 more"),
        ],
    )
    def test_factors(self, fit_of: FitOf, factor: str, values: dict[str, Any], match: str) -> None:
        with pytest.raises(Refusal, match=match):
            fit_of([10, 5, 2, 8], factors=[factor], V=[100, 120, 140, 110], **values)

    def test_factors_that_moved_together(self, fit_of: FitOf) -> None:
        with pytest.raises(Refusal, match="cutting_speed_m_min and ln feed_per_tooth_mm moved together"):
            fit_of(
                [10, 11, 5, 6, 2, 2.2],
                factors=["cutting_speed", "feed_per_tooth"],
                V=[100, 100, 150, 150, 200, 200],
                feed_per_tooth_mm=[0.1, 0.1, 0.15, 0.15, 0.2, 0.2],
            )

    def test_words_that_name_no_column(self, fit_of: FitOf) -> None:
        with pytest.raises(ArgumentError, match=r"no column 'axail_depth'.*Did you mean axial_depth"):
            fit_of([10, 5, 2], factors=["axail_depth"], V=[100, 120, 140], axial_depth_mm=[1.0, 2.0, 3.0])

    @pytest.mark.parametrize("n", [0.0, -0.25, 5.0, math.nan])
    def test_a_held_exponent_out_of_reason(self, fit_of: FitOf, n: float) -> None:
        with pytest.raises(ArgumentError, match=r"--hold: n = .*between 0\.02 and 2"):
            fit_of([10, 5], held_n=n, V=[100, 120])


class TestWhatIsSaid:
    def test_cutters_without_a_life_are_named(self, fit_of: FitOf, sample: Callable[[str], Trial]) -> None:
        trial = sample("nasa_milling")
        lives = tool_lives(trial, [parse_criterion("VB=0.3mm")], ["cutting_time_min"]).to_frame()
        fit = fit_tool_life(lives, trial.facts(), factors=["axial_depth"])
        assert [cutter for cutter, _ in fit.left_out] == ["case06"]
        assert fit.left_out[0][1]
        assert fit.lives == 15

    def test_practices_and_materials_enter_of_their_own_accord(self, fit_of: FitOf) -> None:
        strategy = ["layered", "side"] * 4
        lives = [60, 150, 40, 110, 20, 45, 22, 60]
        fit = fit_of(lives, V=[80, 80, 90, 90, 110, 110, 105, 105], strategy=strategy)
        assert fit.added == ("strategy",)
        assert fit.names == ("ln k", f"ln {SPEED}", "strategy[side]")
        assert constants(fit)["ratio_strategy[side]"].estimate > 1
        asked = fit_of(lives, factors=["cutting_speed"], V=[80, 80, 90, 90, 110, 110, 105, 105], strategy=strategy)
        assert asked.added == ()
        assert asked.names == ("ln k", f"ln {SPEED}")

    def test_n_that_is_not_bounded_says_so(self, fit_of: FitOf) -> None:
        found = constants(fit_of([30, 34, 29, 31, 27, 33], V=[100, 100, 105, 105, 110, 110]))
        assert found["n"].estimate > 0
        assert found["n"].interval.unbounded == "high"
        assert found["n"].interval.low > 0
        assert "too close together" in found["n"].why_missing
        assert found["n"].to_dict()["high"] is None

    def test_life_that_does_not_fall_with_speed_has_no_exponent(self, fit_of: FitOf) -> None:
        for lives in ([10, 12, 15], [10, 10, 10]):
            found = constants(fit_of(lives, V=[100, 150, 200]))
            assert math.isnan(found["n"].estimate)
            assert "no Taylor exponent" in found["n"].why_missing

    def test_a_perfect_line_has_constants_and_no_interval(self, fit_of: FitOf) -> None:
        fit = fit_of([10 * (100 / v) ** 4 for v in (100, 150, 200)], V=[100, 150, 200])
        found = constants(fit)
        assert found["n"].estimate == pytest.approx(0.25, rel=1e-12)
        for one in found.values():
            assert one.interval.unbounded == "both"
            assert "no scatter to judge by" in one.why_missing
            assert math.isnan(one.std_error)

    def test_the_envelope_of_what_was_tested(self, fit_of: FitOf) -> None:
        fit = fit_of([10, 5, 2, 8], V=[100, 150, 200, 120], work_material="42CrMo4", axial_depth_mm=3.0)
        assert fit.tested_range[SPEED] == [100, 200]
        assert fit.tested_range["axial_depth_mm"] == [3, 3]
        assert fit.tested_range["work_material"] == ["42CrMo4"]

    def test_a_speed_for_an_hour_outside_the_speeds_tested_is_branded(self, fit_of: FitOf) -> None:
        inside = constants(fit_of([90, 40, 20], V=[80, 100, 120]))["v60"]
        assert 80 < inside.estimate < 100
        assert "not tested" not in inside.meaning
        outside = constants(fit_of([40, 20, 11], V=[80, 100, 120]))["v60"]
        assert outside.estimate < 80
        assert "not tested: outside 80 to 120 m/min" in outside.meaning

    def test_fitted_medians_stand_beside_each_life(self, fit_of: FitOf) -> None:
        fit = fit_of([10, 5, 2, 8], V=[100, 150, 200, 120])
        assert np.log(fit.used["fitted"]).mean() == pytest.approx(np.log([10, 5, 2, 8]).mean(), rel=1e-12)
        held = fit_of([10, 5], held_n=0.25, V=[100, 120])
        assert held.used["fitted"].iloc[0] / held.used["fitted"].iloc[1] == pytest.approx(1.2**4)


class TestProperties:
    @settings(max_examples=30, deadline=None)
    @given(st.integers(0, 10**6), st.sampled_from([1e-6, 60.0, 1e6]), st.sampled_from([1e-6, 0.3048, 1e6]))
    def test_units_change_nothing_but_units(self, fit_of: FitOf, seed: int, minute: float, metre: float) -> None:
        speeds, lives = random_design(seed)
        one = constants(fit_of(lives.tolist(), V=speeds))
        two = constants(fit_of((lives * minute).tolist(), V=speeds * metre))
        for name in ("n", "sigma", f"exponent_{SPEED}"):
            assert two[name].estimate == pytest.approx(one[name].estimate, rel=1e-6)
            assert limits(two[name]) == pytest.approx(limits(one[name]), rel=1e-6)

    @settings(max_examples=20, deadline=None)
    @given(st.integers(0, 10**6), st.sampled_from([1e-6, 60.0, 1e6]))
    def test_units_with_censored_lives(self, fit_of: FitOf, seed: int, minute: float) -> None:
        speeds, lives = random_design(seed, 12)
        stop = float(np.quantile(lives, 0.8))
        one = fit_of([life if life < stop else (stop, math.inf) for life in lives.tolist()], V=speeds)
        two = fit_of([life * minute if life < stop else (stop * minute, math.inf) for life in lives.tolist()], V=speeds)
        assert two.sigma == pytest.approx(one.sigma, rel=1e-6)
        slope = [0.0, 1.0]
        (a, b) = (fit.interval(np.array(slope)) for fit in (one, two))
        assert (b.low, b.high) == pytest.approx((a.low, a.high), rel=1e-6)

    @settings(max_examples=20, deadline=None)
    @given(st.integers(0, 10**6), st.permutations(range(9)))
    def test_the_order_of_cutters_does_not_matter(self, fit_of: FitOf, seed: int, order: list[int]) -> None:
        speeds, lives = random_design(seed)
        one, two = fit_of(lives.tolist(), V=speeds), fit_of(lives[order].tolist(), V=speeds[order])
        assert two.beta.tolist() == pytest.approx(one.beta.tolist(), rel=1e-9)
        assert two.sigma == pytest.approx(one.sigma, rel=1e-9)

    @settings(max_examples=20, deadline=None)
    @given(st.integers(0, 10**6), st.floats(1.01, 3.0))
    def test_a_longer_withdrawn_run_never_shortens_the_fitted_life(self, fit_of: FitOf, seed: int, more: float) -> None:
        speeds, lives = random_design(seed, 12)
        slowest = int(np.argmax(lives))

        def median(stop: float) -> float:
            known: list[Any] = lives.tolist()
            known[slowest] = (stop, math.inf)
            fit = fit_of(known, V=speeds)
            return float(fit.beta[0] + fit.beta[1] * math.log(speeds[slowest]))

        assert median(lives[slowest] * more) >= median(lives[slowest]) - 1e-9

    @pytest.mark.parametrize("seed", range(20))
    def test_equal_lives_give_no_exponent_out_of_rounding(self, fit_of: FitOf, seed: int) -> None:
        rng = np.random.default_rng(seed)
        fit = fit_of([float(rng.uniform(1e-3, 1e3))] * 7, V=rng.uniform(50, 300, 7))
        assert math.isnan(constants(fit)["n"].estimate)
        assert fit.sigma == pytest.approx(0.0, abs=1e-12)
