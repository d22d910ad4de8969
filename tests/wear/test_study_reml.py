"""A measurement study by mean squares and by REML, and on the screen of `wearlab wear --study`."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.core.errors import Refusal
from wearlab.logbook.samples import sample_path
from wearlab.wear.study_reml import study_both_ways

CASES = Path(__file__).parent.parent / "reference" / "reference_cases.json"


def _case(every_seventh_missing: bool = False) -> tuple[pd.DataFrame, dict[str, float]]:
    """Reference case `gauge`: R aov and lme4, statsmodels; 10 parts x 3 people x 2."""
    case = next(one for one in json.loads(CASES.read_text())["cases"] if one["id"] == "gauge")
    data = case["input"]
    rows = pd.DataFrame({"part": data["part"], "operator": data["oper"], "value_mm": data["y"]})
    return (rows[rows.index % 7 != 3].reset_index(drop=True) if every_seventh_missing else rows), case["expected"]


def test_both_ways_agree_with_r_and_with_each_other() -> None:
    """R aov and lme4 on the complete study."""
    readings, expected = _case()
    table = study_both_ways(readings).to_frame().set_index("component")
    names = {"repeatability": ("v_repeat", "reml_err"), "operator": ("v_oper", "reml_oper"),
             "interaction": ("v_int", "reml_int"), "part": ("v_part", "reml_part")}  # fmt: skip
    for name, (anova, reml) in names.items():
        assert table.at[name, "anova_mm"] ** 2 == pytest.approx(expected[anova], rel=1e-8)
        assert table.at[name, "reml_mm"] ** 2 == pytest.approx(expected[reml], rel=1e-4)
    assert (table["reml_mm"] / table["anova_mm"]).tolist() == pytest.approx([1.0] * 5, rel=1e-4)
    assert (table["anova_low"] <= table["anova_mm"]).all()
    assert (table["anova_mm"] <= table["anova_high"]).all()
    assert (table["reml_low"] <= table["reml_mm"]).all()
    assert (table["reml_mm"] <= table["reml_high"]).all()


def test_a_study_with_gaps_has_its_components_and_says_what_it_has_not() -> None:
    """R lme4 1.1-31 on the same study with every seventh reading from the fourth on missing."""
    readings, _ = _case(every_seventh_missing=True)
    found = study_both_ways(readings)
    table = found.to_frame().set_index("component")
    variances = (table["reml_mm"] ** 2)[["part", "operator", "interaction", "repeatability"]]
    assert variances.tolist() == pytest.approx(
        [4.52562724e-03, 1.76035654e-05, 5.39125120e-05, 5.99570702e-05], rel=1e-5
    )
    assert found.anova is None
    assert table["anova_mm"].isna().all()
    facts = found.to_dict()
    assert facts["why_missing"] == "between 1 and 2 readings of a part by an operator"
    assert json.dumps(facts, allow_nan=False)


def test_what_it_means_for_a_life() -> None:
    """A reading error of s at a rate r is s / r minutes of life (derived); more flutes average the repeats alone."""
    readings, _ = _case()
    reml = study_both_ways(readings).reml
    parts = reml.study.components
    sd, limits = reml.life_error(0.002, 4)
    expected = math.sqrt(parts.repeatability / 4 + parts.operator + parts.interaction) / 0.002
    assert sd == pytest.approx(expected, rel=1e-12)
    assert limits.low < sd < limits.high
    assert reml.life_error(0.002, 1)[0] == pytest.approx(reml.gauge_mm / 0.002, rel=1e-12)
    with pytest.raises(Refusal, match="not above 0"):
        reml.life_error(0.0, 4)


def test_one_part_is_no_study() -> None:
    readings, _ = _case()
    with pytest.raises(Refusal, match="one part only"):
        study_both_ways(readings[readings["part"] == 1])


@pytest.mark.parametrize("gaps", [False, True])
def test_the_command(gaps: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings, _ = _case(gaps)
    path = tmp_path / "study.csv"
    table = readings.assign(value=1000 * readings["value_mm"], unit="um")
    table[["part", "operator", "value", "unit"]].to_csv(path, index=False)
    outs = []
    for more in ([], ["--json"]):
        with pytest.raises(SystemExit) as stop:
            run(["wear", str(sample_path("shoulder_demo")), "--study", str(path), *more])
        assert (stop.value.code or 0) == 0
        outs.append(capsys.readouterr().out)
    screen, facts = outs[0], json.loads(outs[1])["study"]
    assert max(map(len, screen.splitlines())) <= 80
    assert ("ANOVA" in screen) != gaps
    assert "reading error alone makes a life" in " ".join(screen.split())
    assert [one["component"] for one in facts["components"]] == [
        "repeatability", "operator", "interaction", "gauge", "part",
    ]  # fmt: skip
    one, four = facts["life_error"]
    assert (one["flutes"], four["flutes"]) == (1, 4)
    assert four["low"] < four["reml_sd"] < one["reml_sd"]
    assert (four["anova_sd"] is None) == gaps


def _equal_repeats(tmp_path: Path) -> Path:
    """Invented: 5 parts x 2 people x 2 repeats that agree to the last digit; the second person reads odd parts high."""
    path = tmp_path / "study.csv"
    lands = [(part, who, 0.10 + 0.03 * part + 0.01 * (who == "b") * (part % 2)) for part in range(5) for who in "ab"]
    path.write_text(
        "part,operator,value,unit\n" + "".join(2 * f"{part},{who},{land:.2f},mm\n" for part, who, land in lands)
    )
    return path


def test_repeats_that_agree_to_the_last_digit_leave_the_mean_squares_alone(tmp_path: Path) -> None:
    """By hand: people differ by 0, 0.01, 0, 0.01, 0 mm; MS people 8e-5, MS people by parts 3e-5, MS repeats 0."""
    from wearlab.wear.study import read_study

    readings = read_study(_equal_repeats(tmp_path))
    found = study_both_ways(readings)
    assert found.reml is None
    assert found.components.repeatability == pytest.approx(0.0, abs=1e-30)
    assert found.components.interaction == pytest.approx(3e-5 / 2, rel=1e-9)
    assert found.components.operator == pytest.approx((8e-5 - 3e-5) / 10, rel=1e-9)
    facts = found.to_dict()
    assert "agree to the last digit" in facts["why_missing"]
    assert {one["reml_mm"] for one in facts["components"]} == {None}
    assert json.dumps(facts, allow_nan=False)
    with pytest.raises(Refusal, match="agree to the last digit"):
        study_both_ways(readings.drop(index=0))


@pytest.mark.parametrize("command", ["wear", "life"])
def test_the_commands_with_such_a_study(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = _equal_repeats(tmp_path)
    outs = []
    for more in ([], ["--json"]):
        with pytest.raises(SystemExit) as stop:
            run([command, str(sample_path("shoulder_demo")), "--study", str(path), *more])
        assert (stop.value.code or 0) == 0
        outs.append(capsys.readouterr().out)
    assert max(map(len, outs[0].splitlines())) <= 80
    facts = json.loads(outs[1])
    if command == "wear":
        assert "mean squares alone: the repeats agree to the last digit" in " ".join(outs[0].split())
        assert "reml_sd" in facts["study"]["life_error"][0]
        assert facts["study"]["life_error"][0]["reml_sd"] is None
