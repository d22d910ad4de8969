"""Tram against deflection, on walls made by the mechanics of the cut with a spindle out of tram put on top."""

from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.milling.cut import Cut
from wearlab.milling.deflection import Tool
from wearlab.milling.wall_error import slot_error, wall_error
from wearlab.wall.causes import MIXED, causes, tram_from_reversed, usual_direction
from wearlab.wall.shape import WallShape, wall_shape

Z = np.array([0.5, 2.0, 4.0, 6.0, 7.5])
FINISH = Cut(10, 4, 1910, 0.05, 8, 0.3)
TRAM = 1.2
"""um per mm: the spindle leans to the right going up."""


def with_tram(left_um: np.ndarray, right_um: np.ndarray, tram: float = TRAM) -> tuple[np.ndarray, np.ndarray]:
    """Metal left in mm: a spindle that leans to the right puts the left wall inwards going up, the right outwards."""
    tilt = tram * (Z - Z.mean())
    return (left_um + tilt) / 1000, (right_um - tilt) / 1000


def finished(wall: str, tram: float, rng: np.random.Generator) -> WallShape:
    """Both walls finished the same way."""
    bend = wall_error(FINISH, Tool(10, 30), Z, wall).error_um
    left, right = with_tram(bend, bend, tram)
    return wall_shape(Z, left + rng.normal(0, 0.0003, 5), Z, right + rng.normal(0, 0.0003, 5))


@pytest.mark.parametrize("direction", ["climb", "conventional"])
def test_deflection_is_size_and_taper_and_tram_is_lean(direction: str) -> None:
    rng = np.random.default_rng(5)
    shapes = {f"E{at}": finished(direction, TRAM, rng) for at in range(6)}
    found = causes(shapes, dict.fromkeys(shapes, "a"), dict.fromkeys(shapes, direction))[0]
    bend = wall_error(FINISH, Tool(10, 30), Z, direction).error_um
    assert found.why_missing == ""
    assert found.lean.interval(0.99).contains(TRAM)
    assert found.lean.mean == pytest.approx(TRAM, abs=0.1)
    assert 1000 * found.size.mean == pytest.approx(bend.mean(), abs=0.2)
    assert found.taper.mean == pytest.approx(-np.polyfit(Z, bend, 1)[0], abs=0.1)
    # A light pass leaves metal both ways (the edge force pushes the cutter off); only climbing is that a sure sign.
    assert bend.mean() > 0
    assert found.deflection_sign is (True if direction == "climb" else None)


@pytest.mark.parametrize(
    ("size_mm", "direction", "sign"),
    [
        (0.006, "climb", True),
        # A cutter over size, or one pulled into the wall by something else.
        (-0.006, "climb", False),
        (-0.006, "conventional", True),
        (0.006, "conventional", None),
    ],
)
def test_sign_of_deflection(size_mm: float, direction: str, sign: bool | None) -> None:
    rng = np.random.default_rng(6)
    shapes = {}
    for at in range(5):
        e = size_mm + rng.normal(0, 0.0005, 5)
        shapes[f"E{at}"] = wall_shape(Z, e, Z, e)
    assert causes(shapes, dict.fromkeys(shapes, "a"), dict.fromkeys(shapes, direction))[0].deflection_sign is sign


def test_a_heavy_conventional_pass_digs_in() -> None:
    # 2.5 mm wide instead of 0.3: at the floor, where the whole tooth bends the cutter, the wall is cut too deep.
    heavy = Cut(10, 4, 1910, 0.05, 8, 2.5)
    assert wall_error(heavy, Tool(10, 30), [0.0], "conventional").error_um[0] < 0


def test_nothing_is_no_sign() -> None:
    rng = np.random.default_rng(8)
    shapes = {f"E{at}": wall_shape(Z, rng.normal(0, 0.001, 5), Z, rng.normal(0, 0.001, 5)) for at in range(4)}
    assert causes(shapes, dict.fromkeys(shapes, "a"), dict.fromkeys(shapes, "climb"))[0].deflection_sign is None


@pytest.mark.parametrize("direction", ["both", "", "mixed"])
def test_a_full_slot_cannot_tell_them_apart(direction: str) -> None:
    slot = slot_error(Cut(10, 4, 1910, 0.05, 8, 10), Tool(10, 30), Z)
    left, right = with_tram(slot.climb_um, slot.conventional_um)
    shape = wall_shape(Z, left, Z, right)
    words = {"E1": "climb", "E2": "conventional"} if direction == "mixed" else dict.fromkeys(("E1", "E2"), direction)
    found = causes({"E1": shape, "E2": shape}, {"E1": "a", "E2": "a"}, words)[0]
    assert found.why_missing == MIXED
    assert found.deflection_sign is None
    assert usual_direction(list(words.values())) in ("both", "")


def test_one_slot_each_way_tells_them_apart() -> None:
    slot = slot_error(Cut(10, 4, 1910, 0.05, 8, 10), Tool(10, 30), Z)
    there = wall_shape(Z, (with_tram(slot.climb_um, slot.conventional_um))[0], Z,
                       with_tram(slot.climb_um, slot.conventional_um)[1])  # fmt: skip
    back = wall_shape(Z, with_tram(slot.conventional_um, slot.climb_um)[0], Z,
                      with_tram(slot.conventional_um, slot.climb_um)[1])  # fmt: skip
    found = tram_from_reversed(there, back)
    assert found.tram_um_mm == pytest.approx(TRAM)
    assert found.deflection_um_mm == pytest.approx(np.polyfit(Z, slot.climb_um, 1)[0])
    assert 1000 * found.deflection_mm == pytest.approx(slot.climb_um.mean())
    assert found.position_mm == pytest.approx(0, abs=1e-12)


def test_a_missing_wall_is_refused() -> None:
    whole = wall_shape(Z, np.zeros(5), Z, np.ones(5) / 1000)
    with pytest.raises(Refusal, match="slot cut back: the right wall was not read"):
        tram_from_reversed(whole, wall_shape(Z, np.zeros(5)))
    half = causes({"E1": wall_shape(Z, np.zeros(5))}, {"E1": "a"}, {"E1": "climb"})[0]
    assert half.why_missing == "on no first slot were both walls read on their own"
