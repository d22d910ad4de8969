from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.lives import Lives
from wearlab.stats.separate_scales import signed_sizes, welch_lives, welch_lives_p_values
from wearlab.stats.two_groups import welch


class TestSeparateScales:
    A, B = np.array([40.0, 52, 61, 47]), np.array([30.0, 35, 50])

    def test_complete_lives_are_welch_on_logs(self):
        mine = welch_lives(Lives(self.A, self.A), Lives(self.B, self.B))
        theirs = welch(np.log(self.A), np.log(self.B))
        assert (mine.difference, mine.se, mine.df) == pytest.approx(
            (theirs.difference, theirs.se, theirs.df), rel=1e-9
        )
        assert mine.p_value == pytest.approx(theirs.p_value, rel=1e-8)
        for level in (0.5, 0.95):
            ours, welchs = mine.interval(level), theirs.interval(level)
            assert (ours.low, ours.high) == pytest.approx((welchs.low, welchs.high), abs=2e-7)

    @pytest.mark.parametrize("distribution", ["lognormal", "weibull", "loglogistic"])
    def test_reflection_and_units(self, distribution):
        a, b = Lives.right_censored(self.A, [1, 1, 0, 1]), Lives(self.B, self.B)
        one, mirrored = welch_lives(a, b, distribution), welch_lives(b, a, distribution)
        assert mirrored.p_value == pytest.approx(one.p_value, rel=1e-6)
        assert mirrored.interval().low == pytest.approx(-one.interval().high, abs=1e-6)
        hours = welch_lives(
            Lives(a.lower * 1e6, a.upper * 1e6), Lives(b.lower * 1e6, b.upper * 1e6), distribution
        )
        assert hours.p_value == pytest.approx(one.p_value, rel=1e-6)

    def test_the_limits_have_the_p_of_the_level(self):
        a, b = Lives.right_censored(self.A, [1, 1, 0, 1]), Lives([25.0, 35, 40], [30.0, 40, 50])
        result = welch_lives(a, b)
        limits = result.interval(0.9)
        assert result.p_at(limits.low) == pytest.approx(0.1, abs=1e-6)
        assert result.p_at(limits.high) == pytest.approx(0.1, abs=1e-6)
        assert result.p_above(limits.low) == pytest.approx(0.05, abs=1e-6)
        assert result.p_above(limits.high) == pytest.approx(0.95, abs=1e-6)

    def test_the_best_pair_by_a_grid(self):
        """The size of no difference is the smallest over common medians of the two sizes together."""
        a, b = Lives.right_censored(self.A, [1, 1, 0, 1]), Lives(self.B, self.B)
        fits = [fit_lives_many(np.ones((len(one), 1)), one.lower, one.upper) for one in (a, b)]
        size, _ = signed_sizes(fits[0], fits[1], 0.0)
        grid = np.linspace(3.6, 4.1, 4001)
        totals = [sum(fit.squared_sizes([1.0], np.array([m]), 0.5)[0][0] for fit in fits) for m in grid[::20]]
        assert size[0] ** 2 <= min(totals) + 1e-12
        assert size[0] ** 2 == pytest.approx(min(totals), abs=2e-4)

    def test_in_batches(self):
        rng = np.random.default_rng(1)
        t = np.exp(3.5 + 0.3 * rng.standard_normal((20, 9)))
        upper = np.where(t > 40, np.inf, t)
        lower = np.minimum(t, 40.0)
        found = welch_lives_p_values(lower[:, :4], upper[:, :4], lower[:, 4:], upper[:, 4:], "weibull")
        for k in range(20):
            sides = [Lives(lower[k, rows], upper[k, rows]) for rows in (slice(None, 4), slice(4, None))]
            try:
                assert found[k] == pytest.approx(welch_lives(*sides, "weibull").p_value, abs=1e-8)
            except Refusal:
                assert math.isnan(found[k])
        assert np.isfinite(found).sum() > 10

    def test_a_side_with_one_failure_is_refused(self):
        with pytest.raises(Refusal, match="1 failure for 1 coefficient "):
            welch_lives(Lives.right_censored(self.A, [1, 0, 0, 0]), Lives(self.B, self.B))
