from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.change_interval import ChangeInterval, change_interval, costs_of_change, tame, whole_parts
from wearlab.stats.lives import Lives
from wearlab.stats.tolerance import normal_factor

COMPLETE = np.array([52.0, 61.0, 47.0, 70.0, 58.0, 66.0, 49.0, 75.0])


def made(lives: Lives | None = None, **more: object) -> ChangeInterval:
    lives = lives if lives is not None else Lives(COMPLETE, COMPLETE)
    settings = {"clock_per_part": 1.3, "rng": 1} | more
    return change_interval(np.ones((len(lives), 1)), lives, [1.0], 30.0, 150.0, **settings)  # type: ignore[arg-type]


def test_the_shorter_law_is_taken_when_failures_are_few() -> None:
    found = made()
    ages = {one.law: one.age for one in found.optima}
    assert set(ages) == {"lognormal", "weibull"}
    assert found.interval == min(ages.values()) == ages[found.law]


def test_the_likelier_law_is_taken_when_failures_are_many() -> None:
    rng = np.random.default_rng(6)
    many = np.exp(4 + 0.4 * rng.standard_normal(60))
    found = made(Lives(many, many))
    assert found.failures == 60
    assert found.law == "lognormal"


def test_whole_parts_are_rounded_down() -> None:
    found = made()
    assert found.parts == math.floor(found.interval / 1.3)
    assert found.parts * 1.3 <= found.interval < (found.parts + 1) * 1.3


@given(st.floats(0.01, 1e4), st.floats(0.01, 100))
def test_parts_never_exceed_the_interval(interval: float, each: float) -> None:
    parts, why = whole_parts(interval, each)
    assert parts is not None
    assert parts * each <= interval * (1 + 1e-9) < (parts + 1) * each * (1 + 1e-9)
    assert bool(why) == (parts == 0)


def test_why_there_are_no_whole_parts() -> None:
    assert whole_parts(math.inf, 1.3)[1].startswith("no planned change pays")
    assert "not known" in whole_parts(50.0, math.nan)[1]


def test_not_knowing_the_law_is_in_the_interval() -> None:
    found = made()
    known = {one.law: one.age for one in found.point_optima}
    assert all(one.age < known[one.law] for one in found.optima)
    assert all(one.failing > 0 for one in found.optima)


def test_the_lower_bound_is_the_exact_one() -> None:
    """Normal tolerance factor of 8 lives (ISO 16269-6, from memory: 2.219) on their logs."""
    bound = {one.distribution: one for one in made().bounds}["lognormal"]
    logs = np.log(COMPLETE)
    expected = math.exp(logs.mean() - normal_factor(8) * logs.std(ddof=1))
    assert bound.bound == pytest.approx(expected, rel=1e-9)


def test_the_rule_of_reliability_takes_the_smaller_bound() -> None:
    found = made(rule="reliability")
    assert found.interval == min(one.bound for one in found.bounds)
    assert found.bounds[0].bound <= found.bounds[1].bound
    assert found.failing == pytest.approx(0.1)


def test_a_withdrawn_cutter_counts() -> None:
    upper = np.where(COMPLETE == 75.0, np.inf, COMPLETE)
    longer = np.append(COMPLETE, 90.0), np.append(COMPLETE, np.inf)
    assert made(Lives(COMPLETE, upper)).lives == 8
    # At least 90 minutes: lives are longer on the mean than without it.
    assert made(Lives(*longer)).optima[0].rate_without < made().optima[0].rate_without


def test_an_interval_beyond_every_run_is_not_called_tested() -> None:
    withdrawn = np.full(3, 20.0)
    lives = Lives(np.append([18.0, 19.0, 20.0, 19.5], withdrawn), np.append([18.0, 19.0, 20.0, 19.5], [np.inf] * 3))
    found = change_interval(np.ones((7, 1)), lives, [1.0], 100.0, 105.0, clock_per_part=1.0, rng=1)
    assert found.longest_run == 20.0
    assert found.tested == (found.interval <= 20.0)
    assert not found.tested


def test_units_of_time_and_money_move_no_part() -> None:
    a = made()
    seconds = change_interval(
        np.ones((8, 1)), Lives(60 * COMPLETE, 60 * COMPLETE), [1.0], 3000.0, 15000.0, clock_per_part=78.0, rng=1
    )
    assert seconds.parts == a.parts
    assert seconds.interval == pytest.approx(60 * a.interval, rel=1e-5)


def test_dearer_failures_shorten_the_interval() -> None:
    lives, X = Lives(COMPLETE, COMPLETE), np.ones((8, 1))
    ages = [change_interval(X, lives, [1.0], 30.0, cost, rng=1).interval for cost in (60.0, 150.0, 600.0)]
    assert ages == sorted(ages, reverse=True)


def test_the_wildest_draw_is_held_back() -> None:
    location, sigma = tame(np.array([-50.0, 4.0, 50.0]), np.array([1e-9, 0.3, 80.0]), 4.0, 0.3)
    assert location == pytest.approx([4 - math.log(4), 4.0, 4 + math.log(4)])
    assert sigma == pytest.approx([0.075, 0.3, 1.2])


def test_records_speak() -> None:
    found = made()
    table = found.to_frame()
    assert list(table["law"]) == ["lognormal", "weibull"]
    assert (table["lower_bound"] > 0).all()
    facts = found.to_dict()
    assert facts["parts"] == found.parts
    assert facts["unbounded"] is None
    assert found.sure_shortest == pytest.approx(1 - 0.9**8)


def test_costs_of_a_change() -> None:
    assert costs_of_change(28.0, 3.0, 1.2, 80.0) == pytest.approx((31.6, 111.6))
    with pytest.raises(Refusal, match="costs nothing"):
        costs_of_change(0.0, 0.0, 1.2, 80.0)


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="least_cost, reliability"):
        made(rule="mean")
    with pytest.raises(Refusal, match="failure"):
        made(Lives([50.0, 60.0], [np.inf, np.inf]))
