"""Clocks that follow from minutes, and lives of single flutes."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.compare import compare
from wearlab.core.errors import Refusal
from wearlab.fit.tool_life import fit_tool_life
from wearlab.life.derived_clocks import per_minute
from wearlab.life.lives import tool_lives, trial_criteria
from wearlab.life.per_flute import flute_frame, flute_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path


def test_a_full_slot_slides_half_a_turn_a_revolution() -> None:
    """Derived: R pi n in m/min for a slot as wide as the cutter, half the cutting speed."""
    facts = pd.DataFrame({"cutter": ["E1"], "diameter_mm": [10.0], "radial_width_mm": [10.0], "spindle_rpm": [1910.0]})
    assert per_minute(facts, "slid_m").iloc[0] == pytest.approx(math.pi * 10 * 1910 / 2000)
    quarter = facts.assign(radial_width_mm=2.5)
    assert per_minute(quarter, "slid_m").iloc[0] == pytest.approx(math.pi * 10 * 1910 / 6000)
    assert np.isnan(per_minute(facts.assign(spindle_rpm=math.nan), "slid_m").iloc[0])


def test_lives_in_metres_slid_are_lives_in_minutes_times_one_number() -> None:
    trial = read_log(sample_path("shoulder_demo"))
    criterion = trial_criteria(trial)[0][0]
    table = tool_lives(trial, [criterion], ["cutting_time_min", "slid_m"]).to_frame()
    minutes, slid = (table[table["clock"] == clock].reset_index(drop=True) for clock in ("cutting_time_min", "slid_m"))
    assert (minutes["status"] == slid["status"]).all()
    k = per_minute(trial.facts(), "slid_m").reindex(minutes["cutter"]).to_numpy()
    exact = (minutes["status"] == "exact").to_numpy()
    assert slid["life"][exact].to_numpy() == pytest.approx((minutes["life"] * k)[exact].to_numpy())
    assert slid["bracket_low"].to_numpy() == pytest.approx((minutes["bracket_low"] * k).to_numpy(), nan_ok=True)


def test_without_a_width_there_is_no_sliding_and_the_reason() -> None:
    trial = read_log(sample_path("nasa_milling"))
    table = tool_lives(trial, [parse_criterion("VB=0.3mm")], ["slid_m"]).to_frame()
    assert set(table["status"]) == {"none"}
    assert "radial_width_mm" in table["why_missing"].iloc[0]


def test_nasa_deep_against_shallow_in_minutes_and_in_volume() -> None:
    """Computed with a second program: deep over shallow 0.509 in minutes, 1.017 in volume per unrecorded width."""
    trial = read_log(sample_path("nasa_milling"))
    criterion = parse_criterion("VB=0.3mm")
    for clock, expected in (("cutting_time_min", 0.509), ("cm3_per_mm", 1.017)):
        found = compare(trial, criterion, clock, by="axial_depth", standard="0.75", outcomes=["life"],
                        adjust=["feed_per_rev", "work_material"])  # fmt: skip
        assert found.contrasts[0].a == "1.5"
        assert found.contrasts[0].estimate == pytest.approx(expected, abs=5e-4)
    lives = tool_lives(trial, [criterion], ["cutting_time_min"]).to_frame()
    fit = fit_tool_life(lives, trial.facts(), ["feed_per_rev", "axial_depth", "work_material"])
    assert 2 ** fit.beta[fit.slope_of("axial_depth_mm")] == pytest.approx(0.509, abs=5e-4)


def test_flutes_have_lives_of_their_own() -> None:
    trial = read_log(sample_path("shoulder_demo"))
    table = flute_frame(flute_lives(trial, parse_criterion("lower:VB=0.2mm")))
    assert set(table["flute"]) == {"1", "2", "3", "4"}
    assert len(table) == 4 * table["cutter"].nunique()
    worst = tool_lives(trial, [parse_criterion("lower:VB.worst=0.2mm")], ["cutting_time_min"]).to_frame()
    first = table[table["status"] == "exact"].groupby("cutter")["life"].min()
    worst = worst[worst["status"] == "exact"].set_index("cutter")["life"]
    both = first.index.intersection(worst.index)
    assert len(both) > 10
    assert (worst[both] <= first[both] + 1e-9).mean() > 0.9, "the worst flute is past no later than any one flute"


def test_a_wall_has_no_flute() -> None:
    trial = read_log(sample_path("shoulder_demo"))
    with pytest.raises(Refusal, match="width does not belong to a flute"):
        flute_lives(trial, parse_criterion("width@2mm=12.55mm"))
    with pytest.raises(Refusal, match="no single flute was read"):
        flute_lives(read_log(sample_path("nasa_milling")), parse_criterion("VB=0.3mm"))
