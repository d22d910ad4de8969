"""Timing for the benches: best of several runs, peers alternated, so that a busy machine hurts all alike."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping


def seconds(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Seconds of one run; `time.process_time` counts those of the processor alone, on a machine that others use too."""
    start = clock()
    work()
    return clock() - start


def alternate(
    peers: Mapping[str, Callable[[], object]], rounds: int = 5, clock: Callable[[], float] = time.perf_counter
) -> dict[str, float]:
    """Best time of each peer over rounds in which each runs once."""
    best = dict.fromkeys(peers, float("inf"))
    for _ in range(rounds):
        for name, work in peers.items():
            best[name] = min(best[name], seconds(work, clock))
    return best


def table(title: str, own: str, times: Mapping[str, float], scale: Mapping[str, float] | None = None) -> None:
    """Print times and their ratios to our own; `scale` multiplies peers that ran on a part of the work."""
    factors = scale or {}
    base = times[own] * factors.get(own, 1.0)
    print(f"\n{title}")
    for name, one in times.items():
        whole = one * factors.get(name, 1.0)
        part = "" if factors.get(name, 1.0) == 1.0 else f"  (scaled by {factors[name]:g})"
        print(f"  {name:<44}{1000 * whole:>14.3f} ms{whole / base:>14.1f}{part}")
