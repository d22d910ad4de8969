"""Which input would change the choice, and at what value."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain

REACH = 20.0
"""Inputs are looked at from this times smaller to this times larger than they are."""
PRECISION = 1e-9
"""Relative precision of the value."""
STEPS = 49
"""Values looked at over that range."""


@dataclass(frozen=True, slots=True)
class Switch:
    """What one input would have to be for the other choice to be cheaper.

    Attributes
    ----------
    input : str
        Name of the input.
    current : float
        Its value now.
    switch_at : float
        The nearest value at which the choice changes; NaN where none does within reach.
    then : str
        The cheaper choice beyond it.
    factor : float
        switch_at / current.
    why_missing : str
    """

    input: str
    current: float
    switch_at: float
    then: str
    factor: float
    why_missing: str = ""

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain(
            {
                "input": self.input,
                "current": self.current,
                "switch_at": self.switch_at,
                "factor": self.factor,
                "then": self.then or None,
                "why_missing": self.why_missing or None,
            }
        )


def switching_value(
    name: str, current: float, costs: Callable[[float], dict[str, float]], reach: float = REACH
) -> Switch:
    """The value of an input, nearest to its present one, at which another choice becomes the cheapest.

    Parameters
    ----------
    name : str
        Of the input.
    current : float
        Its value now, above 0.
    costs : callable
        Cost of every choice when the input has a value.
    reach : float
        How many times smaller and larger to look.

    Examples
    --------
    >>> found = switching_value("price", 10.0, lambda price: {"a": 5.0 + price, "b": 2.0 + 1.2 * price})
    >>> found.then, round(found.switch_at, 6)
    ('a', 15.0)
    """
    if not (current > 0 and math.isfinite(current)):
        return Switch(name, current, math.nan, "", math.nan, "the input is 0 or not known")
    if not reach > 1:
        raise ArgumentError(f"reach {reach:g}", where="sensitivity", allowed="above 1")
    now = _cheapest(costs(current))
    found = [
        one for side in (-1.0, 1.0) if (one := _first_change(costs, current, now, side * math.log(reach))) is not None
    ]
    if not found:
        why = f"{now} stays the cheapest from {current / reach:.4g} to {current * reach:.4g}"
        return Switch(name, current, math.nan, "", math.nan, why)
    at, then = min(found, key=lambda pair: abs(math.log(pair[0] / current)))
    return Switch(name, current, at, then, at / current)


def _cheapest(costs: dict[str, float]) -> str:
    return min(costs, key=lambda name: costs[name])


def _first_change(
    costs: Callable[[float], dict[str, float]], current: float, now: str, span: float
) -> tuple[float, str] | None:
    """First value away from the present one with another cheapest choice, found by halving."""
    steps = np.linspace(0.0, span, STEPS // 2 + 1)[1:]
    same = 0.0
    for step in steps:
        if _cheapest(costs(current * math.exp(step))) != now:
            other = float(step)
            while abs(other - same) > PRECISION:
                middle = 0.5 * (same + other)
                if _cheapest(costs(current * math.exp(middle))) == now:
                    same = middle
                else:
                    other = middle
            return current * math.exp(other), _cheapest(costs(current * math.exp(other)))
        same = float(step)
    return None
