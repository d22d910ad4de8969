"""What a layout of cutters and blocks knows of one contrast: its standard error and degrees of freedom.

The analysis is the one that `compare` will make: within blocks where enough pairs share them, else across blocks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product

from wearlab.compare.contrast import FEWEST
from wearlab.compare.life_ratio import SPARE
from wearlab.core.errors import ArgumentError
from wearlab.plan.chances import NO_VERDICT, Chances, Precision, verdict_chances

NEGLIGIBLE = 1e-9
"""Numbers of survivors less likely than this are left out of an average."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Two practices in a trial.

    Attributes
    ----------
    cutters : int
        Cutters of each.
    sigma : float
        Standard deviation of ln outcome between cutters, blocks included.
    correlation : float
        Of two cutters in one block.
    shared : int
        Blocks that hold both practices; 0 = no blocks.
    outcome : str
        life, rate or wall: settles which analysis is made.
    drop_out : float
        Chance that a cutter is lost; lost cutters count as if they had never run (cautious: a withdrawn cutter still
        tells that it lasted so long).
    """

    cutters: int
    sigma: float
    correlation: float = 0.0
    shared: int = 0
    outcome: str = "life"
    drop_out: float = 0.0

    def __post_init__(self) -> None:
        if (
            self.cutters < 1
            or not self.sigma > 0
            or not 0 <= self.correlation < 1
            or not 0 <= self.drop_out < 1
        ):
            raise ArgumentError(
                f"{self.cutters} cutters, scatter {self.sigma:g}, correlation {self.correlation:g}, "
                f"drop-out {self.drop_out:g}",
                where="layout",
                allowed="at least 1, above 0, 0 to below 1, 0 to below 1",
            )

    @property
    def fewest_pairs(self) -> int:
        """Shared blocks from which on the analysis is made within blocks."""
        return SPARE + 1 if self.outcome == "life" else 2

    @property
    def within(self) -> bool:
        """Whether the analysis is made within blocks when nothing is lost."""
        return self.shared >= self.fewest_pairs

    @property
    def exact(self) -> bool:
        """Whether the closed form is exact for Student's t: not where lost cutters leave a block effect lopsided."""
        return (
            self.within or self.correlation == 0 or (self.shared in (0, self.cutters) and self.drop_out == 0)
        )


def precision(layout: Layout) -> Precision:
    """Precision when no cutter is lost.

    Examples
    --------
    >>> found = precision(Layout(6, 0.25, 0.36, shared=6))
    >>> round(found.error, 6), found.df
    (0.11547, 5)
    """
    if layout.within:
        return _within(layout, layout.shared)
    return _across(layout, layout.cutters, layout.cutters)


@lru_cache(maxsize=4096)
def chances(layout: Layout, truth: float, margin: float, level: float = 0.95, pairs: int = 1) -> Chances:
    """Chance of each verdict, averaged over the cutters that may be lost.

    Parameters
    ----------
    layout : Layout
    truth, margin, level, pairs
        As in `wearlab.plan.chances.verdict_chances`.

    Examples
    --------
    >>> import math
    >>> alone = chances(Layout(6, 0.34), math.log(2), math.log(1.25))
    >>> some_lost = chances(Layout(6, 0.34, drop_out=0.1), math.log(2), math.log(1.25))
    >>> round(alone.shown, 3), round(some_lost.shown, 3)
    (0.888, 0.832)
    """

    @cache
    def at(found: Precision) -> Chances:
        return verdict_chances(found, truth, margin, level, pairs)

    if layout.drop_out == 0:
        return at(precision(layout)) if layout.cutters >= FEWEST else NO_VERDICT
    return _mixed(_survivors(layout), at)


