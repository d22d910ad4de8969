"""The band that edge exposure predicts for a ratio of wear rates or lives."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from wearlab.compare.compare import compare
from wearlab.compare.predicted import predict_ratio, predict_shift, zone_limits
from wearlab.core.interval import Interval
from wearlab.life.lives import trial_criteria
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.words.shifts import shift_beside

ZONES = {"lower": (0.4, 2.0), "upper": (5.0, 8.0)}


def _facts() -> pd.DataFrame:
    shared = {"feed_per_tooth_mm": 0.05, "teeth": 4.0, "diameter_mm": 10.0, "spindle_rpm": 1910.0,
              "feature_width_mm": 10.0, "feature_depth_mm": 8.0, "feature_length_mm": 120.0}  # fmt: skip
    return pd.DataFrame(
        [
            shared | {"cutter": "E1", "group": "layered", "axial_depth_mm": 2.0, "radial_width_mm": 10.0},
            shared | {"cutter": "E2", "group": "side", "axial_depth_mm": 8.0, "radial_width_mm": 2.5},
        ]
    )


@pytest.mark.parametrize("clock", ["cutting_time_min", "volume_cm3", "cut_length_m", "parts"])
def test_four_steps_predict_three_to_four_on_every_clock(clock: str) -> None:
    """Derived: sliding pi / arccos(1 - 2 x 2.5 / 10) = 3, chip per mm of edge exactly the number of steps."""
    band = predict_ratio(_facts(), "layered", "side", "lower", ZONES, clock, "rate")
    assert (band.low, band.high) == pytest.approx((math.pi / math.acos(0.5), 4.0))
    assert band.by_hypothesis["chip"] == pytest.approx(4.0)
    life = predict_ratio(_facts(), "layered", "side", "lower", ZONES, clock, "life")
    assert (life.low, life.high) == pytest.approx((0.25, 1 / 3))


def test_why_there_is_no_band() -> None:
    facts = _facts()
    assert "not in the cut" in predict_ratio(facts, "layered", "side", "upper", ZONES, "volume_cm3", "rate").why_missing
    assert "no limits" in predict_ratio(facts, "layered", "side", "middle", ZONES, "volume_cm3", "rate").why_missing
    unknown = facts.assign(radial_width_mm=math.nan)
    assert (
        "radial_width_mm" in predict_ratio(unknown, "layered", "side", "lower", ZONES, "volume_cm3", "rate").why_missing
    )
    no_part = facts.drop(columns="feature_width_mm")
    assert "feature_width_mm" in predict_ratio(no_part, "layered", "side", "lower", ZONES, "parts", "rate").why_missing


def test_how_wear_divides_between_two_zones() -> None:
    """Derived: an edge 6 mm deep works a third of the zone from 5 to 8 mm, one 8 mm deep all of it."""
    facts = _facts()
    facts.loc[0, "axial_depth_mm"] = 6.0
    pair, zones = ("layered", "side"), ("lower", "upper")
    ratio = predict_shift(facts, pair, zones, ZONES, "ratio")
    assert (ratio.low, ratio.high) == pytest.approx((3.0, 3.0))
    assert ratio.by_hypothesis.keys() == {"contact_time", "sliding", "chip"}
    shares = predict_shift(facts, pair, zones, ZONES, "difference")
    assert (shares.low, shares.high) == pytest.approx((0.25, 0.25))  # 3/4 against 1/2
    alone = predict_shift(_facts(), pair, zones, ZONES, "difference")
    assert alone.low == pytest.approx(0.5)  # all of it against half
    assert "not in the cut" in predict_shift(_facts(), pair, zones, ZONES, "ratio").why_missing
    assert "no limits" in predict_shift(_facts(), pair, ("lower", "middle"), ZONES, "ratio").why_missing
    unknown = facts.assign(teeth=math.nan)
    assert "not recorded: teeth" in predict_shift(unknown, pair, zones, ZONES, "ratio").why_missing


def test_the_shift_of_the_demonstration_stands_beside_its_band() -> None:
    trial = read_log(sample_path("shoulder_demo"))
    (shift,) = compare(trial, trial_criteria(trial)[0][0]).shifts
    assert shift.predicted is not None
    assert shift.predicted.low == pytest.approx(-0.5)  # one layer works the lower zone alone, a side cut all of it
    texts = shift_beside(shift)
    assert len(texts) == 2
    assert "below the resolution of the gauge and not nothing" in texts[0]
    assert "50 points larger on “layered” cutters" in texts[1]
    assert "below that band" in texts[1]


@pytest.mark.parametrize(
    ("estimate", "low", "high", "position"),
    [(3.5, 2, 5, "inside"), (4.5, 3.9, 5, "reaches"), (4.5, 4.2, 5, "above"), (2.0, 1.5, 2.9, "below")],
)
def test_position_of_a_measured_ratio(estimate: float, low: float, high: float, position: str) -> None:
    band = predict_ratio(_facts(), "layered", "side", "lower", ZONES, "volume_cm3", "rate")
    assert band.beside(estimate, Interval(low, high, 0.95, "t")) == position


def test_demonstration_trial_lies_in_its_band() -> None:
    """The truth that made it: life side over layered 2.75 in the lower zone, inside 2.55 to 3."""
    trial = read_log(sample_path("shoulder_demo"))
    assert zone_limits(trial)["lower"] == (0.5, 3.0)
    found = compare(trial, trial_criteria(trial)[0][0])
    life = found.contrasts[0]
    assert life.predicted is not None
    assert life.predicted.low == pytest.approx(math.pi / math.acos(1 / 3))
    assert life.predicted.high == pytest.approx(3.0)
    assert life.predicted.position == "inside"
    assert life.interval.contains(2.75)
