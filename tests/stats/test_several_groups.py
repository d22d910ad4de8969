from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.holm import holm
from wearlab.stats.one_way import nested_f, one_way
from wearlab.stats.several_blocked import adjusted_contrasts
from wearlab.stats.several_groups import against_standard, all_pairs, choose
from wearlab.stats.simultaneous import (
    dunnett_quantile,
    dunnett_sf,
    normal_range_sf,
    studentised_range_quantile,
    studentised_range_sf,
)
from wearlab.stats.two_groups import welch

UNEQUAL = {
    "std": np.log([3.3, 3.65, 3.02, 3.48]),
    "x": np.log([2.35, 2.61, 2.48]),
    "y": np.log([3.12, 2.88, 3.41, 3.22, 3.0]),
}


class TestDistributions:
    @pytest.mark.parametrize(
        "q, k, df", [(1.5, 3, 2), (3.96, 4, 20), (8, 4, 12), (6, 6, 3.7), (5, 10, 200), (30, 3, 2.0)]
    )
    def test_studentised_range_against_scipy(self, q, k, df):
        from scipy.stats import studentized_range

        assert studentised_range_sf(q, k, df) == pytest.approx(studentized_range.sf(q, k, df), rel=1e-9)

    def test_two_means_are_a_t_test(self):
        from scipy.stats import t

        for df in (1, 1.5, 2.5, 40):
            assert studentised_range_sf(3.0 * math.sqrt(2), 2, df) == pytest.approx(
                2 * t.sf(3.0, df), rel=1e-9
            )
            assert dunnett_sf(3.0, [0.6], df) == pytest.approx(2 * t.sf(3.0, df), rel=1e-9)

    def test_quantiles_turn_probabilities_round(self):
        assert studentised_range_sf(studentised_range_quantile(0.9, 5, 7), 5, 7) == pytest.approx(
            0.1, rel=1e-10
        )
        assert dunnett_sf(dunnett_quantile(0.99, [0.5, 0.7], 9), [0.5, 0.7], 9) == pytest.approx(
            0.01, rel=1e-9
        )

    def test_dunnett_by_simulation(self):
        rng = np.random.default_rng(2)
        shared = np.array([0.4, 0.7, 0.8])
        z = shared * rng.standard_normal((400_000, 1))
        z += np.sqrt(1 - shared**2) * rng.standard_normal((400_000, 3))
        scatter = np.sqrt(rng.chisquare(6, 400_000) / 6)
        share = np.mean(np.abs(z).max(axis=1) / scatter > 2.5)
        assert dunnett_sf(2.5, shared, 6) == pytest.approx(share, abs=4 * math.sqrt(share / 400_000))

    def test_edges(self):
        assert studentised_range_sf(0.0, 3, 5) == dunnett_sf(0.0, [0.5], 5) == 1.0
        assert normal_range_sf(0.0, 3) == pytest.approx(1.0)
        with pytest.raises(ArgumentError, match="1 means"):
            studentised_range_sf(2.0, 1, 5)
        with pytest.raises(ArgumentError, match="loadings"):
            dunnett_sf(2.0, [1.0], 5)


