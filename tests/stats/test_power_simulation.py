from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.batched_lines import fit_lines
from wearlab.stats.detectable import t_power
from wearlab.stats.power_simulation import life_power, rate_power, seen_at, welch_p_values
from wearlab.stats.two_groups import welch


class TestPower:
    def test_welch_in_batches(self):
        rng = np.random.default_rng(4)
        a, b = rng.normal(size=(30, 4)), rng.normal(size=(30, 6))
        found = welch_p_values(a, b)
        assert found == pytest.approx(
            [welch(one, other).p_value for one, other in zip(a, b, strict=True)], rel=1e-10
        )
        assert np.isnan(welch_p_values(np.ones((1, 3)), np.ones((1, 3))))

    def test_without_reading_error_it_is_nearly_the_exact_power(self):
        """Welch's loss against Student's at 8 a side is about a point."""
        found = rate_power(8, 8, 1.25, 0.15, [0, 10, 20], 0.0, trials=40_000, rng=5)
        assert found.power == pytest.approx(t_power(0.15, 1.25, 8, 8), abs=0.015)
        assert found.interval().contains(found.power)

    def test_all_readings_give_the_same_power_as_their_slopes(self):
        rng = np.random.default_rng(6)
        t = np.arange(5.0, 35, 5)
        rates = np.exp(0.2 * rng.standard_normal((4000, 10))) * 0.006
        rates[:, :5] *= 1.35
        readings = rates[:, :, None] * t + 0.004 * rng.standard_normal((4000, 10, 6))
        lines = fit_lines(np.tile(t, 40_000), readings.ravel(), np.arange(0, 240_000, 6))
        slopes = np.log(lines.slope.reshape(4000, 10))
        whole = np.mean(welch_p_values(slopes[:, :5], slopes[:, 5:]) < 0.05)
        short = rate_power(5, 5, 1.35, 0.2, t, 0.004, 0.006, trials=40_000, rng=7)
        assert whole == pytest.approx(short.power, abs=4 * math.sqrt(0.25 / 4000))

    def test_a_noisy_gauge_and_a_flat_rate_do_not_crash(self):
        found = rate_power(3, 3, 1.5, 0.2, [0, 1], 1.0, trials=500, rng=8)
        assert 0 <= found.power <= 0.2

    def test_lives(self):
        found = life_power(6, 6, 1.5, 0.25, trials=4000, rng=9)
        assert found.power == pytest.approx(t_power(0.25, 1.5, 6, 6), abs=4 * found.se)
        withdrawn = life_power(6, 6, 1.5, 0.25, 50.0, limit=55.0, trials=2000, rng=9)
        assert withdrawn.power < found.power
        looked = life_power(6, 6, 1.5, 0.25, 50.0, looks=np.arange(10, 200, 10.0), trials=1000, rng=9)
        assert looked.power == pytest.approx(found.power, abs=0.08)

    def test_looks_and_limits(self):
        life = np.array([3.0, 10.0, 12.0, 26.0, 40.0])
        low, high = seen_at(life, 25.0, [10.0, 20.0])
        np.testing.assert_array_equal(low, [0, 0, 10, 25, 25])
        np.testing.assert_array_equal(high, [10, 10, 20, np.inf, np.inf])
        low, high = seen_at(life, looks=[10.0, 20.0])
        np.testing.assert_array_equal(high, [10, 10, 20, np.inf, np.inf])
        np.testing.assert_array_equal(low, [0, 0, 10, 20, 20])

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="1 and 3 cutters"):
            rate_power(1, 3, 1.2, 0.1, [0, 1], 0.1)
        with pytest.raises(ArgumentError, match="scatter 0"):
            life_power(3, 3, 1.2, 0.0)
