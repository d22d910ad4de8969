"""What one part costs: machine time, edges, changes, drills, spoiled parts and failures in service.

K = c_m t + edges (C_t + c_m t_change) + failures (failure + scrap) + drill, each an amount a part. One operation
is the work of one cutter in one part, so a set of cutters (rougher and finisher, drill and mill) is the sum of its
operations.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain
from wearlab.decide.shop import ShopCosts

if TYPE_CHECKING:
    import pandas as pd

ITEMS = ("machine", "changes", "edges", "failures", "scrap", "drill", "blank")
"""What the cost of a part is made of, in the order of tables."""


@dataclass(frozen=True, slots=True)
class Operation:
    """The work of one cutter in one part.

    Attributes
    ----------
    role : str
        rough, finish, drill, both, or empty where one cutter does it all.
    cutting_min : float
        Minutes in the metal a part.
    other_min : float
        Minutes of approach and of moves between passes a part.
    edge_cost : float
        Money for one edge, regrinds and salvage counted.
    edges : float or ndarray
        Edges used up a part.
    failures : float or ndarray
        Failures in service a part.
    """

    role: str
    cutting_min: float
    other_min: float
    edge_cost: float
    edges: Any
    failures: Any = 0.0


@dataclass(frozen=True, repr=False)
class PartCost:
    """Cost of one part, item by item.

    Attributes
    ----------
    currency : str
    items : dict of str to float
        Money a part by `ITEMS`.
    minutes : float
        Machine minutes a part, changes of worn cutters not counted.
    volume_cm3 : float
        Metal that one part takes away; NaN where it is not known.
    parts_per_year : float
        NaN where it is not stated.
    """

    currency: str
    items: dict[str, float]
    minutes: float
    volume_cm3: float
    parts_per_year: float

    @property
    def per_part(self) -> float:
        """Money a part."""
        return math.fsum(self.items.values())

    @property
    def per_cm3(self) -> float:
        """Money a cm3 of metal removed."""
        return self.per_part / self.volume_cm3

    @property
    def per_year(self) -> float:
        """Money a year."""
        return self.per_part * self.parts_per_year

    @property
    def cutter_money(self) -> float:
        """What the cutters cost a part: edges, and the money that their failures lose."""
        return self.items["edges"] + self.items["failures"] + self.items["scrap"] + self.items["drill"]

    @property
    def time_money(self) -> float:
        """What the time costs a part: machine and changes."""
        return self.items["machine"] + self.items["changes"]

    def to_frame(self) -> pd.DataFrame:
        """One row an item."""
        import pandas as pd

        rows = [{"item": name, "per_part": self.items[name]} for name in ITEMS]
        rows.append({"item": "total", "per_part": self.per_part})
        table = pd.DataFrame(rows)
        table["share"] = table["per_part"] / self.per_part
        table["per_cm3"] = table["per_part"] / self.volume_cm3
        table["per_year"] = table["per_part"] * self.parts_per_year
        return table

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "currency": self.currency,
                "items": self.items,
                "minutes": self.minutes,
                "per_part": self.per_part,
                "per_cm3": self.per_cm3,
                "per_year": self.per_year,
            }
        )

    def __repr__(self) -> str:
        return f"<PartCost {self.per_part:.6g} {self.currency} a part, {self.minutes:.4g} min>"


def edge_cost(price: float, regrinds: float = 0, regrind_price: float = 0.0, salvage: float = 0.0) -> float:
    """Money for one edge of a cutter that is reground: (price - salvage + regrinds regrind_price) / (1 + regrinds).

    Every regrind is taken to give an edge as long as the first.

    Examples
    --------
    >>> edge_cost(48.0), edge_cost(48.0, regrinds=3, regrind_price=12.0, salvage=4.0)
    (48.0, 20.0)
    """
    for name, value in (
        ("price", price),
        ("regrinds", regrinds),
        ("regrind_price", regrind_price),
        ("salvage", salvage),
    ):
        if not math.isfinite(value) or value < 0:
            raise ArgumentError(f"{value:g}", where=name, allowed="a number from 0")
    if salvage > price:
        raise ArgumentError(f"salvage {salvage:g} above the price {price:g}", where="salvage")
    return (price - salvage + regrinds * regrind_price) / (1 + regrinds)


def worn_out_operation(
    cutting_min: float, life_min: float, edge: float, *, other_min: float = 0.0, role: str = ""
) -> Operation:
    """The work of a cutter that is changed when it is worn out: one edge every `life_min` minutes in the metal.

    Raises
    ------
    ArgumentError
        Time or life is not above 0.
    """
    for name, value in (("cutting_min", cutting_min), ("life_min", life_min)):
        if not value > 0:
            raise ArgumentError(f"{value:g}", where=name, allowed="above 0")
    return Operation(role, cutting_min, other_min, edge, cutting_min / life_min)


def cost_items(operations: Sequence[Operation], shop: ShopCosts, blank: float = 0.0) -> dict[str, Any]:
    """Money a part by item; edges and failures of an operation may be arrays (draws), which then come out as such.

    A failure in service costs `failure` and spoils one part (`scrap`), beyond the edge and the change that its
    operation counts in `edges`.

    Raises
    ------
    Refusal
        A cost that the sum needs was not stated; it is named.
    """
    needed = ["machine_per_min", "change_min"]
    if any(_any(one.failures) for one in operations):
        needed += ["failure", "scrap"]
    if len(operations) > 1:
        needed.append("swap_min")
    shop.need(*needed)
    rate = shop.figure("machine_per_min")
    minutes = sum(one.cutting_min + one.other_min for one in operations) + _idle(operations, shop)
    failed = sum(one.failures for one in operations)
    return {
        "machine": rate * minutes,
        "changes": rate * shop.figure("change_min") * sum(one.edges for one in operations),
        "edges": sum(one.edges * one.edge_cost for one in operations),
        "failures": failed * (shop.failure or 0.0),
        "scrap": failed * (shop.scrap or 0.0),
        "drill": 0.0,
        "blank": blank,
    }


def cost_of_part(
    operations: Sequence[Operation],
    shop: ShopCosts,
    volume_cm3: float = math.nan,
    *,
    drilled: bool = False,
    blank: float = 0.0,
) -> PartCost:
    """Cost of one part.

    Parameters
    ----------
    operations : sequence of Operation
        One a cutter; a set has several.
    shop : ShopCosts
    volume_cm3 : float
        Metal that one part takes away.
    drilled : bool
        The holes are drilled by a drill that is no operation: `drill` of the costs is added.
    blank : float
        Money for the blank or whatever else a part costs alike.

    Raises
    ------
    Refusal
        A cost that the sum needs was not stated; it is named.

    Notes
    -----
    K = c_m/Q + (c_m t_ct + C_t)/V_T of the textbooks, times the part's volume, with what a milled part adds to it.

    Examples
    --------
    >>> shop = ShopCosts("EUR", machine_per_min=1.2, change_min=3.0)
    >>> one = cost_of_part([worn_out_operation(9.0, 108.0, 28.0)], shop)
    >>> round(one.per_part, 2)
    13.43
    """
    if not operations:
        raise ArgumentError("no operation", where="operations", allowed="at least one")
    items = cost_items(operations, shop, blank)
    if drilled:
        items["drill"] = shop.figure("drill")
    minutes = sum(one.cutting_min + one.other_min for one in operations) + _idle(operations, shop)
    yearly = math.nan if shop.parts_per_year is None else shop.parts_per_year
    return PartCost(
        shop.currency,
        {name: float(items[name]) for name in ITEMS},
        float(minutes),
        volume_cm3,
        yearly,
    )


def demotion_money(operations: Sequence[Operation], shop: ShopCosts) -> Any:
    """Money a part that finishers save when, worn for finishing, they go on as roughers; 0 where they do not.

    A finisher that is changed as planned makes `demoted_parts` of the parts of a rougher, so that share of a rougher's
    edge is saved; one that failed in service is scrap. Changes are not saved: it is changed as a new rougher would be.

    Examples
    --------
    >>> pair = [Operation("rough", 8.4, 0.0, 28.0, 1 / 30), Operation("finish", 0.9, 0.0, 28.0, 1 / 80)]
    >>> round(demotion_money(pair, ShopCosts(demoted_parts=21.0)), 6)
    0.245
    """
    by_role = {one.role: one for one in operations}
    if not shop.demoted_parts or not {"rough", "finish"} <= set(by_role):
        return 0.0
    rough, finish = by_role["rough"], by_role["finish"]
    share = _at_most(shop.demoted_parts * rough.edges, 1.0)
    kept = (finish.edges - finish.failures) * share
    # No more roughers can be saved than are used.
    return rough.edge_cost * _at_most(kept, rough.edges)


def _at_most(value: Any, most: Any) -> Any:
    import numpy as np

    least = np.minimum(value, most)
    return least if np.ndim(least) else float(least)


def _idle(operations: Sequence[Operation], shop: ShopCosts) -> float:
    """Minutes that no operation holds: loading, and tool changes within a part that a set makes."""
    swap = shop.figure("swap_min") if len(operations) > 1 else 0.0
    return (shop.idle_min or 0.0) + swap


def _any(failures: Any) -> bool:
    return bool(failures.any()) if hasattr(failures, "any") else bool(failures)
