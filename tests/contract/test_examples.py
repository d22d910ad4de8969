"""The answers of the commands keep the keys, types and numbers of the examples in this folder."""

from __future__ import annotations

import importlib.util
import json
import math
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
TOP = HERE.parent.parent


def _maker() -> Any:
    spec = importlib.util.spec_from_file_location("make_examples", HERE / "make_examples.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MAKER = _maker()

KEYS = {
    "check": ("rows_read", "rows_used", "rows_set_aside", "lines_skipped", "findings"),
    "wear": ("clock", "curves"),
    "life": ("rule", "lives"),
    "fit": ("law", "method", "criterion", "clock", "lives", "censored", "parameters", "tested_range", "published"),
    "compare": ("by", "groups", "contrasts"),
    "exposure": ("practices", "ratios", "matched", "unmatched"),
    "wall": ("profiles", "hang_up"),
    "decide": ("practices", "worth_of_more"),
    "plan": ("runs", "matched", "unmatched", "power", "seed"),
}
ROWS = {
    ("check", "findings"): "severity code file line cutter column found allowed hint",
    ("wear", "curves"): "cutter zone flute points rate low high level unit",
    ("life", "lives"): "cutter criterion zone clock life low high status cause bracket_low bracket_high",
    ("fit", "parameters"): "name estimate std_error low high level unbounded why_missing",
    ("compare", "groups"): "group cutters estimate",
    ("exposure", "practices"): "name removal_rate_cm3_min zones",
    ("wall", "hang_up"): "cutter part pin_mm height_mm predicted_mm",
    ("decide", "practices"): "group cost_per_cm3 cost_per_part low high chance_best expected_loss change_interval",
    ("compare", "contrasts"): "a b outcome criterion zone clock scale estimate low high level p_value method "
    "smallest_detectable equivalence verdict",
}


def _same(found: Any, expected: Any, where: str = "answer") -> None:
    if isinstance(expected, dict):
        assert isinstance(found, dict), where
        assert list(found) == list(expected), where
        for key in expected:
            _same(found[key], expected[key], f"{where}.{key}")
    elif isinstance(expected, list):
        assert len(found) == len(expected), where
        for at, (one, other) in enumerate(zip(found, expected, strict=True)):
            _same(one, other, f"{where}[{at}]")
    elif isinstance(expected, float) and isinstance(found, (int, float)):
        assert math.isclose(found, expected, rel_tol=1e-6, abs_tol=1e-12), where
    else:
        assert found == expected, where


@pytest.mark.parametrize("name", list(MAKER.EXAMPLES))
def test_answer_is_the_example(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(TOP)
    found = json.loads(MAKER.answer(MAKER.EXAMPLES[name]))
    _same(found, json.loads((HERE / f"{name}.json").read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", list(KEYS))
def test_example_has_the_published_keys(name: str) -> None:
    example = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))
    assert example["schema"] == f"wearlab.{name}/1"
    assert set(KEYS[name]) <= set(example)
    for (command, key), words in ROWS.items():
        if command == name:
            assert example[key], key
            assert set(words.split()) <= set(example[key][0]), key


def test_zones_of_an_exposure_have_the_published_keys() -> None:
    for name in ("exposure", "exposure_numbers"):
        example = json.loads((HERE / f"{name}.json").read_text(encoding="utf-8"))
        for practice in example["practices"]:
            for zone in practice["zones"]:
                assert {"zone", "contact_time_min_cm3", "sliding_m_cm3", "chip_mm3_mm_cm3"} <= set(zone)


def test_no_example_holds_an_infinity_or_a_nan() -> None:
    for path in HERE.glob("*.json"):
        assert "Infinity" not in path.read_text(encoding="utf-8"), path.name
        assert "NaN" not in path.read_text(encoding="utf-8"), path.name
