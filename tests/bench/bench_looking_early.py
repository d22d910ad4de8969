"""False alarms of looking early, two-sided 5 %, on a million fresh paths; beside them those of the usual exchange of
z for t.

Run: python tests/bench/bench_looking_early.py
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, stdtrit

from wearlab.plan.spending import NEVER, SPENDING, boundaries, t_paths

LAYOUTS = ([3, 4, 5, 6], [2, 3, 4, 5, 6], [4, 6], [2, 4, 6, 8, 10], [3, 6, 9, 12, 15], [8, 12, 16, 20, 24])
RUNS = 1_000_000


def alarms(pairs: list[int], spending: str, paired_from: int) -> tuple[float, float]:
    """Share of paths that cross, at the plan's limits and at those of the exchange."""
    found = boundaries(pairs, pairs[-1], spending=spending, paired_from=paired_from)
    exchange = [
        -stdtrit(one.pairs - 1 if one.pairs >= paired_from else 2 * one.pairs - 2, ndtr(-one.z))
        for one in found.looks
    ]
    paths = np.abs(t_paths(pairs, paired_from, runs=RUNS, rng=99))
    return tuple(
        float((paths >= limits).any(axis=1).mean()) for limits in ([one.t for one in found.looks], exchange)
    )


if __name__ == "__main__":
    print(f"{'looks after':22s} {'spending':16s} {'analysis':12s} {'false alarms':>12s} {'exchange':>9s}")
    for spending in SPENDING:
        for paired_from, words in ((2, "blocks"), (NEVER, "two samples"), (5, "both")):
            for pairs in LAYOUTS:
                kept, plain = alarms(pairs, spending, paired_from)
                print(f"{pairs!s:22s} {spending:16s} {words:12s} {kept:12.4f} {plain:9.4f}")
    print(f"Monte-Carlo error {np.sqrt(0.05 * 0.95 / RUNS):.4f}")
