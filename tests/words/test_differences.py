"""Sentences on walls, on what a lone limit says, and on how a family shares its error."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from wearlab.compare.contrast import Contrast
from wearlab.compare.family import Family
from wearlab.words.differences import shown
from wearlab.words.fairness import family_sentences
from wearlab.words.outcomes import outcome_name
from wearlab.words.verdicts import (
    detectable_sentence,
    settle_sentence,
    verdict_headline,
    verdict_sentence,
)

Make = Callable[..., Contrast]
Rules = Callable[[str], list[str]]


@pytest.fixture
def wall(contrast_of: Make) -> Make:
    def make(**facts: object) -> Contrast:
        values = {
            "outcome": "wall", "scale": "difference", "estimate": -0.013, "interval": (-0.018, -0.008),
            "smallest_detectable": 0.0067, "cutters_to_settle": 4, "equivalence": {"margin": 0.010},
        }  # fmt: skip
        return contrast_of(**(values | facts))

    return make


def test_the_one_that_left_more_comes_first(wall: Make) -> None:
    text = verdict_sentence(wall())
    assert text == (
        "“layered” cutters left more metal at the floor of the wall than “side” cutters: by about 13 µm (plausibly 8 "
        "to 18 µm)."
    )
    assert "by about 0.51 thou" in verdict_sentence(wall(), units="inch")
    growth = wall(outcome="wall_growth", clock="parts", estimate=0.0005, interval=(0.0003, 0.0007))
    assert "“side” cutters left more metal with every part" in verdict_sentence(growth)
    assert shown(growth).unit == "µm a part"
    assert shown(wall(outcome="wall_growth")).unit == "µm per min"


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.parametrize("verdict", ["different", "small_but_real", "alike", "cannot_tell", None])
def test_the_height_and_the_age_of_walls(wall: Make, broken_rules: Rules, verdict: str | None, units: str) -> None:
    """A height is named where it is more than 1 mm above the floor, the common age of the readings always."""
    facts = {"verdict": verdict, "why_missing": "" if verdict else "2 cutters on a side: described, not judged"}
    high = wall(criterion="metal left 12 mm above the floor, at 10 parts", **facts)
    text = verdict_sentence(high, "strategy", units)
    height = {"metric": "12 mm", "inch": "0.472 in"}[units]
    assert f"metal {height} above the floor of the wall after 10 parts" in text
    assert broken_rules(text) == []
    assert outcome_name("wall", high.criterion, units) == f"metal left {height} above the floor"
    low = wall(criterion="metal left 1 mm above the floor, at 20 cutting_time_min", **facts)
    assert "metal at the floor of the wall after 20 min" in verdict_sentence(low, "strategy", units)
    growth = wall(outcome="wall_growth", criterion="metal left 12 mm above the floor, slope on parts",
                  clock="parts", **facts)  # fmt: skip
    text = verdict_sentence(growth, "strategy", units)
    assert f"metal {height} above the floor of the wall with every part" in text
    assert broken_rules(text) == []
    assert outcome_name("wall_growth", growth.criterion, units).startswith("growth of the metal left")


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.parametrize("outcome", ["wall", "wall_growth"])
@pytest.mark.parametrize("margin", [None, 0.010])
@pytest.mark.parametrize("needed", [None, 1, 4])
@pytest.mark.parametrize(
    ("verdict", "interval"),
    [("different", (0.002, 0.02)), ("small_but_real", (0.001, 0.008)), ("alike", (-0.003, 0.008)),
     ("cannot_tell", (-0.004, 0.03)), ("cannot_tell", (-math.inf, math.inf)), (None, (0.001, 0.03)),
     (None, (-math.inf, math.inf))],
)  # fmt: skip
def test_every_sentence_keeps_the_rules(
    wall: Make, broken_rules: Rules, verdict: str | None, interval: tuple[float, float], needed: int | None,
    margin: float | None, outcome: str, units: str,
) -> None:  # fmt: skip
    one = wall(
        outcome=outcome, verdict=verdict, interval=interval, estimate=0.005, cutters_to_settle=needed,
        equivalence={"margin": margin}, why_missing="" if verdict else "1 cutter on a side: described, not judged",
        smallest_detectable=math.inf if needed == 1 else 0.004,
    )  # fmt: skip
    beside = detectable_sentence(one, units), settle_sentence(one, units)
    for text in (verdict_sentence(one, "strategy", units), *beside):
        assert broken_rules(text) == [], text
    assert verdict_headline(one)


@pytest.mark.parametrize("outcome", ["life", "rate", "volume", "parts"])
@pytest.mark.parametrize(
    ("verdict", "interval", "ahead"),
    [("different", (1.4, math.inf), "side"), ("different", (0.0, 0.7), "layered"),
     ("cannot_tell", (0.8, math.inf), "side"), ("cannot_tell", (0.0, 1.3), "layered")],
)  # fmt: skip
def test_one_limit_alone(
    contrast_of: Make, broken_rules: Rules, outcome: str, verdict: str, interval: tuple[float, float], ahead: str
) -> None:
    one = contrast_of(
        outcome=outcome, verdict=verdict, interval=interval, estimate=math.nan, smallest_detectable=math.inf
    )
    text = verdict_sentence(one)
    assert broken_rules(text) == [], text
    assert "best guess" in text
    if verdict == "different":
        assert text.startswith(f"“{ahead}” cutters")
        assert "at least 1.4" in text
        assert one.better == (ahead if outcome != "rate" else {"side": "layered", "layered": "side"}[ahead])
    else:
        assert "never came to its end" in text


def test_how_well_a_number_of_cutters_is_known(contrast_of: Make, broken_rules: Rules) -> None:
    text = settle_sentence(contrast_of(settle_low=7, settle_high=50))
    assert "about 13 cutters on each side are needed (anything from 7 to 50" in text
    assert broken_rules(text) == []
    assert "from 7 to very many" in settle_sentence(contrast_of(settle_low=7, settle_high=None))


@pytest.mark.parametrize("method", ["tukey", "dunnett", "games_howell", "holm"])
def test_families(broken_rules: Rules, method: str) -> None:
    many = [Family(one, "", method, 6, 4, ("outcomes", "zones", "materials")) for one in ("life", "rate", "wall")]
    (text,) = family_sentences(many)
    assert broken_rules(text) == []
    assert "6 pairs were compared in life, wear rate and metal left on walls" in text
    assert "not over the outcomes, over the zones and over the ratios within each material" in text
    assert family_sentences([Family("life", "", "one", 1, 2)]) == ()
    assert "within each outcome" in family_sentences([Family("life", "", "one", 1, 2, ("outcomes",))])[0]
