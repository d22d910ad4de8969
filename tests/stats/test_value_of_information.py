from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.value_of_information import worth_of_more


class TestWorthOfMore:
    def test_by_integration(self):
        """Expected gain of choosing by the posterior mean, by drawing it."""
        rng = np.random.default_rng(6)
        difference, sigma, n, more = 0.08, 0.2, 4, 3
        before = 2 * sigma**2 / n
        after = 1 / (1 / before + more / (2 * sigma**2))
        means = rng.normal(difference, math.sqrt(before - after), 1_000_000)
        gain = np.maximum(-means, 0)  # the choice is changed when the mean changes sign
        found = worth_of_more(difference, sigma, n, more)
        assert found.expected == pytest.approx(gain.mean(), abs=4 * gain.std() / 1000)
        assert found.chance_of_change == pytest.approx(np.mean(means < 0), abs=0.002)

    def test_limits(self):
        assert worth_of_more(0.05, 0.15, 3, 0).expected == 0.0
        far = worth_of_more(0.05, 0.15, 3, 10**9)
        assert far.expected == pytest.approx(far.certainty, rel=1e-6)
        assert worth_of_more(-0.05, 0.15, 3, 2) == worth_of_more(0.05, 0.15, 3, 2)
        with pytest.raises(ArgumentError, match="sigma 0"):
            worth_of_more(0.1, 0.0, 3, 2)
