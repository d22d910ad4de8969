from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.isotonic import isotonic


class TestIsotonic:
    def test_against_sklearn(self):
        from sklearn.isotonic import IsotonicRegression

        rng = np.random.default_rng(3)
        y, w = np.sort(rng.normal(size=12)) + 0.5 * rng.normal(size=12), rng.uniform(1, 3, 12)
        theirs = IsotonicRegression().fit(np.arange(12), y, sample_weight=w).predict(np.arange(12))
        np.testing.assert_allclose(isotonic(y, w), theirs, rtol=1e-12)
        np.testing.assert_allclose(isotonic(-y, w, increasing=False), -theirs, rtol=1e-12)

    def test_edges(self):
        assert isotonic([]).tolist() == []
        with pytest.raises(ArgumentError, match="weight 0"):
            isotonic([1.0, 2.0], [1.0, 0.0])
