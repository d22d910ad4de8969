"""Lean against taper, size against shift, and intervals against scipy and by simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool
from wearlab.milling.wall_error import slot_error
from wearlab.wall.readings import ReadingError
from wearlab.wall.shape import FIT_SCATTER, PAIRS, REPEATS, SHAPES, wall_shape

Z = np.array([0.5, 2.0, 4.0, 6.0, 8.0])
SMALL = st.floats(-0.02, 0.02)


@given(size=SMALL, shift=SMALL, taper=st.floats(-3, 3), lean=st.floats(-3, 3))
def test_what_was_put_in_comes_out(size: float, shift: float, taper: float, lean: float) -> None:
    from_middle = (Z - Z.mean()) / 1000
    left = size + shift + (lean - taper) * from_middle
    right = size - shift - (lean + taper) * from_middle
    found = wall_shape(Z, left, Z, right)
    assert found.size_mm == pytest.approx(size, abs=1e-12)
    assert found.shift_mm == pytest.approx(shift, abs=1e-12)
    assert found.taper_um_mm == pytest.approx(taper, abs=1e-9)
    assert found.lean_um_mm == pytest.approx(lean, abs=1e-9)
    width = 10 - left - right
    assert np.polyfit(Z, width, 1)[0] * 1000 == pytest.approx(2 * taper, abs=1e-9)


def test_a_full_slot_by_four_teeth_leans_and_does_not_taper() -> None:
    # From the mechanics of the cut: in a full slot both walls shift the same way and the width stays the cutter's.
    slot = slot_error(Cut(10, 4, 1910, 0.05, 8, 10), Tool(10, 30), Z)
    found = wall_shape(Z, slot.climb_um / 1000, Z, slot.conventional_um / 1000)
    assert found.taper_um_mm == pytest.approx(0, abs=1e-9)
    assert found.size_mm == pytest.approx(0, abs=1e-12)
    assert found.lean_um_mm < -3
    assert found.shift_mm > 0.05


def test_one_wall_agrees_with_scipy() -> None:
    from scipy.stats import linregress, t

    e = np.array([0.012, 0.011, 0.006, 0.007, 0.003])
    found = wall_shape(Z, e)
    line = linregress(Z, e)
    half = t.ppf(0.975, 3) * line.stderr * 1000
    limits = found.interval("left_um_mm")
    assert found.left_um_mm == pytest.approx(1000 * line.slope)
    assert (limits.low, limits.high) == pytest.approx((1000 * line.slope - half, 1000 * line.slope + half))
    assert found.basis == FIT_SCATTER
    for name in PAIRS:
        assert math.isnan(getattr(found, name))
        assert found.why[name] == "the right wall was not read"
        assert found.interval(name).unbounded == "both"


def test_both_walls_agree_with_statsmodels() -> None:
    from statsmodels.regression.linear_model import OLS

    rng = np.random.default_rng(7)
    left, right = rng.normal(0.01, 0.003, 5), rng.normal(0.012, 0.003, 5)
    dz = Z - Z.mean()
    one = np.ones(5)
    # Size, shift, taper, lean as the unknowns of one regression.
    rows = np.vstack([np.column_stack([one, one, -dz, dz]), np.column_stack([one, -one, -dz, -dz])])
    fit = OLS(np.concatenate([left, right]), rows).fit()
    found = wall_shape(Z, left, Z, right)
    for at, (name, scale) in enumerate((("size_mm", 1), ("shift_mm", 1), ("taper_um_mm", 1000), ("lean_um_mm", 1000))):
        limits = found.interval(name, 0.9)
        assert getattr(found, name) == pytest.approx(scale * fit.params[at])
        assert (limits.low, limits.high) == pytest.approx(tuple(scale * fit.conf_int(0.1)[at]))


def test_repeats_judge_where_there_are_any() -> None:
    error = ReadingError("wall", 0.002, 12)
    found = wall_shape([0.0, 8.0], [0.010, 0.002], [0.0, 8.0], [0.012, 0.004], error)
    assert found.basis == REPEATS
    from scipy.stats import t

    # The lean of two heights 8 mm apart: half the difference of two slopes, each of two readings.
    half = t.ppf(0.975, 12) * 0.002 * math.sqrt(2) / 8 / math.sqrt(2) * 1000
    limits = found.interval("lean_um_mm")
    assert limits.high - found.lean_um_mm == pytest.approx(half)


def test_coverage_of_the_interval_of_lean() -> None:
    rng = np.random.default_rng(11)
    hits = 0
    for _ in range(400):
        left = 0.01 + 0.0005 * Z + rng.normal(0, 0.002, 5)
        right = 0.01 - 0.0005 * Z + rng.normal(0, 0.002, 5)
        hits += wall_shape(Z, left, Z, right).interval("lean_um_mm", 0.9).contains(0.5)
    # 400 trials of 0.90: 0.90 +- 0.045 holds 997 of 1000 times.
    assert 0.855 < hits / 400 < 0.945


def test_what_cannot_be_had_says_why() -> None:
    flat = wall_shape([1.0, 1.0], [0.010, 0.012], [1.0], [0.008])
    assert flat.size_mm == pytest.approx(0.0095)
    assert flat.why["taper_um_mm"] == "the left wall was read at one height"
    exact = wall_shape([0, 4, 8], [0.0, 0.001, 0.002], [0, 4, 8], [0.0, 0.001, 0.002])
    assert "no scatter" in exact.why["interval"]
    assert exact.interval("taper_um_mm").unbounded == "both"
    bare = wall_shape([0.0, 8.0], [0.0, 0.003], [0.0, 8.0], [0.001, 0.0])
    assert "nothing was read twice" in bare.why["interval"]
    made = bare.to_dict()
    assert made["lean_um_mm"]["low"] is None
    assert made["lean_um_mm"]["why_missing"]
    assert set(SHAPES) <= set(made)


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="no reading of either wall"):
        wall_shape([], [])
    with pytest.raises(ArgumentError, match="2 heights and 1 deviations of the left wall"):
        wall_shape([0, 1], [0.1])
    with pytest.raises(ArgumentError, match="allowed: left_mm"):
        wall_shape([0, 1], [0.1, 0.2]).interval("twist")
