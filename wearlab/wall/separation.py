"""What of a wall's deviation is wear, and what was there before the edge wore.

The first slot that a cutter made is the base line. What has come since is growth; the recession that goes with the
measured lands is what the growth should be. What is left of a deviation when the recession is taken away (the rest)
belongs to deflection, tram, setting and the size of the cutter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.interval import Interval
from wearlab.core.tables import plain, records
from wearlab.logbook.columns import CLOCKS
from wearlab.wall.over_cutters import OverCutters, over_cutters
from wearlab.wall.readings import SLOT, WallReadings
from wearlab.wall.recession import AGREE_MM, ZONE_LINE_MM, Recessions, at_heights

LEAST_RECESSION_MM = 0.005
"""Expected growth below which a cutter says nothing of the ratio: readings of walls are not better than this."""
HALF_WIDTH = "both"
"""Side under which half of a width stands where the walls were not read on their own."""


@dataclass(frozen=True, repr=False)
class Separation:
    """Wear and the rest.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a slot, side and height: the clocks, `value_mm` (+ = metal left; half of the width lost since the first
        slot where `side` is both), `first_mm`, `grown_mm`; and where lands were read `recession_mm`, `expected_mm`
        (recession since the first slot), `rest_mm`, and `apart_mm`: by how much the zones differ on whose line the
        height stands, so that nobody knows which of them made the wall there; 0 inside of a zone.
    ratios : pandas.DataFrame
        One row a cutter: `ratio` of growth to expected growth, through nothing, and `expected_mm`, the largest.
    ratio : OverCutters
        Over the cutters.
    """

    table: pd.DataFrame
    ratios: pd.DataFrame
    ratio: OverCutters
    why_missing: str = ""

    def interval(self, level: float = 0.95) -> Interval:
        """Of the ratio of growth to expected growth, over cutters; 1 is what the geometry says."""
        return self.ratio.interval(level)

    def first_rest(self) -> pd.DataFrame:
        """The rest of every cutter's first slot: what it left before it wore."""
        first = self.table.groupby("cutter", sort=False)["inspection"].transform("min")
        return self.table[self.table["inspection"] == first]

    def to_frame(self) -> pd.DataFrame:
        """The table."""
        return self.table

    def to_dict(self, level: float = 0.95) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {
                "growth_over_expected": self.ratio.mean,
                **self.interval(level).to_dict(),
                "cutters": self.ratio.cutters,
                "by_cutter": records(self.ratios),
                "why_missing": self.why_missing or self.ratio.why_missing or None,
                "rows": records(self.table),
            }
        )
        return made

    def __repr__(self) -> str:
        return f"<Separation: growth {self.ratio.mean:.3g} times the expected, {self.ratio.cutters} cutters>"


def separate(
    readings: WallReadings, edge: Recessions | None = None, zone_line_mm: float = ZONE_LINE_MM
) -> Separation:
    """Split every deviation into what was there in the first slot and what has grown, beside the measured recession.

    Parameters
    ----------
    readings : WallReadings
    edge : Recessions, optional
        From the lands of the same cutters; without them the growth stands alone.
    zone_line_mm : float
        How well the line between two zones is known as a height.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.wall.readings import wall_readings
    >>> found = separate(wall_readings(read_log(sample_path("shoulder_demo"))))
    >>> found.why_missing
    'no lands were handed in'
    """
    rows = _deviations(readings)
    first = rows.sort_values("inspection", kind="stable").groupby(["cutter", "side", "height_mm"], sort=False)
    rows = rows.assign(
        first_mm=first["value_mm"].transform("first"), first_look=first["inspection"].transform("first")
    ).sort_index()
    rows["grown_mm"] = rows["value_mm"] - rows["first_mm"]
    rows = _with_recession(rows, edge, zone_line_mm)
    ratios = _ratios(rows)
    if edge is None:
        why = "no lands were handed in"
    elif ratios.empty:
        why = _why_none(rows, edge)
    else:
        why = ""
    return Separation(rows.drop(columns="first_look"), ratios, over_cutters(ratios["ratio"]), why)


def _deviations(readings: WallReadings) -> pd.DataFrame:
    """Each wall on its own where it was read; else half of the width lost since the cutter's first slot."""
    columns = [*SLOT, *CLOCKS, "side", "height_mm", "value_mm"]
    walls = readings.of("wall")
    walls = walls[walls["side"].isin(["left", "right"])][columns]
    widths = readings.of("width")[columns]
    with_walls = set(walls[SLOT].itertuples(index=False, name=None))
    alone = [key not in with_walls for key in widths[SLOT].itertuples(index=False, name=None)]
    halves = widths[np.array(alone, dtype=bool)] if len(widths) else widths
    ordered = halves.sort_values("inspection", kind="stable")
    start = ordered.groupby(["cutter", "height_mm"], sort=False)["value_mm"].transform("first").reindex(halves.index)
    halves = halves.assign(side=HALF_WIDTH, value_mm=(start - halves["value_mm"]) / 2)
    return pd.concat([walls, halves], ignore_index=True)


def _with_recession(rows: pd.DataFrame, edge: Recessions | None, zone_line_mm: float) -> pd.DataFrame:
    now, then, apart = (np.full(len(rows), math.nan) for _ in range(3))
    if edge is not None:
        for look, into in (("inspection", now), ("first_look", then)):
            for _, own in rows.groupby(["cutter", look], sort=False):
                zones = edge.at(str(own["cutter"].iloc[0]), int(own[look].iloc[0]))
                heights = own["height_mm"].to_numpy(dtype=float)
                into[own.index], _, gap = at_heights(zones, heights, zone_line_mm)
                if look == "inspection":
                    apart[own.index] = gap
    since = np.where(rows["side"] == HALF_WIDTH, now - then, now)
    return rows.assign(
        recession_mm=now, expected_mm=now - then, rest_mm=rows["value_mm"] - since, apart_mm=apart
    )


def _ratios(rows: pd.DataFrame) -> pd.DataFrame:
    """Least squares through nothing of growth on expected growth, one cutter at a time.

    Heights inside of a zone are used; those on a line only where a cutter has no other, and the zones agree.
    """
    later = rows[(rows["inspection"] > rows["first_look"]) & rows["expected_mm"].notna()]
    made = []
    for cutter, own in later.groupby("cutter", sort=False):
        inside = own[own["apart_mm"] == 0]
        own = inside if len(inside) else own[own["apart_mm"] <= AGREE_MM]
        expected, grown = own["expected_mm"].to_numpy(dtype=float), own["grown_mm"].to_numpy(dtype=float)
        if len(own) and expected.max() >= LEAST_RECESSION_MM:
            ratio = float((expected @ grown) / (expected @ expected))
            made.append({"cutter": cutter, "ratio": ratio, "expected_mm": float(expected.max()), "readings": len(own)})
    return pd.DataFrame(made, columns=["cutter", "ratio", "expected_mm", "readings"])


def _why_none(rows: pd.DataFrame, edge: Recessions) -> str:
    if rows.empty:
        return "no wall and no width was read"
    reasons = list(dict.fromkeys(edge.why(str(cutter)) for cutter in rows["cutter"].unique()))
    if any(reasons):
        return "; ".join(reason for reason in reasons if reason)
    if rows.groupby("cutter")["inspection"].nunique().max() < 2:
        return "no cutter has walls of two slots, a first and a later one"
    return f"no edge receded by {1000 * LEAST_RECESSION_MM:g} um between the slots that were read"
