"""Wear curves: one value a cutter, zone and look, from the flutes that were read.

Repeated readings of one flute are averaged first. Single flutes win over a row marked `mean` or `worst`; a row that
states no flute stands for the edge as a whole. Nothing is filled in: a look without a reading is no point of a curve.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from wearlab.core.tables import ShownAsTable, natural_key, records
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial

KEYS = ["cutter", "measure", "zone", "inspection"]


@dataclass(frozen=True, repr=False)
class WearCurves(ShownAsTable):
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
    values = grouped["value_mm"]
    table = _clocks(grouped).assign(value_mm=values.mean(), repeats=values.size(), sd_mm=values.std())
    return _in_order(table.reset_index(), keys)


def _over_flutes(by_flute: pd.DataFrame) -> pd.DataFrame:
    kinds = (
        (by_flute["flute"].str.fullmatch(r"\d+").astype(bool), _of_flutes),
        (by_flute["flute"].isin(["mean", "worst"]), _stated),
        (by_flute["flute"] == "", _of_edge),
    )
    parts = [summary(by_flute[rows]) for rows, summary in kinds if rows.any()] or [_of_edge(by_flute)]
    table = pd.concat(parts)
    table = table[~table.index.duplicated(keep="first")].reset_index()
    return _in_order(table, KEYS)


def _clocks(grouped: Any) -> pd.DataFrame:
    """Clocks of each look; all rows of a look agree."""
    table: pd.DataFrame = grouped[list(CLOCKS)].first()
    return table


def _of_flutes(rows: pd.DataFrame) -> pd.DataFrame:
    """Looks at which single flutes were read."""
    grouped = rows.groupby(KEYS, sort=False)
    values = grouped["value_mm"]
    return _clocks(grouped).assign(mean_mm=values.mean(), worst_mm=values.max(), flutes=grouped["flute"].nunique())


def _of_edge(rows: pd.DataFrame) -> pd.DataFrame:
    """Looks at the edge as a whole."""
    grouped = rows.groupby(KEYS, sort=False)
    values = grouped["value_mm"].mean()
    return _clocks(grouped).assign(mean_mm=values, worst_mm=values, flutes=0)


def _stated(rows: pd.DataFrame) -> pd.DataFrame:
    """Looks at which somebody wrote down a mean or a worst flute without the single ones."""
    table = _clocks(rows.groupby(KEYS, sort=False))
    values = rows.set_index(KEYS)["value_mm"]
    own = {name: values[(rows["flute"] == name).to_numpy()].reindex(table.index) for name in ("mean", "worst")}
    return table.assign(mean_mm=own["mean"], worst_mm=own["worst"], flutes=0)


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
