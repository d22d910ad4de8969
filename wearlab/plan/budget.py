"""Bar stock, spindle hours and money of a trial of a size: what limits most trials before the cutters do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from wearlab.core.tables import plain
from wearlab.plan.looks import Looks
from wearlab.plan.matched import Arm
from wearlab.plan.request import Money


@dataclass(frozen=True, slots=True)
class ArmUse:
    """What one cutter of an arm is expected to use up.

    Attributes
    ----------
    minutes : float
        In the metal, up to its expected life.
    parts : float
    cm3, kg : float
        Bar that becomes chips.
    machine_min : float
        Feed and rapid moves, looks and one cutter change.
    """

    name: str
    minutes: float
    parts: float
    cm3: float
    kg: float
    machine_min: float


@dataclass(frozen=True, slots=True)
class Budget:
    """What a trial of a size is expected to use up; NaN where a rate is not known.

    Attributes
    ----------
    cutters : int
        A practice.
    cutters_in_all : int
    parts, cm3, kg, machine_hours : float
    money : float
        Machine, cutters and bar.
    why_missing : str
        Rates that are not known.
    """

    cutters: int
    cutters_in_all: int
    parts: float
    cm3: float
    kg: float
    machine_hours: float
    money: float
    why_missing: str

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


def arm_use(arm: Arm, looks: Looks | None, money: Money) -> ArmUse:
    """One cutter's use; NaN without an expected life."""
    life = math.nan if arm.expected_life_min is None else arm.expected_life_min
    parts = life / arm.minutes_a_part
    cm3 = parts * arm.part_cm3
    stops = looks.stop_min * looks.expected_looks if looks is not None else 0.0
    return ArmUse(
        arm.name,
        life,
        parts,
        cm3,
        cm3 * money.density_g_cm3 / 1000.0,
        parts * arm.practice.machine_time_min + stops + money.change_min,
    )


def budget(
    uses: Sequence[ArmUse], cutters: int, money: Money, more: Iterable[tuple[ArmUse, int]] = ()
) -> Budget:
    """Use of a whole trial.

    Parameters
    ----------
    uses : sequence of ArmUse
        Practices that are compared.
    cutters : int
        Cutters of each.
    money : Money
        Rates.
    more : iterable of (ArmUse, int)
        Arms of the Taylor trial and their cutters.

    Examples
    --------
    >>> use = ArmUse("layered", 60, 47.75, 458.4, 3.598, 70)
    >>> found = budget([use], 12, Money())
    >>> round(found.kg, 1), found.why_missing
    (43.2, 'machine_per_min, cutter_price, bar_per_kg')
    """
    counted = [(use, cutters) for use in uses] + list(more)

    def total(name: str) -> float:
        return sum(getattr(use, name) * count for use, count in counted)

    rates = {name: getattr(money, name) for name in ("machine_per_min", "cutter_price", "bar_per_kg")}
    missing = [name for name, rate in rates.items() if rate is None]
    in_all = sum(count for _, count in counted)
    cost = math.nan
    if not missing:
        cost = (
            total("machine_min") * rates["machine_per_min"]
            + in_all * rates["cutter_price"]
            + total("kg") * rates["bar_per_kg"]
        )
    return Budget(
        cutters,
        in_all,
        total("parts"),
        total("cm3"),
        total("kg"),
        total("machine_min") / 60.0,
        cost,
        ", ".join(missing),
    )


def blocks_over_a_bar(uses: Sequence[ArmUse], bar_cm3: float | None) -> float | None:
    """Bars that one block takes, when a block is to be one bar; None where that is not known."""
    need = sum(use.cm3 for use in uses)
    return None if bar_cm3 is None or not math.isfinite(need) else need / bar_cm3
