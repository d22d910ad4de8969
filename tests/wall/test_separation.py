"""Wear told from what was there before: growth, the rest, and its ratio to the recession of the edge."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.walls import lands_for_walls, trial_walls
from wearlab.wall.over_cutters import over_cutters
from wearlab.wall.readings import wall_readings
from wearlab.wall.recession import recessions
from wearlab.wall.separation import HALF_WIDTH, separate
from wearlab.wear.curves import wear_curves

TAN = np.tan(np.radians(10.0))


def test_wear_and_bend_come_apart(standing) -> None:
    found = trial_walls(standing).separation
    last = found.table[found.table["inspection"] == 2]
    low = last[last["height_mm"] == 1.0]
    assert low["recession_mm"].to_numpy() == pytest.approx(np.full(4, 0.25 * TAN), abs=1e-6)
    # What is left when the recession is taken away is the bend: 4 um and 5 um.
    assert sorted(set(low["rest_mm"].round(5))) == pytest.approx([0.004, 0.005], abs=2e-6)
    assert low["grown_mm"].to_numpy() == pytest.approx(np.full(4, 0.25 * TAN), abs=2e-6)
    assert found.ratio.mean == pytest.approx(1.0, abs=1e-4)
    assert found.why_missing == ""


def test_walls_that_grow_beyond_wear_show(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    rng = np.random.default_rng(3)
    for at in range(4):
        for look, land in enumerate((0.02, 0.15, 0.28)):
            made.lands(f"E{at}", look, corner=land, lower=land, middle=land, upper=land)
            # Deflection that grows with the blunt edge: half as much again as the recession.
            wall = {z: 0.003 + 1.5 * TAN * land + rng.normal(0, 0.0005) for z in (1.0, 3.5, 6.0)}
            made.slot(f"E{at}", look, wall, wall)
    found = trial_walls(trial_of(made.rows, toml=zones_toml)).separation
    assert found.interval().low > 1.3
    assert found.ratio.mean == pytest.approx(1.5, abs=0.05)


def test_a_first_slot_that_was_worn_already_counts_from_there(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    for look, land in ((3, 0.10), (5, 0.20)):
        made.lands("E1", look, lower=land)
        made.slot("E1", look, {1.0: TAN * land}, {1.0: TAN * land})
    rows = trial_walls(trial_of(made.rows, toml=zones_toml)).separation.table
    assert rows["expected_mm"].tolist() == pytest.approx([0, 0, 0.1 * TAN, 0.1 * TAN], abs=2e-6)
    assert rows["rest_mm"].to_numpy() == pytest.approx(np.zeros(4), abs=2e-6)


def test_half_of_the_width_where_no_wall_was_read(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    for look, land in enumerate((0.0, 0.2)):
        made.lands("E1", look, lower=land)
        made.add("E1", look, "width", 10 - 2 * TAN * land, height_mm=1.0)
    found = trial_walls(trial_of(made.rows, toml=zones_toml)).separation
    assert set(found.table["side"]) == {HALF_WIDTH}
    assert found.table["grown_mm"].tolist() == pytest.approx([0.0, 0.2 * TAN], abs=2e-6)
    assert found.ratio.mean == pytest.approx(1.0, abs=1e-4)
    assert found.ratio.why_missing == "one cutter says nothing of others"


def test_heights_on_a_zone_line_are_left_out_of_the_ratio(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    for look, land in enumerate((0.0, 0.2)):
        made.lands("E1", look, lower=land, middle=0.0)
        # At 2 mm nobody knows which zone made the wall; it was read as if the lower one did.
        made.slot("E1", look, {1.0: TAN * land, 2.0: TAN * land}, {1.0: TAN * land, 2.0: TAN * land})
    found = trial_walls(trial_of(made.rows, toml=zones_toml)).separation
    assert found.ratio.mean == pytest.approx(1.0, abs=1e-4)
    assert found.ratios["readings"].iloc[0] == 2


def test_reasons_when_there_is_no_ratio(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    made.slot("E1", 1, {1.0: 0.01}, {1.0: 0.01})
    trial = trial_of(made.rows, toml=zones_toml)
    assert separate(wall_readings(trial)).why_missing == "no lands were handed in"
    assert trial_walls(trial).separation.why_missing == "no wear land of this cutter was read"
    made.lands("E1", 1, lower=0.1)
    once = trial_walls(trial_of(made.rows, toml=zones_toml)).separation
    assert once.why_missing == "no cutter has walls of two slots, a first and a later one"
    made.lands("E1", 2, lower=0.11)
    made.slot("E1", 2, {1.0: 0.011}, {1.0: 0.011})
    little = trial_walls(trial_of(made.rows, toml=zones_toml)).separation
    assert little.why_missing == "no edge receded by 5 um between the slots that were read"
    assert np.isfinite(little.table["grown_mm"]).all()


def test_lands_between_looks_are_read_off_the_line(trial_of, slots, zones_toml: str) -> None:
    made = slots()
    made.lands("E1", 1, lower=0.10)
    made.lands("E1", 3, lower=0.20)
    for look in (1, 2, 4):
        made.slot("E1", look, {1.0: 0.01}, {1.0: 0.01})
    trial = trial_of(made.rows, toml=zones_toml)
    lands = lands_for_walls(trial, wear_curves(trial))
    assert lands["land_mm"].tolist() == pytest.approx([0.10, 0.15, np.nan], nan_ok=True)
    edge = recessions(lands, trial.facts())
    assert len(edge.table) == 2
    found = trial_walls(trial)
    assert [why for key, why in found.missing.items()] == ["no land was read at this look"]


def test_mean_over_cutters_against_scipy() -> None:
    from scipy.stats import ttest_1samp

    values = [0.9, 1.1, 1.3, 0.95]
    limits = ttest_1samp(values, 0).confidence_interval(0.9)
    found = over_cutters([*values, np.nan]).interval(0.9)
    assert (found.low, found.high) == pytest.approx((limits.low, limits.high))
    assert over_cutters([]).why_missing == "no cutter has this number"
    assert over_cutters([1.0, 1.0]).interval().unbounded == "both"
    assert pd.isna(over_cutters([2.0]).sd)
