"""The simulated log speaks the columns of the log, and its rows follow from the course."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pandas as pd
import pytest

from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES, with_scope
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.trial import SimulatedTrial, simulate_trial


@pytest.fixture(scope="module")
def trial() -> SimulatedTrial:
    return simulate_trial(shoulder_spec(), 5)


@pytest.fixture(scope="module")
def rows(trial: SimulatedTrial) -> pd.DataFrame:
    return trial.rows


def test_columns_are_those_of_the_log_in_its_order(rows: pd.DataFrame) -> None:
    names = list(rows.columns)
    assert names == [name for name in COLUMNS if name in names]
    assert set(rows["measure"]) == {"VB", "chip", "width", "wall", "hang_up", "end"}


def test_every_required_and_expected_column_is_filled(rows: pd.DataFrame) -> None:
    wear = rows[rows["measure"] == "VB"]
    for column in COLUMNS.values():
        if column.need not in ("required", "expected"):
            continue
        assert column.name in rows.columns
        cells = wear[column.name]
        blank = cells.isna() | (cells == "")
        assert blank.sum() == (1 if column.name == "value" else 0)  # the chipped corner
    for clock in ("cutting_time_min", "volume_cm3", "parts"):
        assert rows[clock].notna().all()


def test_cells_keep_the_limits_of_the_dictionary(rows: pd.DataFrame) -> None:
    for name in rows.columns:
        column, cells = COLUMNS[name], rows[name]
        if column.numeric:
            filled = cells.dropna()
            assert column.low is None or (filled >= column.low).all()
            assert column.high is None or (filled <= column.high).all()
        elif column.choices:
            assert set(cells) <= {"", *column.choices}
    for name, measure in MEASURES.items():
        own = rows[rows["measure"] == name]
        for need in measure.needs:
            assert ((own[need] != "") & own[need].notna()).all()


def test_facts_of_a_cutter_are_the_same_in_all_its_rows(rows: pd.DataFrame) -> None:
    names = [
        column.name for column in with_scope("cutter", "run", "condition") if column.name in rows.columns
    ]
    assert (rows.groupby("cutter")[names].nunique() <= 1).all(axis=None)


def test_design(rows: pd.DataFrame) -> None:
    runs = rows.drop_duplicates("cutter").set_index("run_order").sort_index()
    assert runs.index.tolist() == list(range(1, 22))
    assert runs["cutter"].tolist() == [f"E{i}" for i in range(1, 22)]
    assert runs["block"].astype(int).is_monotonic_increasing
    main = runs[runs["cutting_speed_m_min"] == 70]
    assert (
        main.groupby("block")["strategy"].agg(lambda s: sorted(set(s))).tolist() == [["layered", "side"]] * 6
    )
    speeds = runs[runs["cutting_speed_m_min"] != 70]
    assert set(speeds["strategy"]) == {"layered"}
    assert speeds["cutting_speed_m_min"].value_counts().to_dict() == {55: 3, 85: 3, 105: 3}
    assert speeds.groupby("block")["cutting_speed_m_min"].nunique().tolist() == [3, 3, 3]


def test_order_within_blocks_is_random() -> None:
    first = [
        simulate_trial(shoulder_spec(), seed)
        .rows.drop_duplicates("cutter")
        .groupby("block")["strategy"]
        .first()
        for seed in range(60)
    ]
    share = np.mean([(found.loc[[str(b) for b in range(1, 7)]] == "layered").mean() for found in first])
    assert share == pytest.approx(0.5, abs=4 * 0.5 / math.sqrt(360))


def test_clocks_agree_with_each_other(rows: pd.DataFrame) -> None:
    # 12 x 9 x 100 mm is 10.8 cm3; at 70 m/min, 0.05 mm a tooth, 36 mm2 the removal rate is 13.369 cm3/min.
    rate = 36 * 0.05 * 4 * 1000 / (math.pi * 12) / 1000
    assert rows["volume_cm3"].to_numpy() == pytest.approx(10.8 * rows["parts"].to_numpy(), abs=1e-9)
    minutes = rows["volume_cm3"] / (rate * rows["cutting_speed_m_min"])
    assert rows["cutting_time_min"].to_numpy() == pytest.approx(minutes.to_numpy(), abs=0.00501)
    assert rate * 70 == pytest.approx(13.369, abs=5e-4)
    looks = rows.drop_duplicates(["cutter", "reading"])
    for clock in CLOCKS[:3]:
        assert (looks.groupby("cutter")[clock].diff().dropna() > 0).all()
        assert (rows.groupby(["cutter", "reading"])[clock].nunique() == 1).all()


def test_removal_rate_is_the_same_in_both_practices(rows: pd.DataFrame) -> None:
    main = rows[rows["cutting_speed_m_min"] == 70]
    assert set(main["axial_depth_mm"] * main["radial_width_mm"]) == {36.0}
    assert set(main["passes"] * main["axial_depth_mm"] * main["radial_width_mm"]) == {108.0}
    assert set(main["spindle_rpm"]) == {1857.0}


def test_every_look_has_every_flute_and_zone(rows: pd.DataFrame) -> None:
    wear = rows[rows["measure"] == "VB"]
    counts = wear.groupby(["cutter", "reading", "cutting_speed_m_min"]).size().reset_index(name="count")
    assert set(counts[counts["cutting_speed_m_min"] == 70]["count"]) == {16}
    assert set(counts[counts["cutting_speed_m_min"] != 70]["count"]) == {8}
    assert not wear.duplicated(["cutter", "reading", "zone", "flute"]).any()
    assert counts.groupby("cutter")["reading"].agg(lambda r: r.tolist() == list(range(1, len(r) + 1))).all()


def test_ends(trial: SimulatedTrial, rows: pd.DataFrame) -> None:
    ends = rows[rows["measure"] == "end"].set_index("cutter")
    assert len(ends) == 21
    assert ends["value"].isna().all()
    assert (ends["unit"] == "").all()
    for cutter in trial.truth["cutters"]:
        assert ends.loc[cutter["cutter"], "end_reason"] == cutter["end_reason"]
        assert ends.loc[cutter["cutter"], "reading"] == cutter["last_reading"]
    assert (rows[rows["measure"] != "end"]["end_reason"] == "").all()
    assert rows.groupby("cutter")["reading"].max().to_dict() == ends["reading"].to_dict()


def test_chipped_cutter(rows: pd.DataFrame) -> None:
    (chip,) = rows[rows["measure"] == "chip"].to_dict("records")
    assert (chip["zone"], chip["wear_form"], chip["reading"], chip["strategy"]) == (
        "corner",
        "chipping",
        5,
        "side",
    )
    assert 0.3 <= chip["value"] <= 0.8
    (lost,) = rows[rows["value"].isna() & (rows["measure"] == "VB")].to_dict("records")
    for name in ("cutter", "zone", "flute", "reading"):
        assert lost[name] == chip[name]


def test_witness_slots_at_the_first_a_middle_and_the_last_look(rows: pd.DataFrame) -> None:
    walls = rows[rows["measure"].isin(["wall", "width", "hang_up"])]
    assert set(walls["cutting_speed_m_min"]) == {70.0}
    last = rows.groupby("cutter")["reading"].max()
    for cutter, own in walls.groupby("cutter"):
        looks = sorted(set(own["reading"]))
        assert len(looks) == 3
        assert looks[0] == 1
        assert looks[-1] == last[cutter]
    counts = walls.groupby(["cutter", "reading"])["measure"].value_counts().unstack()
    assert (counts == {"wall": 10, "width": 5, "hang_up": 3}).all(axis=None)
    assert walls.groupby(["cutter", "reading"])["part"].nunique().max() == 1


def test_text_reads_back(trial: SimulatedTrial, rows: pd.DataFrame) -> None:
    text = trial.text()
    assert "\r" not in text
    records = list(csv.DictReader(io.StringIO(text)))
    assert len(records) == len(rows)
    for name in rows.columns:
        cells = [record[name] for record in records]
        if COLUMNS[name].numeric:
            numbers = np.array([float(cell) if cell else math.nan for cell in cells])
            np.testing.assert_array_equal(numbers, rows[name].to_numpy(dtype=float))
        else:
            assert cells == rows[name].tolist()


def test_label_stands_in_every_row_and_in_the_truth(trial: SimulatedTrial, rows: pd.DataFrame) -> None:
    assert rows["trial"].str.contains("invented, simulated").all()
    assert trial.truth["label"] == "invented, simulated"


def test_short_lives_still_get_a_new_part_at_every_look() -> None:
    fast = simulate_trial(shoulder_spec(speeds_m_min=(150.0,)), 3).rows
    fast = fast[fast["cutting_speed_m_min"] == 150].drop_duplicates(["cutter", "reading"])
    assert (fast.groupby("cutter")["parts"].diff().dropna() >= 1).all()
