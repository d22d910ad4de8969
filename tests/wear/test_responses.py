"""Declared responses through every stage: read, converted, trended, compared, said."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from wearlab.cli.main import run
from wearlab.compare.response_trends import ResponseContrast, compare_responses
from wearlab.core.errors import ArgumentError, FileProblem
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial
from wearlab.report.analysis import analyse
from wearlab.report.build import build_report
from wearlab.wear.responses import response_trends
from wearlab.words.responses import contrast_sentence

TOML = """
[[response]]
name = "spindle_load"
unit = "%"

[[response]]
name = "Ra"
unit = "um"
direction = "rises"

[[response]]
name = "torque"
unit = "Nm"
direction = "falls"
"""
SLOPES = {"layered": 0.30, "side": 0.12}


def rows(seed: int = 4) -> list[dict[str, object]]:
    """Six cutters, two practices, six looks; the load rises by a slope of the practice, Ra alike, torque once."""
    rng = np.random.default_rng(seed)
    made: list[dict[str, object]] = []
    for at in range(6):
        strategy = "layered" if at % 2 == 0 else "side"
        own = SLOPES[strategy] + 0.02 * rng.standard_normal()
        for look in range(6):
            cell = {"cutter": f"E{at + 1}", "strategy": strategy, "reading": look, "cutting_time_min": 6 * look}
            made.append({**cell, "measure": "VB", "value": round(0.02 + 0.008 * 6 * look, 3), "unit": "mm"})
            load = 20 + own * 6 * look + 0.1 * rng.standard_normal()
            made.append({**cell, "measure": "spindle_load", "value": round(load, 3), "unit": "%"})
            for repeat in (1, 2):
                ra = 0.8 + 0.02 * 6 * look + 0.01 * rng.standard_normal()
                made.append({**cell, "measure": "Ra", "value": round(ra, 3), "unit": "um", "repeat": repeat})
    made.append({"cutter": "E1", "strategy": "layered", "reading": 1, "cutting_time_min": 6, "measure": "torque",
                 "value": 4.2, "unit": "Nm"})  # fmt: skip
    return made


def write(folder: Path, made: list[dict[str, object]], toml: str = TOML) -> Path:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(dict.fromkeys(name for row in made for name in row)), lineterminator="\n")
    writer.writeheader()
    writer.writerows(made)
    path = folder / "t.csv"
    path.write_text(out.getvalue(), encoding="utf-8")
    (folder / "t.toml").write_text(toml, encoding="utf-8")
    return path


@pytest.fixture
def trial(tmp_path: Path) -> Trial:
    return read_log(write(tmp_path, rows()))


def test_every_trend_is_the_slope_of_a_straight_line(trial: Trial) -> None:
    trends = response_trends(trial)
    assert len(trends.trends) == 6 * 2 + 1
    for one in trends.trends:
        if one.measure == "torque":
            continue
        own = trends.points[(trends.points["cutter"] == one.cutter) & (trends.points["measure"] == one.measure)]
        used = own[own["cutting_time_min"] > 0]
        line = stats.linregress(used["cutting_time_min"], used["value"])
        assert one.trend == pytest.approx(line.slope, rel=1e-12)
        assert one.std_error == pytest.approx(line.stderr, rel=1e-12)
        half = stats.t.ppf(0.975, len(used) - 2) * line.stderr
        assert one.interval().high - one.trend == pytest.approx(half, rel=1e-9)
        assert (one.readings, one.start, one.end) == (5, 6.0, 30.0)


def test_repeats_are_averaged(trial: Trial) -> None:
    points = response_trends(trial).points
    own = trial.responses.query("cutter == 'E2' and measure == 'Ra' and inspection == 3")["value_mm"]
    assert len(own) == 2
    found = points.query("cutter == 'E2' and measure == 'Ra' and inspection == 3")["value"]
    assert found.tolist() == [pytest.approx(own.mean())]


def test_too_few_looks_say_why(trial: Trial) -> None:
    (torque,) = [one for one in response_trends(trial).trends if one.measure == "torque"]
    assert math.isnan(torque.trend)
    assert torque.why_missing == "1 reading after break-in; a trend needs 3"
    assert torque.interval().low == -math.inf
    assert (torque.unit, torque.direction) == ("Nm", "falls")


def test_break_in_leaves_out_the_start(trial: Trial) -> None:
    assert {one.readings for one in response_trends(trial, break_in=0.5).trends if one.measure == "Ra"} == {3}
    with pytest.raises(ArgumentError, match=r"break-in share 1; allowed: 0 to below 1"):
        response_trends(trial, break_in=1.0)


def groups(trial: Trial) -> dict[str, list[str]]:
    return {str(name): list(own["cutter"]) for name, own in trial.facts().groupby("strategy")}


def test_practices_are_compared_by_welch_and_by_permutation(trial: Trial) -> None:
    trends = response_trends(trial)
    load, ra = compare_responses(trends, groups(trial))  # torque has no trend on either side
    frame = trends.to_frame().query("measure == 'spindle_load'").set_index("cutter")["trend"]
    a, b = (frame[groups(trial)[name]].to_numpy() for name in ("layered", "side"))
    welch = stats.ttest_ind(a, b, equal_var=False)
    assert load.difference == pytest.approx(a.mean() - b.mean())
    assert load.sample is not None
    assert load.sample.statistic == pytest.approx(welch.statistic, rel=1e-9)
    assert load.interval().low < 0.18 < load.interval().high
    exact = stats.permutation_test((a, b), lambda x, y, axis: x.mean(axis) - y.mean(axis), vectorized=True,
                                   permutation_type="independent", n_resamples=np.inf)  # fmt: skip
    assert load.p_exact == pytest.approx(exact.pvalue) == pytest.approx(0.1)
    assert load.smallest_p == pytest.approx(0.1)  # 2 of 20 splits: it cannot reach 0.05
    assert (load.p_value, load.p_method) == (pytest.approx(welch.pvalue), "of the interval's method")
    assert (load.p_value < 0.05) == (not load.interval().contains(0.0))
    wide, _ = compare_responses(trends, groups(trial), level=0.9)
    assert (wide.p_value, wide.p_method) == (load.p_exact, "exact permutation")
    assert load.to_dict()["p_exact"] == load.p_exact
    assert ra.interval().low < 0.0 < ra.interval().high
    said = contrast_sentence(load, {}, 0.95)
    assert said.startswith("Spindle load changes by 0.2")
    assert "% per min more (difference" in said
    assert "cannot tell them apart" in contrast_sentence(ra, {}, 0.95)


def test_an_exact_p_is_quoted_only_of_sides_of_one_size(trial: Trial) -> None:
    load = next(one for one in response_trends(trial).trends if one.measure == "spindle_load")

    def of(sizes: tuple[int, int]) -> ResponseContrast:
        values = {"a": [1.0, 1.1, 1.3, 1.2], "b": [2.0, 2.2, 2.1, 2.4, 2.3]}
        own = {name: values[name][:size] for name, size in zip("ab", sizes, strict=True)}
        made = tuple(replace(load, cutter=f"{name}{at}", trend=value, why_missing="")
                     for name, trends in own.items() for at, value in enumerate(trends))  # fmt: skip
        cutters = {name: [f"{name}{at}" for at in range(len(trends))] for name, trends in own.items()}
        (found,) = compare_responses(replace(response_trends(trial), trends=made), cutters)
        return found

    even, uneven = of((4, 4)), of((4, 5))
    assert (even.p_value, even.p_method) == (even.p_exact, "exact permutation")
    assert even.p_exact == pytest.approx(2 / 70)
    assert uneven.smallest_p == pytest.approx(1 / 126)
    assert uneven.sample is not None
    assert (uneven.p_value, uneven.p_method) == (uneven.sample.p_value, "of the interval's method")


def test_two_cutters_a_side_have_no_interval(trial: Trial) -> None:
    few = {name: cutters[:2] for name, cutters in groups(trial).items()}
    load, _ = compare_responses(response_trends(trial), few)
    assert load.why_missing == "fewer than 3 cutters with a trend on a side (2 and 2)"
    assert load.interval().high == math.inf
    assert math.isfinite(load.difference)
    assert load.to_dict()["p_value"] is None
    assert "cannot be told apart: fewer than 3 cutters" in contrast_sentence(load, {}, 0.95)


def test_the_standard_comes_second(trial: Trial) -> None:
    found = compare_responses(response_trends(trial), groups(trial), standard="layered")
    assert {(one.a, one.b) for one in found} == {("side", "layered")}


def test_another_length_unit_is_converted_and_the_typed_value_kept(tmp_path: Path) -> None:
    made = rows()
    (at, *_) = [i for i, row in enumerate(made) if row["measure"] == "Ra"]
    typed = float(str(made[at]["value"]))
    made[at] |= {"value": typed / 1000, "unit": "mm"}
    own = read_log(write(tmp_path, made)).responses.query("measure == 'Ra'").iloc[0]
    assert own["value_mm"] == pytest.approx(typed)
    assert (own["value"], own["unit"]) == (typed / 1000, "mm")


def test_a_unit_of_another_kind_sets_its_row_aside(tmp_path: Path) -> None:
    made = rows()
    (at, *_) = [i for i, row in enumerate(made) if row["measure"] == "spindle_load"]
    made[at]["unit"] = "kW"
    trial = read_log(write(tmp_path, made))
    (found,) = [one for one in trial.findings if one.code == "unit_of_response"]
    assert (found.line, found.cutter, found.severity) == (at + 2, "E1", "error")
    assert "spindle_load in 'kW'; allowed: %, as the trial file declares it" in found.text()
    assert trial.counts.rows_set_aside == 1


def test_a_blank_unit_is_the_declared_one_and_said(tmp_path: Path) -> None:
    made = rows()
    (at, *_) = [i for i, row in enumerate(made) if row["measure"] == "torque"]
    made[at]["unit"] = ""
    trial = read_log(write(tmp_path, made))
    (found,) = [one for one in trial.findings if one.code == "unit_of_response_blank"]
    assert (found.severity, found.lines) == ("note", (at + 2,))
    assert "1 row with measure torque and no unit: read as Nm" in found.text()


def test_two_units_of_a_response_without_a_declared_one_are_a_doubt(tmp_path: Path) -> None:
    made = rows()
    (at, *_) = [i for i, row in enumerate(made) if row["measure"] == "spindle_load"]
    made[at]["unit"] = "A"
    trial = read_log(write(tmp_path, made, TOML.replace('unit = "%"\n', "")))
    (found,) = [one for one in trial.findings if one.code == "response_in_two_units"]
    assert "spindle_load is typed in 'A' and '%'" in found.text() or "'%' and 'A'" in found.text()


def test_a_response_that_nobody_declared_is_an_error(tmp_path: Path) -> None:
    trial = read_log(write(tmp_path, rows(), TOML.replace("torque", "torsion")))
    (found,) = [one for one in trial.findings if one.code == "unknown_measure"]
    assert "Declare an own response in the trial file" in found.text() or "torsion" in found.text()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('direction = "sideways"', r"'chatter' with direction 'sideways'; allowed: rises, falls, two-sided"),
        ('unit = "Nm"', r"response 'VB'; allowed: a word that is no measure of the log"),
    ],
)
def test_a_declaration_that_cannot_be_meant_is_refused(line: str, words: str, tmp_path: Path) -> None:
    name = "VB" if "VB" in words else "chatter"
    path = write(tmp_path, rows(), f'[[response]]\nname = "{name}"\n{line}\n')
    with pytest.raises(FileProblem, match=words):
        read_log(path)


def test_every_command_says_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path, rows(), TOML + '[[criterion]]\nname = "load"\ntext = "spindle_load=24"\n')

    def out(*arguments: str) -> str:
        with pytest.raises(SystemExit) as stop:
            run([*arguments, str(path)])
        assert stop.value.code == 0
        return capsys.readouterr().out

    assert "109 other readings" in out("check")
    assert "trend per min" in out("wear")
    answer = json.loads(out("wear", "--json"))["responses"]
    assert len(answer) == 13
    assert {one["measure"] for one in answer} == {"spindle_load", "Ra", "torque"}
    assert answer[0]["points"][0] == {"clock": 0.0, "value": pytest.approx(20, abs=1)}
    assert "spindle_load=24" in out("life")
    assert "spindle_load=24" in out("compare")


def test_the_report_has_a_section_of_them(trial: Trial) -> None:
    (section,) = [one for one in build_report(analyse(trial)).sections if one.key == "responses"]
    kinds = [block.to_dict()["kind"] for block in section.blocks]
    assert kinds == ["paragraph", "figure", "figure", "figure", "table", "table"]
    table = next(block.to_dict() for block in section.blocks if block.to_dict().get("key") == "response-trends")
    assert len(table["rows"]) == 13


def test_a_report_without_responses_has_no_such_section() -> None:
    from wearlab.logbook.samples import sample_path

    made = build_report(analyse(read_log(sample_path("groover_coated"))))
    assert "responses" not in {one.key for one in made.sections}
