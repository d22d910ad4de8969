from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.detectable import (
    cutters_needed,
    cutters_needed_alike,
    equivalence_power,
    smallest_ratio,
    t_power,
)


@pytest.mark.parametrize("n_a, n_b", [(2, 1), (2, 2), (3, 8), (5, 5), (20, 20), (400, 300)])
@pytest.mark.parametrize("ratio", [1.001, 1.1, 1.5, 3.0])
def test_power_against_the_noncentral_t_of_scipy(n_a, n_b, ratio):
    from scipy.stats import nct, t

    df, far = n_a + n_b - 2, math.log(ratio) / (0.2 * math.sqrt(1 / n_a + 1 / n_b))
    critical = t.ppf(0.975, df)
    # The far tail of scipy is NaN where it is less than the smallest number.
    theirs = nct.sf(critical, df, far) + np.nan_to_num(nct.cdf(-critical, df, far)) if far < 30 else 1.0
    assert t_power(0.2, ratio, n_a, n_b) == pytest.approx(theirs, rel=1e-8)


def test_no_difference_is_found_as_often_as_the_size_says():
    assert t_power(0.2, 1.0, 4, 4) == pytest.approx(0.05, rel=1e-10)
    assert t_power(0.2, 1.0, 4, 9, level=0.99) == pytest.approx(0.01, rel=1e-9)


@pytest.mark.parametrize("effect, needed, exact", [(0.5, 64, 63.77), (0.8, 26, 25.52), (0.2, 394, 393.4)])
def test_cohen_sample_sizes(effect, needed, exact):
    """Cohen 1988, Statistical Power Analysis, tables (from memory): 64, 26, 393 (the last is 393.4, so
    394).
    """
    assert cutters_needed(1.0, math.exp(effect)) == needed == math.ceil(exact)


def test_the_table_of_sizes():
    """Cutters a side for 80 %: computed with R power.t.test, printed in the contributor's guide."""
    found = [
        [cutters_needed(sigma, ratio) for ratio in (1.1, 1.25, 1.5, 2.0)] for sigma in (0.10, 0.20, 0.40)
    ]
    assert found == [[19, 5, 3, 2], [71, 14, 5, 3], [278, 52, 17, 7]]


def test_the_smallest_ratio_is_found_with_the_wanted_chance():
    for n_a, n_b in ((2, 1), (3, 3), (3, 8), (50, 50)):
        ratio = smallest_ratio(0.25, n_a, n_b, 0.9, 0.7)
        assert t_power(0.25, ratio, n_a, n_b, 0.9) == pytest.approx(0.7, rel=1e-9)
        assert t_power(0.25, 1 / ratio, n_a, n_b, 0.9) == pytest.approx(0.7, rel=1e-9)
    assert smallest_ratio(0.25, 1, 1) == math.inf


def test_equivalence_power_by_simulation():
    rng = np.random.default_rng(11)
    n, sigma, margin, ratio = 5, 0.15, 1.25, 1.05
    a, b = rng.normal(math.log(ratio), sigma, (200_000, n)), rng.normal(0, sigma, (200_000, n))
    se = np.sqrt((a.var(axis=1, ddof=1) + b.var(axis=1, ddof=1)) / n)
    reach = 1.8595480375308981 * se  # t, 95 %, 8 degrees of freedom
    gap = a.mean(axis=1) - b.mean(axis=1)
    share = np.mean((gap - reach > -math.log(margin)) & (gap + reach < math.log(margin)))
    found = equivalence_power(sigma, n, n, margin, ratio)
    assert found == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / 200_000))


@pytest.mark.parametrize(
    "margin, sizes", [(1.25, [5, 9, 15, 23]), (1.20, [6, 13, 22, 33]), (1.15, [10, 21, 36, 56])]
)
def test_sizes_for_equivalence(margin, sizes):
    assert [cutters_needed_alike(sigma, margin) for sigma in (0.10, 0.15, 0.20, 0.25)] == sizes


def test_faults_are_named():
    with pytest.raises(ArgumentError, match="sigma: sigma 0; allowed: a scatter above 0"):
        smallest_ratio(0.0, 3, 3)
    with pytest.raises(ArgumentError, match="sizes 0 and 3"):
        t_power(0.1, 1.2, 0, 3)
    with pytest.raises(ArgumentError, match="ratio -1"):
        t_power(0.1, -1, 3, 3)
    with pytest.raises(ArgumentError, match="power: power 80; allowed: between"):
        cutters_needed(0.1, 1.2, power=80)
    with pytest.raises(ArgumentError, match=r"margin: margin 0\.8"):
        equivalence_power(0.1, 3, 3, 0.8)
    with pytest.raises(Refusal, match="a ratio of 1 would take more than 100000 a side"):
        cutters_needed(0.2, 1.0)
    with pytest.raises(Refusal, match=r"a true ratio of 1\.3 does not lie"):
        cutters_needed_alike(0.2, 1.25, 1.3)
