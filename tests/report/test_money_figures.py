"""Figures of the money: what is drawn is what stands in the records, tested stretches are told from the others."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.decide.age_replacement import cost_rate
from wearlab.decide.cost_curve import cost_curve
from wearlab.decide.decision import Decision
from wearlab.report.analysis import Analysis
from wearlab.report.figures.money import draw_change_costs, draw_costs, draw_speed_costs
from wearlab.report.figures.style import looks
from wearlab.report.record import FigureBlock, Paragraph
from wearlab.report.sections.money import money_section
from wearlab.report.sections.money_figures import money_figures

NAN = math.nan


def labelled(axes: Any, label: str) -> list[Any]:
    """Artists of one meaning."""
    return [one for one in (*axes.lines, *axes.collections, *axes.patches) if one.get_label() == label]


@pytest.fixture(scope="module")
def demo(analysis_of: Callable[..., Analysis]) -> Analysis:
    return analysis_of("shoulder_demo")


@pytest.fixture(scope="module")
def made(demo: Analysis) -> dict[str, FigureBlock]:
    return {one.key: one for one in money_figures(demo)}


def decided(analysis: Analysis) -> Decision:
    assert isinstance(analysis.decision, Decision)
    return analysis.decision


class TestInReport:
    def test_all_three_stand_in_the_section(self, demo: Analysis) -> None:
        keys = [one.key for one in money_section(demo).blocks if isinstance(one, FigureBlock)]
        assert keys == ["money-costs", "money-speeds", "money-changes"]

    def test_costs_are_those_of_the_decision(self, demo: Analysis, made: dict[str, FigureBlock]) -> None:
        table = made["money-costs"].table.set_index("group")
        for one in decided(demo).practices:
            assert one.cost is not None
            row = table.loc[one.group]
            assert row["time"] + row["cutters"] == pytest.approx(one.cost.per_part)
            assert (row["low"], row["high"]) == (one.interval.low, one.interval.high)

    def test_the_flat_stretch_costs_within_what_is_said(self, made: dict[str, FigureBlock]) -> None:
        for _, own in made["money-speeds"].table.groupby("group"):
            over = own["cost"] / own["cost"].min()
            assert over[own["flat"]].max() < 1.05 + 1e-6 < over[~own["flat"]].min() + 1e-6
            assert own["flat"].sum() > 3

    def test_tested_speeds_are_those_of_the_trial(self, demo: Analysis, made: dict[str, FigureBlock]) -> None:
        table = made["money-speeds"].table
        layered = table[(table["group"] == "layered") & table["tested"]]
        low, high = decided(demo).speeds["layered"].tested
        assert (low, high) == (55.0, 105.0)
        assert layered["speed"].between(low, high).all()
        # One speed was tested with the side passes, so none of the curve's points counts as tested.
        assert not table.loc[table["group"] == "side", "tested"].any()

    def test_money_at_the_cheapest_speed_adds_up(self, demo: Analysis) -> None:
        """Cost of a part at a speed, term by term: metal time, and the share of an edge and its change."""
        found = decided(demo)
        one = found.speeds["layered"]
        speed, life = one.least_cost.speed_m_min, one.least_cost.life_min
        # 13.3704 cm3/min at 70 m/min in a feature of 10.8 cm3, at the same feed per tooth and depths.
        minutes = 10.8 / 13.3704 * 70.0 / speed
        money = 1.2 * minutes + minutes / life * (48.0 + 4 * 1.2)
        assert one.least_cost_money == pytest.approx(money, rel=1e-3)
        frame = one.to_frame()
        assert frame["cost_per_part"].min() == pytest.approx(one.least_cost_money, rel=1e-9)

    def test_the_change_curve_is_least_at_the_cheapest_age(
        self, demo: Analysis, made: dict[str, FigureBlock]
    ) -> None:
        table = made["money-changes"].table
        for one in decided(demo).practices:
            ((_, change),) = one.changes
            for optimum in change.optima:
                own = table[(table["panel"] == one.group) & (table["law"] == optimum.law)]
                at = own.loc[own["cost"].idxmin()]
                step = own["age"].diff().max()
                assert abs(at["age"] - optimum.age) <= step
                assert at["cost"] == pytest.approx(optimum.rate * change.per_part, rel=0.01)
                assert at["cost"] >= optimum.rate * change.per_part * (1 - 1e-9)
                assert (own["low"] <= own["cost"]).mean() > 0.9
                assert (own["cost"] <= own["high"]).mean() > 0.9

    def test_words_for_those_who_cannot_see(self, made: dict[str, FigureBlock]) -> None:
        for key, one in made.items():
            for svg in (one.svg, one.phone):
                assert "<title id=" in svg
                assert "<desc id=" in svg
            assert one.title in one.svg
            assert f'id="{key}-phone-title"' in one.phone
            assert "layered" in one.description
            assert "side" in one.description
            assert one.how

    def test_inches_move_the_labels_and_not_the_table(
        self, analysis_of: Callable[..., Analysis], made: dict[str, FigureBlock]
    ) -> None:
        inch = {one.key: one for one in money_figures(analysis_of("shoulder_demo", units="inch"))}
        pd.testing.assert_frame_equal(inch["money-speeds"].table, made["money-speeds"].table)
        assert "sfm" in inch["money-speeds"].svg
        assert "m/min" not in inch["money-speeds"].svg

    def test_without_costs_there_is_nothing_to_draw(self, analysis_of: Callable[..., Analysis]) -> None:
        assert money_figures(analysis_of("taylor_T06")) == ()


class TestCurve:
    def test_each_age_is_the_mean_over_the_plausible_laws(self, demo: Analysis) -> None:
        ((_, change),) = decided(demo).practice("side").changes
        table = cost_curve(change, 0.9, points=5)
        assert len(table) == 10
        law, optimum = change.plausible[0], change.optima[0]
        row = table[table["law"] == law.law].iloc[3]
        rates = cost_rate(row["age"], law.law, law.location, law.sigma, optimum.planned_cost, optimum.failure_cost)
        assert row["cost"] == pytest.approx(rates.mean())
        assert (row["low"], row["high"]) == pytest.approx(tuple(np.quantile(rates, [0.05, 0.95])))
        assert row["parts"] == pytest.approx(row["age"] / change.per_part)

    def test_a_wider_level_is_wider(self, demo: Analysis) -> None:
        ((_, change),) = decided(demo).practice("side").changes
        narrow, wide = cost_curve(change, 0.5, points=5), cost_curve(change, 0.99, points=5)
        assert (wide["low"] <= narrow["low"]).all()
        assert (wide["high"] >= narrow["high"]).all()


class TestDrawing:
    def test_bars_end_at_the_mean_and_lines_span_the_range(self) -> None:
        table = pd.DataFrame(
            {
                "group": ["a", "b"], "time": [1.0, 2.0], "cutters": [0.5, 1.0], "cost": [1.5, 3.0],
                "low": [1.2, 2.5], "high": [2.0, 4.5], "text": ["A", "B"],
            }
        )  # fmt: skip
        (axes,) = draw_costs(table, looks(["a", "b"]), x_label="EUR a part").axes
        bars = [one for one in axes.patches if one.get_hatch()]
        assert [one.get_x() + one.get_width() for one in bars] == [1.5, 3.0]
        assert [list(line.get_xdata()) for line in labelled(axes, "range")] == [[1.2, 2.0], [2.5, 4.5]]
        assert [text.get_text() for text in axes.texts] == ["A", "B"]

    def test_outside_the_tested_speeds_the_curve_is_dotted(self) -> None:
        speed = np.linspace(40, 100, 31)
        curve = pd.DataFrame(
            {
                "group": "a", "speed": speed, "cost": 2 + ((speed - 70) / 30) ** 2,
                "tested": (speed >= 50) & (speed <= 80), "flat": (speed >= 60) & (speed <= 80),
            }
        )  # fmt: skip
        mark = pd.DataFrame(
            {
                "group": ["a"], "slow": [50.0], "fast": [80.0], "best": [70.0], "best_low": [NAN], "best_high": [NAN],
                "flat_text": ["flat"], "tested_text": ["tested"],
            }
        )  # fmt: skip
        (axes,) = draw_speed_costs(curve, mark, looks(["a"]), x_label="v", y_label="cost").axes
        (tested,) = [one for one in axes.lines if one.get_label() == "curve, tested"]
        (whole,) = [one for one in axes.lines if one.get_label() == "curve"]
        assert (tested.get_xdata().min(), tested.get_xdata().max()) == (50.0, 80.0)
        assert tested.get_linestyle() == "-" != whole.get_linestyle()
        assert not labelled(axes, "range")
        assert labelled(axes, "flat")[0].get_linewidth() > 2 * tested.get_linewidth()

    def test_laws_differ_without_colour_and_no_change_draws_no_line(self) -> None:
        age = np.linspace(10, 60, 11)
        frames = [
            pd.DataFrame({"panel": "a", "law": law, "law_text": law, "age": age, "cost": 1 + (age - c) ** 2 / 900,
                          "low": 0.8, "high": 3.0})
            for law, c in (("lognormal", 30), ("weibull", 35))
        ]  # fmt: skip
        marks = pd.DataFrame({"panel": ["a"], "change": [NAN], "text": [""]})
        (axes,) = draw_change_costs(pd.concat(frames), marks, x_label="min", y_label="EUR").axes
        styles = {one.get_label(): one.get_linestyle() for one in axes.lines}
        assert styles["lognormal"] == "-" != styles["weibull"]
        assert not labelled(axes, "change")
        marks["change"] = 32.0
        (axes,) = draw_change_costs(pd.concat(frames), marks, x_label="min", y_label="EUR").axes
        assert labelled(axes, "change")[0].get_xdata()[0] == 32.0


def test_the_report_says_what_would_change_the_choice(demo: Analysis) -> None:
    (found,) = [
        one for one in money_section(demo).blocks if getattr(one, "heading", "") == "What would change the choice"
    ]
    assert isinstance(found, Paragraph)
    life = next(one for one in decided(demo).switches if one.input.startswith("life of"))
    assert any(f"were {life.switch_at:.2g} times what it is" in text for text in found.sentences)
    assert found.sentences[-1].startswith("Nothing within 20 times")
