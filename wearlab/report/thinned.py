"""Summaries of tables that are too long to draw or to carry: bands of curves by age, heads of long tables."""

from __future__ import annotations

import numpy as np
import pandas as pd

BINS = 20


def curve_band(points: pd.DataFrame) -> pd.DataFrame:
    """Median and middle four fifths of many curves, by age.

    Parameters
    ----------
    points : pandas.DataFrame
        `zone`, `group`, `age`, `land`.

    Returns
    -------
    pandas.DataFrame
        One row a zone, group and twentieth of the range of ages: `age` (median of the points in it), `land` (median),
        `low`, `high` (10 and 90 % points), `points`.
    """
    edges = np.linspace(0.0, float(points["age"].max()), BINS + 1)
    bins = np.clip(np.searchsorted(edges, points["age"].to_numpy(float), side="left"), 1, BINS)
    grouped = points.assign(bin=bins).groupby(["zone", "group", "bin"], sort=False)
    made = grouped.agg(
        age=("age", "median"),
        land=("land", "median"),
        low=("land", lambda land: land.quantile(0.1)),
        high=("land", lambda land: land.quantile(0.9)),
        points=("land", "size"),
    )
    order = {zone: at for at, zone in enumerate(dict.fromkeys(points["zone"]))}
    made = made.reset_index().sort_values(
        ["zone", "group", "bin"], key=lambda cells: cells.map(order) if cells.name == "zone" else cells, kind="stable"
    )
    return made.drop(columns="bin").reset_index(drop=True)


def evenly_ranked(frame: pd.DataFrame, keys: list[str], value: str, most: int) -> pd.DataFrame:
    """Rows spread evenly over the ranks of a value within each group, the smallest and the largest among them.

    Parameters
    ----------
    frame : pandas.DataFrame
    keys : list of str
        Columns that make the groups.
    value : str
        Column that ranks.
    most : int
        Rows of a group that are kept; a group with fewer keeps all.

    Returns
    -------
    pandas.DataFrame
        In the order of the frame.
    """
    kept: list[int] = []
    for _, own in frame.groupby(keys, sort=False):
        order = own[value].sort_values(kind="stable").index
        picks = np.unique(np.linspace(0, len(order) - 1, min(most, len(order))).round().astype(int))
        kept += [int(order[at]) for at in picks]
    return frame.loc[sorted(kept)].reset_index(drop=True)
