"""Practices against each other: published cases, verdicts, refusals; against R, scipy and statsmodels."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.multitest import multipletests

from wearlab.compare.compare import Comparison, compare
from wearlab.compare.contrast import Contrast
from wearlab.compare.life_ratio import Ratio
from wearlab.compare.together import Together
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial
from wearlab.stats.detectable import smallest_ratio

Sample = Callable[[str], Trial]
Make = Callable[..., Trial]
Case = Callable[[str], dict[str, Any]]
NEVER = parse_criterion("VB=9mm")
"""A land that the straight curves of these tests do not reach: rates use every reading."""


def one(found: Comparison, outcome: str = "") -> Contrast:
    (contrast,) = [c for c in found.contrasts if not outcome or c.outcome == outcome]
    return contrast


def limits(contrast: Contrast) -> tuple[float, float]:
    return contrast.interval.low, contrast.interval.high


HANDBOOK = {
    "grade A": [15.0, 19.0, 16.9, 16.6, 16.6, 16.1, 19.4],
    "grade B": [14.6, 13.5, 15.6, 12.4, 14.6, 13.8, 19.1],
}


class TestTwoGradesOfTheHandbook:
    """Machinery's Handbook, 31st ed., p. 141: seven tool lives of each of two grades, means 17.1 and 14.8.

    p 0.042 (pooled t) and 0.034 (the same on logs): computed with scipy.
    """

    def test_the_printed_means(self) -> None:
        assert [round(float(np.mean(lives)), 1) for lives in HANDBOOK.values()] == [17.1, 14.8]

    def test_through_compare(self, ends: Make) -> None:
        contrast = one(compare(ends(HANDBOOK), END))
        logs = [np.log(lives) for lives in HANDBOOK.values()]
        other = stats.ttest_ind(*logs)
        raw = stats.ttest_ind(*HANDBOOK.values())
        assert round(raw.pvalue, 3) == 0.042
        assert round(other.pvalue, 3) == 0.034
        assert (contrast.a, contrast.b, contrast.n_a, contrast.n_b) == ("grade A", "grade B", 7, 7)
        assert contrast.estimate == pytest.approx(np.exp(logs[0].mean() - logs[1].mean()), rel=1e-9)
        interval = other.confidence_interval(0.95)
        assert limits(contrast) == pytest.approx((np.exp(interval.low), np.exp(interval.high)), rel=1e-7)
        exact = stats.permutation_test(
            logs, lambda a, b: np.mean(a) - np.mean(b), n_resamples=np.inf, alternative="two-sided"
        )
        assert contrast.p_method == "exact permutation"
        # Lives are all known: their scores are a linear function of their logs, so the test is that of the mean logs.
        assert contrast.p_value == pytest.approx(exact.pvalue, abs=2.5 / 3432)
        assert contrast.smallest_p == pytest.approx(2 / 3432)
        assert contrast.verdict == "different"
        assert contrast.better == "grade A"
        assert contrast.sigma == pytest.approx(np.sqrt(np.mean([logs[0].var(ddof=1), logs[1].var(ddof=1)])), rel=1e-9)
        assert contrast.smallest_detectable == pytest.approx(smallest_ratio(contrast.sigma, 7, 7))
        assert contrast.smallest_detectable > 1.15


class TestNasaMilling:
    """Agogino & Goebel, Milling Data Set (UC Berkeley / NASA Ames); figures computed with a second program."""

    def test_steel_against_iron_other_factors_allowed_for(self, sample: Sample) -> None:
        found = compare(
            sample("nasa_milling"), parse_criterion("VB=0.3mm"), by="work_material", adjust=["feed_per_rev", "axial"],
            outcomes=["life"],
        )  # fmt: skip
        contrast = one(found)
        assert (contrast.a, contrast.b) == ("cast iron", "stainless steel J45")
        assert 1 / contrast.estimate == pytest.approx(0.229, abs=5e-4)
        assert sorted(1 / limit for limit in limits(contrast)) == pytest.approx([0.175, 0.301], abs=5e-4)
        assert contrast.verdict == "different"
        assert contrast.better == "cast iron"
        assert [cutter for cutter, _ in found.left_out] == ["case06"]

    def test_the_standard_stands_below_the_ratio(self, sample: Sample) -> None:
        trial, criterion = sample("nasa_milling"), parse_criterion("VB=0.3mm")
        over_iron = one(compare(trial, criterion, by="work_material", standard="cast iron", outcomes=["life"]))
        over_steel = one(compare(trial, criterion, by="work_material", outcomes=["life"]))
        assert (over_iron.a, over_iron.b) == ("stainless steel J45", "cast iron")
        assert over_iron.estimate == pytest.approx(1 / over_steel.estimate, rel=1e-9)
        assert limits(over_iron) == pytest.approx(tuple(1 / limit for limit in limits(over_steel)[::-1]), rel=1e-7)

    @pytest.mark.parametrize(("clock", "ratio"), [("cutting_time_min", 0.509), ("cut_length_m", 0.509)])
    def test_deep_against_shallow(self, sample: Sample, clock: str, ratio: float) -> None:
        """0.509 in minutes, by a second program; in metres of feed the same, for feed is allowed for."""
        found = compare(
            sample("nasa_milling"), parse_criterion("VB=0.3mm"), clock, by="axial_depth", standard="0.75",
            adjust=["feed_per_rev", "work_material"], outcomes=["life"],
        )  # fmt: skip
        assert one(found).estimate == pytest.approx(ratio, abs=5e-4)


class TestStoredCases:
    def test_rates_by_welch_on_logs(self, slopes: Make, reference_case: Case) -> None:
        """R t.test and full enumeration; scipy agrees to 3e-15 (stored cases welch_ratio and perm_exact)."""
        welch, exact = reference_case("welch_ratio"), reference_case("perm_exact")
        given, want = welch["input"], welch["expected"]
        trial = slopes({name: [rate / 100 for rate in given[name]] for name in "ab"})
        contrast = one(compare(trial, NEVER), "rate")
        assert contrast.estimate == pytest.approx(want["ratio"], rel=1e-6)
        assert limits(contrast) == pytest.approx((want["lo"], want["hi"]), rel=1e-6)
        assert contrast.p_method == "exact permutation"
        assert contrast.p_value == pytest.approx(exact["expected"]["p_two"], rel=1e-9)
        assert contrast.smallest_p == pytest.approx(2 / exact["expected"]["n_perm"])
        assert "Welch" in contrast.method
        assert contrast.better == "b"  # the slower wear

    def test_rates_within_blocks(self, slopes: Make, reference_case: Case) -> None:
        """R lm with blocks, which is the paired t test; all 64 sign flips (stored cases)."""
        case, flip, pairs = (reference_case(name) for name in ("block_ols", "signflip_exact", "paired_t"))
        given = case["input"]
        blocks = [str(n + 1) for n in range(6)]
        trial = slopes({name: [rate / 100 for rate in given[name]] for name in "ab"}, block={"a": blocks, "b": blocks})
        contrast = one(compare(trial, NEVER), "rate")
        assert "within blocks" in contrast.method
        assert math.log(contrast.estimate) == pytest.approx(-case["expected"]["diff"], rel=1e-5)
        assert limits(contrast) == pytest.approx((pairs["expected"]["lo"], pairs["expected"]["hi"]), rel=1e-5)
        # Six pairs reach 2/64: below 5 %, so the exact p is the one that is given.
        assert contrast.smallest_p == pytest.approx(2 / 64)
        assert contrast.p_value == pytest.approx(flip["expected"]["p_two"])

    def test_equivalence(self, slopes: Make, reference_case: Case) -> None:
        """R t.test, 90 % interval of z against the standard (stored case tost)."""
        case = reference_case("tost")
        given, want = case["input"], case["expected"]
        trial = slopes({"std": [r / 100 for r in given["std"]], "z": [r / 100 for r in given["z"]]})
        contrast = one(compare(trial, NEVER, standard="std"), "rate")
        inner = contrast.equivalence
        assert (inner["low"], inner["high"]) == pytest.approx(
            (math.exp(want["ci90_lo"]), math.exp(want["ci90_hi"])), rel=1e-5
        )
        assert (inner["alike"], inner["margin"], contrast.verdict) == (True, 1.25, "alike")

    def test_several_against_a_standard(self, slopes: Make, reference_case: Case) -> None:
        """Dunnett's p by R multcomp (stored case dunnett): four a side, so one scatter for all groups."""
        case = reference_case("dunnett")
        trial = slopes({name: [r / 100 for r in case["input"][name]] for name in ("std", "x", "y", "z")})
        made = compare(trial, NEVER, standard="std")
        found = [c for c in made.contrasts if c.outcome == "rate"]
        assert [(c.a, c.b) for c in found] == [("x", "std"), ("y", "std"), ("z", "std")]
        assert [c.p_value for c in found] == pytest.approx(case["expected"]["p"], rel=1e-3, abs=1e-6)
        assert all(c.p_method == "of the interval's method, Dunnett" for c in found)
        logs = [np.log(case["input"][name]) for name in ("std", "x", "y", "z")]
        other = stats.dunnett(*logs[1:], control=logs[0], rng=1).confidence_interval(0.95)
        assert [np.log(limits(c)) for c in found] == [
            pytest.approx((low, high), rel=5e-3, abs=1e-3) for low, high in zip(other.low, other.high, strict=True)
        ]
        assert found[0].interval.level == 0.95  # of the family

    def test_all_pairs_of_few(self, slopes: Make, reference_case: Case) -> None:
        """Tukey by R TukeyHSD (stored case tukey): four a side, so one scatter for all groups."""
        case = reference_case("tukey")
        trial = slopes({name: [r / 100 for r in case["input"][name]] for name in ("std", "x", "y", "z")})
        made = compare(trial, NEVER)
        found = {(c.a, c.b): c for c in made.contrasts if c.outcome == "rate"}
        want, first = case["expected"], found["std", "x"]
        assert -math.log(first.estimate) == pytest.approx(want["x_std_diff"], rel=1e-6)
        assert sorted(-np.log(limits(first))) == pytest.approx([want["x_std_lo"], want["x_std_hi"]], rel=1e-5)
        assert first.p_value == pytest.approx(want["x_std_p"], rel=1e-4)
        assert found["y", "z"].p_value == pytest.approx(want["z_y_p"], rel=1e-4)
        assert [one.method for one in made.families if one.outcome == "rate"] == ["tukey"]


