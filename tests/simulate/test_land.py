"""The true land: rises, meets its limit exactly, and is inverted exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.simulate.land import LandCurve, check_curve

curves = st.builds(
    LandCurve,
    limit_mm=st.floats(0.1, 0.6),
    break_in_mm=st.floats(0.0, 0.05),
    break_in_age=st.floats(0.02, 0.2),
    rapid_age=st.floats(0.5, 1.2),
    rapid_mm=st.floats(0.0, 0.19),
)


@given(curves)
def test_land_is_zero_when_new_and_the_limit_at_the_end(curve: LandCurve) -> None:
    check_curve(curve)
    assert curve.land_mm(0.0) == 0.0
    assert curve.land_mm(1.0) == pytest.approx(curve.limit_mm, rel=1e-12)


@given(curves)
def test_land_always_rises(curve: LandCurve) -> None:
    land = curve.land_mm(np.linspace(0, 3, 301))
    assert (np.diff(land) > 0).all()


@given(curves, st.floats(0.001, 3.5))
def test_age_is_the_inverse(curve: LandCurve, age: float) -> None:
    assert curve.age_at(curve.land_mm(age)) == pytest.approx(age, rel=1e-9, abs=1e-12)


def test_by_hand() -> None:
    # 0.045 (1 - exp(-10)) + 0.15 x 0.5 + 0, and at 1.1: 0.045 + 0.165 + 0.5 x 0.04; b = 0.2 - 0.045 - 0.005.
    curve = LandCurve()
    assert curve.steady_mm == pytest.approx(0.15, abs=1e-9)
    assert curve.land_mm(0.5) == pytest.approx(0.045 * (1 - math.exp(-10)) + 0.075, abs=1e-9)
    assert curve.land_mm(1.1) == pytest.approx(0.230, abs=1e-8)


def test_edge_that_never_wears() -> None:
    assert LandCurve().land_mm(50.0 / math.inf) == 0.0


def test_land_never_reached() -> None:
    assert LandCurve().age_at(50.0) == math.inf


def test_another_limit() -> None:
    assert LandCurve().with_limit(0.3).land_mm(1.0) == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("curve", "words"),
    [
        (LandCurve(break_in_mm=0.2), "steady stage"),
        (LandCurve(limit_mm=0.0), "negative or 0"),
        (LandCurve(rapid_mm=-0.1), "negative or 0"),
    ],
)
def test_curves_that_do_not_rise_are_refused(curve: LandCurve, words: str) -> None:
    with pytest.raises(ArgumentError, match=words):
        check_curve(curve)
