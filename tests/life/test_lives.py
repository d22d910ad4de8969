"""Tool lives of a trial: published logs, statuses, ends, zones, flutes, walls, clocks."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.life.lives import EVENTS, tool_lives, trial_criteria
from wearlab.life.toollife import ToolLife
from wearlab.logbook.columns import END_REASONS
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.samples import sample_path
from wearlab.logbook.trial import Trial

Make = Callable[..., Trial]
Sample = Callable[[str], Trial]

NASA_LIVES_MIN = [
    29.333, 43.8, 59.4, 20.455, 6.2, None, 14.2, 6.0, 23.636, 23.727, 55.8, 40.5, 15.333, 10.636, 6.667, 4.125,
]  # fmt: skip
"""Cases 1 to 16 at VB 0.3 mm, first upward crossing: computed by another program from the published table."""


def look(cutter: str, minutes: float, measure: str, value: float | str, **more: Any) -> dict[str, Any]:
    """One row of a log, its look numbered by the clock."""
    row = {"cutter": cutter, "reading": int(minutes), "cutting_time_min": minutes, "measure": measure}
    return row | {"value": value, "unit": ""} | more


def wear(cutter: str, minutes: float, value: float | str, **more: Any) -> dict[str, Any]:
    return look(cutter, minutes, "VB", value, unit="mm") | more


def end(cutter: str, minutes: float, reason: str) -> dict[str, Any]:
    return look(cutter, minutes, "end", "", end_reason=reason)


def lives_of(trial: Trial, text: str, clock: str = "cutting_time_min") -> dict[str, ToolLife]:
    made = tool_lives(trial, [parse_criterion(text, trial.settings.response_directions())], [clock])
    return {life.cutter: life for life in made.lives}


def only(trial: Trial, text: str = "VB=0.3mm", clock: str = "cutting_time_min") -> ToolLife:
    (life,) = lives_of(trial, text, clock).values()
    return life


def read_nasa() -> dict[str, list[tuple[float, float]]]:
    """Measured rows of the published table, by a plain reader of our own."""
    rows: dict[str, list[tuple[float, float]]] = {}
    with Path(sample_path("nasa_milling")).open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["value"]:
                rows.setdefault(row["cutter"], []).append((float(row["cutting_time_min"]), float(row["value"])))
    return rows


class TestNasaMilling:
    """Milling Data Set, University of California, Berkeley / NASA Ames."""

    def test_lives_at_03_mm(self, sample: Sample) -> None:
        lives = lives_of(sample("nasa_milling"), "VB=0.3mm")
        assert list(lives) == [f"case{n:02}" for n in range(1, 17)]
        for life, expected in zip(lives.values(), NASA_LIVES_MIN, strict=True):
            if expected is None:
                assert (life.cutter, life.status) == ("case06", "none")
                assert math.isnan(life.life)
            else:
                assert life.status == "exact", life
                assert life.life == pytest.approx(expected, abs=5.1e-4)
                assert life.low == life.high == life.life
                assert life.cause == "worn"

    def test_brackets_are_the_neighbouring_readings_of_the_table(self, sample: Sample) -> None:
        for life in lives_of(sample("nasa_milling"), "VB=0.3mm").values():
            if life.status != "exact":
                continue
            rows = read_nasa()[life.cutter]
            times = [time for time, _ in rows]
            at = times.index(life.bracket_high)
            assert life.bracket_low == times[at - 1]
            assert rows[at - 1][1] < 0.3 <= rows[at][1]
            assert life.first_crossing == pytest.approx(
                np.interp(0.3, [rows[at - 1][1], rows[at][1]], [times[at - 1], times[at]]), rel=1e-12
            )

    def test_at_06_mm_six_are_never_reached(self, sample: Sample) -> None:
        lives = lives_of(sample("nasa_milling"), "VB=0.6mm").values()
        rows = read_nasa()
        never = {cutter for cutter, points in rows.items() if max(value for _, value in points) < 0.6}
        assert len(never) == 6
        for life in lives:
            assert (life.status in ("right", "none")) == (life.cutter in never)
            if life.status == "right":
                assert (life.low, life.high) == (rows[life.cutter][-1][0], math.inf)
                assert life.why_missing == "the limit was not reached"

    def test_looks_without_a_reading_are_never_filled_in(self, sample: Sample) -> None:
        # Case 2 was looked at without a reading at run 6; no bracket may end there.
        trial = sample("nasa_milling")
        blank = trial.wear[trial.wear["value_mm"].isna()]
        assert len(blank) == 21
        for limit in (0.1, 0.2, 0.3, 0.4, 0.5):
            for life in lives_of(trial, f"VB={limit}mm").values():
                times = set(blank[blank["cutter"] == life.cutter]["cutting_time_min"])
                measured = {time for time, _ in read_nasa()[life.cutter]}
                assert {life.bracket_low, life.bracket_high} & (times - measured) == set()

    def test_a_single_reading_gives_no_life_and_a_reason(self, sample: Sample) -> None:
        life = lives_of(sample("nasa_milling"), "VB=0.3mm")["case06"]
        assert life.why_missing
        assert life.status == "none"


def test_groover_coated_carbide(sample: Sample) -> None:
    """M. P. Groover, Fundamentals of Modern Manufacturing, 5th ed., problem in the tool-life chapter.

    Data seen on a web page; answers 20.4 and 10.0 min from memory.
    """
    lives = lives_of(sample("groover_coated"), "VB=0.75mm")
    slow, fast = lives.values()
    assert slow.life == pytest.approx(20 + 5 * (0.75 - 0.73) / (0.97 - 0.73), rel=1e-12)
    assert round(slow.life, 3) == 20.417
    assert fast.life == pytest.approx(10.0, rel=1e-12)
    assert (slow.bracket_low, slow.bracket_high, fast.bracket_low, fast.bracket_high) == (20, 25, 9, 11)


class TestStatus:
    def test_exact(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", 10, 0.2), wear("E1", 20, 0.4)]))
        assert (life.status, life.life, life.low, life.high, life.cause) == ("exact", 15.0, 15.0, 15.0, "worn")
        assert life.why_missing == ""

    def test_right(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", 10, 0.2), wear("E1", 20, 0.25)]))
        assert (life.status, life.low, life.high) == ("right", 20.0, math.inf)
        assert math.isnan(life.life)

    def test_left(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", 10, 0.35), wear("E1", 20, 0.4)]))
        assert (life.status, life.low, life.high, life.cause) == ("left", 0.0, 10.0, "worn")
        assert life.why_missing == "already past the limit at the first reading"

    def test_interval_where_the_log_only_says_still_good_or_past(self, trial_of: Make) -> None:
        toml = '[[response]]\nname = "gauge"\nunit = "go/no-go"\n'
        rows = [
            look(cutter, time, "gauge", value)
            for cutter, looks in {"E1": (0, 0, 1), "E2": (0, 0, 0), "E3": (1, 1, 1), "E4": (0, 1, 1)}.items()
            for time, value in zip((10, 20, 30), looks, strict=True)
        ]
        lives = lives_of(trial_of(rows, toml), "gauge=1")
        assert [(life.status, life.low, life.high) for life in lives.values()] == [
            ("interval", 20.0, 30.0), ("right", 30.0, math.inf), ("left", 0.0, 10.0), ("interval", 10.0, 20.0),
        ]  # fmt: skip
        assert all(math.isnan(life.life) for life in lives.values())

    def test_a_measured_response_is_interpolated(self, trial_of: Make) -> None:
        toml = '[[response]]\nname = "load"\nunit = "%"\n'
        toml += '[[response]]\nname = "shine"\nunit = "GU"\ndirection = "falls"\n'
        rows = [
            look("E1", time, name, value)
            for name, values in {"load": (40, 50, 70), "shine": (90, 70, 60)}.items()
            for time, value in zip((10, 20, 30), values, strict=True)
        ]
        trial = trial_of(rows, toml)
        assert only(trial, "load=60").life == pytest.approx(25.0)
        assert only(trial, "shine=65").life == pytest.approx(25.0)

    def test_never_read(self, trial_of: Make) -> None:
        lives = lives_of(trial_of([wear("E1", 10, 0.4), end("E2", 30, "worn")]), "VB=0.3mm")
        assert (lives["E2"].status, lives["E2"].why_missing) == ("none", "no reading of this measure")

    @pytest.mark.parametrize(
        ("readings", "why"),
        [
            ([(0, 0.1)], "no reading after use began"),
            ([(0, 0.35)], "past the limit before any use"),
            ([(0, 0.35), (10, 0.4)], "past the limit before any use"),
            ([(0, 0.1), (0, 0.4)], "past the limit before any use"),
        ],
    )
    def test_no_use_no_life(self, trial_of: Make, readings: list[tuple[float, float]], why: str) -> None:
        rows = [wear("E1", time, value, reading=at) for at, (time, value) in enumerate(readings)]
        life = only(trial_of(rows))
        assert (life.status, life.why_missing) == ("none", why)
        assert math.isnan(life.low)
        assert math.isnan(life.high)

    def test_a_limit_passed_and_lost_again_is_said(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", t, v) for t, v in [(10, 0.1), (20, 0.35), (30, 0.1), (40, 0.2)]]))
        assert (life.status, life.low) == ("right", 40.0)
        assert "fell back" in life.why_missing
        assert life.first_crossing == pytest.approx(18.0)

    def test_readings_in_any_order_of_the_file(self, trial_of: Make) -> None:
        rows = [wear("E1", t, v, reading=n) for n, (t, v) in enumerate([(10, 0.1), (20, 0.2), (30, 0.4)])]
        assert only(trial_of(rows[::-1])).life == only(trial_of(rows)).life == pytest.approx(25.0)


class TestEnds:
    """An end is an event for the criterion `end` only."""

    @pytest.mark.parametrize("reason", END_REASONS)
    def test_a_measured_criterion_is_censored_at_the_last_reading_whatever_the_end(
        self, trial_of: Make, reason: str
    ) -> None:
        life = only(trial_of([wear("E1", 10, 0.1), wear("E1", 20, 0.2), end("E1", 33, reason)]))
        assert (life.status, life.low, life.high) == ("right", 20.0, math.inf)
        assert life.cause == reason

    @pytest.mark.parametrize("reason", END_REASONS)
    def test_the_end_criterion(self, trial_of: Make, reason: str) -> None:
        life = only(trial_of([wear("E1", 10, 0.1), end("E1", 33, reason)]), "end")
        if reason in ("worn", "size"):
            assert (life.status, life.life, life.low, life.high, life.cause) == ("exact", 33.0, 33.0, 33.0, "worn")
        else:
            cause = "fracture" if reason in ("chipped", "broken") else reason
            assert (life.status, life.low, life.high, life.cause) == ("right", 33.0, math.inf, cause)
            assert math.isnan(life.life)
            assert life.why_missing

    def test_every_reason_has_a_meaning(self) -> None:
        assert set(EVENTS) == {"worn", "size", "chipped", "broken"}
        assert set(EVENTS) < set(END_REASONS)

    def test_a_fracture_does_not_undo_a_life_that_was_over(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", 10, 0.2), wear("E1", 20, 0.4), end("E1", 33, "broken")]))
        assert (life.status, life.life, life.cause) == ("exact", 15.0, "worn")

    def test_an_end_without_a_reason_or_without_use_is_no_life(self, trial_of: Make) -> None:
        lives = lives_of(trial_of([wear("E1", 10, 0.1), end("E2", 0, "worn")]), "end")
        assert (lives["E1"].status, lives["E1"].why_missing) == ("none", "the log does not say why this run ended")
        assert (lives["E2"].status, lives["E2"].why_missing) == ("none", "no use on this clock before the end")

    def test_the_reason_may_stand_on_the_last_reading(self, trial_of: Make) -> None:
        life = only(trial_of([wear("E1", 10, 0.1), wear("E1", 20, 0.2, end_reason="worn")]), "end")
        assert (life.status, life.life) == ("exact", 20.0)


class TestZonesAndFlutes:
    def test_no_zone_named_is_the_worst_zone_and_never_a_mean(self, trial_of: Make) -> None:
        # Lower passes at 15 min, upper stays low: a mean over zones would not be there at 20 min.
        rows = [wear("E1", t, v, zone=z) for z, lands in {"lower": (0.2, 0.4), "upper": (0.02, 0.04)}.items()
                for t, v in zip((10, 20), lands, strict=True)]  # fmt: skip
        trial = trial_of(rows)
        life = only(trial)
        assert (life.status, life.life, life.zone) == ("exact", 15.0, "lower")
        assert only(trial, "upper:VB=0.3mm").status == "right"
        assert only(trial, "lower:VB=0.3mm").life == 15.0

    def test_the_worst_zone_may_change_from_look_to_look(self, trial_of: Make) -> None:
        by_zone = {"corner": (0.20, 0.22, 0.24), "lower": (0.1, 0.2, 0.36)}
        rows = [
            wear("E1", t, v, zone=z) for z, lands in by_zone.items() for t, v in zip((10, 20, 30), lands, strict=True)
        ]
        life = only(trial_of(rows))
        assert life.life == pytest.approx(20 + 10 * (0.30 - 0.22) / (0.36 - 0.22))
        assert life.zone == "lower"

    def test_mean_and_worst_of_the_flutes(self, trial_of: Make) -> None:
        rows = [wear("E1", t, v, flute=f) for f, lands in {1: (0.1, 0.3), 2: (0.3, 0.5)}.items()
                for t, v in zip((10, 20), lands, strict=True)]  # fmt: skip
        trial = trial_of(rows)
        assert only(trial, "VB.mean=0.3mm").life == pytest.approx(15.0)
        assert only(trial, "VB.worst=0.4mm").life == pytest.approx(15.0)
        assert only(trial, "VB.worst=0.3mm").status == "left"

    def test_single_flutes_win_over_a_mean_row(self, trial_of: Make) -> None:
        rows = [wear("E1", t, v, flute=f) for f, lands in {1: (0.1, 0.3), 2: (0.3, 0.5), "mean": (0.5, 0.9)}.items()
                for t, v in zip((10, 20), lands, strict=True)]  # fmt: skip
        assert only(trial_of(rows), "VB.mean=0.3mm").life == pytest.approx(15.0)

    def test_a_mean_row_says_nothing_of_the_worst_flute(self, trial_of: Make) -> None:
        trial = trial_of([wear("E1", 10, 0.2, flute="mean"), wear("E1", 20, 0.4, flute="mean")])
        assert only(trial, "VB.mean=0.3mm").life == 15.0
        assert only(trial, "VB.worst=0.3mm").status == "none"

    def test_a_zone_that_was_never_read_is_named(self, trial_of: Make) -> None:
        trial = trial_of([wear("E1", 10, 0.2, zone="lower")])
        with pytest.raises(ArgumentError, match=r"no reading in zone 'lowr'.*Did you mean lower"):
            lives_of(trial, "lowr:VB=0.3mm")
        with pytest.raises(ArgumentError, match="no reading of corner; allowed: VB"):
            lives_of(trial, "corner=0.3mm")


def wall(time: float, value: float, measure: str = "width", **more: Any) -> dict[str, Any]:
    return look("E1", time, measure, value, unit="mm") | more


class TestWalls:
    def test_a_width_falls_to_its_limit(self, trial_of: Make) -> None:
        rows = [wall(t, v, height_mm=2) for t, v in [(10, 12.01), (20, 11.99), (30, 11.97)]]
        life = only(trial_of(rows), "width@2mm=11.98mm")
        assert (life.status, life.life) == ("exact", pytest.approx(25.0))
        assert only(trial_of(rows), "width@2mm=11.90mm").status == "right"
        assert only(trial_of(rows), "width@2mm=12.02mm").status == "left"

    def test_without_a_height_the_narrowest_counts(self, trial_of: Make) -> None:
        rows = [wall(t, v, height_mm=h) for h, widths in {2: (12.0, 11.96), 8: (12.02, 12.0)}.items()
                for t, v in zip((10, 20), widths, strict=True)]  # fmt: skip
        assert only(trial_of(rows), "width=11.98mm").life == pytest.approx(15.0)
        assert only(trial_of(rows), "width@8mm=11.98mm").status == "right"

    def test_a_height_that_was_not_measured_is_named(self, trial_of: Make) -> None:
        with pytest.raises(ArgumentError, match=r"no reading at height 3 mm; allowed: 2 mm"):
            only(trial_of([wall(10, 12.0, height_mm=2)]), "width@3mm=11.98mm")

    @pytest.mark.parametrize("sign", [1, -1])
    def test_a_wall_may_leave_its_tolerance_on_either_side(self, trial_of: Make, sign: int) -> None:
        rows = [wall(t, sign * v, "wall", height_mm=2, side="left") for t, v in [(10, 0.01), (20, 0.03), (30, 0.05)]]
        assert only(trial_of(rows), "wall=0.04mm").life == pytest.approx(25.0)

    def test_two_walls_of_opposite_sign_do_not_cancel(self, trial_of: Make) -> None:
        rows = [
            wall(t, v, "wall", height_mm=2, side=side)
            for side, t, v in [("left", 10, 0.01), ("left", 20, 0.05), ("right", 10, -0.01), ("right", 20, -0.05)]
        ]
        assert only(trial_of(rows), "wall=0.03mm").life == pytest.approx(15.0)

    def test_a_pin_that_hangs_up(self, trial_of: Make) -> None:
        rows = [wall(t, v, "hang_up", pin_mm=12) for t, v in [(10, 0.0), (20, 0.5), (30, 1.5)]]
        assert only(trial_of(rows), "hang_up=1mm").life == pytest.approx(25.0)

    def test_inches_are_the_same_life(self, trial_of: Make) -> None:
        mm = only(trial_of([wall(t, v, height_mm=2) for t, v in [(10, 12.0), (20, 11.96)]]), "width=11.98mm")
        rows = [wall(t, v / 25.4, height_mm=2, unit="in") for t, v in [(10, 12.0), (20, 11.96)]]
        assert only(trial_of(rows), "width=11.98mm").life == pytest.approx(mm.life)


CONDITION = {"diameter_mm": 12, "teeth": 4, "spindle_rpm": 2000, "feed_per_tooth_mm": 0.05, "axial_depth_mm": 3,
             "radial_width_mm": 12}  # fmt: skip


class TestClocks:
    def test_every_clock_tells_the_same_life(self, trial_of: Make) -> None:
        # 2000 x 4 x 0.05 = 400 mm/min, times 3 x 12 mm2 = 14.4 cm3/min, 0.4 m/min.
        rows = [wear("E1", t, v, parts=p, **CONDITION) for t, v, p in [(10, 0.1, 5), (20, 0.2, 10), (30, 0.4, 15)]]
        trial = trial_of(rows)
        assert trial.clocks() == ["cutting_time_min", "volume_cm3", "parts", "cut_length_m"]
        lives = {clock: only(trial, clock=clock) for clock in trial.clocks()}
        assert lives["cutting_time_min"].life == pytest.approx(25.0)
        assert lives["volume_cm3"].life == pytest.approx(25 * 14.4)
        assert lives["cut_length_m"].life == pytest.approx(25 * 0.4)
        assert lives["parts"].life == pytest.approx(12.5)
        assert lives["volume_cm3"].bracket_high == pytest.approx(30 * 14.4)

    def test_all_clocks_by_default_and_an_unknown_one_refused(self, trial_of: Make) -> None:
        trial = trial_of([wear("E1", 10, 0.2), wear("E1", 20, 0.4)])
        assert {life.clock for life in tool_lives(trial).lives} == {"cutting_time_min"}
        with pytest.raises(Refusal, match="does not hold the clock parts; allowed: cutting_time_min"):
            tool_lives(trial, clocks=["parts"])

    def test_a_clock_that_one_cutter_lacks(self, trial_of: Make) -> None:
        rows = [wear("E1", 10, 0.2, parts=1), wear("E1", 20, 0.4, parts=2), wear("E2", 10, 0.2), wear("E2", 20, 0.4)]
        lives = lives_of(trial_of(rows), "VB=0.3mm", "parts")
        assert (lives["E1"].life, lives["E2"].status) == (1.5, "none")


class TestCriteria:
    def test_without_any_the_standards_pair(self, sample: Sample) -> None:
        """ISO 8688-2:1989 clause 7.4, 0.3 mm mean and 0.5 mm on any tooth (from memory)."""
        criteria, how = trial_criteria(sample("nasa_milling"))
        assert [(c.measure, c.statistic, c.limit) for c in criteria] == [("VB", "mean", 0.3), ("VB", "worst", 0.5)]
        assert "ISO 8688-2" in how
        assert not any(c.planned for c in criteria)

    def test_without_a_land_the_end(self, sample: Sample) -> None:
        criteria, _ = trial_criteria(sample("taylor_T01"))
        assert [c.text for c in criteria] == ["end"]

    def test_those_of_the_trial_file_and_their_names(self, trial_of: Make) -> None:
        toml = '[[criterion]]\nname = "roughing"\ntext = "lower:VB=0.2mm"\n'
        trial = trial_of([wear("E1", 10, 0.1, zone="lower"), wear("E1", 20, 0.4, zone="lower")], toml)
        (planned,) = trial_criteria(trial)[0]
        assert (planned.text, planned.name, planned.planned) == ("lower:VB=0.2mm", "roughing", True)
        assert trial_criteria(trial, ["roughing"])[0] == (planned,)
        assert trial_criteria(trial, ["lower:VB=0.2mm"])[0] == (planned,)
        assert not trial_criteria(trial, ["VB=0.2mm"])[0][0].planned

    def test_several_side_by_side(self, sample: Sample) -> None:
        criteria = [parse_criterion("VB=0.3mm"), parse_criterion("VB=0.6mm")]
        lives = tool_lives(sample("nasa_milling"), criteria, ["cutting_time_min"])
        assert len(lives.lives) == 32
        assert len(lives.select(criteria[1], "cutting_time_min")) == 16
        both = lives.to_frame().pivot(index="cutter", columns="criterion", values="low").dropna()
        assert len(both) == 15
        assert (both["VB=0.6mm"] >= both["VB=0.3mm"]).all()

    def test_a_log_of_which_nothing_can_be_used_is_refused(self, trial_of: Make) -> None:
        trial = trial_of([wear("E1", 10, "much")], aside=1)
        with pytest.raises(Refusal, match="no row of the log can be used"):
            tool_lives(trial)


class TestRecord:
    def test_frame_and_json(self, sample: Sample) -> None:
        lives = tool_lives(sample("nasa_milling"), [parse_criterion("VB=0.6mm")], ["cutting_time_min"])
        frame = lives.to_frame()
        assert list(frame.columns) == list(ToolLife.__dataclass_fields__)
        assert frame["low"].dtype.kind == "f"
        facts = lives.to_dict()
        text = json.dumps(facts, allow_nan=False)
        assert "isotonic" in facts["rule"]
        right = next(life for life in json.loads(text)["lives"] if life["status"] == "right")
        assert right["high"] is None
        assert right["life"] is None
        assert repr(lives) == "<ToolLives: 1 criterion, 1 clock; 10 exact, 5 right, 1 none>"


def shuffled(trial: Trial, rng: np.random.Generator) -> Trial:
    return replace(trial, wear=trial.wear.sample(frac=1.0, random_state=rng).reset_index(drop=True))


@pytest.mark.parametrize("factor", [1e-6, 60.0, 1e6])
def test_the_unit_of_the_clock_scales_the_lives(sample: Sample, factor: float) -> None:
    trial = sample("nasa_milling")
    other = replace(
        trial,
        wear=trial.wear.assign(cutting_time_min=trial.wear["cutting_time_min"] * factor),
        runs=trial.runs.assign(cutting_time_min=trial.runs["cutting_time_min"] * factor),
    )
    for text in ("VB=0.3mm", "VB=0.6mm"):
        one, two = lives_of(trial, text), lives_of(other, text)
        for cutter in one:
            assert two[cutter].status == one[cutter].status
            for name in ("life", "low", "high", "bracket_low", "bracket_high"):
                expected = getattr(one[cutter], name) * factor
                assert getattr(two[cutter], name) == pytest.approx(expected, rel=1e-12, nan_ok=True)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_order_of_the_rows_does_not_matter(sample: Sample, seed: int) -> None:
    trial = sample("shoulder_demo")
    mixed = shuffled(trial, np.random.default_rng(seed))
    criteria = [parse_criterion("lower:VB=0.2mm"), parse_criterion("VB.worst=0.3mm")]
    one, two = (tool_lives(t, criteria).to_frame() for t in (trial, mixed))
    pd.testing.assert_frame_equal(one, two, rtol=1e-12)
