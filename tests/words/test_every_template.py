"""Sentences that no other file asks for, and the guard: no template of `wearlab/words` is left unrendered."""

from __future__ import annotations

import itertools
import math
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from wearlab.compare.contrast import Contrast
from wearlab.compare.fair import Fairness
from wearlab.compare.predicted import PredictedBand
from wearlab.compare.response_trends import ResponseContrast
from wearlab.compare.zone_shift import ZoneShift
from wearlab.core.interval import Interval
from wearlab.fit.parameters import parameters
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.life.lives import tool_lives
from wearlab.logbook.findings import Finding
from wearlab.logbook.trial import Trial
from wearlab.plan.against import AgainstPlan
from wearlab.plan.answer_cost import AnswerCost
from wearlab.stats.two_groups import welch
from wearlab.words.changes import LEAST_COST, for_the_shop, outlast_sentence, why_no_change_sentence, why_pooled
from wearlab.words.criteria import zone_name, zone_words
from wearlab.words.exposure import reference_sentence
from wearlab.words.fairness import not_compared_sentence
from wearlab.words.findings import severity_meaning
from wearlab.words.fits import added_sentence, basis_sentence, envelope_sentence, exponent_sentence, group_sentence
from wearlab.words.labels import life_label
from wearlab.words.lives import life_text
from wearlab.words.planned import (
    KINDS,
    cost_sentence,
    departures_sentence,
    early_sentence,
    gaps_sentence,
    plan_doubt,
    runs_sentence,
)
from wearlab.words.published import scatter_words
from wearlab.words.responses import contrast_sentence
from wearlab.words.rounding import quantity
from wearlab.words.shifts import shift_beside
from wearlab.words.verdicts import both_ways_sentence, shift_sentence

Rules = Callable[[str], list[str]]
HERE = Path(__file__).parent
UNITS = ("metric", "inch")


class TestChanges:
    @pytest.mark.parametrize("units", UNITS)
    @pytest.mark.parametrize("clock", ["cutting_time_min", "volume_cm3", "parts", "cut_length_m"])
    def test_the_age_that_most_outlast(self, clock: str, units: str, broken_rules: Rules) -> None:
        for life in (0.012, 1.0, 2.0, 61.3, 12345.0):
            assert broken_rules(outlast_sentence("“side” cutters", life, clock, 0.9, 0.9, units)) == []

    @pytest.mark.parametrize("who", [[], ["“a” cutters"], ["“a” cutters", "“b” cutters"], [LEAST_COST]])
    def test_why_there_is_no_age(self, who: list[str], broken_rules: Rules) -> None:
        assert broken_rules(why_no_change_sentence("the shop's costs are not stated", who)) == []
        for columns in (["cutting_speed_m_min"], ["cutting_speed_m_min", "work_material"]):
            assert broken_rules(why_no_change_sentence(why_pooled(columns), who)) == []

    @pytest.mark.parametrize("end", ["the cheapest interval", "the interval that most cutters outlast"])
    def test_no_word_of_statistics_for_the_shop(self, end: str, broken_rules: Rules) -> None:
        for group in ("", "side"):
            text = for_the_shop(f"Change the cutter every 89 parts, {end}; 5 of 100 cutters fail before that.", group)
            assert "interval" not in text
            assert broken_rules(text) == []


@pytest.fixture(scope="module")
def fits(sample: Callable[[str], Trial]) -> list[ToolLifeFit]:
    demo, nasa = (sample(name) for name in ("shoulder_demo", "nasa_milling"))
    made = []
    for trial, rule, factors in (
        (demo, "lower:VB.mean=0.2mm", None), (nasa, "VB=0.3mm", ["feed_per_tooth_mm", "work_material"]),
    ):  # fmt: skip
        lives = tool_lives(trial, [rule], ["cutting_time_min"]).to_frame()
        made.append(fit_tool_life(lives, trial.facts(), factors))
    return made


