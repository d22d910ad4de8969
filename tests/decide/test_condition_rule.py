from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import t

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.condition_rule import condition_rule, condition_rule_of
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial


def straight(rates: list[float], until: float = 60.0) -> list[tuple[np.ndarray, np.ndarray]]:
    clock = np.arange(0.0, until + 1, 5.0)
    return [(clock, 0.05 + rate * clock) for rate in rates]


def test_the_land_leaves_room_for_the_growth_until_the_next_look() -> None:
    rates = [0.0040, 0.0045, 0.0050, 0.0055]
    found = condition_rule(straight(rates), 0.20, 2.0)
    logs = np.log(rates)
    high = math.exp(logs.mean() + t.ppf(0.95, 3) * logs.std(ddof=1) * math.sqrt(1.25))
    assert found.growth_high == pytest.approx(high, rel=1e-9)
    assert found.change_at == pytest.approx(0.20 - 2.0 * high, rel=1e-9)
    assert found.passed == 0
    assert found.mean_use < found.mean_life == pytest.approx(np.mean(0.15 / np.array(rates)), rel=1e-9)


def test_a_reading_error_and_a_longer_step_lower_the_land() -> None:
    curves = straight([0.0040, 0.0045, 0.0050, 0.0055])
    plain = condition_rule(curves, 0.20, 2.0).change_at
    assert condition_rule(curves, 0.20, 2.0, reading_sd=0.004).change_at < plain
    assert condition_rule(curves, 0.20, 4.0).change_at < plain


def test_a_cutter_that_stopped_early_says_nothing_of_the_end() -> None:
    curves = straight([0.0040, 0.0045, 0.0050, 0.0055])
    early = (np.array([0.0, 5.0]), np.array([0.05, 0.0501]))
    assert condition_rule([*curves, early], 0.20, 2.0).change_at == condition_rule(curves, 0.20, 2.0).change_at


def test_looks_too_far_apart_give_no_rule() -> None:
    found = condition_rule(straight([0.0040, 0.0045, 0.0050, 0.0055]), 0.20, 40.0)
    assert math.isnan(found.change_at)
    assert "too far apart" in found.why_missing


def test_further_cutters_stay_below_the_limit_as_often_as_promised() -> None:
    """Straight lands with lognormal rates: the share that passes the limit between two looks is at most 5 %."""
    rng = np.random.default_rng(12)
    step, limit, passed, total = 2.0, 0.20, 0, 0
    for _ in range(400):
        found = condition_rule(straight((0.0045 * np.exp(0.2 * rng.standard_normal(6))).tolist(), 200.0), limit, step)
        for rate in 0.0045 * np.exp(0.2 * rng.standard_normal(10)):
            looks = np.arange(step, 400.0, step)
            due = looks[np.argmax(0.05 + rate * looks >= found.change_at)]
            passed += (limit - 0.05) / rate < due
            total += 1
    assert passed / total < 0.05


def test_fewer_than_three_cutters_are_refused() -> None:
    with pytest.raises(Refusal, match="2 cutters"):
        condition_rule(straight([0.004, 0.005]), 0.20, 2.0)


def test_the_invented_trial(sample: Callable[[str], Trial]) -> None:
    trial = sample("shoulder_demo")
    facts = trial.facts()
    side = facts["cutter"][facts["strategy"] == "side"].tolist()
    found = condition_rule_of(trial, parse_criterion("lower:VB.mean=0.2mm"), "cutting_time_min", 8.0, side)
    # The truth grows by 0.00136 mm a minute and faster from 90 % of the life; the rule must leave room for that.
    assert 0.05 < found.change_at < 0.2 - 8.0 * 0.00136
    assert found.passed == 0
    with pytest.raises(Refusal, match="ends only"):
        condition_rule_of(trial, END, "cutting_time_min", 8.0, side)


def test_a_falling_measure_is_turned_round(sample: Callable[[str], Trial]) -> None:
    trial = sample("shoulder_demo")
    facts = trial.facts()
    cutters = facts["cutter"][facts["strategy"] == "layered"].tolist()
    found = condition_rule_of(trial, parse_criterion("width@0.5mm=12.56mm"), "cutting_time_min", 1.0, cutters)
    assert found.limit == -12.56
    assert -found.change_at > 12.56


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="step 0"):
        condition_rule(straight([0.004] * 4), 0.2, 0.0)
