"""Power of a comparison of wear rates by simulation, 10,000 trials. Goal: 500 times a numpy loop over trials.

Run: python tests/bench/bench_power.py
"""

from __future__ import annotations

import numpy as np
from side_by_side import alternate, table

from wearlab.stats.power_simulation import rate_power

TRIALS, PART, SIDE = 10_000, 200, 6
TIMES = np.arange(5.0, 45, 5)
RATIO, SIGMA, ERROR, RATE = 1.3, 0.15, 0.006, 0.006


def loop(trials: int) -> float:
    """Every reading of every trial, one trial at a time: polyfit for the rates, Welch's t on their logs."""
    from scipy.stats import ttest_ind

    rng, found = np.random.default_rng(1), 0
    for _ in range(trials):
        logs = []
        for ratio in (RATIO, 1.0):
            rates = ratio * RATE * np.exp(SIGMA * rng.standard_normal(SIDE))
            readings = [rate * TIMES + ERROR * rng.standard_normal(TIMES.size) for rate in rates]
            logs.append(np.log([np.polyfit(TIMES, one, 1)[0] for one in readings]))
        found += ttest_ind(*logs, equal_var=False).pvalue < 0.05
    return found / trials


def own(trials: int = TRIALS, seed: int = 1) -> float:
    """The same by slopes, all trials at once."""
    return rate_power(SIDE, SIDE, RATIO, SIGMA, TIMES, ERROR, RATE, trials=trials, rng=seed).power


if __name__ == "__main__":
    times = alternate({"wearlab": own, "numpy loop over trials": lambda: loop(PART)})
    scale = {"numpy loop over trials": TRIALS / PART}
    table(f"{TRIALS} trials, {SIDE} v {SIDE} cutters x {TIMES.size} readings", "wearlab", times, scale)
    print(
        f"  power {own(1_000_000, 2):.4f} (1,000,000 trials), loop {loop(3_000):.4f} (3,000 trials, se 0.009)"
    )