class TestFits:
    @pytest.mark.parametrize("units", UNITS)
    def test_basis_groups_exponents_and_envelope(
        self, fits: list[ToolLifeFit], units: str, broken_rules: Rules
    ) -> None:
        for fit in fits:
            texts = [basis_sentence(fit), added_sentence(fit), envelope_sentence(fit, units)]
            for one in parameters(fit, 0.95):
                if one.name.startswith("exponent_"):
                    texts.append(exponent_sentence(one, one.name.removeprefix("exponent_")))
                if one.name.startswith("ratio_"):
                    column, _, group = one.name.removeprefix("ratio_").rstrip("]").partition("[")
                    texts.append(group_sentence(one, column, group, "first", units))
            assert [broken_rules(text) for text in texts] == [[]] * len(texts), texts
        assert envelope_sentence(replace(fits[0], factors=())) == ""

    @pytest.mark.parametrize(("lives", "censored"), [(1, 0), (2, 0), (21, 0), (1, 1), (3, 1), (21, 5)])
    def test_how_many_lives(self, fits: list[ToolLifeFit], lives: int, censored: int, broken_rules: Rules) -> None:
        text = basis_sentence(replace(fits[0], lives=lives, censored=censored))
        assert broken_rules(text) == [], text
        assert ("known only as a limit" in text) == (censored > 0)

    @pytest.mark.parametrize("added", [(), ("strategy",), ("strategy", "work_material")])
    def test_groups_that_entered_of_their_own_accord(
        self, fits: list[ToolLifeFit], added: tuple[str, ...], broken_rules: Rules
    ) -> None:
        text = added_sentence(replace(fits[0], added=added))
        assert (text == "") == (not added)
        assert broken_rules(text) == []


class TestCells:
    @pytest.mark.parametrize("status", ["exact", "right", "left", "interval", "none"])
    @pytest.mark.parametrize("clock", ["cutting_time_min", "parts", "volume_cm3"])
    def test_a_life(self, status: str, clock: str) -> None:
        for units in UNITS:
            text = life_text(1.0, 2.5, status, clock, units)
            assert "  " not in text
            assert "nan" not in text
            assert "1 parts" not in text
        assert life_text(math.nan, math.nan, "none", clock) == "–"

    def test_zones_and_labels(self) -> None:
        assert zone_words("") == "over the whole edge"
        assert zone_name("") == "whole edge"
        assert life_label("parts").heading() == "life, parts"
        assert life_label("cutting_time_min").heading() == "life, min"
        assert quantity(1.0, "parts") == "1 part"
        assert "not mended" not in severity_meaning("note")
        assert {severity_meaning(one) for one in ("error", "warning", "note")} >= {"used, but doubtful"}
        assert scatter_words(0.187) == "about 19 % from cutter to cutter"

    def test_cuts_that_cannot_be_compared(self, broken_rules: Rules) -> None:
        for names in (("no feed was recorded for side",), ("diameter_mm",), ("diameter_mm", "teeth")):
            assert broken_rules(not_compared_sentence(Fairness((), (), names, (), ()))) == []


def cost(**facts: Any) -> AnswerCost:
    values: dict[str, Any] = {
        "a": "side", "b": "layered", "outcome": "life", "planned": 6, "left_a": 6, "left_b": 6, "planned_blocks": 0,
        "left_blocks": 0, "planned_detectable": 1.4, "detectable": 1.4, "planned_power": 0.9, "power": 0.9,
        "look_inflation": 1.02,
    }  # fmt: skip
    return AnswerCost(**(values | facts))


COSTS = [
    cost(),
    cost(left_a=1, left_b=2, power=0.4, detectable=2.2, planned_blocks=6, left_blocks=1),
    cost(outcome="wall", left_a=5, power=0.01, detectable=math.inf),
    cost(outcome="rate", planned_power=0.9999, power=0.001, look_inflation=math.nan),
    cost(left_b=0, power=0.0, why_none="a side holds no cutter", look_inflation=1.00001),
]


class TestPlanned:
    @pytest.mark.parametrize(("run", "gone"), list(itertools.product((0, 1, 2, 12), repeat=2)))
    def test_cutters_of_the_plan(self, run: int, gone: int, broken_rules: Rules) -> None:
        if run + gone:
            names = tuple(f"E{at}" for at in range(run + gone))
            held = AgainstPlan((), (), names[:run], names[run:])
            assert broken_rules(runs_sentence(held)) == []
            assert broken_rules(early_sentence(held)) == []
            assert ("have not run" in early_sentence(held)) == (gone > 1)

    @pytest.mark.parametrize("count", [0, 1, 2, len(KINDS)])
    def test_departures_and_what_they_do_to_the_answer(self, count: int, broken_rules: Rules) -> None:
        found = tuple(Finding("warning", code, "found", cutter="E1", column="c") for code in list(KINDS)[:count])
        texts = [departures_sentence(AgainstPlan(found, (), ("E1",), ()))]
        texts += [plan_doubt(AgainstPlan(found, (one,), ("E1",), ())) for one in COSTS]
        assert [broken_rules(text) for text in texts] == [[]] * len(texts), texts
        assert plan_doubt(None) == ""

    @pytest.mark.parametrize("one", COSTS)
    def test_what_is_left_of_the_forecast(self, one: AnswerCost, broken_rules: Rules) -> None:
        for text in (cost_sentence(one), gaps_sentence(one)):
            assert broken_rules(text) == [], text


