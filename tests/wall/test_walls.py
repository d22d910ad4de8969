"""Everything at once, on logs that hold much and logs that hold little; trends and hang-up."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from wearlab.compare.walls import trial_walls
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.wall.hang_up import HANGS, REACHES, STAYS_OUT, outcome, pin_limits
from wearlab.wall.profile import wall_profiles
from wearlab.wall.readings import wall_readings
from wearlab.wall.trend import wall_trends
from wearlab.wall.walls import walls


def test_the_standing_trial(standing) -> None:
    found = trial_walls(standing)
    assert found.nominal.width_mm == pytest.approx(10.0, abs=1e-6)
    assert found.hang_ups.depth_mm == 8.0
    table = found.hang_ups.table
    assert len(table) == 18
    # Every pin stops where the worn edge says: on the layer line, at the floor or at the mouth.
    assert (table["outcome"] == table["predicted_outcome"]).all()
    last = table[(table["inspection"] == 2) & (table["pin_mm"] == 9.95)]
    assert last["predicted_mm"].tolist() == [2.0, 2.0]
    assert last["height_mm"].tolist() == [2.0, 2.0]
    counts = found.hang_ups.agreement()
    assert (counts.pins, counts.inside, counts.same_outcome) == (18, 18, 18)
    assert counts.rms_mm == pytest.approx(0.0)
    frame = found.to_frame()
    gap = frame["width_mm"] - frame["predicted_width_mm"]
    away = (frame["height_mm"] - 2.0).abs() > 0.25
    assert gap[away].abs().max() < 1e-5


def test_json_ready_and_with_the_published_keys(standing) -> None:
    made = trial_walls(standing).to_dict()
    text = json.dumps(made, allow_nan=False)
    assert "NaN" not in text
    assert {"profiles", "hang_up"} <= set(made)
    assert {"cutter", "part", "pin_mm", "height_mm", "predicted_mm"} <= set(made["hang_up"][0])
    point = made["profiles"][0]["points"][0]
    assert {"height_mm", "left_mm", "right_mm", "width_mm", "predicted_width_mm"} <= set(point)
    assert made["profiles"][0]["predicted"][0]["width_mm"] == pytest.approx(9.992, abs=1e-5)


def test_without_lands_the_walls_stand_alone(standing) -> None:
    found = walls(standing)
    assert found.predicted == {}
    assert set(found.missing.values()) == {"no lands were handed in"}
    assert found.hang_ups.table["predicted_mm"].isna().all()
    assert found.hang_ups.agreement().pins == 0
    # The widths of the same slot still say where a pin stops.
    low = found.hang_ups.table.query("inspection == 2 and pin_mm == 9.95")["from_widths_mm"]
    assert ((low > 1.0) & (low < 3.0)).all()
    assert len(found.trends.by_group)


def test_without_relief_nothing_is_predicted(trial_of, slots, zones_toml: str) -> None:
    made = slots(relief_deg="")
    made.lands("E1", 1, lower=0.1)
    made.slot("E1", 1, {1.0: 0.01}, {1.0: 0.01})
    found = trial_walls(trial_of(made.rows, toml=zones_toml))
    assert set(found.missing.values()) == {"relief_deg is not recorded, so a land says nothing of size"}


def test_pins_alone(trial_of, slots, zones_toml: str) -> None:
    made = slots(feature_depth_mm=8, feature_width_mm=10, feature_length_mm=100)
    made.lands("E1", 1, lower=0.1)
    made.add("E1", 1, "hang_up", 2.0, pin_mm=9.95, part="p1")
    found = trial_walls(trial_of(made.rows, toml=zones_toml))
    row = found.hang_ups.table.iloc[0]
    assert row["outcome"] == HANGS
    assert math.isnan(row["from_widths_mm"])
    assert row["why_missing"] == "no width was read, so there is no base line"
    assert found.profiles == ()
    assert found.to_dict()["profiles"] == []
    assert found.to_frame().empty


def test_a_log_without_walls_is_refused(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    made.lands("E1", 1, lower=0.1)
    with pytest.raises(Refusal, match="holds no reading of a wall"):
        trial_walls(trial_of(made.rows, toml=zones_toml))


def test_a_floor_fillet_stands_a_pin_off(trial_of, slots, zones_toml: str) -> None:
    # Derived: fillet 0.1, gap 2 um a side: 80 um with a sharp pin, 0 with a chamfer of 0.1, which cannot see it.
    made = slots()
    made.lands("E1", 1, corner=0.0, lower=0.0, middle=0.0, upper=0.0)
    flat = dict.fromkeys((1.0, 3.0, 6.0), 0.0)
    made.slot("E1", 1, flat, flat)
    made.add("E1", 1, "floor_radius", 0.1, part="p1")
    for pin, chamfer, height in ((9.996, 0.0, 0.08), (9.99601, 0.1, 0.0)):
        made.add("E1", 1, "hang_up", height, pin_mm=pin, pin_chamfer_mm=chamfer, part="p1")
    table = trial_walls(trial_of(made.rows, toml=zones_toml)).hang_ups.table
    by_chamfer = table.set_index("pin_chamfer_mm")
    assert by_chamfer.loc[0.0, "predicted_mm"] == pytest.approx(0.080, abs=5e-4)
    assert by_chamfer.loc[0.1, "predicted_mm"] == 0.0
    assert by_chamfer.loc[0.1, "unseen_fillet_mm"] == pytest.approx(0.102, abs=1e-5)
    assert by_chamfer.loc[0.0, "unseen_fillet_mm"] == pytest.approx(0.002, abs=1e-5)


def test_outcomes_and_pin_classes() -> None:
    assert [outcome(h, 8.0) for h in (0.0, 0.1, 8.0, math.nan)] == [REACHES, HANGS, STAYS_OUT, ""]
    # ASME B89.1.5, class ZZ at 9.95 mm: + 5.08 um (0.0002 in).
    low, high, note = pin_limits(9.95, "ZZ")
    assert (low, round(high, 5), note) == (9.95, 9.95508, "")
    assert pin_limits(9.95, "best")[2].endswith("the pin is taken as exact")
    assert pin_limits(9.95, "")[:2] == (9.95, 9.95)


def test_trends_against_scipy(trial_of, slots) -> None:
    from scipy.stats import linregress, t

    made = slots()
    rng = np.random.default_rng(2)
    slopes = []
    for cutter in ("E1", "E2", "E3"):
        values = [0.002 + 0.001 * look + rng.normal(0, 0.0004) for look in range(4)]
        for look, value in enumerate(values):
            made.slot(cutter, look, {1.0: value}, {1.0: value})
        slopes.append(linregress([0, 10, 20, 30], np.round(values, 6)).slope)
    trial = trial_of(made.rows)
    found = wall_trends(wall_profiles(wall_readings(trial)), dict.fromkeys(("E1", "E2", "E3"), "a"), "cutting_time_min")
    left = found.by_cutter[found.by_cutter["what"] == "left"]
    assert left["slope"].tolist() == pytest.approx(slopes)
    row = found.by_group[found.by_group["what"] == "left"].iloc[0]
    half = t.ppf(0.975, 2) * np.std(slopes, ddof=1) / np.sqrt(3)
    assert (row["low"], row["high"]) == pytest.approx((np.mean(slopes) - half, np.mean(slopes) + half))
    width = found.by_group[found.by_group["what"] == "width"].iloc[0]
    assert width["slope"] == pytest.approx(-2 * np.mean(slopes), rel=1e-3)
    # One height tells of no taper and no lean.
    assert set(found.by_group["what"]) == {"width", "left", "right", "size", "shift"}
    with pytest.raises(ArgumentError, match="clock 'days'"):
        wall_trends((), {}, "days")


def test_one_slot_has_no_trend(trial_of, slots) -> None:
    made = slots()
    made.slot("E1", 1, {1.0: 0.01}, {1.0: 0.01})
    found = wall_trends(wall_profiles(wall_readings(trial_of(made.rows))), {"E1": "a"}, "cutting_time_min")
    assert found.by_cutter.empty
    assert found.by_group.empty
