"""Sentences on a trial beside an earlier one, with one, two and many, and every kind of range."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import pytest

from wearlab.core.interval import Interval
from wearlab.words.against import (
    end_sentence,
    exponent_sentence,
    held_sentences,
    life_sentence,
    ratio_sentence,
    span_text,
    verdicts_sentence,
    why_sentence,
)
from wearlab.words.verdicts import HEADLINES

Rules = Callable[[str], list[str]]
RANGES = [(0.8, 1.9), (1.2, 1.9), (0.5, 0.9), (0.0, 1.4), (0.7, math.inf), (0.0, math.inf), None]


def limits(ends: tuple[float, float] | None) -> Interval | None:
    return None if ends is None else Interval(*ends, 0.95, "t")


@pytest.mark.parametrize("ends", RANGES)
@pytest.mark.parametrize("outcome", ["life", "rate"])
def test_every_ratio_keeps_the_rules(ends: tuple[float, float] | None, outcome: str, broken_rules: Rules) -> None:
    why = "both logs hold the same cutters" if ends is None else ""
    for figures, by, units in itertools.product(
        [(2.1, 2.8), (0.5, 0.4), (1.0, 1.0)], ("strategy", "work_material"), ("metric", "inch")
    ):
        text = ratio_sentence(("side", "layered"), outcome, "lower", figures, limits(ends), by, units, why)
        assert broken_rules(text) == [], text


@pytest.mark.parametrize("ends", RANGES)
@pytest.mark.parametrize("cutters", [(1, 1), (1, 2), (2, 1), (12, 9)])
def test_every_life_keeps_the_rules(
    ends: tuple[float, float] | None, cutters: tuple[int, int], broken_rules: Rules
) -> None:
    why = "fewer than three cutters in one of the two" if ends is None else ""
    for ratio in (1.2, math.nan) if ends is None else (1.2,):
        text = life_sentence("side", ratio, limits(ends), cutters, "strategy", "metric", why)
        assert broken_rules(text) == [], text


@pytest.mark.parametrize("ends", [(-0.02, 0.08), (0.01, 0.08), (-math.inf, 0.1), (-0.1, math.inf), None])
def test_every_exponent_keeps_the_rules(ends: tuple[float, float] | None, broken_rules: Rules) -> None:
    text = exponent_sentence((0.25, 0.28), limits(ends), "" if ends else "2 lives for 2 constants")
    assert broken_rules(text) == [], text
    assert ("no change is shown" in text) == (ends is not None and ends[0] < 0 < ends[1])


def test_a_ratio_is_told_the_way_it_is_above_one() -> None:
    text = ratio_sentence(("a", "b"), "life", "", (0.5, 0.25), Interval(0.4, 0.6, 0.95, "t"), "strategy")
    assert text == (
        "“b” cutters lasted 4 times as long as “a” cutters, and 2 times in the earlier trial; that ratio is 2.0 times "
        "what it was (plausibly 1.7 to 2.5), more than the scatter of both trials explains."
    )


def test_a_range_that_holds_no_change_is_no_proof_of_none() -> None:
    text = ratio_sentence(("a", "b"), "life", "", (2.0, 2.4), Interval(0.8, 1.8, 0.95, "t"), "strategy")
    assert text.endswith("(plausibly 0.8 to 1.8), so that no change is shown, and none inside that range is ruled out.")


@pytest.mark.parametrize("same", [[], ["E1"], ["E1", "E2"], [f"E{at}" for at in range(1, 12)]])
@pytest.mark.parametrize("others", [[], ["E1"], ["E1", "E2"]])
def test_cutters_of_both_logs(same: list[str], others: list[str], broken_rules: Rules) -> None:
    for before, now in itertools.product((0, 1, 2, 12), repeat=2):
        texts = held_sentences(before, now, "May", same, others)
        assert len(texts) == 1 + bool(others)
        assert [broken_rules(text) for text in texts] == [[]] * len(texts), texts


@pytest.mark.parametrize("moved", [True, False, None])
@pytest.mark.parametrize("same", [True, False])
@pytest.mark.parametrize(
    "differing", [[], ["machine"], ["machine", "work material"], [f"thing {at}" for at in range(14)]]
)
def test_why_says_no_more_than_the_logs_do(
    moved: bool | None, same: bool, differing: list[str], broken_rules: Rules
) -> None:
    text = why_sentence(moved, differing, same)
    assert broken_rules(text) == [], text
    if moved and len(differing) > 1 and not same:
        assert "two trials do not tell which of them did it" in text


def test_end_and_verdicts(broken_rules: Rules) -> None:
    assert broken_rules(end_sentence(True, "VB=0.3mm", "VB=0.3mm")) == []
    assert "VB=0.2mm now, VB=0.3mm then" in end_sentence(False, "VB=0.3mm", "VB=0.2mm")
    heads = list(HEADLINES.values())
    for before, now in itertools.product(heads, repeat=2):
        text = verdicts_sentence(before, now)
        assert (text == "") == (before == now)
        assert broken_rules(text) == [], text


def test_a_figure_in_a_cell() -> None:
    assert span_text(2.79, Interval(2.09, 3.78, 0.95, "t")) == "2.8 (2.1 to 3.8)"
    assert span_text(0.03, Interval(-0.02, 0.08, 0.95, "t")) == "0.030 (-0.020 to 0.080)"
    assert span_text(math.nan, None) == ""
    assert span_text(1.1, None) == "1.1 (no range)"
