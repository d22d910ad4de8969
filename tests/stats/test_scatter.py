from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.scatter import LAWS, scatter_law

U = np.linspace(-6, 4, 41)
H = 1e-5


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_derivatives_against_differences(law):
    for terms in (law.exact, law.right, law.left):
        _, slope, bend = terms(U)
        np.testing.assert_allclose(slope, (terms(U + H)[0] - terms(U - H)[0]) / (2 * H), atol=2e-8, rtol=1e-7)
        np.testing.assert_allclose(bend, (terms(U + H)[1] - terms(U - H)[1]) / (2 * H), atol=2e-8, rtol=1e-7)


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_derivatives_between_two_looks(law):
    a, b = U, U + np.random.default_rng(0).uniform(0.05, 2, len(U))
    _, by_a, by_b, aa, ab, bb = law.between(a, b)
    up, down = law.between(a + H, b), law.between(a - H, b)
    right, left = law.between(a, b + H), law.between(a, b - H)
    for exact, one, other in (
        (by_a, up[0], down[0]), (by_b, right[0], left[0]), (aa, up[1], down[1]),
        (ab, right[1], left[1]), (bb, right[2], left[2]),
    ):  # fmt: skip
        np.testing.assert_allclose(exact, (one - other) / (2 * H), rtol=1e-5, atol=1e-6)


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_against_scipy(law):
    from scipy import stats

    theirs = {"lognormal": stats.norm, "weibull": stats.gumbel_l, "loglogistic": stats.logistic}[law.name]
    np.testing.assert_allclose(law.exact(U)[0], theirs.logpdf(U), rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(law.right(U)[0], theirs.logsf(U), rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(law.left(U)[0], theirs.logcdf(U), rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(
        np.exp(law.between(U, U + 1)[0]), theirs.cdf(U + 1) - theirs.cdf(U), rtol=1e-9, atol=1e-14
    )
    for p in (0.01, 0.5, 0.9):
        assert law.quantile(p) == pytest.approx(theirs.ppf(p), rel=1e-12, abs=1e-14)
    sample = law.draw(np.random.default_rng(5), (200, 100)).ravel()
    assert stats.kstest(sample, theirs.cdf).pvalue > 0.001


@pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
def test_nothing_overflows(law):
    far = np.array([-1e4, -50.0, 50.0, 1e4])
    with np.errstate(all="raise", under="ignore"):
        for terms in (law.exact, law.right, law.left):
            assert all(np.isfinite(part).all() for part in terms(far))
        narrow = law.between(np.array([-30.0, 0.0, 5.0]), np.array([-30.0, 0.0, 5.0]) + 1e-4)
    assert all(np.isfinite(part).all() for part in narrow)


def test_unknown_distribution_lists_the_known():
    with pytest.raises(ArgumentError, match="allowed: lognormal, weibull, loglogistic"):
        scatter_law("gamma")
