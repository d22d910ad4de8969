"""The shipped demonstration is what its generator makes, to the byte."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.samples import datasets_folder
from wearlab.simulate.__main__ import main
from wearlab.simulate.files import shoulder_files, write_shoulder
from wearlab.simulate.shoulder import SEED

NAMES = ("shoulder_demo.csv", "shoulder_demo.toml", "shoulder_demo_truth.json", "shoulder_demo.md")


@pytest.mark.parametrize("name", NAMES)
def test_shipped_file_is_regenerated_to_the_byte(name: str) -> None:
    assert (datasets_folder() / name).read_bytes() == shoulder_files()[name].encode()


def test_seed_is_the_one_that_was_fixed() -> None:
    assert SEED == 20261125
    truth = json.loads((datasets_folder() / "shoulder_demo_truth.json").read_text(encoding="utf-8"))
    assert truth["seed"] == 20261125


def test_module_entry_writes_the_files(tmp_path: Path) -> None:
    call = [sys.executable, "-m", "wearlab.simulate", "--seed", str(SEED), "--out", str(tmp_path / "demo")]
    done = subprocess.run(call, check=True, capture_output=True, text=True, timeout=60)
    assert [Path(line).name for line in done.stdout.splitlines()] == list(NAMES)
    for name in NAMES:
        assert (tmp_path / "demo" / name).read_bytes() == (datasets_folder() / name).read_bytes()


def test_nothing_is_written_over_without_force(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "shoulder_demo.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(FileProblem, match=r"shoulder_demo\.toml: is there already"):
        write_shoulder(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["shoulder_demo.toml"]
    assert main(["--out", str(tmp_path)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["--out", str(tmp_path), "--force", "--seed", "3"]) == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)


def test_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(FileProblem, match="cannot be written"):
        write_shoulder(tmp_path / "file" / "inside")


def test_another_seed_gives_another_log() -> None:
    other = shoulder_files(1)
    assert other["shoulder_demo.csv"] != shoulder_files()["shoulder_demo.csv"]
    assert "--seed 1 " in other["shoulder_demo.md"]


def test_trial_file_holds_what_the_log_needs() -> None:
    settings = tomllib.loads(shoulder_files()["shoulder_demo.toml"])
    criteria = {item["name"]: parse_criterion(item["text"]) for item in settings["criterion"]}
    assert criteria["roughing"].limit == pytest.approx(0.2)
    assert criteria["roughing"].zone == "lower"
    assert criteria["any flute"].statistic == "worst"
    assert settings["decision"]["margin"] == 1.25
    assert settings["zones"]["lower"] == [0.5, 3]


def test_note_and_trial_file_say_invented() -> None:
    files = shoulder_files()
    assert files["shoulder_demo.md"].startswith("# shoulder_demo: INVENTED, SIMULATED")
    assert "invented, simulated" in files["shoulder_demo.toml"]
