"""Age replacement against numerical integration, a search by brute force, and a simulation event by event."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import gamma
from scipy.stats import lognorm, weibull_min

from wearlab.core.errors import ArgumentError
from wearlab.decide.age_replacement import age_law, best_age, cost_rate

MEAN = 60.0


def parameters(law: str, cv: float, mean: float = MEAN) -> tuple[float, float]:
    """Location and sigma of ln life from mean and coefficient of variation."""
    if law == "lognormal":
        sigma = math.sqrt(math.log1p(cv**2))
        return math.log(mean) - sigma**2 / 2, sigma
    shape = brentq(lambda k: math.sqrt(gamma(1 + 2 / k) / gamma(1 + 1 / k) ** 2 - 1) - cv, 0.3, 60)
    return math.log(mean / gamma(1 + 1 / shape)), 1 / shape


def scipy_law(law: str, location: float, sigma: float):  # type: ignore[no-untyped-def]
    if law == "lognormal":
        return lognorm(sigma, scale=math.exp(location))
    return weibull_min(1 / sigma, scale=math.exp(location))


@pytest.mark.parametrize("law", ["lognormal", "weibull"])
@pytest.mark.parametrize("cv", [0.05, 0.15, 0.3, 0.45, 1.2])
@pytest.mark.parametrize("age", [5.0, 30.0, 60.0, 150.0])
def test_the_cost_rate_is_that_of_numerical_integration(law: str, cv: float, age: float) -> None:
    location, sigma = parameters(law, cv)
    other = scipy_law(law, location, sigma)
    use, _ = quad(other.sf, 0, age, epsabs=0, epsrel=1e-12, limit=400, points=[min(age / 2, MEAN)])
    expected = (1.0 * other.sf(age) + 5.0 * other.cdf(age)) / use
    assert float(cost_rate(age, law, location, sigma, 1.0, 5.0)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("law", ["lognormal", "weibull"])
def test_without_a_planned_change_the_rate_is_failure_over_mean_life(law: str) -> None:
    location, sigma = parameters(law, 0.3)
    assert float(cost_rate(np.inf, law, location, sigma, 1.0, 5.0)) == pytest.approx(5.0 / MEAN, rel=1e-12)
    assert float(age_law(law).mean_use(1e6, location, sigma)) == pytest.approx(MEAN, rel=1e-9)


TABLE = {
    (0.15, 2): (50, 48), (0.15, 5): (42, 43), (0.15, 20): (34, 39),
    (0.30, 2): (51, 45), (0.30, 5): (35, 34), (0.30, 20): (23, 28),
    (0.45, 2): (62, 51), (0.45, 5): (33, 29), (0.45, 20): (17, 20),
}  # fmt: skip
"""Least-cost age in minutes under Weibull and lognormal, mean life 60 min, by CV and C_f/C_p: worked out beforehand on
figures of our own."""


@pytest.mark.parametrize(("cv", "ratio"), list(TABLE))
def test_the_table_of_change_intervals(cv: float, ratio: int) -> None:
    for law, expected in zip(("weibull", "lognormal"), TABLE[cv, ratio], strict=True):
        found = best_age(law, *parameters(law, cv), 1.0, float(ratio))
        assert abs(found.age - expected) <= 0.5


def test_the_law_moves_the_interval_by_up_to_12_minutes_and_the_risk_manyfold() -> None:
    """Over that table: apart most where lives scatter much and a failure costs little; that is why both are shown."""
    apart, risk = {}, {}
    for cv, ratio in TABLE:
        ages = [best_age(law, *parameters(law, cv), 1.0, float(ratio)).age for law in ("weibull", "lognormal")]
        apart[cv, ratio] = abs(ages[0] - ages[1])
        failing = [float(scipy_law(law, *parameters(law, cv)).cdf(min(ages))) for law in ("weibull", "lognormal")]
        risk[cv, ratio] = max(failing) / min(failing)
    assert max(apart, key=lambda key: apart[key]) == (0.45, 2)
    assert apart[0.45, 2] == pytest.approx(11.6, abs=0.05)
    # Where failures are dear the ages lie within 5 minutes, and the share failing before them far apart.
    assert max(value for key, value in apart.items() if key[1] > 2) == pytest.approx(4.8, abs=0.05)
    found = [[risk[cv, ratio] for cv in (0.15, 0.30, 0.45)] for ratio in (2, 5, 20)]
    expected = ([1.28, 1.02, 1.08], [3.61, 2.14, 1.86], [58.8, 21.2, 11.2])
    assert found == [pytest.approx(row, rel=0.02) for row in expected]


@pytest.mark.parametrize("law", ["lognormal", "weibull"])
@pytest.mark.parametrize("cv", [0.15, 0.45])
@pytest.mark.parametrize("ratio", [2.0, 20.0])
def test_no_age_of_a_fine_grid_costs_less(law: str, cv: float, ratio: float) -> None:
    location, sigma = parameters(law, cv)
    found = best_age(law, location, sigma, 1.0, ratio)
    rates = cost_rate(np.linspace(0.5, 400.0, 40_000), law, location, sigma, 1.0, ratio)
    assert found.rate <= rates.min() * (1 + 1e-9)
    assert found.rate < found.rate_without
    assert found.failing == pytest.approx(float(scipy_law(law, location, sigma).cdf(found.age)), rel=1e-9)


@pytest.mark.parametrize("law", ["lognormal", "weibull"])
def test_a_hundred_thousand_changes_cost_what_is_said(law: str) -> None:
    """Cutters one after the other on one machine: money over time, with the error of the ratio."""
    location, sigma = parameters(law, 0.3)
    planned, failed = 30.0, 150.0
    found = best_age(law, location, sigma, planned, failed)
    rng = np.random.default_rng(20261)
    lives = scipy_law(law, location, sigma).rvs(100_000, random_state=rng)
    clock, money = 0.0, 0.0
    spans, costs = np.empty(len(lives)), np.empty(len(lives))
    for i, life in enumerate(lives):
        span = min(life, found.age)
        cost = failed if life < found.age else planned
        clock, money = clock + span, money + cost
        spans[i], costs[i] = span, cost
    error = np.std(costs - money / clock * spans) / math.sqrt(len(lives)) / spans.mean()
    assert money / clock == pytest.approx(found.rate, abs=4 * error)
    assert error < 0.01 * found.rate


def test_chance_failures_are_not_planned_against() -> None:
    """Exponential lives: an old cutter is as good as a new one, so no planned change pays."""
    found = best_age("weibull", math.log(60.0), 1.0, 1.0, 5.0)
    assert math.isinf(found.age)
    assert found.rate == pytest.approx(5.0 / 60.0, rel=1e-9)


def test_a_failure_that_costs_no_more_is_waited_for() -> None:
    assert math.isinf(best_age("lognormal", 4.0, 0.3, 1.0, 1.0).age)


@pytest.mark.parametrize("law", ["lognormal", "weibull"])
def test_units_of_time_and_money_move_nothing(law: str) -> None:
    location, sigma = parameters(law, 0.3)
    minutes = best_age(law, location, sigma, 1.0, 5.0)
    seconds = best_age(law, location + math.log(60.0), sigma, 100.0, 500.0)
    assert seconds.age == pytest.approx(60 * minutes.age, rel=1e-5)
    assert seconds.rate == pytest.approx(100 * minutes.rate / 60, rel=1e-9)


def test_one_law_many_times_over_is_the_law_itself() -> None:
    location, sigma = parameters("lognormal", 0.3)
    once = best_age("lognormal", location, sigma, 1.0, 5.0)
    many = best_age("lognormal", np.full(50, location), np.full(50, sigma), 1.0, 5.0)
    assert many.age == pytest.approx(once.age, rel=1e-4)


def test_not_knowing_the_law_shortens_the_interval_when_failures_are_dear() -> None:
    rng = np.random.default_rng(3)
    location, sigma = parameters("lognormal", 0.3)
    unsure = best_age("lognormal", location + 0.3 * rng.standard_normal(2000), np.full(2000, sigma), 1.0, 10.0)
    assert unsure.age < best_age("lognormal", location, sigma, 1.0, 10.0).age


def test_wild_draws_do_not_break_the_search() -> None:
    found = best_age("lognormal", np.array([3.0, 4.0, 5.0]), np.array([0.01, 0.3, 3.0]), 1.0, 5.0)
    assert math.isfinite(found.age)
    assert found.age > 0


def test_mean_minus_three_sigma_is_no_rule() -> None:
    """It gives 33, 6 and no minutes at CV 15, 30 and 45 %: the cost at it is far above the least."""
    location, sigma = parameters("lognormal", 0.3)
    best = best_age("lognormal", location, sigma, 1.0, 5.0)
    assert float(cost_rate(60.0 - 3 * 18.0, "lognormal", location, sigma, 1.0, 5.0)) > 2 * best.rate


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="lognormal, weibull"):
        best_age("gamma", 4.0, 0.3, 1.0, 5.0)
    with pytest.raises(ArgumentError, match="less than a planned change"):
        best_age("weibull", 4.0, 0.3, 5.0, 1.0)
    with pytest.raises(ArgumentError, match="sigma"):
        best_age("weibull", 4.0, 0.0, 1.0, 5.0)
