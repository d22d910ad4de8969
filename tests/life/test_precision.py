"""How well one life is known, and doubts about crossings."""

from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.life.crossing import find_crossing
from wearlab.life.doubts import life_doubts
from wearlab.life.lives import ToolLives
from wearlab.life.precision import life_precision
from wearlab.life.toollife import ToolLife
from wearlab.logbook.criterion import parse_criterion

LIMIT = 0.30


def _true_curve(kind: str, u: np.ndarray) -> np.ndarray:
    """Land against share of life, at the limit when the share is 1."""
    if kind == "straight":
        return 0.04 + 0.26 * u
    if kind == "accelerating":
        return 0.04 + 0.18 * u + 0.08 * np.clip((u - 0.5) / 0.5, 0, None) ** 2
    return LIMIT * u**0.6


@pytest.mark.parametrize("kind", ["straight", "accelerating", "concave"])
@pytest.mark.parametrize("looks", [8, 16])
def test_coverage_of_a_nominal_95_percent_interval(kind: str, looks: int) -> None:
    """Simulated here: 400 lives a cell, reading error 0.0064 mm; true life 60 min, looks fall anywhere in it."""
    rng = np.random.default_rng(20261125)
    error, life, inside, total = 0.0064, 60.0, 0, 0
    for _ in range(400):
        clock = (np.arange(looks + 2) + rng.uniform(0.2, 1.0)) * life / looks
        value = _true_curve(kind, clock / life) + rng.normal(0, error, len(clock))
        stop = int(np.argmax(value >= LIMIT)) + 1
        found = find_crossing(clock[:stop], value[:stop], LIMIT)
        if found.status == "exact":
            total += 1
            precision = life_precision(clock[:stop], value[:stop], LIMIT, found.life, error)
            inside += precision.interval().contains(life)
    assert total > 380
    assert 0.87 <= inside / total <= 0.995


def test_no_reading_error_leaves_the_chord() -> None:
    clock = np.array([10.0, 20.0, 30.0])
    bent = life_precision(clock, np.array([0.1, 0.2, 0.4]), 0.3, 25.0, 0.0)
    assert bent.reading == 0.0
    slope = 0.015
    assert bent.chord == pytest.approx(0.1 / (8 * slope * 3**0.5))
    straight = life_precision(clock, np.array([0.1, 0.2, 0.3]), 0.25, 25.0, 0.0)
    assert straight.chord == pytest.approx(0.0, abs=1e-12)


def test_readings_that_do_not_rise_are_no_bend() -> None:
    """A worn first look, then four that fall and one just past the limit: least-squares slope below 0."""
    clock = np.array([10.0, 20.0, 30.0, 40.0, 50.0])
    found = life_precision(clock, np.array([0.29, 0.28, 0.20, 0.10, 0.301]), 0.3, 49.9, 0.004)
    assert np.polyfit(clock, [0.29, 0.28, 0.20, 0.10, 0.301], 1)[0] < 0
    assert found.no_slope
    assert not found.too_coarse
    assert found.interval().unbounded == "high"


def test_a_coarse_look_at_a_bending_curve_is_flagged() -> None:
    clock = np.array([15.0, 30.0, 45.0, 60.0])
    assert life_precision(clock, np.array([0.05, 0.1, 0.2, 0.5]), 0.3, 50.0, 0.004).too_coarse
    assert not life_precision(clock, np.array([0.1, 0.2, 0.3, 0.4]), 0.35, 52.5, 0.004).too_coarse


def test_a_curve_that_does_not_rise_bounds_nothing() -> None:
    found = life_precision(np.array([1.0, 2, 3, 4]), np.array([0.6, 0.5, 0.1, 0.31]), 0.3, 3.9, 0.01)
    assert found.std_error == float("inf")


def test_a_life_outside_the_readings_is_an_error() -> None:
    with pytest.raises(ArgumentError, match="between 1 and 3"):
        life_precision(np.array([1.0, 2, 3]), np.array([0.1, 0.2, 0.3]), 0.3, 5.0, 0.01)


def _life(values: list[float]) -> ToolLives:
    clock = np.arange(1.0, len(values) + 1) * 10
    found = find_crossing(clock, np.array(values), LIMIT)
    life = ToolLife("E1", "VB=0.3mm", "", "cutting_time_min", found.life, found.life, found.life, found.status, "worn",
                    found.bracket_low, found.bracket_high, found.first, found.last)  # fmt: skip
    return ToolLives((life,), (parse_criterion("VB=0.3mm"),), ("cutting_time_min",))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([0.1, 0.2, 0.31], ""),
        ([0.1, 0.31, 0.2, 0.25, 0.28, 0.32], "at the first and"),
        ([0.1, 0.2, 0.31, 0.1, 0.12], "fell back below it"),
        ([0.1, 0.2, 0.5, 0.4, 0.29], "the last reading is below the limit again"),
    ],
)
def test_doubts_in_words(values: list[float], words: str) -> None:
    doubts = life_doubts(_life(values))
    assert (words in doubts[0].text) if words else not doubts
