from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import fit_lives
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.life_prediction import next_life
from wearlab.stats.life_resampling import draw_lives, observe, refit_many, refit_resamples, withdrawal_times
from wearlab.stats.line import fit_line
from wearlab.stats.lives import Lives
from wearlab.stats.tolerance import (
    life_bound,
    smaller_bound,
)

X9 = np.column_stack([np.ones(9), np.repeat(np.log([110.0, 140, 180]), 3)])
T9 = np.array([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])
WITHDRAWN = Lives.right_censored(np.minimum(T9, 60.0), T9 <= 60.0)


class TestResampling:
    def test_a_seed_makes_it_repeatable(self):
        fit = fit_lives(X9, WITHDRAWN, "weibull")
        x = [1.0, math.log(120)]
        assert life_bound(fit, x, rng=3) == life_bound(fit, x, rng=3)
        assert next_life(fit, x, rng=3) == next_life(fit, x, rng=3)
        assert next_life(fit, x, rng=3) != next_life(fit, x, rng=4)

    def test_resampled_cuts_of_complete_lives_are_the_exact_ones(self):
        """The signed root against the noncentral t and Student's t, of which it is a function for complete lives."""
        from wearlab.stats.life_prediction import _limits
        from wearlab.stats.tolerance import _resampled_size

        fit = fit_lives(X9, Lives(T9, T9))
        x = np.array([1.0, math.log(120)])
        size, refits = _resampled_size(fit, x, 0.1, 0.9, 40_000, 5)
        assert refits == 40_000
        assert math.exp(fit.signed_limit(x, size, 0.1)) == pytest.approx(life_bound(fit, x).bound, rel=0.01)
        many, further = refit_many(fit, 20_000, 6, x)
        sizes = many.signed_sizes([0.0, 0.0, 1.0])
        low, high = _limits(fit, x, float(np.quantile(sizes, 0.025)), float(np.quantile(sizes, 0.975)))
        exact = next_life(fit, x)
        assert (math.exp(low), math.exp(high)) == pytest.approx((exact.low, exact.high), rel=0.02)
        assert np.median(further) == pytest.approx(fit.median(x), rel=0.01)

    def test_the_limits_of_the_next_life_have_the_wanted_sizes(self):
        """A next life at a limit, added with a coefficient of its own, leaves it with that size."""
        from wearlab.stats.life_prediction import _limits

        fit = fit_lives(X9, WITHDRAWN, "weibull")
        x = np.array([1.0, math.log(120)])
        limits = _limits(fit, x, -2.0, 1.5)
        X = np.column_stack([np.vstack([X9, x]), np.append(np.zeros(9), 1.0)])
        for log_life, size in zip(limits, (-2.0, 1.5), strict=True):
            lower = np.append(WITHDRAWN.lower, math.exp(log_life))
            upper = np.append(WITHDRAWN.upper, math.exp(log_life))
            found = fit_lives_many(X, lower, upper, "weibull").signed_sizes([0.0, 0.0, 1.0])
            assert found[0] == pytest.approx(size, abs=1e-6)

    def test_brackets_that_refits_can_meet_without_scatter_leave_a_finite_interval(self):
        """Six lives between five looks each: some refits have next to no scatter."""
        X = X9[[0, 1, 3, 4, 6, 7]]
        life = np.array([41.0, 79.0, 18.0, 41.0, 7.3, 15.0])
        spacing = np.repeat([13.0, 5.4, 2.0], 2)
        lower = np.floor(life / spacing) * spacing
        fit = fit_lives(X, Lives(lower, lower + spacing))
        x = np.array([1.0, math.log(140)])
        following, bound = next_life(fit, x, rng=1), life_bound(fit, x, rng=1)
        assert 5 < following.low < fit.median(x) < following.high < 120
        assert 5 < bound.bound < bound.estimate

    def test_the_next_life_of_a_complete_line_is_the_t_prediction(self):
        x = [1.0, math.log(150)]
        theirs = fit_line(X9, np.log(T9)).prediction(x).exp()
        mine = next_life(fit_lives(X9, Lives(T9, T9)), x)
        assert (mine.low, mine.high) == pytest.approx((theirs.low, theirs.high), rel=1e-10)

    def test_smaller_of_both(self):
        first, second = smaller_bound(X9, WITHDRAWN, [1.0, math.log(140)], rng=1, resamples=500)
        assert first.bound <= second.bound
        assert {first.distribution, second.distribution} == {"lognormal", "weibull"}

    def test_withdrawal_is_drawn_beyond_the_life(self):
        lives = Lives.right_censored([10, 20, 30, 40, 50.0], [1, 0, 1, 0, 1])
        times = withdrawal_times(lives, 4000, np.random.default_rng(0))
        assert (times[:, 1] == 20).all()
        assert (times[:, 3] == 40).all()
        assert set(np.unique(times[:, 0])) == {20.0, 40.0, np.inf}
        assert set(np.unique(times[:, 2])) == {40.0, np.inf}
        assert np.isinf(times[:, 4]).all()
        # Withdrawal curve: 3/4 left after 20, half of that after 40.
        assert np.mean(times[:, 0] == 20.0) == pytest.approx(0.25, abs=0.03)
        assert np.mean(times[:, 2] == 40.0) == pytest.approx(0.5, abs=0.04)

    def test_a_bracket_is_looked_at_again_at_its_spacing(self):
        lives = Lives([10.0, 0.0, 7.0], [15.0, 5.0, 7.0])
        lower, upper = observe(np.array([[23.0, 12.0, 9.5], [4.0, 3.0, 1.0]]), lives, np.full((2, 3), np.inf))
        np.testing.assert_array_equal(lower, [[20.0, 10.0, 9.5], [0.0, 0.0, 1.0]])
        np.testing.assert_array_equal(upper, [[25.0, 15.0, 9.5], [5.0, 5.0, 1.0]])

    def test_draws_have_the_fitted_quantiles(self):
        fit = fit_lives(X9, Lives(T9, T9), "weibull")
        lower, _ = draw_lives(fit, 40_000, np.random.default_rng(2))
        assert np.quantile(lower[:, 0], 0.1) == pytest.approx(fit.quantile(X9[0], 0.1), rel=0.02)

    def test_faults_are_named(self):
        fit = fit_lives(X9, WITHDRAWN)
        with pytest.raises(ArgumentError, match="10 resamples; allowed: at least 100"):
            refit_resamples(fit, 10)
        scarce = Lives.right_censored([5, 6, 7, 9, 9, 9, 9, 9.0], [1, 1, 0, 0, 0, 0, 0, 0])
        barely = fit_lives(np.ones((8, 1)), scarce)
        assert refit_resamples(barely, 200, 1).asked == 200
