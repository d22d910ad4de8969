"""Wall readings with their repeats averaged, and what one reading is worth where something was read twice."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import natural_key, records
from wearlab.logbook.columns import CLOCKS
from wearlab.logbook.trial import Trial

SLOT = ["cutter", "inspection", "part"]
"""What names one slot: whose, at which look, on which part."""
KEYS = [*SLOT, "measure", "side", "height_mm", "pin_mm"]


@dataclass(frozen=True, slots=True)
class ReadingError:
    """Standard deviation of one reading of a measure, from repeated readings of the same thing.

    `sd_mm` is NaN, with `why_missing`, where nothing was read twice.
    """

    measure: str
    sd_mm: float
    df: int
    why_missing: str = ""


@dataclass(frozen=True, repr=False)
class WallReadings:
    """Wall readings of a trial.

    Attributes
    ----------
    table : pandas.DataFrame
        One row a cutter, look, part, measure, side, height and pin: the clocks, `value_mm`, `repeats`, the standard
        deviation `sd_mm` of the repeats, `pin_class`, `pin_chamfer_mm`; in natural order of cutters, floor first.
    """

    table: pd.DataFrame

    def of(self, measure: str) -> pd.DataFrame:
        """Rows of one measure."""
        return self.table[self.table["measure"] == measure]

    def error_of(self, measure: str) -> ReadingError:
        """What one reading of a measure is worth, pooled over everything that was read more than once."""
        own = self.of(measure)
        own = own[own["repeats"] > 1]
        df = (own["repeats"] - 1).to_numpy(dtype=float)
        if not df.sum():
            return ReadingError(measure, math.nan, 0, f"no {measure} was read twice")
        variance = float((df * own["sd_mm"].to_numpy(dtype=float) ** 2).sum() / df.sum())
        return ReadingError(measure, math.sqrt(variance), int(df.sum()))

    def to_frame(self) -> pd.DataFrame:
        """The table."""
        return self.table

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {"readings": records(self.table)}

    def __repr__(self) -> str:
        return f"<WallReadings: {self.table['cutter'].nunique()} cutters, {len(self.table)} readings>"


def wall_readings(trial: Trial) -> WallReadings:
    """Average the repeats of a trial's wall readings.

    Parameters
    ----------
    trial : Trial

    Raises
    ------
    Refusal
        The log holds no wall reading.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> wall_readings(read_log(sample_path("shoulder_demo")))
    <WallReadings: 12 cutters, 648 readings>
    """
    measured = trial.walls[trial.walls["value_mm"].notna()]
    if measured.empty:
        raise Refusal(
            "the log holds no reading of a wall",
            where="walls",
            allowed="rows with measure wall, width, hang_up or floor_radius",
        )
    grouped = measured.groupby(KEYS, sort=False, dropna=False)
    values = grouped["value_mm"]
    table = grouped[[*CLOCKS, "pin_class", "pin_chamfer_mm"]].first()
    table = table.assign(value_mm=values.mean(), repeats=values.size(), sd_mm=values.std()).reset_index()
    return WallReadings(_in_order(table))


def _in_order(table: pd.DataFrame) -> pd.DataFrame:
    names = sorted(table["cutter"].unique(), key=natural_key)
    rank = table["cutter"].map({name: at for at, name in enumerate(names)})
    columns = ["inspection", "part", "measure", "side", "height_mm", "pin_mm"]
    order = table[columns].assign(rank=rank).sort_values(["rank", *columns], kind="stable").index
    return table.loc[order].reset_index(drop=True)


def clock_held(table: pd.DataFrame) -> str:
    """The first clock that every row knows; minutes where none does."""
    for clock in CLOCKS:
        if clock in table and np.isfinite(table[clock].to_numpy(dtype=float)).all():
            return clock
    return CLOCKS[0]
