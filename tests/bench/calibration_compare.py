"""How often does a comparison alarm when there is nothing, and how often does it find what is there?

Wear rates: six inspections of four flutes; rate of a cutter scatters by 0.15 on ln, a flute by 0.006 mm, an inspection
by 0.004 mm, a reading by 0.010 mm. Lives: ln life scatters by 0.25. Nominal 5 % everywhere; power for a ratio of 1.3
(rates) or 1.4 (lives) beside each. Where the scatters differ, one practice has three times that of the other.

Run: python tests/bench/calibration_compare.py [--quick] [PART ...]
Parts: rates, lognormal-equal, lognormal-unequal, weibull-equal, weibull-unequal, coverage, families, alike; all
of them without one. Each cell has its own seed, so parts may be run one by one.
"""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable

import numpy as np

from wearlab.stats.censored_many import fit_lives_many
from wearlab.stats.permutation import exact_mean_difference, score_test
from wearlab.stats.power_simulation import seen_at, welch_p_values
from wearlab.stats.scatter import scatter_law
from wearlab.stats.separate_scales import welch_lives_p_values
from wearlab.stats.several_groups import against_standard, all_pairs

QUICK = "--quick" in sys.argv
RUNS, SLOW_RUNS = (2_000, 300) if QUICK else (10_000, 2_000)
EQUAL = ((3, 3), (4, 4), (5, 5), (8, 8), (12, 12))
UNEQUAL = ((3, 8), (8, 3), (3, 12), (12, 3))
SIZES = EQUAL + UNEQUAL
TIMES = np.arange(5.0, 35.0, 5.0)
FLUTES, RATE, RATE_SD = 4, 0.006, 0.15
LIFE_SD, MEDIAN = 0.25, 60.0


def seed(*parts: object) -> np.random.Generator:
    """A generator that depends on the cell alone."""
    return np.random.default_rng(list("|".join(str(part) for part in parts).encode()))


# ---------------------------------------------------------------- wear rates


def readings(rng: np.random.Generator, cutters: int, sd: float, ratio: float, runs: int) -> np.ndarray:
    """Land readings, shape (runs, cutters, times, flutes)."""
    rate = RATE * ratio * np.exp(sd * rng.standard_normal((runs, cutters, 1, 1)))
    flute = 0.006 * rng.standard_normal((runs, cutters, 1, FLUTES))
    look = 0.004 * rng.standard_normal((runs, cutters, TIMES.size, 1))
    one = 0.010 * rng.standard_normal((runs, cutters, TIMES.size, FLUTES))
    return 0.03 + rate * TIMES[:, None] + flute + look + one


def slopes(lands: np.ndarray) -> np.ndarray:
    """Slope of the flute means of each cutter, shape (runs, cutters)."""
    weight = (TIMES - TIMES.mean()) / np.sum((TIMES - TIMES.mean()) ** 2)
    return lands.mean(axis=3) @ weight


