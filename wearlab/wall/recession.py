"""From measured lands to the recession of the edge by zone and height, for every cutter and look."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import records
from wearlab.milling.wear_to_size import recession_mm

LANDS = ["cutter", "inspection", "zone", "from_mm", "to_mm", "land_mm"]
"""Columns that a table of lands must have; `land_error_mm`, the standard error of the land, may stand beside them."""
NOT_ON_THE_WALL = ("end", "notch")
"""Zones that leave no mark of their own on a wall."""
ZONE_LINE_MM = 0.25
"""How well a zone line is known as a height: an assumption (common practice, no source), because zones are set by eye
under the microscope and the edge of a worn band is itself a few tenths of a millimetre wide."""
AGREE_MM = 0.002
"""Recessions that differ by no more are taken as one: no wall is read better than this (common practice, no source)."""


@dataclass(frozen=True, repr=False)
class Recessions:
    """Recession of the edge.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a cutter, look and zone: `from_mm`, `to_mm`, `land_mm`, `recession_mm`, `recession_error_mm`.
    missing : dict of str to str
        Cutter -> why its lands say nothing of walls.
    rake_assumed : tuple of str
        Cutters whose rake is not recorded and taken as 0.
    """

    table: pd.DataFrame
    missing: dict[str, str]
    rake_assumed: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """The table."""
        return self.table

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "recessions": records(self.table),
            "missing": dict(self.missing),
            "rake_assumed": list(self.rake_assumed),
        }

    def at(self, cutter: str, inspection: int) -> pd.DataFrame:
        """Zones of one cutter at one look, floor first; empty where no land was read."""
        return self._looks.get((cutter, inspection), self.table.iloc[:0])

    @cached_property
    def _looks(self) -> dict[tuple[str, int], pd.DataFrame]:
        ordered = self.table.sort_values("from_mm", kind="stable")
        looks = ordered.groupby(["cutter", "inspection"], sort=False)
        keys = ((str(own["cutter"].iloc[0]), int(own["inspection"].iloc[0]), own) for _, own in looks)
        return {(cutter, look): own.reset_index(drop=True) for cutter, look, own in keys}

    def why(self, cutter: str) -> str:
        """Why a cutter's lands say nothing; empty where they do."""
        return self.missing.get(cutter, "")

    def __repr__(self) -> str:
        return f"<Recessions: {self.table['cutter'].nunique()} cutters, {len(self.table)} lands>"


def recessions(lands: pd.DataFrame, facts: pd.DataFrame) -> Recessions:
    """Recession that goes with every land.

    Parameters
    ----------
    lands : pandas.DataFrame
        One row a cutter, look and zone: `cutter`, `inspection`, `zone`, `from_mm`, `to_mm`, `land_mm`, and where it
        is known `land_error_mm`.
    facts : pandas.DataFrame
        As `Trial.facts`: relief and rake of every cutter.

    Raises
    ------
    Refusal
        A column of the lands is missing.

    Examples
    --------
    >>> lands = pd.DataFrame({"cutter": ["E1"], "inspection": [1], "zone": ["lower"], "from_mm": [0.4], "to_mm": [2.0],
    ...                       "land_mm": [0.2]})
    >>> found = recessions(lands, pd.DataFrame({"cutter": ["E1"], "relief_deg": [10.0]}))
    >>> found.table["recession_mm"].round(4).tolist(), found.rake_assumed
    ([0.0353], ('E1',))
    """
    absent = [name for name in LANDS if name not in lands]
    if absent:
        raise Refusal(f"a table of lands without {', '.join(absent)}", where="walls", allowed=", ".join(LANDS))
    relief, rake = (_angle(facts, name) for name in ("relief_deg", "rake_deg"))
    known = lands[lands["land_mm"].notna() & ~lands["zone"].isin(NOT_ON_THE_WALL)].reset_index(drop=True)
    missing = _missing(lands, known, facts, relief)
    kept = known[~known["cutter"].isin(list(missing))].reset_index(drop=True)
    alpha = kept["cutter"].map(relief).to_numpy(dtype=float)
    gamma = kept["cutter"].map(rake).fillna(0.0).to_numpy(dtype=float)
    errors = kept["land_error_mm"] if "land_error_mm" in kept else pd.Series(math.nan, index=kept.index)
    table = kept.assign(
        land_error_mm=errors,
        recession_mm=recession_mm(kept["land_mm"], alpha, gamma) if len(kept) else [],
        recession_error_mm=recession_mm(errors, alpha, gamma) if len(kept) else [],
    )
    assumed = tuple(dict.fromkeys(str(name) for name in kept["cutter"] if not math.isfinite(rake.get(name, math.nan))))
    return Recessions(table, missing, assumed)


