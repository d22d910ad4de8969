"""Rules that need the whole cutter: each doubt is raised where it belongs, and not without a reason."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from wearlab.logbook.cells import one_slip_apart
from wearlab.logbook.cutter_rules import folded_name
from wearlab.logbook.noise import reading_sd, slip_words
from wearlab.logbook.order import longest_rising
from wearlab.logbook.read import read_log


@pytest.fixture(scope="module")
def slips() -> ModuleType:
    spec = importlib.util.spec_from_file_location("slips", Path(__file__).with_name("slips.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["slips"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def big(slips):
    """A clean simulated log of six cutters."""
    return slips.clean_log(np.random.default_rng(5))


@pytest.fixture
def codes(tmp_path):
    """Read a big log and give its findings of one code."""

    def found(log, code):
        path = tmp_path / "big.csv"
        path.write_text(log.text(), encoding="utf-8")
        if log.settings:
            path.with_suffix(".toml").write_text(log.settings, encoding="utf-8")
        return [finding for finding in read_log(path).findings if finding.code == code]

    return found


def change(log, value=None, **where):
    """Change the values of the rows that match; `value` makes the new value from the old."""
    for at in log.where(**where):
        if log.rows[at]["value"]:
            log.rows[at]["value"] = f"{value(float(log.rows[at]['value'])):.4g}"
    return log


def test_a_clean_log_raises_no_doubt(slips, tmp_path):
    assert slips.false_alarms(10, 11, tmp_path) <= 1  # under 5 % of clean logs; 2 of 200 in the study


# ------------------------------------------------------------------ single readings


@pytest.mark.parametrize(
    ("factor", "words"),
    [(10, "10 times too large: did the decimal point slip?"), (0.1, "10 times too small"),
     (1 / 0.0254, "39.4 times too large: thou typed as mm?"), (1 / 25.4, "25.4 times too small: in typed as mm?")],
)  # fmt: skip
def test_a_slip_of_the_point_or_the_unit_is_named(factor, words, big, codes):
    change(big, lambda x: factor * x, cutter="E2", reading="2", zone="lower", flute="2")
    (finding,) = codes(big, "reading_out_of_line")
    assert (finding.severity, finding.cutter, finding.column) == ("warning", "E2", "value")
    assert finding.found.startswith("VB in zone lower of flute 2 is ")
    assert words in finding.text()
    assert not codes(big, "wear_falls")


def test_two_digits_exchanged_are_named(big, codes):
    (at,) = big.where(cutter="E2", reading="3", zone="lower", flute="2")
    assert big.rows[at]["value"] == "0.164"
    big.rows[at]["value"] = "0.614"
    (finding,) = codes(big, "reading_out_of_line")
    assert finding.hint == "two digits exchanged, 0.164?"


def test_a_single_series_without_sisters_is_judged_by_its_neighbours(read, one):
    rows = "".join(f"E1,{i},{5 * i},VB,{value},mm\n" for i, value in enumerate([0.05, 0.08, 1.1, 0.14, 0.17], 1))
    finding = one(read("cutter,reading,cutting_time_min,measure,value,unit\n" + rows), "reading_out_of_line")
    assert (finding.line, finding.hint) == (4, "10 times too large: did the decimal point slip?")


def test_a_chipped_flute_may_stand_out(big, codes):
    for at in big.where(cutter="E2", reading="7", zone="corner", flute="1"):
        big.rows[at] |= {"value": "2.5", "wear_form": "chipping"}
    assert not codes(big, "reading_out_of_line")


def test_a_land_wider_than_any_land_is_an_error(big, codes):
    change(big, lambda x: 1000 * x, cutter="E2", reading="5", zone="lower", flute="3")
    (finding,) = codes(big, "land_too_wide")
    assert finding.severity == "error"
    assert "typed in um? That would be" in finding.hint


# ------------------------------------------------------------------ whole looks


def test_a_new_cutter_under_an_old_name(big, codes):
    early = {(r["zone"], r["flute"], r["reading"]): r["value"] for r in big.rows if r["cutter"] == "E2"}
    for row in big.rows:
        if row["cutter"] == "E2" and row["value"] and int(row["reading"]) >= 5:
            row["value"] = early[(row["zone"], row["flute"], str(int(row["reading"]) - 4))]
    (finding,) = codes(big, "wear_falls_everywhere")
    assert finding.cutter == "E2"
    assert "from reading 5 on nearly all lands are lower" in finding.found
    assert "changed, re-ground or cleaned?" in finding.hint
    assert finding.rows == 16
    assert not codes(big, "wear_falls")
    assert not codes(big, "look_out_of_line")


def test_two_cutters_exchanged_at_one_look_are_named(big, codes):
    ours, theirs = (big.where(cutter=name, reading="5", measure="VB") for name in ("E1", "E4"))
    for a, b in zip(ours, theirs, strict=True):
        big.rows[a]["value"], big.rows[b]["value"] = big.rows[b]["value"], big.rows[a]["value"]
    found = codes(big, "look_out_of_line")
    assert {finding.cutter for finding in found} == {"E1", "E4"}
    assert all("reading 5 does not fit" in finding.found for finding in found)
    assert any("those of E4 at that look: were the two exchanged?" in finding.hint for finding in found)


def test_two_cutters_of_one_practice_exchanged_at_one_look_are_named(slips, read):
    log = slips.clean_log(np.random.default_rng(14))
    ours, theirs = (log.where(cutter=name, reading="5", measure="VB") for name in ("E1", "E3"))
    for a, b in zip(ours, theirs, strict=True):
        log.rows[a]["value"], log.rows[b]["value"] = log.rows[b]["value"], log.rows[a]["value"]
    found = {one.cutter: one for one in read(log.text()).findings if one.code == "look_out_of_line"}
    assert set(found) == {"E1", "E3"}
    assert "reading 5 does not fit" in found["E1"].text()
    assert found["E1"].hint == "its lands are those of E3 at that look: were the two exchanged?"
    assert found["E3"].hint == "its lands are those of E1 at that look: were the two exchanged?"


def last_looks(first: list[int], second: list[int]) -> str:
    """Two cutters of four flutes by their mean lands in um; the flutes lie a little apart."""
    rows = [
        f"{cutter},{5 * look},VB,lower,{flute},{land + 2 * flute},um,{look}"
        for cutter, lands in (("E1", first), ("E2", second))
        for look, land in enumerate(lands, start=1)
        for flute in range(1, 5)
    ]
    return "cutter,cutting_time_min,measure,zone,flute,value,unit,reading\n" + "\n".join(rows) + "\n"


def test_a_cutter_that_breaks_away_at_its_last_look_is_no_warning(read):
    """Both lands have grown, and nobody knows whether their difference turns back: a note, which says so."""
    found = read(last_looks([20, 80, 110, 135, 160, 190], [20, 50, 75, 100, 125, 225])).findings
    told = [one for one in found if one.code == "look_out_of_line"]
    assert [(one.cutter, one.severity) for one in told] == [("E1", "note"), ("E2", "note")]
    assert all("reading 6 does not fit the reading before it. " in one.text() for one in told)
    assert all("seen from one side alone: were the two exchanged?" in one.text() for one in told)


def test_an_exchange_at_the_last_look_that_wear_cannot_do_is_a_warning(read):
    found = read(last_looks([20, 65, 95, 120, 140, 160, 135], [20, 40, 60, 80, 100, 120, 180])).findings
    told = [one for one in found if one.code == "look_out_of_line"]
    assert [(one.cutter, one.severity) for one in told] == [("E1", "warning"), ("E2", "warning")]
    assert all("reading 7 does not fit the reading before it. " in one.text() for one in told)


def test_an_exchange_at_the_first_look(read):
    found = read(last_looks([60, 62, 82, 105], [20, 104, 124, 146])).findings
    told = [one for one in found if one.code == "look_out_of_line"]
    assert [(one.cutter, one.severity) for one in told] == [("E1", "note"), ("E2", "note")]
    assert all("reading 1 does not fit the reading after it. " in one.text() for one in told)


def test_one_land_alone_makes_no_exchange(slips, read):
    log = slips.clean_log(np.random.default_rng(8))
    (at,) = log.where(cutter="E1", reading="5", measure="VB", zone="lower", flute="2")
    log.rows[at]["value"] = f"{3.0 * float(log.rows[at]['value']):.3f}"
    assert "exchanged?" not in " ".join(one.text() for one in read(log.text()).findings if "lands" in one.hint)


def test_two_zones_exchanged_at_one_look_are_named(big, codes):
    lower, upper = (big.where(cutter="E1", reading="4", zone=zone) for zone in ("corner", "upper"))
    for a, b in zip(lower, upper, strict=True):
        big.rows[a]["value"], big.rows[b]["value"] = big.rows[b]["value"], big.rows[a]["value"]
    (finding,) = codes(big, "look_out_of_line")
    assert "were the zones corner and upper exchanged?" in finding.hint


def test_a_look_in_another_unit_is_named(big, codes):
    change(big, lambda x: 10 * x, cutter="E4", reading="4")
    (finding,) = codes(big, "look_out_of_line")
    assert "10 times too large" in finding.hint
    assert not codes(big, "reading_out_of_line")


def test_a_zone_that_falls(big, codes):
    change(big, lambda x: 0.6 * x, cutter="E2", reading="4", zone="lower")
    found = codes(big, "wear_falls")
    assert [finding.cutter for finding in found] == ["E2"]
    assert found[0].found.startswith("VB in zone lower falls from 0.")


def test_a_small_fall_is_a_note(read, one):
    rows = "".join(f"E1,{i},{5 * i},VB,{value},mm\n" for i, value in enumerate([0.05, 0.08, 0.075, 0.14], 1))
    finding = one(read("cutter,reading,cutting_time_min,measure,value,unit\n" + rows), "wear_falls_a_little")
    assert (finding.severity, finding.lines) == ("note", (4,))


def test_a_fall_compares_flutes_that_were_read_both_times(big, codes):
    worst = max(big.where(cutter="E2", reading="5", zone="lower"), key=lambda at: big.rows[at]["value"])
    del big.rows[worst]
    assert not codes(big, "wear_falls")


# ------------------------------------------------------------------ a whole cutter


@pytest.mark.parametrize(("factor", "words"), [(1 / 25.4, "in typed as mm?"), (0.1, "did the decimal point slip?")])
def test_a_whole_cutter_in_another_unit(factor, words, big, codes):
    for row in big.rows:
        if row["cutter"] == "E3" and row["value"]:
            row["value"] = f"{factor * float(row['value']):.4f}"
    (finding,) = codes(big, "whole_cutter_off")
    assert finding.cutter == "E3"
    assert "than those of E1 and E5" in finding.found
    assert words in finding.hint


def test_a_lone_cutter_that_ended_worn_with_next_to_no_land(read, one):
    rows = "".join(f"E1,{i},{5 * i},VB,{0.002 * i},mm,\n" for i in range(1, 5)) + "E1,4,20,end,,,worn\n"
    finding = one(read("cutter,reading,cutting_time_min,measure,value,unit,end_reason\n" + rows), "whole_cutter_off")
    assert "ended worn, but its widest last land is 0.008 mm" in finding.found
    assert "25.4 times too small" in finding.hint


def test_a_cutter_that_ended_worn_and_reads_zero_throughout(read, one):
    rows = "".join(f"E1,{5 * k},VB,0,mm,\n" for k in range(1, 4))
    trial = read("cutter,cutting_time_min,measure,value,unit,end_reason\n" + rows + "E1,20,VB,0,mm,worn\n")
    assert "the run ended worn, but its widest last land is 0 mm" in one(trial, "whole_cutter_off").text()


def test_cutters_at_other_speeds_are_no_sisters(big, codes):
    for row in big.rows:
        if row["cutter"] in ("E1", "E2"):
            row |= {"cutting_speed_m_min": "140", "spindle_rpm": "3714", "volume_cm3": ""}
            row["cutting_time_min"] = f"{float(row['cutting_time_min']) / 10:g}"
    assert not codes(big, "whole_cutter_off")


# ------------------------------------------------------------------ readings that were not taken


def test_a_copied_look(big, codes):
    for row in list(big.rows):
        if row["cutter"] == "E2" and row["reading"] == "5" and row["value"]:
            (same,) = big.where(cutter="E2", reading="4", zone=row["zone"], flute=row["flute"])
            row["value"] = big.rows[same]["value"]
    (finding,) = codes(big, "copied_reading")
    assert "reading 5 repeats every land of the reading before it" in finding.found


def test_a_look_filled_in_half_way(big, codes):
    for at in big.where(cutter="E2", reading="4", measure="VB"):
        row = big.rows[at]
        near = [big.where(cutter="E2", reading=r, zone=row["zone"], flute=row["flute"])[0] for r in ("3", "5")]
        row["value"] = f"{sum(float(big.rows[i]['value']) for i in near) / 2:.3f}"
    (finding,) = codes(big, "filled_in")
    assert "reading 4 lies exactly between" in finding.found


def test_a_mean_with_a_digit_more_was_worked_out(read, one):
    rows = "".join(f"E1,{i},{5 * i},VB,{value},mm\n" for i, value in enumerate(["0.05", "0.08", "0.095", "0.11"], 1))
    finding = one(read("cutter,reading,cutting_time_min,measure,value,unit\n" + rows), "filled_in")
    assert finding.line == 4
    assert "0.095 mm is the exact mean" in finding.found


# ------------------------------------------------------------------ one look against itself


def test_a_mean_above_the_greatest(log, read, one):
    finding = one(read(log.again(6, measure="VBmax", value="0.100")), "mean_above_max")
    assert finding.lines == (6, 18)
    assert "VB 0.164 mm on line 6 is above VBmax 0.1 mm of the same place on line 18" in finding.found


def test_a_stated_mean_must_fit_the_flutes(log, read, one):
    assert (
        "the mean of the flutes is 0.3 mm"
        in one(read(log.again(6, flute="mean", value="0.3")), "mean_outside_flutes").found
    )
    assert not [f for f in read(log.again(6, flute="mean", value="0.166")).findings if f.code == "mean_outside_flutes"]


def test_a_missing_flute(big, codes):
    (at,) = big.where(cutter="E2", reading="5", zone="lower", flute="3")
    del big.rows[at]
    (finding,) = codes(big, "flute_missing")
    assert finding.severity == "warning"
    assert finding.found == "missing: flute 3 of zone lower at reading 5"


def test_a_row_set_aside_is_not_missed_twice(big, codes):
    (at,) = big.where(cutter="E2", reading="5", zone="lower", flute="3")
    big.rows[at]["value"] = "x"
    assert not codes(big, "flute_missing")


def test_a_row_whose_cells_do_not_line_up_is_blamed_for_that_alone(log, read):
    lines = log.text().splitlines()
    lines[5] = lines[5].replace("0.05,3,", "0,05,3,")
    found = [finding for finding in read("\n".join(lines)).findings if finding.severity != "note"]
    assert [(finding.code, finding.line) for finding in found] == [("too_many_cells", 6)]


def test_flutes_read_in_turn_are_a_note(big, codes):
    big.rows[:] = [r for r in big.rows if not r["flute"] or int(r["flute"]) % 2 == int(r["reading"]) % 2]
    assert not codes(big, "flute_missing")
    assert {finding.severity for finding in codes(big, "flutes_vary")} == {"note"}


def test_worn_at_the_first_look(big, codes):
    big.settings = '[[criterion]]\ntext = "lower:VB.mean=0.05mm"\n'
    found = codes(big, "worn_at_first_look")
    assert found
    assert "lower:VB.mean=0.05mm is reached at the first reading" in found[0].found


# ------------------------------------------------------------------ conditions


def test_depth_and_width_exchanged(big, codes):
    for row in big.rows:
        if row["cutter"] == "E2":
            row["axial_depth_mm"], row["radial_width_mm"] = row["radial_width_mm"], row["axial_depth_mm"]
    (finding,) = codes(big, "depth_and_width_swapped")
    assert finding.cutter == "E2"
    assert "a side cut is narrow and deep" in finding.found
    assert "3 passes of 9 mm do not make the feature's width of 12 mm" in finding.found


def test_a_width_beyond_the_cutter(log, read, one):
    finding = one(read(log.everywhere(radial_width_mm="25")), "wider_than_the_cutter")
    assert "radial width 25 mm with a cutter of 12 mm" in finding.found
    assert "cutters E1 and E2" in finding.found


def test_a_depth_beyond_the_flutes(log, read, one):
    assert (
        "allowed: up to the flute length of 20 mm"
        in one(
            read(log.everywhere(axial_depth_mm="30", flute_length_mm="20", strategy="mixed")), "deeper_than_the_flutes"
        ).text()
    )


def test_one_practice_with_two_engagements_is_a_note(log, read, one):
    other = type(log)([row | ({"axial_depth_mm": "2"} if row["cutter"] == "E2" else {}) for row in log.rows])
    finding = one(read(other), "two_engagements")
    assert finding.severity == "note"
    assert "layered stands for 2 engagements: 2 deep and 12 wide and 3 deep and 12 wide" in finding.found


# ------------------------------------------------------------------ clocks and names


def test_minutes_of_each_pass_up_and_down(log, read):
    minutes = {"1": "5", "2": "6", "3": "4", "4": "5"}
    trial = read(type(log)([row | {"cutting_time_min": minutes[row["reading"]]} for row in log.rows]))
    found = [f for f in trial.findings if f.code == "clock_counts_each_pass"]
    assert len(found) == 16
    assert "the values of this cutter are up and down" in found[0].found
    assert "Added up it would be 5, 11, 15 and 20" in found[0].hint


def test_minutes_that_never_move(log, read):
    trial = read(log.everywhere(cutting_time_min="5"))
    assert {f.code for f in trial.findings if f.severity == "error"} == {"clock_counts_each_pass"}


def test_two_looks_at_the_same_minute(log, read, one):
    other = type(log)(
        [row | ({"cutting_time_min": "10"} if row["reading"] == "3" else {}) for row in log.only(*range(2, 10)).rows]
    )
    finding = one(read(other), "clock_stands_still")
    assert "one look of E1 at the same cutting_time_min" in finding.found
    assert finding.lines == (6, 7)


def test_an_end_row_at_the_last_minute_is_no_doubt(log, read):
    trial = read(log.again(9, measure="end", value="", unit="", zone="", flute="", end_reason="worn", reading=""))
    assert not [f for f in trial.findings if f.code in ("clock_stands_still", "reading_numbers_lack")]


def test_near_duplicate_names(log, read, one):
    other = type(log)([row | ({"cutter": "e-02"} if i > 12 else {}) for i, row in enumerate(log.rows)])
    assert "cutters E2 and e-02 may be one" in one(read(other), "near_duplicate_cutter").found


@pytest.mark.parametrize("name", ["1.00E+05", "2026-03-07", "2026-03-07 00:00:00", "7-Mar", "Mar-07"])
def test_names_that_a_spreadsheet_made(name, log, read, one):
    trial = read(log.everywhere(cutter=name).only(2, 4))
    assert f"cutter {name} looks like a name" in one(trial, "name_made_a_number").text()


def test_a_name_that_a_spreadsheet_made_a_number(log, read, one):
    assert "1E+05 looks like a name" in one(read(log.everywhere(cutter="1E+05").only(2, 4)), "name_made_a_number").found


@pytest.mark.parametrize(
    ("a", "b", "same"), [("E-07", "e7", True), ("E07 ", "E7", True), ("E7", "E70", False), ("#", "##", False)]
)
def test_names_that_fold_alike(a, b, same):
    assert (folded_name(a) == folded_name(b)) == same


def test_a_misspelt_own_word_is_a_doubt(log, read, one):
    assert "did you mean lower?" in one(read(log.spoil(4, zone="lowr")), "misspelt_word").hint
    assert one(read(log.everywhere(zone="rib foot")), "own_word").severity == "note"
    assert not one_slip_apart("TiN", "TiCN")


# ------------------------------------------------------------------ the yardsticks


def test_reading_error_adds_in_squares():
    assert reading_sd(0.0) == pytest.approx(0.006)
    assert reading_sd(0.2) == pytest.approx((0.008**2 + 0.006**2) ** 0.5)


@pytest.mark.parametrize("unit", ["um", "mm", "thou", "in"])
def test_every_unit_slip_is_named_at_its_exact_factor(unit):
    size = {"um": 1e-3, "mm": 1.0, "thou": 0.0254, "in": 25.4}  # exact by definition
    for other in size:
        if other != unit:
            assert f"{other} typed as {unit}" in slip_words(unit, size[unit] / size[other])
    assert slip_words(unit, 1.5) == ""


def test_the_fewest_readings_are_set_aside():
    rng = np.random.default_rng(3)
    for _ in range(60):
        values = rng.integers(0, 8, size=7).astype(float)
        kept = longest_rising(values)
        assert (np.diff(values[kept]) >= 0).all()
        best = max(bin(mask).count("1") for mask in range(128)
                   if (np.diff(values[[i for i in range(7) if mask >> i & 1]]) >= 0).all())  # fmt: skip
        assert kept.sum() == best


# ------------------------------------------------------------------ the study in small


@pytest.mark.parametrize(
    ("slip", "caught", "named"),
    [("ten_fold_up", 1.0, 0.95), ("ten_fold_down", 1.0, 0.95), ("thou_in_mm", 1.0, 0.95), ("um_in_mm", 1.0, 0.95),
     ("time_goes_back", 1.0, 0.95), ("duplicate", 1.0, 1.0), ("fresh_cutter", 1.0, 0.95),
     ("inch_in_mm_whole_cutter", 0.96, 0.95)],
)  # fmt: skip
def test_goals_of_the_study_on_a_few_logs(slip, caught, named, slips, tmp_path):
    # The rates over 200 logs stand in the contributor's guide; run `python tests/logbook/slips.py 200` for them.
    found = slips.study(slip, 6, 7, tmp_path)
    assert sum(one.caught for one in found) >= caught * len(found) - 1e-9
    assert sum(one.named for one in found) >= named * len(found) - 1