def ratio_lives(center_a: float, center_b: float, spread: float, n: int = 6) -> dict[str, list[float]]:
    """Two groups whose ln lives are spread alike about their centres."""
    z = stats.norm.ppf((np.arange(n) + 0.5) / n)
    return {name: (center * np.exp(spread * z)).tolist() for name, center in (("a", center_a), ("b", center_b))}


class TestVerdicts:
    @pytest.mark.parametrize(
        ("lives", "verdict"),
        [
            (ratio_lives(30, 60, 0.1), "different"),
            (ratio_lives(30, 30.5, 0.05), "alike"),
            (ratio_lives(30, 33.5, 0.03), "small_but_real"),
            (ratio_lives(30, 36, 0.4), "cannot_tell"),
        ],
    )
    def test_the_four(self, ends: Make, lives: dict[str, list[float]], verdict: str) -> None:
        contrast = one(compare(ends(lives), END))
        assert contrast.verdict == verdict
        assert contrast.why_missing == ""
        # The rule once more, from the intervals that scipy gives.
        a, b = (np.log(group) for group in lives.values())
        outer, inner = (stats.ttest_ind(a, b).confidence_interval(level) for level in (0.95, 0.90))
        real, small = not outer.low <= 0 <= outer.high, -math.log(1.25) < inner.low and inner.high < math.log(1.25)
        by_rule = {(1, 1): "small_but_real", (1, 0): "different", (0, 1): "alike", (0, 0): "cannot_tell"}
        assert by_rule[real, small] == verdict

    def test_cannot_tell_says_what_could_have_been_shown(self, ends: Make) -> None:
        contrast = one(compare(ends(ratio_lives(30, 36, 0.4)), END))
        assert contrast.smallest_detectable == pytest.approx(smallest_ratio(contrast.sigma, 6, 6))
        assert contrast.cutters_to_settle is not None
        assert contrast.cutters_to_settle > 6

    def test_the_margin_decides_what_is_small(self, ends: Make) -> None:
        trial = ends(ratio_lives(30, 33.5, 0.03))
        assert one(compare(trial, END, margin=1.05)).verdict == "different"
        assert one(compare(trial, END, margin=2.0)).verdict == "small_but_real"

    def test_two_a_side_are_described_and_not_judged(self, ends: Make) -> None:
        contrast = one(compare(ends({"a": [10, 11], "b": [20, 21]}), END))
        assert (contrast.verdict, contrast.n_a, contrast.n_b) == (None, 2, 2)
        assert contrast.why_missing == "2 cutters on a side: described, not judged (3 needed)"
        assert contrast.estimate == pytest.approx(math.sqrt(110 / 420))

    def test_one_a_side_has_a_ratio_and_nothing_more(self, ends: Make) -> None:
        contrast = one(compare(ends({"a": [10], "b": [20, 22]}), END))
        assert contrast.estimate == pytest.approx(10 / math.sqrt(440))
        assert contrast.interval.unbounded == "both"
        assert contrast.verdict is None
        assert "one cutter on a side" in contrast.why_missing
        assert math.isnan(contrast.p_value)

    def test_one_a_side_still_good_has_not_even_that(self, ends: Make) -> None:
        contrast = one(compare(ends({"a": [(10, "withdrawn")], "b": [20, 22]}), END))
        assert math.isnan(contrast.estimate)
        assert contrast.verdict is None
        assert contrast.better == ""

    def test_no_failure_on_one_side(self, ends: Make) -> None:
        """No ratio, but the limit at which the profile likelihood, maximised by scipy, has fallen to the F cut."""
        contrast = one(compare(ends({"a": [(40, "withdrawn")] * 4, "b": [20, 22, 19, 25]}), END))
        assert math.isnan(contrast.estimate)
        assert contrast.interval.unbounded == "high"
        assert (contrast.verdict, contrast.better) == ("different", "a")
        y = np.log([20, 22, 19, 25])

        def minus_loglik(theta: np.ndarray, ratio: float) -> float:
            sigma = math.exp(theta[1])
            own = stats.norm.logpdf((y - theta[0]) / sigma).sum() - 4 * math.log(sigma)
            return -float(own + 4 * stats.norm.logsf((math.log(40) - theta[0] - math.log(ratio)) / sigma))

        patient = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 9000}
        best, at_limit = (
            optimize.minimize(minus_loglik, [3.0, -2.0], args=(ratio,), method="Nelder-Mead", options=patient).fun
            for ratio in (1e9, contrast.interval.low)
        )
        cut = 4 * math.log1p(stats.t.ppf(0.975, 2) ** 2 / 2)
        assert 2 * (at_limit - best) == pytest.approx(cut, rel=1e-5)
        assert contrast.p_value == pytest.approx(2 / 70)  # the exact test of scores
        assert contrast.equivalence["alike"] is False

    def test_a_limit_of_a_few_that_never_failed_is_not_judged(self, ends: Make) -> None:
        """The limit lends them the scatter of the others; where theirs is larger, many trials would alarm."""
        tight = [20, 22, 19, 25, 21, 23, 20.5, 22.5]
        contrast = one(compare(ends({"a": [(40, "withdrawn")] * 3, "b": tight}), END))
        assert contrast.interval.low > 1
        assert contrast.verdict is None
        assert "a never failed and is the smaller side" in contrast.why_missing
        assert contrast.p_method == "of the interval's method"
        judged = one(compare(ends({"a": [(40, "withdrawn")] * 9, "b": tight}), END))
        assert (judged.verdict, judged.better) == ("different", "a")

    def test_one_failure_bounds_nothing(self, ends: Make) -> None:
        lives = {"a": [(40, "withdrawn")] * 4, "b": [20, (22, "withdrawn"), (19, "withdrawn")]}
        contrast = one(compare(ends(lives), END))
        assert contrast.verdict is None
        assert contrast.interval.unbounded == "both"

    def test_no_failure_at_all(self, ends: Make) -> None:
        contrast = one(compare(ends({"a": [(40, "withdrawn")] * 3, "b": [(30, "broken")] * 3}), END))
        assert contrast.verdict is None
        assert "0 failures" in contrast.why_missing

    def test_lives_that_do_not_scatter(self, ends: Make) -> None:
        for lives in ({"a": [10] * 3, "b": [20] * 3}, {"a": [10] * 3, "b": [10] * 3}):
            contrast = one(compare(ends(lives), END))
            assert contrast.verdict is None
            assert contrast.why_missing
            assert contrast.interval.unbounded == "both"

    def test_rates_that_do_not_rise_have_a_difference_and_no_ratio(self, slopes: Make) -> None:
        contrast = one(compare(slopes({"a": [0.01, 0.011, 0.0], "b": [0.02, 0.021, 0.019]}), NEVER), "rate")
        assert contrast.scale == "difference"
        other = stats.ttest_ind([0.01, 0.011, 0.0], [0.02, 0.021, 0.019], equal_var=False)
        interval = other.confidence_interval(0.95)
        assert contrast.estimate == pytest.approx(-0.013, rel=1e-6)
        assert limits(contrast) == pytest.approx((interval.low, interval.high), rel=1e-6)
        assert contrast.verdict is None
        assert "no margin to judge the difference by" in contrast.why_missing
        assert contrast.better == "a"

    def test_one_cutter_whose_wear_did_not_rise(self, slopes: Make) -> None:
        contrast = one(compare(slopes({"a": [-0.001], "b": [0.02, 0.021]}), NEVER), "rate")
        assert (contrast.scale, contrast.verdict) == ("difference", None)
        assert contrast.estimate == pytest.approx(-0.0215, rel=1e-6)


