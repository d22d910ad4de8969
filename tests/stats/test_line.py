from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.line import fit_line


def _example(n=9, seed=3):
    rng = np.random.default_rng(seed)
    X = np.column_stack([np.ones(n), rng.normal(size=n), rng.normal(size=n)])
    return X, X @ [3.0, -4.0, 0.5] + rng.normal(size=n) * 0.2


def test_against_statsmodels():
    from statsmodels.regression.linear_model import OLS

    X, y = _example()
    mine, theirs = fit_line(X, y), OLS(y, X).fit()
    np.testing.assert_allclose(mine.beta, theirs.params, rtol=1e-12)
    np.testing.assert_allclose(mine.covariance, theirs.cov_params(), rtol=1e-10, atol=1e-15)
    np.testing.assert_allclose(mine.leverage, theirs.get_influence().hat_matrix_diag, rtol=1e-11)
    np.testing.assert_allclose(mine.residuals, theirs.resid, rtol=1e-9, atol=1e-14)
    assert mine.r_squared == pytest.approx(theirs.rsquared, rel=1e-12)
    x = [1.0, 0.3, -1.0]
    frame = theirs.get_prediction([x]).summary_frame(alpha=0.1)
    mean, following = mine.mean(x, 0.9), mine.prediction(x, 0.9)
    found = [mean.low, mean.high, following.low, following.high]
    assert found == pytest.approx(
        frame[["mean_ci_lower", "mean_ci_upper", "obs_ci_lower", "obs_ci_upper"]].to_numpy()[0], rel=1e-11
    )
    assert mine.p_value([0, 0, 1]) == pytest.approx(theirs.pvalues[2], rel=1e-10)


def test_a_clock_offset_of_a_million_against_exact_fractions():
    t = [1_000_000 + k for k in (0, 3, 7, 12, 20)]
    y = [0.05, 0.0625, 0.09375, 0.125, 0.1875]
    mean_t, mean_y = Fraction(sum(t), 5), sum(Fraction(one) for one in y) / 5
    top = sum((one - mean_t) * (Fraction(other) - mean_y) for one, other in zip(t, y, strict=True))
    exact = top / sum((one - mean_t) ** 2 for one in t)
    fit = fit_line(np.column_stack([np.ones(5), t]), y)
    assert fit.beta[1] == pytest.approx(float(exact), rel=1e-14)


def test_no_degrees_of_freedom_leave_the_interval_open():
    fit = fit_line([[1, 0.0], [1, 1.0]], [1.0, 3.0])
    assert fit.df == 0
    assert "nothing is left" in fit.why_missing
    assert fit.interval([0, 1]).unbounded == "both"
    assert math.isnan(fit.sigma)
    assert math.isnan(fit.p_value([0, 1]))


@pytest.mark.parametrize("scale", [1e-6, 1.0, 1e6])
def test_a_perfect_line_claims_no_certainty(scale):
    x = np.log([110.0, 125, 140, 160, 180])
    fit = fit_line(np.column_stack([np.ones(5), x]), scale * (21.0 - 4.0 * x))
    assert fit.beta[1] == pytest.approx(-4 * scale)
    assert "no scatter" in fit.why_missing
    assert fit.prediction([1, 5.0]).unbounded == "both"


def test_a_fit_without_an_intercept():
    from statsmodels.regression.linear_model import OLS

    X, y = _example()
    mine, theirs = fit_line(X[:, 1:], y), OLS(y, X[:, 1:]).fit()
    np.testing.assert_allclose(mine.beta, theirs.params, rtol=1e-12)
    assert mine.r_squared == pytest.approx(theirs.rsquared, rel=1e-12)


def test_faults_are_named():
    X, y = _example()
    with pytest.raises(ArgumentError, match="y: 8 values; allowed: 9"):
        fit_line(X, y[:8])
    with pytest.raises(ArgumentError, match="contrast: 2 weights; allowed: 3"):
        fit_line(X, y).interval([0, 1])
    with pytest.raises(ArgumentError, match="level: confidence level 95"):
        fit_line(X, y).interval([0, 1, 0], 95)
    with pytest.raises(Refusal, match="speed: the same value"):
        fit_line(np.column_stack([np.ones(9), np.full(9, 140.0)]), y, ["intercept", "speed"])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([1e-6, 1e-3, 1e3, 1e6]), st.sampled_from([1e-6, 1e6]))
def test_units_and_row_order_change_nothing(seed, factor, scale):
    X, y = _example(seed=seed)
    base = fit_line(X, y)
    order = np.random.default_rng(seed).permutation(len(y))
    shuffled = fit_line(X[order] * [1, factor, 1], y[order] * scale)
    np.testing.assert_allclose(shuffled.beta * [1, factor, 1] / scale, base.beta, rtol=1e-9, atol=1e-12)
    a, b = base.interval([0, 1, 0]), shuffled.interval([0, 1, 0])
    assert [b.low * factor / scale, b.high * factor / scale] == pytest.approx([a.low, a.high], rel=1e-9)
