"""How many cutters: closed forms against statsmodels, published sizes and simulation."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.plan.by_simulation import life_power, rate_power
from wearlab.plan.chances import NO_VERDICT, Precision, detectable, verdict_chances
from wearlab.plan.layout import Layout, chances, precision, precision_left
from wearlab.plan.request import Request
from wearlab.plan.scatter import cv_of_sigma, sigma_of_cv
from wearlab.plan.sizes import (
    contrasts_of,
    cutters_for,
    power_rows,
    repeats_for_half_width,
    repeats_for_standard_error,
)
from wearlab.stats.detectable import cutters_needed, equivalence_power, t_power
from wearlab.stats.equivalence import Margin, verdict
from wearlab.stats.two_groups import student

MARGIN = math.log(1.25)

# Cutters a practice for 80 % power, two-sided 5 %, t test on ln life; worked out beforehand by another route
# (noncentral t, sigma = sqrt(ln(1 + cv^2))).
CUTTERS = {
    0.15: {3.0: 2, 2.0: 3, 1.5: 4, 1.3: 7, 1.2: 12},
    0.25: {3.0: 3, 2.0: 4, 1.5: 7, 1.3: 15, 1.2: 30},
    0.35: {3.0: 3, 2.0: 5, 1.5: 13, 1.3: 28, 1.2: 56},
    0.45: {3.0: 4, 2.0: 8, 1.5: 19, 1.3: 44, 1.2: 89},
}


class TestPublished:
    def test_cohen_sizes(self) -> None:
        """J. Cohen, Statistical Power Analysis (1988), from memory: 64, 26 and 393 a group for d = 0.5, 0.8, 0.2; the
        last is 393.4 unrounded, so that 394 are needed."""
        found = [cutters_needed(1.0, math.exp(d)) for d in (0.5, 0.8, 0.2)]
        assert found == [64, 26, 394]

    def test_a_mean_with_known_scatter(self) -> None:
        """NIST/SEMATECH e-Handbook 7.2.2.2: N >= (1.96 sigma / delta)^2."""
        for sigma, delta in ((1.0, 0.5), (0.3, 0.08), (2.0, 0.1)):
            found = repeats_for_half_width(sigma, delta, student=False)
            assert found.exact == pytest.approx((1.959964 * sigma / delta) ** 2, rel=1e-6)
            assert found.repeats == math.ceil(found.exact)

    def test_machinerys_handbook_and_what_it_does_not_say(self) -> None:
        """Machinery's Handbook, 31st edition, p. 139: V = 30 %, R = 8 % gives 14; R is a standard error. As the
        half-width of a 95 % interval 8 % takes 55 (normal) or 57 (Student)."""
        found = repeats_for_standard_error(0.30, 0.08)
        assert round(found.exact) == 14
        assert found.repeats == 15
        assert repeats_for_half_width(0.30, 0.08, student=False).repeats == 55
        assert repeats_for_half_width(0.30, 0.08).repeats == 57

    def test_fifty_seven_is_the_smallest(self) -> None:
        from scipy.stats import t

        widths = {n: t.ppf(0.975, n - 1) * 0.30 / math.sqrt(n) for n in (56, 57)}
        assert widths[57] <= 0.08 < widths[56]

    @pytest.mark.parametrize("cv", CUTTERS)
    def test_table_of_cutters_by_scatter_and_ratio(self, cv: float) -> None:
        for ratio, cutters in CUTTERS[cv].items():
            assert cutters_needed(sigma_of_cv(cv), ratio) == cutters


class TestAgainstStatsmodels:
    @pytest.mark.parametrize("cutters", [3, 4, 6, 12, 30])
    @pytest.mark.parametrize("ratio", [1.0, 1.2, 1.5, 3.0])
    def test_two_samples(self, cutters: int, ratio: float) -> None:
        from statsmodels.stats.power import TTestIndPower

        layout = Layout(cutters, 0.34)
        expected = TTestIndPower().power(math.log(ratio) / 0.34, cutters, 0.05)
        assert chances(layout, math.log(ratio), MARGIN).shown == pytest.approx(expected, abs=2e-9)

    @pytest.mark.parametrize("blocks", [5, 6, 10])
    @pytest.mark.parametrize("rho", [0.0, 0.3, 0.8])
    def test_within_blocks(self, blocks: int, rho: float) -> None:
        from statsmodels.stats.power import TTestPower

        effect = math.log(1.5) / (0.34 * math.sqrt(2 * (1 - rho)))
        found = chances(Layout(blocks, 0.34, rho, blocks), math.log(1.5), MARGIN).shown
        assert found == pytest.approx(TTestPower().power(effect, blocks, 0.05), abs=2e-9)

    @pytest.mark.parametrize("power", [0.5, 0.8, 0.95])
    def test_smallest_detectable(self, power: float) -> None:
        from statsmodels.stats.power import TTestIndPower

        distance = detectable(precision(Layout(6, 0.34)), power)
        assert TTestIndPower().power(distance / 0.34, 6, 0.05) == pytest.approx(power, abs=1e-8)

    def test_bonferroni_is_another_level(self) -> None:
        found = verdict_chances(Precision(0.2, 10), 0.6, 0.2, 0.95, pairs=3).shown
        assert found == pytest.approx(
            verdict_chances(Precision(0.2, 10), 0.6, 0.2, 1 - 0.05 / 3).shown, abs=1e-12
        )


class TestVerdicts:
    @pytest.mark.parametrize(
        ("n", "sigma", "ratio"), [(5, 0.1, 1.15), (9, 0.15, 1.0), (6, 0.3, 1.5), (3, 0.34, 3.0)]
    )
    def test_chance_of_each_verdict_as_often_as_it_is_given(self, n: int, sigma: float, ratio: float) -> None:
        """4,000 simulated trials, judged by the same function that judges real ones."""
        rng, runs = np.random.default_rng(3), 4000
        a, b = rng.standard_normal((2, runs, n)) * sigma
        given = dict.fromkeys(NO_VERDICT.to_dict(), 0)
        for one, two in zip(a + math.log(ratio), b, strict=True):
            sample = student(one, two)
            given[verdict(sample.interval(0.95).exp(), sample.interval(0.90).exp(), Margin.ratio(1.25))] += 1
        promised = chances(Layout(n, sigma), math.log(ratio), MARGIN).to_dict()
        for word, count in given.items():
            error = math.sqrt(max(promised[word] * (1 - promised[word]), 1 / runs) / runs)
            assert abs(count / runs - promised[word]) < 4 * error, word

    def test_alike_is_the_power_of_two_one_sided_tests(self) -> None:
        for n, sigma, ratio in ((9, 0.15, 1.0), (5, 0.25, 1.1), (30, 0.34, 1.0)):
            found = chances(Layout(n, sigma), math.log(ratio), MARGIN)
            expected = equivalence_power(sigma, n, n, 1.25, ratio)
            assert found.alike + found.small_but_real == pytest.approx(expected, abs=1e-9)

    def test_chances_add_up(self) -> None:
        for layout in (
            Layout(4, 0.2),
            Layout(6, 0.34, 0.3, 6),
            Layout(4, 0.34, 0.5, 4),
            Layout(6, 0.34, drop_out=0.2),
        ):
            assert sum(chances(layout, 0.2, MARGIN).to_dict().values()) == pytest.approx(1.0, abs=1e-12)

    def test_below_three_a_side_there_is_no_verdict(self) -> None:
        assert chances(Layout(2, 0.1), math.log(3), MARGIN) == NO_VERDICT
        assert precision_left(Layout(6, 0.34), 0, 2, 6) is None
        assert math.isinf(detectable(Precision(0.1, 0)))


class TestBlocks:
    def test_correlation_is_worth_cutters(self) -> None:
        """With many blocks the number needed goes as 1 - rho."""
        needed = {}
        for rho in (0.0, 0.5):
            needed[rho] = next(
                n
                for n in range(90, 300)
                if chances(Layout(n, 0.34, rho, n), math.log(1.1), MARGIN).shown >= 0.8
            )
        assert needed[0.5] == pytest.approx(0.5 * needed[0.0], rel=0.01)

    def test_a_block_effect_that_is_left_in_costs_power_and_no_false_alarm(self) -> None:
        """Four blocks are too few for the life regression to take them out."""
        left_in = Layout(4, 0.34, 0.5, 4)
        assert not left_in.within
        assert Layout(5, 0.34, 0.5, 5).within
        assert Layout(4, 0.34, 0.5, 4, "rate").within
        assert chances(left_in, 0.0, MARGIN).shown < 0.02
        assert chances(left_in, math.log(2), MARGIN).shown > t_power(0.34, 2, 4, 4)

    def test_lost_cutters(self) -> None:
        """Every number of survivors by hand: three a side, one in two lost; only 3 v 3 gives a verdict."""
        alone = chances(Layout(3, 0.2), math.log(3), MARGIN).shown
        assert chances(Layout(3, 0.2, drop_out=0.5), math.log(3), MARGIN).shown == pytest.approx(
            alone / 64, rel=1e-9
        )

    @pytest.mark.parametrize("bad", [(0, 0.3), (3, 0.0), (3, 0.3, 1.0), (3, 0.3, 0.0, 0, "life", 1.0)])
    def test_no_layout(self, bad: tuple) -> None:
        with pytest.raises(ArgumentError, match="layout"):
            Layout(*bad)


class TestBySimulation:
    """Closed form within Monte-Carlo error (4 standard errors) where it is exact, and below it where
    cautious."""

    @pytest.mark.parametrize(
        ("layout", "ratio"),
        [
            (Layout(8, 0.25), 1.4),
            (Layout(4, 0.34, 0.5, 4), 2.0),
            (Layout(6, 0.34, 0.3, 6), 1.6),
            (Layout(5, 0.3, 0.6, 5), 1.0),
        ],
    )
    def test_lives(self, layout: Layout, ratio: float) -> None:
        found = life_power(layout, ratio, runs=4000, rng=11)
        expected = chances(layout, math.log(ratio), MARGIN).shown
        assert abs(found.shown - expected) < 4 * found.std_error

    @pytest.mark.parametrize(
        ("layout", "ratio"), [(Layout(6, 0.2, 0.4, 6, "rate"), 1.3), (Layout(3, 0.2, 0.4, 3, "rate"), 2.0)]
    )
    def test_rates_within_blocks(self, layout: Layout, ratio: float) -> None:
        found = rate_power(layout, ratio, runs=40_000, rng=12)
        assert abs(found.shown - chances(layout, math.log(ratio), MARGIN).shown) < 4 * found.std_error

    def test_welch_costs_a_little_with_few_cutters(self) -> None:
        """Shortfall of Welch against Student at 4 and 8 a side: about 0.05 and 0.01 (found beforehand)."""
        for n, least, most in ((4, 0.02, 0.08), (8, -0.005, 0.02)):
            student_power = t_power(0.15, 1.3, n, n)
            found = rate_power(Layout(n, 0.15, outcome="rate"), 1.3, runs=40_000, rng=13).shown
            assert least < student_power - found < most

    def test_a_withdrawn_cutter_still_tells_something(self) -> None:
        layout = Layout(6, 0.34, drop_out=0.15)
        found = life_power(layout, 2.0, runs=4000, rng=14)
        assert found.shown > chances(layout, math.log(2), MARGIN).shown - 2 * found.std_error

    def test_a_block_of_withdrawn_cutters_costs_no_verdict(self) -> None:
        """Thirty blocks, five cutters in a hundred lost: in 7 of 100 trials some block has no life that ended."""
        found = life_power(Layout(30, 0.34, 0.3, shared=30, drop_out=0.05), 2.0, runs=200, rng=5)
        assert found.not_estimable == 0
        assert found.shown == 1.0

    def test_looks_that_only_say_good_or_past(self) -> None:
        """Five looks a life cost little; false alarms stay at 5 %."""
        layout = Layout(5, 0.25)
        seldom, often = (life_power(layout, 1.6, looks_per_life=k, runs=800, rng=15).shown for k in (3, 10))
        assert seldom < often
        null = life_power(layout, 1.0, looks_per_life=5, runs=1500, rng=16)
        assert null.shown < 0.05 + 3 * null.std_error

    def test_same_seed_same_answer(self) -> None:
        assert life_power(Layout(4, 0.3), 2.0, runs=200, rng=5) == life_power(
            Layout(4, 0.3), 2.0, runs=200, rng=5
        )

    def test_bad_arguments(self) -> None:
        with pytest.raises(ArgumentError, match="withdrawn 1"):
            life_power(Layout(4, 0.3), 2.0, withdrawn=1.0)


class TestRequest:
    def test_the_size_that_the_ratio_takes(self, request_with: Callable[..., Request]) -> None:
        """35 %, ratio 1.5, no blocks, nothing lost: 13, as in the table."""
        request = request_with(
            size={"ratio": 1.5}, scatter={"correlation": 0.0, "drop_out": 0.0}, blocks={"use": False}
        )
        assert cutters_for(request) == 13
        assert [row.power >= 0.8 for row in power_rows(request, [12, 13]) if row.outcome == "life"] == [
            False,
            True,
        ]

    def test_out_of_reach_names_what_is_in_reach(self, request_with: Callable[..., Request]) -> None:
        request = request_with(size={"ratio": 1.05, "most": 12})
        with pytest.raises(
            Refusal, match=r"12 cutters a practice find a ratio of 1.05.*a ratio of 1.4\d or more"
        ):
            cutters_for(request)

    def test_more_practices_share_the_error(self, request_with: Callable[..., Request]) -> None:
        request = request_with()
        third = request.practices[1].__class__("ramp", "ramp", {}, 40.0)
        assert contrasts_of(request_with(practices=(*request.practices, third))) == 2
        assert contrasts_of(request_with(practices=(*request.practices, third), standard="")) == 3

    def test_walls_need_the_shops_own_scatter(self, request_with: Callable[..., Request]) -> None:
        rows = power_rows(request_with(size={"wall_um": 10.0, "wall_sd_um": 8.0}), [6])
        wall = next(row for row in rows if row.outcome == "wall")
        assert wall.truth == 10.0
        assert 8 < wall.detectable < 16
        assert "differences" in wall.method
        assert "wall" not in [row.outcome for row in power_rows(request_with(), [6])]

    def test_scatter_and_its_inverse(self) -> None:
        assert sigma_of_cv(0.35) == pytest.approx(math.sqrt(math.log(1.1225)))
        assert cv_of_sigma(sigma_of_cv(0.8)) == pytest.approx(0.8)
        with pytest.raises(ArgumentError, match="coefficient of variation 0"):
            sigma_of_cv(0.0)
