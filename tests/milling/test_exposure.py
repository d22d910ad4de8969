"""Edge exposure: identities, limits, units, and the figures of the standing example.

Standing example: a step or slot 10 wide, 8 deep, 120 long; cutter of 10 mm, 4 teeth, 60 m/min, 0.05 mm a
tooth. Layered = 4 layers of 2 x 10; side = 4 side passes of 8 x 2.5. Its figures are derived in the project,
not published.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import exposure as x
from wearlab.milling.engagement import mean_chip_mm

RPM = 1910
ZONES = {"corner": (0, 0.4), "lower": (0.4, 2), "middle": (2, 5), "upper": (5, 8)}
SIZE = st.floats(0.1, 50.0)
SHARE = st.floats(1e-6, 1.0)


def zones(depth, width, feed=0.05, diameter=10, teeth=4, rpm=RPM, **more):
    return x.zone_exposure(depth, width, feed, teeth, diameter, rpm, ZONES, **more)


@pytest.mark.parametrize(
    ("depth", "width", "feed", "rate", "sliding", "chip"),
    [
        (2, 10, 0.05, 7.6, [3.93, 3.93, 0, 0], [125, 125, 0, 0]),
        (8, 2.5, 0.05, 7.6, [1.31] * 4, [31.3] * 4),
        (8, 2.5, 0.05 * 4 / 3, 10.2, [0.98] * 4, [31.3] * 4),
        (8, 0.5, 0.1436, 4.4, [0.98] * 4, [31.3] * 4),
        (8, 10, 0.05, 30.6, [0.98] * 4, [31.3] * 4),
        (8, 10, 0.0125, 7.6, [3.93] * 4, [31.3] * 4),
    ],
)
def test_zones_of_the_standing_example(depth, width, feed, rate, sliding, chip):
    result = zones(depth, width, feed)
    assert result.pace.removal_rate_cm3_min == pytest.approx(rate, abs=0.051)
    assert result.sliding_m_cm3 == pytest.approx(sliding, abs=0.006)
    assert result.chip_mm3_mm_cm3 == pytest.approx(chip, abs=0.051)


def test_equal_mean_chip_pairs_of_the_standing_example():
    # Side passes with the mean chip of the layers: 0.0667, and 0.144 for a width of 0.5.
    wanted = mean_chip_mm(0.05, 10, 10)
    assert mean_chip_mm(0.0667, 2.5, 10) == pytest.approx(wanted, rel=1e-3)
    assert mean_chip_mm(0.1436, 0.5, 10) == pytest.approx(wanted, rel=2e-3)
    ratio = zones(2, 10).sliding_m_cm3[0] / zones(8, 2.5, 0.05 * 4 / 3).sliding_m_cm3[0]
    assert ratio == pytest.approx(4.0, rel=1e-12)


def test_band_of_the_standing_example_is_three_to_four():
    band = x.predicted_band(zones(2, 10), zones(8, 2.5))
    low, high = band.of("lower")
    assert low == pytest.approx(3.0, rel=1e-12)
    assert high == pytest.approx(4.0, rel=1e-12)
    assert band.of("upper") == (0.0, 0.0)
    assert x.predicted_band(zones(8, 2.5), zones(2, 10)).of("upper") == (math.inf, math.inf)
    assert all(math.isnan(v) for v in x.predicted_band(zones(2, 10), zones(2, 10)).of("upper"))


@pytest.mark.parametrize(
    ("steps", "ratio"), [(2, 2.0), (3, 2.55), (4, 3.0), (5, 3.39), (6, 3.74), (8, 4.35), (10, 4.88)]
)
def test_ratio_for_any_number_of_steps(steps, ratio):
    layered, side = zones(8 / steps, 10), zones(8, 10 / steps)
    band = x.predicted_band(layered, side)
    assert band.by_hypothesis["sliding"][0] == pytest.approx(ratio, abs=6e-3)
    assert band.by_hypothesis["sliding"][0] == pytest.approx(math.pi / math.acos(1 - 2 / steps), rel=1e-12)
    assert band.by_hypothesis["contact_time"][0] == pytest.approx(band.by_hypothesis["sliding"][0], rel=1e-12)
    assert band.by_hypothesis["chip"][0] == pytest.approx(steps, rel=1e-12)


@pytest.mark.parametrize(("diameter", "ratio"), [(12, 2.43), (16, 2.24), (20, 2.17), (25, 2.13)])
def test_ratio_with_a_cutter_wider_than_the_step(diameter, ratio):
    band = x.predicted_band(zones(2, 10, diameter=diameter), zones(8, 2.5, diameter=diameter))
    assert band.by_hypothesis["sliding"][0] == pytest.approx(ratio, abs=6e-3)
    assert band.by_hypothesis["chip"][0] == pytest.approx(4, rel=1e-12)


def test_sliding_per_part_of_the_standing_example():
    # 37.7 m on the bottom of the flute in layers, 12.6 m in side passes.
    per_part = zones(2, 10, volume_cm3=9.6).per("parts")["sliding_m"]
    assert per_part == pytest.approx([37.7, 37.7, 0, 0], abs=0.05)
    assert zones(8, 2.5, volume_cm3=9.6).per("parts")["sliding_m"] == pytest.approx([12.6] * 4, abs=0.05)


def test_other_clocks_agree_with_the_seconds_of_a_pass():
    # Independent: one pass of 120 mm, counted in revolutions.
    result = zones(2, 10, volume_cm3=9.6)
    turns = 120 / (0.05 * 4)
    minutes, volume, metres = turns / RPM, 2 * 10 * 120 / 1000, 0.120
    for clock, amount in (("min", minutes), ("cm3", volume), ("m", metres)):
        per = result.per(clock)
        assert per["impacts"][0] * amount == pytest.approx(turns)
        assert per["contact_time_min"][0] * amount == pytest.approx(minutes / 2)
        assert per["sliding_m"][0] * amount == pytest.approx(turns * math.pi * 5 / 1000)
        assert per["chip_mm3_mm"][0] * amount == pytest.approx(volume * 1000 / 4 / 2)
    assert result.floor_cm2_cm3 * volume == pytest.approx(12.0)
    with pytest.raises(ArgumentError, match="clock 'h'; allowed: cm3, min, parts, m"):
        result.per("h")


@given(depth=SIZE, share=SHARE, diameter=SIZE, feed=st.floats(1e-4, 0.5), teeth=st.integers(1, 12))
def test_identities(depth, share, diameter, feed, teeth):
    width = share * diameter
    e = x.edge_exposure(depth, width, feed, teeth, diameter, 3000, [depth / 2])
    # All the metal is accounted for: N ap (w/V) = 1.
    assert teeth * depth * e.chip_mm3_mm_cm3[0] / 1000 == pytest.approx(1, rel=1e-12)
    # All teeth and heights together rub 1/h_m of area per volume, whatever the practice.
    assert teeth * depth * e.sliding_m_cm3[0] == pytest.approx(
        1 / mean_chip_mm(feed, width, diameter), rel=1e-9
    )
    # Sliding is contact time at the cutting speed.
    speed = math.pi * diameter * 3000 / 1000
    assert e.sliding_m_cm3[0] == pytest.approx(e.contact_time_min_cm3[0] * speed, rel=1e-9)


@given(depth=SIZE, share=SHARE, diameter=SIZE, scale=st.floats(1e-2, 1e2))
def test_band_does_not_depend_on_the_unit(depth, share, diameter, scale):
    def band(factor):
        place = {"all": (0.0, depth * factor)}
        a = x.zone_exposure(
            depth * factor / 3, diameter * factor, 0.01 * factor, 4, diameter * factor, 3000, place
        )
        b = x.zone_exposure(
            depth * factor, share * diameter * factor, 0.01 * factor, 4, diameter * factor, 3000, place
        )
        return x.predicted_band(a, b).of("all")

    assert band(scale) == pytest.approx(band(1.0), rel=1e-6)


@given(depth=SIZE, diameter=SIZE, factor=st.floats(0.01, 100.0))
def test_exposure_per_volume_scales_with_the_length_unit(depth, diameter, factor):
    a = x.edge_exposure(depth, diameter / 2, 0.01, 3, diameter, 3000, [0.0])
    b = x.edge_exposure(
        depth * factor, diameter * factor / 2, 0.01 * factor, 3, diameter * factor, 3000, [0.0]
    )
    # Sliding per volume goes as length^-2, chip per edge and volume as length^-1, impacts as length^-3.
    assert b.sliding_m_cm3[0] * factor**2 == pytest.approx(a.sliding_m_cm3[0], rel=1e-9)
    assert b.chip_mm3_mm_cm3[0] * factor == pytest.approx(a.chip_mm3_mm_cm3[0], rel=1e-9)
    assert b.impacts_cm3[0] * factor**3 == pytest.approx(a.impacts_cm3[0], rel=1e-9)


def test_limits():
    # ae to 0: sliding per volume grows as 1/sqrt(ae), chip per edge does not change.
    thin = [x.edge_exposure(8, w, 0.05, 4, 10, RPM, [1.0]) for w in (1e-10, 4e-10)]
    assert thin[0].sliding_m_cm3[0] / thin[1].sliding_m_cm3[0] == pytest.approx(2, rel=1e-6)
    assert thin[0].chip_mm3_mm_cm3[0] == thin[1].chip_mm3_mm_cm3[0]
    # ae = D: half a turn.
    full = x.edge_exposure(8, 10, 0.05, 4, 10, RPM, [1.0])
    assert full.contact_time_min_cm3[0] * full.pace.removal_rate_cm3_min == pytest.approx(0.5)


def test_heights_around_the_axial_depth():
    e = x.edge_exposure(2, 10, 0.05, 4, 10, RPM, [0, 2, 2.0001, 9])
    assert (e.chip_mm3_mm_cm3 > 0).tolist() == [True, True, False, False]


def test_zone_that_the_depth_divides():
    z = x.zone_exposure(3, 10, 0.05, 4, 10, RPM, {"middle": (2, 5), "end": (0, 5)})
    whole = x.edge_exposure(3, 10, 0.05, 4, 10, RPM, [1.0]).sliding_m_cm3[0]
    assert z.sliding_m_cm3 == pytest.approx([whole / 3, 0])
    assert z.of("middle")["sliding_m_cm3"] == pytest.approx(whole / 3)
    with pytest.raises(ArgumentError, match="zone 'top'; allowed: middle, end"):
        z.of("top")


@given(depth=st.floats(0.1, 9.9), low=st.floats(0, 9), span=st.floats(0.01, 9))
def test_zone_is_the_mean_over_heights(depth, low, span):
    z = x.zone_exposure(depth, 5, 0.05, 4, 10, RPM, {"zone": (low, low + span)}).chip_mm3_mm_cm3[0]
    heights = low + span * (np.arange(2000) + 0.5) / 2000
    mean = x.edge_exposure(depth, 5, 0.05, 4, 10, RPM, heights).chip_mm3_mm_cm3.mean()
    assert z == pytest.approx(mean, abs=1e-3 * 1000 / (4 * depth))


def test_shapes_broadcast_and_missing_numbers_stay_missing():
    e = x.edge_exposure(np.full((3, 1), 2.0), [10.0, math.nan], 0.05, 4, 10, RPM, np.arange(5))
    assert e.sliding_m_cm3.shape == (3, 2, 5)
    assert np.isnan(e.sliding_m_cm3[:, 1, :3]).all()
    assert np.isfinite(e.sliding_m_cm3[:, 0]).all()
    assert e.floor_cm2_cm3.shape == (3, 2)


def test_default_zones():
    assert x.default_zones(10, 2, 8) == {
        "end": (0, 5), "corner": (0, 0.4), "lower": (0.4, 2), "middle": (2, 5), "upper": (5, 8)
    }  # fmt: skip
    assert x.default_zones(10) == x.default_zones(10, 2, 8)
    assert list(x.default_zones(10, 2, 2)) == ["end", "corner", "lower"]
    with pytest.raises(
        ArgumentError, match=r"layer 0.3 mm and depth 8 mm.*corner \(0.4 mm\) below the layer"
    ):
        x.default_zones(10, 0.3, 8)
    assert x.zone_exposure(2, 10, 0.05, 4, 10, RPM).zones == ("end", "corner", "lower", "middle", "upper")


def test_bad_questions_are_refused():
    with pytest.raises(ArgumentError, match="zone lower from 2 to 1 mm; allowed: 0 <= from < to"):
        x.zone_exposure(2, 10, 0.05, 4, 10, RPM, {"lower": (2, 1)})
    with pytest.raises(ArgumentError, match="no zone"):
        x.zone_exposure(2, 10, 0.05, 4, 10, RPM, {})
    with pytest.raises(ArgumentError, match="heights_mm: -1"):
        x.edge_exposure(2, 10, 0.05, 4, 10, RPM, [-1])
    with pytest.raises(ArgumentError, match="different heights or zones"):
        x.predicted_band(zones(2, 10), x.edge_exposure(2, 10, 0.05, 4, 10, RPM, [1.0]))
    with pytest.raises(ArgumentError, match="different heights or zones"):
        x.predicted_band(zones(2, 10), x.zone_exposure(2, 10, 0.05, 4, 10, RPM, {"lower": (0.4, 2)}))


def test_band_by_height_and_by_other_clocks():
    a = x.edge_exposure(2, 10, 0.05, 4, 10, RPM, [1.0, 3.0], volume_cm3=9.6)
    b = x.edge_exposure(8, 2.5, 0.05, 4, 10, 2 * RPM, [1.0, 3.0], volume_cm3=9.6)
    # b is fed twice as fast: per minute it does twice as much, per volume its contact time is half.
    band = x.predicted_band(a, b)
    assert band.zones == ("1 mm", "3 mm")
    assert band.of("1 mm") == pytest.approx((3, 6))
    assert x.predicted_band(a, b, "min").of("1 mm") == pytest.approx((1.5, 3))
    assert x.predicted_band(a, b, "parts").of("1 mm") == pytest.approx((3, 6))


def test_part_volume_can_be_filled_in():
    z = x.with_volume(zones(2, 10), 9.6)
    assert z.per("parts")["chip_mm3_mm"][0] == pytest.approx(1200)
    assert np.isnan(zones(2, 10).per("parts")["chip_mm3_mm"][0])
