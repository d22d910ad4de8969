"""Walls as outcomes: metal left at the floor at one age, and its growth with parts; against scipy and by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy import stats

from wearlab.compare.compare import Comparison, compare
from wearlab.compare.contrast import Contrast
from wearlab.compare.wall_outcomes import ReadOff, read_off, wall_tables
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial
from wearlab.words.outcomes import PHRASES, outcome_name
from wearlab.words.verdicts import verdict_statement

TrialOf = Callable[..., Trial]


@pytest.fixture
def walled(trial_of: TrialOf) -> TrialOf:
    """A log of walls: of each cutter start in um, growth in um a part, and the parts at which it was read."""

    def make(groups: dict[str, list[tuple[float, float, tuple[int, ...]]]], toml: str = "") -> Trial:
        rows = []
        for group, cutters in groups.items():
            for at, (start, growth, looks) in enumerate(cutters):
                for look in looks:
                    rows += [
                        {"cutter": f"{group} {at + 1}", "strategy": group, "reading": look, "parts": look,
                         "cutting_time_min": 2 * look, "measure": "wall", "side": side, "height_mm": z,
                         "value": round((start + growth * look + tilt) / 1000, 7), "unit": "mm", "part": f"p{look}"}
                        for side, tilt in (("left", 2.0), ("right", -2.0))
                        for z in (0.5, 4.0)
                    ]  # fmt: skip
        return trial_of(rows, toml)

    return make


LOOKS = (4, 8, 12)
GROUPS = {
    "deep": [(10.0, 2.0, LOOKS), (12.0, 2.4, LOOKS), (9.0, 1.7, LOOKS), (11.0, 2.2, (4, 10))],
    "side": [(10.5, 0.5, (4, 20)), (11.0, 0.8, (4, 20)), (9.5, 0.3, (4, 12, 20)), (10.0, 0.6, (4, 20))],
}


def one(found: Comparison, outcome: str) -> Contrast:
    (contrast,) = [c for c in found.contrasts if c.outcome == outcome]
    return contrast


def test_every_cutter_is_read_off_at_the_age_that_all_of_them_reached(walled: TrialOf) -> None:
    found = wall_tables(walled(GROUPS), "parts")
    assert (found.age, found.height_mm, found.clock, found.growth_clock) == (10.0, 0.5, "parts", "parts")
    by_hand = {f"{g} {at + 1}": (s + b * 10) / 1000 for g, own in GROUPS.items() for at, (s, b, _) in enumerate(own)}
    assert dict(found.at_floor.itertuples(index=False)) == pytest.approx(by_hand)
    slopes = {f"{g} {at + 1}": b / 1000 for g, own in GROUPS.items() for at, (_, b, _) in enumerate(own)}
    assert dict(found.growth.itertuples(index=False)) == pytest.approx(slopes)


@pytest.mark.parametrize(
    ("outcome", "per"), [("wall", lambda s, b: (s + 10 * b) / 1000), ("wall_growth", lambda s, b: b / 1000)]
)
def test_differences_are_those_of_welch(walled: TrialOf, outcome: str, per: Callable[[float, float], float]) -> None:
    found = one(compare(walled(GROUPS), END, "parts", outcomes=[outcome]), outcome)
    own = [[per(s, b) for s, b, _ in cutters] for cutters in GROUPS.values()]
    other = stats.ttest_ind(*own, equal_var=False)
    interval = other.confidence_interval(0.95)
    assert found.scale == "difference"
    assert found.estimate == pytest.approx(np.mean(own[0]) - np.mean(own[1]))
    assert (found.interval.low, found.interval.high) == pytest.approx((interval.low, interval.high), rel=1e-6)
    exact = stats.permutation_test(own, lambda a, b: np.mean(a) - np.mean(b), n_resamples=np.inf)
    assert found.p_exact == pytest.approx(exact.pvalue)
    assert found.verdict == "different"
    assert found.better == ""  # the drawing says what is wanted
    assert found.equivalence["alike"] is None  # no margin was stated


def test_last_readings_would_have_told_another_story(walled: TrialOf) -> None:
    """Alike in growth, run to different ages: at one age nothing is there, at the last reading everything."""
    groups = {
        "long": [(10.0 + at, 1.0 + 0.02 * at, (4, 12, 40)) for at in (-1, 0, 1, 2)],
        "short": [(10.0 + at, 1.0 + 0.02 * at, (4, 12)) for at in (-1, 0, 1, 2)],
    }
    found = one(compare(walled(groups, "[wall]\ntolerance_um = 50\n"), END, "parts", outcomes=["wall"]), "wall")
    assert found.estimate == pytest.approx(0.0, abs=1e-9)
    assert found.verdict == "alike"
    last = [[s + b * looks[-1] for s, b, looks in own] for own in groups.values()]
    assert stats.ttest_ind(*last).pvalue < 1e-5


@pytest.mark.parametrize(
    ("margin_um", "verdict"), [(30.0, "small_but_real"), (10.0, "different"), (None, "different")]
)
def test_the_margin_is_one_of_differences(walled: TrialOf, margin_um: float | None, verdict: str) -> None:
    found = one(compare(walled(GROUPS), END, "parts", outcomes=["wall"], wall_margin_um=margin_um), "wall")
    assert found.verdict == verdict
    own = [[(s + 10 * b) / 1000 for s, b, _ in cutters] for cutters in GROUPS.values()]
    if margin_um:
        edge = margin_um / 1000
        sides = [stats.ttest_ind(np.add(own[0], shift), own[1], equal_var=False, alternative=way).pvalue
                 for shift, way in ((edge, "greater"), (-edge, "less"))]  # fmt: skip
        assert found.equivalence["p_value"] == pytest.approx(max(sides), rel=1e-6)
    else:
        assert found.equivalence["p_value"] is None


def test_half_the_tolerance_is_the_margin_of_the_trial(walled: TrialOf) -> None:
    found = one(compare(walled(GROUPS, "[wall]\ntolerance_um = 60\n"), END, "parts", outcomes=["wall"]), "wall")
    assert found.equivalence["margin"] == pytest.approx(0.030)


def test_cutters_first_read_late_or_once_are_named(walled: TrialOf) -> None:
    groups = {"deep": [*GROUPS["deep"], (10.0, 2.0, (14, 18))], "side": [*GROUPS["side"], (10.0, 0.5, (10,))]}
    tables = wall_tables(walled(groups), "parts")
    assert [cutter for cutter, _ in tables.left_out] == ["deep 5"]
    assert [cutter for cutter, _ in tables.no_growth] == ["side 5"]
    found = compare(walled(groups), END, "parts", outcomes=["wall", "wall_growth"])
    assert {cutter for cutter, _ in found.left_out} == {"deep 5", "side 5"}


def test_widths_alone_are_metal_left_on_both_walls(trial_of: TrialOf) -> None:
    rows = [
        {"cutter": f"{g} {at}", "strategy": g, "reading": look, "parts": look, "measure": "width", "height_mm": 1.0,
         "value": 12.6 - 2 * left / 1000, "unit": "mm", "feature_width_mm": 12.6, "feature_sides": "closed",
         "feature_depth_mm": 10, "feature_length_mm": 60}
        for g, lefts in (("a", (8.0, 10.0)), ("b", (20.0, 22.0)))
        for at, left in enumerate(lefts)
        for look in (1, 2)
    ]  # fmt: skip
    table = wall_tables(trial_of(rows), "parts").at_floor.set_index("cutter")["value"]
    assert table.to_dict() == pytest.approx({"a 0": 0.008, "a 1": 0.010, "b 0": 0.020, "b 1": 0.022})


def test_nothing_to_compare(walled: TrialOf, trial_of: TrialOf, sample: Callable[[str], Trial]) -> None:
    with pytest.raises(Refusal, match="no reading of a wall"):
        compare(sample("nasa_milling"), parse_criterion("VB=0.3mm"), by="work_material", outcomes=["wall"])
    with pytest.raises(ArgumentError, match="--wall-margin-um: margin -3"):
        compare(walled(GROUPS), END, outcomes=["wall"], wall_margin_um=-3.0)
    groups = {name: cutters[:1] for name, cutters in GROUPS.items()}
    found = one(compare(walled(groups), END, "parts", outcomes=["wall"]), "wall")
    assert found.verdict is None
    assert found.estimate == pytest.approx(0.034 - 0.0165)


def test_the_demonstration_agrees_with_its_truth(sample: Callable[[str], Trial]) -> None:
    """In the simulated trial walls follow the recession of the lower zone, which goes 2.75 times as fast in layers."""
    found = compare(
        sample("shoulder_demo"), parse_criterion("lower:VB.mean=0.2mm"),
        outcomes=["wall", "wall_growth", "volume", "parts"],
    )  # fmt: skip
    growth = one(found, "wall_growth")
    typical = found.groups[found.groups["outcome"] == "wall_growth"].set_index("group")["estimate"]
    assert growth.verdict == "different"
    assert typical["layered"] / typical["side"] == pytest.approx(2.75, rel=0.15)
    for outcome in ("volume", "parts"):
        assert one(found, outcome).interval.low < 2.75 < one(found, outcome).interval.high
        assert PHRASES[outcome].did_more in verdict_statement(one(found, outcome))
    json.dumps(found.to_dict(), allow_nan=False)


def test_a_plain_number_a_cutter_within_blocks(sample: Callable[[str], Trial]) -> None:
    """Least squares with blocks by statsmodels."""
    from statsmodels.formula.api import ols

    found = compare(sample("shoulder_demo"), parse_criterion("lower:VB.mean=0.2mm"), outcomes=["wall"])
    table: Any = found.values[["value", "group", "block"]]
    fit = ols("value ~ group + C(block)", table).fit()
    low, high = fit.conf_int().loc["group[T.side]"]
    contrast = one(found, "wall")
    assert contrast.estimate == pytest.approx(fit.params["group[T.side]"])
    assert (contrast.interval.low, contrast.interval.high) == pytest.approx((low, high))
    assert math.isfinite(contrast.p_exact)


def test_readers_that_are_tangled_with_the_practice_are_said(trial_of: TrialOf) -> None:
    def log(readers: dict[str, str]) -> Trial:
        return trial_of(
            [
                {"cutter": f"{g} {at}", "strategy": g, "reading": look, "cutting_time_min": look, "measure": "VB",
                 "value": 0.05 + 0.01 * look * (1 + at / 10), "unit": "mm", "operator": readers[g] or "AB"[at % 2],
                 "instrument": "M1"}
                for g in ("a", "b") for at in range(3) for look in (2, 4, 6, 8)
            ]
        )  # fmt: skip

    tangled = compare(log({"a": "A", "b": "B"}), parse_criterion("VB=9mm"))
    assert tangled.fair["a", "b"].doubts[0] == "all of a was read by the same people, and none of b"
    assert all(any("same people" in note for note in one.notes) for one in tangled.contrasts)
    assert not any("instrument" in text for text in tangled.fair["a", "b"].doubts)
    with pytest.raises(Refusal, match="operator is not recorded"):
        compare(log({"a": "A", "b": "B"}), parse_criterion("VB=9mm"), by="operator")  # nobody is ranked
    assert compare(log({"a": "", "b": ""}), parse_criterion("VB=9mm")).fair["a", "b"].doubts == ()


def test_sides_that_share_a_reader_are_not_said_to_be_read_apart(trial_of: TrialOf) -> None:
    """A cutter may have several readers: sets of people are held against each other, not their spelling."""

    def doubts(readers: dict[str, list[str]], column: str = "operator") -> tuple[str, ...]:
        rows = [
            {"cutter": f"{g} {at}", "strategy": g, "reading": 2 * look + 2, "cutting_time_min": 2 * look + 2,
             "measure": "VB", "value": 0.05 + 0.02 * look * (1 + at / 10), "unit": "mm", column: who[look % len(who)]}
            for g, cutters in readers.items() for at, who in enumerate(cutters) for look in range(4)
        ]  # fmt: skip
        return compare(trial_of(rows), parse_criterion("VB=9mm")).fair["a", "b"].doubts

    assert doubts({"a": ["A", "A", "A"], "b": ["AB", "AB", "AB"]}) == ()
    assert doubts({"a": ["AB", "AB", "AB"], "b": ["C", "BC", "C"]}) == ()
    assert doubts({"a": ["AB", "AB", "AB"], "b": ["C", "CD", "D"]}) == (
        "all of a was read by the same people, and none of b",
    )
    assert doubts({"a": ["A", "AB", "B"], "b": ["C", "CD", "D"]}) == ("nobody read cutters of both a and b",)
    assert doubts({"a": ["A", "B", "C"], "b": ["D", "E", "F"]}) == ()  # a reader each scatters as the cutters do
    assert doubts({"a": ["PQ", "PQ", "PQ"], "b": ["R", "PR", "R"]}, "instrument") == ()
    assert doubts({"a": ["PQ", "PQ", "PQ"], "b": ["R", "R", "RS"]}, "instrument") == (
        "all of a was read with instrument P, Q, and none of b",
    )
    assert doubts({"a": ["P", "PQ", "Q"], "b": ["R", "RS", "S"]}, "instrument") == (
        "no instrument read cutters of both a and b",
    )


def test_walls_read_away_from_the_floor_are_not_said_to_be_read_there(trial_of: TrialOf) -> None:
    rows = [
        {"cutter": f"{g} {at}", "strategy": g, "reading": look, "parts": look, "measure": "wall", "side": "left",
         "height_mm": 12.0, "value": (start + at + look) / 1000, "unit": "mm"}
        for g, start in (("a", 5.0), ("b", 30.0)) for at in range(3) for look in (4, 10)
    ]  # fmt: skip
    found = compare(trial_of(rows), END, "parts", outcomes=["wall", "wall_growth"])
    wall = one(found, "wall")
    assert read_off(wall.criterion) == ReadOff(12.0, 10.0, "parts")
    said = verdict_statement(wall)
    assert "more metal 12 mm above the floor of the wall after 10 parts than" in said
    assert "at the floor" not in said
    assert outcome_name("wall", wall.criterion) == "metal left 12 mm above the floor"
    growth = one(found, "wall_growth").criterion
    assert outcome_name("wall_growth", growth) == "growth of the metal left 12 mm above the floor"


def test_walls_read_near_the_floor_are_said_with_their_age(walled: TrialOf) -> None:
    wall = one(compare(walled(GROUPS), END, "parts", outcomes=["wall"]), "wall")
    assert "more metal at the floor of the wall after 10 parts than" in verdict_statement(wall)
    assert outcome_name("wall", wall.criterion) == "metal left at the floor"
