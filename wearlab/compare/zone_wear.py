"""Predicted and measured wear by zone: rates of every zone of every practice beside what edge exposure makes of one
of them.

Exposure tells ratios and not sizes. So one zone of one practice is taken as measured, and the others follow from it
under each hypothesis of how a land grows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.compare import compare
from wearlab.compare.contrast import Contrast
from wearlab.compare.exposures import Exposures
from wearlab.compare.predicted import CLOCKS, PredictedBand
from wearlab.core.errors import Refusal, WearlabError
from wearlab.core.interval import Interval
from wearlab.core.tables import plain, records
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.milling.exposure import HYPOTHESES
from wearlab.milling.hypotheses import growth
from wearlab.wall.over_cutters import over_cutters
from wearlab.wear.curves import WearCurves, wear_curves
from wearlab.wear.rate import wear_rates

LAND = "VB"
PREFERRED = ("lower", "middle", "upper")
"""Zones in which the land is of one form; a sharp corner chips and follows no exposure."""


@dataclass(frozen=True, eq=False)
class ZoneWear:
    """Wear by zone, predicted and measured.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a group and zone: `rate` (mean over cutters, mm per unit of the clock) with `low`, `high`, `level`,
        `cutters`; `predicted_low`, `predicted_high`; `position` (reference, inside, reaches, above, below);
        `why_missing`.
    reference : (str, str)
        Group and zone that were taken as measured.
    clock : str
    contrasts : tuple of Contrast
        Ratio of wear rates between groups in every zone, with the predicted band.
    standing : dict of int to tuple of str
        For each contrast by its place: hypotheses whose ratio lies inside the measured interval.
    """

    table: pd.DataFrame
    reference: tuple[str, str]
    clock: str
    contrasts: tuple[Contrast, ...]
    standing: dict[int, tuple[str, ...]]

    def to_frame(self) -> pd.DataFrame:
        """The table."""
        return self.table

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "rate_clock": self.clock,
            "reference": {"group": self.reference[0], "zone": self.reference[1]},
            "measured": records(self.table),
            "measured_ratios": [
                _ratio_row(one) | {"standing": list(self.standing.get(at, ()))} for at, one in enumerate(self.contrasts)
            ],
        }


def zone_wear(
    trial: Trial,
    found: Exposures,
    facts: pd.DataFrame,
    criterion: Criterion,
    clock: str,
    *,
    by: str = "strategy",
    standard: str = "",
    choose: Sequence[str] = (),
    level: float = 0.95,
    curves: WearCurves | None = None,
) -> ZoneWear:
    """Set measured wear by zone beside what exposure predicts.

    Parameters
    ----------
    trial : Trial
    found : Exposures
        Of the groups, over the zones that were read.
    facts : pandas.DataFrame
        Cutters to be used, with a column `group`.
    criterion : Criterion
        Its limit ends the steady stage where it is one of a land.
    clock : str
        Column name of the clock.
    by, standard, choose, level
        As `compare.compare.compare`.

    Raises
    ------
    Refusal
        No group has a rate in a zone with an exposure.

    Examples
    --------
    >>> from wearlab.compare.exposures import trial_exposures
    >>> from wearlab.compare.groups import common_ground, make_groups
    >>> from wearlab.logbook.criterion import parse_criterion
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("shoulder_demo"))
    >>> own, _ = common_ground(make_groups(trial.facts(), "strategy").facts, ("layered", "side"), "strategy", ())
    >>> wear = zone_wear(trial, trial_exposures(trial, facts=own), own, parse_criterion("VB=0.2mm"), "volume_cm3")
    >>> wear.reference, wear.table.set_index(["group", "zone"])["position"].loc[("side", "lower")]
    (('layered', 'lower'), 'inside')
    """
    land = criterion if criterion.measure == LAND else Criterion("VB", LAND)
    curves = wear_curves(trial) if curves is None else curves
    rates = wear_rates(curves, clock, land.limit, trial.settings.break_in, land.statistic).to_frame(level)
    measured = _measured(rates, facts, found, level)
    reference = _reference(measured, found, standard)
    table = _predicted(measured, found, reference, CLOCKS[clock])
    contrasts = _contrasts(trial, land, clock, by, standard, choose, level)
    standing = {at: _standing(one) for at, one in enumerate(contrasts)}
    return ZoneWear(table, reference, clock, contrasts, standing)


def _measured(rates: pd.DataFrame, facts: pd.DataFrame, found: Exposures, level: float) -> pd.DataFrame:
    """Mean rate over the cutters of each group, zone by zone."""
    columns = ["group", "zone", "rate", "low", "high", "level", "cutters", "why_missing"]
    if rates.empty:
        return pd.DataFrame(columns=columns)
    own = rates[rates["measure"] == LAND].merge(facts[["cutter", "group"]], on="cutter", how="inner")
    rows = []
    for one in found.practices:
        for zone in one.zones.zones:
            here = own[(own["group"] == one.name) & (own["zone"] == zone)]
            mean = over_cutters(here["rate"])
            limits = mean.interval(level)
            why = mean.why_missing if len(here) else "no land was read in this zone"
            rows.append((one.name, zone, mean.mean, limits.low, limits.high, level, mean.cutters, why))
    return pd.DataFrame(rows, columns=columns)


def _reference(measured: pd.DataFrame, found: Exposures, standard: str) -> tuple[str, str]:
    """The zone of one practice that wears fastest among those in which the land is of one form."""
    usable = measured[measured["rate"] > 0]
    exposed = [
        float(found.of(group).zones.of(zone)["sliding_m_cm3"]) > 0
        for group, zone in zip(usable["group"], usable["zone"], strict=True)
    ]
    usable = usable[np.array(exposed, dtype=bool)]
    if usable.empty:
        raise Refusal("no zone that is in the cut has a wear rate", where="wear by zone")
    group = standard if standard in set(usable["group"]) else str(usable["group"].iloc[0])
    own = usable[usable["group"] == group]
    alike = own[own["zone"].isin(PREFERRED)]
    own = alike if len(alike) else own
    return group, str(own["zone"].iloc[int(own["rate"].to_numpy(dtype=float).argmax())])


def _predicted(measured: pd.DataFrame, found: Exposures, reference: tuple[str, str], clock: str) -> pd.DataFrame:
    base = found.of(reference[0]).zones
    at = base.zones.index(reference[1])
    unit = {name: float(growth(base, name, clock)[..., at]) for name in HYPOTHESES}
    row = measured[(measured["group"] == reference[0]) & (measured["zone"] == reference[1])].iloc[0]
    scale = float(row["rate"])
    rows = []
    for group, zone in zip(measured["group"], measured["zone"], strict=True):
        zones = found.of(group).zones
        place = zones.zones.index(zone)
        shares = [float(growth(zones, name, clock)[..., place]) / unit[name] for name in HYPOTHESES]
        rows.append((scale * min(shares), scale * max(shares)))
    made = measured.assign(predicted_low=[low for low, _ in rows], predicted_high=[high for _, high in rows])
    positions = [
        "reference" if (str(one["group"]), str(one["zone"])) == reference else _position(dict(one))
        for one in made.to_dict("records")
    ]
    return made.assign(position=positions)


def _position(row: dict[Any, Any]) -> str:
    """inside (the mean lies in the band), reaches (only its interval does), above or below."""
    rate, low, high = row["rate"], row["predicted_low"], row["predicted_high"]
    if not (math.isfinite(rate) and math.isfinite(low) and math.isfinite(high)):
        return ""
    band = PredictedBand(low, high, {})
    ends = (row["low"], row["high"]) if math.isfinite(row["low"] + row["high"]) else (rate, rate)
    return band.beside(rate, Interval(*ends, row["level"], ""))


def _contrasts(
    trial: Trial, land: Criterion, clock: str, by: str, standard: str, choose: Sequence[str], level: float
) -> tuple[Contrast, ...]:
    """Ratio of rates in every zone that was read."""
    everywhere = replace(land, zone="", text=f"VB.{land.statistic}, every zone")
    try:
        made = compare(
            trial, everywhere, clock, by=by, standard=standard, choose=choose, outcomes=("rate",), level=level
        )
    except WearlabError:
        return ()
    return made.contrasts


def _standing(one: Contrast) -> tuple[str, ...]:
    """Hypotheses whose ratio the measured interval holds."""
    band = one.predicted
    if one.scale != "ratio" or band is None or band.why_missing:
        return ()
    return tuple(name for name, ratio in band.by_hypothesis.items() if one.interval.contains(ratio))


def _ratio_row(one: Contrast) -> dict[str, Any]:
    limits = one.interval.to_dict()
    band = one.predicted
    made: dict[str, Any] = plain(
        {
            "a": one.a,
            "b": one.b,
            "zone": one.zone,
            "scale": one.scale,
            "estimate": one.estimate,
            "low": limits["low"],
            "high": limits["high"],
            "level": limits["level"],
            "predicted_low": band.low if band else None,
            "predicted_high": band.high if band else None,
            "position": (band.position or None) if band else None,
            "why_missing": (band.why_missing or None) if band else None,
        }
    )
    return made
