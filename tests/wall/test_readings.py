"""Repeats averaged, and what a reading is worth."""

from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import Refusal
from wearlab.wall.nominal import FROM_FEATURE, FROM_READINGS, nominal_width
from wearlab.wall.profile import NO_WALLS, wall_profiles
from wearlab.wall.readings import wall_readings


def test_repeats_are_averaged_and_pooled(trial_of, slots) -> None:
    made = slots()
    sets = {1.0: (9.990, 9.994, 9.992), 3.0: (9.980, 9.986)}
    for height, values in sets.items():
        for repeat, value in enumerate(values, start=1):
            made.add("E1", 1, "width", value, height_mm=height, part="p1", repeat=repeat)
    made.add("E1", 1, "wall", 0.004, height_mm=1.0, side="left", part="p1")
    found = wall_readings(trial_of(made.rows))
    widths = found.of("width")
    assert widths["value_mm"].tolist() == pytest.approx([9.992, 9.983])
    assert widths["repeats"].tolist() == [3, 2]
    error = found.error_of("width")
    squares = sum(((np.array(v) - np.mean(v)) ** 2).sum() for v in sets.values())
    assert error.df == 3
    assert error.sd_mm == pytest.approx(np.sqrt(squares / 3))
    assert found.error_of("wall").why_missing == "no wall was read twice"


def test_a_log_without_walls_is_refused(trial_of, slots) -> None:
    made = slots()
    made.lands("E1", 1, lower=0.1)
    with pytest.raises(Refusal, match="no reading of a wall"):
        wall_readings(trial_of(made.rows))


def test_nominal_width_from_readings(trial_of, slots) -> None:
    made = slots()
    made.slot("E1", 1, {1.0: 0.01, 3.0: 0.002}, {1.0: 0.012, 3.0: 0.001}, width=10.6)
    found = nominal_width(wall_readings(trial_of(made.rows)), trial_of(made.rows).facts())
    assert found.width_mm == pytest.approx(10.6)
    assert found.source == FROM_READINGS
    assert np.isnan(found.std_error_mm)


@pytest.mark.parametrize(
    ("width", "source", "why"),
    [(10.0, FROM_FEATURE, ""), (16.0, "", "the widths read (9.99 mm) are not those of the feature")],
)
def test_nominal_width_from_the_feature(trial_of, slots, width: float, source: str, why: str) -> None:
    made = slots(feature_sides="closed", feature_width_mm=width, feature_depth_mm=8, feature_length_mm=100)
    made.add("E1", 1, "width", 9.99, height_mm=1.0)
    trial = trial_of(made.rows)
    found = nominal_width(wall_readings(trial), trial.facts())
    assert (found.source, found.why_missing) == (source, why)


def test_nominal_width_of_nowhere(trial_of, slots) -> None:
    made = slots()
    made.add("E1", 1, "width", 9.99, height_mm=1.0)
    trial = trial_of(made.rows)
    assert "no closed feature" in nominal_width(wall_readings(trial), trial.facts()).why_missing


def test_profiles_hold_what_was_read(trial_of, slots) -> None:
    made = slots()
    made.slot("E1", 1, {1.0: 0.010, 5.0: 0.002}, {1.0: 0.008, 5.0: 0.004}, width=10.0)
    made.add("E2", 1, "width", 9.98, height_mm=1.0, part="p1")
    made.add("E2", 1, "width", 9.99, height_mm=6.0, part="p1")
    both, width = wall_profiles(wall_readings(trial_of(made.rows)))
    assert both.points["left_mm"].tolist() == [0.010, 0.002]
    assert both.shape is not None
    # Half of what the width opens by is what each wall opens by.
    assert both.shape.taper_um_mm == pytest.approx(both.opening_um_mm / 2)
    assert both.shape.taper_um_mm == pytest.approx(1.5)
    assert width.shape is None
    assert width.why_missing == NO_WALLS
    assert width.opening_um_mm == pytest.approx(2.0)
    assert width.to_dict()["shape"] is None