class TestFamilies:
    def test_tukey_of_unequal_sizes_against_r(self):
        """R 4.2.2 TukeyHSD (ptukey is good to about 1e-8 here)."""
        found = all_pairs(UNEQUAL, "tukey").contrasts
        assert [one.p_value for one in found] == pytest.approx(
            [0.0006815379928, 0.3054738689064, 0.0032310425231], rel=2e-6
        )
        limits = found[0].interval()
        assert [-found[0].difference, -limits.high, -limits.low] == pytest.approx(
            [-0.30289332042, -0.44878444600, -0.15700219484], rel=1e-7
        )

    def test_dunnett_of_unequal_sizes_against_r(self):
        """R 4.2.2 multcomp 1.4-22 glht with abseps 1e-8; its quantile is good to three digits."""
        family = against_standard(UNEQUAL, "std", "dunnett")
        found = [one.p_value for one in family.contrasts]
        assert found == pytest.approx([0.0004889733721, 0.2510369744721], abs=2e-7)
        one = family.contrasts[0]
        assert (one.interval().high - one.difference) / one.se == pytest.approx(2.6164325, rel=1e-3)

    def test_games_howell_against_scipy(self):
        from scipy.stats import tukey_hsd

        theirs = tukey_hsd(*UNEQUAL.values(), equal_var=False)
        ci = theirs.confidence_interval(0.9)
        for one, (i, j) in zip(
            all_pairs(UNEQUAL, "games_howell").contrasts, ((0, 1), (0, 2), (1, 2)), strict=True
        ):
            limits = one.interval(0.9)
            assert one.p_value == pytest.approx(theirs.pvalue[i, j], rel=1e-8)
            assert (limits.low, limits.high) == pytest.approx((ci.low[i, j], ci.high[i, j]), rel=1e-7)

    def test_two_groups_are_welch(self):
        pair = {"a": UNEQUAL["x"], "b": UNEQUAL["y"]}
        (one,) = all_pairs(pair).contrasts
        plain = welch(pair["a"], pair["b"])
        assert (one.p_value, one.interval()) == (plain.p_value, one.interval())
        assert one.interval().low == pytest.approx(plain.interval().low, rel=1e-12)
        assert all_pairs(pair).method == "welch"

    def test_holm_intervals_are_bonferroni(self):
        (first, _) = against_standard(UNEQUAL, "std", "holm_welch").contrasts
        assert first.interval(0.95).low == pytest.approx(
            welch(UNEQUAL["x"], UNEQUAL["std"]).interval(0.975).low
        )

    @pytest.mark.parametrize(
        "sizes, pairs, standard",
        [
            ([4, 4, 4], "tukey", "dunnett"),
            ([3, 4, 2], "tukey", "dunnett"),
            ([5, 5, 5], "games_howell", "holm_welch"),
            ([3, 8, 3], "games_howell", "holm_welch"),
            ([3, 3], "welch", "welch"),
        ],
    )
    def test_the_sizes_choose(self, sizes, pairs, standard):
        assert (choose(sizes), choose(sizes, against_standard=True)) == (pairs, standard)

    def test_groups_of_one_are_left_out_and_named(self):
        family = all_pairs(UNEQUAL | {"lone": [1.0]})
        assert family.left_out == ("lone",)
        assert [(one.a, one.b) for one in family.contrasts] == [("std", "x"), ("std", "y"), ("x", "y")]

    def test_no_scatter_says_why(self):
        flat = {"a": [1.0, 1.0], "b": [2.0, 2.0], "c": [3.0, 3.0]}
        for method in ("tukey", "games_howell", "holm_welch"):
            family = all_pairs(flat, method)
            assert all("no scatter" in one.why_missing for one in family.contrasts)
            assert all(math.isnan(one.p_value) for one in family.contrasts)
            assert family.contrasts[0].interval().unbounded == "both"

    def test_natural_order(self):
        groups = {"E10": [1.0, 1.2], "E2": [1.1, 1.3], "E1": [0.9, 1.4]}
        assert [(one.a, one.b) for one in all_pairs(groups).contrasts] == [
            ("E1", "E2"),
            ("E1", "E10"),
            ("E2", "E10"),
        ]

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match=r"standard 'sdt'; allowed: std, x, y\. Did you mean std"):
            against_standard(UNEQUAL, "sdt")
        with pytest.raises(
            ArgumentError, match="method 'scheffe'; allowed: welch, tukey, games_howell, holm_welch"
        ):
            all_pairs(UNEQUAL, "scheffe")
        with pytest.raises(Refusal, match="1 groups with two values or more"):
            all_pairs({"a": [1.0, 2.0], "b": [1.0]})
        with pytest.raises(Refusal, match="std: one value only"):
            against_standard(UNEQUAL | {"std": [1.0]}, "std")
        with pytest.raises(ArgumentError, match="x: an empty group"):
            all_pairs({"x": [], "y": [1.0, 2.0]})

    @settings(max_examples=20, deadline=None)
    @given(st.integers(0, 10_000), st.sampled_from([1e-6, 1e6]))
    def test_units_order_and_reflection_change_nothing(self, seed, factor):
        rng = np.random.default_rng(seed)
        groups = {name: rng.normal(size=size) for name, size in (("a", 3), ("b", 4), ("c", 5))}
        for method in ("tukey", "games_howell"):
            base = all_pairs(groups, method).contrasts
            turned = all_pairs({name: -factor * one[::-1] for name, one in groups.items()}, method).contrasts
            for one, other in zip(base, turned, strict=True):
                assert other.p_value == pytest.approx(one.p_value, rel=1e-8, abs=1e-14)
                assert other.interval().low == pytest.approx(-factor * one.interval().high, rel=1e-8)


