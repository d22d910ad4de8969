"""Several contrasts of one outcome: the chance of any false alarm among them is held, interval and p agreeing.

Each contrast brings its own p and degrees of freedom. The family gives back the level at which its interval has to be
drawn, and the p that goes with it: the interval leaves out no difference exactly where that p is below one less the
level. Which family follows from the design alone (sizes, blocks, factors, cutters shared by the contrasts).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

METHODS = ("one", "tukey", "dunnett", "games_howell", "holm")


@dataclass(frozen=True, slots=True)
class Raw:
    """A contrast by itself: two-sided p and degrees of freedom; NaN where there is no test."""

    p: float
    df: float

    @property
    def tested(self) -> bool:
        """Whether it counts in the family."""
        return math.isfinite(self.p) and self.df > 0


@dataclass(frozen=True, slots=True)
class Share:
    """What a contrast has of the family's error.

    Attributes
    ----------
    alpha : float
        One less the level at which its own interval is drawn.
    inner : float
        The same for the interval that judges whether a difference is small.
    p_value : float
        Allowing for the family.
    """

    alpha: float
    inner: float
    p_value: float


@dataclass(frozen=True, slots=True)
class Family:
    """Contrasts of one outcome.

    Attributes
    ----------
    outcome, zone : str
    method : str
        one (a single contrast), tukey or dunnett (one scatter for all groups), games_howell (each pair its own), holm.
    contrasts, groups : int
        Contrasts tested, and groups in them.
    not_held : tuple of str
        Over what the error is not held: outcomes, zones, materials.
    """

    outcome: str
    zone: str
    method: str
    contrasts: int
    groups: int
    not_held: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "outcome": self.outcome,
            "zone": self.zone,
            "method": self.method,
            "contrasts": self.contrasts,
            "groups": self.groups,
            "not_held": list(self.not_held),
        }


def shares(
    raw: Sequence[Raw], method: str, level: float, groups: int, loadings: Sequence[float] = ()
) -> tuple[Share, ...]:
    """Share of each contrast in the error of its family.

    Parameters
    ----------
    raw : sequence of Raw
    method : str
        One of `METHODS`.
    level : float
        Chance that no contrast of equal groups alarms.
    groups : int
        Groups in the contrasts (studentised range).
    loadings : sequence of float
        Of each contrast on the standard (Dunnett), sqrt(n / (n + n of the standard)).

    Notes
    -----
    Tukey and Games-Howell: the studentised range at the contrast's degrees of freedom. Holm: the interval is drawn at
    the level of the step at which the contrast was tested; that of a small difference at Bonferroni's.

    Examples
    --------
    >>> [round(one.p_value, 3) for one in shares([Raw(0.01, 10), Raw(0.04, 10), Raw(0.03, 10)], "holm", 0.95, 3)]
    [0.03, 0.06, 0.06]
    >>> [round(one.alpha, 4) for one in shares([Raw(0.01, 10), Raw(0.04, 10), Raw(0.03, 10)], "holm", 0.95, 3)]
    [0.0167, 0.025, 0.025]
    """
    alpha = 1.0 - level
    tested = [one for one in raw if one.tested]
    if len(tested) < 2 or method == "one":
        return tuple(Share(alpha, min(2 * alpha, 1.0), one.p) for one in raw)
    if method == "holm":
        return _holm(raw, alpha, len(tested))
    return tuple(
        _by_distribution(one, method, alpha, groups, tuple(loadings)) if one.tested else Share(alpha, 2 * alpha, one.p)
        for one in raw
    )


def adjusted(p: float, df: float, method: str, groups: int, contrasts: int, loadings: Sequence[float] = ()) -> float:
    """A single two-sided p, allowing for the family in one step (Bonferroni where the family steps down)."""
    from scipy.special import stdtrit

    from wearlab.stats.simultaneous import dunnett_sf, studentised_range_sf

    if not math.isfinite(p) or method == "one" or contrasts < 2:
        return p
    if method == "holm":
        return min(1.0, contrasts * p)
    t = -float(stdtrit(df, p / 2)) if p < 1 else 0.0
    if not math.isfinite(t):
        return 0.0
    if method == "dunnett":
        return dunnett_sf(t, loadings, df)
    return studentised_range_sf(t * math.sqrt(2), groups, df)


def _by_distribution(one: Raw, method: str, alpha: float, groups: int, loadings: tuple[float, ...]) -> Share:
    from scipy.special import stdtr

    from wearlab.stats.simultaneous import dunnett_quantile, studentised_range_quantile

    tails = []
    for error in (alpha, 2 * alpha):
        if method == "dunnett":
            t = dunnett_quantile(1 - error, loadings, one.df)
        else:
            t = studentised_range_quantile(1 - error, groups, one.df) / math.sqrt(2)
        tails.append(float(2 * stdtr(one.df, -t)))
    return Share(tails[0], tails[1], adjusted(one.p, one.df, method, groups, 2, loadings))


def _holm(raw: Sequence[Raw], alpha: float, tests: int) -> tuple[Share, ...]:
    order = sorted((at for at, one in enumerate(raw) if one.tested), key=lambda at: raw[at].p)
    made = {at: Share(alpha / tests, 2 * alpha / tests, math.nan) for at in range(len(raw))}
    highest, stopped = 0.0, 0
    for step, at in enumerate(order):
        left = tests - step
        highest = max(highest, min(1.0, left * raw[at].p))
        # From the first contrast that is not shown on, all are judged at the level of that step.
        stopped = stopped or (left if highest >= alpha else 0)
        made[at] = Share(alpha / (stopped or left), 2 * alpha / tests, highest)
    return tuple(made[at] for at in range(len(raw)))
