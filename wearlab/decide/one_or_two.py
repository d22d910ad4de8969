"""One cutter for rough and finish, or a cutter each: cost a part both ways, and the price at which they are equal."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Work:
    """One cutter's work on a part.

    Attributes
    ----------
    minutes : float
        Machine minutes a part.
    parts : float
        Parts that one edge makes: of a single cutter and of a finisher to its size criterion, of a rougher to its
        roughing criterion.
    edge_cost : float
        Money for one edge.
    afterlife : float
        Money that a worn finisher is still worth as a rougher; 0 where it is thrown away.
    """

    minutes: float
    parts: float
    edge_cost: float
    afterlife: float = 0.0

    def __post_init__(self) -> None:
        for name, least in (("minutes", 0.0), ("parts", 0.0)):
            if not getattr(self, name) > least:
                raise ArgumentError(f"{getattr(self, name):g}", where=name, allowed="above 0")
        if self.edge_cost < 0 or self.afterlife < 0:
            raise ArgumentError(f"edge {self.edge_cost:g}, afterlife {self.afterlife:g}", allowed="from 0")


@dataclass(frozen=True, slots=True)
class OneOrTwo:
    """Cost a part with one cutter and with a pair.

    Attributes
    ----------
    single_per_part, pair_per_part : float
    break_even_price : float
        Price of an edge of the single cutter at which both cost the same, the pair's prices held; below 0 where the
        single cutter loses even when it is free.
    break_even_all : float
        Price at which both cost the same when all edges have this one price; NaN where no price does.
    cheaper : str
        single or pair.
    """

    single_per_part: float
    pair_per_part: float
    break_even_price: float
    break_even_all: float
    cheaper: str

    @property
    def saving_per_part(self) -> float:
        """Money a part that the cheaper way saves."""
        return abs(self.single_per_part - self.pair_per_part)

    def to_frame(self) -> pd.DataFrame:
        """One row a way."""
        import pandas as pd

        return pd.DataFrame({"way": ["single", "pair"], "per_part": [self.single_per_part, self.pair_per_part]})

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({name: getattr(self, name) for name in self.__slots__})


def one_or_two(
    single: Work,
    rough: Work,
    finish: Work,
    *,
    machine_per_min: float,
    change_min: float,
    swap_min: float = 0.0,
) -> OneOrTwo:
    """Compare one cutter that roughs and finishes with a cutter for each.

    Parameters
    ----------
    single, rough, finish : Work
    machine_per_min, change_min : float
        Money a machine minute, minutes to change a worn cutter.
    swap_min : float
        Minutes a part to swap rougher and finisher in the spindle.

    Returns
    -------
    OneOrTwo

    Notes
    -----
    One: c t_1 + (C_1 + c t_ch)/N_1. Pair: c (t_r + t_f + t_swap) + (C_r + c t_ch)/N_r + (C_f - A + c t_ch)/N_f, with A
    what a worn finisher is worth as a rougher (derived).

    Examples
    --------
    >>> made = one_or_two(Work(9.0, 12, 28.0), Work(8.4, 30, 28.0), Work(0.9, 80, 28.0),
    ...                   machine_per_min=1.2, change_min=3.0, swap_min=0.2)
    >>> round(made.single_per_part, 2), round(made.pair_per_part, 2), round(made.break_even_price, 2)
    (13.43, 12.85, 20.98)
    """
    if not machine_per_min > 0 or change_min < 0 or swap_min < 0:
        raise ArgumentError(f"{machine_per_min:g} a minute, {change_min:g} and {swap_min:g} min", allowed="from 0")
    change = machine_per_min * change_min

    def edge_money(work: Work) -> float:
        return (work.edge_cost - work.afterlife + change) / work.parts

    one = machine_per_min * single.minutes + edge_money(single)
    pair = machine_per_min * (rough.minutes + finish.minutes + swap_min) + edge_money(rough) + edge_money(finish)
    price = single.parts * (pair - machine_per_min * single.minutes) - change + single.afterlife
    return OneOrTwo(
        one, pair, price, _common_price(single, rough, finish, one, pair), "single" if one <= pair else "pair"
    )


def demoted_worth(rough_edge_cost: float, rough_parts: float, afterlife_parts: float) -> float:
    """What a worn finisher is worth as a rougher: the share of a rougher's parts that it still makes, at its price.

    It saves no change: it has to be changed for as a new rougher would.

    >>> demoted_worth(28.0, 30.0, 21.0)
    19.6
    """
    if not rough_parts > 0 or not 0 <= afterlife_parts <= rough_parts:
        raise ArgumentError(
            f"{afterlife_parts:g} of {rough_parts:g} parts", where="afterlife_parts", allowed="from 0 to a new edge's"
        )
    return rough_edge_cost * afterlife_parts / rough_parts


def _common_price(single: Work, rough: Work, finish: Work, one: float, pair: float) -> float:
    """Price at which both ways cost the same when every edge has it."""
    slope = 1.0 / single.parts - 1.0 / rough.parts - 1.0 / finish.parts
    without = (one - single.edge_cost / single.parts) - (
        pair - rough.edge_cost / rough.parts - finish.edge_cost / finish.parts
    )
    if slope == 0:
        return math.nan
    price = -without / slope
    return price if price >= 0 else math.nan
