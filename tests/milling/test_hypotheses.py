"""Hypotheses of wear growth: what each predicts, and how well they can be told apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.milling import hypotheses as h
from wearlab.milling.exposure import HYPOTHESES, edge_exposure, zone_exposure

ZONE = {"lower": (0.4, 2.0), "upper": (5.0, 8.0)}


def cut(depth, width, feed=0.05, rpm=1910):
    return zone_exposure(depth, width, feed, 4, 10, rpm, ZONE)


def test_life_exponent_between_a_tenth_and_seven_tenths_of_the_diameter():
    # Contact time and sliding: -0.58 in minutes. Chip: -1, and life in cm3 does not depend on the width. A
    # published factorial in Ti6Al4V over that range (Heliyon 6 (2020) e04217, abstract: 1 % of life for 1 %
    # of width) sides with chip.
    assert h.life_exponent_in_width("sliding", 1, 7, 10) == pytest.approx(-0.58, abs=5e-3)
    assert h.life_exponent_in_width("contact_time", 1, 7, 10) == h.life_exponent_in_width("sliding", 1, 7, 10)
    assert h.life_exponent_in_width("chip", 1, 7, 10) == -1
    assert h.life_exponent_in_width("chip", 1, 7, 10, clock="cm3") == 0
    assert h.life_exponent_in_width("sliding", 1, 7, 10, clock="cm3") == pytest.approx(0.42, abs=5e-3)


@given(
    hypothesis=st.sampled_from(sorted(HYPOTHESES)), narrow=st.floats(0.01, 9.9), factor=st.floats(1.001, 10),
    clock=st.sampled_from(["min", "cm3"]),
)  # fmt: skip
def test_life_exponent_agrees_with_the_exposures(hypothesis, narrow, factor, clock):
    wide = min(narrow * factor, 10.0)
    if wide / narrow < 1.0005:
        return
    a, b = (edge_exposure(5, w, 0.05, 4, 10, 3000, [1.0]) for w in (narrow, wide))
    life = h.life_ratio(b, a, hypothesis, clock)[0]
    exponent = math.log(life) / math.log(wide / narrow)
    assert h.life_exponent_in_width(hypothesis, narrow, wide, 10, clock) == pytest.approx(exponent, abs=1e-8)


def test_life_per_cutter_of_the_standing_example():
    side, layered = cut(8, 2.5), cut(2, 10)
    assert h.life_ratio(side, layered, "chip")[0] == pytest.approx(4)
    assert h.life_ratio(side, layered, "sliding")[0] == pytest.approx(3)
    assert h.life_ratio(side, layered, "sliding", "min")[0] == pytest.approx(3)


def test_growth_is_the_exposure_per_clock():
    layered = cut(2, 10)
    assert h.growth(layered, "sliding")[0] == pytest.approx(3.93, abs=5e-3)
    assert h.growth(layered, "contact_time", "min")[0] == pytest.approx(0.5)


def test_separation():
    distances = {(s.first, s.second): s.log_distance for s in h.separations(cut(2, 10), cut(8, 2.5))}
    assert distances[("sliding", "chip")][0] == pytest.approx(math.log(4 / 3))
    assert distances[("contact_time", "sliding")][0] == pytest.approx(0, abs=1e-12)
    # The upper zone is touched by one of the two only: nothing to tell apart.
    assert np.isnan(distances[("sliding", "chip")][1])
    # Contact time and sliding part only when the cutting speed differs.
    faster = {
        (s.first, s.second): s.log_distance for s in h.separations(cut(2, 10), cut(8, 2.5, rpm=2 * 1910))
    }
    assert faster[("contact_time", "sliding")][0] == pytest.approx(math.log(2))


def test_measured_ratio_leaves_some_hypotheses_standing():
    layered, side = cut(2, 10), cut(8, 2.5)
    standing = h.consistent_hypotheses(layered, side, [2.5, 0], [3.4, 0])
    assert standing == {"contact_time": (True, True), "sliding": (True, True), "chip": (False, True)}
    with pytest.raises(ArgumentError, match="1 and 1 limits; allowed: 2, one a zone"):
        h.consistent_hypotheses(layered, side, [1], [2])


def test_unknown_words_are_refused():
    with pytest.raises(ArgumentError, match="hypothesis 'heat'; allowed: contact_time, sliding, chip"):
        h.life_ratio(cut(2, 10), cut(8, 2.5), "heat")
    with pytest.raises(ArgumentError, match="clock 'parts'; allowed: min, cm3"):
        h.life_exponent_in_width("chip", 1, 7, 10, clock="parts")