LIVES = ratio_lives(30, 60, 0.1, 4)


class TestFairness:
    @pytest.mark.parametrize("column", ["block", "bar", "day", "machine", "cutter_batch"])
    def test_a_practice_wholly_inside_one_level_is_refused(self, ends: Make, column: str) -> None:
        found = compare(ends(LIVES, **{column: {"a": "1", "b": ["2", "2", "3", "3"]}}), END)
        contrast = one(found)
        assert contrast.verdict is None
        assert contrast.why_missing == f"all of a was cut with {column} 1, and none of b: they cannot be told apart"
        assert contrast.estimate == pytest.approx(0.5, rel=1e-6)  # described all the same
        assert found.fair["a", "b"].confounded

    def test_shared_levels_are_no_confounding(self, ends: Make) -> None:
        contrast = one(compare(ends(LIVES, bar={"a": "1", "b": ["1", "2", "2", "2"]}), END))
        assert contrast.verdict == "different"

    def test_what_is_compared_is_not_held_against_itself(self, ends: Make) -> None:
        trial = ends(LIVES, by="machine")
        assert one(compare(trial, END, by="machine")).verdict == "different"

    def test_holder_and_order_raise_doubts_only(self, ends: Make) -> None:
        trial = ends(LIVES, holder={"a": "H1", "b": "H2"}, run_order={"a": [1, 2, 3, 4], "b": [5, 6, 7, 8]})
        contrast = one(compare(trial, END))
        assert contrast.verdict == "different"
        assert any("holder" in note for note in contrast.notes)
        assert any("all of a ran before any of b" in note for note in contrast.notes)

    def test_an_order_that_was_mixed_raises_none(self, ends: Make) -> None:
        contrast = one(compare(ends(LIVES, run_order={"a": [1, 4, 5, 8], "b": [2, 3, 6, 7]}), END))
        assert not any("ran before" in note for note in contrast.notes)


