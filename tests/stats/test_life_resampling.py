from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.censored import fit_lives
from wearlab.stats.life_prediction import next_life
from wearlab.stats.life_resampling import draw_lives, observe, refit_resamples, withdrawal_times
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

    def test_complete_lognormal_pivot_is_the_exact_factor(self):
        """The resampled pivot of complete lives against the noncentral t and Student's t."""
        from wearlab.stats.life_prediction import pivot_quantiles

        fit = fit_lives(X9, Lives(T9, T9))
        x = np.array([1.0, math.log(120)])
        refits = refit_resamples(fit, 40_000, 5)
        z = -1.2815515655446004
        pivots = ((refits.beta - fit.beta) @ x + z * (refits.sigma - fit.sigma)) / refits.sigma
        bound = math.exp(x @ fit.beta + z * fit.sigma - np.quantile(pivots, 0.9) * fit.sigma)
        assert bound == pytest.approx(life_bound(fit, x).bound, rel=0.01)
        low, high = pivot_quantiles(fit, refits, x, [0.025, 0.975])
        exact = next_life(fit, x)
        assert math.exp(x @ fit.beta + fit.sigma * low) == pytest.approx(exact.low, rel=0.01)
        assert math.exp(x @ fit.beta + fit.sigma * high) == pytest.approx(exact.high, rel=0.01)

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
