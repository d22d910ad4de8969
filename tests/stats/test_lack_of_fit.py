from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.stats.lack_of_fit import bend, lack_of_fit

SPEED = np.repeat(np.log([110.0, 140, 180]), 3)
X9 = np.column_stack([np.ones(9), SPEED])
LIFE = np.log([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


class TestLackOfFit:
    def test_a_real_bend_is_found_by_both(self):
        y = LIFE - 6 * (SPEED - SPEED.mean()) ** 2
        assert lack_of_fit(X9, y).p_value < 0.05
        found = bend(X9, y, 1)
        assert found.p_value < 0.05
        assert found.curvature == pytest.approx(bend(X9, LIFE, 1).curvature - 6)

    def test_with_three_speeds_both_tests_are_one(self):
        """One degree of freedom of lack of fit: F against pure error is the squared t of the bend."""
        found, test = bend(X9, LIFE, 1), lack_of_fit(X9, LIFE)
        assert found.p_value == pytest.approx(test.p_value, rel=1e-9)
        assert (found.curvature / found.se) ** 2 == pytest.approx(test.f, rel=1e-9)

    def test_the_bend_that_would_be_seen(self):
        from wearlab.stats.detectable import beyond

        found = bend(X9, LIFE, 1, power=0.7)
        assert beyond(2.446911851144969, found.df, found.detectable / found.se) == pytest.approx(
            0.7, rel=1e-9
        )

    @pytest.mark.parametrize(
        "rows, reason",
        [
            (slice(None, None, 3), "no condition was repeated"),
            ([0, 1, 3, 4], "the model meets every mean"),
        ],
    )
    def test_where_there_is_no_test_it_says_why(self, rows, reason):
        test = lack_of_fit(X9[rows], LIFE[rows])
        assert reason in test.why_missing
        assert math.isnan(test.p_value)

    def test_repeats_that_do_not_differ(self):
        assert "repeats do not differ" in lack_of_fit(X9, np.repeat([3.0, 2.0, 2.5], 3)).why_missing

    @pytest.mark.parametrize(
        "rows, reason",
        [([0, 1, 2, 3, 4], "2 levels of ln speed: a bend needs three"), ([0, 3, 6], "no observation left")],
    )
    def test_where_no_bend_can_be_judged(self, rows, reason):
        found = bend(X9[rows], LIFE[rows], 1, ["intercept", "ln speed"])
        assert reason in found.why_missing
        assert found.detectable == math.inf
