from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.censored import fit_lives
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.life_newton import derivatives
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives

DISTRIBUTIONS = ["lognormal", "weibull", "loglogistic"]
X9 = np.column_stack([np.ones(9), np.repeat(np.log([110.0, 140, 180]), 3)])
T9 = [60.0, 60, 52, 27, 22, 31, 9, 12, 10]
E9 = [0, 0, 1, 1, 1, 1, 1, 1, 1]


def test_141_fits_of_r_at_the_worst(stored):
    """R 4.2.2 survival 3.5-3 survreg, rel.tolerance 1e-15: tests/reference/make_life_fits.R."""
    rows, expected = stored("life_fits_input"), stored("life_fits_expected")
    names = ["b0", "b1", "b2", "scale", "loglik", "se0", "se1", "se2", "se_ln_scale"]
    worst = 0.0
    for k, name in enumerate(expected["distribution"]):
        mine = rows["set"] == expected["set"][k]
        X = np.column_stack([np.ones(mine.sum()), rows["x1"][mine], rows["x2"][mine]])
        fit = fit_lives(X, Lives(rows["lower"][mine], rows["upper"][mine]), name)
        found = [*fit.beta, fit.sigma, fit.loglik, *fit.standard_errors]
        theirs = np.array([expected[one][k] for one in names])
        worst = max(worst, float(np.max(np.abs(found - theirs) / np.maximum(np.abs(theirs), 1e-3))))
    assert len(expected["set"]) == 141
    # R stops at a change of 1e-15 in the log-likelihood, which leaves about 1e-7 in the standard errors.
    assert worst < 2e-7


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_the_gradient_vanishes(distribution):
    fit = fit_lives(X9, Lives.right_censored(T9, E9), distribution)
    _, gradient, hessian = derivatives(fit.setup.problem, fit.optimum.theta)
    np.testing.assert_allclose(gradient, 0.0, atol=1e-9)
    assert (np.linalg.eigvalsh(hessian[0]) < 0).all()


def test_complete_lognormal_lives_are_least_squares():
    rng = np.random.default_rng(2)
    y = X9 @ [22, -4] + 0.25 * rng.normal(size=9)
    lives, line = fit_lives(X9, Lives(np.exp(y), np.exp(y))), fit_line(X9, y)
    np.testing.assert_allclose(lives.beta, line.beta, rtol=1e-10)
    assert lives.sigma == pytest.approx(line.sigma * math.sqrt(7 / 9), rel=1e-11)
    for level in (0.5, 0.9, 0.99):
        mine, theirs = lives.interval([0, 1], level), line.interval([0, 1], level)
        assert (mine.low, mine.high) == pytest.approx((theirs.low, theirs.high), rel=1e-10)
    assert lives.p_value([0, 1], -3.5) == pytest.approx(line.p_value([0, 1], -3.5), rel=1e-9)


def test_the_setting_for_a_life_is_where_the_t_test_accepts_it():
    """With complete lognormal lives the limits solve |estimate - ln 30| = t * standard error."""
    rng = np.random.default_rng(4)
    y = X9 @ [22, -4] + 0.2 * rng.normal(size=9)
    lives, line = fit_lives(X9, Lives(np.exp(y), np.exp(y))), fit_line(X9, y)
    limits = lives.setting_interval([1, 0], 1, 30.0)
    for speed in (limits.low, limits.high):
        assert line.p_value([1, speed], math.log(30)) == pytest.approx(0.05, abs=1e-9)
    assert lives.median([1, lives.setting([1, 0], 1, 30.0)]) == pytest.approx(30)
    assert limits.contains(lives.setting([1, 0], 1, 30.0))


