"""`wearlab life`: lives by flute."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str]]
HEADER = "cutter,teeth,cutting_time_min,measure,flute,value,unit\n"
RUNOUT = HEADER + "".join(
    f"E1,3,{clock},VB,{flute},{value},mm\n"
    for clock, lands in [(10, (0.10, 0.16, 0.12)), (20, (0.20, 0.32, 0.24)), (30, (0.30, 0.48, 0.36))]
    for flute, value in enumerate(lands, start=1)
)
"""Lands that grow in proportion: 0.010, 0.016 and 0.012 mm a minute."""


@pytest.fixture
def wearlab(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Wearlab:
    """Run a command in an empty folder: exit code and standard output."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> tuple[int, str]:
        with pytest.raises(SystemExit) as stop:
            run([str(one) for one in arguments])
        return int(stop.value.code or 0), capsys.readouterr().out

    return call


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "runout.csv"
    path.write_text(RUNOUT)
    return path


def test_a_tooth_that_runs_out_decides_and_the_mean_hides_it(wearlab: Wearlab, log: Path) -> None:
    """0.24 mm: by hand 24, 15 and 20 min for the flutes, 15 for the worst, 0.24 / 0.01267 for their mean."""
    code, out = wearlab("life", log, "--criterion", "VB=0.24mm", "--clock", "min", "--flutes", "--json")
    lives = {one["flute"]: one for one in json.loads(out)["flutes"]}
    assert code == 0
    assert list(lives) == ["1", "2", "3", "worst", "mean"]
    expected = {"1": 24.0, "2": 15.0, "3": 20.0, "worst": 15.0, "mean": 0.24 / (0.038 / 3)}
    assert {flute: one["life"] for flute, one in lives.items()} == pytest.approx(expected, rel=1e-12)
    assert (lives["2"]["bracket_low"], lives["2"]["bracket_high"]) == (10.0, 20.0)


def test_several_criteria_side_by_side_on_the_screen(wearlab: Wearlab, log: Path) -> None:
    code, out = wearlab(
        "life", log, "--criterion", "VB=0.40mm", "--criterion", "VB=0.08mm", "--clock", "min", "--flutes"
    )
    rows = [line.split() for line in out.splitlines() if line.startswith("E1 ")]
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert " ".join(rows[-2]) == "E1 > 30 25 > 30 25 > 30", "still good at the last look: told as more than"
    assert " ".join(rows[-1]) == "E1 < 10 < 10 < 10 < 10 < 10", "past at the first look: told as less than"


def test_table_of_the_demonstration(wearlab: Wearlab, tmp_path: Path) -> None:
    there = tmp_path / "flutes.csv"
    log = sample_path("shoulder_demo")
    assert (
        wearlab("life", log, "--criterion", "lower:VB=0.2mm", "--clock", "slid_m", "--flutes", "--csv", there)[0] == 0
    )
    table = pd.read_csv(there)
    assert set(table["flute"]) == {"1", "2", "3", "4", "worst", "mean"}
    assert (table["clock"] == "slid_m").all()
    exact = table[table["status"] == "exact"].pivot(index="cutter", columns="flute", values="life")
    assert (exact["worst"] <= exact[["1", "2", "3", "4"]].min(axis=1) * (1 + 1e-9)).all()
    whole = json.loads(wearlab("life", log, "--criterion", "lower:VB=0.2mm", "--clock", "slid_m", "--json")[1])["lives"]
    mean = {one["cutter"]: one["life"] for one in whole if one["status"] == "exact"}
    assert exact["mean"].dropna().to_dict() == pytest.approx(mean, rel=1e-12)


def test_what_no_flute_has_is_said(wearlab: Wearlab, log: Path) -> None:
    code, out = wearlab("life", sample_path("nasa_milling"), "--criterion", "VB=0.3mm", "--flutes")
    assert (code, "no single flute was read" in out) == (0, True)
    facts = json.loads(wearlab("life", log, "--criterion", "end", "--flutes", "--json")[1])
    assert facts["flutes"] == []
    assert facts["flutes_refused"] == ["end: end does not belong to a flute"]
