"""Cost of a part, against printed textbook examples and against its own parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.decide.cost import ITEMS, Operation, cost_items, cost_of_part, edge_cost, worn_out_operation
from wearlab.decide.shop import ShopCosts
from wearlab.decide.speeds import least_cost_life
from wearlab.fit.laws import life_at, speed_for


def turning_minutes(length_mm: float, diameter_mm: float, feed_mm: float, speed_m_min: float) -> float:
    """Time of one turning pass, pi D L / (1000 f V)."""
    return math.pi * diameter_mm * length_mm / (1000 * feed_mm * speed_m_min)


def cost_of_piece(n: float, c: float, blank: float) -> tuple[float, float, float]:
    """Least-cost speed, life and cost of the piece of the printed problem: L 300, D 30, f 0.25 mm; 0.25 $/min, regrind
    2 $, change 1 min; 1 min of handling a piece at the machine's rate.
    """
    life = least_cost_life(n, 1.0, 2.0, 0.25)
    speed = speed_for(life, n, c)
    shop = ShopCosts("$", machine_per_min=0.25, change_min=1.0, idle_min=1.0)
    work = worn_out_operation(turning_minutes(300, 30, 0.25, speed), life, 2.0)
    return speed, life, cost_of_part([work], shop, blank=blank).per_part


class TestPrinted:
    """Ghosh and Mallik, Manufacturing Science, problem 4.27 p. 269 (seen in a companion); a GATE question (seen)."""

    def test_tool_material_y_costs_what_is_printed(self) -> None:
        speed, life, cost = cost_of_piece(0.16, 76.0, 3.0)
        assert life == pytest.approx(47.25, abs=1e-9)
        assert speed == pytest.approx(41.01, abs=0.01)
        assert cost == pytest.approx(4.07, abs=0.005)

    def test_tool_material_x_comes_out_at_4_38_where_the_companion_prints_4_36(self) -> None:
        # The companion takes Y's exponent in one term of X: the slip is theirs, not to be copied.
        speed, life, cost = cost_of_piece(0.1, 30.0, 2.5)
        assert life == pytest.approx(81.0, abs=1e-9)
        assert speed == pytest.approx(19.33, abs=0.01)
        assert cost == pytest.approx(4.375, abs=0.001)
        assert abs(cost - 4.36) > 0.01

    def test_tool_change_cost_of_a_piece(self) -> None:
        # D 60, L 400, V 25, f 0.2, C 75, n 0.25, change 3 min, Rs 5/min: T 81, time 15.08, 2.79 a piece.
        life, minutes = life_at(25.0, 0.25, 75.0), turning_minutes(400, 60, 0.2, 25.0)
        assert life == pytest.approx(81.0, abs=1e-9)
        assert minutes == pytest.approx(15.08, abs=0.005)
        shop = ShopCosts("Rs", machine_per_min=5.0, change_min=3.0)
        cost = cost_of_part([worn_out_operation(minutes, life, 0.0)], shop)
        assert cost.items["changes"] == pytest.approx(2.79, abs=0.005)


def test_per_cm3_is_the_textbook_formula() -> None:
    """K = c_m/Q + (c_m t + C)/(Q T), from memory, on figures of our own."""
    q, life, price, change, rate = 7.64, 60.0, 28.0, 3.0, 1.2
    volume = 9.6
    shop = ShopCosts("EUR", machine_per_min=rate, change_min=change)
    cost = cost_of_part([worn_out_operation(volume / q, life, price)], shop, volume)
    assert cost.per_cm3 == pytest.approx(rate / q + (rate * change + price) / (q * life), rel=1e-12)
    assert cost.per_part == pytest.approx(cost.per_cm3 * volume, rel=1e-12)


def test_items_add_up_and_the_frame_shows_each() -> None:
    shop = ShopCosts("EUR", 1.2, 3.0, 20.0, 60.0, 0.8, 4000.0, swap_min=0.2, idle_min=1.0)
    work = [Operation("rough", 3.0, 0.2, 28.0, 0.05, 0.004), Operation("finish", 0.5, 0.1, 30.0, 0.01)]
    cost = cost_of_part(work, shop, 9.6, drilled=True)
    assert cost.items["machine"] == pytest.approx(1.2 * (3.0 + 0.2 + 0.5 + 0.1 + 0.2 + 1.0))
    assert cost.items["changes"] == pytest.approx(1.2 * 3.0 * 0.06)
    assert cost.items["edges"] == pytest.approx(28.0 * 0.05 + 30.0 * 0.01)
    assert cost.items["failures"] == pytest.approx(60.0 * 0.004)
    assert cost.items["scrap"] == pytest.approx(20.0 * 0.004)
    assert cost.items["drill"] == 0.8
    assert cost.time_money + cost.cutter_money == pytest.approx(cost.per_part)
    table = cost.to_frame().set_index("item")
    assert list(table.index) == [*ITEMS, "total"]
    assert table.loc["total", "per_year"] == pytest.approx(4000 * cost.per_part)
    assert table["share"].drop("total").sum() == pytest.approx(1.0)


def test_draws_come_out_as_the_single_sums() -> None:
    shop = ShopCosts("EUR", 1.2, 3.0, 20.0, 60.0)
    edges, failures = np.array([0.02, 0.03]), np.array([0.001, 0.004])
    many = cost_items([Operation("", 3.0, 0.2, 28.0, edges, failures)], shop)
    for at in range(2):
        one = cost_of_part([Operation("", 3.0, 0.2, 28.0, edges[at], failures[at])], shop)
        assert sum(np.broadcast_to(many[name], 2)[at] for name in ITEMS) == pytest.approx(one.per_part, rel=1e-12)


@pytest.mark.parametrize(
    ("shop", "work", "drilled", "name"),
    [
        (ShopCosts(change_min=3.0), [Operation("", 1, 0, 28.0, 0.1)], False, "machine_per_min"),
        (ShopCosts(machine_per_min=1.0), [Operation("", 1, 0, 28.0, 0.1)], False, "change_min"),
        (ShopCosts("", 1.0, 3.0, 20.0), [Operation("", 1, 0, 28.0, 0.1, 0.01)], False, "failure"),
        (ShopCosts("", 1.0, 3.0, failure=20.0), [Operation("", 1, 0, 28.0, 0.1, 0.01)], False, "scrap"),
        (ShopCosts("", 1.0, 3.0), [Operation("", 1, 0, 28.0, 0.1)], True, "drill"),
        (ShopCosts("", 1.0, 3.0), [Operation(r, 1, 0, 28.0, 0.1) for r in ("rough", "finish")], False, "swap_min"),
    ],
)
def test_a_cost_that_is_needed_is_asked_for_by_name(
    shop: ShopCosts, work: list[Operation], drilled: bool, name: str
) -> None:
    with pytest.raises(Refusal, match=f"not stated: {name} "):
        cost_of_part(work, shop, drilled=drilled)


def test_regrinds_lower_the_edge_by_the_formula() -> None:
    assert edge_cost(60.0, 2, 15.0, 6.0) == pytest.approx((60 - 6 + 2 * 15) / 3)
    assert edge_cost(60.0) == 60.0


def test_salvage_above_the_price_is_refused() -> None:
    with pytest.raises(ArgumentError, match="salvage 61 above the price 60"):
        edge_cost(60.0, salvage=61.0)


def test_another_currency_multiplies_every_cost() -> None:
    shop = ShopCosts("EUR", 1.2, 3.0, 20.0, 60.0, 0.8)
    cents = ShopCosts("cent", 120.0, 3.0, 2000.0, 6000.0, 80.0)
    a = cost_of_part([Operation("", 3.0, 0.2, 28.0, 0.02, 0.001)], shop, drilled=True)
    b = cost_of_part([Operation("", 3.0, 0.2, 2800.0, 0.02, 0.001)], cents, drilled=True)
    assert b.per_part == pytest.approx(100 * a.per_part, rel=1e-12)
    assert b.minutes == a.minutes
