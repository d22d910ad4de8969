"""Exact permutation test of a mean difference against scipy's exact run. Goal: 5,000 times at 12 v 12.

Run: python tests/bench/bench_permutation.py [--fast]   (the 12 v 12 run of scipy alone takes about 25 s)
"""

from __future__ import annotations

import sys

import numpy as np
from side_by_side import alternate, seconds, table

from wearlab.stats.permutation import exact_mean_difference


def _difference(x, y, axis):
    return x.mean(axis=axis) - y.mean(axis=axis)


def against_scipy(n: int) -> None:
    """One size, with the p of both."""
    from scipy.stats import permutation_test

    rng = np.random.default_rng(n)
    a, b = rng.normal(size=n), rng.normal(size=n) + 0.8
    found = {}

    def theirs():
        found["scipy"] = permutation_test(
            (a, b), _difference, vectorized=True, n_resamples=np.inf, batch=20_000
        ).pvalue

    def own():
        found["wearlab"] = exact_mean_difference(a, b).p_value

    times = {"wearlab": alternate({"wearlab": own}, 20)["wearlab"], "scipy exact": seconds(theirs)}
    table(f"{n} v {n}: p {found['wearlab']:.12f} and {found['scipy']:.12f}", "wearlab", times)


def alone(n: int) -> None:
    """Sizes that no enumeration reaches."""
    rng = np.random.default_rng(n)
    a, b = rng.normal(size=n), rng.normal(size=n) + 0.6
    result = exact_mean_difference(a, b)
    best = alternate({"own": lambda: exact_mean_difference(a, b)}, 3)["own"]
    print(f"  {n} v {n}: {result.splits:.3g} splits, exact {result.exact}, {1000 * best:.1f} ms")


if __name__ == "__main__":
    for size in (6, 8, 10) if "--fast" in sys.argv else (6, 8, 10, 12):
        against_scipy(size)
    print()
    for size in (14, 16, 18, 20):
        alone(size)
