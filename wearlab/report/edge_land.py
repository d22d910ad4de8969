"""The land of every zone at an age that all the cutters reached."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

LOWEST_FIRST = ("end", "corner", "lower", "middle", "upper", "notch")


def edge_land(
    points: pd.DataFrame,
    cutters: Sequence[str],
    groups: Mapping[str, str],
    limits: Mapping[str, tuple[float, float]],
    clock: str,
) -> tuple[pd.DataFrame, float]:
    """Land by zone at the last common age, for every cutter and in the mean of every group.

    Parameters
    ----------
    points : pandas.DataFrame
        As `WearCurves.by_zone`, of one measure.
    cutters : sequence of str
        Those to be used; one that was not read in every zone is left out.
    groups : mapping of str to str
        Cutter -> group.
    limits : mapping of str to (float, float)
        Zone -> its ends above the end face, mm; zones without are drawn one above the other.
    clock : str

    Returns
    -------
    table : pandas.DataFrame
        `kind` (mean or cutter), `group`, `cutter`, `zone`, `start`, `stop`, `land`, `cutters`; empty where fewer than
        two zones were read.
    age : float
        Clock at which the lands stand; between two looks they are read off the straight line.
    """
    own = points[
        points["cutter"].isin(cutters) & points["zone"].ne("") & points["mean_mm"].notna() & points[clock].notna()
    ]
    zones = _ordered(own["zone"].unique(), limits)
    curves = {
        str(cutter): dict(tuple(part.groupby("zone", sort=False))) for cutter, part in own.groupby("cutter", sort=False)
    }
    curves = {cutter: by_zone for cutter, by_zone in curves.items() if set(by_zone) >= set(zones)}
    if len(zones) < 2 or not curves:
        return pd.DataFrame(columns=["kind", "group", "cutter", "zone", "start", "stop", "land", "cutters"]), float(
            "nan"
        )
    age = min(float(curve[clock].max()) for by_zone in curves.values() for curve in by_zone.values())
    heights = _heights(zones, limits)
    rows = [
        ("cutter", groups.get(cutter, ""), cutter, zone, *heights[zone], _at(by_zone[zone], clock, age), 1)
        for cutter, by_zone in curves.items()
        for zone in zones
    ]
    table = pd.DataFrame(rows, columns=["kind", "group", "cutter", "zone", "start", "stop", "land", "cutters"])
    means = table.groupby(["group", "zone"], sort=False).agg(
        start=("start", "first"), stop=("stop", "first"), land=("land", "mean"), cutters=("land", "size")
    )
    means = means.reset_index().assign(kind="mean", cutter="")
    return pd.concat([means[table.columns], table], ignore_index=True), age


def _ordered(zones: np.ndarray, limits: Mapping[str, tuple[float, float]]) -> list[str]:
    """Zones from the end of the cutter upwards."""
    ranks = {zone: rank for rank, zone in enumerate(LOWEST_FIRST)}
    known = all(zone in limits for zone in zones)
    return sorted(map(str, zones), key=lambda zone: limits[zone][0] if known else ranks.get(zone, len(ranks)))


def _heights(zones: list[str], limits: Mapping[str, tuple[float, float]]) -> dict[str, tuple[float, float]]:
    if all(zone in limits for zone in zones):
        return {zone: limits[zone] for zone in zones}
    return {zone: (float(at), float(at + 1)) for at, zone in enumerate(zones)}


def _at(curve: pd.DataFrame, clock: str, age: float) -> float:
    return float(np.interp(age, curve[clock].to_numpy(float), curve["mean_mm"].to_numpy(float)))
