"""The same reading twice: words that mean the same, and numbers of readings that some rows lack."""

from __future__ import annotations


def codes(trial) -> list[tuple[int | None, str]]:
    return [(f.line, f.code) for f in trial.findings if f.severity == "error"]


def test_one_flute_spelled_two_ways_is_one_reading(log, read):
    trial = read(log.again(2, flute="F1"))
    assert codes(trial) == [(18, "duplicate_reading")]
    trial = read(log.again(2, flute="01", value="0.099"))
    assert codes(trial) == [(2, "conflicting_readings"), (18, "conflicting_readings")]


def test_a_number_that_another_cutter_lacks_changes_nothing(log, read):
    again = log.again(2, cutting_time_min="6", value="0.3")
    alone = codes(read(again))
    assert alone == [(2, "conflicting_readings"), (18, "conflicting_readings")]
    lacking = again.spoil(17, reading="")
    assert codes(read(lacking)) == alone


def test_where_numbers_are_lacking_the_clock_tells_readings_apart(log, read):
    trial = read(log.again(2, reading=""))
    assert codes(trial) == [(18, "duplicate_reading")]


def test_rows_that_are_all_set_aside_are_judged_by_every_rule(log, read):
    trial = read(log.everywhere(value="worn").spoil(3, unit="furlong", measure="VBB"))
    assert (3, "not_a_number") in codes(trial)
    assert (3, "unknown_measure") in codes(trial)
    assert trial.counts.rows_set_aside == 16
