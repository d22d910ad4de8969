"""Looking before the end without more false alarms: error spending by Lan and DeMets, with Student's t.

The error that may be spent up to a share of the information is a function fixed in the plan (K. K. G. Lan and D. L.
DeMets, Discrete sequential boundaries for clinical trials, Biometrika 70 (1983) 659; from memory). The limits for a
known scatter come from recursive numerical integration (P. Armitage, C. K. McPherson and B. C. Rowe, J. R. Stat. Soc. A
132 (1969) 235; from memory). With few cutters the scatter is estimated and the limits must be wider than the usual
exchange of z for t makes them (up to 5.8 % false alarms instead of 5 at six blocks, simulated): they are set here on
simulated paths of the t statistic itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import check_level
from wearlab.core.tables import nearest, plain
from wearlab.stats.design import FloatArray

MOST_LOOKS = 10
PATHS = 600_000
"""Simulated paths on which the limits for t are set; the Monte-Carlo error of 5 % is then 0.03 points."""
SEED = 20260413
"""Of those paths; fixed, so that a plan always has the same limits."""
CAUTION = 3.0
"""Standard errors of the simulation that are kept in hand at the last look."""
NEVER = 1_000_000
"""`paired_from` of a trial without blocks."""
NODES = 160


@dataclass(frozen=True, slots=True)
class Look:
    """One planned look at the verdict.

    Attributes
    ----------
    number : int
    pairs : int
        Cutters a practice (or complete blocks) at the look.
    share : float
        Of the information of the whole trial.
    spent : float
        Error that may have been spent up to here.
    z : float
        Limit for |z| when the scatter is known.
    nominal : float
        Two-sided p at which a difference is called: what the look itself may use.
    t : float
        Limit for |t| that goes with it.
    """

    number: int
    pairs: int
    share: float
    spent: float
    z: float
    nominal: float
    t: float

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain({name: getattr(self, name) for name in self.__slots__})
        return made


@dataclass(frozen=True, slots=True)
class Boundaries:
    """Limits of every look.

    Attributes
    ----------
    looks : tuple of Look
    alpha : float
        Two-sided error of the whole trial.
    spending : str
    paired_from : int
        Blocks from which on differences within blocks are used (df = pairs - 1), before two samples (2 pairs - 2).
    """

    looks: tuple[Look, ...]
    alpha: float
    spending: str
    paired_from: int

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return {
            "alpha": self.alpha,
            "spending": self.spending,
            "looks": [one.to_dict() for one in self.looks],
        }


def obrien_fleming(share: FloatArray, alpha: float) -> FloatArray:
    """Two-sided error spent at a share of the information, of O'Brien and Fleming's kind: almost nothing early.

    4 - 4 Phi(z_(alpha/4) / sqrt(share)): the one-sided function on each side.
    """
    from scipy.special import ndtr, ndtri

    return np.asarray(4.0 * ndtr(-ndtri(1.0 - alpha / 4.0) / np.sqrt(share)), dtype=float)


def pocock(share: FloatArray, alpha: float) -> FloatArray:
    """Of Pocock's kind: about as much at every look. alpha ln(1 + (e - 1) share)."""
    return np.asarray(alpha * np.log1p((math.e - 1.0) * share), dtype=float)


SPENDING: dict[str, Callable[[FloatArray, float], FloatArray]] = {
    "obrien_fleming": obrien_fleming,
    "pocock": pocock,
}
"""Spending functions by name."""


def normal_limits(
    shares: Sequence[float], alpha: float = 0.05, spending: str = "obrien_fleming"
) -> list[float]:
    """Limits for |z| at each look, scatter known.

    Parameters
    ----------
    shares : sequence of float
        Of the information, rising, the last at most 1.
    alpha : float
        Two-sided.
    spending : str
        obrien_fleming or pocock.

    Examples
    --------
    >>> [round(limit, 4) for limit in normal_limits([0.2, 0.4, 0.6, 0.8, 1.0])]
    [4.8769, 3.357, 2.6803, 2.2898, 2.031]
    """
    shares = _checked(shares, alpha, spending)
    return _limits_for(shares, SPENDING[spending](np.array(shares), alpha))


