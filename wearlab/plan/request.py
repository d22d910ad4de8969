"""What is asked of a plan: the records, and the file (TOML) that they are read from.

Every key but the feature, the cutter, speed and feed, and the practices has a default; what was taken for granted is
part of the record, so that sheets and report can state it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import plain
from wearlab.milling.practices import Cutter, Feature

CV = 0.35
"""Coefficient of variation of tool life that is assumed where nobody knows better: the middle of the 25 to 45 % that
Machinery's Handbook (31st edition, p. 139) calls typical for cutting tools."""
CV_SOURCE = (
    "assumed: the middle of the 25 to 45 % that Machinery's Handbook, 31st edition, p. 139, calls typical"
)


@dataclass(frozen=True, slots=True)
class PracticeRequest:
    """One practice that is to be tried.

    Attributes
    ----------
    name : str
        Word of the log's column `strategy`.
    kind : str
        Which practice of `wearlab.milling.practices` it is; the name itself unless stated.
    options : dict
        What that practice needs: layers, steps, pitch_mm, ...
    expected_life_min : float or None
        A guess in minutes in the metal at the trial's speed; it sets looks, bar stock and hours, no verdict.
    """

    name: str
    kind: str
    options: Mapping[str, Any]
    expected_life_min: float | None = None


@dataclass(frozen=True, slots=True)
class SizeRequest:
    """How the question is to be settled, and how many cutters that takes.

    Attributes
    ----------
    outcome : str
        life, rate or wall: the outcome that decides.
    margin : float
        Smallest ratio worth acting on.
    level, power : float
        Confidence level, and the chance with which the ratio is to be found.
    ratio : float
        True ratio that must not be missed.
    cutters : int or None
        Cutters a practice; None = as many as `ratio` takes.
    most : int
        Largest size that is put forward when `cutters` is left open.
    wall_um, wall_sd_um : float or None
        Difference of wall error worth acting on, and its scatter between cutters.
    """

    outcome: str = "life"
    margin: float = 1.25
    level: float = 0.95
    power: float = 0.8
    ratio: float = 1.5
    cutters: int | None = None
    most: int = 30
    wall_um: float | None = None
    wall_sd_um: float | None = None


@dataclass(frozen=True, slots=True)
class ScatterRequest:
    """Scatter of tool life between cutters.

    Attributes
    ----------
    cv : float
        Coefficient of variation between cutters under one condition.
    source : str
        Where it comes from.
    correlation : float
        Of ln life of two cutters in one block.
    drop_out : float
        Chance that a cutter is lost to the trial.
    taylor_n : float
        Guess of the Taylor exponent, for speeds.
    """

    cv: float = CV
    source: str = CV_SOURCE
    correlation: float = 0.0
    drop_out: float = 0.0
    taylor_n: float = 0.25


@dataclass(frozen=True, slots=True)
class BlockRequest:
    """What runs share.

    Attributes
    ----------
    use : bool
        False = no blocks: all runs in one random order.
    holds : int or None
        Runs that one block (a bar, a day) has room for; None = one of every practice.
    bars, days, batches : bool
        Whether each block is a bar, a day, a cutter batch of its own.
    machines, holders : tuple of str
        Names; machines take turns block by block, holders are swapped between practices.
    """

    use: bool = True
    holds: int | None = None
    bars: bool = True
    days: bool = True
    batches: bool = False
    machines: tuple[str, ...] = ()
    holders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SpeedRequest:
    """A Taylor trial of one practice.

    Attributes
    ----------
    practice : str
    lowest_m_min, highest_m_min : float
        Permitted range.
    cutters : int
        Cutters in all.
    speeds_m_min : tuple of float
        Speeds to use; empty = chosen.
    counts : tuple of int
        Cutters at each of them.
    shortest_life_min : float
        Life below which a speed is not used: too short to be read.
    """

    practice: str
    lowest_m_min: float
    highest_m_min: float
    cutters: int = 12
    speeds_m_min: tuple[float, ...] = ()
    counts: tuple[int, ...] = ()
    shortest_life_min: float = 5.0


