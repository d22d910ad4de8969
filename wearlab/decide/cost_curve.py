"""What cutters and their changes cost against the age of the planned change, under each law, with its uncertainty."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import check_level
from wearlab.decide.age_replacement import age_law, cost_rate
from wearlab.decide.change_interval import ChangeInterval, PlausibleLaw

if TYPE_CHECKING:
    import pandas as pd

POINTS = 49
"""Ages of the curve."""
SHORTEST, LONGEST = 0.3, 2.0
"""The curve runs from this times the shortest cheapest age to this times the longest."""
ROWS = 12
"""Ages worked out at a time; all at once would take much memory and no less time."""


def cost_curve(change: ChangeInterval, level: float = 0.95, points: int = POINTS) -> pd.DataFrame:
    """Money a unit of the clock against the age of the planned change.

    Parameters
    ----------
    change : ChangeInterval
    level : float
        Of the range over plausible laws.
    points : int
        Ages, evenly spread.

    Returns
    -------
    pandas.DataFrame
        `law`, `age` on the clock, `parts` (NaN where parts are not known), `cost` (mean over plausible laws, which is
        what the cheapest age makes least), `low`, `high`, and `tested`: whether some cutter ran as long.

    Notes
    -----
    Edges, changes and failures alone; what the machine costs while it cuts does not depend on the interval.
    """
    import pandas as pd

    check_level(level)
    if points < 2 or not change.plausible:
        raise ArgumentError(f"{points} points, {len(change.plausible)} laws", where="cost curve", allowed="two or more")
    ages = np.linspace(*_ends(change), points)
    frames = []
    for law, optimum in zip(change.plausible, change.optima, strict=True):
        mean, low, high = _rates(law, ages, optimum.planned_cost, optimum.failure_cost, level)
        frames.append(pd.DataFrame({"law": law.law, "age": ages, "cost": mean, "low": low, "high": high}))
    table = pd.concat(frames, ignore_index=True)
    table.insert(2, "parts", table["age"] / change.per_part)
    return table.assign(tested=table["age"] <= change.longest_run * (1 + 1e-9))


def _ends(change: ChangeInterval) -> tuple[float, float]:
    """From well before every cheapest age to well after; where one has no end, to where most cutters have failed."""
    ages = [one.age for one in change.optima if math.isfinite(one.age)]
    late = [
        float(age_law(one.law).quantile(0.9, np.median(one.location), np.median(one.sigma))) for one in change.plausible
    ]
    shortest = min(ages) if ages else min(late)
    longest = LONGEST * max(ages) if len(ages) == len(change.optima) else max(late)
    return SHORTEST * shortest, max(longest, shortest)


def _rates(
    law: PlausibleLaw, ages: np.ndarray, planned: float, failed: float, level: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean and range over plausible laws at every age."""
    parts = []
    for start in range(0, len(ages), ROWS):
        some = ages[start : start + ROWS, None]
        rates = cost_rate(some, law.law, law.location, law.sigma, planned, failed)
        ends = np.quantile(rates, [0.5 - level / 2, 0.5 + level / 2], axis=1)
        parts.append(np.vstack([rates.mean(axis=1), ends]))
    mean, low, high = np.hstack(parts)
    return mean, low, high
