"""Chipped and broken cutters by group: exact, because there are few of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from wearlab.core.tables import plain

REASONS = ("chipped", "broken")


@dataclass(frozen=True, slots=True)
class Fractures:
    """Share of cutters that chipped or broke.

    Attributes
    ----------
    groups : pandas.DataFrame
        One row a group: `group`, `cutters`, `fractures`, and exact limits `low`, `high` of the share at `level`.
    p_value : float
        Fisher's exact test of two groups; NaN for more, or where nothing broke.
    """

    groups: pd.DataFrame
    level: float
    p_value: float

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {"groups": self.groups.to_dict("records"), "level": self.level, "p_value": self.p_value}
        )
        return made


def fractures(facts: pd.DataFrame, names: tuple[str, ...], level: float = 0.95) -> Fractures:
    """Count fractures in each group.

    Parameters
    ----------
    facts : pandas.DataFrame
        One row a cutter, with `group` and `end_reason`.
    names : tuple of str
        Groups.
    level : float

    Notes
    -----
    Limits: Clopper and Pearson, exact, so that none out of n still allows 1 - ((1 - level) / 2)^(1/n). Test: Fisher.
    """
    from scipy.stats import binomtest, fisher_exact

    rows = []
    for name in names:
        own = facts[facts["group"] == name]
        broken = int(own["end_reason"].isin(REASONS).sum())
        limits = binomtest(broken, len(own)).proportion_ci(level) if len(own) else None
        rows.append(
            {
                "group": name,
                "cutters": len(own),
                "fractures": broken,
                "share": broken / len(own) if len(own) else math.nan,
                "low": float(limits.low) if limits else math.nan,
                "high": float(limits.high) if limits else math.nan,
            }
        )
    table = pd.DataFrame(rows)
    p = math.nan
    if len(names) == 2 and table["fractures"].sum() > 0:
        broken_ones = table["fractures"].to_numpy(dtype=int)
        counts = np.column_stack([broken_ones, table["cutters"].to_numpy(dtype=int) - broken_ones])
        p = float(fisher_exact(counts).pvalue)
    return Fractures(table, level, p)