def test_a_setting_without_a_slope_is_unbounded():
    rng = np.random.default_rng(0)
    y = 3 + 0.3 * rng.normal(size=9)
    fit = fit_lives(X9, Lives(np.exp(y), np.exp(y)))
    assert fit.interval([0, 1]).contains(0.0)
    assert fit.setting_interval([1, 0], 1, 30.0).unbounded == "both"


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_limits_are_where_the_deviance_meets_the_cut(distribution):
    fit = fit_lives(X9, Lives.right_censored(T9, E9), distribution)
    limits = fit.interval([0, 1], 0.9)
    assert fit.p_value([0, 1], limits.low) == pytest.approx(0.1, abs=1e-8)
    assert fit.p_value([0, 1], limits.high) == pytest.approx(0.1, abs=1e-8)
    chi = fit.interval([0, 1], 0.9, "chi-square")
    assert fit.p_value([0, 1], chi.high, "chi-square") == pytest.approx(0.1, abs=1e-8)
    tenth = fit.log_quantile_interval([1, 5.0], 0.1)
    assert tenth.contains(fit.log_quantile([1, 5.0], 0.1))


def test_the_deviance_against_a_brute_search():
    """Profile of the slope by Nelder-Mead over the other parameters."""
    from scipy.optimize import minimize
    from scipy.stats import norm

    fit = fit_lives(X9, Lives.right_censored(T9, E9))
    y, failed = np.log(T9), np.array(E9, dtype=bool)

    def loss(par, slope):
        z = (y - par[0] - slope * (X9[:, 1] - 5)) / math.exp(par[1])
        return -(norm.logpdf(z[failed]) - par[1]).sum() - norm.logsf(z[~failed]).sum()

    slope = -3.0
    options = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 5000}
    held = minimize(loss, [3.0, -1.0], args=(slope,), method="Nelder-Mead", options=options)
    deviance = 2 * (fit.optimum.loglik[0] + held.fun)
    t = math.sqrt(fit.df * math.expm1(deviance / fit.failures))
    from scipy.stats import t as student

    assert fit.p_value([0, 1], slope) == pytest.approx(2 * student.sf(t, fit.df), rel=1e-7)


def test_an_offset_moves_the_coefficient():
    lives = Lives.right_censored(T9, E9)
    plain = fit_lives(X9, lives)
    moved = fit_lives(X9, lives, offset=2.0 * X9[:, 1])
    np.testing.assert_allclose(moved.beta, plain.beta - [0, 2.0], rtol=1e-9)
    assert moved.loglik == pytest.approx(plain.loglik, rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(DISTRIBUTIONS), st.sampled_from([1e-6, 1e6]))
def test_units_and_row_order_change_nothing(seed, distribution, factor):
    rng = np.random.default_rng(seed)
    t = np.exp(X9 @ [22, -4] + 0.3 * rng.normal(size=9))
    failed = rng.permutation(9) >= 2
    failed[::3] = True
    order = rng.permutation(9)
    base = fit_lives(X9, Lives.right_censored(t, failed), distribution)
    other = fit_lives(X9[order], Lives.right_censored(factor * t[order], failed[order]), distribution)
    np.testing.assert_allclose(other.beta, base.beta + np.array([math.log(factor), 0.0]), rtol=1e-8)
    assert other.sigma == pytest.approx(base.sigma, rel=1e-8)
    a, b = base.interval([0, 1]), other.interval([0, 1])
    assert (b.low, b.high) == pytest.approx((a.low, a.high), rel=1e-7)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(["lognormal", "loglogistic"]))
def test_turning_time_round_turns_the_fit_round(seed, distribution):
    """1 / life swaps left- and right-censoring where the scatter is symmetric."""
    rng = np.random.default_rng(seed)
    t = np.exp(X9 @ [22, -4] + 0.3 * rng.normal(size=9))
    lower, upper = t.copy(), t.copy()
    lower[1], upper[1] = 0.9 * t[1], np.inf
    lower[4], upper[4] = 0.0, 1.1 * t[4]
    lower[7], upper[7] = 0.9 * t[7], 1.2 * t[7]
    with np.errstate(divide="ignore"):
        turned_low, turned_high = 1 / upper, 1 / lower
    base, turned = (
        fit_lives(X9, Lives(lower, upper), distribution),
        fit_lives(X9, Lives(turned_low, turned_high), distribution),
    )
    np.testing.assert_allclose(turned.beta, -base.beta, rtol=1e-8)
    assert turned.sigma == pytest.approx(base.sigma, rel=1e-8)


