from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError
from wearlab.decide.cost import Operation, cost_of_part
from wearlab.decide.one_or_two import Work, demoted_worth, one_or_two
from wearlab.decide.shop import ShopCosts

SINGLE, ROUGH, FINISH = Work(9.0, 12, 28.0), Work(8.4, 30, 28.0), Work(0.9, 80, 28.0)
MONEY = {"machine_per_min": 1.2, "change_min": 3.0, "swap_min": 0.2}


def test_our_example_of_a_pair() -> None:
    """1.2 a minute; 9.0 min and 12 parts on one; 8.4 + 0.9 + 0.2 min, 30 and 80 parts on two; 28 an edge."""
    made = one_or_two(SINGLE, ROUGH, FINISH, **MONEY)
    assert made.single_per_part == pytest.approx(13.43, abs=0.005)
    assert made.pair_per_part == pytest.approx(12.85, abs=0.005)
    assert made.break_even_price == pytest.approx(20.98, abs=0.005)
    assert made.cheaper == "pair"


def test_at_the_break_even_price_both_cost_the_same() -> None:
    price = one_or_two(SINGLE, ROUGH, FINISH, **MONEY).break_even_price
    made = one_or_two(Work(9.0, 12, price), ROUGH, FINISH, **MONEY)
    assert made.single_per_part == pytest.approx(made.pair_per_part, rel=1e-12)
    dearer = one_or_two(Work(9.0, 12, price * 1.01), ROUGH, FINISH, **MONEY)
    assert dearer.cheaper == "pair"


def test_at_the_common_break_even_price_both_cost_the_same() -> None:
    price = one_or_two(SINGLE, ROUGH, FINISH, **MONEY).break_even_all
    made = one_or_two(Work(9.0, 12, price), Work(8.4, 30, price), Work(0.9, 80, price), **MONEY)
    assert made.single_per_part == pytest.approx(made.pair_per_part, rel=1e-12)


@given(
    st.floats(1, 20), st.floats(3, 200), st.floats(0, 100), st.floats(1, 20), st.floats(3, 200), st.floats(0.1, 5),
    st.floats(3, 200),
)  # fmt: skip
def test_a_pair_is_a_set_of_two_operations(
    t1: float, n1: float, price: float, tr: float, nr: float, tf: float, nf: float
) -> None:
    """The same sums by the cost of a part."""
    made = one_or_two(Work(t1, n1, price), Work(tr, nr, price), Work(tf, nf, price), **MONEY)
    shop = ShopCosts(machine_per_min=1.2, change_min=3.0, swap_min=0.2)
    one = cost_of_part([Operation("", t1, 0, price, 1 / n1)], shop)
    pair = cost_of_part([Operation("rough", tr, 0, price, 1 / nr), Operation("finish", tf, 0, price, 1 / nf)], shop)
    assert made.single_per_part == pytest.approx(one.per_part, rel=1e-12)
    assert made.pair_per_part == pytest.approx(pair.per_part, rel=1e-12)


def test_a_demoted_finisher_lowers_the_pair_by_its_worth() -> None:
    worth = demoted_worth(28.0, 30.0, 24.0)
    plain = one_or_two(SINGLE, ROUGH, FINISH, **MONEY)
    demoted = one_or_two(SINGLE, ROUGH, Work(0.9, 80, 28.0, worth), **MONEY)
    assert plain.pair_per_part - demoted.pair_per_part == pytest.approx(worth / 80, rel=1e-9)


def test_no_common_price_where_neither_ever_meets() -> None:
    made = one_or_two(Work(1.0, 100, 28.0), ROUGH, FINISH, **MONEY)
    assert math.isnan(made.break_even_all)
    assert made.cheaper == "single"


def test_bad_figures_are_refused() -> None:
    with pytest.raises(ArgumentError, match="parts"):
        Work(9.0, 0, 28.0)
    with pytest.raises(ArgumentError, match="afterlife_parts"):
        demoted_worth(28.0, 30.0, 31.0)