def naive_p(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Interaction of time and practice with every reading taken as independent: what not to do."""
    from scipy.special import stdtr

    rows = [np.repeat(np.tile(TIMES, one.shape[1]), FLUTES) for one in (a, b)]
    in_b = np.repeat([0.0, 1.0], [rows[0].size, rows[1].size])
    t = np.concatenate(rows)
    X = np.column_stack([np.ones(t.size), t, in_b, in_b * t])
    y = np.concatenate([one.reshape(len(one), -1) for one in (a, b)], axis=1)
    beta = y @ np.linalg.pinv(X).T
    df = t.size - 4
    sigma2 = np.sum((y - beta @ X.T) ** 2, axis=1) / df
    return 2 * stdtr(df, -np.abs(beta[:, 3]) / np.sqrt(sigma2 * np.linalg.inv(X.T @ X)[3, 3]))


def student_p(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Common scatter."""
    from scipy.special import stdtr

    n, m = a.shape[1], b.shape[1]
    pooled = (a.var(axis=1) * n + b.var(axis=1) * m) / (n + m - 2)
    t = (a.mean(axis=1) - b.mean(axis=1)) / np.sqrt(pooled * (1 / n + 1 / m))
    return 2 * stdtr(n + m - 2, -np.abs(t))


def exact_p(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Exact permutation test of each trial."""
    return np.array([exact_mean_difference(x, y).p_value for x, y in zip(a, b, strict=True)])


def rate_methods(n: int, m: int, sds: tuple[float, float], ratio: float) -> dict[str, np.ndarray]:
    """p of each way of comparing wear rates."""
    rng = seed("rate", n, m, sds, ratio)
    found: dict[str, list[np.ndarray]] = {}
    for runs in _batches(RUNS):
        a, b = readings(rng, n, sds[0], ratio, runs), readings(rng, m, sds[1], 1.0, runs)
        log_a, log_b = (np.log(np.maximum(slopes(one), 1e-9)) for one in (a, b))
        part = {
            "rule": welch_p_values(log_a, log_b, steady=True),
            "welch": welch_p_values(log_a, log_b),
            "student": student_p(log_a, log_b),
            "naive": naive_p(a, b),
        }
        for name, p in part.items():
            found.setdefault(name, []).append(p)
        done = sum(len(p) for p in found.get("exact", []))
        if done < SLOW_RUNS:
            few = min(SLOW_RUNS - done, runs)
            found.setdefault("exact", []).append(exact_p(log_a[:few], log_b[:few]))
    return {name: np.concatenate(parts) for name, parts in found.items()}


def print_rates() -> None:
    """Size and power of the comparisons of wear rates."""
    print(f"\n### wear rates: size / power at 1.3 ({RUNS} runs, exact {SLOW_RUNS})\n")
    print(
        "| cutters | scatter a : b | as compare does it | Welch | Student | exact permutation (smallest p) "
        "| all readings |"
    )
    print("|---|---|---|---|---|---|---|")
    for n, m in SIZES:
        for label, sds in _scatters(RATE_SD):
            null, real = rate_methods(n, m, sds, 1.0), rate_methods(n, m, sds, 1.3)
            least = (2 if n == m else 1) / math.comb(n + m, n)
            cell = [_pair(null[name], real[name]) for name in ("rule", "welch", "student", "exact", "naive")]
            print(
                f"| {n} v {m} | {label} | {cell[0]} | {cell[1]} | {cell[2]} | {cell[3]} ({least:.3g}) | {cell[4]} |",
                flush=True,
            )


# ---------------------------------------------------------------- lives

KINDS = ("complete", "clock 25 %", "5 looks a life", "looks and clock 50 %")


def lives(
    n: int, m: int, kind: str, sds: tuple[float, float], ratio: float, law: str, runs: int
) -> tuple[np.ndarray, ...]:
    """Bounds of made-up lives, shape (runs, n + m)."""
    rng, scatter = seed("life", n, m, kind, sds, ratio, law), scatter_law(law)
    scale = np.repeat(np.array(sds) / scatter.sd, [n, m])
    centre = np.log(MEDIAN) + np.repeat([math.log(ratio), 0.0], [n, m])
    life = np.exp(centre + scale * (scatter.draw(rng, (runs, n + m)) - scatter.quantile(0.5)))
    looks = np.arange(1, 60) * MEDIAN / 5 if "look" in kind else None
    share = {"clock 25 %": 0.75, "looks and clock 50 %": 0.5}.get(kind)
    limit = math.inf if share is None else float(np.quantile(life, share))
    if looks is not None and share is not None:
        limit = math.ceil(limit / (MEDIAN / 5)) * MEDIAN / 5
    return seen_at(life, limit, looks)


def null_scores(lower: np.ndarray, upper: np.ndarray) -> np.ndarray:
    """Scores of every trial from its lognormal fit without groups; NaN where there is no fit."""
    n = lower.shape[1]
    fits, law = fit_lives_many(np.ones((n, 1)), lower, upper), scatter_law("lognormal")
    with np.errstate(divide="ignore", invalid="ignore"):
        low = (np.log(lower) - fits.beta) / fits.sigma[:, None]
        high = (np.log(upper) - fits.beta) / fits.sigma[:, None]
    scores = np.full(lower.shape, np.nan)
    sound = fits.converged[:, None] & np.ones(lower.shape, dtype=bool)
    exact, right, left = lower == upper, np.isinf(upper), lower == 0
    for mask, bound, terms in ((exact, low, law.exact), (right, low, law.right), (left, high, law.left)):
        here = sound & mask
        scores[here] = -terms(bound[here])[1]
    here = sound & ~(exact | right | left)
    _, by_low, by_high, *_ = law.between(low[here], high[here])
    scores[here] = -(by_low + by_high)
    return scores


def life_methods(
    n: int, m: int, kind: str, sds: tuple[float, float], ratio: float, law: str
) -> dict[str, np.ndarray]:
    """p of each way of comparing lives; NaN where a way gives none."""
    lower, upper = lives(n, m, kind, sds, ratio, law, RUNS)
    in_a = np.arange(n + m) < n
    fits = fit_lives_many(np.column_stack([np.ones(n + m), in_a]), lower, upper)
    scores = null_scores(lower[:SLOW_RUNS], upper[:SLOW_RUNS])
    exact = np.array([math.nan if np.isnan(one[0]) else score_test(one, in_a).p_value for one in scores])
    wald = np.abs(fits.beta[:, 1]) / np.sqrt(fits.covariance[:, 1, 1])
    return {
        "rule": rule_p(lower, upper, n),
        "profile": fits.p_value([0.0, 1.0]),
        "separate": welch_lives_p_values(lower[:, :n], upper[:, :n], lower[:, n:], upper[:, n:]),
        "exact": exact,
        "wald": np.where(wald > 1.959964, 0.0, np.where(np.isnan(wald), np.nan, 1.0)),
    }


def rule_p(lower: np.ndarray, upper: np.ndarray, n: int) -> np.ndarray:
    """p by the rule of `compare`: a common scale for sides of one size, else a scale each where it can be had."""
    m = lower.shape[1] - n
    fits = fit_lives_many(np.column_stack([np.ones(n + m), np.arange(n + m) < n]), lower, upper)
    pooled = fits.p_value([0.0, 1.0])
    if n == m:
        return pooled
    own = welch_lives_p_values(lower[:, :n], upper[:, :n], lower[:, n:], upper[:, n:], steady=True)
    return np.where(np.isnan(own), pooled, own)


def print_coverage() -> None:
    """How often the 95 % interval of `compare` holds the true ratio, which is 1.4."""
    print(f"\n### lives, true ratio 1.4: share of 95 % intervals that hold it ({RUNS} runs)\n")
    print(f"| cutters | scatter a : b | {' | '.join(KINDS)} |\n|---|---|{'---|' * len(KINDS)}")
    for n, m in SIZES:
        for label, sds in _scatters(LIFE_SD):
            shares = []
            for kind in KINDS:
                lower, upper = lives(n, m, kind, sds, 1.4, "lognormal", RUNS)
                turned = np.where(np.arange(n + m) < n, 1 / 1.4, 1.0)  # a true ratio of 1 then
                p = rule_p(lower * turned, upper * turned, n)
                shares.append(f"{1 - np.mean(p[np.isfinite(p)] < 0.05):.3f}")
            print(f"| {n} v {m} | {label} | {' | '.join(shares)} |", flush=True)


def print_lives(law: str, sizes: tuple[tuple[int, int], ...]) -> None:
    """Size and power of the comparisons of lives."""
    print(
        f"\n### lives, {law} truth: size / power at 1.4 ({RUNS} runs, exact {SLOW_RUNS}); trials without an answer"
    )
    print("count as no alarm\n")
    print(
        "| cutters | known | scatter a : b | as compare does it | profile F, common scale | scale each | exact scores "
        "| Wald z | none |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for n, m in sizes:
        for kind in KINDS:
            for label, sds in _scatters(LIFE_SD):
                null = life_methods(n, m, kind, sds, 1.0, law)
                real = life_methods(n, m, kind, sds, 1.4, law)
                cell = [_pair(null[name], real[name]) for name in ("rule", "profile", "separate", "exact", "wald")]
                none = f"{np.isnan(null['profile']).mean():.2f} {np.isnan(null['separate']).mean():.2f}"
                print(f"| {n} v {m} | {kind} | {label} | {' | '.join(cell)} | {none} |", flush=True)


# ---------------------------------------------------------------- several practices, and "alike"


def family_alarm(count: int, n: int, sds: tuple[float, ...], compare: Callable) -> float:
    """Share of trials with any alarm among equal practices."""
    rng = seed("family", count, n, sds, compare.__name__)
    alarms = 0
    for _ in range(SLOW_RUNS):
        groups = {f"P{k}": sd * rng.standard_normal(n) for k, sd in enumerate(sds)}
        family = compare(groups)
        alarms += any(one.p_value < 0.05 for one in family.contrasts)
    return alarms / SLOW_RUNS


def every_pair(groups: dict[str, np.ndarray]):
    """All pairs, by the sizes."""
    return all_pairs(groups)


def with_standard(groups: dict[str, np.ndarray]):
    """Against the first, by the sizes."""
    return against_standard(groups, "P0")


def print_families() -> None:
    """Chance of any false alarm."""
    print(f"\n### several practices: chance of any false alarm ({SLOW_RUNS} runs)\n")
    print(
        "| practices | cutters each | all pairs, equal | one three times | to a standard, equal | one three times |"
    )
    print("|---|---|---|---|---|---|")
    for count in (3, 4):
        for n in (3, 4, 5, 8, 12):
            equal, one = (0.15,) * count, (0.15,) * (count - 1) + (0.45,)
            cell = [
                family_alarm(count, n, sds, way)
                for way in (every_pair, with_standard)
                for sds in (equal, one)
            ]
            print(f"| {count} | {n} | " + " | ".join(f"{one:.3f}" for one in cell) + " |", flush=True)


def print_alike() -> None:
    """False "alike" at the margin, and how often practices that are alike are called so."""
    print(f"\n### equivalence, margin 1.25, scatter 0.15 ({RUNS} runs): called alike or small at a true ratio of")
    print("1.25 (false), at 1 (right); called different at 1 (false)\n")
    print("| cutters | scatter a : b | false alike | right alike | false different |\n|---|---|---|---|---|")
    for n, m in SIZES:
        for label, sds in _scatters(0.15):
            shares = []
            for ratio in (1.25, 1.0):
                rng = seed("alike", n, m, sds, ratio)
                a = math.log(ratio) + sds[0] * rng.standard_normal((RUNS, n))
                b = sds[1] * rng.standard_normal((RUNS, m))
                small, apart = _judged(a, b, math.log(1.25))
                shares.append([small.mean(), (apart & ~small).mean()])
            print(f"| {n} v {m} | {label} | {shares[0][0]:.3f} | {shares[1][0]:.3f} | {shares[1][1]:.3f} |", flush=True)


def _judged(a: np.ndarray, b: np.ndarray, margin: float) -> tuple[np.ndarray, np.ndarray]:
    """Whether each trial is called small (both one-sided tests at 5 %), and whether it is called a difference."""
    gap = (a.mean(axis=1) - b.mean(axis=1))[:, None]
    ends = [welch_p_values(a - end, b, steady=True)[:, None] / 2 for end in (-margin, margin)]
    low = np.where(gap > -margin, ends[0], 1 - ends[0])
    high = np.where(gap < margin, ends[1], 1 - ends[1])
    return (np.maximum(low, high) < 0.05)[:, 0], welch_p_values(a, b, steady=True) < 0.05


# ---------------------------------------------------------------- helpers


def _scatters(sd: float) -> list[tuple[str, tuple[float, float]]]:
    return [("1 : 1", (sd, sd)), ("3 : 1", (3 * sd, sd))]


def _batches(runs: int) -> list[int]:
    return [2_000] * (runs // 2_000) + ([runs % 2_000] if runs % 2_000 else [])


def _pair(null: np.ndarray, real: np.ndarray) -> str:
    """Size and power; a comparison without a p is no alarm."""
    return f"{np.mean(np.nan_to_num(null, nan=1.0) < 0.05):.3f} / {np.mean(np.nan_to_num(real, nan=1.0) < 0.05):.2f}"


PARTS: dict[str, Callable[[], None]] = {
    "rates": print_rates,
    "lognormal-equal": lambda: print_lives("lognormal", EQUAL),
    "lognormal-unequal": lambda: print_lives("lognormal", UNEQUAL),
    "weibull-equal": lambda: print_lives("weibull", EQUAL),
    "weibull-unequal": lambda: print_lives("weibull", UNEQUAL),
    "coverage": print_coverage,
    "families": print_families,
    "alike": print_alike,
}

if __name__ == "__main__":
    begun = time.perf_counter()
    for part in [word for word in sys.argv[1:] if not word.startswith("-")] or PARTS:
        PARTS[part]()
        print(f"\n{time.perf_counter() - begun:.0f} s so far", flush=True)
