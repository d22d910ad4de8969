"""The record of one tool life."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ToolLife:
    """Life of one cutter at one criterion on one clock.

    Attributes
    ----------
    life : float
        Where exact; else NaN.
    low, high : float
        What is known of the life: life itself where exact, the interval where interval, 0 and the first reading
        where left, the last reading and infinity where right.
    status : str
        exact, interval, left, right or none.
    cause : str
        worn, fracture, or why the run ended.
    bracket_low, bracket_high : float
        The two readings around the crossing.
    why_missing : str
        Why there is no life.
    """

    cutter: str
    criterion: str
    zone: str
    clock: str
    life: float
    low: float
    high: float
    status: str
    cause: str
    bracket_low: float
    bracket_high: float
    first_crossing: float
    last_crossing: float
    why_missing: str = ""