class TestRefusals:
    def test_too_few_failures(self):
        with pytest.raises(Refusal, match=r"2 failures for 2 coefficients .*allowed: at least 3 failures"):
            fit_lives(X9, Lives.right_censored(T9, [0, 0, 1, 0, 0, 0, 0, 0, 1]))

    def test_all_censored(self):
        with pytest.raises(Refusal, match="0 failures"):
            fit_lives(X9, Lives.right_censored(T9, np.zeros(9)))

    def test_one_speed(self):
        X = np.column_stack([np.ones(9), np.full(9, math.log(140))])
        with pytest.raises(Refusal, match="ln speed: the same value in all 9 rows"):
            fit_lives(X, Lives.right_censored(T9, E9), names=["intercept", "ln speed"])

    def test_failures_at_one_speed_only(self):
        with pytest.raises(Refusal, match="ln speed: the failures do not vary in it"):
            fit_lives(
                X9, Lives.right_censored(T9, [0, 0, 0, 0, 0, 0, 1, 1, 1]), names=["intercept", "ln speed"]
            )

    @pytest.mark.parametrize("distribution", DISTRIBUTIONS)
    def test_all_equal(self, distribution):
        with pytest.raises(Refusal, match="all lives are equal"):
            fit_lives(np.ones((5, 1)), Lives([7.0] * 5, [7.0] * 5), distribution)

    @pytest.mark.parametrize("distribution", DISTRIBUTIONS)
    def test_a_perfect_line(self, distribution):
        t = np.exp(X9 @ [22, -4])
        with pytest.raises(Refusal, match="without any scatter"):
            fit_lives(X9, Lives(t, t), distribution)

    @pytest.mark.parametrize("distribution", DISTRIBUTIONS)
    def test_brackets_that_need_no_scatter(self, distribution):
        t = np.exp(X9 @ [22, -4])
        with pytest.raises(Refusal, match="without any scatter"):
            fit_lives(X9, Lives(0.9 * t, 1.1 * t), distribution)

    @pytest.mark.parametrize("distribution", DISTRIBUTIONS)
    def test_a_group_that_had_failed_before_the_first_look(self, distribution):
        X = np.column_stack([np.ones(8), np.repeat([0.0, 1.0], 4)])
        lower = [10.0, 12, 15, 9, 0, 0, 0, 0]
        upper = [10.0, 12, 15, 9, 5, 5, 5, 5]
        with pytest.raises(Refusal, match="coating: its coefficient runs off to infinity"):
            fit_lives(X, Lives(lower, upper), distribution, names=["intercept", "coating"])

    def test_one_cutter(self):
        with pytest.raises(Refusal, match="1 failure for 1 coefficient "):
            fit_lives([[1.0]], Lives([5.0], [5.0]))

    def test_lengths(self):
        with pytest.raises(ArgumentError, match="lives: 9 lives; allowed: 8"):
            fit_lives(X9[:8], Lives.right_censored(T9, E9))

    def test_arguments_of_intervals(self):
        fit = fit_lives(X9, Lives.right_censored(T9, E9))
        with pytest.raises(ArgumentError, match="reference 'z'; allowed: F, chi-square"):
            fit.interval([0, 1], reference="z")
        with pytest.raises(ArgumentError, match="contrast: 3 weights; allowed: 2"):
            fit.interval([0, 1, 0])
        with pytest.raises(ArgumentError, match="weights that are all 0"):
            fit.interval([0, 0])
        with pytest.raises(ArgumentError, match="p: share 50"):
            fit.quantile([1, 5], 50)


