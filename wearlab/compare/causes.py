"""What ended the cutters, by age: survival of each group, and the share ended by each cause where causes compete.

One less the survival curve that censors the other causes would be too large: a cutter that has chipped can no longer
wear out. So each cause has its cumulative incidence (Aalen and Johansen), and the shares add up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.errors import Refusal
from wearlab.core.tables import records
from wearlab.stats.incidence import cumulative_incidence
from wearlab.stats.lives import Lives
from wearlab.stats.survival import kaplan_meier, turnbull

CAUSES = {"worn": 1, "fracture": 2}
"""Causes that end a cutter; anything else is a cutter that was still good."""
BROKEN = ("chipped", "broken", "fracture")


@dataclass(frozen=True, repr=False)
class Causes:
    """Of every group at one criterion.

    Attributes
    ----------
    survival : pandas.DataFrame
        Steps: `group`, `age`, `still_good`, `low`, `high`, `at_risk`, `method`.
    marks : pandas.DataFrame
        Cutters that left still good: `group`, `cutter`, `age`, `still_good`.
    incidence : pandas.DataFrame
        `group`, `cause`, `age`, `share`, `low`, `high` at the last age of each group.
    medians : pandas.DataFrame
        `group`, `median`, `low`, `high`.
    """

    survival: pd.DataFrame
    marks: pd.DataFrame
    incidence: pd.DataFrame
    medians: pd.DataFrame
    level: float

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "survival": records(self.survival),
            "marks": records(self.marks),
            "incidence": records(self.incidence),
            "medians": records(self.medians),
            "level": self.level,
        }


def causes(table: pd.DataFrame, names: tuple[str, ...], level: float = 0.95) -> Causes:
    """Survival and incidence of each group.

    Parameters
    ----------
    table : pandas.DataFrame
        One row a cutter: `cutter`, `group`, `status`, `low`, `high`, `cause`.
    names : tuple of str
        Groups.
    level : float

    Notes
    -----
    A life that is known between two looks only is drawn by Turnbull's curve, which has no interval here.
    """
    parts: list[tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]] = []
    for name in names:
        own = table[(table["group"] == name) & (table["status"] != "none")]
        if len(own):
            parts.append(_group(name, own, level))
    if not parts:
        empty = pd.DataFrame({"group": []})
        return Causes(empty, empty, empty, empty, level)
    survival, marks, incidence, medians = (pd.concat(list(one), ignore_index=True) for one in zip(*parts, strict=True))
    return Causes(survival, marks, incidence, medians, level)


def _group(name: str, own: pd.DataFrame, level: float) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    lives = Lives(own["low"].to_numpy(float), own["high"].to_numpy(float))
    known = bool((lives.exact | lives.right).all())
    curve = kaplan_meier(lives) if known else turnbull(lives)
    limits = [curve.interval(time, level) for time in curve.times]
    steps = pd.DataFrame(
        {
            "group": name,
            "age": np.concatenate([[0.0], curve.times]),
            "still_good": np.concatenate([[1.0], curve.survival]),
            "low": [1.0, *(one.low for one in limits)],
            "high": [1.0, *(one.high for one in limits)],
            "at_risk": np.concatenate([[float(len(own))], curve.at_risk]),
            "method": "Kaplan-Meier" if known else "Turnbull",
        }
    )
    left = own[own["status"] == "right"]
    marks = pd.DataFrame(
        {
            "group": name,
            "cutter": left["cutter"],
            "age": left["low"],
            "still_good": [curve.at(float(age)) for age in left["low"]],
        }
    )
    middle = curve.median_interval(level) if known else None
    medians = pd.DataFrame(
        [
            {
                "group": name,
                "median": curve.median(),
                "low": middle.low if middle else np.nan,
                "high": middle.high if middle else np.nan,
            }
        ]
    )
    return steps, marks, _incidence(name, own, level), medians


def _incidence(name: str, own: pd.DataFrame, level: float) -> pd.DataFrame:
    """Share ended by each cause up to the last age, by the age at which each cutter ended or was last seen."""
    worn = own["status"].isin(["exact", "interval", "left"])
    code = np.where(worn, CAUSES["worn"], np.where(own["cause"].isin(BROKEN), CAUSES["fracture"], 0))
    age = own["low"].where(own["low"] > 0, own["high"]).to_numpy(float)
    rows = []
    for cause, number in CAUSES.items():
        try:
            curve = cumulative_incidence(age, code, number)
        except Refusal:
            continue
        last = float(age.max())
        limits = curve.interval(last, level)
        rows.append(
            {
                "group": name,
                "cause": cause,
                "age": last,
                "share": curve.at(last),
                "low": limits.low,
                "high": limits.high,
                "cutters": int((code == number).sum()),
            }
        )
    return pd.DataFrame(rows)