def boundaries(
    at_pairs: Sequence[int],
    in_all: int,
    *,
    alpha: float = 0.05,
    spending: str = "obrien_fleming",
    paired_from: int = 2,
) -> Boundaries:
    """Limits of a trial whose verdict is looked at after so many complete blocks (or cutters a side).

    Parameters
    ----------
    at_pairs : sequence of int
        Complete blocks at each look, rising; the last look is the end of the trial if it is not among them.
    in_all : int
        Blocks of the whole trial.
    alpha : float
        Two-sided error of the whole trial.
    spending : str
    paired_from : int
        Blocks from which on the analysis is made within blocks (paired t), before as two samples; `NEVER` without
        blocks. Where it changes on the way, the limits are set for cutters whose blocks do not matter, which is where
        the change costs most.

    Raises
    ------
    ArgumentError
        When a look comes too early for an interval, or the numbers do not rise.

    Examples
    --------
    >>> found = boundaries([4, 6], 8)
    >>> [(one.pairs, round(one.nominal, 4)) for one in found.looks]
    [(4, 0.0031), (6, 0.0172), (8, 0.0392)]
    """
    pairs = [*at_pairs] if at_pairs and at_pairs[-1] == in_all else [*at_pairs, in_all]
    if any(b <= a for a, b in pairwise(pairs)) or pairs[0] < 2:
        raise ArgumentError(
            f"looks after {pairs} blocks",
            where="interim looks",
            allowed="rising numbers from 2 up to the whole trial",
        )
    return _boundaries(tuple(pairs), alpha, spending, paired_from)


@lru_cache(maxsize=64)
def _boundaries(pairs: tuple[int, ...], alpha: float, spending: str, paired_from: int) -> Boundaries:
    shares = _checked([one / pairs[-1] for one in pairs], alpha, spending)
    spent = SPENDING[spending](np.array(shares), alpha)
    z = _limits_for(shares, spent)
    t = _t_limits(pairs, spent, z, paired_from)
    looks = tuple(
        Look(
            i + 1,
            pairs[i],
            shares[i],
            float(spent[i]),
            z[i],
            _two_sided(t[i], _df(pairs[i], paired_from)),
            t[i],
        )
        for i in range(len(pairs))
    )
    return Boundaries(looks, alpha, spending, paired_from)


def t_paths(
    pairs: Sequence[int],
    paired_from: int = 2,
    *,
    drift: float = 0.0,
    correlation: float = 0.0,
    runs: int = PATHS,
    rng: int | np.random.Generator | None = None,
) -> FloatArray:
    """Simulated t statistics of a trial at its looks.

    Parameters
    ----------
    pairs : sequence of int
        Blocks (or cutters a side) at each look.
    paired_from : int
        As in `boundaries`.
    drift : float
        True difference, in standard deviations of one cutter.
    correlation : float
        Of two cutters in one block.
    runs : int
    rng : int, numpy.random.Generator or None

    Returns
    -------
    numpy.ndarray, shape (runs, looks)
    """
    generator = np.random.default_rng(rng)
    root = math.sqrt(1.0 - correlation**2)
    total, squares = np.zeros((2, runs)), np.zeros((3, runs))
    found, done = np.empty((runs, len(pairs))), 0
    for at, count in enumerate(pairs):
        new = count - done
        first, second = generator.standard_normal((2, runs)) / math.sqrt(new)
        mean = np.stack([first, correlation * first + root * second])
        squares += _scatter(new - 1, correlation, root, runs, generator)
        if done:
            shift = mean - total / done
            products = np.stack([shift[0] ** 2, shift[1] ** 2, shift[0] * shift[1]])
            squares += products * new * done / count
        total += mean * new
        done = count
        found[:, at] = _t(total / count, squares, count, drift, count >= paired_from)
    return found


def _scatter(df: int, correlation: float, root: float, runs: int, rng: np.random.Generator) -> FloatArray:
    """Sums of squares of both sides and of products, of `df` degrees of freedom (Bartlett's decomposition)."""
    if df < 1:
        return np.zeros((3, runs))
    own = np.sqrt(rng.chisquare(df, runs))
    across = rng.standard_normal(runs)
    rest = rng.chisquare(df - 1, runs) if df > 1 else np.zeros(runs)
    second = correlation * own + root * across
    return np.stack([own**2, second**2 + root**2 * rest, own * second])


def _t(means: FloatArray, squares: FloatArray, count: int, drift: float, paired: bool) -> FloatArray:
    """Paired or two-sample t from means and sums of squares."""
    gap = means[0] - means[1] + drift
    if paired:
        return np.asarray(gap / np.sqrt((squares[0] + squares[1] - 2.0 * squares[2]) / (count - 1) / count))
    return np.asarray(gap / np.sqrt((squares[0] + squares[1]) / (count - 1) / count))


