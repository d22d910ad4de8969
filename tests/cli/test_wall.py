"""`wearlab wall`: the demonstration log, refusals, files."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str, str]]
DEMO = sample_path("shoulder_demo")


@pytest.fixture
def wearlab(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Wearlab:
    """Run `wearlab wall` in an empty folder: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            run(["wall", *(str(one) for one in arguments)])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return call


def test_demonstration_log(wearlab: Wearlab, tmp_path: Path) -> None:
    code, out, err = wearlab(DEMO, "--csv", "walls.csv", "--plot", "slots.svg")
    text = " ".join(out.split())
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "36 slots of 12 cutters; nominal width 12.6 mm" in text
    assert "Hang-up height of every pin, mm (0 = floor, 9 = stays out)" in text
    assert "deflection and tram" in text
    frame = pd.read_csv(tmp_path / "walls.csv")
    assert len(frame) == 36 * 5
    assert {"left_mm", "right_mm", "width_mm", "predicted_width_mm"} <= set(frame.columns)
    assert (tmp_path / "slots.svg").read_text(encoding="utf-8").startswith("<svg")
    assert "slots.svg" in err


def test_predicted_beside_measured_in_json(wearlab: Wearlab) -> None:
    made = json.loads(wearlab(DEMO, "--only", "strategy=layered", "--json")[1])
    assert made["schema"] == "wearlab.wall/1"
    assert {row["cutter"] for row in made["hang_up"]} == {"E1", "E3", "E5", "E8", "E10", "E11"}
    # The layers are 3 mm deep: where pins were settled to hang, they hung within the fading of the band below that.
    settled = [row for row in made["hang_up"] if row["low"] == 2.75 and row["high"] == 3.25]
    assert len(settled) > 10
    assert all(row["predicted_mm"] == 3.0 and 2.6 < row["height_mm"] < 3.2 for row in settled)
    assert made["wear"]["growth_over_expected"] == pytest.approx(1.0, abs=0.3)


def test_sharper_zone_lines(wearlab: Wearlab) -> None:
    made = json.loads(wearlab(DEMO, "--only", "cutter=E1", "--zone-line-mm", "0", "--json")[1])
    hung = [row for row in made["hang_up"] if row["low"] == row["high"] == 3.0]
    assert hung


def test_clock_and_groups(wearlab: Wearlab) -> None:
    made = json.loads(wearlab(DEMO, "--clock", "parts", "--by", "block", "--json")[1])
    assert made["clock"] == "parts"
    assert {row["group"] for row in made["trends"]} == {"1", "2", "3", "4", "5", "6"}


def test_log_without_walls_is_an_answer(wearlab: Wearlab) -> None:
    code, out, _ = wearlab(sample_path("nasa_milling"))
    assert code == 0
    assert "the log holds no reading of a wall" in " ".join(out.split())
    made = json.loads(wearlab(sample_path("nasa_milling"), "--json")[1])
    assert made["profiles"] == []
    assert "the log holds no reading of a wall" in made["refusal"]["reason"]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("missing.csv",), "no such file"),
        ((DEMO, "--zone-line-mm", "-1"), "--zone-line-mm"),
        ((DEMO, "--clock", "hours"), "clock 'hours'"),
        ((DEMO, "--only", "strategy"), "--only"),
        ((DEMO, "--level", "95"), "confidence level 95"),
    ],
)
def test_bad_arguments_exit_2(wearlab: Wearlab, arguments: tuple[object, ...], message: str) -> None:
    code, out, err = wearlab(*arguments)
    assert code == 2
    assert message in " ".join(err.split())
    assert out == ""


def test_nothing_is_written_over(wearlab: Wearlab, tmp_path: Path) -> None:
    (tmp_path / "slots.svg").write_text("mine")
    code, _, err = wearlab(DEMO, "--only", "cutter=E1", "--plot", "slots.svg")
    assert code == 2
    assert "--force" in err
    assert (tmp_path / "slots.svg").read_text() == "mine"


def test_pins_alone(wearlab: Wearlab, tmp_path: Path) -> None:
    log = tmp_path / "pins.csv"
    log.write_text("cutter,parts,measure,pin_mm,value,unit\nE1,10,hang_up,9.95,0,mm\nE1,20,hang_up,9.95,2.1,mm\n")
    code, out, _ = wearlab(log, "--csv", "walls.csv")
    text = " ".join(out.split())
    assert code == 0
    assert "2.1" in text
    assert "Not predicted: E1: no wear land of this cutter was read" in text
    assert (tmp_path / "walls.csv").read_text().startswith("cutter,group")
    assert wearlab(log, "--plot", "slots.svg")[0] == 0
    assert not (tmp_path / "slots.svg").exists()


def test_an_inch_reader_sees_inches_and_thou_and_no_metric_figure(wearlab: Wearlab) -> None:
    _, metric, _ = wearlab(DEMO)
    code, out, _ = wearlab(DEMO, "--units", "inch")
    text = " ".join(out.split())
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "nominal width 0.49606 in" in text or "nominal width 0.49608 in" in text  # 12.6 mm / 25.4
    assert "Hang-up height of every pin, in (0 = floor, 0.3543 = stays out)" in text  # 9 mm / 25.4
    assert " um" not in out
    assert " mm" not in out
    size = next(line.split() for line in metric.splitlines() if line.startswith("E1 ") and "witness 29" in line)[3]
    thou = next(line.split() for line in out.splitlines() if line.startswith("E1 ") and "witness 29" in line)[3]
    assert float(thou) == pytest.approx(float(size) / 25.4, abs=0.003)


def test_inches_change_the_screen_and_not_the_record(wearlab: Wearlab) -> None:
    assert wearlab(DEMO, "--json")[1] == wearlab(DEMO, "--json", "--units", "inch")[1]
