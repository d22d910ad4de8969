"""Wear curves: one value a cutter, zone and look, from the flutes that were read.

Repeated readings of one flute are averaged first. Single flutes win over a row marked `mean` or `worst`; a row that
states no flute stands for the edge as a whole. Nothing is filled in: a look without a reading is no point of a curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.tables import natural_key, records
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial

KEYS = ["cutter", "measure", "zone", "inspection"]


@dataclass(frozen=True, repr=False)
class WearCurves:
    """Wear curves of a trial.

    Attributes
    ----------
    by_flute : pandas.DataFrame
        One row a cutter, measure, zone, look and flute: the clocks, `value_mm`, `repeats` and
        the standard deviation `sd_mm` of the repeats.
    by_zone : pandas.DataFrame
        One row a cutter, measure, zone and look: the clocks, `mean_mm` and `worst_mm` over the flutes, `flutes` (how
        many single flutes were read; 0 = not stated).
    """

    by_flute: pd.DataFrame
    by_zone: pd.DataFrame

    def to_frame(self) -> pd.DataFrame:
        """The curves by zone."""
        return self.by_zone

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"by_zone": records(self.by_zone), "by_flute": records(self.by_flute)}

    def __repr__(self) -> str:
        return f"<WearCurves: {self.by_zone['cutter'].nunique()} cutters, {len(self.by_zone)} points>"


def wear_curves(trial: Trial) -> WearCurves:
    """Reduce the wear readings of a trial to curves.

    Parameters
    ----------
    trial : Trial

    Returns
    -------
    WearCurves
        In natural order of cutters; values in mm.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> curves = wear_curves(read_log(sample_path("nasa_milling")))
    >>> float(curves.by_zone.query("cutter == 'case02'")["mean_mm"].iloc[0])
    0.08
    """
    measured = trial.wear[trial.wear["value_mm"].notna()]
    by_flute = _average_repeats(measured)
    return WearCurves(by_flute, _over_flutes(by_flute))


def _average_repeats(readings: pd.DataFrame) -> pd.DataFrame:
    keys = [*KEYS, "flute"]
    grouped = readings.groupby(keys, sort=False, dropna=False)
    table = grouped.agg(
        **{name: (name, "first") for name in CLOCKS},
        value_mm=("value_mm", "mean"),
        repeats=("value_mm", "size"),
        sd_mm=("value_mm", "std"),
    ).reset_index()
    return _in_order(table, [*KEYS, "flute"])


def _over_flutes(by_flute: pd.DataFrame) -> pd.DataFrame:
    single = by_flute["flute"].str.fullmatch(r"\d+")
    unstated = by_flute["flute"] == ""
    parts = [
        _summary(by_flute[single], "mean", "max").assign(
            flutes=by_flute[single].groupby(KEYS, sort=False)["flute"].nunique()
        ),
        _stated(by_flute),
        _summary(by_flute[unstated], "mean", "mean").assign(flutes=0),
    ]
    table = pd.concat([part for part in parts if len(part)]) if any(len(part) for part in parts) else parts[-1]
    table = table[~table.index.duplicated(keep="first")].reset_index()
    return _in_order(table, KEYS)


def _summary(rows: pd.DataFrame, mean: str, worst: str) -> pd.DataFrame:
    clocks: dict[str, Any] = {name: (name, "first") for name in CLOCKS}
    return rows.groupby(KEYS, sort=False).agg(**clocks, mean_mm=("value_mm", mean), worst_mm=("value_mm", worst))


def _stated(by_flute: pd.DataFrame) -> pd.DataFrame:
    """Rows in which somebody wrote down a mean or a worst flute without the single ones."""
    rows = by_flute[by_flute["flute"].isin(["mean", "worst"])]
    table = _summary(rows, "first", "first").assign(flutes=0)
    values = rows.set_index(KEYS)["value_mm"]
    for statistic in ("mean", "worst"):
        own = values[(rows["flute"] == statistic).to_numpy()]
        table[f"{statistic}_mm"] = own.reindex(table.index)
    return table


def _in_order(table: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    if table.empty:
        return table
    ranks = {
        name: {word: rank for rank, word in enumerate(sorted(table[name].unique(), key=natural_key))}
        for name in keys
        if table[name].dtype.kind not in "if"
    }
    order = table[keys].apply(lambda cells: cells.map(ranks[cells.name]) if cells.name in ranks else cells)
    return table.loc[order.sort_values(keys, kind="stable").index].reset_index(drop=True)