@dataclass(frozen=True, slots=True)
class LookRequest:
    """When to measure.

    Attributes
    ----------
    per_life : int
        Looks up to the expected life.
    first : float
        Share of the expected life at which the first look after the new edge is made.
    minutes : float
        Spindle-stopping time of one look.
    gauge_mm : float
        Standard deviation of one mean land.
    """

    per_life: int = 7
    first: float = 0.08
    minutes: float = 6.0
    gauge_mm: float = 0.0064


@dataclass(frozen=True, slots=True)
class InterimRequest:
    """Looks at the verdict before the end: how many blocks are complete at each, and how the error is spent."""

    at_blocks: tuple[int, ...] = ()
    spending: str = "obrien_fleming"
    give_up_below: float = 0.10


@dataclass(frozen=True, slots=True)
class StudyRequest:
    """Size of the measurement study."""

    parts: int = 10
    operators: tuple[str, ...] = ("A", "B", "C")
    repeats: int = 2


@dataclass(frozen=True, slots=True)
class WallRequest:
    """What is measured on the part: heights of width and walls, pins; empty = nothing."""

    heights_mm: tuple[float, ...] = ()
    pins_mm: tuple[float, ...] = ()
    sides: bool = False


@dataclass(frozen=True, slots=True)
class Money:
    """Rates; None = not known, and then the sum that needs it is not given."""

    currency: str = ""
    machine_per_min: float | None = None
    change_min: float = 0.0
    cutter_price: float | None = None
    density_g_cm3: float = 7.85
    bar_per_kg: float | None = None
    bar_cm3: float | None = None


@dataclass(frozen=True)
class Request:
    """Everything that a plan is made from."""

    name: str
    feature: Feature
    cutter: Cutter
    cutting_speed_m_min: float
    feed_per_tooth_mm: float
    practices: tuple[PracticeRequest, ...]
    question: str = ""
    standard: str = ""
    seed: int = 20260101
    plunge_feed_per_tooth_mm: float | None = None
    cutter_facts: Mapping[str, Any] = field(default_factory=dict)
    work_facts: Mapping[str, Any] = field(default_factory=dict)
    rule: str = "feed_per_tooth"
    criteria: tuple[tuple[str, str], ...] = ()
    tolerance: Mapping[str, Any] = field(default_factory=dict)
    size: SizeRequest = SizeRequest()
    scatter: ScatterRequest = ScatterRequest()
    blocks: BlockRequest = BlockRequest()
    speeds: SpeedRequest | None = None
    looks: LookRequest = LookRequest()
    interim: InterimRequest = InterimRequest()
    study: StudyRequest = StudyRequest()
    walls: WallRequest = WallRequest()
    money: Money = Money()
    zones: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    units: str = "metric"

    @property
    def reference(self) -> PracticeRequest:
        """The practice that the others are matched to: the standard, else the first."""
        return next((one for one in self.practices if one.name == self.standard), self.practices[0])

    def with_seed(self, seed: int) -> Request:
        """The same request, ordered by another seed.

        Raises
        ------
        ArgumentError
            The seed is negative.
        """
        if seed < 0:
            raise ArgumentError(f"seed {seed}", where="--seed", allowed="a whole number from 0")
        return replace(self, seed=seed)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, every default stated."""
        made: dict[str, Any] = plain({**asdict(self), "zones": {k: list(v) for k, v in self.zones.items()}})
        if self.units == "metric":  # a plan written before there were inch ones keeps its mark
            del made["units"]
        return made

    @property
    def fingerprint(self) -> str:
        """Eight figures that change with anything that is asked: the log carries them."""
        text = json.dumps(self.to_dict(), sort_keys=True, ensure_ascii=False)
        return hashlib.sha256(text.encode("utf-8")).hexdigest()[:8]
