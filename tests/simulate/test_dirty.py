"""Planted slips: exactly what is named is changed, and it is changed as the slip says."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.simulate.dirty import SLIPS, Planted, as_text_table, plant, slip_names, table_text
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.trial import simulate_trial

MORE_ROWS = ("duplicate", "conflicting_duplicate", "max_below_mean", "two_end_reasons")
FEWER_ROWS = ("missing_flute",)


@pytest.fixture(scope="module")
def clean() -> pd.DataFrame:
    spec = shoulder_spec(cutters=5, speeds_m_min=(85.0,), at_each_speed=2)
    return as_text_table(simulate_trial(spec, 12).text())


def planted(clean: pd.DataFrame, slip: str, seed: int = 1) -> Planted:
    return plant(clean, slip, seed)


def one_cell(clean: pd.DataFrame, slip: str, seed: int = 1) -> tuple[str, str]:
    """The cell before and after, for a slip in one cell."""
    found = planted(clean, slip, seed)
    (row,), (column,) = found.rows, found.columns
    return clean[column].iloc[row], found.table[column].iloc[row]


def values(table: pd.DataFrame, rows: tuple[int, ...]) -> np.ndarray:
    return table["value"].iloc[list(rows)].astype(float).to_numpy()


@pytest.mark.parametrize("slip", [name for name in slip_names() if name not in MORE_ROWS + FEWER_ROWS])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_exactly_the_named_cells_are_changed(clean: pd.DataFrame, slip: str, seed: int) -> None:
    before = clean.copy()
    found = planted(clean, slip, seed)
    pd.testing.assert_frame_equal(clean, before)
    assert found.table.shape == clean.shape
    changed = (found.table != clean).to_numpy()
    assert set(found.table.columns[changed.any(axis=0)]) == set(found.columns)
    touched = set(np.flatnonzero(changed.any(axis=1)).tolist())
    # Two readings that happen to be the same stay the same when they are exchanged or copied.
    assert touched <= set(found.rows)
    assert touched
    if len(found.rows) == 1:
        assert touched == set(found.rows)


@pytest.mark.parametrize("slip", MORE_ROWS)
def test_one_row_more(clean: pd.DataFrame, slip: str) -> None:
    found = planted(clean, slip)
    assert len(found.table) == len(clean) + 1
    first, second = found.rows
    rest = found.table.drop(index=second).reset_index(drop=True)
    pd.testing.assert_frame_equal(rest, clean)
    different = found.table.columns[(found.table.iloc[first] != found.table.iloc[second]).to_numpy()]
    expected = {
        "duplicate": [], "conflicting_duplicate": ["value"], "max_below_mean": ["measure", "value"],
        "two_end_reasons": ["end_reason"],
    }  # fmt: skip
    assert sorted(different) == expected[slip]


def test_one_flute_less(clean: pd.DataFrame) -> None:
    found = planted(clean, "missing_flute")
    assert len(found.table) == len(clean) - 1
    left = found.table.iloc[list(found.rows)]
    assert left[["cutter", "reading", "zone"]].drop_duplicates().shape[0] == 1
    assert len(set(left["flute"])) == 3


@pytest.mark.parametrize(
    ("slip", "factor"), [("ten_fold_up", 10), ("ten_fold_down", 0.1), ("um_in_mm", 1000)]
)
def test_factors(clean: pd.DataFrame, slip: str, factor: float) -> None:
    old, new = one_cell(clean, slip)
    assert float(new) == pytest.approx(float(old) * factor, rel=1e-6)


def test_thou_in_mm(clean: pd.DataFrame) -> None:
    # One thousandth of an inch is 0.0254 mm exactly.
    old, new = one_cell(clean, "thou_in_mm")
    assert float(new) * 0.0254 == pytest.approx(float(old), rel=0.006)


def test_swapped_digits(clean: pd.DataFrame) -> None:
    old, new = one_cell(clean, "swapped_digits")
    assert sorted(old) == sorted(new)
    assert sum(a != b for a, b in zip(old, new, strict=True)) == 2


def test_inches_for_a_whole_cutter(clean: pd.DataFrame) -> None:
    found = planted(clean, "inch_in_mm_whole_cutter")
    assert len(found.cutters) == 1
    assert values(found.table, found.rows) * 25.4 == pytest.approx(values(clean, found.rows), abs=0.0013)
    others = set(np.flatnonzero((clean["cutter"] == found.cutters[0]) & (clean["measure"] == "VB")))
    zeros = {row for row in others if clean["value"].iloc[row] in ("0", "")}
    assert set(found.rows) == others - zeros


def test_time_goes_back(clean: pd.DataFrame) -> None:
    found = planted(clean, "time_goes_back")
    own = found.table[found.table["cutter"] == found.cutters[0]]
    minutes = own["cutting_time_min"].astype(float).groupby(own["reading"].astype(int)).first()
    assert (minutes.diff().dropna() < 0).sum() == 1
    before = clean[clean["cutter"] == found.cutters[0]]["cutting_time_min"].astype(float)
    assert before.is_monotonic_increasing


def test_per_pass_minutes_add_up_to_the_cumulative_ones(clean: pd.DataFrame) -> None:
    found = planted(clean, "per_pass_minutes")
    rows = list(found.rows)
    looks = clean["reading"].iloc[rows].astype(int)
    old = clean["cutting_time_min"].iloc[rows].astype(float).groupby(looks).first()
    new = found.table["cutting_time_min"].iloc[rows].astype(float).groupby(looks).first()
    assert new.cumsum().to_numpy() == pytest.approx(old.to_numpy(), abs=1e-6)


def test_copy_of_last(clean: pd.DataFrame) -> None:
    found = planted(clean, "copy_of_last")
    own = found.table.iloc[list(found.rows)]
    assert own["reading"].nunique() == 1
    reading = int(own["reading"].iloc[0])
    last = clean[(clean["cutter"] == found.cutters[0]) & (clean["reading"] == str(reading - 1))]
    before = last[last["measure"] == "VB"].set_index(["zone", "flute"])["value"]
    assert all(
        before[zone, flute] == value for zone, flute, value in own[["zone", "flute", "value"]].to_numpy()
    )


def test_swapped_cutters_exchange_their_lands(clean: pd.DataFrame) -> None:
    found = planted(clean, "swapped_cutters")
    first, second = found.cutters
    rows = list(found.rows)
    assert found.table["reading"].iloc[rows].nunique() == 1
    places = ["cutter", "zone", "flute"]
    old, new = (frame.iloc[rows].set_index(places)["value"] for frame in (clean, found.table))
    assert old.index.equals(new.index)
    for cutter, zone, flute in old.index:
        other = second if cutter == first else first
        assert new[cutter, zone, flute] == old[other, zone, flute]


def test_swapped_flutes_leave_the_mean_alone(clean: pd.DataFrame) -> None:
    found = planted(clean, "swapped_flutes")
    means = [
        frame.iloc[list(found.rows)].assign(v=values(frame, found.rows)).groupby("zone")["v"].mean()
        for frame in (clean, found.table)
    ]
    pd.testing.assert_series_equal(*means)


def test_wear_falls_by_half(clean: pd.DataFrame) -> None:
    found = planted(clean, "wear_falls")
    assert values(found.table, found.rows) == pytest.approx(values(clean, found.rows) / 2, abs=0.00051)


def test_fresh_cutter_begins_again(clean: pd.DataFrame) -> None:
    found = planted(clean, "fresh_cutter")
    own = found.table.iloc[list(found.rows)]
    first = own[own["reading"] == min(own["reading"], key=int)]
    new = clean[
        (clean["cutter"] == found.cutters[0]) & (clean["reading"] == "1") & (clean["measure"] == "VB")
    ]
    assert sorted(first["value"]) == sorted(new["value"][new["zone"].isin(first["zone"])])


def test_near_duplicate_id_differs_only_in_spelling(clean: pd.DataFrame) -> None:
    for seed in range(20):
        found = planted(clean, "near_duplicate_id", seed)
        (new,), old = found.cutters, clean["cutter"].iloc[found.rows[0]]
        assert new != old
        assert new.lower().replace("-", "").replace("e0", "e") == old.lower()
        assert new not in set(clean["cutter"])


def test_max_below_mean(clean: pd.DataFrame) -> None:
    found = planted(clean, "max_below_mean")
    mean, greatest = found.table.iloc[list(found.rows)].to_dict("records")
    assert (mean["measure"], greatest["measure"]) == ("VB", "VBmax")
    assert float(greatest["value"]) < float(mean["value"])


def test_decimal_comma_is_quoted_in_the_file(clean: pd.DataFrame) -> None:
    found = planted(clean, "decimal_comma")
    (line,) = found.lines
    new = found.table["value"].iloc[found.rows[0]]
    assert "," in new
    assert f'"{new}"' in found.text().splitlines()[line - 1]


def test_lines_point_at_the_changed_rows(clean: pd.DataFrame) -> None:
    before = table_text(clean).splitlines()
    for slip in ("ten_fold_up", "unit_missing", "near_duplicate_id"):
        found = planted(clean, slip)
        after = found.text().splitlines()
        assert [i + 1 for i, (a, b) in enumerate(zip(before, after, strict=True)) if a != b] == list(
            found.lines
        )


def test_every_slip_can_be_planted_and_is_told_in_words(clean: pd.DataFrame) -> None:
    assert len(SLIPS) >= 40
    for slip in slip_names():
        found = planted(clean, slip, 5)
        assert found.what
        assert found.rows
        assert SLIPS[slip].meaning


def test_place_is_drawn_at_random_and_the_same_seed_draws_the_same(clean: pd.DataFrame) -> None:
    places = {planted(clean, "ten_fold_up", seed).rows for seed in range(30)}
    assert len(places) > 20
    assert planted(clean, "swapped_zones", 9).what == planted(clean, "swapped_zones", 9).what


def test_text_typed_rows_and_text_tables_are_the_same_log() -> None:
    trial = simulate_trial(shoulder_spec(cutters=1, at_each_speed=0), 2)
    typed, text = plant(trial.rows, "ten_fold_up", 3), plant(trial.text(), "ten_fold_up", 3)
    pd.testing.assert_frame_equal(typed.table, text.table)
    assert table_text(as_text_table(trial.text())) == trial.text()


def test_unknown_slip_names_the_nearest(clean: pd.DataFrame) -> None:
    with pytest.raises(ArgumentError, match=r"slip 'ten_fold'.*Did you mean ten_fold_"):
        plant(clean, "ten_fold")


@pytest.mark.parametrize(
    ("slip", "words"),
    [
        ("swapped_zones", "no column zone"),
        ("pin_missing", "no column pin_mm"),
        ("two_end_reasons", "no column end_reason"),
        ("copy_of_last", "no column"),
        ("ten_fold_up", "no land above 0.03 mm"),
    ],
)
def test_log_without_a_place_for_the_slip(slip: str, words: str) -> None:
    log = "cutter,reading,cutting_time_min,measure,value,unit\nE1,1,4,VB,0.01,mm\n"
    with pytest.raises(Refusal, match=f"no place for the slip {slip}: .*{words}"):
        plant(log, slip, 1)
