from __future__ import annotations

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.stats.lives import Lives


def test_every_row_has_one_kind():
    lives = Lives([5.0, 5.0, 0.0, 4.0], [5.0, np.inf, 3.0, 6.0])
    kinds = np.stack([lives.exact, lives.right, lives.left, lives.interval])
    np.testing.assert_array_equal(kinds, np.eye(4, dtype=bool))
    assert lives.failures == 3
    assert len(lives) == 4


def test_times_with_marks():
    lives = Lives.right_censored([3.0, 4.0], [1, 0])
    assert lives.upper.tolist() == [3.0, np.inf]
    assert lives.take([1]).failures == 0


def test_it_cannot_be_changed_and_does_not_change_with_its_source():
    source = np.array([1.0, 2.0])
    lives = Lives(source, source)
    source[0] = 9.0
    assert lives.lower[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        lives.lower[0] = 2.0


@pytest.mark.parametrize(
    "lower, upper, message",
    [
        ([1, -2], [1, 3], "life in row 1: lower -2, upper 3; allowed: a lower bound of 0 or more"),
        ([4], [3], "lower 4, upper 3; allowed: a lower bound that is not above the upper"),
        ([0], [0], "an upper bound above 0"),
        ([0], [np.inf], "says something"),
        ([np.nan], [3], "a number, 0 or infinity"),
        ([np.inf], [np.inf], "a finite lower bound"),
        ([1, 2], [1], "two vectors of one length"),
    ],
)
def test_faults_are_named(lower, upper, message):
    with pytest.raises(ArgumentError, match=message):
        Lives(lower, upper)


def test_marks_must_match():
    with pytest.raises(ArgumentError, match="2 times and 1 marks"):
        Lives.right_censored([1, 2], [1])