def at_heights(
    zones: pd.DataFrame, heights_mm: np.ndarray, zone_line_mm: float = 0.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Recession at heights, from the zones of one cutter at one look.

    Parameters
    ----------
    zones : pandas.DataFrame
        As `Recessions.at`.
    heights_mm : ndarray, shape (n,)
    zone_line_mm : float
        How well a line between two zones is known: a height nearer to it than this belongs to both, with the mean.

    Returns
    -------
    recession, error, apart : ndarray, shape (n,)
        In mm; NaN outside of every zone. `apart` is by how much the zones that a height belongs to differ.
    """
    if zones.empty:
        nothing = np.full(len(heights_mm), math.nan)
        return nothing, nothing.copy(), nothing.copy()
    low, high = zones["from_mm"].to_numpy(dtype=float), zones["to_mm"].to_numpy(dtype=float)
    z = heights_mm[:, None]
    # With lines that are known exactly, a height on one still belongs to both.
    reach = max(zone_line_mm, 1e-9)
    inside = (z > low - reach) & (z < high + reach)
    # A zone that is only near and has no neighbour there does not reach beyond its own end.
    inside &= ((z >= low.min() - 1e-9) & (z <= high.max() + 1e-9))
    recession, error = (zones[name].to_numpy(dtype=float) for name in ("recession_mm", "recession_error_mm"))
    count = inside.sum(axis=1)
    held = np.where(inside, recession, 0.0)
    mean = np.divide(held.sum(axis=1), count, out=np.full(len(count), math.nan), where=count > 0)
    spread = np.divide(
        np.where(inside, error, 0.0).sum(axis=1), count, out=np.full(len(count), math.nan), where=count > 0
    )
    most = np.where(inside, recession, -math.inf).max(axis=1)
    least = np.where(inside, recession, math.inf).min(axis=1)
    return mean, spread, np.where(count > 0, most - least, math.nan)


def _angle(facts: pd.DataFrame, name: str) -> dict[str, float]:
    if name not in facts:
        return {}
    return {str(cutter): float(value) for cutter, value in zip(facts["cutter"], facts[name], strict=True)}


def _missing(
    lands: pd.DataFrame, known: pd.DataFrame, facts: pd.DataFrame, relief: dict[str, float]
) -> dict[str, str]:
    """Cutters of the log whose lands cannot be turned into walls, each with the reason."""
    read, usable = set(lands["cutter"]), set(known["cutter"])
    bounded = set(known.loc[known["from_mm"].notna() & known["to_mm"].notna(), "cutter"])
    found = {}
    for cutter in map(str, facts["cutter"]):
        if cutter not in read:
            found[cutter] = "no wear land of this cutter was read"
        elif cutter not in usable:
            found[cutter] = "no wear land was read in a zone that makes a wall"
        elif cutter not in bounded:
            found[cutter] = "the zones of its lands have no heights: state them in the log or the trial file"
        elif not math.isfinite(relief.get(cutter, math.nan)):
            found[cutter] = "relief_deg is not recorded, so a land says nothing of size"
    return found
