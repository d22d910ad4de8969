"""The example scripts: each runs in a folder of its own, with warnings as errors, and says what it promises."""

from __future__ import annotations

import importlib
import re
import runpy
import warnings
from pathlib import Path

import pandas as pd
import pytest

import wearlab

SCRIPTS = sorted(path.stem for path in (Path(wearlab.__file__).parent / "examples").glob("*.py") if path.stem[0] != "_")


def run_script(name: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> str:
    monkeypatch.chdir(folder)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        runpy.run_path(str(Path(wearlab.__file__).parent / "examples" / f"{name}.py"), run_name="__main__")
    return capsys.readouterr().out


def test_one_for_each_who_uses_it() -> None:
    assert SCRIPTS == ["process_engineer", "researcher", "shop_manager"]
    for name in SCRIPTS:
        module = importlib.import_module(f"wearlab.examples.{name}")
        assert f"python -m wearlab.examples.{name}" in (module.__doc__ or "")
        lines = Path(str(module.__file__)).read_text(encoding="utf-8").splitlines()
        assert len(lines) < 60, "short"


def test_process_engineer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = run_script("process_engineer", tmp_path, monkeypatch, capsys)
    assert "<Trial shoulder" in out
    assert ": 21 cutters" in out
    assert "error:" not in out
    found = re.search(r"life: side over layered ([\d.]+) \(([\d.]+) to ([\d.]+)\): different", out)
    assert found is not None, out
    ratio, low, high = map(float, found.groups())
    assert 1 < low < ratio < high
    assert "<html" in (tmp_path / "shoulder.html").read_text(encoding="utf-8")


def test_shop_manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    out = run_script("shop_manager", tmp_path, monkeypatch, capsys)
    money = {name: float(cost) for name, cost in re.findall(r"^(\w+): ([\d.]+) a part", out, re.MULTILINE)}
    chances = [int(number) for number in re.findall(r"cheapest in (\d+) of 100", out)]
    assert set(money) == {"layered", "side"}
    assert 99 <= sum(chances) <= 101
    assert f"Run {min(money, key=lambda name: money[name])}: " in out
    assert "<html" in (tmp_path / "card.html").read_text(encoding="utf-8")


def test_researcher(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    out = run_script("researcher", tmp_path, monkeypatch, capsys)
    assert out.count("no answer") == 2
    assert "speed never varied" in out
    assert "inside the tested range" in out
    lives = pd.read_csv(tmp_path / "lives.csv")
    # The first case of the table crosses 0.3 mm a ninth of the way from 29 to 32 min, by its own two readings.
    assert lives["life"].iloc[0] == pytest.approx(29.333, abs=5e-4)
    assert (pd.read_csv(tmp_path / "rates.csv")["rate"].dropna() > 0).all()
