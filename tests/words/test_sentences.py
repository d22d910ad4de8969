"""Sentences on lives, fits, findings, fairness, criteria and published values, with one, two and many."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import pandas as pd
import pytest

from wearlab.compare.fair import Fairness
from wearlab.compare.fractures import Fractures
from wearlab.compare.zone_shift import ZoneShift
from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.fit.parameters import Parameter
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.findings import Finding
from wearlab.logbook.trial import Counts
from wearlab.published.lookup import compare_with_published, exponents_for, published
from wearlab.words.cautions import CAUTIONS, first_cautions
from wearlab.words.criteria import criterion_short, criterion_words, limit_words
from wearlab.words.fairness import (
    confounded_sentences,
    doubt_sentences,
    fracture_sentence,
    matched_sentence,
    not_compared_sentence,
    note_sentence,
    unmatched_sentence,
)
from wearlab.words.findings import doubts_sentence, findings_sentence, rows_sentence
from wearlab.words.fits import n_sentence, refusal_sentence, speed_sentence
from wearlab.words.lives import (
    censoring_sentence,
    counted_lives,
    missing_sentence,
    planned_sentence,
    rule_sentence,
    span_sentence,
)
from wearlab.words.published import comparison_sentence, disagreement_sentence, nothing_to_compare
from wearlab.words.reasons import in_plain_words
from wearlab.words.verdicts import shift_sentence

Rules = Callable[[str], list[str]]


def lives(exact: int, right: int, none: int = 0, criterion: str = "VB.mean=0.3mm") -> pd.DataFrame:
    rows = [("exact", 10.0 + i, 10.0 + i, "worn", "") for i in range(exact)]
    rows += [("right", 20.0 + i, math.inf, "withdrawn", "the limit was not reached") for i in range(right)]
    rows += [("none", math.nan, math.nan, "", "no reading after use began") for _ in range(none)]
    table = pd.DataFrame(rows, columns=["status", "low", "high", "cause", "why_missing"])
    table["life"] = table["low"].where(table["status"] == "exact")
    return table.assign(cutter=[f"E{i + 1}" for i in range(len(table))], criterion=criterion)


class TestLives:
    @pytest.mark.parametrize(("exact", "right", "none"), list(itertools.product((0, 1, 2, 7), (0, 1, 2, 7), (0, 1, 2))))
    def test_every_count_keeps_the_rules(self, exact: int, right: int, none: int, broken_rules: Rules) -> None:
        if exact + right + none == 0:
            return
        for criterion in ("VB.mean=0.3mm", "end"):
            table = lives(exact, right, none, criterion)
            for text in (
                counted_lives(table),
                censoring_sentence(table, "cutting_time_min"),
                censoring_sentence(table, "volume_cm3", "inch"),
                missing_sentence(table),
                span_sentence(table, "parts"),
            ):
                assert broken_rules(text) == [], text

    def test_censored_cutters_count_as_at_least(self) -> None:
        assert censoring_sentence(lives(5, 1), "cutting_time_min") == (
            "1 of 6 cutters ended short of the limit (taken out still good); it counts as “at least 20 min”, not as a "
            "life and not as nothing."
        )
        assert "they count as “at least” lives, from 20 min to 21 min" in censoring_sentence(
            lives(5, 2), "cutting_time_min"
        )
        assert censoring_sentence(lives(5, 0), "cutting_time_min") == ""

    def test_one_and_two_and_all(self) -> None:
        assert counted_lives(lives(1, 0)) == "The only cutter reached the limit."
        assert counted_lives(lives(2, 0)) == "Both cutters reached the limit."
        assert counted_lives(lives(0, 2)) == "Neither of the two cutters reached the limit."
        assert counted_lives(lives(3, 4)) == "3 of 7 cutters reached the limit."
        assert counted_lives(lives(3, 0, criterion="end")) == "All 3 cutters ran until worn out."

    def test_a_missing_life_carries_its_reason(self) -> None:
        assert missing_sentence(lives(1, 0, 2)) == "These cutters gave no life: E2 and E3 (no reading after use began)."


class TestCriteria:
    def test_in_words(self) -> None:
        criterion = parse_criterion("lower:VB.mean=0.2mm")
        assert (
            rule_sentence(criterion)
            == "A life ends when the mean wear land of the flutes in the lower zone reaches 0.2 mm."
        )
        assert limit_words(criterion, "inch") == "7.87 thou (0.2 mm)"

    def test_a_log_with_one_zone_needs_no_worst_zone(self) -> None:
        criterion = parse_criterion("VB=0.3mm")
        assert "wherever along the edge it is worst" in criterion_words(criterion)
        assert criterion_words(criterion, zones=1) == "the mean wear land of the flutes reaches 0.3 mm"

    @pytest.mark.parametrize(
        "text",
        ["VB=0.3mm", "corner:VB.worst=300um", "width@2mm=11.98mm", "hang_up=1mm", "wall=0.05mm", "VBmax=0.5mm", "end"],
    )
    def test_every_measure_keeps_the_rules(self, text: str, broken_rules: Rules) -> None:
        for units in ("metric", "inch"):
            assert broken_rules(rule_sentence(parse_criterion(text), units)) == []
            assert "  " not in criterion_short(parse_criterion(text), units)

    def test_chosen_afterwards_is_said(self) -> None:
        criterion = parse_criterion("VB=0.3mm")
        assert "afterwards" in planned_sentence(criterion, "asked for on the command line")
        assert "ISO 8688-2" in planned_sentence(criterion, "default: ISO 8688-2 clause 7.4, from memory")
        assert "before the answer was known" in planned_sentence(criterion.as_planned("a"), "from the trial file")
        assert criterion_words(END).startswith("the run ends")


class TestFits:
    def n(self, estimate: float, low: float, high: float, why: str = "") -> Parameter:
        return Parameter("n", "", estimate, 0.01, Interval(low, high, 0.95, "t"), why)

    def test_n_is_told_as_what_doubling_the_speed_does(self) -> None:
        text = n_sentence(self.n(0.2826, 0.2462, 0.3357), (55.0, 105.0))
        assert text == (
            "The Taylor exponent is n = 0.28 (plausibly 0.25 to 0.34). Doubling the speed makes life 12 times shorter "
            "(plausibly 8 to 17 times)."
        )

    def test_the_step_stays_within_what_was_tried(self) -> None:
        assert "A quarter more speed" in n_sentence(self.n(0.25, 0.2, 0.3), (100.0, 130.0))
        assert (
            n_sentence(self.n(0.25, 0.2, 0.3), (100.0, 101.0))
            == "The Taylor exponent is n = 0.25 (plausibly 0.20 to 0.30)."
        )
        # 1.25^(1/0.25) = 2.44
        assert "2.4 times shorter" in n_sentence(self.n(0.25, 0.2, 0.3), (100.0, 130.0))

    def test_an_open_n_says_that_anything_from_its_lower_limit_up_fits(self) -> None:
        text = n_sentence(self.n(0.4, 0.15, math.inf, "the speeds tried were too close together"), (100.0, 110.0))
        assert "anything from 0.15 up fits" in text
        assert "too close together" in text

    def test_no_interval_says_why(self) -> None:
        text = n_sentence(self.n(0.45, -math.inf, math.inf, "2 lives for 2 constants"), (100.0, 155.0))
        assert text == "The Taylor exponent comes out at n = 0.45, with no plausible range: 2 lives for 2 constants."

    def test_no_exponent_and_a_held_one(self) -> None:
        assert (
            n_sentence(self.n(math.nan, -math.inf, math.inf, "life rises with speed"), (1.0, 2.0))
            == "No Taylor exponent: life rises with speed."
        )
        assert "held at n = 0.25" in n_sentence(self.n(0.25, -math.inf, math.inf, "held, not fitted"), (1.0, 2.0))

    def test_a_speed_far_outside_those_tried_is_not_named(self) -> None:
        v60 = Parameter("v60", "", 35.2, math.nan, Interval(-math.inf, math.inf, 0.95, "none"), "")
        text = speed_sentence(v60, (100.0, 155.0))
        assert "35" not in text
        assert "100 m/min to 155 m/min" in text

    def test_a_speed_just_outside_is_branded(self) -> None:
        v60 = Parameter("v60", "", 92.0, math.nan, Interval(85.0, 98.0, 0.95, "t"), "")
        assert speed_sentence(v60, (100.0, 155.0)).endswith("just outside the speeds tried.")
        assert "302 sfm" not in speed_sentence(v60, (90.0, 155.0), "metric")
        assert "sfm (plausibly 280 to 320)" in speed_sentence(v60, (90.0, 155.0), "inch")

    def test_a_refusal_keeps_reason_and_hint(self) -> None:
        refusal = Refusal("speed never varied: 70 m/min in every cutter", hint="fit other factors")
        assert refusal_sentence("no equation", refusal, "inch") == (
            "No equation: speed never varied: 230 sfm in every cutter. Fit other factors."
        )


class TestFairness:
    def test_every_part(self, broken_rules: Rules) -> None:
        fair = Fairness(
            ("cutting_speed_m_min",), ("mean_chip_mm", "power_kw"), ("diameter_mm",),
            ("all of side was cut with bar 7, and none of layered",), ("all of side ran before any of layered",),
        )  # fmt: skip
        texts = [matched_sentence(fair), unmatched_sentence(fair), not_compared_sentence(fair)]
        texts += [*confounded_sentences(fair), *doubt_sentences(fair)]
        assert [broken_rules(text) for text in texts] == [[]] * 5
        assert texts[0] == "Equal on both sides: cutting speed."
        assert "mean chip thickness and cutting power" in texts[1]
        assert "no conclusion is drawn" in texts[3]

    def test_nothing_to_say_says_nothing(self) -> None:
        fair = Fairness((), (), (), (), ())
        assert matched_sentence(fair) == unmatched_sentence(fair) == not_compared_sentence(fair) == ""
        assert confounded_sentences(fair) == doubt_sentences(fair) == ()

    def test_cutters_left_out_are_named(self) -> None:
        note = "1 cutter (E9) left out: cutting_speed_m_min 55 was not met by every group"
        assert note_sentence(note, "inch") == (
            "To compare like with like, 1 cutter was left out here (E9): cutting speed 180 sfm was not met by "
            "every group."
        )

    def test_fractures_say_what_few_cutters_hide(self, broken_rules: Rules) -> None:
        groups = pd.DataFrame(
            {"group": ["a", "b"], "cutters": [1, 2500], "fractures": [0, 1], "low": [0.0, 0.0], "high": [0.975, 0.002]}
        )
        text = fracture_sentence(Fractures(groups, 0.95, 1.0), "strategy")
        assert "0 of 1 “a” cutter (the true share may be as high as 98 %)" in text
        assert "1 of 2\u202f500 “b” cutters" in text
        assert broken_rules(text) == []

    @pytest.mark.parametrize("scale", ["ratio", "difference"])
    def test_a_shift_along_the_edge(self, scale: str, broken_rules: Rules) -> None:
        ends = (0.2, 0.5) if scale == "ratio" else (-0.49, -0.47)
        interval = Interval(*ends, 0.95, "t")
        zones, values = ("lower", "upper"), pd.DataFrame()
        shift = ZoneShift(
            *("side", "layered", zones, "cutting_time_min", 23.4, scale, sum(ends) / 2, interval),
            *(0.01, 0.52, 1.0, values, 0.02, (), "assumed"),
        )
        text = shift_sentence(shift)
        assert broken_rules(text) == []
        assert ("plausibly 47 to 49 points apart" in text) == (scale == "difference")


class TestFindings:
    @pytest.mark.parametrize(("errors", "warnings", "notes"), list(itertools.product((0, 1, 3), repeat=3)))
    def test_every_count_keeps_the_rules(self, errors: int, warnings: int, notes: int, broken_rules: Rules) -> None:
        findings = (
            [Finding("error", "x", "f")] * errors
            + [Finding("warning", "x", "f")] * warnings
            + [Finding("note", "x", "f")] * notes
        )
        for text in (findings_sentence(findings), doubts_sentence(findings)):
            assert broken_rules(text) == [], text

    @pytest.mark.parametrize(("read", "aside"), [(0, 0), (1, 0), (1, 1), (2, 1), (12000, 3)])
    def test_rows(self, read: int, aside: int, broken_rules: Rules) -> None:
        text = rows_sentence(Counts(read, read - aside, aside))
        assert broken_rules(text) == [], text


class TestPublished:
    def test_inside_below_and_above_name_source_and_how_known(self, broken_rules: Rules) -> None:
        rows = exponents_for("carbide", "TiN")
        seen = set()
        for value in (0.1, 0.25, 0.5, 0.9):
            for found in compare_with_published(value, rows, Interval(value - 0.01, value + 0.01, 0.95, "t")):
                text = comparison_sentence(found, f"our n of {value}", Interval(value - 0.01, value + 0.01, 0.95, "t"))
                assert found.row.source in text
                assert broken_rules(text) == [], text
                seen.add(found.position)
        assert seen == {"inside", "below", "above"}

    @pytest.mark.parametrize(
        ("limits", "worth"),
        [((0.26, 0.34), "with all of its plausible range (0.26 to 0.34)"),
         ((0.15, 0.45), "its plausible range is 0.15 to 0.45, which holds what was published and reaches beyond it"),
         ((-0.5, 1.1), "so that the agreement says little"),
         ((0.1, math.inf), "so that the agreement says little"),
         ((-math.inf, math.inf), "nearly any published figure would agree")],
    )  # fmt: skip
    def test_agreement_is_worth_what_its_range_allows(
        self, limits: tuple[float, float], worth: str, broken_rules: Rules
    ) -> None:
        """The row says 0.2 to 0.5."""
        interval = Interval(*limits, 0.95, "t")
        (found,) = compare_with_published(0.3, published(id="T14a"), interval)
        text = comparison_sentence(found, "our n of 0.3", interval)
        assert text.startswith("Our n of 0.3 lies within the published 0.2 to 0.5")
        assert worth in text
        assert broken_rules(text) == []

    def test_tables_that_disagree_are_both_named(self) -> None:
        text = disagreement_sentence(exponents_for("carbide", "TiN"), "the exponent")
        assert "Kalpakjian" in text
        assert "Groover" in text
        assert "0.4 to 0.6" in text
        assert "0.25" in text

    def test_limits_of_the_standards_in_inches(self) -> None:
        found = compare_with_published(0.2, published(id="S03"))[0]
        assert "below the published 11.8 thou (ISO 8688-2:1989" in comparison_sentence(
            found, "this limit", units="inch"
        )

    def test_no_figure_of_ours(self, broken_rules: Rules) -> None:
        assert "3 published rows" in nothing_to_compare("ceramic", exponents_for("ceramic"))
        assert "not recorded" in nothing_to_compare("", [])
        assert broken_rules(nothing_to_compare("CBN", [])) == []


class TestReasons:
    @pytest.mark.parametrize(
        ("typed", "metric", "inch"),
        [
            (
                "axial_depth_mm never varied: 3 mm in every cutter",
                "axial depth never varied: 3 mm in every cutter",
                None,
            ),
            (
                "cutting_speed_m_min 55, 105 was met",
                "cutting speed 55, 105 m/min was met",
                "cutting speed 180, 344 sfm was met",
            ),
            ("feed_per_tooth_mm of 0.05", "feed per tooth of 0.05 mm", "feed per tooth of 0.00197 in"),
            ("no figure for cutting_speed_m_min 200 (tested: 55 to 105)", None, None),
            ("a strategy called 55 m/min", "a strategy called 55 m/min", None),
        ],
    )
    def test_columns_become_labels(self, typed: str, metric: str | None, inch: str | None) -> None:
        if metric is not None:
            assert in_plain_words(typed) == metric
        if inch is not None:
            assert in_plain_words(typed, "inch") == inch


class TestCautions:
    def test_each_has_text_and_source_and_some_stand_first(self, broken_rules: Rules) -> None:
        assert len({caution.key for caution in CAUTIONS}) == len(CAUTIONS)
        for caution in CAUTIONS:
            assert caution.source
            assert broken_rules(caution.text) == [], caution.key
        assert {caution.key for caution in first_cautions()} == {"range", "authority"}

    @pytest.mark.parametrize(
        "word",
        [
            "guard",
            "eye protection",
            "hook or brush",
            "0.4 mg/m³",
            "manual",
            "local law",
            "licensed",
            "plunged",
            "heat of bar",
            "titanium",
            "initials",
        ],
    )
    def test_what_the_trade_must_be_told_is_there(self, word: str) -> None:
        assert any(word in caution.text for caution in CAUTIONS)
