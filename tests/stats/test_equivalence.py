from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval
from wearlab.stats.equivalence import VERDICTS, Margin, two_one_sided, verdict
from wearlab.stats.two_groups import paired, student, welch

# Two responses of 15 people in each of two clinics; from the tests of statsmodels 0.15
# (stats/tests/test_tost.py), the expected figures there from the R package equivalence.
VAR1 = np.array(
    [2.84, 2.51, 2.41, 2.95, 3.14, 3.79, 4.14, 3.85, 3.02, 3.45, 5.37, 3.81, 4.19, 3.16, 3.84,
     2.60, 2.82, 2.18, 3.46, 4.01, 3.04, 3.47, 4.06, 2.91, 3.59, 4.51, 3.16, 3.86, 3.31, 3.02]
).reshape(2, 15)  # fmt: skip
VAR2 = np.array(
    [4.00, 3.26, 4.14, 3.42, 3.25, 4.34, 4.97, 4.31, 3.11, 3.41, 5.02, 4.21, 4.59, 5.30, 4.32,
     3.76, 3.66, 3.65, 3.60, 3.48, 2.87, 3.24, 3.92, 3.99, 4.21, 4.21, 3.31, 3.61, 2.97, 2.73]
).reshape(2, 15)  # fmt: skip


@pytest.mark.parametrize("method, expected", [(welch, 0.0485308), (student, 0.0482732), (paired, 0.0031669)])
def test_two_clinics(method, expected):
    assert two_one_sided(method(*VAR1), -0.6, 0.6).p_value == pytest.approx(expected, abs=5e-8)


def test_two_clinics_interval_and_logs():
    ninety = welch(*VAR1).interval(0.90)
    assert (ninety.low, ninety.high) == pytest.approx((-0.26669, 0.59602), abs=1e-5)
    logs, edge = np.log(VAR1), math.log(1.25)
    assert two_one_sided(welch(*logs), -edge, edge).p_value == pytest.approx(0.0104709, abs=5e-8)
    assert two_one_sided(paired(*logs), -edge, edge).p_value == pytest.approx(0.00016642, abs=5e-9)


@pytest.mark.parametrize("method, expected", [(welch, 0.43179), (student, 0.43169), (paired, 0.44120)])
def test_two_clinics_that_are_not_alike(method, expected):
    """The stored rows of the second variable are those of the same source."""
    assert two_one_sided(method(*VAR2), -0.6, 0.6).p_value == pytest.approx(expected, abs=1e-5)


def test_reflection_swaps_the_tests():
    one, other = two_one_sided(welch(*VAR1), -0.6, 0.6), two_one_sided(welch(*VAR1[::-1]), -0.6, 0.6)
    assert (one.p_lower, one.p_upper) == pytest.approx((other.p_upper, other.p_lower))


def test_p_meets_the_ninety_percent_interval():
    """p is 5 % exactly where the 90 % interval touches the margin."""
    result = welch(*VAR1)
    ninety = result.interval(0.90)
    assert two_one_sided(result, -9.0, ninety.high).p_value == pytest.approx(0.05)
    assert two_one_sided(result, ninety.low, 9.0).p_value == pytest.approx(0.05)


def test_without_a_test_it_says_why():
    result = two_one_sided(welch([1.0], [2.0, 3.0]), -1, 1)
    assert math.isnan(result.p_value)
    assert "one value" in result.why_missing


def _at(low, high, level=0.95):
    return Interval(low, high, level, "t")


@pytest.mark.parametrize(
    "ninety_five, ninety, expected",
    [
        ((1.02, 1.19), (1.04, 1.17), "small_but_real"),
        ((1.02, 1.40), (1.05, 1.37), "different"),
        ((1.10, 1.80), (1.20, 1.70), "different"),
        ((0.95, 1.20), (0.97, 1.17), "alike"),
        ((0.82, 1.27), (0.85, 1.24), "alike"),
        ((0.90, 1.90), (1.00, 1.80), "cannot_tell"),
        ((1.0, 1.9), (1.1, 1.8), "cannot_tell"),
        ((0.79, 1.10), (0.80, 1.08), "cannot_tell"),
        ((0.0, math.inf), (0.0, math.inf), "cannot_tell"),
        ((1.5, math.inf), (1.6, math.inf), "different"),
    ],
)
def test_verdicts_in_their_order(ninety_five, ninety, expected):
    assert expected in VERDICTS
    assert verdict(_at(*ninety_five), _at(*ninety, 0.90), 1.25) == expected
    mirrored = [
        _at(1 / high if high < math.inf else 0.0, 1 / low if low > 0 else math.inf)
        for low, high in (ninety_five, ninety)
    ]
    assert verdict(*mirrored, 1.25) == expected


def test_verdict_of_a_difference():
    band = Margin.difference(0.02)
    assert verdict(_at(-0.01, 0.015), _at(-0.005, 0.01, 0.9), band) == "alike"
    assert verdict(_at(0.001, 0.015), _at(0.003, 0.01, 0.9), band) == "small_but_real"


def test_faults_are_named():
    with pytest.raises(ArgumentError, match=r"margin 0.8; allowed: a ratio above 1"):
        Margin.ratio(0.8)
    with pytest.raises(ArgumentError, match="margin -1; allowed: a difference above 0"):
        Margin.difference(-1)
    with pytest.raises(ArgumentError, match="limits either side of 1"):
        Margin(1.1, 1.2, 1.0)
    with pytest.raises(ArgumentError, match="the lower one first"):
        two_one_sided(welch(*VAR1), 1, -1)
