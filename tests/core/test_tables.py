"""Natural order, hints, and what JSON can hold."""

from __future__ import annotations

import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.tables import natural_key, natural_sorted, nearest, plain, records

NAMES = st.text(st.sampled_from("Ee1029 -_x"), max_size=6)


@given(st.lists(st.integers(0, 10**6), min_size=2, unique=True))
def test_numbered_names_come_in_the_order_of_their_numbers(numbers: list[int]) -> None:
    assert natural_sorted([f"E{n}" for n in numbers]) == [f"E{n}" for n in sorted(numbers)]
    assert natural_sorted([f"{n}b" for n in numbers]) == [f"{n}b" for n in sorted(numbers)]


@given(st.lists(NAMES))
def test_the_order_does_not_depend_on_where_it_began(names: list[str]) -> None:
    once = natural_sorted(names)
    assert natural_sorted(reversed(once)) == natural_sorted(once)
    assert sorted(once) == sorted(names)


def test_leading_zeros_keep_names_apart() -> None:
    assert natural_key("E007") != natural_key("E7")
    assert natural_sorted(["E10", "E2", "E007", "E1"]) == ["E1", "E2", "E007", "E10"]


def test_names_may_be_numbers() -> None:
    assert natural_sorted([10.0, 9.0, 100.0]) == [9.0, 10.0, 100.0]


def test_nearest_names_a_close_word_and_nothing_else() -> None:
    assert nearest("axial_dept_mm", ["axial_depth_mm", "teeth"]) == "did you mean axial_depth_mm?"
    assert nearest("zzzzzz", ["axial_depth_mm", "teeth"]) == ""
    assert nearest("x", []) == ""


@pytest.mark.parametrize(
    ("value", "out"),
    [
        (np.float64(1.5), 1.5), (np.int64(3), 3), (np.bool_(True), True), (math.nan, None), (math.inf, None),
        (np.array([1.0, math.nan]), [1.0, None]), ((1, 2), [1, 2]), ("text", "text"), (None, None), (pd.NA, None),
        (pd.NaT, None), ({1: np.float64(2)}, {"1": 2.0}), ([{"a": math.inf}], [{"a": None}]),
    ],
)  # fmt: skip
def test_plain_values_fit_into_json(value: object, out: object) -> None:
    made = plain(value)
    assert made == out
    assert type(made) is type(out)
    json.dumps(made, allow_nan=False)


def test_records_of_a_table() -> None:
    frame = pd.DataFrame({"cutter": ["E1", "E2"], "life": [1.5, math.nan], "low": [1.0, math.inf]})
    assert records(frame) == [
        {"cutter": "E1", "life": 1.5, "low": 1.0},
        {"cutter": "E2", "life": None, "low": None},
    ]
    assert records(frame.iloc[:0]) == []
