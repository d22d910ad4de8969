"""Lives that can hardly be fitted, through the public commands: the right answer or a named reason, never a warning.

The test run turns every warning of ours, and every RuntimeWarning, into an error.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from wearlab.cli.main import run

Row = tuple[float, float, str]
Call = Callable[..., tuple[str, dict[str, Any]]]
SIX = [(100, 60), (100, 52), (130, 25), (130, 21), (160, 9), (160, 11)]


def worn(rows: list[tuple[float, float]], minute: float = 1.0) -> list[Row]:
    return [(speed, minute * minutes, "worn") for speed, minutes in rows]


@pytest.fixture
def command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Call:
    """Run a command on a log of ends: what it prints, and its JSON."""

    def call(name: str, rows: list[Row], *arguments: str) -> tuple[str, dict[str, Any]]:
        path = tmp_path / "log.csv"
        lines = ["cutter,cutting_speed_m_min,cutting_time_min,measure,end_reason"]
        lines += [f"E{at},{speed!r},{minutes!r},end,{reason}" for at, (speed, minutes, reason) in enumerate(rows, 1)]
        path.write_text("\n".join(lines) + "\n")
        outs = []
        for more in ([], ["--json"]):
            with pytest.raises(SystemExit) as stop:
                run([name, str(path), *arguments, *more])
            out, err = capsys.readouterr()
            assert "Traceback" not in out + err
            assert (stop.value.code or 0) == 0
            outs.append(" ".join((out + err).split()) if not more else out)
        return outs[0], json.loads(outs[1])

    return call


def constants(answer: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {one["name"]: one for one in answer["parameters"]}


REFUSED = {
    "one cutter": ([(100, 30, "worn")], "speed never varied: 100 m/min in every cutter"),
    "one speed": (worn([(100, 60), (100, 52), (100, 41)]), "speed never varied"),
    "all still good": ([(v, 30, "budget") for v in (100, 100, 130, 130)], "0 failures for 2 coefficients"),
    "one failure": ([(100, 60, "budget"), (130, 60, "budget"), (160, 30, "worn")], "1 failure for 2 coefficients"),
    "failures at one speed": (
        [(100, 60, "budget"), (130, 60, "budget"), (160, 30, "worn"), (160, 40, "worn"), (160, 33, "worn")],
        "the failures do not vary in it",
    ),
    "no time at all": ([(v, 0, "worn") for v in (100, 130, 160)], "no cutter has a life at this criterion"),
    "a perfect line and one still good": (
        [*worn([(v, 60 * (v / 100) ** -4) for v in (100, 110, 130, 160)]), (100, 60, "budget")],
        "the lives can be met without any scatter",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_named_reason(command: Call, case: str) -> None:
    rows, reason = REFUSED[case]
    screen, answer = command("fit", rows, "--judge")
    assert reason in screen
    assert reason in answer["refusal"]["reason"]
    assert answer["parameters"] == []
    lives = command("life", rows, "--clock", "min")[1]["lives"]
    assert len(lives) == len(rows)
    assert all(one["life"] is not None or one["why_missing"] for one in lives)


def test_two_speeds_one_life_each(command: Call) -> None:
    """By hand: n = ln 1.5 / ln 5, C = 100 * 60^n; nothing is left for an interval, and it says so."""
    screen, answer = command("fit", worn([(100, 60), (150, 12)]), "--judge", "--at", "cutting_speed=120")
    found = constants(answer)
    n = math.log(1.5) / math.log(5)
    assert found["n"]["estimate"] == pytest.approx(n, rel=1e-12)
    assert found["C"]["estimate"] == pytest.approx(100 * 60**n, rel=1e-12)
    assert all(one["low"] is None and one["high"] is None for one in answer["parameters"])
    assert "nothing is left to judge the scatter by" in screen
    assert answer["predictions"][0]["life"] == pytest.approx(60 * 1.2 ** (-1 / n), rel=1e-12)
    assert answer["next_cutter"][0]["why_missing"]


def test_all_lives_equal(command: Call) -> None:
    screen, answer = command("fit", worn([(v, 30) for v in (100, 100, 130, 130, 160, 160)]), "--judge")
    found = constants(answer)
    assert found["n"]["estimate"] is None
    assert "does not fall with speed" in found["n"]["why_missing"]
    assert "every life lies exactly on the equation" in screen
    assert all(one["low"] is None and one["high"] is None for one in answer["parameters"])


def test_a_perfect_line(command: Call) -> None:
    rows = worn([(v, 60 * (v / 100) ** -4) for v in (100, 110, 130, 140, 160, 170)])
    found = constants(command("fit", rows, "--judge")[1])
    assert [found[name]["estimate"] for name in ("n", "C", "v60")] == pytest.approx(
        [0.25, 100 * 60**0.25, 100], rel=1e-9
    )
    for one in found.values():
        assert (one["low"], one["high"], one["unbounded"]) == (None, None, "both")
        assert one["why_missing"] == "every life lies exactly on the equation: no scatter to judge by"


def test_a_life_of_no_time_is_left_out_by_name(command: Call) -> None:
    with_zero = constants(command("fit", [(100, 0, "worn"), *worn(SIX[1:])])[1])
    screen, _ = command("fit", [(100, 0, "worn"), *worn(SIX[1:])])
    assert "Left out: E1 (no use on this clock before the end)" in screen
    without = constants(command("fit", worn(SIX[1:]))[1])
    assert with_zero["n"]["estimate"] == pytest.approx(without["n"]["estimate"], rel=1e-12)


def test_life_that_rises_with_speed_has_no_exponent_under_any_law(command: Call) -> None:
    rising = worn([(speed, minutes) for (speed, _), (_, minutes) in zip(SIX, reversed(SIX), strict=True)])
    _, answer = command("fit", rising, "--judge")
    for one in answer["judgement"]["other_laws"]:
        assert (one["n"], one["low"], one["high"]) == (None, None, None)
        assert one["why_missing"] == "life does not fall with speed: no Taylor exponent"


def test_a_millionth_of_the_unit_changes_the_unit_alone(command: Call) -> None:
    """Lives a million times shorter: the same n and scatter, and C scaled by 10^-6n, with intervals to match."""
    usual, tiny = (constants(command("fit", worn(SIX, minute))[1]) for minute in (1.0, 1e-6))
    for name in ("n", "exponent_cutting_speed_m_min", "sigma"):
        for key in ("estimate", "low", "high"):
            assert tiny[name][key] == pytest.approx(usual[name][key], rel=1e-9)
    n = usual["n"]["estimate"]
    assert tiny["C"]["estimate"] == pytest.approx(usual["C"]["estimate"] * 1e-6**n, rel=1e-9)


def test_a_million_times_the_unit_is_no_life_of_a_cutter(command: Call) -> None:
    """Sixty million minutes: every row is set aside, and the refusal says where to look."""
    screen, answer = command("fit", worn(SIX, 1e6))
    assert "no row of the log can be used" in answer["refusal"]["reason"]
    assert "wearlab check" in screen


def test_lands_in_another_unit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same curves in mm and in um give the same lives and constants."""
    found = []
    for unit, factor in (("mm", 1.0), ("um", 1000.0)):
        rows = [
            f"{cutter},{speed},{t},VB,{factor * rate * t!r},{unit}"
            for cutter, speed, rate in (
                ("E1", 100, 0.005),
                ("E2", 130, 0.0145),
                ("E3", 160, 0.0328),
                ("E4", 130, 0.0139),
            )
            for t in (5, 10, 20, 40, 80)
        ]
        path = tmp_path / f"{unit}.csv"
        path.write_text("\n".join(["cutter,cutting_speed_m_min,cutting_time_min,measure,value,unit", *rows]) + "\n")
        with pytest.raises(SystemExit):
            run(["fit", str(path), "--criterion", "VB=0.3mm", "--json"])
        found.append(constants(json.loads(capsys.readouterr().out)))
    for name in ("n", "C", "v60", "sigma"):
        for key in ("estimate", "low", "high"):
            assert found[1][name][key] == pytest.approx(found[0][name][key], rel=1e-12)


def test_an_end_that_was_booked_is_no_crossing_in_doubt(command: Call) -> None:
    screen, answer = command("life", worn(SIX), "--clock", "min")
    assert answer["doubts"] == []
    assert "Doubts" not in screen
