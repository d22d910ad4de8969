"""Exposure of practices side by side: the derived table of the standing example, logs, and refusals."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from wearlab.compare.exposures import exposures, trial_exposures, usual_zones
from wearlab.compare.practice_of import PlainCut, practice_of
from wearlab.compare.practice_text import matched_practice, practices_of_texts
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.milling.cut import Cut
from wearlab.milling.practices import Cutter, Feature, Layered, Settings

RPM = 6000 / math.pi
STEP = Feature(10, 8, 120, sides="one")
SLOT = Feature(10, 8, 120)
CUTTER = Cutter(10, 4, centre_cutting=True)
RUN = Settings(RPM, 0.05, 0.05)
ZONES = {"corner": (0.0, 0.4), "lower": (0.4, 2.0), "middle": (2.0, 5.0), "upper": (5.0, 8.0)}
# Derived for the standing example (10 mm cutter, 4 teeth, 0.05 mm, 60 m/min): m slid and mm3 per mm of edge, per cm3.
TABLE = [
    ("layered:layers=4", STEP, [3.93, 3.93, 0, 0], [125, 125, 0, 0]),
    ("side:steps=4", STEP, [1.31] * 4, [31.3] * 4),
    ("side:steps=4,feed_per_tooth_mm=0.0666667", STEP, [0.98] * 4, [31.3] * 4),
    ("full_slot", SLOT, [0.98] * 4, [31.3] * 4),
    ("full_slot:feed_per_tooth_mm=0.0125", SLOT, [3.93] * 4, [31.3] * 4),
    ("cut:axial_depth_mm=2,radial_width_mm=10", None, [3.93, 3.93, 0, 0], [125, 125, 0, 0]),
]


@pytest.mark.parametrize(("text", "feature", "slid", "chip"), TABLE)
def test_table_of_the_standing_example(text, feature, slid, chip):
    practice = practices_of_texts([text], CUTTER, RUN, feature)
    found = exposures(practice, ZONES).practices[0].zone_frame()
    assert found["sliding_m_cm3"].tolist() == pytest.approx(slid, abs=5.1e-3)
    assert found["chip_mm3_mm_cm3"].tolist() == pytest.approx(chip, abs=0.051)


K_STEPS = [(2, 2.0), (3, 2.55), (4, 3.0), (5, 3.39), (6, 3.74), (8, 4.35), (10, 4.88)]


@pytest.mark.parametrize(("steps", "sliding"), K_STEPS)
def test_band_of_k_steps(steps, sliding):
    # Derived: at W = D sliding differs by pi / arccos(1 - 2/k), chip per edge by exactly k.
    made = practices_of_texts([f"layered:layers={steps}", f"side:steps={steps}"], CUTTER, RUN, STEP)
    found = exposures(made, {"lower": (0.0, 0.5)})
    row = found.ratios.iloc[0]
    assert row["sliding"] == pytest.approx(sliding, abs=5.1e-3)
    assert row["chip"] == pytest.approx(steps)
    assert (row["low"], row["high"]) == pytest.approx((row["sliding"], row["chip"]))
    assert "removal_rate_cm3_min" in found.matched[("layered", "side")].matched
    unmatched = set(found.matched[("layered", "side")].unmatched)
    assert {"engagement_angle_deg", "teeth_in_contact"} <= unmatched
    # Half the diameter over a quarter turn has the mean chip of the whole over half a turn.
    assert ("mean_chip_mm" in unmatched) == (steps > 2)


def test_all_the_metal_is_accounted_for():
    # Derived: teeth times depth times chip per mm of edge is 1, whatever the practice.
    texts = ["layered:layers=4", "side:steps=4", "a=full_slot:feed_per_tooth_mm=0.01"]
    made = practices_of_texts(texts, CUTTER, RUN, STEP)
    for one in exposures(made, ZONES).practices:
        frame = one.height_frame()
        gap = np.diff(frame["height_mm"])
        chip = frame["chip_mm3_mm_cm3"].to_numpy()
        assert 4 * float(np.sum(gap * (chip[1:] + chip[:-1]) / 2)) / 1000 == pytest.approx(1.0, abs=2e-3)


def test_only_one_touches_a_zone():
    made = practices_of_texts(["layered:layers=4", "side:steps=4", "b=layered:layers=8"], CUTTER, RUN, STEP)
    found = exposures(made, ZONES, standard="layered")
    assert found.pairs == (("side", "layered"), ("b", "layered"))
    upper = found.ratios[found.ratios["zone"] == "upper"]
    assert upper["low"].tolist() == pytest.approx([math.inf, math.nan], nan_ok=True)
    assert upper["why_missing"].tolist() == ["layered does not touch this zone", "neither touches this zone"]
    text = json.dumps(found.to_dict(), allow_nan=False)
    rows = [row for row in json.loads(text)["ratios"] if row["zone"] == "upper"]
    assert [row["unbounded"] for row in rows] == ["both", None]
    assert [row["low"] for row in rows] == [None, None]


def test_the_end_zone_appears_where_the_end_works():
    slot = practices_of_texts(["layered:layers=4", "plunge:pitch=2"], CUTTER, RUN, SLOT)
    assert "end" in usual_zones(slot)
    assert "end" not in usual_zones(practices_of_texts(["layered:layers=4"], CUTTER, RUN, SLOT))
    corner = exposures(slot).of("plunge").zones.of("corner")
    # Derived: in a row at a pitch of 2 mm the corner slides 4.43 m a cm3; the row is evenly spaced at 1.95 mm here.
    assert float(corner["sliding_m_cm3"]) == pytest.approx(4.45, abs=0.03)


def test_per_part_needs_a_part():
    plain = practices_of_texts(["a=cut:axial=2,radial=10", "b=cut:axial=8,radial=2.5"], CUTTER, RUN)
    found = exposures(plain, {"lower": (0.4, 2.0)}, clock="parts")
    assert found.ratios["why_missing"].tolist() == ["the volume of a part is not known"]
    assert exposures(plain, {"lower": (0.4, 2.0)}, clock="m").ratios["chip"].iloc[0] == pytest.approx(4.0)


def test_forbidden_practices_are_named_and_the_others_stay():
    made = practices_of_texts(["side:steps=4", "full_slot"], CUTTER, RUN, SLOT)
    found = exposures(made, ZONES)
    assert [one.name for one in found.practices] == ["full_slot"]
    assert "no room for side passes" in found.refused["side"]
    with pytest.raises(Refusal, match="no room for side passes"):
        exposures({"side": made["side"]})
    with pytest.raises(ArgumentError, match="no practice 'sid'; allowed: full_slot"):
        exposures(made, ZONES, standard="sid")
    with pytest.raises(ArgumentError, match="clock 'hours'"):
        exposures(made, ZONES, clock="hours")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("laered:layers=4", "did you mean layered|Did you mean layered"),
        ("layered:layers", "'layers' in 'layered:layers'; allowed: key=value"),
        ("layered:layers=two", "layers in 'layered:layers=two': 'two'; allowed: a number"),
        ("layered:layers=2.5", "a whole number"),
        ("layered:layers=nan", "a number"),
        ("plunge:clean=maybe", "allowed: yes, no"),
        ("layered:depth=4", "key 'depth'"),
        ("cut:axial_depth_mm=2", "without radial_width_mm"),
        ("=layered:layers=2", "PRACTICE"),
    ],
)
def test_texts_that_cannot_be_read(text, message):
    with pytest.raises(ArgumentError, match=message):
        practices_of_texts([text], CUTTER, RUN, STEP)


def test_names_speeds_and_features_of_texts():
    made = practices_of_texts(
        ["layered:layers=2", "layered:layers=4", "fast=layered:layers=4,cutting_speed_m_min=120"], CUTTER, RUN, STEP
    )
    assert list(made) == ["layered", "layered:layers=4", "fast"]
    assert made["fast"].settings.spindle_rpm == pytest.approx(2 * RPM)
    with pytest.raises(ArgumentError, match="twice"):
        practices_of_texts(["a=layered:layers=2"] * 3, CUTTER, RUN, STEP)
    with pytest.raises(ArgumentError, match="without a feature"):
        practices_of_texts(["layered:layers=2"], CUTTER, RUN)
    with pytest.raises(ArgumentError, match="no practice"):
        practices_of_texts([], CUTTER, RUN)


@pytest.mark.parametrize("rule", ["removal_rate", "mean_chip", "max_chip", "power"])
def test_matched_settings_share_what_the_rule_says(rule):
    quantity = {"removal_rate": "removal_rate_cm3_min", "power": "power_kw"}.get(rule, f"{rule}_mm")
    made = practices_of_texts(["layered:layers=4", "side:steps=8", "c=cut:axial=8,radial=0.5"], CUTTER, RUN, STEP)
    for name in ("side", "c"):
        side = matched_practice(made["layered"], made[name], rule)
        assert side.quantities()[quantity] == pytest.approx(made["layered"].quantities()[quantity], rel=1e-9)
    with pytest.raises(ArgumentError, match="rule 'feed'"):
        matched_practice(made["layered"], made["side"], "feed")


def test_a_practice_without_one_width_cannot_be_matched():
    made = practices_of_texts(["layered:layers=4", "plunge:pitch=2"], CUTTER, RUN, SLOT)
    with pytest.raises(Refusal, match="plunge has no one depth and width"):
        matched_practice(made["layered"], made["plunge"], "mean_chip")


FACTS = {
    "strategy": "layered", "diameter_mm": 10.0, "teeth": 4, "spindle_rpm": RPM, "feed_per_tooth_mm": 0.05,
    "axial_depth_mm": 2.0, "radial_width_mm": 10.0, "feature_width_mm": 10.0, "feature_depth_mm": 8.0,
    "feature_length_mm": 120.0, "feature_sides": "closed", "centre_cutting": "yes",
}  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "attribute", "value"),
    [
        ({}, "layers", 4),
        ({"strategy": "side", "feature_sides": "one", "axial_depth_mm": 8.0, "radial_width_mm": 2.5}, "steps", 4),
        ({"strategy": "side", "feature_sides": "closed", "feature_width_mm": 15.0, "axial_depth_mm": 8.0,
          "radial_width_mm": 2.5}, "steps", 2),
        ({"strategy": "plunge", "plunge_pitch_mm": 2.0}, "pitch_mm", 2.0),
        ({"strategy": "predrilled", "drill_diameter_mm": 8.0, "drill_pitch_mm": 8.5, "axial_depth_mm": 8.0}, "then",
         "full_slot"),
        ({"strategy": "predrilled", "drill_diameter_mm": 8.0, "drill_pitch_mm": 8.5}, "layers", 4),
        ({"strategy": "ramp", "ramp_angle_deg": 1.1}, "angle_deg", 1.1),
        ({"strategy": "trochoidal", "feature_width_mm": 16.0, "radial_width_mm": 1.0}, "step_mm", 1.0),
    ],
)  # fmt: skip
def test_practices_of_facts(changes, attribute, value):
    practice = practice_of(FACTS | changes).practice
    assert practice.name == (FACTS | changes)["strategy"]
    assert getattr(practice, attribute) == value


@pytest.mark.parametrize(
    ("changes", "note"),
    [
        ({"axial_depth_mm": 3.0}, "3 layers 3 mm deep do not make 8 mm"),
        ({"strategy": "full_slot", "axial_depth_mm": 2.0}, "an axial depth of 2 mm in a feature of 8 mm"),
        ({"strategy": "swirl"}, "“swirl” is taken as one cut"),
        ({"strategy": ""}, "a practice without a name is taken as one cut"),
        ({"strategy": "finish"}, ""),
        ({"feature_width_mm": math.nan}, ""),
    ],
)
def test_one_cut_where_the_feature_does_not_fit(changes, note):
    found = practice_of(FACTS | changes)
    assert isinstance(found.practice, PlainCut)
    assert note in "; ".join(found.assumed)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"teeth": None}, "not recorded: teeth"),
        ({"strategy": "plunge"}, "not recorded: plunge_pitch_mm"),
        ({"strategy": "plunge", "plunge_pitch_mm": 12.0}, "leaves webs between"),
        ({"strategy": "ramp", "feature_length_mm": None}, "size of the feature is not recorded"),
        ({"strategy": "own", "axial_depth_mm": math.nan}, "not recorded: axial_depth_mm"),
    ],
)
def test_facts_without_an_exposure(changes, message):
    with pytest.raises(Refusal, match=message):
        practice_of(FACTS | changes)


def test_a_plain_cut_is_a_layer_of_it():
    layered = Layered(feature=SLOT, cutter=CUTTER, settings=RUN, layers=4)
    plain = PlainCut(Cut(10, 4, RPM, 0.05, 2, 10), SLOT.volume_cm3)
    a, b = (one.zone_exposure(ZONES) for one in (layered, plain))
    for name in ("contact_time_min_cm3", "sliding_m_cm3", "chip_mm3_mm_cm3", "impacts_cm3"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-9)


def test_demonstration_log(sample):
    found = trial_exposures(sample("shoulder_demo"), standard="layered")
    assert [len(one.cutters) for one in found.practices] == [15, 6]
    assert found.zones["lower"] == (0.5, 3.0)
    # Three steps at W = D: pi / arccos(1/3) = 2.552, and 3.
    lower = found.ratios[found.ratios["zone"] == "lower"].iloc[0]
    assert 1 / lower["high"] == pytest.approx(math.pi / math.acos(1 / 3))
    assert 1 / lower["low"] == pytest.approx(3.0)
    assert any("cutting_speed_m_min runs from 55 to 105" in text for text in found.of("layered").assumed)
    with pytest.raises(ArgumentError, match="practice 'sied'"):
        found.of("sied")
    with pytest.raises(ArgumentError, match="no column 'practise'"):
        trial_exposures(sample("shoulder_demo"), by="practise")


def test_a_log_without_engagement_is_refused(sample):
    with pytest.raises(Refusal, match="not recorded: diameter_mm"):
        trial_exposures(sample("nasa_milling"), by="work_material")
