"""When to look."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.plan.looks import WIDEST, even_gap_scatter, look_cost, plan_looks, weigh_looks


def test_what_a_gap_costs() -> None:
    """A gap of a quarter of the life turns 0.30 into 0.3086, one of a half into 0.333 (derived: Sheppard)."""
    assert round(even_gap_scatter(0.30, 0.25), 4) == 0.3086
    assert round(even_gap_scatter(0.30, 0.50), 3) == 0.333


def test_cost_in_simulation() -> None:
    """Lives that are only known to lie between two looks, taken at the middle of the gap in ln time: their scatter."""
    minutes = np.array([8, 30, 50, 65, 80, 95, 110, 130, 155, 200, 260.0])
    sigma = 0.3
    life = 100 * np.exp(sigma * np.random.default_rng(2).standard_normal(400_000))
    inside = (life > minutes[0]) & (life < minutes[-1])
    at = np.searchsorted(minutes, life[inside])
    low, high = np.log(minutes[at - 1]), np.log(minutes[at])
    error = np.log(life[inside]) - (low + high) / 2
    cost = look_cost(minutes.tolist(), 100, sigma)
    # The density is not flat inside a gap, which the formula takes it to be.
    assert np.mean(error**2) == pytest.approx(cost.gap_variance, rel=0.06)


@pytest.mark.parametrize("sigma", [0.15, 0.25, 0.34, 0.45])
@pytest.mark.parametrize("per_life", [5, 7, 9])
def test_better_than_even_looks_of_the_same_number(sigma: float, per_life: int) -> None:
    found = plan_looks(100, sigma, 1.0, per_life=per_life)
    even = np.linspace(found.minutes[0], found.minutes[-1], len(found.minutes))
    assert found.cost.gap_variance < look_cost(even.tolist(), 100, sigma).gap_variance
    assert found.before_the_end >= per_life


def test_no_other_set_of_looks_at_whole_parts_is_better() -> None:
    """Against every set of as many looks, on a grid small enough to try them all."""
    from itertools import combinations

    found = plan_looks(10, 0.3, 1.0, per_life=4)
    ends = (found.parts[0], found.parts[-1])
    best = math.inf
    for inner in combinations(range(ends[0] + 1, ends[1]), len(found.parts) - 2):
        looks = (ends[0], *inner, ends[1])
        if max(np.diff(looks)) <= max(WIDEST * 10, 1):
            best = min(best, look_cost(looks, 10, 0.3).gap_variance)
    assert found.cost.gap_variance == pytest.approx(best, rel=1e-12)


def test_whole_parts_that_rise_and_the_first_at_break_in() -> None:
    found = plan_looks(40, 0.34, 0.857)
    assert all(b > a for a, b in zip(found.parts, found.parts[1:], strict=False))
    assert found.minutes == pytest.approx([0.857 * parts for parts in found.parts])
    assert found.minutes[0] == pytest.approx(0.08 * 40, abs=0.857)
    assert max(np.diff([m for m in found.minutes if m < 40])) <= WIDEST * 40 + 0.857
    assert found.chance_past_the_last < 0.012


def test_long_parts_and_many_parts() -> None:
    """A part of a third of the life is looked at every time; thousands of parts are no burden."""
    assert plan_looks(30, 0.3, 10).parts[:4] == (1, 2, 3, 4)
    assert 7 <= plan_looks(60, 0.3, 0.005).before_the_end <= 9


def test_expected_looks_in_simulation() -> None:
    found = plan_looks(40, 0.34, 0.8)
    life = 40 * np.exp(0.34 * np.random.default_rng(4).standard_normal(200_000))
    made = np.minimum(np.searchsorted(found.minutes, life) + 1, len(found.minutes))
    assert made.mean() == pytest.approx(found.expected_looks, rel=0.01)


def test_looking_less_often_saves_stops_and_costs_precision() -> None:
    planned = plan_looks(40, 0.34, 0.8, stop_min=6.0)
    found = weigh_looks(planned, 0.8)
    assert [count for count, _ in found] == [one.before_the_end for _, one in found]
    assert dict(found)[7] == planned
    stops = [one.expected_looks * one.stop_min for _, one in found]
    inflation = [one.cost.inflation for _, one in found]
    assert stops == sorted(stops)
    assert inflation == sorted(inflation, reverse=True)
    few, many = found[0][1], found[-1][1]
    rng = np.random.default_rng(9)
    seen = {}
    for name, one in (("few", few), ("many", many)):
        times = np.log(np.asarray(one.minutes))
        life = math.log(40) + 0.34 * rng.standard_normal(400_000)
        at = np.searchsorted(times, life)
        inside = (at > 0) & (at < len(times))
        # A life that is only known to lie between two looks, put anywhere between them.
        low, high = times[at[inside] - 1], times[at[inside]]
        error = low + (high - low) * rng.random(inside.sum()) - life[inside]
        seen[name] = float(np.mean(error**2)) / 2.0  # of the place and of the guess
    assert seen["few"] == pytest.approx(few.cost.gap_variance, rel=0.05)
    assert seen["many"] == pytest.approx(many.cost.gap_variance, rel=0.05)


@pytest.mark.parametrize(
    "bad", [{"expected_life_min": 0}, {"sigma": 0}, {"minutes_a_part": 0}, {"first": 0.6}, {"per_life": 1}]
)
def test_bad_arguments(bad: dict) -> None:
    good = {"expected_life_min": 40, "sigma": 0.3, "minutes_a_part": 1.0}
    with pytest.raises(ArgumentError, match="looks"):
        plan_looks(**(good | bad))
    with pytest.raises(ArgumentError, match="rising, above 0"):
        look_cost([5, 4], 10, 0.3)