def precision_left(layout: Layout, pairs: int, n_a: int, n_b: int) -> Precision | None:
    """Precision when only some cutters are left.

    Parameters
    ----------
    layout : Layout
        As planned.
    pairs : int
        Blocks in which both practices have a cutter left.
    n_a, n_b : int
        Cutters left in all.

    Returns
    -------
    Precision or None
        None where no verdict is given.
    """
    if min(n_a, n_b) < FEWEST:
        return None
    return _within(layout, pairs) if pairs >= layout.fewest_pairs else _across(layout, n_a, n_b)


def chances_left(
    found: Precision | None, truth: float, margin: float, level: float = 0.95, pairs: int = 1
) -> Chances:
    """Chance of each verdict at a precision; no verdict where there is none."""
    return NO_VERDICT if found is None else verdict_chances(found, truth, margin, level, pairs)


def _mixed(cases: Iterator[tuple[float, Precision | None]], at: Callable[[Precision], Chances]) -> Chances:
    different = small = alike = 0.0
    for probability, found in cases:
        if found is not None:
            one = at(found)
            different += probability * one.different
            small += probability * one.small_but_real
            alike += probability * one.alike
    return Chances(different, small, alike, max(1.0 - different - small - alike, 0.0))


def _survivors(layout: Layout) -> Iterator[tuple[float, Precision | None]]:
    """Every number of cutters that may be left, its chance, and what is then known; None = no verdict."""
    kept = 1.0 - layout.drop_out
    alone = layout.cutters - layout.shared
    for pairs in range(layout.shared + 1):
        of_pairs = _binomial(layout.shared, pairs, kept * kept)
        if of_pairs < NEGLIGIBLE:
            continue
        if pairs >= layout.fewest_pairs and layout.outcome == "life":
            # Enough pairs settle the analysis whatever else is left; three a side are there.
            yield of_pairs, _within(layout, pairs)
            continue
        yield from _with_singles(layout, pairs, of_pairs, alone)


def _with_singles(
    layout: Layout, pairs: int, of_pairs: float, alone: int
) -> Iterator[tuple[float, Precision | None]]:
    """Cutters left without their partner, on either side."""
    kept = 1.0 - layout.drop_out
    one_left = kept * layout.drop_out / (1.0 - kept * kept)
    broken = layout.shared - pairs
    loners = [(k, p) for k in range(alone + 1) if (p := _binomial(alone, k, kept)) >= NEGLIGIBLE]
    seen: dict[tuple[int, int], float] = {}
    for a in range(broken + 1):
        of_a = of_pairs * _binomial(broken, a, one_left)
        for b in range(broken - a + 1 if of_a >= NEGLIGIBLE else 0):
            left = of_a * _binomial(broken - a, b, one_left / (1.0 - one_left))
            for (more_a, p_a), (more_b, p_b) in product(loners, loners) if left >= NEGLIGIBLE else ():
                if (chance := left * p_a * p_b) >= NEGLIGIBLE:
                    key = (pairs + a + more_a, pairs + b + more_b)
                    seen[key] = seen.get(key, 0.0) + chance
    for (n_a, n_b), chance in seen.items():
        yield chance, precision_left(layout, pairs, n_a, n_b)


def _within(layout: Layout, pairs: int) -> Precision:
    """Differences of pairs: their mean has sd sigma sqrt(2 (1 - rho) / pairs)."""
    return Precision(layout.sigma * math.sqrt(2.0 * (1.0 - layout.correlation) / pairs), pairs - 1)


def _across(layout: Layout, n_a: int, n_b: int) -> Precision:
    """Two samples; what blocks share makes the true error smaller than the estimated one."""
    estimated = 1.0 / n_a + 1.0 / n_b
    overlap = 2.0 * layout.correlation * layout.shared / layout.cutters**2
    true = max(estimated - overlap, 1e-12)
    tied = layout.correlation * layout.shared / layout.cutters
    return Precision(layout.sigma * math.sqrt(true), n_a + n_b - 2, estimated / true, tied)


def _binomial(n: int, k: int, p: float) -> float:
    if n == 0:
        return 1.0
    return math.comb(n, k) * p**k * max(1.0 - p, 0.0) ** (n - k)
