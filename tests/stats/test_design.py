from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.design import check_design, first_dependent


def test_centred_columns_lead_back_to_the_given_ones():
    rng = np.random.default_rng(1)
    X = np.column_stack([np.full(8, 2.0), 1e6 + rng.normal(size=8), rng.normal(size=8) * 1e-5])
    design = check_design(X)
    assert design.intercept == 0
    np.testing.assert_allclose(design.Z, X @ design.back, atol=1e-9)
    np.testing.assert_allclose(np.sqrt(np.mean(design.Z**2, axis=0)), 1.0)
    np.testing.assert_allclose(design.Z[:, 1:].mean(axis=0), 0.0, atol=1e-9)  # a rounding of the offset


@pytest.mark.parametrize(
    "column, message",
    [
        (np.full(5, 4.7), "ln speed: the same value in all 5 rows"),
        (np.zeros(5), "ln speed: the same value in all 5 rows"),
        (np.arange(5) * 2.0, "ln speed: repeats the columns before it"),
    ],
)
def test_a_useless_column_is_refused_by_name(column, message):
    X = np.column_stack([np.ones(5), np.arange(5), column])
    with pytest.raises(Refusal, match=message):
        check_design(X, ["intercept", "feed", "ln speed"])


def test_more_coefficients_than_rows():
    with pytest.raises(Refusal, match=r"2 rows for 3 coefficients \(a, b, c\)"):
        check_design([[1, 0, 1], [0, 1, 3]], ["a", "b", "c"])


def test_faulty_arguments_say_where():
    with pytest.raises(ArgumentError, match=r"X: an array of shape \(3,\)"):
        check_design([1.0, 2.0, 3.0])
    with pytest.raises(ArgumentError, match="nan in row 1 of feed"):
        check_design([[1.0], [np.nan]], ["feed"])
    with pytest.raises(ArgumentError, match="1 names for 2 columns"):
        check_design([[1.0, 2.0]], ["feed"])


def test_a_large_offset_is_no_dependence():
    assert first_dependent(check_design(np.column_stack([np.ones(4), 1e6 + np.arange(4)])).Z) is None
