"""Recession by zone, base line, and the slot that follows from them."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.pins import hang_up_height_mm
from wearlab.milling.practices import Cutter, Feature, Finish, Layered, Settings
from wearlab.milling.wear_to_size import land_from_exposure_mm
from wearlab.wall.base_line import base_line, pooled_scatter
from wearlab.wall.prediction import PredictedSlot, predict_slot
from wearlab.wall.recession import at_heights, recessions


def lands(cutter: str = "E1", **zones: tuple[float, float, float]) -> pd.DataFrame:
    rows = [(cutter, 1, zone, low, high, land) for zone, (low, high, land) in zones.items()]
    return pd.DataFrame(rows, columns=["cutter", "inspection", "zone", "from_mm", "to_mm", "land_mm"])


def facts(relief: float = 10.0, cutter: str = "E1") -> pd.DataFrame:
    return pd.DataFrame({"cutter": [cutter], "relief_deg": [relief], "rake_deg": [0.0]})


def test_land_to_size() -> None:
    # S12: textbook problem set (apparently Black and Kohser, DeGarmo's Materials and Processes, ch. 21, problem 2;
    # question seen on a web page, answer computed): a land of 0.020 in at 5 deg makes a turned diameter grow by
    # 0.0035 in; a slot, cut by the same land on both walls, narrows by as much.
    found = recessions(lands(lower=(0.0, 5.0, 0.020 * 25.4)), facts(relief=5.0))
    assert 2 * found.table["recession_mm"].iloc[0] / 25.4 == pytest.approx(0.0035, abs=5e-5)


def test_reasons_of_cutters_that_say_nothing() -> None:
    table = pd.concat(
        [
            lands("E1", lower=(0.0, 2.0, 0.1)),
            lands("E2", end=(0.0, 5.0, 0.1)),
            lands("E3", lower=(math.nan, math.nan, 0.1)),
            lands("E4", lower=(0.0, 2.0, 0.1)),
        ]
    )
    known = pd.DataFrame({"cutter": ["E1", "E2", "E3", "E4", "E5"], "relief_deg": [10.0, 10.0, 10.0, math.nan, 10.0]})
    found = recessions(table, known)
    assert found.table["cutter"].tolist() == ["E1"]
    assert found.rake_assumed == ("E1",)
    assert "in a zone that makes a wall" in found.why("E2")
    assert "no heights" in found.why("E3")
    assert "relief_deg" in found.why("E4")
    assert "no wear land of this cutter" in found.why("E5")
    with pytest.raises(Refusal, match="without land_mm"):
        recessions(table.drop(columns="land_mm"), known)


def test_heights_and_zone_lines() -> None:
    zones = recessions(lands(lower=(0.0, 2.0, 0.2), middle=(2.0, 5.0, 0.0)), facts()).at("E1", 1)
    r = float(zones["recession_mm"].iloc[0])
    got, _, apart = at_heights(zones, np.array([0.0, 1.9, 2.0, 2.1, 4.9, 5.2]), 0.25)
    assert got == pytest.approx([r, r / 2, r / 2, r / 2, 0, math.nan], nan_ok=True)
    assert apart == pytest.approx([0, r, r, r, 0, math.nan], nan_ok=True)
    sharp, _, _ = at_heights(zones, np.array([1.9, 2.1]))
    assert sharp == pytest.approx([r, 0])
    nothing = at_heights(zones.iloc[:0], np.array([1.0]))
    assert all(np.isnan(part).all() for part in nothing)


def test_base_line_against_numpy() -> None:
    z = np.array([0.5, 2.0, 4.0, 6.0, 8.5])
    w = np.array([9.991, 9.994, 9.993, 9.997, 9.998])
    line = base_line(z, w)
    (slope, level), covariance = np.polyfit(z, w, 1, cov=True)
    at = np.array([0.0, 3.0, 9.0])
    rows = np.column_stack([at, np.ones(3)])
    assert line.at(at) == pytest.approx(level + slope * at)
    assert line.error_at(at) == pytest.approx(np.sqrt(np.sum(rows @ covariance * rows, axis=1)))
    assert line.df == 3


def test_base_line_of_few_heights_is_level_and_takes_the_shared_scatter() -> None:
    short = base_line([1.0, 5.0], [9.99, 9.998])
    assert short.slope == 0
    assert short.at([0.0, 8.0]) == pytest.approx([9.994, 9.994])
    one = base_line([1.0], [9.99])
    assert one.df == 0
    assert one.error_at(np.array([0.0])).tolist() == [0.0]
    sigma, df = pooled_scatter([short, one])
    assert (sigma, df) == (short.sigma_mm, 1)
    shared = base_line([1.0], [9.99], sigma_mm=0.003, df=7)
    assert shared.error_at(np.array([4.0])) == pytest.approx([0.003])
    with pytest.raises(ArgumentError, match="0 heights"):
        base_line([], [])


def standing_slot(land_mm: float = 0.25) -> PredictedSlot:
    """Four layers of 2 mm and a finishing pass by the same cutter: land by zone from the metres slid."""
    cutter, settings = Cutter(10, 4), Settings(6000 / math.pi, 0.05)
    rough = Layered(feature=Feature(10, 8, 120, sides="one"), cutter=cutter, settings=settings, layers=4)
    finish = Finish(feature=Feature(10.6, 8, 120), cutter=cutter, settings=settings, stock_wall_mm=0.3)
    limits = {"lower": (0.0, 2.0), "middle": (2.0, 5.0), "upper": (5.0, 8.0)}
    slid = sum(one.zone_exposure(limits).per("parts")["sliding_m"] for one in (rough, finish))
    land = land_from_exposure_mm(land_mm, slid, slid[0])
    zones = {name: (*limits[name], float(value)) for name, value in zip(limits, land, strict=True)}
    return predict_slot(recessions(lands(**zones), facts()).at("E1", 1), base_line([1.0, 7.0], [10.0, 10.0]), 8.0)


def test_step_and_hang_up_of_the_standing_example() -> None:
    # Derived for the standing example: a cutter that roughs in layers of 2 mm and finishes leaves a slot 84 um narrower
    # below 2 mm at a land of 0.25 mm and 10 deg of relief; a pin between the two widths hangs up at the layer's height.
    slot = standing_slot()
    low, high = slot.widths_mm.min(), slot.widths_mm.max()
    assert 1000 * (high - low) == pytest.approx(84, abs=0.5)
    for pin in np.linspace(low + 1e-6, high - 1e-6, 7):
        assert slot.hang_up(pin) == 2.0
    assert slot.hang_up(low - 1e-6) == 0.0
    assert slot.hang_up(high + 1e-6) == 8.0


def test_three_pins_read_a_profile() -> None:
    # The profile of the standing example and its pins, here through zones as fine as its corners.
    z, w = np.array([0, 0.3, 2.0, 2.2, 8]), np.array([9.88, 9.93, 9.93, 9.992, 9.992])
    lines = np.linspace(0, 8, 801)
    middle = (lines[1:] + lines[:-1]) / 2
    zones = pd.DataFrame({"from_mm": lines[:-1], "to_mm": lines[1:], "recession_error_mm": 0.0})
    zones["recession_mm"] = (10 - np.interp(middle, z, w)) / 2
    slot = predict_slot(zones, base_line([1.0], [10.0]), 8.0)
    for pin, stop in ((9.92, 0.24), (9.95, 2.06), (9.98, 2.16)):
        assert slot.hang_up(pin) == pytest.approx(stop, abs=0.015)
        assert slot.hang_up(pin) == pytest.approx(float(hang_up_height_mm(z, w, pin)), abs=0.011)


def test_fillet_and_chamfer() -> None:
    # Derived: fillet 0.1, gap 2 um a side: a sharp pin stands off by 80 um, one with a chamfer of 0.1 not at all.
    slot = standing_slot(0.0)
    pin = 10.0 - 0.004
    assert slot.hang_up(pin, fillet_mm=0.1) == pytest.approx(0.080, abs=5e-4)
    assert slot.hang_up(pin, fillet_mm=0.1, chamfer_mm=0.1) == 0.0
    # A pin that hangs higher up never comes to the fillet.
    assert standing_slot().hang_up(9.95, fillet_mm=0.1) == 2.0


def test_interval_of_a_hang_up() -> None:
    zones = recessions(lands(lower=(0.0, 2.0, 0.2), middle=(2.0, 8.0, 0.0)), facts()).at("E1", 1)
    zones["recession_error_mm"] = 0.001
    slot = predict_slot(zones, base_line([1.0, 4.0, 7.0], [10.0, 10.001, 10.0], sigma_mm=0.001, df=20), 8.0, 0.25)
    sure = slot.hang_up_interval(9.96, 9.9625)
    assert (sure.low, sure.high) == (1.75, 2.25)
    # A pin about as wide as the lower stretch may reach the floor or hang on the line.
    open_ = slot.hang_up_interval(9.9285, 9.931)
    assert open_.low == 0.0
    assert open_.high == 2.25
    wide = slot.hang_up_interval(9.96, 9.9625, level=0.5)
    assert wide.high - wide.low <= sure.high - sure.low
    bare = predict_slot(zones.assign(recession_error_mm=math.nan), base_line([1.0], [10.0]), 8.0, 0.0)
    assert bare.hang_up_interval(9.96, 9.96).low == 2.0
    assert "pin class alone" in bare.hang_up_interval(9.96, 9.96).method


def test_a_stretch_that_was_not_read() -> None:
    zones = recessions(lands(lower=(0.4, 2.0, 0.2), middle=(2.0, 5.0, 0.1)), facts()).at("E1", 1)
    line = base_line([1.0], [10.0])
    # Nothing is known above 5 mm: a pin meets that first.
    assert math.isnan(predict_slot(zones, line, 8.0).hang_up(9.9))
    assert predict_slot(zones, line, 8.0).hang_up_interval(9.9, 9.9).unbounded == "both"
    slot = predict_slot(zones, line, 5.0)
    # A pin that hangs above the corner is settled; one that comes down to it is not.
    assert slot.hang_up(9.95) == 2.0
    assert math.isnan(slot.hang_up(9.9))
