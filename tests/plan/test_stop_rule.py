"""From the drawing to a stop rule."""

from __future__ import annotations

import math

import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.plan.stop_rule import Budget, doubts, regrind_land_mm, roughing_criteria, size_limit

# Land in um that uses up a wall budget in um, rake 0: e cot(relief), worked out by hand with a table of cotangents.
LANDS = {
    8: {5: 36, 10: 71, 15: 107, 20: 142, 25: 178, 50: 356},
    10: {5: 28, 10: 57, 15: 85, 20: 113, 25: 142, 50: 284},
    12: {5: 24, 10: 47, 15: 71, 20: 94, 25: 118, 50: 235},
}


@pytest.mark.parametrize("relief", LANDS)
def test_land_that_uses_up_a_wall(relief: int) -> None:
    for budget, land in LANDS[relief].items():
        found = size_limit(Budget(2 * budget / 1000, relief))
        assert round(1000 * found.land_mm) == land
        assert found.width_loss_mm == pytest.approx(2 * budget / 1000)


def test_what_is_used_up_before_wear_begins_comes_off_half_the_tolerance() -> None:
    found = size_limit(
        Budget(0.06, 10, setting_error_mm=0.010, deflection_mm=0.008, gauge_uncertainty_mm=0.002)
    )
    assert found.wall_mm == pytest.approx(0.010)
    assert found.criterion.limit == pytest.approx(0.010 / math.tan(math.radians(10)), rel=5e-3)
    assert found.criterion.planned
    assert found.criterion.name == "size"


def test_rake_makes_the_wedge_lose_size_faster() -> None:
    """VB = e (cot relief - tan rake): derived from the two lines."""
    plain, raked = size_limit(Budget(0.04, 10)), size_limit(Budget(0.04, 10, rake_deg=6))
    assert raked.land_mm == pytest.approx(plain.land_mm - 0.02 * math.tan(math.radians(6)))


def test_nothing_left_for_wear_is_refused() -> None:
    with pytest.raises(Refusal, match="used up before wear begins"):
        size_limit(Budget(0.02, 10, setting_error_mm=0.010))
    with pytest.raises(ArgumentError, match="relief_deg"):
        size_limit(Budget(0.02, 0.0))


def test_a_land_too_small_to_read_is_said() -> None:
    assert "measure the part" in doubts(size_limit(Budget(0.006, 10)))[0]
    assert doubts(size_limit(Budget(0.06, 10))) == ()


def test_roughing_and_regrinding() -> None:
    """ISO 8688-2 pair from memory; regrind lands are common practice (0.004, 0.006, 0.008, 0.010 in)."""
    assert [one.limit for one in roughing_criteria()] == [0.3, 0.5]
    assert all(one.planned for one in roughing_criteria())
    found = [regrind_land_mm(diameter) for diameter in (6, 10, 20, 30)]
    assert found == pytest.approx([0.004 * 25.4, 0.006 * 25.4, 0.008 * 25.4, 0.010 * 25.4], abs=0.005)
    assert math.isnan(regrind_land_mm(32))
