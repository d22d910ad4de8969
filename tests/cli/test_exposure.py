"""`wearlab exposure`: from numbers, from a log, refusals, files."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str, str]]
TOOL = ("--diameter-mm", 10, "--teeth", 4, "--feed-per-tooth-mm", 0.05)
SPEED = ("--spindle-rpm", 6000 / math.pi)
FEATURE = ("--width-mm", 10, "--depth-mm", 8, "--length-mm", 120)
PAIR = ("--practice", "layered:layers=4", "--practice", "side:steps=4")
DEMO = sample_path("shoulder_demo")


@pytest.fixture
def wearlab(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Wearlab:
    """Run `wearlab exposure` in an empty folder: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            run(["exposure", *(str(one) for one in arguments)])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return call


def test_standing_example_from_numbers(wearlab: Wearlab) -> None:
    # Derived: 3.93 and 1.31 m a cm3, 125 and 31.3 mm3 a mm of edge; 3.0 to 4 times; equal removal rate, 7.64 cm3/min.
    code, out, _ = wearlab(*TOOL, *SPEED, *FEATURE, "--sides", "one", *PAIR, "--json")
    made = json.loads(out)
    assert code == 0
    assert made["schema"] == "wearlab.exposure/1"
    layered, side = made["practices"]
    assert layered["removal_rate_cm3_min"] == pytest.approx(7.64, abs=5e-3)
    assert side["removal_rate_cm3_min"] == pytest.approx(layered["removal_rate_cm3_min"])
    lower = {one["name"]: next(z for z in one["zones"] if z["zone"] == "lower") for one in made["practices"]}
    assert lower["layered"]["sliding_m_cm3"] == pytest.approx(3.93, abs=5e-3)
    assert lower["side"]["chip_mm3_mm_cm3"] == pytest.approx(31.25)
    ratio = next(row for row in made["ratios"] if row["zone"] == "lower")
    assert (ratio["low"], ratio["high"]) == pytest.approx((3.0, 4.0))
    assert "removal_rate_cm3_min" in {row["quantity"] for row in made["matched"]}
    assert "mean_chip_mm" in {row["quantity"] for row in made["unmatched"]}


def test_cutting_speed_in_place_of_revolutions(wearlab: Wearlab) -> None:
    one = wearlab(*TOOL, *SPEED, *FEATURE, *PAIR[:2], "--json")[1]
    other = wearlab(*TOOL, "--cutting-speed", 60, *FEATURE, *PAIR[:2], "--json")[1]
    a, b = (json.loads(text)["practices"][0]["removal_rate_cm3_min"] for text in (one, other))
    assert a == pytest.approx(b)


def test_matched_feed(wearlab: Wearlab) -> None:
    # Derived: at equal mean chip the side pass takes 0.0667 mm a tooth and removes 1.333 times as much a minute.
    made = json.loads(wearlab(*TOOL, *SPEED, *FEATURE, "--sides", "one", *PAIR, "--match", "mean_chip", "--json")[1])
    side = made["practices"][1]
    assert side["quantities"]["feed_per_tooth_mm"] == pytest.approx(0.0667, abs=5e-5)
    assert side["removal_rate_cm3_min"] == pytest.approx(10.19, abs=5e-3)
    ratio = next(row for row in made["ratios"] if row["zone"] == "lower")
    assert ratio["sliding"] == pytest.approx(4.0)


def test_forbidden_by_geometry_is_an_answer(wearlab: Wearlab) -> None:
    code, out, _ = wearlab(*TOOL, *SPEED, *FEATURE, *PAIR)
    assert code == 0
    assert "side: not possible: a slot of 10 mm leaves a cutter of 10 mm no room" in " ".join(out.split())
    code, out, _ = wearlab(*TOOL, *SPEED, *FEATURE, *PAIR[2:])
    assert code == 0
    assert "No answer" in out
    made = json.loads(wearlab(*TOOL, *SPEED, *FEATURE, *PAIR[2:], "--json")[1])
    assert made["practices"] == []
    assert "no room for side passes" in made["refusal"]["reason"]