class TestAdjusted:
    Y = (4.433, 4.795, 4.54, 4.554, 4.825, 4.54, 4.932, 5.13, 4.522, 4.931, 5.005, 4.518)
    HARDNESS = np.array([[28.1, 29.4, 30.5, 27.7, 30.4, 30.1, 30.2, 32.2, 27.6, 32.5, 28.5, 27.7]]).T

    def test_blocks_and_a_covariate_against_r(self):
        """R 4.2.2 lm(y ~ group + block + hardness), p.adjust Holm."""
        family = adjusted_contrasts(self.Y, list("ABC") * 4, np.repeat([1, 2, 3, 4], 3), self.HARDNESS)
        ab, ac, bc = family.contrasts
        found = [-ab.difference, ab.se, -ac.difference, ac.se, -bc.difference, bc.se]
        assert found == pytest.approx(
            [0.1983990869, 0.05249414764, -0.1462938129, 0.05280575982, -0.344692899789, 0.054402620702],
            rel=1e-8,
        )
        assert [ab.p_value, ac.p_value, bc.p_value] == pytest.approx(
            [0.025794297625, 0.039346024767, 0.004334280013], rel=1e-8
        )
        against = adjusted_contrasts(self.Y, list("ABC") * 4, np.repeat([1, 2, 3, 4], 3), self.HARDNESS, "A")
        assert [(one.a, one.b) for one in against.contrasts] == [("B", "A"), ("C", "A")]

    def test_a_group_inside_a_block_is_refused_by_name(self):
        with pytest.raises(Refusal, match="block 2: repeats the columns before it"):
            adjusted_contrasts([1.0, 2.0, 3.0, 4.0], list("AABB"), [1, 1, 2, 2])

    def test_a_covariate_that_follows_the_group_is_refused(self):
        with pytest.raises(Refusal, match="covariate 1: repeats"):
            adjusted_contrasts([1.0, 2.1, 3.0, 4.2], list("AABB"), covariates=[[30.0], [30], [35], [35]])

    def test_too_few_degrees_of_freedom(self):
        family = adjusted_contrasts([1.0, 2.0, 3.0, 4.2], list("ABAB"), [1, 1, 2, 2])
        assert "too few" in family.contrasts[0].why_missing
        assert family.contrasts[0].interval().unbounded == "both"

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="group: 1 groups; allowed: 2"):
            adjusted_contrasts([1.0, 2.0], ["A"])
        with pytest.raises(Refusal, match="1 groups"):
            adjusted_contrasts([1.0, 2.0], ["A", "A"])
        with pytest.raises(ArgumentError, match="standard 'Z'; allowed: A, B"):
            adjusted_contrasts([1.0, 2.0, 3.0], ["A", "B", "A"], standard="Z")
        with pytest.raises(ArgumentError, match="block: 2 blocks; allowed: 3"):
            adjusted_contrasts([1.0, 2.0, 3.0], ["A", "B", "A"], [1, 2])


class TestHolmAndOneWay:
    def test_holm_against_statsmodels(self):
        from statsmodels.stats.multitest import multipletests

        p = np.random.default_rng(4).uniform(size=9) ** 2
        np.testing.assert_allclose(holm(p), multipletests(p, method="holm")[1], rtol=1e-13)

    def test_a_comparison_without_a_test_is_not_counted(self):
        found = holm([0.01, math.nan, 0.04])
        assert found[[0, 2]].tolist() == pytest.approx([0.02, 0.04])
        assert math.isnan(found[1])
        with pytest.raises(ArgumentError, match="p values"):
            holm([1.2])

    def test_one_way_against_scipy(self):
        from scipy.stats import f_oneway

        theirs = f_oneway(*UNEQUAL.values())
        mine = one_way(list(UNEQUAL.values()))
        assert (mine.f, mine.p_value) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-11)

    def test_where_there_is_no_f_it_says_why(self):
        assert "nothing to judge" in one_way([[1.0], [2.0]]).why_missing
        assert "no scatter" in one_way([[1.0, 1.0], [2.0, 2.0]]).why_missing
        assert math.isnan(one_way([[1.0, 1.0], [2.0, 2.0]]).p_value)
        with pytest.raises(Refusal, match="1 groups"):
            one_way([[1.0]])
        with pytest.raises(ArgumentError, match="group 2: an empty group"):
            one_way([[1.0], []])

    def test_models_must_be_nested(self):
        from wearlab.stats.line import fit_line

        fit = fit_line([[1, 0.0], [1, 1.0], [1, 2.0]], [1.0, 2.0, 2.5])
        with pytest.raises(ArgumentError, match="more coefficients in the larger"):
            nested_f(fit, fit)
