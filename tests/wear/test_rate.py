"""Steady-stage wear rates: the rule at its edges, the slope against numpy, scipy and R."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from wearlab.core.errors import ArgumentError
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial
from wearlab.wear.curves import WearCurves, wear_curves
from wearlab.wear.rate import WearRate, slope_with_error, wear_rates

Make = Callable[..., Trial]


def curves(points: list[tuple[float, float]], worst: list[float] | None = None) -> WearCurves:
    """Curves of one cutter from clock and mean land."""
    times, lands = (np.array(column, dtype=float) for column in zip(*points, strict=True))
    table = pd.DataFrame({"cutter": "E1", "measure": "VB", "zone": "lower", "inspection": range(len(points))})
    clocks = dict.fromkeys(CLOCKS, np.nan) | {"cutting_time_min": times}
    table = table.assign(**clocks, mean_mm=lands, worst_mm=lands if worst is None else worst, flutes=0)
    return WearCurves(table.iloc[:0], table)


def rate_of(points: list[tuple[float, float]], limit: float | None = None, **more: Any) -> WearRate:
    (rate,) = wear_rates(curves(points), limit_mm=limit, **more).rates
    return rate


LINE = [(t, 0.01 * t + 0.001 * (-1) ** t) for t in range(1, 11)]


class TestTheRule:
    def test_the_slope_is_numpys(self) -> None:
        rate = rate_of(LINE, break_in=0.0)
        times, lands = np.array(LINE).T
        assert rate.rate == pytest.approx(np.polyfit(times, lands, 1)[0], rel=1e-12)
        assert (rate.readings, rate.start, rate.end) == (10, 1, 10)

    def test_the_new_edge_is_never_used(self) -> None:
        assert rate_of([(0, 0.5), *LINE], break_in=0.0).rate == rate_of(LINE, break_in=0.0).rate

    @pytest.mark.parametrize(("share", "first"), [(0.0, 1), (0.1, 1), (0.11, 2), (0.2, 2), (0.3, 3), (0.5, 5)])
    def test_break_in_is_a_share_of_the_age_at_the_last_reading_used(self, share: float, first: int) -> None:
        assert rate_of(LINE, break_in=share).start == first

    @given(st.integers(10, 5000))
    def test_a_reading_on_the_edge_of_break_in_is_used(self, tenths: int) -> None:
        # 10 % of the last age to the last digit typed: binary fractions must not push it out.
        last = tenths / 10
        edge = round(0.1 * last, 2)
        rate = rate_of([(edge, 0.1), (last / 2, 0.2), (last * 0.75, 0.25), (last, 0.31)])
        assert rate.start == edge
        assert rate.readings == 4

    def test_a_reading_before_the_edge_is_not(self) -> None:
        assert rate_of([(0.99, 0.1), (5, 0.2), (7, 0.25), (10, 0.31)]).start == 5

    def test_the_first_reading_at_or_past_the_limit_is_the_last_one_used(self) -> None:
        points = [(10, 0.1), (20, 0.2), (30, 0.3), (40, 0.4), (50, 0.9)]
        assert rate_of(points, 0.3).end == 30
        assert rate_of(points, 0.31).end == 40
        assert rate_of(points).end == 50
        assert rate_of(points, 2.0).end == 50

    def test_break_in_counts_from_that_reading_and_not_from_the_last_of_the_cutter(self) -> None:
        points = [(3, 0.05), (10, 0.1), (20, 0.2), (30, 0.3), (40, 0.5), (100, 0.9)]
        assert rate_of(points, 0.3).start == 3
        assert rate_of(points).start == 10

    def test_a_mean_on_the_limit_has_reached_it(self) -> None:
        mean = float(np.mean([0.33, 0.35, 0.35, 0.17]))
        assert mean < 0.3
        assert rate_of([(10, 0.1), (20, 0.2), (30, mean), (40, 0.8)], 0.3).end == 30

    def test_the_worst_flute_may_be_held_against_the_limit(self) -> None:
        points = [(10, 0.1), (20, 0.2), (30, 0.3), (40, 0.4)]
        rates = wear_rates(curves(points, [0.15, 0.3, 0.5, 0.6]), limit_mm=0.5, statistic="worst")
        assert rates.rates[0].end == 30
        assert rates.rates[0].rate == pytest.approx(0.01)  # still the slope of the mean

    def test_each_zone_and_cutter_has_its_own(self, trial_of: Make) -> None:
        rows = [
            {"cutter": c, "reading": t, "cutting_time_min": t, "measure": "VB", "zone": z, "value": k * t, "unit": "mm"}
            for c, z, k in [("E1", "lower", 0.01), ("E1", "upper", 0.001), ("E2", "lower", 0.02)]
            for t in (5, 10, 15)
        ]  # fmt: skip
        frame = wear_rates(wear_curves(trial_of(rows))).to_frame()
        assert frame[["cutter", "zone"]].to_numpy().tolist() == [["E1", "lower"], ["E1", "upper"], ["E2", "lower"]]
        assert frame["rate"].tolist() == pytest.approx([0.01, 0.001, 0.02])


class TestNoRate:
    @pytest.mark.parametrize(
        ("points", "why"),
        [
            ([(10, 0.1)], "1 reading after break-in; a rate needs 3"),
            ([(10, 0.1), (20, 0.2)], "2 readings after break-in; a rate needs 3"),
            ([(0, 0.0), (10, 0.1), (20, 0.2)], "2 readings after break-in; a rate needs 3"),
            ([(0, 0.0), (0, 0.1)], "0 readings after break-in; a rate needs 3"),
            ([(10, 0.1), (10, 0.2), (10, 0.3)], "the clock stood still"),
        ],
    )
    def test_it_is_said_why(self, points: list[tuple[float, float]], why: str) -> None:
        rate = rate_of(points)
        assert rate.why_missing == why
        assert math.isnan(rate.rate)
        assert rate.interval().unbounded == "both"

    def test_a_clock_that_was_not_kept(self) -> None:
        rate = rate_of(LINE, clock="parts")
        assert rate.why_missing == "0 readings after break-in; a rate needs 3"

    @pytest.mark.parametrize(
        ("more", "match"),
        [
            ({"clock": "hours"}, "clock 'hours'"),
            ({"break_in": 1.0}, "0 to below 1"),
            ({"break_in": -0.1}, "0 to below 1"),
            ({"statistic": "median"}, "mean, worst"),
        ],
    )
    def test_bad_arguments(self, more: dict[str, Any], match: str) -> None:
        with pytest.raises(ArgumentError, match=match):
            wear_rates(curves(LINE), **more)

    def test_a_straight_line_bounds_nothing(self) -> None:
        rate = rate_of([(10, 0.1), (20, 0.2), (30, 0.3), (40, 0.4)])
        assert rate.rate == pytest.approx(0.01, rel=1e-12)
        assert rate.std_error == 0.0
        interval = rate.interval()
        assert interval.unbounded == "both"
        assert interval.method == "none: every reading lies on the line"


class TestAgainstOtherPrograms:
    def test_slopes_of_six_cutters_as_r_gives_them(
        self, trial_of: Make, reference_case: Callable[[str], dict[str, Any]]
    ) -> None:
        """R lm, one line a cutter; numpy agrees to 1.4e-14 (stored case cutter_slopes, slopes in um/min)."""
        case = reference_case("cutter_slopes")
        given = case["input"]
        rows = [
            {"cutter": f"K{c}", "reading": t, "cutting_time_min": t, "measure": "VB", "value": v, "unit": "mm"}
            for c, t, v in zip(given["cutter"], given["t"], given["vb"], strict=True)
        ]
        frame = wear_rates(wear_curves(trial_of(rows))).to_frame()
        assert (frame["rate"] * 1000).tolist() == pytest.approx(case["expected"]["slopes"], rel=case["rel_tol"])

    @given(
        st.lists(
            st.tuples(st.integers(1, 1000), st.integers(0, 999)), min_size=3, max_size=12, unique_by=lambda p: p[0]
        )
    )
    def test_slope_and_error_are_scipys(self, whole: list[tuple[int, int]]) -> None:
        x, y = (np.array(column, dtype=float) for column in zip(*whole, strict=True))
        y = y / 1000
        slope, error = slope_with_error(x, y)
        other = stats.linregress(x, y)
        assert slope == pytest.approx(other.slope, rel=1e-9, abs=1e-15)
        assert error == pytest.approx(other.stderr, rel=1e-6, abs=1e-15)

    def test_the_interval_is_scipys_t(self) -> None:
        rate = rate_of(LINE, break_in=0.0)
        times, lands = np.array(LINE).T
        other = stats.linregress(times, lands)
        half = stats.t.ppf(0.95, 8) * other.stderr
        interval = rate.interval(0.9)
        assert (interval.low, interval.high) == pytest.approx((other.slope - half, other.slope + half), rel=1e-10)
        assert interval.level == 0.9

    def test_a_large_offset_of_the_clock_costs_no_digits(self) -> None:
        times, lands = np.array(LINE).T
        far = slope_with_error(times + 2.0**40, lands)
        assert far == pytest.approx(slope_with_error(times, lands), rel=1e-12)

    @pytest.mark.parametrize("unit", [1e-6, 60.0, 1e6])
    def test_another_unit_of_the_clock(self, unit: float) -> None:
        plain, other = rate_of(LINE), rate_of([(t * unit, v) for t, v in LINE])
        assert other.rate * unit == pytest.approx(plain.rate, rel=1e-12)
        assert other.std_error * unit == pytest.approx(plain.std_error, rel=1e-9)
        assert other.readings == plain.readings


def test_the_record() -> None:
    rates = wear_rates(curves(LINE), limit_mm=0.08)
    assert (rates.clock, rates.break_in, rates.limit_mm) == ("cutting_time_min", 0.10, 0.08)
    facts = json.loads(json.dumps(rates.to_dict(), allow_nan=False))
    assert facts["rates"][0]["cutter"] == "E1"
    assert facts["rates"][0]["readings"] == rates.rates[0].readings
    assert repr(rates) == "<WearRates on cutting_time_min: 1 curves>"
    frame = rates.to_frame(0.8)
    assert frame["level"].tolist() == [0.8]
    assert (frame["low"] < frame["rate"]).all()
