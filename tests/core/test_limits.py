"""On the limit means reached, whatever binary fractions make of a mean."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from wearlab.core.limits import reached


def test_a_mean_that_is_the_limit_on_paper_has_reached_it() -> None:
    lands = np.array([0.33, 0.35, 0.35, 0.17])
    assert lands.mean() < 0.3  # the trap: 1.2 / 4 in binary
    assert reached(lands.mean(), 0.3)


@given(st.lists(st.integers(1, 600), min_size=1, max_size=5), st.integers(100, 600))
def test_means_of_whole_micrometres_are_judged_as_on_paper(um: list[int], limit_um: int) -> None:
    mean = float(np.mean([value / 1000 for value in um]))
    assert reached(mean, limit_um / 1000) == (sum(um) >= limit_um * len(um))


@given(st.floats(1e-6, 1e6), st.floats(1e-6, 0.1))
def test_below_is_below(limit: float, share: float) -> None:
    assume(share > 1e-8)
    assert not reached(limit * (1 - share), limit)
    assert reached(limit * (1 + share), limit)


def test_a_falling_quantity_is_given_with_its_sign_changed() -> None:
    assert reached(-11.98, -11.98)
    assert reached(-11.97, -11.98)
    assert not reached(-11.99, -11.98)


def test_arrays() -> None:
    assert reached(np.array([0.1, 0.3, 0.4]), 0.3).tolist() == [False, True, True]
