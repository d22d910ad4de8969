"""Conversion factors, exact by definition: 1 in = 25.4 mm (international agreement of 1959, from memory)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.core.units import CM3_PER_INCH3, M_PER_FOOT, MM_PER_INCH, TO_MM, length_unit, to_mm

INCH = Fraction(254, 10)


def test_every_factor_follows_from_the_inch() -> None:
    assert Fraction(str(MM_PER_INCH)) == INCH
    assert Fraction(str(M_PER_FOOT)) == 12 * INCH / 1000
    assert Fraction(str(CM3_PER_INCH3)) == (INCH / 10) ** 3
    assert Fraction(str(TO_MM["thou"])) == INCH / 1000
    assert Fraction(str(TO_MM["in"])) == INCH
    assert Fraction(str(TO_MM["um"])) == Fraction(1, 1000)


@pytest.mark.parametrize(
    ("typed", "unit"),
    [("um", "um"), ("µm", "um"), ("μm", "um"), (" Micron ", "um"), ("MM", "mm"), ("thou", "thou"), ("mil", "thou"),
     ("inch", "in"), ('"', "in")],
)  # fmt: skip
def test_spellings(typed: str, unit: str) -> None:
    assert length_unit(typed) == unit


@pytest.mark.parametrize("typed", ["", "cm", "m", "min", "foot"])
def test_what_no_reading_is_typed_in_is_refused(typed: str) -> None:
    with pytest.raises(ArgumentError, match="allowed: um, mm, thou, in"):
        length_unit(typed)


@given(st.floats(1e-6, 1e4), st.sampled_from(sorted(TO_MM)))
def test_conversion_is_proportional(value: float, unit: str) -> None:
    assert to_mm(2 * value, unit) == 2 * to_mm(value, unit)
    assert to_mm(value, "mm") == value


def test_the_same_land_in_four_units() -> None:
    assert to_mm(304.8, "um") == pytest.approx(0.3048, rel=1e-15)
    assert to_mm(12, "thou") == pytest.approx(0.3048, rel=1e-15)
    assert to_mm(0.012, "in") == pytest.approx(0.3048, rel=1e-15)