class TestCommonGround:
    def test_cutters_at_conditions_of_one_group_only_are_left_out_and_named(self, ends: Make) -> None:
        lives = {"a": [30, 31, 29, 10], "b": [60, 62, 58]}
        found = compare(ends(lives, cutting_speed_m_min={"a": [70, 70, 70, 100], "b": 70}), END)
        contrast = one(found)
        assert (contrast.n_a, contrast.n_b) == (3, 3)
        assert any("a 4" in note and "cutting_speed_m_min 100" in note for note in contrast.notes)
        only_70 = one(compare(ends({"a": [30, 31, 29], "b": [60, 62, 58]}), END))
        assert contrast.estimate == pytest.approx(only_70.estimate, rel=1e-9)
        assert found.groups.set_index("group").loc["a", "estimate"] == pytest.approx(stats.gmean([30, 31, 29]))

    def test_a_speed_worked_out_with_rounding_is_the_same_speed(self, ends: Make) -> None:
        speeds = {"a": [70, 70.007, 70, 70.007], "b": [70, 70, 70.007, 70]}
        contrast = one(compare(ends(LIVES, cutting_speed_m_min=speeds), END))
        assert (contrast.n_a, contrast.n_b) == (4, 4)
        assert contrast.notes == ()
        contrast = one(compare(ends(LIVES, cutting_speed_m_min={"a": 70, "b": 70.007}), END))
        assert contrast.notes == ()

    def test_what_differs_throughout_is_said(self, ends: Make) -> None:
        contrast = one(compare(ends(LIVES, coating={"a": "TiN", "b": "none"}), END))
        assert contrast.notes == ("coating differs throughout: TiN against none",)
        assert contrast.verdict == "different"

    def test_a_factor_allowed_for_leaves_nobody_out(self, ends: Make) -> None:
        lives = {"a": [30, 31, 29, 10], "b": [60, 62, 58, 55]}
        trial = ends(lives, cutting_speed_m_min={"a": [70, 70, 70, 100], "b": [70, 72, 69, 70]})
        contrast = one(compare(trial, END, adjust=["cutting_speed"]))
        assert (contrast.n_a, contrast.n_b) == (4, 4)
        X = np.column_stack([np.ones(8), np.log([70, 70, 70, 100, 70, 72, 69, 70]), [1] * 4 + [0] * 4])
        other = OLS(np.log([*lives["a"], *lives["b"]]), X).fit()
        assert math.log(contrast.estimate) == pytest.approx(other.params[2], rel=1e-8)
        assert np.log(limits(contrast)) == pytest.approx(other.conf_int()[2], rel=1e-7)

    def test_only_some_cutters(self, ends: Make) -> None:
        trial = ends(LIVES | {"c": [50, 55, 60]}, coating={"a": "TiN", "b": "TiN", "c": "none"})
        assert {c.a for c in compare(trial, END, choose=["coating=TiN"]).contrasts} == {"a"}
        with pytest.raises(ArgumentError, match="no cutter with coating 'TiAlN'; allowed: TiN, none"):
            compare(trial, END, choose=["coating=TiAlN"])


