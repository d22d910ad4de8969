"""The records of a decision: every practice priced, and what the choice between them is worth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval
from wearlab.core.tables import ShownAsTable, plain
from wearlab.decide.best import Best, MoreCutters
from wearlab.decide.change_interval import ChangeInterval
from wearlab.decide.cost import ITEMS, PartCost
from wearlab.decide.pairs import OneOrSet
from wearlab.decide.sensitivity import Switch
from wearlab.decide.shop import ShopCosts
from wearlab.decide.speeds import SpeedChoice

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, repr=False)
class PracticeDecision:
    """What the money says of one practice.

    Attributes
    ----------
    group : str
    cutters : int
        Cutters with a life.
    cost : PartCost or None
        Mean money a part by item over plausible lives, cutters changed at the recommended intervals; None where
        `why_missing` says why.
    interval : Interval
        Of the money a part.
    chance_best, expected_loss : float
        Chance of being the cheapest; money a part that choosing it loses on average. Practices are compared each at
        the interval that suits it in each plausible world: what is not known of an interval is a cost of today, not
        a difference between practices. NaN where `why_no_chance` says why.
    changes : tuple of (str, ChangeInterval)
        Role and change interval of every cutter.
    fractures : int
        Cutters that chipped or broke, of all that ran.
    parts_known : bool
        Whether a part is a part; else it is one cm3.
    """

    group: str
    cutters: int
    cost: PartCost | None
    interval: Interval
    chance_best: float
    expected_loss: float
    changes: tuple[tuple[str, ChangeInterval], ...]
    fractures: int
    ran: int
    parts_known: bool
    notes: tuple[str, ...] = ()
    why_missing: str = ""
    why_no_chance: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        cost, part = self.cost, self.parts_known
        scale = 1.0 if part else math.nan
        limits = self.interval.to_dict()
        return plain(
            {
                "group": self.group,
                "cutters": self.cutters,
                "cost_per_cm3": math.nan if cost is None else cost.per_cm3,
                "cost_per_part": math.nan if cost is None else cost.per_part * scale,
                "cost_per_year": math.nan if cost is None else cost.per_year * scale,
                "low": limits["low"],
                "high": limits["high"],
                "level": limits["level"],
                "unbounded": limits["unbounded"],
                "items": None if cost is None else cost.items,
                "minutes_per_part": math.nan if cost is None else cost.minutes * scale,
                "time_money": math.nan if cost is None else cost.time_money,
                "cutter_money": math.nan if cost is None else cost.cutter_money,
                "chance_best": self.chance_best,
                "expected_loss": self.expected_loss,
                "change_interval": self.changes[0][1].to_dict() if len(self.changes) == 1 else None,
                "change_intervals": [{"role": role} | one.to_dict() for role, one in self.changes],
                "fractures": self.fractures,
                "cutters_run": self.ran,
                "notes": list(self.notes),
                "why_missing": self.why_missing or self.why_no_chance or None,
            }
        )


@dataclass(frozen=True, repr=False)
class Decision(ShownAsTable):
    """The decision on a trial.

    Attributes
    ----------
    by, clock, criteria, chosen
        What was compared, on which clock, at which criteria, and which cutters were kept (column=value).
    shop : ShopCosts
    practices : tuple of PracticeDecision
        In natural order of names.
    choice : str
        Practice of least expected cost; empty where none may be chosen.
    verdict : str
        As `best.settled`; empty where `why_no_choice` says why.
    best : Best or None
    more : tuple of MoreCutters
        Worth of further cutters, in money a year.
    switches : tuple of Switch
        Inputs that would change the choice.
    speeds : dict of str to SpeedChoice
        By practice, where the log tells life from speed.
    why_no_speeds : str
    rule, level, seed, draws
        How it was worked out.
    pairs : tuple of OneOrSet
        One cutter against a set, where the log holds both.
    """

    by: str
    clock: str
    criteria: tuple[str, ...]
    chosen: tuple[str, ...]
    shop: ShopCosts
    practices: tuple[PracticeDecision, ...]
    choice: str
    verdict: str
    best: Best | None
    more: tuple[MoreCutters, ...]
    switches: tuple[Switch, ...]
    speeds: dict[str, SpeedChoice]
    why_no_speeds: str
    left_out: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    rule: str
    level: float
    seed: int
    draws: int
    why_no_choice: str = ""
    pairs: tuple[OneOrSet, ...] = ()

    def practice(self, group: str) -> PracticeDecision:
        """One practice by name.

        Raises
        ------
        ArgumentError
            There is none of that name.
        """
        for one in self.practices:
            if one.group == group:
                return one
        names = ", ".join(one.group for one in self.practices)
        raise ArgumentError(f"no practice {group!r}", where="practice", allowed=names)

    def to_frame(self) -> pd.DataFrame:
        """One row a practice."""
        import pandas as pd

        rows = []
        for one in self.practices:
            row = one.to_dict()
            change = row.pop("change_interval") or {}
            items = row.pop("items") or {}
            row.pop("change_intervals")
            row["notes"] = "; ".join(row["notes"])
            row |= {"low": one.interval.low, "high": one.interval.high}
            row |= {f"money_{name}": items.get(name) for name in ITEMS}
            row |= {"change_interval": change.get("interval"), "change_parts": change.get("parts")}
            rows.append(row)
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        return plain(
            {
                "by": self.by,
                "clock": self.clock,
                "criteria": list(self.criteria),
                "currency": self.shop.currency,
                "costs": self.shop.to_dict(),
                "choice": self.choice or None,
                "verdict": self.verdict or None,
                "practices": [one.to_dict() for one in self.practices],
                "perfect_information": math.nan if self.best is None else self.best.perfect_information,
                "worth_of_more": [one.to_dict() for one in self.more],
                "sensitivity": [one.to_dict() for one in self.switches],
                "one_or_set": [one.to_dict() for one in self.pairs],
                "speeds": {name: one.to_dict() for name, one in self.speeds.items()},
                "why_no_speeds": self.why_no_speeds or None,
                "left_out": [{"cutter": cutter, "why": why} for cutter, why in self.left_out],
                "notes": list(self.notes),
                "rule": self.rule,
                "level": self.level,
                "seed": self.seed,
                "draws": self.draws,
                "why_missing": self.why_no_choice or None,
            }
        )

    def __repr__(self) -> str:
        return f"<Decision by {self.by}: {self.choice or 'no choice'} ({self.verdict or self.why_no_choice})>"
