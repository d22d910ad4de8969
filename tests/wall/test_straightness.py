"""Minimum-zone straightness against a linear programme, and its limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.wall.straightness import straightness_mm

HEIGHTS = st.lists(st.integers(0, 60), min_size=3, max_size=12, unique=True)


def chebyshev(z: np.ndarray, e: np.ndarray) -> float:
    """Twice the least greatest distance from any straight line: scipy's linear programming, knowing no hull."""
    from scipy.optimize import linprog

    ones = np.ones_like(z)
    rows = np.vstack([np.column_stack([ones, z, -ones]), np.column_stack([-ones, -z, -ones])])
    found = linprog([0, 0, 1], A_ub=rows, b_ub=np.concatenate([e, -e]), bounds=[(None, None), (None, None), (0, None)])
    assert found.status == 0
    return 2 * float(found.fun)


@given(st.data())
def test_against_linear_programming(data: st.DataObject) -> None:
    z = np.array(data.draw(HEIGHTS), dtype=float) / 7
    e = np.array(data.draw(st.lists(st.integers(-50, 50), min_size=len(z), max_size=len(z))), dtype=float) / 1000
    assert straightness_mm(z, e) == pytest.approx(chebyshev(z, e), abs=1e-9)


@given(st.data())
def test_lean_and_offset_do_not_count_and_it_is_never_over_the_least_squares_band(data: st.DataObject) -> None:
    z = np.array(data.draw(HEIGHTS), dtype=float)
    e = np.array(data.draw(st.lists(st.integers(-50, 50), min_size=len(z), max_size=len(z))), dtype=float) / 1000
    band = straightness_mm(z, e)
    assert straightness_mm(z, e + 0.3 - 0.002 * z) == pytest.approx(band, abs=1e-12)
    residual = e - np.polyval(np.polyfit(z, e, 1), z)
    assert band <= np.ptp(residual) + 1e-12
    assert straightness_mm(25.4 * z, 25.4 * e) == pytest.approx(25.4 * band, abs=1e-9)


@given(st.data())
def test_readings_repeated_at_one_height(data: st.DataObject) -> None:
    heights = data.draw(st.lists(st.integers(0, 3), min_size=4, max_size=10).filter(lambda z: len(set(z)) > 2))
    e = np.array(data.draw(st.lists(st.integers(-9, 9), min_size=len(heights), max_size=len(heights)))) / 1000
    z = np.array(heights, dtype=float)
    assert straightness_mm(z, e) == pytest.approx(chebyshev(z, e), abs=1e-9)


def test_two_heights_judge_nothing() -> None:
    assert np.isnan(straightness_mm([0, 0, 8], [0.001, 0.002, 0.0]))


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="one number for each height"):
        straightness_mm([0, 1, 2], [0.0, 0.1])
    with pytest.raises(ArgumentError, match="one number for each height"):
        straightness_mm([0, 1, 2], [0.0, 0.1, np.nan])