def test_a_plain_cut_needs_no_feature(wearlab: Wearlab) -> None:
    cut = ("--practice", "cut:axial_depth_mm=2,radial_width_mm=10")
    code, out, _ = wearlab(*TOOL, *SPEED, *cut, "--zone", "lower=0:2", "--zone", "high=2:8", "--json")
    zones = json.loads(out)["practices"][0]["zones"]
    assert code == 0
    assert [zone["zone"] for zone in zones] == ["lower", "high"]
    assert zones[1]["sliding_m_cm3"] == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((), "no --diameter-mm; allowed: a log, or a cutter and its cut in numbers"),
        ((*TOOL, *PAIR, *FEATURE), "one speed is needed"),
        ((*TOOL, *SPEED, "--cutting-speed", 60, *PAIR, *FEATURE), "one speed is needed"),
        ((*TOOL, *SPEED, *FEATURE), "no practice"),
        ((*TOOL, *SPEED, *PAIR), "without a feature"),
        ((*TOOL, *SPEED, "--width-mm", 10, *PAIR), "half a feature"),
        ((*TOOL, *SPEED, *FEATURE, "--practice", "laered:layers=4"), "Did you mean layered?"),
        ((*TOOL, *SPEED, *FEATURE, *PAIR, "--zone", "lower"), "NAME=FROM:TO"),
        ((*TOOL, *SPEED, *FEATURE, *PAIR, "--zone", "lower=2:1"), "0 <= from < to"),
        ((*TOOL, *SPEED, *FEATURE, *PAIR, "--clock", "hours"), "clock 'hours'"),
        ((*TOOL, *SPEED, *FEATURE, *PAIR, "--match", "noise"), "rule 'noise'"),
        ((*TOOL, *SPEED, *FEATURE, *PAIR, "--standard", "nobody"), "no practice 'nobody'"),
        ((DEMO, "--teeth", 4), "--teeth beside a log"),
        ((DEMO, "--helix-deg", 40), "--helix-deg beside a log"),
        ((DEMO, "--by", "practise"), "no column 'practise'"),
        ((DEMO, "--clock", "hours"), "clock 'hours'"),
        (("missing.csv",), "no such file"),
    ],
)
def test_bad_arguments_exit_2(wearlab: Wearlab, arguments: tuple[object, ...], message: str) -> None:
    code, out, err = wearlab(*arguments)
    assert code == 2
    assert message in " ".join(err.split())
    assert out == ""


def test_demonstration_log(wearlab: Wearlab, tmp_path: Path) -> None:
    code, out, err = wearlab(DEMO, "--standard", "layered", "--csv", "zones.csv", "--plot", "edge.svg")
    text = " ".join(out.split())
    assert code == 0
    assert "zone lower, side over layered: measured 0.362" in text
    assert "predicted 0.333 to 0.392: inside" in text
    assert "9 cutters" in text
    assert max(map(len, out.splitlines())) <= 80
    frame = pd.read_csv(tmp_path / "zones.csv")
    assert frame["practice"].tolist() == ["layered"] * 4 + ["side"] * 4
    picture = (tmp_path / "edge.svg").read_text(encoding="utf-8")
    assert picture.startswith("<svg")
    assert 'xmlns="http://www.w3.org/2000/svg"' in picture
    assert "zones.csv" in err


def test_zones_of_ones_own_beside_a_log(wearlab: Wearlab) -> None:
    made = json.loads(wearlab(DEMO, "--zone", "lower=0:3", "--json")[1])
    assert [zone["zone"] for zone in made["practices"][0]["zones"]] == ["lower"]
    assert {row["zone"] for row in made["measured"]} == {"lower"}


def test_log_without_engagement(wearlab: Wearlab) -> None:
    code, out, _ = wearlab(sample_path("groover_coated"))
    assert code == 0
    assert "not recorded: diameter_mm" in " ".join(out.split())
    made = json.loads(wearlab(sample_path("groover_coated"), "--json")[1])
    assert made["practices"] == []


def test_errors_in_the_log_exit_1(wearlab: Wearlab, tmp_path: Path) -> None:
    text = DEMO.read_text(encoding="utf-8").splitlines()
    text[5] = text[5].replace("0.05,", "oops,", 1)
    (tmp_path / "bad.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    assert wearlab("bad.csv", "--json")[0] == 1


def test_an_inch_reader_sees_inches_feet_and_thou(wearlab: Wearlab) -> None:
    code, out, _ = wearlab(DEMO, "--units", "inch")
    text = " ".join(out.split())
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "removal rate 0.8159 in3/min" in text  # 13.37 cm3/min / 16.387
    assert "thou/in³" in text
    for metric in ("cm3", " mm", "m/min", " um", "_"):
        assert metric not in out.replace("shoulder_demo.csv", "")
    row = next(line.split() for line in out.splitlines() if line.startswith("side") and "lower" in line)
    plain = next(
        line.split() for line in wearlab(DEMO)[1].splitlines() if line.startswith("side") and "lower" in line
    )
    # 16.387064 cm3 an in3, 0.3048 m a foot, 25.4 mm an inch.
    for at, factor in ((2, 1 / 25.4), (4, 16.387064), (5, 16.387064 / 0.3048), (6, 16.387064 / 25.4**2)):
        assert float(row[at]) == pytest.approx(float(plain[at]) * factor, rel=2e-3)
