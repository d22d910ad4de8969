"""One simulated trial: a log with its truth."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.tables import nearest, plain
from wearlab.simulate.course import Course, Plan, Slots, make_plan, measure_slots, run_course
from wearlab.simulate.spec import TrialSpec, check_spec
from wearlab.simulate.table import cutter_names, log_rows, log_text

if TYPE_CHECKING:
    import pandas as pd

LABEL = "invented, simulated"
"""Stands in everything that is made here."""


@dataclass(frozen=True)
class SimulatedTrial:
    """A simulated log and what is true of it.

    Attributes
    ----------
    spec : TrialSpec
    rows : pandas.DataFrame
        One row a reading, in the columns of the log; "" or nan where there is nothing.
    truth : dict
        JSON-ready: the parameters, what follows from them, and the true lives of every cutter.
    """

    spec: TrialSpec
    rows: pd.DataFrame
    truth: dict[str, Any]

    def text(self) -> str:
        """The log as a flat CSV."""
        return log_text(self.rows)

    def true_lives(self, limit_mm: float, zone: str = "", statistic: str = "mean") -> dict[str, float]:
        """True life of every cutter in minutes, to a land that the gauges have no part in.

        Parameters
        ----------
        limit_mm : float
            Land.
        zone : str
            Zone of the edge; empty = whichever of the zones that wear gets there first.
        statistic : {"mean", "worst"}
            Mean of the flutes, or the flute that wears most.

        >>> from wearlab.simulate.shoulder import shoulder_spec
        >>> trial = simulate_trial(shoulder_spec(), rng=1)
        >>> lives = trial.true_lives(0.2, "lower")
        >>> lives == {cutter["cutter"]: cutter["life_min"]["lower"] for cutter in trial.truth["cutters"]}
        True
        """
        if statistic not in ("mean", "worst"):
            raise ArgumentError(f"statistic {statistic!r}", where="true_lives", allowed="mean, worst")
        names = [z.name for z in self.spec.zones]
        if zone and zone not in names:
            raise ArgumentError(
                f"zone {zone!r}", where="true_lives", allowed=", ".join(names), hint=nearest(zone, names)
            )
        curve, lives = self.spec.truth.curve, {}
        for cutter in self.truth["cutters"]:
            high = 1 + max(cutter["flute_offset"]) if statistic == "worst" else 1.0
            of_zones = cutter["life_min"]
            shortest = of_zones.get(zone, math.inf) if zone else min(of_zones.values())
            # The end of life itself is exact; everything else is looked up on the curve.
            age = 1.0 if limit_mm / high == curve.limit_mm else float(curve.age_at(limit_mm / high))
            lives[cutter["cutter"]] = shortest * age
        return lives


def simulate_trial(spec: TrialSpec, rng: int | np.random.Generator | None = None) -> SimulatedTrial:
    """Run an invented trial.

    Parameters
    ----------
    spec : TrialSpec
        What is to be run and what is true.
    rng : int, numpy.random.Generator or None
        Passed to `numpy.random.default_rng`; the same whole number gives the same trial.

    Raises
    ------
    ArgumentError
        When the parts of the specification do not fit together.

    Examples
    --------
    >>> from wearlab.simulate.shoulder import shoulder_spec
    >>> trial = simulate_trial(shoulder_spec(), rng=1)
    >>> trial.rows["cutter"].nunique(), round(trial.truth["life_ratio"]["lower"], 2)
    (21, 2.75)
    """
    check_spec(spec)
    generator = np.random.default_rng(rng)
    plan = make_plan(spec, generator)
    course = run_course(spec, plan, generator)
    slots = measure_slots(spec, course, generator)
    rows = log_rows(spec, plan, course, slots, generator)
    return SimulatedTrial(spec, rows, _truth(spec, plan, course, slots))


def _truth(spec: TrialSpec, plan: Plan, course: Course, slots: Slots) -> dict[str, Any]:
    truth, curve = spec.truth, spec.truth.curve
    facts = {
        "label": LABEL,
        "trial": spec.name,
        "criterion": f"{truth.stop_zone}:VB.mean={curve.limit_mm:g}mm",
        "n": truth.n,
        "reference_speed_m_min": truth.reference_speed_m_min,
        "C_m_min": {p.strategy: _constant(spec, p.strategy) for p in spec.practices},
        "sigma_ln_life": truth.sigma,
        "block_sigma_ln_life": truth.block_scatter,
        "zone_sigma_ln_life": truth.zone_scatter,
        "flute_scatter": truth.flute_scatter,
        "median_life_min": _by_zone(spec, lambda life: life),
        "steady_rate_mm_min": _by_zone(spec, lambda life: curve.steady_mm / life),
        **_ratios(spec),
        "land_curve": {name: getattr(curve, name) for name in curve.__slots__}
        | {"steady_mm": curve.steady_mm},
        "gauges": {name: getattr(spec.gauges, name) for name in spec.gauges.__slots__},
        "witness": {name: getattr(spec.witness, name) for name in spec.witness.__slots__},
        "pins_true_mm": np.round(slots.pin_mm, 6),
        "cutters": _cutters(spec, plan, course),
    }
    result: dict[str, Any] = plain(facts)
    return result


def _constant(spec: TrialSpec, strategy: str) -> float:
    """C of V T^n = C, for the zone of the stop rule."""
    truth = spec.truth
    life = spec.median_life_min(strategy, truth.stop_zone)
    return float(truth.reference_speed_m_min * life**truth.n)


def _by_zone(spec: TrialSpec, figure: Any) -> dict[str, dict[str, float]]:
    """A figure of the median life at the reference speed, by practice and zone; none where a zone never
    wears."""
    return {
        practice.strategy: {
            zone.name: figure(life)
            for zone, life in zip(spec.zones, practice.life_min, strict=True)
            if np.isfinite(life)
        }
        for practice in spec.practices
    }


def _ratios(spec: TrialSpec) -> dict[str, Any]:
    """True ratios of the last practice to the first, and how much of the edge each wears."""
    if len(spec.practices) < 2:
        return {}
    first, last = spec.practices[0], spec.practices[-1]
    lives = {
        zone.name: b / a
        for zone, a, b in zip(spec.zones, first.life_min, last.life_min, strict=True)
        if np.isfinite(a) and np.isfinite(b)
    }
    return {
        "ratio_of": f"life {last.strategy} / {first.strategy}; wear rate {first.strategy} / {last.strategy}",
        "life_ratio": lives,
        "rate_ratio": dict(lives),
        "exposure_band": _exposure_band(spec),
    }


def _exposure_band(spec: TrialSpec) -> tuple[float, float]:
    """What edge exposure predicts for the ratio at the bottom of the edge: by sliding, and by chip per mm of
    edge.

    Sliding per volume goes as phi_e / (ap ae) and chip per mm of edge as 1 / ap, at one diameter, number of
    teeth and feed per tooth (derived)."""
    first, last = spec.practices[0], spec.practices[-1]
    sliding = [
        math.acos(1 - 2 * p.radial_width_mm / spec.shop.diameter_mm) / (p.axial_depth_mm * p.radial_width_mm)
        for p in (first, last)
    ]
    ratios = sliding[0] / sliding[1], last.axial_depth_mm / first.axial_depth_mm
    return min(ratios), max(ratios)


def _cutters(spec: TrialSpec, plan: Plan, course: Course) -> list[dict[str, Any]]:
    names = cutter_names(plan)
    zones = [zone.name for zone in spec.zones]
    return [
        {
            "cutter": names[i],
            "strategy": spec.arms[plan.arm[i]].strategy,
            "cutting_speed_m_min": plan.speed_m_min[i],
            "block": str(plan.block[i]),
            "life_min": {
                z: t for z, t in zip(zones, course.life_min[i].tolist(), strict=True) if np.isfinite(t)
            },
            "flute_offset": course.flute_offset[i],
            "last_reading": course.last[i] + 1,
            "end_reason": course.reason[i],
        }
        for i in range(len(names))
    ]
