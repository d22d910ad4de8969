"""Does wear move along the edge? Two zones of the same cutter, compared between practices.

Within each cutter the ratio of the land in one zone to the land in another, at an age that every cutter reached: the
cutter's own scatter cancels. Where a zone lies below three standard errors of its mean, the log ratio is biased, so the
share of the first zone in the sum is compared instead; such a zone is below resolution, not zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.predicted import PredictedBand
from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.stats.two_groups import TwoSample, welch

GAUGE_MM = 0.010
"""Standard deviation of one land reading where the log holds no repeats (common practice, no source)."""
FLOOR = 3.0
"""Standard errors of a zone's mean below which the log ratio is not used."""


@dataclass(frozen=True, repr=False)
class ZoneShift:
    """Zones of two groups compared.

    Attributes
    ----------
    a, b : str
        Groups; a ratio of ratios is a over b.
    zones : tuple of (str, str)
        First over second.
    age : float
        Clock at which the lands are compared.
    scale : str
        ratio (of the ratios of lands) or difference (of the shares of the first zone).
    estimate : float
    interval : Interval
    p_value : float
    values : pandas.DataFrame
        One row a cutter: `cutter`, `group`, `first_mm`, `second_mm`, `value` (ln ratio, or share).
    floor_mm : float
        Land below which a zone counts as below resolution.
    below : tuple of str
        Cutters with a zone below it.
    gauge : str
        Where the reading error came from.
    predicted : PredictedBand or None
        What edge exposure makes of it, on the same scale.
    """

    a: str
    b: str
    zones: tuple[str, str]
    clock: str
    age: float
    scale: str
    estimate: float
    interval: Interval
    p_value: float
    typical_a: float
    typical_b: float
    values: pd.DataFrame
    floor_mm: float
    below: tuple[str, ...]
    gauge: str
    why_missing: str = ""
    predicted: PredictedBand | None = None

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "a": self.a,
                "b": self.b,
                "zones": list(self.zones),
                "clock": self.clock,
                "age": self.age,
                "scale": self.scale,
                "estimate": self.estimate,
                **self.interval.to_dict(),
                "p_value": self.p_value,
                "typical_a": self.typical_a,
                "typical_b": self.typical_b,
                "floor_mm": self.floor_mm,
                "below_resolution": list(self.below),
                "gauge": self.gauge,
                "why_missing": self.why_missing or None,
                "predicted": self.predicted.to_dict() if self.predicted else None,
            }
        )
        return made


def zone_shift(
    points: pd.DataFrame,
    by_flute: pd.DataFrame,
    facts: pd.DataFrame,
    groups: tuple[str, str],
    zones: tuple[str, str],
    clock: str,
    level: float = 0.95,
) -> ZoneShift:
    """Compare the ratio of two zones between two groups.

    Parameters
    ----------
    points, by_flute : pandas.DataFrame
        As `WearCurves.by_zone` and `WearCurves.by_flute`, of one measure.
    facts : pandas.DataFrame
        Facts of the cutters compared, with `group`.
    groups, zones : tuple of (str, str)
    clock : str
    level : float

    Raises
    ------
    Refusal
        A group has no cutter in which both zones were read, or there is no age that all of them reached.
    """
    curves = {
        str(cutter): _both(own, zones, clock)
        for cutter, own in points[points["cutter"].isin(facts["cutter"])].groupby("cutter", sort=False)
    }
    curves = {cutter: curve for cutter, curve in curves.items() if len(curve)}
    if not curves:
        raise Refusal(f"no cutter in which both {zones[0]} and {zones[1]} were read", where="wear along the edge")
    age = min(float(curve[-1, 0]) for curve in curves.values())
    late = [cutter for cutter, curve in curves.items() if curve[0, 0] > age]
    if late:
        raise Refusal(
            f"cutter {late[0]} was first read after the age of {age:g} that all of them reached",
            where="wear along the edge",
        )
    rows = [
        {"cutter": cutter, "first_mm": _at(curve, age, 1), "second_mm": _at(curve, age, 2)}
        for cutter, curve in curves.items()
    ]
    values = pd.DataFrame(rows).merge(facts[["cutter", "group"]], on="cutter")
    return _compared(values, by_flute, groups, zones, clock, age, level)


