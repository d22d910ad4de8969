"""Where a curve crosses a limit, by the three rules; against numpy and by properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.isotonic import IsotonicRegression

from wearlab.life.crossing import Crossing, find_crossing


def cross(times: list[float], values: list[float], limit: float = 0.3) -> Crossing:
    return find_crossing(np.array(times, dtype=float), np.array(values, dtype=float), limit)


class TestPlainCases:
    def test_straight_line_between_two_readings(self) -> None:
        found = cross([10, 20, 30], [0.1, 0.2, 0.4])
        assert found == Crossing("exact", 25.0, 20.0, 30.0, 25.0, 25.0)
        assert not found.rules_disagree

    def test_a_reading_on_the_limit_has_reached_it(self) -> None:
        found = cross([10, 20, 30], [0.1, 0.3, 0.4])
        assert (found.life, found.bracket_low, found.bracket_high) == (20.0, 10.0, 20.0)

    def test_a_mean_on_the_limit_has_reached_it_although_binary_fractions_say_less(self) -> None:
        mean = float(np.mean([0.33, 0.35, 0.35, 0.17]))
        assert mean < 0.3
        found = cross([10, 20, 30], [0.1, mean, mean])
        assert found.status == "exact"
        assert found.life == 20.0  # never behind the reading itself
        assert cross([10, 20], [0.1, mean]).status == "exact"

    def test_never_reached(self) -> None:
        found = cross([10, 20], [0.1, 0.29])
        assert found.status == "right"
        assert found.bracket_low == 20.0
        assert math.isnan(found.bracket_high)
        assert math.isnan(found.life)
        assert not found.rules_disagree

    def test_past_at_the_first_reading(self) -> None:
        found = cross([10, 20], [0.31, 0.35])
        assert (found.status, found.bracket_high) == ("left", 10.0)
        assert math.isnan(found.bracket_low)
        assert not found.rules_disagree

    def test_no_reading(self) -> None:
        assert cross([], []).status == "none"

    def test_a_leap_in_no_time(self) -> None:
        assert cross([10, 10, 20], [0.1, 0.4, 0.5]).life == 10.0


class TestWhereTheRulesDiffer:
    """Isotonic means by hand: a run that falls is replaced by its mean."""

    def test_a_dip_after_the_limit(self) -> None:
        # 0.34 and 0.24 pool to 0.29: the monotone curve passes 0.3 only on the way to 0.39.
        found = cross([10, 20, 30, 40], [0.2, 0.34, 0.24, 0.39])
        assert found.life == pytest.approx(30 + 10 * 0.01 / 0.10)
        assert (found.bracket_low, found.bracket_high) == (30.0, 40.0)
        assert found.first == pytest.approx(10 + 10 * 0.10 / 0.14)
        assert found.last == pytest.approx(30 + 10 * 0.06 / 0.15)
        assert found.rules_disagree

    def test_a_dip_below_the_limit_moves_the_start_of_the_line_only(self) -> None:
        # 0.29 and 0.27 pool to 0.28.
        found = cross([10, 20, 30], [0.29, 0.27, 0.31])
        assert found.life == pytest.approx(20 + 10 * 0.02 / 0.03)
        assert found.first == pytest.approx(20 + 10 * 0.03 / 0.04)
        assert found.last == found.first
        assert not found.rules_disagree

    def test_a_small_dip_past_the_limit_moves_nothing(self) -> None:
        # 0.36 and 0.34 pool to 0.35, still past the limit.
        found = cross([10, 20, 30], [0.25, 0.36, 0.34])
        assert found.life == pytest.approx(10 + 10 * 0.05 / 0.10)
        assert found.first == found.last == pytest.approx(10 + 10 * 0.05 / 0.11)
        assert not found.rules_disagree

    def test_readings_that_pass_the_limit_and_fall_back_for_good_end_no_life(self) -> None:
        found = cross([10, 20, 30, 40], [0.1, 0.35, 0.1, 0.2])
        assert (found.status, found.bracket_low) == ("right", 40.0)
        assert found.first == pytest.approx(18.0)
        assert math.isnan(found.last)
        assert found.rules_disagree

    def test_a_misread_first_land_is_no_life_of_nought(self) -> None:
        # 0.31, 0.05 and 0.10 pool to 0.153: the one reading at 2 min ends nothing.
        found = cross([2, 10, 20, 30], [0.31, 0.05, 0.10, 0.35])
        pooled = (0.31 + 0.05 + 0.10) / 3
        assert found.status == "exact"
        assert found.life == pytest.approx(20 + 10 * (0.3 - pooled) / (0.35 - pooled))
        assert found.first == 2.0
        assert found.rules_disagree


VALUES = st.lists(st.integers(0, 60), min_size=1, max_size=12).map(lambda whole: np.array(whole) / 100)
CURVES = VALUES.flatmap(
    lambda values: st.lists(st.integers(1, 50), min_size=len(values), max_size=len(values)).map(
        lambda steps: (np.cumsum(steps).astype(float), values)
    )
)


class TestProperties:
    @given(CURVES)
    def test_life_lies_in_its_bracket_of_neighbouring_readings(self, curve: tuple[np.ndarray, np.ndarray]) -> None:
        times, values = curve
        found = find_crossing(times, values, 0.3)
        if found.status == "exact":
            assert found.bracket_low <= found.life <= found.bracket_high
            at = int(np.flatnonzero(times == found.bracket_low)[0])
            assert times[at + 1] == found.bracket_high

    @given(CURVES)
    def test_on_a_monotone_curve_the_three_rules_agree_with_numpy(self, curve: tuple[np.ndarray, np.ndarray]) -> None:
        times, values = curve[0], np.sort(curve[1])
        found = find_crossing(times, values, 0.3)
        if values[0] >= 0.3:
            assert found.status == "left"
        elif values[-1] < 0.3:
            assert found.status == "right"
        else:
            at = int(np.searchsorted(values, 0.3))  # first reading at or past the limit
            numpys = float(np.interp(0.3, values[at - 1 : at + 1], times[at - 1 : at + 1]))
            assert found.life == pytest.approx(numpys, rel=1e-12)
            assert (found.first, found.last) == pytest.approx((numpys, numpys), rel=1e-12)
            assert not found.rules_disagree

    @given(CURVES)
    def test_the_curve_that_counts_is_scikit_learns_isotonic_regression(
        self, curve: tuple[np.ndarray, np.ndarray]
    ) -> None:
        times, values = curve
        smooth = IsotonicRegression().fit_transform(times, values)
        numpys = find_crossing(times, smooth, 0.3)
        found = find_crossing(times, values, 0.3)
        assert found.status == numpys.status
        assert found.life == pytest.approx(numpys.life, rel=1e-9, nan_ok=True)

    @given(CURVES, st.sampled_from([1e-6, 1e-3, 0.5, 60.0, 1e6]), st.sampled_from([1e-6, 25.4, 1e6]))
    def test_units_of_clock_and_land_make_no_difference(
        self, curve: tuple[np.ndarray, np.ndarray], clock_unit: float, land_unit: float
    ) -> None:
        times, values = curve
        plain = find_crossing(times, values, 0.3)
        other = find_crossing(times * clock_unit, values * land_unit, 0.3 * land_unit)
        assert other.status == plain.status
        assert other.rules_disagree == plain.rules_disagree
        for name in ("life", "bracket_low", "bracket_high", "first", "last"):
            assert getattr(other, name) == pytest.approx(getattr(plain, name) * clock_unit, rel=1e-9, nan_ok=True)

    @given(CURVES)
    def test_a_higher_limit_is_never_reached_earlier(self, curve: tuple[np.ndarray, np.ndarray]) -> None:
        times, values = curve
        earlier, later = find_crossing(times, values, 0.3), find_crossing(times, values, 0.4)
        rank = {"left": 0, "exact": 1, "right": 2}
        assert rank[earlier.status] <= rank[later.status]
        if earlier.status == later.status == "exact":
            assert earlier.life <= later.life

    @given(CURVES)
    def test_more_readings_after_the_end_do_not_revive_a_worn_cutter(
        self, curve: tuple[np.ndarray, np.ndarray]
    ) -> None:
        times, values = curve
        found = find_crossing(times, values, 0.3)
        more = find_crossing(np.append(times, times[-1] + 5), np.append(values, max(values.max(), 0.3)), 0.3)
        if found.status in ("exact", "left"):
            assert more.status == found.status
            assert more.life == pytest.approx(found.life, nan_ok=True)
        else:
            assert more.status == "exact"