def crossing_chances(
    found: Boundaries,
    drift: float,
    correlation: float = 0.0,
    runs: int = 40_000,
    rng: int | np.random.Generator | None = SEED,
) -> list[float]:
    """Chance that each look is the first to call a difference.

    Parameters
    ----------
    found : Boundaries
    drift, correlation, runs, rng
        As in `t_paths`.
    """
    paths = t_paths(
        [one.pairs for one in found.looks],
        found.paired_from,
        drift=drift,
        correlation=correlation,
        runs=runs,
        rng=rng,
    )
    over = np.abs(paths) >= np.array([one.t for one in found.looks])
    first = np.where(over.any(axis=1), over.argmax(axis=1), -1)
    return [float((first == at).mean()) for at in range(len(found.looks))]


def _t_limits(pairs: tuple[int, ...], spent: FloatArray, z: list[float], paired_from: int) -> list[float]:
    """Limits for |t|: exact at the first look, by order statistics of simulated paths at the others."""
    from scipy.special import stdtrit

    paths = np.abs(t_paths(pairs, paired_from, rng=SEED))
    going = np.ones(len(paths), dtype=bool)
    limits: list[float] = []
    for at, count in enumerate(pairs):
        # The exchange of z for t is right where little has been spent; never below it.
        exchange = float(-stdtrit(_df(count, paired_from), _tail(z[at])))
        limit = exchange
        if at:
            kept_back = CAUTION * math.sqrt(float(spent[at]) / PATHS) if at == len(pairs) - 1 else 0.0
            may_cross = max(int((float(spent[at]) - kept_back) * len(paths)) - int((~going).sum()), 0)
            left = np.sort(paths[going, at])[::-1]
            limit = max(float(left[may_cross]) if may_cross < len(left) else 0.0, exchange)
        limits.append(limit)
        going &= paths[:, at] <= limit
    return limits


def _df(pairs: int, paired_from: int) -> int:
    return pairs - 1 if pairs >= paired_from else 2 * pairs - 2


def _tail(z: float) -> float:
    from scipy.special import ndtr

    return float(ndtr(-z))


def _two_sided(t: float, df: int) -> float:
    from scipy.special import stdtr

    return 2.0 * float(stdtr(df, -t))


def _limits_for(shares: Sequence[float], spent: FloatArray) -> list[float]:
    """Limits that spend the error as it comes, by integrating over the paths that are still going."""
    from scipy.optimize import brentq
    from scipy.special import ndtr, ndtri

    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    limits: list[float] = []
    places, masses, before, used = np.zeros(1), np.ones(1), 0.0, 0.0
    for share, upto in zip(shares, spent, strict=True):
        step, due = math.sqrt(share - before), float(upto) - used

        def over(limit: float, step: float = step, due: float = due) -> float:
            tails = ndtr((-limit - places) / step) + ndtr((places - limit) / step)  # noqa: B023
            return float(np.sum(masses * tails)) - due  # noqa: B023

        limit = (
            float(ndtri(1.0 - due / 2.0)) * step
            if before == 0.0
            else float(brentq(over, 0.0, 12.0, xtol=1e-13))
        )
        limits.append(limit / math.sqrt(share))
        new = nodes * limit
        density = (
            np.exp(-0.5 * ((new[:, None] - places) / step) ** 2) @ masses / (step * math.sqrt(2.0 * math.pi))
        )
        places, masses, before, used = new, weights * limit * density, share, float(upto)
    return limits


def _checked(shares: Sequence[float], alpha: float, spending: str) -> list[float]:
    check_level(1.0 - alpha)
    if spending not in SPENDING:
        raise ArgumentError(
            f"spending {spending!r}",
            where="interim looks",
            allowed=", ".join(SPENDING),
            hint=nearest(spending, list(SPENDING)),
        )
    found = [float(one) for one in shares]
    rising = all(b > a for a, b in pairwise([0.0, *found]))
    if not found or len(found) > MOST_LOOKS or not rising or found[-1] > 1 + 1e-9:
        raise ArgumentError(
            f"shares {found}", where="interim looks", allowed=f"1 to {MOST_LOOKS}, rising, above 0, up to 1"
        )
    return found
