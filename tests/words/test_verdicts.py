"""Every verdict in every combination of outcome, scale, column, units and number of cutters."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from wearlab.compare.contrast import Contrast
from wearlab.compare.predicted import PredictedBand
from wearlab.words.verdicts import (
    HEADLINES,
    both_ways_sentence,
    cannot_tell_apart,
    detectable_of_many,
    detectable_sentence,
    predicted_sentence,
    rests_on,
    rests_on_many,
    settle_sentence,
    typical_sentence,
    verdict_headline,
    verdict_sentence,
    verdict_statement,
)

Make = Callable[..., Contrast]
Rules = Callable[[str], list[str]]

FIGURES = {
    "different": (2.79, (2.09, 3.78)),
    "small_but_real": (1.1, (1.02, 1.19)),
    "alike": (1.03, (0.93, 1.14)),
    "cannot_tell": (1.2, (0.8, 1.9)),
    None: (1.4, (-math.inf, math.inf)),
}
"""An estimate and an interval that belong to each verdict."""
COUNTS = (1, 2, 3, 12)


def every_contrast(make: Make) -> list[Contrast]:
    made = []
    for (verdict, (estimate, interval)), outcome, n_a, n_b, flip in itertools.product(
        FIGURES.items(), ("life", "rate"), COUNTS, COUNTS, (False, True)
    ):
        if flip:
            low, high = (1 / end if math.isfinite(end) else end for end in reversed(interval))
            estimate, interval = 1 / estimate, (low, high) if math.isfinite(low) else interval
        why = "1 cutter on a side: described, not judged (3 needed)" if verdict is None else ""
        facts = {"smallest_detectable": math.nan, "cutters_to_settle": None} if min(n_a, n_b) == 1 else {}
        made.append(
            make(
                verdict=verdict,
                estimate=estimate,
                interval=interval,
                outcome=outcome,
                n_a=n_a,
                n_b=n_b,
                why_missing=why,
                **facts,
            )
        )
    return made


def test_every_sentence_of_every_verdict_keeps_the_rules(contrast_of: Make, broken_rules: Rules) -> None:
    found = {}
    for one in every_contrast(contrast_of):
        for by, units in itertools.product(("strategy", "work_material", "cutting_speed_m_min"), ("metric", "inch")):
            if by == "cutting_speed_m_min":
                one = replace(one, a="70", b="55")
            for text in (
                verdict_sentence(one, by, units),
                rests_on(one, by, units),
                detectable_sentence(one),
                settle_sentence(one),
            ):
                if bad := broken_rules(text):
                    found[text] = bad
    assert found == {}


def test_the_table_of_headlines_knows_every_verdict() -> None:
    assert set(HEADLINES) == {"different", "alike", "small_but_real", "cannot_tell", None}


def test_different_names_the_longer_life_first_whatever_the_order(contrast_of: Make) -> None:
    text = "“side” cutters lasted longer than “layered” cutters: about 2.8 times as long (plausibly 2.1 to 3.8 times)."
    assert verdict_sentence(contrast_of()) == text
    flipped = contrast_of(a="layered", b="side", estimate=1 / 2.79, interval=(1 / 3.78, 1 / 2.09))
    assert verdict_sentence(flipped) == text


def test_a_rate_names_the_faster_wear_and_its_zone(contrast_of: Make) -> None:
    text = verdict_sentence(contrast_of(outcome="rate", estimate=0.362, interval=(0.254, 0.518)))
    assert text == (
        "“layered” cutters wore faster than “side” cutters in the lower zone: about 2.8 times as fast (plausibly 1.9 "
        "to 3.9 times)."
    )


def test_cannot_tell_always_says_what_it_could_have_shown_and_what_would_settle_it(contrast_of: Make) -> None:
    text = verdict_sentence(
        contrast_of(verdict="cannot_tell", estimate=1.2, interval=(0.8, 1.9), smallest_detectable=1.6)
    )
    assert text.startswith("This trial cannot tell which of “side” cutters and “layered” cutters lasts longer.")
    assert "might last up to 1.9 times as long as “layered” cutters, or only 0.8 times" in text
    assert "a difference of 1.6 times or more would have shown in four trials out of five" in text
    assert "about 13 cutters on each side are needed" in text


def test_cannot_tell_from_one_open_side(contrast_of: Make, broken_rules: Rules) -> None:
    text = verdict_sentence(contrast_of(verdict="cannot_tell", estimate=2.0, interval=(0.9, math.inf)))
    assert "or only" not in text
    assert "only 0.9 times" in text
    assert broken_rules(text) == []
    text = verdict_sentence(contrast_of(verdict="cannot_tell", estimate=2.0, interval=(0.0, 3.0)))
    assert "up to 3" in text
    assert broken_rules(text) == []


def test_cannot_tell_without_a_known_scatter_says_so(contrast_of: Make) -> None:
    text = verdict_sentence(
        contrast_of(
            verdict="cannot_tell",
            estimate=1.2,
            interval=(0.8, 1.9),
            smallest_detectable=math.nan,
            cutters_to_settle=None,
        )
    )
    assert "cannot be judged" in text
    assert "cannot be worked out" in text


@pytest.mark.parametrize("verdict", ["alike", "small_but_real"])
def test_a_difference_that_does_not_matter_names_the_margin(contrast_of: Make, verdict: str) -> None:
    estimate, interval = FIGURES[verdict]
    text = verdict_sentence(
        contrast_of(verdict=verdict, estimate=estimate, interval=interval, equivalence={"margin": 1.3})
    )
    assert "1.3 times that this trial calls worth acting on" in text


def test_no_verdict_carries_its_reason_in_the_readers_words(contrast_of: Make) -> None:
    why = "all of side was cut with cutter_batch 7, and none of layered: they cannot be told apart"
    text = verdict_sentence(contrast_of(verdict=None, why_missing=why))
    assert text.startswith("No verdict: all of side was cut with cutter batch 7, and none of layered")
    assert "as a description only" in text.lower()


def test_no_verdict_without_an_estimate_describes_nothing(contrast_of: Make) -> None:
    text = verdict_sentence(
        contrast_of(
            verdict=None,
            estimate=math.nan,
            interval=(-math.inf, math.inf),
            n_b=0,
            why_missing="no cutter of layered has this outcome",
        )
    )
    assert text == "No verdict: no cutter of layered has this outcome."


def test_a_difference_of_rates_is_told_in_the_readers_unit(contrast_of: Make) -> None:
    one = contrast_of(
        verdict=None, scale="difference", outcome="rate", estimate=0.00157, interval=(0.00129, 0.00184),
        why_missing="rates that are not above 0 have no ratio",
    )  # fmt: skip
    assert "by 1.6 µm/min (plausibly 1.3 to 1.8)" in verdict_sentence(one)
    assert "by 0.062 thou/min (plausibly 0.051 to 0.072)" in verdict_sentence(one, units="inch")


def test_singular_and_plural_of_the_cutters(contrast_of: Make) -> None:
    assert rests_on(contrast_of(n_a=1, n_b=2)).startswith("1 “side” cutter and 2 “layered” cutters;")
    text = detectable_sentence(contrast_of(n_a=1, n_b=1))
    assert text.startswith("With 1 cutter on each side")
    assert "about 1 cutter on each side is needed" in settle_sentence(contrast_of(cutters_to_settle=1))


def test_rounding_never_carries_a_limit_onto_one(contrast_of: Make) -> None:
    text = verdict_sentence(contrast_of(estimate=1.5, interval=(1.004, 2.3)))
    assert "plausibly 1.004 to" in text


class TestSeveralPairs:
    def pairs(self, make: Make, *verdicts: str | None) -> list[Contrast]:
        names = [("a", "b"), ("a", "c"), ("b", "c")]
        return [
            make(a=a, b=b, verdict=verdict, estimate=1.2, interval=(0.8, 1.9), n_a=3 + at, n_b=5)
            for at, ((a, b), verdict) in enumerate(zip(names, verdicts, strict=True))
        ]

    def test_all_of_them_open_is_one_statement(self, contrast_of: Make) -> None:
        text = cannot_tell_apart(self.pairs(contrast_of, *["cannot_tell"] * 3))
        assert text == "This trial cannot tell which of “a”, “b” and “c” lasts longer than another."

    def test_some_of_them_open_are_named(self, contrast_of: Make) -> None:
        text = cannot_tell_apart(self.pairs(contrast_of, "cannot_tell", "different", "cannot_tell"))
        assert text == "This trial cannot tell which of two lasts longer: “a” or “b”; “b” or “c”."
        assert cannot_tell_apart(self.pairs(contrast_of, "different", "alike", None)) == ""

    def test_what_they_rest_on_and_could_have_shown(self, contrast_of: Make, broken_rules: Rules) -> None:
        pairs = self.pairs(contrast_of, *["cannot_tell"] * 3)
        assert rests_on_many(pairs).startswith("3 pairs of groups, each with 3 to 5 cutters on a side;")
        wide = [*pairs, contrast_of(smallest_detectable=2.61)]
        assert (
            "a difference of 1.4 to 2.6 times or more, depending on the pair, would have shown"
            in detectable_of_many(wide)
        )
        assert detectable_of_many([contrast_of(smallest_detectable=math.nan)]) == ""
        for text in (rests_on_many(pairs), detectable_of_many(pairs), rests_on_many([contrast_of(n_a=1, n_b=1)] * 2)):
            assert broken_rules(text) == []


def test_the_statement_of_a_trial_that_cannot_tell_is_short(contrast_of: Make) -> None:
    one = contrast_of(verdict="cannot_tell", estimate=1.2, interval=(0.8, 1.9))
    assert (
        verdict_statement(one) == "This trial cannot tell which of “side” cutters and “layered” cutters lasts longer."
    )
    assert verdict_sentence(one).startswith(f"{verdict_statement(one)} {both_ways_sentence(one)}")
    assert both_ways_sentence(contrast_of()) == ""


def test_headlines(contrast_of: Make) -> None:
    assert verdict_headline(contrast_of(verdict="cannot_tell")) == "This trial cannot tell"


@pytest.mark.parametrize(
    ("position", "words"),
    [("inside", "lies in that band"), ("above", "is larger"), ("below", "is smaller"), ("reaches", "range reaches it")],
)
def test_the_predicted_band_stands_beside_the_measured_ratio(contrast_of: Make, position: str, words: str) -> None:
    text = predicted_sentence(contrast_of(predicted=PredictedBand(2.55, 3.0, {}, position)))
    assert "2.6 to 3 times would be expected in the lower zone" in text or "2.5 to 3 times" in text
    assert words in text


def test_a_predicted_band_turns_with_its_ratio(contrast_of: Make) -> None:
    one = contrast_of(
        outcome="rate", estimate=0.25, interval=(0.2, 0.3), predicted=PredictedBand(1 / 3, 0.5, {}, "below")
    )
    text = predicted_sentence(one)
    assert "2 to 3 times would be expected" in text
    assert "is larger" in text


def test_no_predicted_band_no_sentence(contrast_of: Make) -> None:
    assert predicted_sentence(contrast_of()) == ""
    assert (
        predicted_sentence(contrast_of(predicted=PredictedBand(math.nan, math.nan, {}, "", "no zone is named"))) == ""
    )


def test_a_typical_life_needs_both_groups() -> None:
    assert typical_sentence(("a", "b"), (100.0, math.nan), "strategy", "cutting_time_min") == ""
    text = typical_sentence(("a", "b"), (106.6, 8.14), "strategy", "cutting_time_min")
    assert text == "Half of the “a” cutters can be expected to last 107 min, half of the “b” cutters 8.1 min."
