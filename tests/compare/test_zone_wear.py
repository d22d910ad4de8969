"""Measured wear by zone beside what exposure makes of one of them."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from wearlab.compare.trial_exposure import exposure_of_trial
from wearlab.core.errors import Refusal
from wearlab.logbook.criterion import END, parse_criterion

BASE = {
    "diameter_mm": 10, "teeth": 4, "cutting_speed_m_min": 60, "feed_per_tooth_mm": 0.05, "work_material": "steel",
    "cutter_material": "carbide",
}  # fmt: skip
LAYERED = BASE | {"strategy": "layered", "axial_depth_mm": 2, "radial_width_mm": 10}
SIDE = BASE | {"strategy": "side", "axial_depth_mm": 8, "radial_width_mm": 2.5}
TOML = "[zones]\nlower = [0, 2]\nupper = [2, 8]\n"


def rows_of(cutter: str, facts: dict, rates: dict[str, float], rng: np.random.Generator):
    """Straight wear in mm per cm3, with the scatter of a cutter and of a reading."""
    share = math.exp(rng.normal(0, 0.05))
    for look in range(1, 6):
        for zone, rate in rates.items():
            land = rate * 40 * look * share + (rng.normal(0, 0.0005) if rate else 0.0)
            yield facts | {
                "cutter": cutter, "reading": look, "volume_cm3": 40 * look, "measure": "VB", "zone": zone,
                "value": round(max(land, 0.0), 4), "unit": "mm",
            }  # fmt: skip


def trial_with(trial_of, lower_ratio: float, upper: float = 3e-4):
    rng = np.random.default_rng(4)
    rows = []
    for at in range(5):
        rows += rows_of(f"L{at}", LAYERED, {"lower": lower_ratio * 3e-4, "upper": 0.0}, rng)
        rows += rows_of(f"S{at}", SIDE, {"lower": 3e-4, "upper": upper}, rng)
    return trial_of(rows, toml=TOML)


@pytest.mark.parametrize(
    ("ratio", "position", "standing"),
    [
        (3.0, "inside", ("contact_time", "sliding")),
        (4.0, "inside", ("chip",)),
        (6.0, "above", ()),
        (1.5, "below", ()),
    ],
)
def test_ratio_and_what_it_leaves_standing(trial_of, ratio, position, standing):
    # Four steps at W = D: 3.0 by contact time and sliding, 4 by chip per edge.
    found = exposure_of_trial(trial_with(trial_of, ratio * 1.001), parse_criterion("VB=0.3mm"))
    lower = next(one for one in found.wear.contrasts if one.zone == "lower")
    at = found.wear.contrasts.index(lower)
    assert (lower.a, lower.b) == ("layered", "side")
    assert (lower.predicted.low, lower.predicted.high) == pytest.approx((3.0, 4.0), rel=1e-3)
    assert lower.estimate == pytest.approx(ratio, rel=0.12)
    assert found.wear.standing[at] == standing
    # A mean on the edge of the band may fall either side of it; its interval then reaches.
    assert lower.predicted.position in (position, "reaches")
    assert lower.predicted.position == position or ratio in (3.0, 4.0)


def test_zones_follow_from_the_one_that_was_taken(trial_of):
    found = exposure_of_trial(trial_with(trial_of, 3.4), parse_criterion("VB=0.3mm"), standard="layered")
    table = found.wear.table.set_index(["group", "zone"])
    assert found.wear.reference == ("layered", "lower")
    assert table.loc[("layered", "lower"), "position"] == "reference"
    # Layers never touch the upper zone: nothing is predicted there and nothing was read.
    assert table.loc[("layered", "upper"), ["rate", "predicted_low", "predicted_high"]].tolist() == [0, 0, 0]
    assert table.loc[("layered", "upper"), "position"] == "inside"
    reference = table.loc[("layered", "lower"), "rate"]
    side = table.loc[("side", "upper")]
    assert side["predicted_high"] == pytest.approx(reference / 3.0)
    assert side["predicted_low"] == pytest.approx(reference / 4.0)
    assert side["position"] == "inside"
    json.dumps(found.wear.to_dict(), allow_nan=False)


def test_a_zone_that_wears_too_much_shows(trial_of):
    found = exposure_of_trial(trial_with(trial_of, 3.4, upper=9e-4), parse_criterion("VB=0.3mm"), standard="layered")
    table = found.wear.table.set_index(["group", "zone"])
    assert table.loc[("side", "upper"), "position"] == "above"


def test_a_log_of_ends_has_exposure_and_no_wear(trial_of):
    rows = [
        facts | {"cutter": f"{facts['strategy']}{at}", "volume_cm3": 100 + at, "measure": "end", "end_reason": "worn"}
        for facts in (LAYERED, SIDE)
        for at in range(3)
    ]
    found = exposure_of_trial(trial_of(rows), END)
    assert [one.name for one in found.exposures.practices] == ["layered", "side"]
    assert found.wear is None
    assert "no zone that is in the cut has a wear rate" in found.notes[-1]


def test_one_practice_alone(trial_of):
    rng = np.random.default_rng(1)
    rows = [row for at in range(3) for row in rows_of(f"L{at}", LAYERED, {"lower": 1e-3}, rng)]
    found = exposure_of_trial(trial_of(rows, toml=TOML), parse_criterion("VB=0.3mm"))
    assert found.exposures.pairs == ()
    assert found.wear.contrasts == ()
    assert found.wear.table["cutters"].tolist() == [3, 0]
    json.dumps(found.exposures.to_dict() | found.wear.to_dict(), allow_nan=False)


def test_no_practice_recorded_is_one_group(trial_of):
    rng = np.random.default_rng(1)
    facts = {name: cell for name, cell in LAYERED.items() if name != "strategy"}
    rows = [row for at in range(3) for row in rows_of(f"L{at}", facts, {"lower": 1e-3}, rng)]
    found = exposure_of_trial(trial_of(rows, toml=TOML), parse_criterion("VB=0.3mm"))
    assert [one.name for one in found.exposures.practices] == ["cutters"]


def test_demonstration_band_beside_the_measured_ratio(sample):
    found = exposure_of_trial(sample("shoulder_demo"), parse_criterion("VB.mean=0.2mm"), standard="layered")
    lower = next(one for one in found.wear.contrasts if one.zone == "lower")
    # The truth of that trial: rates differ 2.75 times, inside of the band 2.552 to 3.
    assert lower.predicted.position == "inside"
    assert lower.interval.contains(1 / 2.75)
    assert set(found.wear.table["position"]) <= {"reference", "inside", "reaches"}


def test_nothing_that_can_be_worked_out(sample):
    with pytest.raises(Refusal, match="not recorded: diameter_mm"):
        exposure_of_trial(sample("nasa_milling"), parse_criterion("VB=0.3mm"), by="work_material")


def test_a_zone_that_only_one_practice_was_read_in(trial_of):
    rng = np.random.default_rng(9)
    rows = []
    for at in range(4):
        rows += rows_of(f"L{at}", LAYERED, {"lower": 1e-3}, rng)
        rows += rows_of(f"S{at}", SIDE, {"lower": 3e-4, "upper": 3e-4}, rng)
    found = exposure_of_trial(trial_of(rows, toml=TOML), parse_criterion("VB=0.3mm"), standard="layered")
    table = found.wear.table.set_index(["group", "zone"])
    assert table.loc[("layered", "upper"), "why_missing"] == "no land was read in this zone"
    assert table.loc[("layered", "upper"), "position"] == ""
    assert table.loc[("side", "upper"), "position"] in ("inside", "reaches")
    zones = [one.zone for one in found.wear.contrasts]
    assert "lower" in zones
    json.dumps(found.wear.to_dict(), allow_nan=False)


def test_a_band_needs_cutters_on_both_sides():
    import pandas as pd

    from wearlab.compare.predicted import predict_ratio

    facts = pd.DataFrame([LAYERED | {"cutter": "E1", "group": "layered", "spindle_rpm": 1910.0}])
    band = predict_ratio(facts, "layered", "side", "lower", {"lower": (0.0, 2.0)}, "volume_cm3", "rate")
    assert band.why_missing == "no cutter of side is left to compare in this zone"
