from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.curve import fit_curve
from wearlab.stats.line import fit_line

SPEED = np.repeat(np.log([110.0, 140, 180]), 3)
X9 = np.column_stack([np.ones(9), SPEED])
LIFE = np.log([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


class TestCurve:
    def test_a_straight_curve_is_least_squares(self):
        fit, line = fit_curve(lambda b: X9 @ b, LIFE, [20.0, -3.0]), fit_line(X9, LIFE)
        np.testing.assert_allclose(fit.beta, line.beta, rtol=1e-9)
        np.testing.assert_allclose(fit.covariance, line.covariance, rtol=1e-6)
        assert fit.interval(1).low == pytest.approx(line.interval([0, 1]).low, rel=1e-8)

    def test_refusals(self):
        with pytest.raises(Refusal, match="3 rows for 4 parameters"):
            fit_curve(lambda b: np.full(3, b.sum()), [1.0, 2, 3], [1.0, 1, 1, 1])
        with pytest.raises(Refusal, match="b: the rows do not determine it apart from the others"):
            fit_curve(lambda b: np.full(3, b[0] + b[1]), [1.0, 2, 3], [1.0, 1.0], ["a", "b"])
        with pytest.raises(Refusal, match="b: the rows do not determine it"):
            fit_curve(lambda b: np.full(3, b[0]), [1.0, 2, 3], [1.0, 1.0], ["a", "b"])
        with pytest.raises(ArgumentError, match="values other than 0"):
            fit_curve(lambda b: np.full(3, b[0]), [1.0, 2, 3], [0.0])
        with pytest.raises(ArgumentError, match="model at the start: values of shape"):
            fit_curve(lambda b: np.full(2, b[0]), [1.0, 2, 3], [1.0])
