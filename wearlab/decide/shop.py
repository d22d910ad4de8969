"""What the shop's money is: the section [cost] of the trial file, checked; a missing figure is asked for by name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import nearest, plain

MEANINGS: dict[str, str] = {
    "currency": "name of the money",
    "machine_per_min": "money for one minute of the machine with its operator",
    "change_min": "minutes to change a worn cutter, setting included",
    "scrap": "money lost with one spoiled part",
    "failure": "money that a cutter failing in service costs beyond edge, change and the spoiled part",
    "drill": "money for the predrilled holes of one part, drill and time, where no drill stands in the log",
    "parts_per_year": "parts a year that the choice affects",
    "edge_price": "money for one new edge, where the log has no cutter_price",
    "regrinds": "times that a cutter is reground; not stated = thrown away when worn",
    "regrind_price": "money for one regrind",
    "salvage": "money got back for a worn-out cutter; not stated = nothing",
    "idle_min": "loading and other minutes a part, the same for every practice",
    "swap_min": "minutes of tool changes within one part, where a set of cutters makes it",
    "demoted_parts": "parts that a finisher, worn for finishing, still makes as a rougher; not stated = thrown away",
}
"""Every cost by its key, with its meaning."""
STATED_IN_FILE = (
    "currency",
    "machine_per_min",
    "change_min",
    "scrap",
    "failure",
    "drill",
    "parts_per_year",
    "edge_price",
    "regrinds",
    "regrind_price",
    "salvage",
    "idle_min",
    "swap_min",
    "demoted_parts",
)
"""Keys that the trial file knows."""


@dataclass(frozen=True, slots=True)
class ShopCosts:
    """The shop's costs; None where a figure was not stated. See `MEANINGS` for what each one is."""

    currency: str = ""
    machine_per_min: float | None = None
    change_min: float | None = None
    scrap: float | None = None
    failure: float | None = None
    drill: float | None = None
    parts_per_year: float | None = None
    edge_price: float | None = None
    regrinds: float | None = None
    regrind_price: float | None = None
    salvage: float | None = None
    idle_min: float | None = None
    swap_min: float | None = None
    demoted_parts: float | None = None

    def need(self, *names: str) -> None:
        """Raise when any of these was not stated.

        Raises
        ------
        Refusal
            Names every missing figure with its meaning.
        """
        missing = [name for name in names if getattr(self, name) is None]
        if missing:
            asked = "; ".join(f"{name} ({MEANINGS[name]})" for name in missing)
            raise Refusal(
                f"not stated: {asked}",
                where="costs",
                hint="state it under [cost] in the trial file or with --cost NAME=VALUE; 0 only where it "
                "really costs nothing",
            )

    def figure(self, name: str) -> float:
        """One figure that is needed."""
        self.need(name)
        return float(getattr(self, name))

    def with_(self, **changes: float) -> ShopCosts:
        """The same costs with some of them changed."""
        return replace(self, **changes)  # type: ignore[arg-type]

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({field.name: getattr(self, field.name) for field in fields(self)})


def read_costs(stated: Mapping[str, Any], also: Mapping[str, Any] | None = None) -> ShopCosts:
    """Costs from a trial file's section and from what is given beside it, which counts more.

    Parameters
    ----------
    stated : mapping of str to value
        As `TrialSettings.cost`.
    also : mapping of str to value, optional
        Further figures, as from `--cost NAME=VALUE`; numbers may be text.

    Raises
    ------
    ArgumentError
        A key is not known, or a figure is no number, negative or not finite.

    Examples
    --------
    >>> read_costs({"machine_per_min": 1.2}, {"change_min": "4"}).change_min
    4.0
    """
    values: dict[str, Any] = {}
    for name, value in {**stated, **(also or {})}.items():
        if name not in MEANINGS:
            raise ArgumentError(
                f"{name!r}", where="cost", allowed=", ".join(MEANINGS), hint=nearest(name, list(MEANINGS))
            )
        values[name] = str(value) if name == "currency" else _number(name, value)
    return ShopCosts(**values)


def read_cost_words(words: tuple[str, ...]) -> dict[str, str]:
    """Read `--cost NAME=VALUE` texts.

    >>> read_cost_words(("failure=120", "idle_min=0.5"))
    {'failure': '120', 'idle_min': '0.5'}
    """
    found = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise ArgumentError(f"{word!r}", where="--cost", allowed="NAME=VALUE, such as failure=120")
        found[name.strip()] = value.strip()
    return found


def _number(name: str, value: Any) -> float:
    try:
        number = math.nan if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number) or number < 0:
        raise ArgumentError(f"{name} = {value!r}", where="cost", allowed="a number from 0")
    if name == "regrinds" and number != round(number):
        raise ArgumentError(f"regrinds = {value!r}", where="cost", allowed="a whole number")
    return number