def _both(own: pd.DataFrame, zones: tuple[str, str], clock: str) -> np.ndarray:
    """Clock and land of the two zones at the looks in which both were read, shape (n, 3)."""
    wide = own[own["zone"].isin(zones)].pivot_table(index=["inspection", clock], columns="zone", values="mean_mm")
    if not set(zones) <= set(wide.columns):
        return np.empty((0, 3))
    wide = wide.dropna().reset_index()
    wide = wide[wide[clock] > 0]
    return wide[[clock, *zones]].to_numpy(dtype=float)


def _at(curve: np.ndarray, age: float, column: int) -> float:
    return float(np.interp(age, curve[:, 0], curve[:, column]))


def _compared(
    values: pd.DataFrame,
    by_flute: pd.DataFrame,
    groups: tuple[str, str],
    zones: tuple[str, str],
    clock: str,
    age: float,
    level: float,
) -> ZoneShift:
    gauge, where = reading_error(by_flute)
    flutes = by_flute[by_flute["zone"].isin(zones)].groupby(["cutter", "zone", "inspection"])["flute"].nunique()
    floor = FLOOR * gauge / math.sqrt(max(float(flutes.median()), 1.0))
    below = values[(values["first_mm"] < floor) | (values["second_mm"] < floor)]
    if below.empty:
        values = values.assign(value=np.log(values["first_mm"] / values["second_mm"]))
    else:
        total = values["first_mm"] + values["second_mm"]
        values = values.assign(value=values["first_mm"] / total.where(total > 0))
    values = values.dropna(subset=["value"])
    first, second = (values.loc[values["group"] == name, "value"].to_numpy() for name in groups)
    if min(len(first), len(second)) == 0:
        raise Refusal(
            f"no cutter of {groups[0] if not len(first) else groups[1]} has both zones", where="wear along the edge"
        )
    return _record(
        welch(first, second),
        first,
        second,
        values,
        tuple(below["cutter"]),
        groups,
        zones,
        clock,
        age,
        floor,
        where,
        level,
    )


def _record(
    found: TwoSample,
    first: np.ndarray,
    second: np.ndarray,
    values: pd.DataFrame,
    below: tuple[str, ...],
    groups: tuple[str, str],
    zones: tuple[str, str],
    clock: str,
    age: float,
    floor: float,
    gauge: str,
    level: float,
) -> ZoneShift:
    ratio = not below
    interval = found.interval(level)
    means = [float(np.mean(one)) for one in (first, second)]
    return ZoneShift(
        a=groups[0],
        b=groups[1],
        zones=zones,
        clock=clock,
        age=age,
        scale="ratio" if ratio else "difference",
        estimate=math.exp(found.difference) if ratio else found.difference,
        interval=interval.exp() if ratio and found.why_missing is None else interval,
        p_value=found.p_value,
        typical_a=math.exp(means[0]) if ratio else means[0],
        typical_b=math.exp(means[1]) if ratio else means[1],
        values=values,
        floor_mm=floor,
        below=below,
        gauge=gauge,
        why_missing=found.why_missing or "",
    )


def reading_error(by_flute: pd.DataFrame) -> tuple[float, str]:
    """Standard deviation of one land reading in mm: from repeats where the log holds any, else assumed."""
    repeats = by_flute["repeats"].to_numpy()
    if "sd_mm" in by_flute and (repeats > 1).sum() >= 5:
        own = by_flute[by_flute["repeats"] > 1]
        df = own["repeats"] - 1
        return float(
            np.sqrt((df * own["sd_mm"] ** 2).sum() / df.sum())
        ), f"{int(df.sum())} degrees of freedom from repeats"
    return GAUGE_MM, f"assumed {GAUGE_MM:g} mm, the log holds no repeated readings"
