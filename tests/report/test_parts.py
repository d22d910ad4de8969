"""The parts behind a report: analysis, downloads, summaries, the land along the edge."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.logbook.trial import Trial
from wearlab.report.analysis import Analysis, analyse
from wearlab.report.build import build_report
from wearlab.report.downloads import csv_text, data_address
from wearlab.report.edge_land import edge_land
from wearlab.report.record import Report
from wearlab.report.thinned import curve_band, evenly_ranked

Analyses = Callable[..., Analysis]


class TestAnalysis:
    def test_the_demonstration_answers_every_question(self, analysis_of: Analyses) -> None:
        found = analysis_of("shoulder_demo")
        assert found.main.criterion.text == "lower:VB.mean=0.2mm"
        assert found.main.comparison.contrasts[0].verdict == "different"
        assert not isinstance(found.main.fit, Refusal)
        assert found.clock == "cutting_time_min"
        assert found.group_names == ["layered", "side"]
        assert [check.quantity for check in found.checks] == ["exponent", "criterion", "criterion", "scatter"]
        assert found.main.parts is not None

    def test_refusals_are_kept_as_their_reasons(self, analysis_of: Analyses) -> None:
        found = analysis_of("nasa_milling")
        assert isinstance(found.main.fit, Refusal)
        assert isinstance(found.main.comparison, Refusal)
        assert found.main.comparison.found == "strategy is not recorded"
        assert found.group_names == ["cutters"]

    def test_only_keeps_the_cutters_and_says_so(self, sample: Callable[[str], Trial]) -> None:
        found = analyse(sample("nasa_milling"), only=["work_material=cast iron"])
        assert len(found.trial.cutters) == 8
        assert len(found.whole.cutters) == 16
        text = str(build_report(found).to_dict())
        assert "8 of 16 cutters" in text

    def test_scatter_as_a_coefficient_of_variation(self, analysis_of: Analyses) -> None:
        """sqrt(exp(s^2) - 1) of a lognormal life; at s = 0.25 it is 0.254 (derived)."""
        found = analysis_of("shoulder_demo")
        check = found.checks[-1]
        sigma = found.main.fit.sigma
        assert check.value == pytest.approx(math.sqrt(math.exp(sigma**2) - 1), rel=1e-12)

    @pytest.mark.parametrize(
        ("options", "match"),
        [
            ({"clock": "weeks"}, "clock 'weeks'"),
            ({"units": "furlongs"}, "furlongs"),
            ({"criteria": ["upper:VB=0.3mm"]}, "no reading in zone 'upper'"),
            ({"standard": "gold", "by": "work_material"}, "no group 'gold'"),
            ({"level": 1.5}, "confidence level"),
        ],
    )
    def test_a_bad_option_is_named(self, options: Any, match: str, sample: Callable[[str], Trial]) -> None:
        with pytest.raises(ArgumentError, match=match):
            analyse(sample("nasa_milling"), **options)

    def test_a_log_whose_practice_is_confounded_draws_no_conclusion(self, trial_of: Callable[..., Trial]) -> None:
        rows = [
            {"cutter": f"E{at}", "strategy": group, "bar": f"bar {group}", "work_material": "steel", "reading": look,
             "cutting_time_min": 10.0 * look, "measure": "VB", "value": 0.08 * look * factor + 0.003 * at, "unit": "mm"}
            for at, (group, factor) in enumerate([("a", 1.0)] * 3 + [("b", 2.0)] * 3)
            for look in (1, 2, 3, 4)
        ]  # fmt: skip
        first = build_report(analyse(trial_of(rows))).sections[0].to_dict()["blocks"]
        assert first[0]["heading"] == "No verdict"
        assert "cannot be told apart" in first[0]["text"]
        assert "no conclusion is drawn" in str(first)

    def test_one_cutter_alone_still_makes_a_report(self, trial_of: Callable[..., Trial]) -> None:
        rows = [
            {"cutter": "E1", "strategy": "side", "reading": look, "cutting_time_min": 10.0 * look, "measure": "VB",
             "value": 0.1 * look, "unit": "mm"} for look in (1, 2, 3, 4)
        ]  # fmt: skip
        text = str(build_report(analyse(trial_of(rows))).to_dict())
        assert "The only cutter reached the limit." in text
        assert "1 cutters" not in text


class TestWriting:
    def test_json_holds_the_same_record(self, report_of: Callable[..., Report]) -> None:
        report = report_of("nasa_milling", by="work_material")
        text = json.dumps(report.to_dict(), ensure_ascii=False, allow_nan=False)
        made = json.loads(text)
        assert made["title"] == report.title
        assert [section["key"] for section in made["sections"]] == [section.key for section in report.sections]
        assert "NaN" not in text


class TestDownloads:
    def test_figures_come_back_to_the_last_digit(self) -> None:
        frame = pd.DataFrame({"life": [1 / 3, math.nan, 2e-17], "count": [1, 2, 3]})
        rows = csv_text(frame).splitlines()[1:]
        again = [[float(cell) if cell else math.nan for cell in row.split(",")] for row in rows]
        assert np.array_equal(np.array(again), frame.to_numpy(float), equal_nan=True)

    def test_an_infinity_is_blank(self) -> None:
        assert csv_text(pd.DataFrame({"cutter": ["E1", "E2"], "high": [math.inf, 1.0]})) == "cutter,high\nE1,\nE2,1.0\n"

    @pytest.mark.parametrize("text", ["=1+1", "+1", "-cmd", "@x", "\tx"])
    def test_text_that_a_spreadsheet_would_run_is_quoted(self, text: str) -> None:
        again = pd.read_csv(io.StringIO(csv_text(pd.DataFrame({"note": [text], "n": [1]}))))
        assert again["note"][0] == f"'{text}"

    def test_a_return_inside_a_cell_breaks_no_row(self) -> None:
        text = csv_text(pd.DataFrame({"note": ["\rx", "a\r\nb"]}))
        assert pd.read_csv(io.StringIO(text))["note"].tolist() == ["'\nx", "a\nb"]

    def test_a_number_below_zero_stays_a_number(self) -> None:
        assert csv_text(pd.DataFrame({"x": [-1.5]})) == "x\n-1.5\n"

    def test_initials_never_leave(self) -> None:
        assert csv_text(pd.DataFrame({"operator": ["A.B."], "x": [1]})) == "x\n1\n"

    def test_an_address_holds_no_quote_and_no_angle(self) -> None:
        address = data_address('a,"<b>"\nä#%&\n')
        assert not set('"<>#&\n ') & set(address.partition(",")[2]) - {" "}


class TestSummaries:
    def test_a_band_holds_the_middle_four_fifths(self) -> None:
        ages = np.repeat(np.arange(1.0, 21.0), 101)
        lands = np.tile(np.arange(101.0), 20)
        band = curve_band(pd.DataFrame({"zone": "z", "group": "g", "age": ages, "land": lands}))
        assert len(band) == 20
        assert band["land"].tolist() == [50.0] * 20
        assert band["low"].tolist() == [10.0] * 20
        assert band["high"].tolist() == [90.0] * 20
        assert band["age"].tolist() == np.arange(1.0, 21.0).tolist()
        assert band["points"].sum() == len(ages)

    def test_even_ranks_keep_shortest_and_longest(self) -> None:
        frame = pd.DataFrame({"group": ["a"] * 1000 + ["b"] * 3, "low": [*range(1000), 5, 6, 7]})
        kept = evenly_ranked(frame, ["group"], "low", 11)
        assert kept.loc[kept["group"] == "a", "low"].tolist() == [round(at * 99.9) for at in range(11)]
        assert kept.loc[kept["group"] == "b", "low"].tolist() == [5, 6, 7]


class TestEdgeLand:
    def points(self) -> pd.DataFrame:
        rows = [
            (cutter, zone, age, slope * age)
            for cutter, last in (("E1", 40.0), ("E2", 30.0))
            for zone, slope in (("lower", 0.01), ("corner", 0.02))
            for age in (10.0, 20.0, last)
        ]
        return pd.DataFrame(rows, columns=["cutter", "zone", "cutting_time_min", "mean_mm"])

    def test_the_age_is_the_last_that_all_reached_and_lands_are_read_off_the_line(self) -> None:
        limits = {"corner": (0.0, 0.5), "lower": (0.5, 3.0)}
        table, age = edge_land(self.points(), ["E1", "E2"], {"E1": "a", "E2": "a"}, limits, "cutting_time_min")
        assert age == 30.0
        means = table[table["kind"] == "mean"].set_index("zone")["land"]
        assert means["corner"] == pytest.approx(0.6)
        assert means["lower"] == pytest.approx(0.3)
        assert table.loc[table["kind"] == "mean", ["start", "stop"]].to_numpy().tolist() == [[0.0, 0.5], [0.5, 3.0]]

    def test_zones_without_heights_stand_one_above_the_other(self) -> None:
        table, _ = edge_land(self.points(), ["E1", "E2"], {}, {}, "cutting_time_min")
        assert table.loc[table["kind"] == "mean", "start"].tolist() == [0.0, 1.0]
        assert table.loc[table["kind"] == "mean", "zone"].tolist() == ["corner", "lower"]

    def test_one_zone_has_no_edge(self) -> None:
        points = self.points()
        table, age = edge_land(points[points["zone"] == "lower"], ["E1"], {}, {}, "cutting_time_min")
        assert table.empty
        assert math.isnan(age)
