from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.gauge import crossed_study
from wearlab.stats.gauge_reml import reml_study
from wearlab.stats.reml_intervals import reml_interval


def _study(seed, parts=8, operators=3, repeats=2, gaps=False):
    rng = np.random.default_rng(seed)
    part = np.repeat(np.arange(parts), operators * repeats)
    operator = np.tile(np.repeat(np.arange(operators), repeats), parts)
    between = rng.normal(0, 0.004, (parts, operators))[part, operator]
    y = rng.normal(0, 0.04, parts)[part] + rng.normal(0, 0.008, operators)[operator] + between
    y = y + rng.normal(0, 0.010, len(y))
    keep = np.arange(len(y)) % 7 != 3 if gaps else np.ones(len(y), dtype=bool)
    return part[keep], operator[keep], y[keep]


def _restricted(part, operator, y):
    """Restricted log-likelihood as the density of contrasts free of the mean: another road than the one in use."""
    contrasts = np.linalg.svd(np.ones((1, len(y))))[2][1:]
    z = contrasts @ y / y.std()
    same = [part[:, None] == part, operator[:, None] == operator]
    kernels = [contrasts @ one @ contrasts.T for one in (*same, same[0] & same[1], np.eye(len(y)))]

    def loglik(v):
        return stats.multivariate_normal.logpdf(z, cov=sum(a * K for a, K in zip(v, kernels, strict=True)))

    return loglik


@pytest.mark.parametrize(("contrast", "gaps"), [((0, 0, 0, 1), True), ((1, 0, 0, 0), False), ((0, 1, 1, 0.25), True)])
def test_the_deviance_meets_the_cut_by_another_road(contrast, gaps):
    part, operator, y = _study(3, parts=6, gaps=gaps)
    found = reml_study(part.tolist(), operator.tolist(), y).components
    limits = reml_interval(part.tolist(), operator.tolist(), y, found, contrast)
    loglik, weight = _restricted(part, operator, y), np.array(contrast, dtype=float)
    best = np.array([found.part, found.operator, found.interaction, found.repeatability]) / y.var()
    inside = np.flatnonzero(weight)

    def held(total):
        """Best likelihood with the weighted sum at `total`: shares of it and the rest as logs, from several starts."""

        def loss(at):
            v = np.exp(at)
            v[inside] *= total / (weight @ v)
            return -loglik(v)

        starts = [np.log(best + share) for share in (1e-4, 1e-2)]
        options = {"maxiter": 2000, "fatol": 1e-7, "xatol": 1e-4}
        return -min(optimize.minimize(loss, one, method="Nelder-Mead", options=options).fun for one in starts)

    cut = stats.chi2.ppf(0.95, 1)
    ends = [end for end in (limits.low, limits.high) if end > 0]
    assert limits.high in ends
    for end in ends:
        assert 2 * (loglik(np.maximum(best, 1e-12)) - held(end / y.var())) == pytest.approx(cut, abs=5e-3)


def test_close_to_the_exact_interval_where_there_is_one():
    """Repeatability of a complete study has the exact chi-square interval; the profile's is within 5 % of it."""
    part, operator, y = _study(5, parts=10, repeats=3)
    found = reml_study(part.tolist(), operator.tolist(), y).components
    limits = reml_interval(part.tolist(), operator.tolist(), y, found, (0, 0, 0, 1)).map(math.sqrt)
    exact = crossed_study(part.tolist(), operator.tolist(), y).repeatability_interval()
    assert (limits.low, limits.high) == pytest.approx((exact.low, exact.high), rel=0.05)


def test_units_and_faults():
    part, operator, y = _study(3)
    rows = part.tolist(), operator.tolist()
    found, micron = reml_study(*rows, y).components, reml_study(*rows, 1000 * y).components
    one, other = reml_interval(*rows, y, found, (0, 1, 1, 1)), reml_interval(*rows, 1000 * y, micron, (0, 1, 1, 1))
    assert (other.low, other.high) == pytest.approx((1e6 * one.low, 1e6 * one.high), rel=1e-4)
    for weights in [(0, 0, 0, 0), (1, -1, 0, 0), (1, 1)]:
        with pytest.raises(ArgumentError, match="weights"):
            reml_interval(*rows, y, found, weights)


def test_one_operator_has_no_interaction():
    """One person's readings: a one-way layout, whose REML is that of its mean squares."""
    part, operator, y = _study(4, operators=1, repeats=3)
    found = reml_study(part.tolist(), operator.tolist(), y).components
    squares = crossed_study(part.tolist(), operator.tolist(), y).components()
    assert (found.operator, found.interaction) == (0.0, 0.0)
    assert [found.part, found.repeatability] == pytest.approx([squares.part, squares.repeatability], rel=1e-6)


def test_repeats_that_agree_to_the_last_digit_are_refused():
    """The restricted likelihood holds -df/2 log(repeatability): without scatter in the repeats it has no maximum."""
    part, operator, y = _study(5, parts=5, repeats=2)
    rows = part.tolist(), operator.tolist()
    found = reml_study(*rows, y).components
    keys = list(zip(*rows, strict=True))
    first = dict(zip(reversed(keys), reversed(y.tolist()), strict=True))
    same = np.array([first[key] for key in keys])
    with pytest.raises(Refusal, match="agree to the last digit"):
        reml_study(*rows, same)
    with pytest.raises(Refusal, match="agree to the last digit"):
        reml_interval(*rows, same, found, (0, 1, 1, 1))
    barely = same + 1e-3 * same.std() * np.tile([1.0, -1.0], len(same) // 2)
    assert reml_study(*rows, barely).components.repeatability > 0
