"""Records in service against an adopted interval."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.decide import decide
from wearlab.decide.follow import FALSE_ALARMS, early_changes, follow
from wearlab.decide.follow_practice import follow_practice
from wearlab.decide.service import read_service, service_of
from wearlab.logbook.trial import Trial
from wearlab.stats.lives import Lives

LIVES = Lives([40, 47, 52, 55, 61, 66, 70, 78], [40, 47, 52, 55, 61, 66, 70, 78])


@pytest.mark.parametrize("changes", [1, 5, 10, 40, 200])
@pytest.mark.parametrize("promised", [0.02, 0.06, 0.2])
def test_the_alarm_is_falsely_heard_no_more_often_than_allowed(changes: int, promised: float) -> None:
    made = early_changes(changes, 0, promised)
    assert made.false_alarm == pytest.approx(binom.sf(made.alarm_from - 1, changes, promised), abs=1e-12)
    assert made.false_alarm <= FALSE_ALARMS
    # One failure fewer would already be heard too often: the alarm is as keen as it may be.
    assert binom.sf(made.alarm_from - 2, changes, promised) > FALSE_ALARMS


def test_false_alarms_in_simulated_reviews() -> None:
    rng = np.random.default_rng(2)
    made = early_changes(30, 0, 0.06)
    heard = np.mean(rng.binomial(30, 0.06, 100_000) >= made.alarm_from)
    assert heard == pytest.approx(made.false_alarm, abs=0.003)


def test_the_share_has_the_exact_interval() -> None:
    for k, n in ((0, 10), (3, 10), (10, 10)):
        limits, other = early_changes(n, k, 0.1).interval(), binomtest(k, n).proportion_ci(0.95)
        assert (limits.low, limits.high) == pytest.approx((other.low, other.high), abs=1e-9)


def test_bad_counts() -> None:
    with pytest.raises(ArgumentError, match="4 early of 3"):
        early_changes(3, 4, 0.1)
    with pytest.raises(ArgumentError, match="promised"):
        early_changes(3, 0, 0.0)


def records(make_log: Callable[..., Trial], ends: list[tuple[int, str]], **more: Any) -> Trial:
    rows = [
        # A cutter still in the spindle has no end: a row that only looked at the clock stands for it.
        {"cutter": f"M{i}", "parts": parts, "end_reason": reason, "cutting_time_min": 1.3 * parts}
        | ({} if reason else {"measure": "VB", "unit": "mm", "flute": "mean"})
        | more
        for i, (parts, reason) in enumerate(ends)
    ]
    return make_log(rows)


def test_reasons_become_failures_and_planned_changes(make_log: Callable[..., Trial]) -> None:
    ends = [(40, "budget"), (22, "worn"), (31, "chipped"), (12, "lost"), (45, "worn"), (9, "withdrawn")]
    log = records(make_log, ends)
    found = service_of(log, 40)
    assert found.ended["failed"].tolist() == [False, True, True, False, False]
    assert found.ended["reached"].tolist() == [True, False, False, True, False]
    assert found.left_out == (("M3", "lost or pulled out"),)


def test_a_good_record_holds_and_a_bad_one_is_heard(make_log: Callable[..., Trial]) -> None:
    good = follow(LIVES, records(make_log, [(35, "budget")] * 12), 35, 30.0, 150.0, rng=1)
    assert good.holds
    assert good.early.promised < 0.1
    bad = follow(LIVES, records(make_log, [(35, "budget")] * 6 + [(20, "worn")] * 6), 35, 30.0, 150.0, rng=1)
    assert bad.early.alarm
    assert not bad.holds


def test_lives_in_service_move_the_interval(make_log: Callable[..., Trial]) -> None:
    good = follow(LIVES, records(make_log, [(35, "budget")] * 12), 35, 30.0, 150.0, rng=1)
    worse = follow(LIVES, records(make_log, [(p, "worn") for p in (18, 20, 22, 24, 26, 30)]), 35, 30.0, 150.0, rng=1)
    assert good.again is not None
    assert worse.again is not None
    assert worse.own_level
    assert not good.own_level
    assert worse.again.parts < good.again.parts
    assert worse.again.parts < 22


def test_the_cutter_in_the_spindle_gets_a_forecast(make_log: Callable[..., Trial]) -> None:
    log = records(make_log, [(35, "budget")] * 5 + [(30, "")])
    found = follow(LIVES, log, 35, 30.0, 150.0, rng=1)
    (left,) = found.remaining
    assert left.cutter == "M5"
    assert left.to_interval == 5.0
    limits = left.interval()
    assert 0 < limits.low < left.median < limits.high
    assert left.chance_of_lasting(5.0) > 0.85


def test_expected_fractures_are_part_of_the_promise(make_log: Callable[..., Trial]) -> None:
    log = records(make_log, [(35, "budget")] * 5)
    a, b = (follow(LIVES, log, 35, 30.0, 150.0, fracture_share=f, rng=1).early.promised for f in (0.0, 0.1))
    assert b == pytest.approx(1 - (1 - a) * 0.9, rel=1e-9)


def test_a_tally_reads_as_the_log_that_it_stands_for(tmp_path: Path) -> None:
    tally = tmp_path / "tally.csv"
    tally.write_text("Cutter;parts;end_reason\nA;80;as planned\nB;41;worn\nC;12;\n", encoding="utf-8")
    short = service_of(read_service(tally), 80)
    rows = [("A", 80, "end", "", "budget"), ("B", 41, "end", "", "worn"), ("C", 12, "VB", "mm", "")]
    log = tmp_path / "log.csv"
    lines = [f"{cutter},{parts},{measure},,{unit},{why}" for cutter, parts, measure, unit, why in rows]
    log.write_text("cutter,parts,measure,value,unit,end_reason\n" + "\n".join(lines) + "\n", encoding="utf-8")
    whole = service_of(read_service(log), 80)
    assert short.ended.to_dict("list") == whole.ended.to_dict("list")
    assert short.running["cutter"].tolist() == whole.running["cutter"].tolist() == ["C"]


def test_findings_of_a_tally_name_the_lines_and_the_content_of_the_file(tmp_path: Path) -> None:
    """A comment and a blank line stand above the row at fault, which is line 5; SHA-256 by hashlib."""
    import hashlib

    tally = tmp_path / "tally.csv"
    tally.write_text("# spring\ncutter,parts,end_reason\nA,80,planned\n\nB,many,worn\n", encoding="utf-8")
    read = read_service(tally)
    assert [one.line for one in read.findings if "many" in one.found] == [5]
    (source,) = read.sources
    assert source.sha256 == hashlib.sha256(tally.read_bytes()).hexdigest()
    assert source.size == tally.stat().st_size


def test_a_log_without_parts_is_refused(make_log: Callable[..., Trial]) -> None:
    log = make_log([{"cutter": "M1", "parts": "", "cutting_time_min": 30}])
    with pytest.raises(Refusal, match="parts are not counted"):
        follow(LIVES, log, 35, 30.0, 150.0)


def test_another_practice_is_left_alone(make_log: Callable[..., Trial]) -> None:
    log = records(make_log, [(35, "budget")] * 3, strategy="side")
    with pytest.raises(Refusal, match="no cutter of layered"):
        follow(LIVES, log, 35, 30.0, 150.0, group="layered")
    assert follow(LIVES, log, 35, 30.0, 150.0, group="side", rng=1).early.changes == 3


class TestAfterTheInventedTrial:
    @pytest.fixture
    def trial(self, sample: Callable[[str], Trial]) -> Trial:
        return sample("shoulder_demo")

    def test_the_trial_held_against_itself(self, trial: Trial) -> None:
        """Its own cutters as records in service: all practices of one trial, limits from the same pins."""
        decision = decide(trial, draws=500, sensitivity=False)
        found = follow_practice(trial, decision, trial, "side", readings=("hang_up", 12.54), draws=500)
        assert found.interval_parts > 50
        assert found.early.changes == 6
        # E4 chipped at part 103, beyond the interval; E9 was withdrawn: nobody failed early.
        assert found.early.early == 0
        assert found.limits is not None
        # First, middle and last look at the witness slot of five cutters, and of one that was taken out early.
        assert found.read == len(
            trial.walls.query("measure == 'hang_up' and pin_mm == 12.54").merge(
                trial.facts().query("strategy == 'side'")[["cutter"]], on="cutter"
            )
        )
        assert found.band_false_alarm == pytest.approx(1 - 0.99**found.read)

    def test_an_unknown_practice_or_role(self, trial: Trial) -> None:
        decision = decide(trial, draws=200, sensitivity=False)
        with pytest.raises(ArgumentError, match="no practice 'plunge'"):
            follow_practice(trial, decision, trial, "plunge")
        with pytest.raises(ArgumentError, match="role 'finish'"):
            follow_practice(trial, decision, trial, "side", role="finish")

    def test_a_measure_that_service_does_not_hold_says_so(
        self, trial: Trial, make_log: Callable[..., Trial]
    ) -> None:
        log = records(make_log, [(80, "budget")] * 4, strategy="side")
        decision = decide(trial, draws=200, sensitivity=False)
        found = follow_practice(trial, decision, log, readings=("hang_up", 12.54), draws=300)
        assert "hold no hang_up" in found.why_no_limits
        assert math.isclose(found.band_false_alarm, 0.0)