class TestMany:
    @pytest.mark.parametrize("distribution", DISTRIBUTIONS)
    def test_each_replicate_is_the_single_fit(self, distribution):
        rng = np.random.default_rng(8)
        t = np.exp(X9 @ [22, -4] + 0.3 * rng.normal(size=(200, 9)))
        lower, upper = t.copy(), t.copy()
        kind = rng.integers(0, 6, size=t.shape)
        kind[:, ::3] = 0
        upper[kind == 1] = np.inf
        lower[kind == 2] = 0.0
        lower[kind == 3], upper[kind == 3] = 0.8 * t[kind == 3], 1.3 * t[kind == 3]
        many = fit_lives_many(X9, lower, upper, distribution)
        low, high = many.interval([0, 1])
        assert many.converged.all()
        for k in range(0, 200, 9):
            one = fit_lives(X9, Lives(lower[k], upper[k]), distribution)
            np.testing.assert_allclose(many.beta[k], one.beta, rtol=1e-9)
            assert (many.sigma[k], many.loglik[k]) == pytest.approx((one.sigma, one.loglik), rel=1e-9)
            np.testing.assert_allclose(many.covariance[k], one.covariance, rtol=1e-6, atol=1e-14)
            limits = one.interval([0, 1])
            assert (low[k], high[k]) == pytest.approx((limits.low, limits.high), rel=1e-8)

    def test_counts_are_repeated_rows(self):
        lives = Lives.right_censored(T9, E9)
        counts = np.array([2, 0, 1, 1, 2, 0, 1, 1, 1])
        many = fit_lives_many(X9, lives.lower, lives.upper, "weibull", weights=counts)
        rows = np.repeat(np.arange(9), counts)
        one = fit_lives(X9[rows], lives.take(rows), "weibull")
        np.testing.assert_allclose(many.beta[0], one.beta, rtol=1e-9)
        assert many.loglik[0] == pytest.approx(one.loglik, rel=1e-11)

    def test_other_limits_are_those_of_the_single_fit(self):
        lives = Lives.right_censored(T9, E9)
        many, one = fit_lives_many(X9, lives.lower, lives.upper), fit_lives(X9, lives)
        tenth, setting = one.log_quantile_interval([1, 5.0], 0.1), one.setting_interval([1, 0], 1, 30.0)
        np.testing.assert_allclose(
            np.ravel(many.log_quantile_interval([1, 5.0], 0.1)), [tenth.low, tenth.high], rtol=1e-9
        )
        np.testing.assert_allclose(
            np.ravel(many.setting_interval([1, 0], 1, 30.0)), [setting.low, setting.high], rtol=1e-9
        )
        assert many.log_quantile([1, 5.0])[0] == pytest.approx(one.log_quantile([1, 5.0]))

    def test_hopeless_replicates_are_marked(self):
        good, flat = np.array(T9), np.exp(X9 @ [22, -4])
        lower = np.stack([good, good, flat, np.full(9, 5.0)])
        upper = np.stack([good, np.full(9, np.inf), flat, np.full(9, 5.0)])
        many = fit_lives_many(X9, lower, upper)
        assert many.converged.tolist() == [True, False, False, False]
        assert many.estimable.tolist() == [True, False, True, False]
        assert np.isnan(many.sigma).tolist() == [False, True, True, True]
        assert np.isnan(many.interval([0, 1])[0]).tolist() == [False, True, True, True]

    def test_bounds_are_checked(self):
        with pytest.raises(ArgumentError, match="wrong way round"):
            fit_lives_many(X9, np.full(9, 5.0), np.full(9, 4.0))
        with pytest.raises(ArgumentError, match=r"allowed: \(B, 9\)"):
            fit_lives_many(X9, np.ones(8), np.ones(8))
