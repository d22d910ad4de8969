"""Is the chance of being best right as often as it says, is the stated loss the loss that comes, do intervals hold?

Run by hand: `python tests/bench/calibration_decide.py [--trials 2000] [--seed 1]`. Not collected by pytest.

Each simulated trial: practices whose true ln median lives scatter about 60 minutes, cutters whose ln lives scatter
about their practice's, n cutters a side, all worn out. The trial is judged as the package does it: pooled scatter, each
practice at the change interval that suits it in each plausible world, chance and loss by draws that are weighed by what
is believed beforehand of how practices differ; beside it the same without that weighing.

Two kinds of truth. Shops of many kinds: how far practices lie apart and how much cutters scatter are drawn anew for
every trial; a chance can only be right as often as it says over such a mixture. And shops of one kind each, where a
rule that does not know the kind must say too much in some and too little in others: how far off it is there.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass

import numpy as np

from wearlab.decide.age_replacement import age_law, best_age, cost_rate
from wearlab.decide.best import chance_of_best
from wearlab.decide.between import weigh
from wearlab.decide.change_interval import change_interval, tame
from wearlab.decide.posterior import draw_coefficients
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives

MEDIAN, SCATTER = 60.0, 0.25
PLANNED, FAILED, MACHINE = 31.6, 131.6, 1.2
CELLS = (
    (2, 3, 0.15, 0.15), (2, 3, 0.15, 0.25), (2, 3, 0.40, 0.25), (2, 3, 0.40, 0.40), (2, 6, 0.15, 0.25),
    (2, 6, 0.40, 0.25), (4, 3, 0.15, 0.15), (4, 3, 0.15, 0.25), (4, 3, 0.40, 0.25), (4, 3, 0.40, 0.40),
    (4, 6, 0.15, 0.25), (4, 6, 0.40, 0.25),
)  # fmt: skip
"""Practices, cutters a side, scatter between practices, scatter between cutters."""
APART, SCATTERS, SIDES = (0.05, 0.60), (0.15, 0.50), (3, 4, 6)
"""Shops of many kinds: scatter of practices and of cutters, evenly spread in ln; cutters a side."""
BANDS = ((0.5, 0.6), (0.6, 0.7), (0.7, 0.8), (0.8, 0.9), (0.9, 0.97), (0.97, 1.01))


@dataclass
class Judged:
    """Stated chances and losses of every practice of one trial."""

    chances: np.ndarray
    losses: np.ndarray


NODES = np.geomspace(0.01, 2.0, 60)
LEAST = [best_age("lognormal", 0.0, float(node), PLANNED, FAILED).rate for node in NODES]


def least_rate(sigma: np.ndarray) -> np.ndarray:
    """Least cost a minute of lives whose median is a minute: with other lives it goes down as they go up."""
    return np.exp(np.interp(np.log(sigma), np.log(NODES), np.log(LEAST)))


def one_trial(
    practices: int, cutters: int, spread: float, scatter: float, rng: np.random.Generator, draws: int
) -> tuple[Judged, Judged, np.ndarray]:
    """One trial judged with and without the weighing, and the true losses of its practices."""
    truth = math.log(MEDIAN) + spread * rng.standard_normal(practices)
    lives = np.exp(truth[:, None] + scatter * rng.standard_normal((practices, cutters))).ravel()
    fit = fit_lives(np.repeat(np.eye(practices), cutters, axis=0), Lives(lives, lives))
    beta, sigma = draw_coefficients(fit, draws, rng)
    scale, centre = fit.sigma * math.sqrt(fit.failures / fit.df), fit.beta
    real = MACHINE + np.exp(-truth) * float(least_rate(np.array([scatter]))[0])
    judged = []
    for kept in (weigh(beta, sigma, rng), np.arange(draws)):
        costs = {}
        for i in range(practices):
            location, _ = tame(beta[kept, i], sigma[kept], centre[i], scale)
            costs[str(i)] = MACHINE + np.exp(-location) * least_rate(np.array([scale]))[0]
        made = chance_of_best(costs)
        judged.append(Judged(made.chances, made.losses))
    return judged[0], judged[1], real - real.min()


def many_kinds(practices: int, cutters: tuple[int, ...], trials: int, rng: np.random.Generator, draws: int) -> None:
    """Shops of many kinds: their scatters drawn anew for every trial."""
    found = []
    for _ in range(trials):
        spread, scatter = (math.exp(rng.uniform(*np.log(ends))) for ends in (APART, SCATTERS))
        found.append(one_trial(practices, int(rng.choice(cutters)), spread, scatter, rng, draws))
    sides = " or ".join(str(one) for one in cutters)
    _print(f"{practices} practices, {sides} cutters a side, shops of many kinds", found)


def one_kind(cell: tuple[int, int, float, float], trials: int, rng: np.random.Generator, draws: int) -> None:
    """Shops of one kind."""
    found = [one_trial(*cell, rng, draws) for _ in range(trials)]
    practices, cutters, spread, scatter = cell
    title = f"{practices} practices, {cutters} cutters a side, scatter of practices {spread}, of cutters {scatter}"
    _print(title, found)


def _print(title: str, found: list[tuple[Judged, Judged, np.ndarray]]) -> None:
    """Chance of the choice: stated and right, by bands; expected loss of the choice: stated and come."""
    print(f"\n{title}")
    print("                    weighed beforehand             not weighed")
    print("  stated chance     trials stated right (error)    trials stated right (error)")
    columns = [_bands([one[at] for one in found], [one[2] for one in found]) for at in (0, 1)]
    for row, (low, high) in enumerate(BANDS):
        print(f"  {low:.2f} to {min(high, 1):.2f}      {columns[0][row]}    {columns[1][row]}")
    for at, name in ((0, "weighed"), (1, "not weighed")):
        said, came = _losses([one[at] for one in found], [one[2] for one in found])
        error = came.std() / math.sqrt(len(found)) / came.mean()
        ratio = said.mean() / came.mean()
        print(f"  expected loss, {name:12s} stated {said.mean():.4f}, came {came.mean():.4f}: "
              f"{ratio:.2f} times (error {ratio * error:.2f})", flush=True)  # fmt: skip


def _bands(judged: list[Judged], real: list[np.ndarray]) -> list[str]:
    chosen = [int(np.argmin(one.losses)) for one in judged]
    stated = np.array([one.chances[at] for one, at in zip(judged, chosen, strict=True)])
    right = np.array([one[at] == 0.0 for one, at in zip(real, chosen, strict=True)])
    texts = []
    for low, high in BANDS:
        inside = (stated >= low) & (stated < high)
        if inside.sum() < 20:
            texts.append(f"{inside.sum():6d}      -     -        ")
            continue
        share = right[inside].mean()
        error = math.sqrt(share * (1 - share) / inside.sum())
        texts.append(f"{inside.sum():6d}  {stated[inside].mean():.3f} {share:.3f} ({error:.3f})")
    return texts


def _losses(judged: list[Judged], real: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    chosen = [int(np.argmin(one.losses)) for one in judged]
    said = np.array([one.losses[at] for one, at in zip(judged, chosen, strict=True)])
    return said, np.array([one[at] for one, at in zip(real, chosen, strict=True)])


def equal_practices(cutters: int, trials: int, rng: np.random.Generator, draws: int) -> None:
    """Two practices alike: how often 95 % or more is stated for one of them (10 % is right, less is cautious)."""
    sure = np.zeros(2)
    for _ in range(trials):
        lives = np.exp(math.log(MEDIAN) + SCATTER * rng.standard_normal(2 * cutters))
        fit = fit_lives(np.repeat(np.eye(2), cutters, axis=0), Lives(lives, lives))
        beta, sigma = draw_coefficients(fit, draws, rng)
        for at, kept in enumerate((weigh(beta, sigma, rng), np.arange(draws))):
            share = float(np.mean(beta[kept, 0] > beta[kept, 1]))
            sure[at] += max(share, 1 - share) >= 0.95
    weighed, plain = sure / trials
    error = math.sqrt(0.09 / trials)
    print(f"  {cutters:2d} a side: weighed {weighed:.3f}, not weighed {plain:.3f}  (error {error:.3f})")


def intervals(law: str, cutters: int, trials: int, rng: np.random.Generator) -> None:
    """Change interval and lower bound of the package on one practice: do they hold under each truth?"""
    stated, came, cover, cost, best = [], [], [], [], []
    sigma = SCATTER if law == "lognormal" else SCATTER * math.sqrt(6) / math.pi
    location = math.log(MEDIAN)
    ideal = best_age(law, location, sigma, PLANNED, FAILED)
    tenth = float(age_law(law).quantile(0.1, location, sigma))
    for _ in range(trials):
        noise = rng.standard_normal(cutters) if law == "lognormal" else np.log(rng.exponential(size=cutters))
        lives = np.exp(location + sigma * noise)
        made = change_interval(
            np.ones((cutters, 1)), Lives(lives, lives), [1.0], PLANNED, FAILED, draws=400, rng=rng
        )
        stated.append(made.failing)
        lasting = float(age_law(law).survival(min(made.interval, 1e9), location, sigma))
        came.append(1 - lasting)
        cover.append(made.bounds[0].bound <= tenth)
        cost.append(float(cost_rate(made.interval, law, location, sigma, PLANNED, FAILED)))
        best.append(made.interval)
    error = math.sqrt(0.09 / trials)
    print(f"  {law:9s}  {cutters:7d}   {np.mean(cover):.3f} ({error:.3f})   {np.mean(stated):.3f}"
          f"    {np.mean(came):.3f}    {np.median(best):6.1f}   {ideal.age:6.1f}"
          f"   {np.mean(cost) / ideal.rate:6.3f}")  # fmt: skip


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trials", type=int, default=2000)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = np.random.default_rng(asked.seed)
    start = time.perf_counter()
    print("Chance of being best: right as often as it says?")
    for practices in (2, 3, 4):
        many_kinds(practices, SIDES, asked.trials, rng, asked.draws)
    for practices in (2, 4):
        many_kinds(practices, (3,), asked.trials, rng, asked.draws)
    for cell in CELLS:
        one_kind(cell, asked.trials, rng, asked.draws)
    print("\nTwo practices alike: share of trials that call one of them 95 % sure")
    for cutters in (3, 5, 8):
        equal_practices(cutters, asked.trials, rng, asked.draws)
    print("\nChange interval, both laws tried and the shorter taken; bound: nine in ten outlast it, 90 % sure")
    print("  truth      cutters   bound holds     stated   came      median   best     cost over")
    print("                                       failing  failing   interval interval the least")
    for law in ("lognormal", "weibull"):
        for cutters in (3, 5, 8, 12):
            intervals(law, cutters, max(asked.trials // 5, 50), rng)
    print(f"\n{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
