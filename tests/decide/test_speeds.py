"""Least-cost and highest-rate speeds, against print, against plain minimising, and inside what was tested."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.cost import cost_of_part, worn_out_operation
from wearlab.decide.shop import ShopCosts
from wearlab.decide.speeds import (
    TESTED,
    choose_speeds,
    highest_rate_life,
    least_cost_life,
    relative_cost,
    speeds_from_fit,
)
from wearlab.fit.laws import speed_for
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.life.lives import tool_lives, trial_criteria
from wearlab.logbook.trial import Trial

EXAMPLE = {"machine_per_min": 1.2, "change_min": 3.0, "edge_cost": 28.0}
"""n 0.25 and C 180 belong to it: figures of our own."""


class TestPrinted:
    def test_sharma_minimum_cost_speed(self) -> None:
        """P. C. Sharma, A Textbook of Production Engineering, Exa 14.2 p. 564 (seen in an open companion).

        n 0.25, C 150; change 8 min, regrind 5 min, Rs 5/h, depreciation Rs 0.30: tool cost Rs 1.383, V 56.5, T 49.8.
        """
        rate = 5.0 / 60.0
        edge = 5.0 * rate + 0.30
        assert edge + 8.0 * rate == pytest.approx(1.383, abs=0.0005)
        life = least_cost_life(0.25, 8.0, edge, rate)
        assert life == pytest.approx(49.8, abs=0.05)
        assert speed_for(life, 0.25, 150.0) == pytest.approx(56.5, abs=0.1)

    def test_ghosh_minimum_cost_speed(self) -> None:
        """Ghosh and Mallik, Manufacturing Science, problem 4.26 p. 268 (seen): 27.42 m/min at T 56 min."""
        life = least_cost_life(0.25, 2.0, 2.50, 0.15)
        assert life == pytest.approx(56.0, abs=1e-9)
        assert speed_for(life, 0.25, 75.0) == pytest.approx(27.42, abs=0.01)

    @pytest.mark.parametrize("n", [0.1, 0.16, 0.25, 0.4, 0.7])
    def test_closed_forms_are_the_least_cost_and_the_least_time(self, n: float) -> None:
        """T = (1/n - 1)(t + C_t/C_o) and (1/n - 1) t (Groover, economics of machining; Gilbert's model, seen)."""
        c, change, edge, rate = 150.0, 3.0, 28.0, 1.2

        def cost(v: float, money: float) -> float:
            minutes = 1.0 / v
            return minutes + minutes / (c / v) ** (1 / n) * (change + money / rate)

        for life, money in ((least_cost_life(n, change, edge, rate), edge), (highest_rate_life(n, change), 0.0)):
            speed = speed_for(life, n, c)
            found = minimize_scalar(
                lambda x, money=money: cost(math.exp(x), money),
                bracket=(math.log(speed) - 1, math.log(speed) + 1), tol=1e-12,
            )  # fmt: skip
            assert math.exp(found.x) == pytest.approx(speed, rel=1e-5)

    @pytest.mark.parametrize(("feed", "length"), [(0.05, 120.0), (0.2, 30.0)])
    def test_the_cost_of_a_part_is_least_there_at_any_feed_and_length(self, feed: float, length: float) -> None:
        shop = ShopCosts(machine_per_min=1.2, change_min=3.0, idle_min=2.0)

        def cost(v: float) -> float:
            minutes = math.pi * 10 * length / (1000 * v * feed * 4)
            return cost_of_part([worn_out_operation(minutes, (180.0 / v) ** 4, 28.0)], shop).per_part

        found = minimize_scalar(cost, bracket=(50.0, 60.0), tol=1e-10)
        assert found.x == pytest.approx(60.376, rel=1e-4)


def test_our_example_of_a_shop() -> None:
    made = choose_speeds(0.25, 180.0, tested=(50.0, 110.0), **EXAMPLE)
    assert made.least_cost.life_min == pytest.approx(79.0)
    assert made.least_cost.speed_m_min == pytest.approx(60.4, abs=0.05)
    assert made.highest_rate.life_min == pytest.approx(9.0)
    assert made.highest_rate.speed_m_min == pytest.approx(103.9, abs=0.05)
    assert made.least_cost.brand == made.highest_rate.brand == TESTED


def test_a_fifth_to_either_side_costs_5_7_to_6_6_per_cent() -> None:
    best = 60.376194
    slow, fast = relative_cost([0.8 * best, 1.2 * best], 0.25, 180.0, 79.0 / 3) - 1
    assert slow == pytest.approx(0.0655, abs=5e-5)
    assert fast == pytest.approx(0.0570, abs=5e-5)


def test_the_flat_range_costs_just_what_it_says() -> None:
    made = choose_speeds(0.25, 180.0, tested=(50.0, 110.0), within=0.05, **EXAMPLE)
    ends = relative_cost([made.flat_low, made.flat_high], 0.25, 180.0, made.cost_minutes)
    assert ends == pytest.approx([1.05, 1.05], rel=1e-9)
    assert made.flat_low < made.least_cost.speed_m_min < made.flat_high


def test_the_curve_has_its_least_cost_at_the_optimum() -> None:
    table = choose_speeds(0.25, 180.0, tested=(50.0, 75.0), points=801, **EXAMPLE).to_frame()
    assert table["relative_cost"].min() == pytest.approx(1.0, abs=1e-5)
    assert table["speed_m_min"][table["relative_cost"].idxmin()] == pytest.approx(60.38, rel=0.002)
    assert table["speed_m_min"][table["relative_time"].idxmin()] == pytest.approx(103.9, rel=0.002)
    assert table["tested"].sum() == ((table["speed_m_min"] >= 50) & (table["speed_m_min"] <= 75)).sum()


class TestClamped:
    def test_above_the_tested_range(self) -> None:
        made = choose_speeds(0.25, 180.0, tested=(40.0, 55.0), **EXAMPLE)
        assert made.least_cost.usable_m_min == 55.0
        assert made.least_cost.brand == "not tested there: 40 to 55 m/min was"
        assert not made.least_cost.tested

    def test_below_the_tested_range(self) -> None:
        made = choose_speeds(0.25, 180.0, tested=(70.0, 110.0), **EXAMPLE)
        assert made.least_cost.usable_m_min == 70.0
        assert not made.least_cost.tested

    def test_one_speed_tested(self) -> None:
        made = choose_speeds(0.25, 180.0, tested=(70.0, 70.0), **EXAMPLE)
        assert "70 m/min only" in made.least_cost.brand

    def test_the_limit_of_the_maker_counts_more_than_the_range(self) -> None:
        made = choose_speeds(0.25, 180.0, tested=(50.0, 110.0), limit_m_min=58.0, **EXAMPLE)
        assert made.least_cost.usable_m_min == 58.0
        assert made.least_cost.brand == "above the limit of 58 m/min"


@pytest.mark.parametrize("n", [1.0, 1.4, 0.0, -0.2])
def test_an_exponent_without_an_optimum_is_refused(n: float) -> None:
    with pytest.raises(Refusal, match="between 0 and 1"):
        choose_speeds(n, 180.0, tested=(50.0, 75.0), **EXAMPLE)


def test_bad_figures_are_refused() -> None:
    with pytest.raises(ArgumentError, match="machine_per_min"):
        least_cost_life(0.25, 3.0, 28.0, 0.0)
    with pytest.raises(ArgumentError, match="change_min"):
        choose_speeds(0.25, 180.0, tested=(50.0, 75.0), machine_per_min=1.2, change_min=0.0, edge_cost=28.0)


def test_another_currency_or_unit_of_length_moves_nothing() -> None:
    a = choose_speeds(0.25, 180.0, tested=(50.0, 75.0), **EXAMPLE)
    b = choose_speeds(0.25, 180.0, tested=(50.0, 75.0), machine_per_min=120.0, change_min=3.0, edge_cost=2800.0)
    assert b.least_cost.speed_m_min == pytest.approx(a.least_cost.speed_m_min, rel=1e-12)
    feet = choose_speeds(0.25, 180.0 / 0.3048, tested=(50.0 / 0.3048, 75.0 / 0.3048), **EXAMPLE)
    assert feet.least_cost.speed_m_min * 0.3048 == pytest.approx(a.least_cost.speed_m_min, rel=1e-12)


@pytest.fixture(scope="module")
def fit(sample: Callable[[str], Trial]) -> ToolLifeFit:
    trial = sample("shoulder_demo")
    lives = tool_lives(trial, trial_criteria(trial)[0][:1], ["cutting_time_min"]).to_frame()
    return fit_tool_life(lives, trial.facts())


class TestFromAFit:
    def test_layered_cutters_of_the_invented_trial(self, fit: ToolLifeFit) -> None:
        made = speeds_from_fit(fit, group=("strategy", "layered"), rng=1, **{**EXAMPLE, "edge_cost": 48.0})
        # The truth of the simulation: n 0.25, C 176.04.
        lost = 3.0 + 48.0 / 1.2
        assert made.tested == (55.0, 105.0)
        assert made.interval(0.95).contains(176.0407 / (3 * lost) ** 0.25)
        assert made.n == pytest.approx(0.25, abs=0.05)

    def test_the_interval_is_that_of_the_draws_and_holds_the_estimate(self, fit: ToolLifeFit) -> None:
        made = speeds_from_fit(fit, group=("strategy", "layered"), rng=1, **EXAMPLE)
        wide, narrow = made.interval(0.95), made.interval(0.5)
        assert wide.low < narrow.low < made.least_cost.speed_m_min < narrow.high < wide.high

    def test_a_group_with_one_speed_is_never_called_tested_elsewhere(self, fit: ToolLifeFit) -> None:
        made = speeds_from_fit(fit, group=("strategy", "side"), rng=1, **EXAMPLE)
        assert made.tested == (70.0, 70.0)
        assert made.least_cost.usable_m_min == 70.0

    def test_same_seed_same_draws(self, fit: ToolLifeFit) -> None:
        a, b = (speeds_from_fit(fit, group=("strategy", "side"), rng=7, **EXAMPLE) for _ in range(2))
        assert np.array_equal(a.draws, b.draws)
