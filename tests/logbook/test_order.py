"""The order of readings where the log does not number them."""

from __future__ import annotations

import pytest

PLACES = [("corner", "1"), ("corner", "2"), ("lower", "1"), ("lower", "2")]


def spread(log, places=PLACES):
    """Each look of the clean log read at several places."""
    rows = [{**row, "zone": zone, "flute": flute} for row in log.rows if row["flute"] == "1" for zone, flute in places]
    return type(log)(rows)


def by(log, *names):
    """The same rows sorted by these columns, as somebody sorts a sheet."""
    return type(log)(sorted(log.rows, key=lambda row: [float(row[n]) if n.endswith("min") else row[n] for n in names]))


@pytest.mark.parametrize(
    "keys",
    [
        ("cutter", "zone", "flute", "cutting_time_min"),
        ("cutter", "flute", "cutting_time_min", "zone"),
        ("cutter", "zone", "cutting_time_min", "flute"),
        ("zone", "cutter", "cutting_time_min", "flute"),
        ("zone", "flute", "cutting_time_min", "cutter"),
    ],
)
def test_a_log_sorted_by_zone_needs_no_reading_number(keys, log, read, one):
    told = read(spread(log), "told.csv")
    trial = read(by(spread(log), *keys).without("reading"))
    assert trial.counts.rows_set_aside == 0
    assert trial.wear["inspection"].tolist() == told.wear["inspection"].tolist()
    assert trial.wear["value_mm"].tolist() == told.wear["value_mm"].tolist()
    assert (
        "cutters E1 and E2 stand zone by zone and have no number: the clock gave the order"
        in one(trial, "ordered_by_clock").text()
    )


def test_a_log_that_stands_look_by_look_is_not_called_sorted(log, read):
    trial = read(spread(log).without("reading"))
    assert "ordered_by_clock" not in {finding.code for finding in trial.findings}
    assert trial.errors() == 0


def test_a_slip_of_the_clock_in_a_log_sorted_by_zone_costs_one_reading(log, read, one):
    rows = by(spread(log), "cutter", "zone", "flute", "cutting_time_min").without("reading")
    at = next(i for i, row in enumerate(rows.rows) if (row["zone"], row["cutting_time_min"]) == ("lower", "10"))
    trial = read(rows.spoil(at + 2, cutting_time_min="100"))
    finding = one(trial, "clock_differs_within_reading")
    assert finding.line == at + 2
    assert "is 100; allowed: 10, as in the other rows of this reading" in finding.text()
    assert trial.counts.rows_set_aside == 1


def test_a_slip_of_the_clock_in_a_log_look_by_look_costs_one_reading(log, read, one):
    rows = spread(log).without("reading")
    at = next(i for i, row in enumerate(rows.rows) if (row["zone"], row["cutting_time_min"]) == ("lower", "10"))
    trial = read(rows.spoil(at + 2, cutting_time_min="100"))
    assert one(trial, "time_goes_back").line == at + 2
    assert trial.counts.rows_set_aside == 1


def test_ends_without_a_clock_come_last(log, read):
    rows = by(spread(log), "cutter", "zone", "flute", "cutting_time_min").without("reading")
    blank = dict.fromkeys(("zone", "flute", "value", "unit"), "")
    last = {**rows.rows[0], **blank, "cutting_time_min": "20", "measure": "end", "end_reason": "worn"}
    trial = read(type(log)([last, *rows.rows]))
    assert trial.errors() == 0
    assert trial.runs["end_reason"].tolist() == ["worn", ""]
    assert trial.runs["cutting_time_min"].tolist() == [20, 20]
