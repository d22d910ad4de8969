"""`wearlab wear`: the curve that never falls, the rule and the reading error in the answer."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wearlab.cli.main import run

HEADER = "cutter,cutting_time_min,measure,flute,repeat,value,unit\n"


def answer(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> dict[str, object]:
    with pytest.raises(SystemExit) as stop:
        run(["wear", str(path), "--criterion", "VB=0.3mm", *more, "--json"])
    assert (stop.value.code or 0) == 0
    made: dict[str, object] = json.loads(capsys.readouterr().out)
    return made


def test_a_dip_is_averaged_out_and_the_readings_stay(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 0.14 and 0.12 pool to 0.13."""
    log = tmp_path / "log.csv"
    values = [0.10, 0.14, 0.12, 0.20]
    log.write_text(HEADER + "".join(f"E1,{10 * at},VB,,1,{value},mm\n" for at, value in enumerate(values, 1)))
    made = answer(log, capsys)
    points = made["curves"][0]["points"]  # type: ignore[index]
    assert [one["value"] for one in points] == values
    assert [one["monotone"] for one in points] == pytest.approx([0.10, 0.13, 0.13, 0.20], rel=1e-12)
    assert "after break-in, the first 10 % of the age" in str(made["rule"])
    assert made["reading_error"]["source"] == "assumed: no study, no repeats"  # type: ignore[index]


def test_repeats_tell_the_reading_error(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Pairs that differ by 0.02 mm: standard deviation 0.02 / root 2, pooled over them (by hand)."""
    log = tmp_path / "log.csv"
    log.write_text(
        HEADER + "".join(f"E1,{10 * at},VB,,{k},{0.03 * at + 0.02 * k:.3f},mm\n" for at in range(1, 7) for k in (1, 2))
    )
    made = answer(log, capsys)
    assert made["reading_error"]["one_mm"] == pytest.approx(0.02 / 2**0.5, rel=1e-9)  # type: ignore[index]
    assert made["reading_error"]["source"] == "from 6 repeated readings of the log"  # type: ignore[index]