class TestResponses:
    @pytest.mark.parametrize("units", UNITS)
    @pytest.mark.parametrize("clock", ["cutting_time_min", "parts", "volume_cm3"])
    @pytest.mark.parametrize("b", [[1.0, 1.1, 1.2], [3.0, 3.1, 3.2], [0.1, 0.2, 0.3]])
    def test_two_groups(self, b: list[float], clock: str, units: str, broken_rules: Rules) -> None:
        a = [1.0, 1.1, 1.3]
        one = ResponseContrast(
            "spindle_load", "", "%", clock, "side", "layered", 3, 3, sum(a) / 3, sum(b) / 3, welch(a, b), 0.5
        )
        for each in (one, replace(one, sample=None, why_missing="2 cutters on a side", zone="lower", unit="um")):
            text = contrast_sentence(each, {"side": "side"}, 0.95, units)
            assert broken_rules(text) == [], text


class TestAlongTheEdge:
    def shift(self, scale: str, band: PredictedBand | None, below: int, why: str = "") -> ZoneShift:
        ends = (0.2, 0.5) if scale == "ratio" else (-0.49, -0.47)
        made = ZoneShift(
            *("side", "layered", ("lower", "upper"), "cutting_time_min", 23.4, scale, sum(ends) / 2),
            *(Interval(*ends, 0.95, "t"), 0.01, 0.52, 1.0, pd.DataFrame(), 0.02, (), "assumed"),
        )
        return replace(made, predicted=band, below=tuple(f"E{at}" for at in range(below)), why_missing=why)

    @pytest.mark.parametrize("scale", ["ratio", "difference"])
    @pytest.mark.parametrize("position", ["", "inside", "reaches", "above", "below"])
    @pytest.mark.parametrize("ends", [(0.2, 0.3), (0.3, 0.3), (-0.5, -0.4), (-0.1, 0.2)])
    def test_beside_a_shift(
        self, ends: tuple[float, float], position: str, scale: str, broken_rules: Rules
    ) -> None:
        for below, units, why in itertools.product((0, 1, 2), UNITS, ("", "two cutters only")):
            band = PredictedBand(*ends, {}, position, why)
            for text in shift_beside(self.shift(scale, band, below), "strategy", units):
                assert broken_rules(text) == [], text
        assert shift_beside(self.shift(scale, None, 0)) == ()

    def test_a_shift_that_cannot_be_judged(self, broken_rules: Rules) -> None:
        assert broken_rules(shift_sentence(self.shift("ratio", None, 0, "1 cutter on a side"))) == []

    def test_what_was_taken_as_measured(self, broken_rules: Rules) -> None:
        class Wear:
            reference = ("side", "lower")

        assert broken_rules(reference_sentence(Wear(), "strategy")) == []  # type: ignore[arg-type]


def test_nothing_bounded_on_either_side(contrast_of: Callable[..., Contrast], broken_rules: Rules) -> None:
    text = both_ways_sentence(contrast_of(verdict="cannot_tell", estimate=1.2, interval=(0.0, math.inf)))
    assert "stays open" in text
    assert broken_rules(text) == []


def test_no_template_is_left_unrendered(tmp_path: Path) -> None:
    """All tests of this folder once more, watching every line of `wearlab/words`: each that holds a text has run."""
    found = tmp_path / "unrendered.txt"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", "-p", "watched", "-p", "no:cacheprovider", "-p", "no:xdist",
         "--deselect", "tests/words/test_every_template.py::test_no_template_is_left_unrendered", "tests/words"],
        cwd=HERE.parents[1], capture_output=True, text=True, timeout=300,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (str(HERE), os.environ.get("PYTHONPATH")))),
                          "UNRENDERED": str(found), "PYTHONDONTWRITEBYTECODE": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    watched = found.read_text(encoding="utf-8").splitlines()
    assert int(watched[0]) > 150  # the watching works
    assert watched[1:] == []
