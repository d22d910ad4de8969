"""Which choice is cheapest, how sure that is, what a wrong choice costs, and what more testing is worth.

Everything here works on draws of cost: one array a choice, draw by draw from the same plausible world.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import plain

if TYPE_CHECKING:
    import pandas as pd

SURE = 0.95
"""Chance of being best from which a choice counts as settled."""
LITTLE = 0.01
"""Share of the cost of a part below which an expected loss hardly matters."""
SIMULATED = 20_000
"""Draws behind the worth of more cutters where more than two choices stand."""


@dataclass(frozen=True, repr=False)
class Best:
    """Chance of being best and expected loss of every choice.

    Attributes
    ----------
    names : tuple of str
    costs : ndarray, shape (choices, draws)
        Draws of cost.
    chances : ndarray, shape (choices,)
        Share of draws in which the choice has the least cost; a tie is shared.
    losses : ndarray, shape (choices,)
        Mean cost over the least cost of the same draw: what the choice loses on average for not knowing.
    """

    names: tuple[str, ...]
    costs: np.ndarray
    chances: np.ndarray
    losses: np.ndarray

    @property
    def choice(self) -> str:
        """The choice with the least expected cost, and so with the least expected loss."""
        return self.names[int(np.argmin(self.losses))]

    @property
    def chance(self) -> float:
        """Chance that the choice is the best one."""
        return float(self.chances[int(np.argmin(self.losses))])

    @property
    def perfect_information(self) -> float:
        """What knowing the truth would save: the expected loss of the choice."""
        return float(self.losses.min())

    def estimate(self, name: str) -> float:
        """Mean cost."""
        return float(self.costs[self.names.index(name)].mean())

    def interval(self, name: str, level: float = 0.95) -> Interval:
        """Interval of the cost of one choice."""
        check_level(level)
        low, high = np.quantile(self.costs[self.names.index(name)], [0.5 - level / 2, 0.5 + level / 2])
        return Interval(float(low), float(high), level, f"{self.costs.shape[1]} posterior draws")

    def to_frame(self) -> pd.DataFrame:
        """One row a choice."""
        import pandas as pd

        return pd.DataFrame(
            {
                "group": self.names,
                "cost": self.costs.mean(axis=1),
                "chance_best": self.chances,
                "expected_loss": self.losses,
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({"choices": self.to_frame().to_dict("records"), "choice": self.choice})

    def __repr__(self) -> str:
        return f"<Best: {self.choice}, chance {self.chance:.3g} of being the cheapest of {len(self.names)}>"


@dataclass(frozen=True, slots=True)
class MoreCutters:
    """What more cutters of each choice would be worth, and what they would cost.

    Attributes
    ----------
    more : int
        Further cutters of each choice that is still in question.
    worth : float
        Expected saving through a better choice, in the money of `spend` (a year's, as a rule).
    cost : float
        Money for these cutters; NaN where it was not given.
    pays : bool or None
        Whether they are worth more than they cost.
    """

    more: int
    worth: float
    cost: float
    pays: bool | None

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return plain({"more": self.more, "worth": self.worth, "cost": self.cost, "pays": self.pays})


def chance_of_best(costs: Mapping[str, ArrayLike]) -> Best:
    """Chance of being best and expected loss.

    Parameters
    ----------
    costs : mapping of str to array_like, shape (draws,)
        Draws of cost by choice; draw i of every choice is of the same plausible world.

    Returns
    -------
    Best

    Raises
    ------
    ArgumentError
        Fewer than two choices, arrays of different lengths, or draws that are no finite numbers.

    Examples
    --------
    >>> made = chance_of_best({"a": [1.0, 2.0, 3.0, 4.0], "b": [2.0, 1.0, 4.0, 6.0]})
    >>> made.choice, made.chances.tolist(), made.losses.tolist()
    ('a', [0.75, 0.25], [0.25, 1.0])
    """
    table = _table(costs)
    least = table.min(axis=0)
    ties = table == least
    return Best(tuple(costs), table, (ties / ties.sum(axis=0)).mean(axis=1), (table - least).mean(axis=1))


def perfect_information(difference: float, sd: float, spend: float = 1.0) -> float:
    """Worth of knowing which of two choices is better: H s [phi(u) - u (1 - Phi(u))], u = |difference| / s.

    Parameters
    ----------
    difference : float
        Expected difference of the two choices, as a share of the spend (ln cost) or in money.
    sd : float
        Standard deviation of what is believed of it.
    spend : float
        Spend that the choice affects, where the difference is a share of it.

    Notes
    -----
    Unit normal loss; R. Schlaifer, Probability and Statistics for Business Decisions (from memory); checked by
    quadrature in the tests.

    Examples
    --------
    >>> round(perfect_information(-0.12, 0.20, 2000), 1)
    67.5
    """
    if not sd >= 0 or not math.isfinite(difference):
        raise ArgumentError(f"difference {difference:g}, sd {sd:g}", allowed="finite, sd from 0")
    if sd == 0:
        return 0.0
    return spend * sd * _unit_loss(abs(difference) / sd)


def worth_of_pairs(difference: float, sd: float, scatter: float, pairs: int, spend: float = 1.0) -> float:
    """Worth of some more pairs of cutters, one of each of two choices.

    Parameters
    ----------
    difference, sd, spend : float
        As in `perfect_information`.
    scatter : float
        Standard deviation of one pair's difference.
    pairs : int

    Notes
    -----
    As for perfect information, with s replaced by s sqrt(s^2 / (s^2 + scatter^2 / m)), the standard deviation of
    what will be believed after m pairs.

    Examples
    --------
    >>> [round(worth_of_pairs(-0.12, 0.20, 0.424, m, 2000)) for m in (2, 4, 8, 16)]
    [16, 29, 42, 52]
    """
    if pairs < 1 or not scatter > 0:
        raise ArgumentError(f"{pairs} pairs, scatter {scatter:g}", allowed="at least one pair, scatter above 0")
    moved = sd * math.sqrt(sd**2 / (sd**2 + scatter**2 / pairs)) if sd > 0 else 0.0
    return perfect_information(difference, moved, spend)


def worth_of_more_cutters(
    best: Best,
    scatter: Sequence[float],
    more: Sequence[int],
    *,
    spend: float = 1.0,
    prices: Sequence[float] | None = None,
    rng: np.random.Generator | int | None = None,
) -> tuple[MoreCutters, ...]:
    """Worth of m more cutters of each choice.

    Parameters
    ----------
    best : Best
    scatter : sequence of float, one a choice
        Standard deviation of the cost that one further cutter points to.
    more : sequence of int
        Numbers of further cutters to look at.
    spend : float
        What the money of the draws is multiplied with: parts a year.
    prices : sequence of float, one a choice, optional
        Money for one cutter of each choice.
    rng : Generator or int, optional
        Draws where there are more than two choices.

    Notes
    -----
    The share of perfect information that m more cutters give is worked out for normal beliefs with the mean and
    covariance of the draws: after them the means will scatter with covariance V (V + D/m)^-1 V, D the scatter squared
    (conjugate normal; two choices in closed form). It is a share of the draws' own perfect information, so that no
    number of cutters is ever worth more than knowing the truth.
    """
    spread = np.asarray(scatter, dtype=float)
    if spread.shape != (len(best.names),) or not (spread >= 0).all():
        raise ArgumentError(f"{spread.size} figures of scatter", allowed=f"{len(best.names)}, from 0")
    means, covariance = best.costs.mean(axis=1), np.cov(best.costs)
    normal = np.random.default_rng(rng).standard_normal((SIMULATED, len(means)))
    found = []
    certain = _normal_worth(means, covariance, normal)
    for m in more:
        if m < 1:
            raise ArgumentError(f"{m} more cutters", where="worth of more", allowed="at least 1")
        total = covariance + np.diag(spread**2 / m)
        moved = covariance @ np.linalg.pinv(total, hermitian=True) @ covariance
        share = min(_normal_worth(means, moved, normal) / certain, 1.0) if certain > 0 else 0.0
        worth = spend * best.perfect_information * share
        cost = m * float(sum(prices)) if prices is not None else math.nan
        found.append(MoreCutters(m, worth, cost, None if math.isnan(cost) else worth > cost))
    return tuple(found)


def settled(best: Best, more: Sequence[MoreCutters]) -> str:
    """What the numbers say about testing on.

    Returns
    -------
    str
        `settled`: best with a chance of `SURE` or more. `hardly_matters`: not settled, and choosing wrong loses less
        than `LITTLE` of the cost on average. `test_more`: some number of further cutters is worth more than it
        costs. `stop_testing`: not settled, and none is. `not_weighed`: what further cutters cost is not known.
    """
    if best.chance >= SURE:
        return "settled"
    if best.perfect_information < LITTLE * best.estimate(best.choice):
        return "hardly_matters"
    if any(one.pays for one in more):
        return "test_more"
    return "stop_testing" if more and all(one.pays is False for one in more) else "not_weighed"


def _table(costs: Mapping[str, ArrayLike]) -> np.ndarray:
    rows = [np.asarray(values, dtype=float) for values in costs.values()]
    if len(rows) < 2:
        raise ArgumentError(f"{len(rows)} choice", where="chance of being best", allowed="two or more")
    if len({row.shape for row in rows}) > 1 or rows[0].ndim != 1 or not rows[0].size:
        raise ArgumentError("arrays of different lengths", where="draws of cost", allowed="one draw a world")
    table = np.vstack(rows)
    if not np.isfinite(table).all():
        raise ArgumentError("a draw that is no finite number", where="draws of cost")
    return table


def _unit_loss(u: float) -> float:
    """phi(u) - u (1 - Phi(u)), without loss of figures far out."""
    from scipy.special import ndtr

    density = math.exp(-0.5 * u * u) / math.sqrt(2.0 * math.pi)
    return max(density - u * float(ndtr(-u)), 0.0)


def _normal_worth(means: np.ndarray, covariance: np.ndarray, normal: np.ndarray) -> float:
    """Expected saving through choosing after the means have moved with this covariance."""
    if len(means) == 2:
        sd = math.sqrt(max(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1], 0.0))
        return perfect_information(float(means[0] - means[1]), sd)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    after = means + normal @ root.T
    # The saving draw by draw: its mean has far less noise than the difference of two means.
    return float((after[:, int(np.argmin(means))] - after.min(axis=1)).mean())
