"""What is given twice must agree, and a gap is named after its factor."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.logbook.redundancy import FACTORS, factor_words, half_digit

# vc = pi D n / 1000 and vf = fz z n (ISO 3002-3, from memory): 12 mm and 1857 rev/min give 70.0 m/min;
# 0.05 mm x 2 teeth x 1857 rev/min give 185.7 mm/min; 3 x 12 x 185.7 / 1000 = 6.685 cm3/min.


def contradiction(trial):
    return [f for f in trial.findings if f.code == "contradiction"]


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"diameter_mm": "0.4724", "spindle_rpm": "1857"}, "cutting_speed_m_min", "25.4 (inches and mm)"),
        ({"cutting_speed_m_min": "230", "spindle_rpm": "1857"}, "cutting_speed_m_min", "3.28 (feet and metres)"),
        (
            {"cutting_speed_m_min": "1857", "spindle_rpm": "1857"},
            "cutting_speed_m_min",
            "rev/min in the column of the cutting speed",
        ),
        ({"cutting_speed_m_min": "700", "spindle_rpm": "1857"}, "cutting_speed_m_min", "10 (the decimal point)"),
        ({"spindle_rpm": "1857", "feed_rate_mm_min": "7.311"}, "feed_rate_mm_min", "25.4 (inches and mm)"),
        ({"spindle_rpm": "1857", "feed_rate_mm_min": "92.85"}, "feed_rate_mm_min", "2, the number of teeth"),
        ({"feed_per_rev_mm": "0.05"}, "feed_per_rev_mm", "feed per revolution in the column of the feed per tooth"),
        ({"feed_per_rev_mm": "0.2"}, "feed_per_rev_mm", "2, the number of teeth"),
        ({"feed_per_rev_mm": "0.13"}, "feed_per_rev_mm", "leave out the one that was only intended"),
    ],
)
def test_speeds_and_feeds_given_twice(cells, column, words, log, read):
    trial = read(log.everywhere(**cells))
    found = contradiction(trial)
    assert len(found) == 16
    assert found[0].column == column
    assert words in found[0].text()
    assert "allowed: within 10 % of each other" in found[0].text()
    assert trial.counts.rows_used == 0


def test_a_gap_of_a_few_per_cent_is_a_note(log, read, one):
    trial = read(log.only(*range(2, 10)).everywhere(spindle_rpm="1800"))
    finding = one(trial, "given_twice")
    assert finding.severity == "note"
    assert "cutting_speed_m_min 70, but pi D n gives 67.86: 3 % apart" in finding.found
    assert trial.counts.rows_used == 8


def test_what_agrees_is_not_mentioned(log, read):
    trial = read(log.everywhere(spindle_rpm="1857", feed_rate_mm_min="185.7", feed_per_rev_mm="0.1"))
    assert not [f for f in trial.findings if f.code in ("given_twice", "contradiction")]


def test_a_feed_per_minute_under_feed_per_tooth(log, read):
    found = [f for f in read(log.everywhere(feed_per_tooth_mm="371")).findings if f.code == "out_of_range"]
    assert "Is this the feed per minute, in the column of the feed per tooth?" in found[0].text()


# ------------------------------------------------------------------ clocks


def with_volume(log, factor=1.0, minutes=1.0):
    rows = []
    for row in log.rows:
        time = float(row["cutting_time_min"])
        cells = {
            "spindle_rpm": "1857",
            "volume_cm3": f"{6.6852 * time * factor:.2f}",
            "cutting_time_min": f"{time * minutes:g}",
        }
        rows.append(row | cells)
    return type(log)(rows)


def test_clocks_that_agree_are_not_mentioned(log, read):
    assert not [f for f in read(with_volume(log)).findings if f.code in ("clocks_disagree", "given_twice")]


@pytest.mark.parametrize(
    ("factor", "minutes", "severity", "words"),
    [
        (1.0, 60.0, "error", "60 (seconds and minutes)"),
        (0.1, 1.0, "error", "10 (the decimal point)"),
        (1000.0, 1.0, "error", "1000"),
        (1 / 16.387064, 1.0, "error", "16.4 (cubic inches and cm3)"),
        (1.0, 1.5, "warning", "Cycle time in the place of time in the metal?"),
        (5.0, 1.0, "warning", "Is a clock, the feed or the engagement wrong?"),
        (1.08, 1.0, "note", "7 % apart"),
    ],
)
def test_clocks_of_a_whole_cutter(factor, minutes, severity, words, log, read):
    trial = read(with_volume(log, factor, minutes))
    found = [f for f in trial.findings if f.code in ("clocks_disagree", "given_twice") and f.column == "volume_cm3"]
    assert {f.severity for f in found} == {severity}
    assert {f.cutter for f in found} == {"E1", "E2"}
    assert words in found[0].text()
    assert (trial.counts.rows_used == 0) == (severity == "error")


def test_one_look_whose_clocks_disagree(log, read):
    rows = with_volume(log).rows
    for row in rows:
        if row["cutter"] == "E1" and row["reading"] == "2":
            row["volume_cm3"] = "97"
    trial = read(type(log)(rows))
    found = [f for f in trial.findings if f.code == "clocks_disagree"]
    assert [f.line for f in found] == [4, 5]
    assert "10 min and volume_cm3 97 do not go together" in found[0].found
    assert trial.counts.rows_set_aside == 2


def test_rounding_is_no_gap(log, read):
    rows = []
    for row in log.rows:
        look = float(row["cutting_time_min"]) / 5
        rows.append(
            row | {"spindle_rpm": "1857", "volume_cm3": f"{0.3 * look:.1f}", "cutting_time_min": f"{0.045 * look:.2f}"}
        )
    assert not [f for f in read(type(log)(rows)).findings if f.code in ("clocks_disagree", "given_twice")]


def test_length_against_minutes(log, read):
    rows = [
        row | {"spindle_rpm": "1857", "cut_length_m": f"{0.1857 * float(row['cutting_time_min']) * 25.4:.3f}"}
        for row in log.rows
    ]
    found = [f for f in read(type(log)(rows)).findings if f.code == "clocks_disagree"]
    assert "25.4 (inches and mm)" in found[0].text()


# ------------------------------------------------------------------ passes, hardness, zones


def test_passes_and_feature(log, read):
    fits = log.everywhere(passes="3", feature_depth_mm="9")
    assert not [f for f in read(fits).findings if f.code == "passes_do_not_fit"]
    left = log.everywhere(passes="3", feature_depth_mm="10.2", allowance_floor_mm="1.2")
    assert not [f for f in read(left).findings if f.code == "passes_do_not_fit"]
    found = [
        f for f in read(log.everywhere(passes="3", feature_depth_mm="12")).findings if f.code == "passes_do_not_fit"
    ]
    assert [f.cutter for f in found] == ["E1", "E2"]
    assert found[0].severity == "warning"
    assert "3 passes of 3 mm do not make the depth of 12 mm" in found[0].found
    inches = read(log.everywhere(passes="3", feature_depth_mm="0.354"))
    assert "25.4 (inches and mm)" in next(f for f in inches.findings if f.code == "passes_do_not_fit").hint


def test_a_hardness_needs_its_scale(log, read, one):
    assert one(read(log.everywhere(hardness="29")), "hardness_without_scale").severity == "warning"
    finding = one(read(log.everywhere(hardness="290", hardness_scale="HRC")), "hardness_out_of_scale")
    assert "hardness 290 HRC; allowed: 15 to 72 HRC" in finding.text()
    assert not [f for f in read(log.everywhere(hardness="290", hardness_scale="HB")).findings if "hardness" in f.code]


def test_a_zone_begins_below_its_end(log, read, one):
    spoilt = log.everywhere(zone_from_mm="0", zone_to_mm="3").spoil(4, zone_from_mm="3", zone_to_mm="0")
    finding = one(read(spoilt), "zone_limits")
    assert (finding.severity, finding.line) == ("error", 4)
    assert "a zone from 3 to 0 mm" in finding.found


# ------------------------------------------------------------------ yardsticks


def test_factors_are_exact_where_a_definition_says_so():
    # The inch is 25.4 mm and the foot 0.3048 m by the international agreement of 1959.
    values = list(FACTORS.values())
    assert 25.4 in values
    assert any(math.isclose(value, 1 / 0.3048, rel_tol=1e-12) for value in values)
    assert any(math.isclose(value, 2.54**3, rel_tol=1e-12) for value in values)


@pytest.mark.parametrize("name", FACTORS)
def test_a_factor_is_named_both_ways_and_through_small_errors(name):
    for ratio in (FACTORS[name], 1 / FACTORS[name], 1.02 * FACTORS[name], 0.98 / FACTORS[name]):
        assert factor_words(ratio) == name
    assert factor_words(1.3 * FACTORS[name]) != name


def test_no_factor():
    assert factor_words(0.0) == factor_words(-1.0) == factor_words(float("nan")) == ""
    assert half_digit(0.0) == 0.0
    assert half_digit(1e22) == pytest.approx(0.5e-22)
    assert half_digit(np.float64(20.0)) == pytest.approx(0.5 / 20)
