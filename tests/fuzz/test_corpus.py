"""Inputs that once found a fault in the reader, and one of each way in, are read without fault."""

from __future__ import annotations

import importlib.util
import random
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent


def _target() -> Any:
    spec = importlib.util.spec_from_file_location("fuzz_reader", HERE / "fuzz_reader.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TARGET = _target()
CORPUS = sorted((HERE / "corpus").iterdir())


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.name)
def test_kept_inputs(path: Path, tmp_path: Path) -> None:
    TARGET.judge(path.read_bytes(), tmp_path)


def test_the_corpus_comes_in_by_every_way() -> None:
    assert {TARGET.input_of(path.read_bytes())[0] for path in CORPUS} == {"bytes", "flat", "bench", "book"}


@pytest.mark.parametrize("seed", range(4))
def test_inputs_by_chance(seed: int, tmp_path: Path) -> None:
    dice = random.Random(seed)
    for _ in range(8):
        most = dice.choice([30, 190, 256])
        TARGET.judge(bytes(dice.randrange(most) for _ in range(dice.randint(1, 500))), tmp_path)


def test_a_fault_is_seen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The target is no rubber stamp: a reader that loses a row, or breaks, does not pass."""
    good = next(path for path in CORPUS if path.name.startswith("flat"))
    monkeypatch.setattr("wearlab.logbook.check.check_rows", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        TARGET.judge(good.read_bytes(), tmp_path)
