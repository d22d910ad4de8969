"""A hundred thousand cutters' slopes, errors and crossings, and ten thousand power laws.

Goals: 500 times a statsmodels loop (and within 10 copies of the arrays) for the lines; 1,000 times for the power laws.
The loops run on a part and are scaled up. All times are of the processor, best of several runs.

Run: python tests/bench/bench_lines.py
"""

from __future__ import annotations

import time
from functools import partial

import numpy as np
from side_by_side import alternate, table
from statsmodels.regression.linear_model import OLS

from wearlab.stats.batched_lines import fit_lines
from wearlab.stats.batched_taylor import fit_power_laws

CUTTERS, READINGS, PART = 100_000, 8, 1_000
FITS, TESTS, FIT_PART = 10_000, 24, 500


def lines() -> None:
    """Slope, standard error and time to a criterion of each cutter."""
    rng = np.random.default_rng(1)
    x = np.cumsum(rng.uniform(3, 7, (CUTTERS, READINGS)), axis=1).ravel()
    rate = np.repeat(0.006 * np.exp(0.2 * rng.standard_normal(CUTTERS)), READINGS)
    y = 0.02 + rate * x + 0.006 * rng.standard_normal(x.size)
    starts = np.arange(0, x.size, READINGS)
    uneven = np.sort(rng.choice(np.arange(1, x.size), CUTTERS - 1, replace=False))
    uneven = np.append(0, uneven)

    def own():
        return fit_lines(x, y, starts).crossing(0.3)

    def loop():
        found = []
        for first in starts[:PART]:
            fit = OLS(y[first : first + READINGS], _constant(x[first : first + READINGS])).fit()
            found.append((fit.params[1], fit.bse[1], (0.3 - fit.params[0]) / fit.params[1]))
        return np.array(found)

    times = alternate(
        {
            "wearlab": own,
            "wearlab, uneven numbers of readings": lambda: fit_lines(x, y, uneven).crossing(0.3),
            "copy of the two arrays": lambda: (x.copy(), y.copy()),
            "statsmodels OLS loop": loop,
        },
        rounds=9,
        clock=time.process_time,
    )
    table(f"{CUTTERS} cutters x {READINGS} readings", "wearlab", times, {"statsmodels OLS loop": CUTTERS / PART})
    theirs, mine = loop(), fit_lines(x, y, starts)
    far = [
        np.max(np.abs(mine.slope[:PART] / theirs[:, 0] - 1)),
        np.max(np.abs(mine.slope_se[:PART] / theirs[:, 1] - 1)),
        np.max(np.abs(mine.crossing(0.3)[0][:PART] / theirs[:, 2] - 1)),
    ]
    print(f"  worst relative difference: slope {far[0]:.1e}, se {far[1]:.1e}, crossing {far[2]:.1e}")


def power_laws() -> None:
    """Taylor fits with intervals of n."""
    rng = np.random.default_rng(2)
    x = np.log(rng.uniform(100, 200, (FITS, TESTS)))
    y = 22 - 4 * x + 0.25 * rng.standard_normal((FITS, TESTS))

    def loop():
        found = []
        for k in range(FIT_PART):
            fit = OLS(y[k], _constant(x[k])).fit()
            found.append([fit.params[1], *fit.conf_int()[1]])
        return np.array(found)

    times = alternate(
        {
            "wearlab": lambda: fit_power_laws(x, y).exponent_limits(),
            "copy of the two arrays": lambda: (x.copy(), y.copy()),
            "statsmodels OLS loop": loop,
        },
        rounds=30,
        clock=time.process_time,
    )
    scale = {"statsmodels OLS loop": FITS / FIT_PART}
    table(f"{FITS} power laws x {TESTS} lives, 95 % interval of n", "wearlab", times, scale)
    theirs, fits = loop(), fit_power_laws(x, y)
    mine = np.column_stack([fits.slope, *fits.limits()])[:FIT_PART]
    print(f"  worst relative difference of slope and limits: {np.max(np.abs(mine / theirs - 1)):.1e}")


def growth() -> None:
    """Time against the number of cutters, beside that of a copy, which the machine's memory slows down as well."""
    sizes, best, copies = [10_000, 100_000, 1_000_000], [], []
    for cutters in sizes:
        x = np.tile(np.arange(5.0, 45, 5), cutters)
        y = 0.006 * x
        starts = np.arange(0, x.size, 8)
        peers = {"own": partial(fit_lines, x, y, starts), "copy": partial(np.concatenate, [x, y])}
        times = alternate(peers, 7, time.process_time)
        best.append(times["own"])
        copies.append(times["copy"])
    print()
    for name, one in (("lines", best), ("copy of the arrays", copies)):
        power = np.polyfit(np.log(sizes), np.log(one), 1)[0]
        print(f"{name}: grows as cutters to the power {power:.2f} ({', '.join(f'{1000 * t:.1f}' for t in one)} ms)")


def _constant(x: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(x)), x])


if __name__ == "__main__":
    lines()
    power_laws()
    growth()
