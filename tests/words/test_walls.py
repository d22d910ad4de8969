"""Sentences on walls and exposure: every branch says what its figures say."""

from __future__ import annotations

import math
from dataclasses import replace

import pandas as pd
import pytest

from wearlab.compare.contrast import Contrast
from wearlab.compare.exposures import Exposures, exposures
from wearlab.compare.practice_text import practices_of_texts
from wearlab.compare.predicted import PredictedBand
from wearlab.core.interval import Interval
from wearlab.milling.practices import Cutter, Feature, Settings
from wearlab.wall.causes import MIXED, Causes
from wearlab.wall.hang_up import Agreement
from wearlab.wall.over_cutters import OverCutters, over_cutters
from wearlab.wall.separation import Separation
from wearlab.words.exposure import band_sentences, exposure_sentence, position_words, standing_sentence
from wearlab.words.walls import agreement_sentences, cause_sentence, growth_sentence, outcome_words


def separation(values: list[float], why: str = "") -> Separation:
    return Separation(pd.DataFrame(), pd.DataFrame(), over_cutters(values), why)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([0.95, 1.0, 1.06, 1.02], "wear alone"),
        ([1.5, 1.55, 1.6, 1.52], "more than wear alone"),
        ([0.5, 0.55, 0.6, 0.52], "less than the lands say"),
        ([1.2], "one cutter says nothing of others"),
    ],
)
def test_growth(values: list[float], said: str) -> None:
    text = growth_sentence(separation(values))
    assert said in text
    assert text.endswith(".")


def test_growth_without_lands() -> None:
    assert growth_sentence(separation([], "no lands were handed in")).endswith("no lands were handed in.")


def test_agreement() -> None:
    assert agreement_sentences(Agreement(0, 0, 0, 0, 0, math.nan, 0)) == ()
    whole = agreement_sentences(Agreement(4, 4, 4, 4, 4, 0.11, 2))
    assert len(whole) == 2
    assert "0.11 mm" in whole[1]
    assert "0.0043 in" in agreement_sentences(Agreement(4, 4, 4, 4, 4, 0.11, 2), "inch")[1]
    part = agreement_sentences(Agreement(9, 9, 6, 0, 0, math.nan, 0))
    assert len(part) == 2
    assert "for the other 9" in part[1].lower()


def cause(direction: str, why: str = "", sign: bool | None = True) -> Causes:
    number = over_cutters([0.004, 0.005, 0.006])
    return Causes("side", direction, number, over_cutters([0.1, 0.2, 0.3]), number, over_cutters([1.0, 1.1]), sign, why)


def test_causes() -> None:
    climb = cause_sentence(cause("climb"), "strategy")
    assert "5.0 µm" in climb
    assert "cut climbing" in climb
    assert "gives way" in climb
    assert "not that of a cutter that gives way" in cause_sentence(cause("climb", sign=False), "strategy")
    assert "sign settles nothing" in cause_sentence(cause("conventional", sign=None), "strategy")
    mixed = cause_sentence(cause("both", MIXED), "strategy")
    assert "what changes its side is deflection" in mixed
    inch = cause_sentence(cause("climb"), "strategy", "inch")
    assert "thou" in inch
    assert "µm" not in inch
    why = "on no first slot were both walls read on their own"
    nothing = replace(cause("climb", why), size=OverCutters(math.nan, math.nan, 0))
    assert "on no first slot" in cause_sentence(nothing, "strategy")


def test_one_cutter_has_a_figure_and_no_range() -> None:
    alone = over_cutters([0.005])
    text = cause_sentence(Causes("side", "climb", alone, alone, alone, alone, None), "strategy")
    assert "5 µm of metal" in text.replace("5.0", "5")
    assert "(" not in text.split(" of metal")[0]


def test_heights_for_cells() -> None:
    assert outcome_words(9.0, "does not enter") == "does not enter"
    assert outcome_words(2.91, "hangs up", "inch") == "0.115 in"


def found(*texts: str, standard: str = "") -> Exposures:
    step, tool, run = Feature(10, 8, 120, sides="one"), Cutter(10, 4), Settings(1910, 0.05)
    zones = {"lower": (0.4, 2.0), "middle": (2.0, 5.0), "upper": (5.0, 8.0)}
    return exposures(practices_of_texts(texts, tool, run, step), zones, standard=standard)


def test_bands_are_told_the_way_round_that_is_above_one() -> None:
    two = found("layered:layers=4", "side:steps=4")
    lines = band_sentences(two, "layered", "side", "strategy")
    assert "the land of “layered” cutters should grow 3 to 4 times as fast as that of “side” cutters" in lines[0]
    assert lines[1].startswith("In the middle zone and in the upper zone “side” cutters cut")
    back = found("side:steps=4", "layered:layers=4")
    turned = band_sentences(back, "side", "layered", "strategy")
    assert turned[0] == lines[0]
    assert "“side” cutters cut and “layered” cutters do not" in turned[1]
    alike = found("layered:layers=4", "b=layered:layers=2")
    assert "neither" in " ".join(band_sentences(alike, "layered", "b", "strategy"))
    assert "2 times as fast" in band_sentences(alike, "layered", "b", "strategy")[0]


def test_rates_that_differ_are_said() -> None:
    assert "at one rate" in exposure_sentence(found("layered:layers=4", "side:steps=4"), "strategy")
    assert "differ in removal rate" in exposure_sentence(found("layered:layers=4", "b=layered:layers=2"), "strategy")
    assert "settings alone" in exposure_sentence(found("layered:layers=4"), "strategy")


def contrast(scale: str = "ratio", why: str = "") -> Contrast:
    band = PredictedBand(3.0, 4.0, {"contact_time": 3.0, "sliding": 3.0, "chip": 4.0}, "inside", why)
    limits = Interval(2.9, 4.2, 0.95, "t")
    return Contrast(
        "layered", "side", "rate", "VB", "lower", "volume_cm3", scale, 5, 5, 3.4, limits, limits, 0.001, "", 0.001, "t",
        0.1, 1.3, 4, predicted=band,
    )  # fmt: skip


def test_what_is_left_standing() -> None:
    assert "all three" in standing_sentence(contrast(), ("contact_time", "sliding", "chip"))
    some = standing_sentence(contrast(), ("chip",))
    assert "goes with the metal cut by each mm of edge, and not with the time in the metal and the metres slid" in some
    assert "something else is at work" in standing_sentence(contrast(), ())
    assert standing_sentence(contrast("difference"), ()) == ""
    assert standing_sentence(contrast(why="no limits"), ()) == ""


def test_positions_have_words() -> None:
    for word in ("reference", "inside", "reaches", "above", "below"):
        assert position_words(word)
    assert position_words("") == ""
