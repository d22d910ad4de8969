"""Exposure of 100,000 conditions at 50 heights against one pass over an array of that size.

Run by hand: `python tests/bench/bench_exposure.py`. Ratios in one run; the aim is under 20 passes.
"""

from __future__ import annotations

import time

import numpy as np

from wearlab.milling.exposure import edge_exposure, zone_exposure


def best(function, repeats: int = 7) -> float:
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    rng = np.random.default_rng(1)
    heads = ("conditions", "heights", "pass ms", "edge ms", "edge/pass", "zones ms", "zones/pass")
    print(" ".join(f"{head:>10}" for head in heads))
    for count in (1_000, 10_000, 100_000):
        diameter = rng.uniform(4, 20, count)
        conditions = (
            rng.uniform(0.5, 10, count),
            rng.uniform(0.05, 1, count) * diameter,
            rng.uniform(0.01, 0.1, count),
            rng.integers(2, 7, count).astype(float),
            diameter,
            rng.uniform(500, 9000, count),
        )
        heights = np.linspace(0, 12, 50)
        array = rng.uniform(size=(count, 50))
        one = best(lambda array=array: array * 1.5)
        edge = best(lambda conditions=conditions, heights=heights: edge_exposure(*conditions, heights))
        zone = best(lambda conditions=conditions: zone_exposure(*conditions))
        cells = (1e3 * one, 1e3 * edge, edge / one, 1e3 * zone, zone / one)
        print(f"{count:>10} {50:>10} " + " ".join(f"{cell:>10.2f}" for cell in cells))


if __name__ == "__main__":
    main()
