"""Which speeds for a Taylor fit."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.plan.scatter import sigma_of_cv
from wearlab.plan.speeds import SpeedDesign, choose_speeds, given_speeds

# Standard error of n about 0.25 at a scatter of 30 %, worked out beforehand from n^2 sigma / sqrt(Sxx).
ERRORS = {(45, 60, 80): 0.026, (50, 60, 72): 0.041, (40, 50, 63, 80): 0.021}


@pytest.mark.parametrize("speeds", ERRORS)
def test_standard_error_of_n(speeds: tuple[float, ...]) -> None:
    design = given_speeds(speeds, [3] * len(speeds), 0.25, sigma_of_cv(0.30))
    assert round(design.std_error_n, 3) == ERRORS[speeds]


def test_spread_beats_number() -> None:
    sigma = sigma_of_cv(0.30)
    narrow, wide = (given_speeds(speeds, [3, 3, 3], 0.25, sigma) for speeds in ((50, 60, 72), (45, 60, 80)))
    twice = given_speeds((50, 60, 72), [6, 6, 6], 0.25, sigma)
    assert wide.std_error_n < twice.std_error_n < narrow.std_error_n


def test_standard_error_in_simulation() -> None:
    """20,000 trials fitted by least squares: sd of n = -1/slope, to the accuracy of the delta method."""
    design = given_speeds((45, 60, 80), (4, 4, 4), 0.25, 0.15)
    x = np.repeat(np.log(design.speeds_m_min), design.counts)
    rng = np.random.default_rng(8)
    life = -x / 0.25 + 0.15 * rng.standard_normal((20_000, len(x)))
    slope = (life @ (x - x.mean())) / design.sxx
    assert np.std(-1 / slope) == pytest.approx(design.std_error_n, rel=0.03)
    v60 = [
        math.exp((row.mean() + b * -x.mean() - math.log(1.0)) / -b)
        for row, b in zip(life[:4000], slope[:4000], strict=True)
    ]
    truth = design.std_error_ln_v(1.0, 1.0, 1.0)  # life 1 at speed 1 in these units
    assert np.std(np.log(v60)) == pytest.approx(truth, rel=0.05)


def test_v60_and_other_sizes_of_a_choice() -> None:
    """The error of v60 is checked in simulation above; with four times the cutters both errors are halved."""
    choice = choose_speeds(50, 90, 6, 0.25, 0.34, expected_life_min=40, at_m_min=70)
    assert choice.chosen.std_error_v60 == pytest.approx(choice.chosen.std_error_ln_v(60, 40, 70))
    assert math.isnan(choose_speeds(50, 90, 6, 0.25, 0.34).chosen.std_error_v60)
    by_size = {one.cutters: one for one in choice.sizes}
    assert set(by_size) == {6, 9, 12, 15, 18, 24}
    assert by_size[6] == choice.chosen
    assert {one.speeds_m_min for one in choice.sizes} == {choice.chosen.speeds_m_min}
    small, large = (given_speeds((50, 67, 90), [k] * 3, 0.25, 0.34, expected_life_min=40, at_m_min=70) for k in (2, 8))
    assert small.std_error_n == pytest.approx(2 * large.std_error_n)
    assert small.std_error_v60 == pytest.approx(2 * large.std_error_v60)


def test_chance_of_a_bend_in_simulation() -> None:
    """Against the t test of the quadratic term, 4,000 trials."""
    from scipy.stats import t

    design = SpeedDesign("", (50, 70, 100), (4, 4, 4), 0.25, 0.25)
    x = np.repeat(np.log(design.speeds_m_min), design.counts)
    x = x - x.mean()
    X = np.column_stack([np.ones_like(x), x, x**2])
    life = -4 * x - 4.0 * x**2 + 0.25 * np.random.default_rng(9).standard_normal((4000, len(x)))
    inverse = np.linalg.inv(X.T @ X)
    beta = life @ X @ inverse
    left = life - beta @ X.T
    sigma = np.sqrt((left**2).sum(axis=1) / (len(x) - 3))
    found = np.abs(beta[:, 2]) / (sigma * math.sqrt(inverse[2, 2])) > t.ppf(0.975, len(x) - 3)
    assert found.mean() == pytest.approx(design.chance_of_bend(4.0), abs=4 * math.sqrt(0.25 / 4000))


def test_half_widths_and_bends_of_twelve_tests() -> None:
    """Half-width of the 95 % interval in % of n and the chance of a bend q = 4, sigma 0.25, n 0.25; found beforehand by
    simulation, to the printed digit (the chances to 0.02)."""
    table = {
        (1.6, (6, 6)): (17, 0.0),
        (1.6, (5, 2, 5)): (19, 0.18),
        (1.6, (4, 4, 4)): (21, 0.25),
        (2.0, (6, 6)): (12, 0.0),
        (2.0, (5, 2, 5)): (13, 0.60),
        (2.0, (4, 4, 4)): (14, 0.80),
        (2.0, (3, 3, 3, 3)): (16, 0.75),
    }
    for (ratio, counts), (half, bend) in table.items():
        speeds = tuple(np.exp(np.linspace(0, math.log(ratio), len(counts))))
        design = SpeedDesign("", speeds, counts, 0.25, 0.25)
        assert 100 * design.half_width == pytest.approx(half, abs=0.75)
        assert design.chance_of_bend(4.0) == pytest.approx(bend, abs=0.03)


def test_the_choice_can_see_a_bend_and_keeps_inside_the_range() -> None:
    choice = choose_speeds(50, 100, 12, 0.25, 0.3, expected_life_min=60, at_m_min=60)
    assert choice.chosen.speeds_m_min[0] == 50
    assert choice.chosen.speeds_m_min[-1] <= 100
    assert len(choice.chosen.speeds_m_min) >= 3
    assert choice.chosen.cutters == 12
    surest = min(choice.weighed, key=lambda one: one.std_error_n)
    assert surest.name == "two ends"
    assert surest.chance_of_bend() == 0.0
    for one in choice.weighed:
        assert one.cutters == 12


def test_speeds_at_which_lives_are_too_short_are_not_used() -> None:
    choice = choose_speeds(50, 200, 12, 0.25, 0.3, expected_life_min=60, at_m_min=60, shortest_life_min=5)
    fastest = choice.chosen.speeds_m_min[-1]
    assert 60 * (fastest / 60) ** -4 >= 5
    assert 60 * ((fastest + 2) / 60) ** -4 < 5
    with pytest.raises(Refusal, match="already near 5 min"):
        choose_speeds(150, 200, 12, 0.25, 0.3, expected_life_min=60, at_m_min=60)


def test_machine_time_may_decide() -> None:
    free = choose_speeds(50, 100, 12, 0.25, 0.3, expected_life_min=60, at_m_min=50)
    tight = choose_speeds(50, 100, 12, 0.25, 0.3, expected_life_min=60, at_m_min=50, most_minutes=280)
    assert tight.chosen.minutes <= 280 < free.chosen.minutes
    assert tight.chosen.name == "fast end"
    with pytest.raises(Refusal, match="take at least"):
        choose_speeds(50, 100, 12, 0.25, 0.3, expected_life_min=60, at_m_min=50, most_minutes=50)


def test_n_may_stay_unbounded() -> None:
    assert SpeedDesign("", (55, 60, 65), (2, 2, 2), 0.25, 0.4).chance_bounded < 0.4
    assert SpeedDesign("", (50, 70, 100), (4, 4, 4), 0.25, 0.2).chance_bounded > 0.99


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((100, 50, 12, 0.25, 0.3), "speeds from 100 to 50"),
        ((50, 100, 4, 0.25, 0.3), "4 cutters"),
        ((50, 100, 12, 3.0, 0.3), "n 3"),
    ],
)
def test_bad_arguments(arguments: tuple, message: str) -> None:
    with pytest.raises(ArgumentError, match=message):
        choose_speeds(*arguments)
    with pytest.raises(ArgumentError, match="3 speeds and 2 counts"):
        given_speeds((50, 60, 70), (2, 2), 0.25, 0.3)