class TestSeveralGroups:
    GROUPS = ratio_lives(30, 60, 0.1, 8) | {"c": ratio_lives(45, 45, 0.1, 8)["a"]}

    def test_all_pairs_in_natural_order(self, ends: Make) -> None:
        found = compare(ends({"E10": [10, 11, 12], "E2": [20, 21, 22], "E1": [30, 31, 32]}), END)
        assert [(c.a, c.b) for c in found.contrasts] == [("E1", "E2"), ("E1", "E10"), ("E2", "E10")]

    def test_intervals_are_widened_and_p_corrected(self, ends: Make) -> None:
        """Eight a side: each pair by its own scatter, the studentised range of scipy for three means."""
        found = compare(ends(self.GROUPS), END)
        logs = {name: np.log(lives) for name, lives in self.GROUPS.items()}
        q = stats.studentized_range.ppf(0.95, 3, 14)
        for contrast in found.contrasts:
            pair = logs[contrast.a], logs[contrast.b]
            gap = pair[0].mean() - pair[1].mean()
            se = np.sqrt(np.mean([x.var(ddof=1) for x in pair]) * 2 / 8)
            assert np.log(limits(contrast)) == pytest.approx((gap - q / 2**0.5 * se, gap + q / 2**0.5 * se), rel=1e-6)
            p = stats.studentized_range.sf(abs(gap) / se * 2**0.5, 3, 14)
            assert contrast.p_value == pytest.approx(p, rel=1e-6, abs=1e-12)
            assert contrast.p_method == "of the interval's method, Games-Howell"
            assert contrast.p_exact <= 0.05
        (family,) = found.families
        assert (family.method, family.contrasts, family.groups, family.not_held) == ("games_howell", 3, 3, ())

    def test_a_pair_with_a_fit_of_its_own_takes_the_family_with_it(
        self, slopes: Make, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Four a side, so one scatter for all groups, but one pair is refused by that fit: no pair is after Tukey."""
        whole = Together.ratio

        def ratio(self: Together, a: str, b: str, level: float, inner: float, own: Ratio) -> Ratio:
            if (a, b) == ("b", "c"):
                raise Refusal("too little is known of it")
            return whole(self, a, b, level, inner, own)

        rates = {"a": [0.010, 0.011, 0.012, 0.0105], "b": [0.02, 0.023, 0.021, 0.026], "c": [0.03, 0.031, 0.035, 0.04]}
        (before,) = [one for one in compare(slopes(rates), NEVER).families if one.outcome == "rate"]
        monkeypatch.setattr(Together, "ratio", ratio)
        for standard, method in (("", "games_howell"), ("c", "holm")):
            made = compare(slopes(rates), NEVER, standard=standard)
            found = [c for c in made.contrasts if c.outcome == "rate"]
            assert [one.method for one in made.families if one.outcome == "rate"] == [method]
            assert not any("all groups" in c.method for c in found)
        assert before.method == "tukey"
        logs = {name: np.log(own) for name, own in rates.items()}
        raw = [float(stats.ttest_ind(logs[c.a], logs[c.b], equal_var=False).pvalue) for c in found]
        assert [c.p_value for c in found] == pytest.approx(multipletests(raw, method="holm")[1], rel=1e-5)

    @pytest.mark.parametrize("seed", range(12))
    @pytest.mark.parametrize("standard", ["", "b"])
    def test_interval_and_p_agree_at_the_edge(self, slopes: Make, seed: int, standard: str) -> None:
        rng = np.random.default_rng(seed)
        sizes = rng.integers(3, 7, 4) if seed % 2 else np.full(4, 4)
        rates = {n: np.exp(rng.normal(-4 + 0.2 * at, 0.2, k)).round(6).tolist() for at, (n, k) in
                 enumerate(zip("abcd", sizes, strict=True))}  # fmt: skip
        for contrast in compare(slopes(rates), NEVER, standard=standard).contrasts:
            if contrast.outcome == "rate":
                assert (contrast.p_value < 0.05) == (not contrast.interval.contains(1.0))
                inside = contrast.equivalence["alike"]
                assert inside == (contrast.equivalence["p_value"] < 0.05)

    def test_a_pair_that_has_no_answer_leaves_the_others_theirs(self, ends: Make) -> None:
        # Speed was never varied in a and b; allowing for it there is refused, beside c it is not.
        speeds = {"a": 70, "b": 70, "c": [70, 80, 90, 100] * 2}
        made = compare(ends(self.GROUPS, cutting_speed_m_min=speeds), END, adjust=["cutting_speed"])
        found = {(c.a, c.b): c for c in made.contrasts}
        assert found["a", "b"].verdict is None
        assert "cutting_speed_m_min never varied" in found["a", "b"].why_missing
        assert found["a", "c"].verdict == "different"

    def test_what_could_have_been_shown_is_that_of_one_of_three(self, ends: Make) -> None:
        contrast = compare(ends(self.GROUPS), END).contrasts[0]
        each = 2 * stats.t.sf(stats.studentized_range.ppf(0.95, 3, 14) / 2**0.5, 14)
        assert contrast.smallest_detectable == pytest.approx(smallest_ratio(contrast.sigma, 8, 8, 1 - each))

    def test_a_standard_that_is_no_group(self, ends: Make) -> None:
        trial = ends(self.GROUPS)
        with pytest.raises(ArgumentError, match="no group 'd'; allowed: a, b, c"):
            compare(trial, END, standard="d")


class TestExactTests:
    @pytest.mark.parametrize("seed", range(6))
    @pytest.mark.parametrize("sizes", [(3, 3), (4, 4), (3, 6), (5, 5)])
    def test_rates_as_scipy_lists_them(self, slopes: Make, seed: int, sizes: tuple[int, int]) -> None:
        """scipy doubles the smaller tail; by size is counted here from scipy's own null distribution."""
        rng = np.random.default_rng(seed)
        groups = {n: np.exp(rng.normal(-4, 0.3, size)).round(6).tolist() for n, size in zip("ab", sizes, strict=True)}
        logs = [np.log(rates) for rates in groups.values()]

        def gap(a: np.ndarray, b: np.ndarray, axis: int = -1) -> Any:
            return np.mean(a, axis=axis) - np.mean(b, axis=axis)

        other = stats.permutation_test(logs, gap, n_resamples=np.inf, vectorized=True)
        share = np.mean(np.abs(other.null_distribution) >= abs(other.statistic) * (1 - 1e-9))
        contrast = one(compare(slopes(groups), NEVER), "rate")
        assert contrast.p_exact == pytest.approx(share, abs=1e-9)
        if contrast.smallest_p <= 0.05 and sizes[0] == sizes[1]:
            assert contrast.p_value == contrast.p_exact
        else:  # shuffling sides that differ in number takes them to scatter alike
            assert contrast.p_method == "of the interval's method"
            if sizes[0] == sizes[1]:
                assert contrast.p_value == pytest.approx(stats.ttest_ind(*logs, equal_var=False).pvalue, rel=1e-4)


class TestRecord:
    def test_the_demonstration_agrees_with_its_truth(self, sample: Sample) -> None:
        """The truth behind the simulated trial: life ratio 2.75 side to layered, rates the other way."""
        found = compare(sample("shoulder_demo"), parse_criterion("lower:VB.mean=0.2mm"))
        life, rate = one(found, "life"), one(found, "rate")
        assert (life.a, life.b) == ("side", "layered")
        for contrast, truth in ((life, 2.75), (rate, 1 / 2.75)):
            assert contrast.interval.low < truth < contrast.interval.high
            assert contrast.verdict == "different"
            assert contrast.better == "side"
        json.dumps(found.to_dict(), allow_nan=False)
        assert len(found.to_frame()) == len(found.contrasts)

    @pytest.mark.parametrize(
        ("more", "match"),
        [({"margin": 1.0}, "a ratio above 1"), ({"margin": 0.8}, "a ratio above 1"),
         ({"level": 95}, "confidence level"),
         ({"outcomes": ["wear"]}, "outcome 'wear'")],
    )  # fmt: skip
    def test_bad_arguments(self, ends: Make, more: dict[str, Any], match: str) -> None:
        with pytest.raises(ArgumentError, match=match):
            compare(ends(LIVES), END, **more)

    @pytest.mark.parametrize(
        ("groups", "by", "match"),
        [({"a": [1.0, 2.0]}, "strategy", "one strategy only: a"), (LIVES, "coating", "coating is not recorded")],
    )
    def test_nothing_to_compare(self, ends: Make, groups: dict[str, list[float]], by: str, match: str) -> None:
        with pytest.raises(Refusal, match=match):
            compare(ends(groups), END, by=by)

    def test_rates_only_where_lands_were_read(self, ends: Make) -> None:
        with pytest.raises(Refusal, match="fewer than two groups hold a life or a rate"):
            compare(ends(LIVES), END, outcomes=["rate"])

    def test_blank_groups_are_left_out_by_name(self, ends: Make) -> None:
        coating = {"a": ["TiN", "TiN", "none", ""], "b": ["TiN", "none", "none", ""]}
        found = compare(ends(LIVES, coating=coating), END, by="coating")
        assert ("a 4", "no coating") in found.left_out
        assert ("b 4", "no coating") in found.left_out

    @pytest.mark.parametrize("unit", [1e-6, 60.0, 1e6])
    def test_another_unit_of_the_clock_changes_no_ratio(self, sample: Sample, unit: float) -> None:
        trial = sample("nasa_milling")
        criterion = parse_criterion("VB=0.3mm")
        other = replace(
            trial,
            wear=trial.wear.assign(cutting_time_min=trial.wear["cutting_time_min"] * unit),
            runs=trial.runs.assign(cutting_time_min=trial.runs["cutting_time_min"] * unit),
        )
        for first, second in zip(
            compare(trial, criterion, by="work_material").contrasts,
            compare(other, criterion, by="work_material").contrasts,
            strict=True,
        ):
            assert second.estimate == pytest.approx(first.estimate, rel=1e-9)
            assert limits(second) == pytest.approx(limits(first), rel=1e-6)
            assert (second.verdict, second.p_value) == (first.verdict, pytest.approx(first.p_value))


def test_lives_enter_with_what_is_known_of_them(ends: Make) -> None:
    """A cutter taken out still good counts as at least that long: against the likelihood itself, maximised by scipy."""
    lives: dict[str, list[Any]] = {"a": [20, 25, (30, "withdrawn"), 22, 24], "b": [40, (35, "broken"), 50, 44, 47]}
    contrast = one(compare(ends(lives), END))
    pairs = [(life, group == "a") for group in lives for life in lives[group]]
    flat = [(life if isinstance(life, tuple) else (life, "worn"), member) for life, member in pairs]
    y = np.log([time for (time, _), _ in flat])
    ended = np.array([reason == "worn" for (_, reason), _ in flat])
    in_a = np.array([member for _, member in flat], dtype=float)

    def minus_loglik(theta: np.ndarray) -> float:
        sigma = math.exp(theta[2])
        z = (y - theta[0] - theta[1] * in_a) / sigma
        return -float(np.sum(np.where(ended, stats.norm.logpdf(z) - math.log(sigma), stats.norm.logsf(z))))

    patient = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 9000}
    best = optimize.minimize(minus_loglik, [3.5, -0.5, -1.5], method="Nelder-Mead", options=patient)
    assert math.log(contrast.estimate) == pytest.approx(best.x[1], abs=1e-5)
    assert contrast.n_a + contrast.n_b == len(flat)
