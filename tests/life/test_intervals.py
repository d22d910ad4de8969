"""The interval of a life from the error of its readings."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from wearlab.cli.main import run
from wearlab.core.errors import ArgumentError
from wearlab.life.intervals import ReadingError, coarse_looks, life_intervals, reading_error, with_intervals
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.samples import sample_path
from wearlab.logbook.trial import Trial

HEADER = "cutter,teeth,cutting_time_min,measure,flute,repeat,value,unit,axial_depth_mm,feed_rate_mm_min\n"


def _log(rng: np.random.Generator, repeats: int = 1) -> str:
    """Four flutes, 0.010 mm a minute, a look every 5 minutes until 35, reading error 0.008 mm."""
    rows = [
        f"E1,4,{t},VB,{flute},{again},{0.010 * t + rng.normal(0, 0.008):.6f},mm,2,400"
        for t in range(5, 40, 5) for flute in (1, 2, 3, 4) for again in range(1, repeats + 1)
    ]  # fmt: skip
    return HEADER + "\n".join(rows) + "\n"


@pytest.fixture
def read(tmp_path: Path) -> Callable[[str], Trial]:
    from wearlab.logbook.read import read_log

    def call(text: str) -> Trial:
        path = tmp_path / "log.csv"
        path.write_text(text)
        return read_log(path)

    return call


def test_half_width_is_reading_error_over_slope(read: Callable[[str], Trial]) -> None:
    """By hand: no noise, limit half-way between two looks: s / b * sqrt(0.5), four flutes halve it."""
    rows = [f"E1,4,{t},VB,{flute},1,{0.01 * t!r},mm,2,400" for t in range(5, 40, 5) for flute in (1, 2, 3, 4)]
    trial = read(HEADER + "\n".join(rows) + "\n")
    lives = tool_lives(trial, [parse_criterion("VB=0.275mm")], ["cutting_time_min"])
    (found,) = life_intervals(trial, lives, ReadingError(0.008, 0.0, "given"))
    assert found.life == pytest.approx(27.5, rel=1e-12)
    assert found.std_error == pytest.approx(0.004 / 0.01 * math.sqrt(0.5), rel=1e-9)
    half = 1.959964 * found.std_error
    assert (found.low, found.high) == pytest.approx((27.5 - half, 27.5 + half), rel=1e-6)
    (shared,) = life_intervals(trial, lives, ReadingError(0.008, 0.003, "given"))
    assert shared.std_error == pytest.approx(0.005 / 0.01 * math.sqrt(0.5), rel=1e-9)
    worst = tool_lives(trial, [parse_criterion("VB.worst=0.275mm")], ["cutting_time_min"])
    assert life_intervals(trial, worst, ReadingError(0.008, 0.0, "given"))[0].std_error == pytest.approx(
        2 * found.std_error, rel=1e-9
    )


def test_another_clock_scales_the_interval(read: Callable[[str], Trial]) -> None:
    """2 mm x 400 mm/min is 0.8 cm3 per mm of width a minute."""
    trial = read(_log(np.random.default_rng(1)))
    criterion = parse_criterion("VB=0.275mm")
    lives = tool_lives(trial, [criterion], ["cutting_time_min", "cm3_per_mm"])
    minutes, volume = life_intervals(trial, lives, reading_error(trial))
    assert (volume.low, volume.high) == pytest.approx((0.8 * minutes.low, 0.8 * minutes.high), rel=1e-9)


def test_the_error_comes_from_the_best_that_is_there(read: Callable[[str], Trial]) -> None:
    assert reading_error(read(_log(np.random.default_rng(1)))).source.startswith("assumed")
    repeated = reading_error(read(_log(np.random.default_rng(2), repeats=3)))
    assert repeated.source == "from 56 repeated readings of the log"
    assert repeated.one_mm == pytest.approx(0.008, rel=0.3)
    given = reading_error(read(_log(np.random.default_rng(2), repeats=3)), 0.006, 0.002)
    assert (given.one_mm, given.common_mm, given.source) == (0.006, 0.002, "from the measurement study")
    with pytest.raises(ArgumentError, match="below 0"):
        reading_error(read(_log(np.random.default_rng(2))), -0.001)


def _equal_repeats(steps: dict[int, float]) -> str:
    """Two readings of each of four flutes a look that agree to the last digit, but for what `steps` adds by minute."""
    rows = [
        f"E1,4,{t},VB,{flute},{again},{0.01 * t + steps.get(t, 0.0) * (again == 2):.3f},mm,2,400"
        for t in range(5, 40, 5) for flute in (1, 2, 3, 4) for again in (1, 2)
    ]  # fmt: skip
    return HEADER + "\n".join(rows) + "\n"


def test_repeats_that_agree_do_not_make_a_life_certain(read: Callable[[str], Trial]) -> None:
    """By hand: looks 0.05 mm apart, so rounding to 50 um: 50 / root 12 um; a repeat that differs shows a finer step."""
    trial = read(_equal_repeats({}))
    error = reading_error(trial)
    assert error.one_mm == pytest.approx(0.05 / math.sqrt(12), rel=1e-9)
    assert error.source == (
        "rounding to 50 um, the log's smallest step: 28 repeated readings of the log agree to the last digit"
    )
    (life,) = life_intervals(trial, tool_lives(trial, [parse_criterion("VB=0.275mm")], ["cutting_time_min"]), error)
    assert life.std_error == pytest.approx(0.05 / math.sqrt(12) / 2 / 0.01 * math.sqrt(0.5), rel=1e-9)
    assert life.low < life.life < life.high
    study = reading_error(trial, 0.0, 0.002)
    assert (study.one_mm, study.common_mm) == (error.one_mm, 0.002)
    assert study.source.endswith("repeats of the measurement study agree to the last digit")
    assert reading_error(trial, 0.004).one_mm == 0.004


def test_the_smallest_step_is_that_of_the_readings(read: Callable[[str], Trial]) -> None:
    """By hand: four repeats of 28 differ by 1 um: root(4 x 0.5 / 28) = 0.267 um, below 1 / root 12 = 0.289 um."""
    few = reading_error(read(_equal_repeats({10: 0.001})))
    assert few.one_mm == pytest.approx(0.001 / math.sqrt(12), rel=1e-6)
    assert few.source.endswith("28 repeated readings of the log differ by less than the log can tell")
    more = reading_error(read(_equal_repeats({10: 0.001, 20: 0.001})))
    assert more.one_mm == pytest.approx(0.001 * math.sqrt(8 * 0.5 / 28), rel=1e-6)
    assert more.source == "from 28 repeated readings of the log"
    rows = [f"E1,4,{t},VB,1,{again},0.100,mm,2,400" for t in range(5, 40, 5) for again in (1, 2)]
    equal = reading_error(read(HEADER + "\n".join(rows) + "\n"))
    assert (equal.one_mm, equal.source) == (0.010, "assumed: no two readings of the log differ")


def test_a_curve_that_does_not_rise_is_named_so(read: Callable[[str], Trial]) -> None:
    """Five looks whose least-squares line falls, the last just past the limit."""
    lands = {10: 0.29, 20: 0.28, 30: 0.20, 40: 0.10, 50: 0.301}
    rows = [f"E1,4,{t},VB,1,1,{land},mm,2,400" for t, land in lands.items()]
    trial = read(HEADER + "\n".join(rows) + "\n")
    lives = tool_lives(trial, [parse_criterion("VB=0.3mm")], ["cutting_time_min"])
    (found,) = intervals = life_intervals(trial, lives, reading_error(trial))
    assert (found.low, found.high) == (0.0, math.inf)
    (doubt,) = coarse_looks(intervals)
    assert "do not rise" in doubt.text
    assert "bend" not in doubt.text


def test_coverage_from_the_log_to_the_interval(read: Callable[[str], Trial]) -> None:
    """30 made-up cutters of true life 27.5 min, error from their own repeats: 95 % intervals, at least 25 hold it."""
    held = 0
    for seed in range(30):
        trial = read(_log(np.random.default_rng(1000 + seed), repeats=2))
        lives = tool_lives(trial, [parse_criterion("VB=0.275mm")], ["cutting_time_min"])
        (found,) = life_intervals(trial, lives, reading_error(trial))
        held += found.low <= 27.5 <= found.high
    assert held >= 25


def test_what_has_no_interval_says_why() -> None:
    from wearlab.logbook.read import read_log

    trial = read_log(sample_path("shoulder_demo"))
    criteria = [parse_criterion("lower:VB=0.2mm"), parse_criterion("width@2mm=12.55mm"), parse_criterion("end")]
    lives = tool_lives(trial, criteria, ["cutting_time_min"])
    table = with_intervals(lives, life_intervals(trial, lives, reading_error(trial)))
    land = table[table["criterion"] == "lower:VB=0.2mm"]
    exact = land["status"] == "exact"
    assert land.loc[exact, "life_low"].notna().all()
    assert (land.loc[exact, "life_low"] < land.loc[exact, "life"]).all()
    assert land.loc[~exact, "why_no_interval"].str.startswith("no crossing between two readings").all()
    others = table[table["criterion"] != "lower:VB=0.2mm"]
    assert others["life_low"].isna().all()
    assert (others["why_no_interval"] != "").all()


def test_a_bend_between_two_looks_is_a_doubt() -> None:
    """Groover's coated carbide curve (data seen) at 155 m/min, looked at every 2 to 4 minutes."""
    from wearlab.logbook.read import read_log

    trial = read_log(sample_path("groover_coated"))
    lives = tool_lives(trial, [parse_criterion("VB=0.75mm")], ["cutting_time_min"])
    doubts = coarse_looks(life_intervals(trial, lives, ReadingError(0.004, 0.0, "given")))
    assert "look more often" in doubts[0].text


def test_the_command_with_a_study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rng = np.random.default_rng(4)
    rows = [
        f"{part},{person},{0.02 * part + rng.normal(0, 0.006):.5f},mm"
        for part in range(1, 11) for person in "abc" for _ in range(2)
    ]  # fmt: skip
    study = tmp_path / "study.csv"
    study.write_text("part,operator,value,unit\n" + "\n".join(rows) + "\n")
    log = str(sample_path("shoulder_demo"))
    outs = []
    for more in ([], ["--json"]):
        with pytest.raises(SystemExit):
            run(["life", log, "--criterion", "lower:VB=0.2mm", "--clock", "min", "--study", str(study), *more])
        outs.append(capsys.readouterr().out)
    assert max(map(len, outs[0].splitlines())) <= 80
    assert "from the measurement study" in " ".join(outs[0].split())
    answer = json.loads(outs[1])
    assert answer["reading_error"]["one_mm"] == pytest.approx(0.006, rel=0.35)
    first = answer["lives"][0]
    assert first["life_low"] < first["life"] < first["life_high"]
    assert first["level"] == 0.95
