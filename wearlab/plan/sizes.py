"""How many cutters: power, smallest detectable ratio, chance of each verdict, for a range of sizes.

Closed forms: Student's t on logs (noncentral t as an average over the estimated scatter), two one-sided tests, and the
mean of one practice. What they cost in bar, hours and money is in `budget`; simulations are in `by_simulation`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.tables import plain
from wearlab.plan.chances import Chances, detectable
from wearlab.plan.layout import Layout, chances, precision
from wearlab.plan.order import balanced, shared_blocks
from wearlab.plan.request import Request
from wearlab.plan.scatter import sigma_of_cv

FEWEST = 3
"""No plan has fewer cutters a practice: no verdict is given below."""
SHOWN = (3, 4, 5, 6, 8, 10, 12, 15, 20, 30)
"""Sizes that a forecast lists."""


@dataclass(frozen=True, slots=True)
class PowerRow:
    """Forecast of one outcome at one size.

    Attributes
    ----------
    outcome : str
        life, rate or wall.
    cutters : int
        Cutters a practice.
    truth : float
        True ratio (difference in um for walls) that the power is for.
    power : float
        Chance that the interval excludes no difference.
    detectable : float
        Smallest ratio (or difference) shown with the wanted chance, no cutter lost; infinite when none is.
    alike_power : float
        Chance that the practices are called alike, or their difference small, when they are truly equal.
    at_truth, at_equal : Chances
        Chance of each verdict at that truth, and when there is no difference.
    method : str
    exact : bool
        Whether the closed form is exact (normal logs, common scatter); else it is an approximation.
    """

    outcome: str
    cutters: int
    truth: float
    power: float
    detectable: float
    alike_power: float
    at_truth: Chances
    at_equal: Chances
    method: str
    exact: bool

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready; an unbounded `detectable` is null and named in `unbounded`."""
        made: dict[str, Any] = plain(
            {
                "outcome": self.outcome,
                "cutters": self.cutters,
                "truth": self.truth,
                "power": self.power,
                "smallest_detectable": self.detectable,
                "unbounded": "smallest_detectable" if math.isinf(self.detectable) else None,
                "alike_power": self.alike_power,
                "at_truth": self.at_truth.to_dict(),
                "at_equal": self.at_equal.to_dict(),
                "method": self.method,
                "exact": self.exact,
            }
        )
        return made


@dataclass(frozen=True, slots=True)
class MeanSize:
    """Repeats for one mean.

    Attributes
    ----------
    exact : float
        Before rounding up.
    repeats : int
    """

    exact: float
    repeats: int


def repeats_for_standard_error(cv: float, share: float) -> MeanSize:
    """Repeats whose mean has a standard error of a share of itself: V^2 / R^2.

    The form of Machinery's Handbook, 31st edition, p. 139, which prints 14 for 30 % and 8 % (14.06 unrounded).

    >>> repeats_for_standard_error(0.30, 0.08)
    MeanSize(exact=14.0625, repeats=15)
    """
    if not (cv > 0 and share > 0):
        raise ArgumentError(f"scatter {cv:g}, share {share:g}", where="size of a mean", allowed="above 0")
    exact = (cv / share) ** 2
    return MeanSize(exact, math.ceil(exact - 1e-9))


def repeats_for_half_width(cv: float, share: float, level: float = 0.95, student: bool = True) -> MeanSize:
    """Repeats whose mean has a confidence interval of plus or minus a share of itself.

    With a known scatter (`student` false) N >= (z cv / share)^2, NIST/SEMATECH e-Handbook 7.2.2.2; with an
    estimated one the smallest N with t cv / sqrt(N) <= share.

    >>> [repeats_for_half_width(0.30, 0.08, student=student).repeats for student in (False, True)]
    [55, 57]
    """
    from scipy.special import ndtri, stdtrit

    if not (cv > 0 and share > 0):
        raise ArgumentError(f"scatter {cv:g}, share {share:g}", where="size of a mean", allowed="above 0")
    exact = (float(ndtri(0.5 + level / 2)) * cv / share) ** 2
    normal = math.ceil(exact - 1e-9)
    if not student:
        return MeanSize(exact, normal)
    tests = max(normal, 2)
    while float(stdtrit(tests - 1, 0.5 + level / 2)) * cv / math.sqrt(tests) > share:
        tests += 1
    return MeanSize(exact, tests)


def contrasts_of(request: Request) -> int:
    """Contrasts that share the error of an outcome: everything with the standard, or every pair."""
    k = len(request.practices)
    return max(k - 1, 1) if request.standard else max(k * (k - 1) // 2, 1)


def layout_of(request: Request, cutters: int, outcome: str) -> Layout:
    """Layout of one contrast at a size."""
    scatter = request.scatter
    sigma = sigma_of_cv(scatter.cv)
    if outcome == "wall":
        if request.size.wall_sd_um is None:
            raise ArgumentError(
                "no wall_sd_um",
                where="[size]",
                hint="the scatter of wall error between cutters is the shop's own",
            )
        sigma = request.size.wall_sd_um
    shared = shared_blocks(len(request.practices), request.blocks, cutters)
    return Layout(cutters, sigma, scatter.correlation, shared, outcome, scatter.drop_out)


def power_rows(request: Request, sizes: Iterable[int] = SHOWN) -> list[PowerRow]:
    """Forecast of every outcome at several sizes.

    Parameters
    ----------
    request : Request
        A request with at least two practices.
    sizes : iterable of int
        Cutters a practice.

    Examples
    --------
    >>> import tomllib
    >>> from wearlab.plan.example import EXAMPLE
    >>> from wearlab.plan.request_file import request_of
    >>> row = power_rows(request_of(tomllib.loads(EXAMPLE)), [6])[0]
    >>> row.outcome, round(row.power, 2), round(row.detectable, 2)
    ('life', 0.87, 1.78)
    """
    return [power_row(request, size, outcome) for outcome in outcomes_of(request) for size in sorted(set(sizes))]


def outcomes_of(request: Request) -> list[str]:
    """Outcomes with a size: walls where their scatter and a difference worth acting on are stated."""
    return ["life", "rate"] + (["wall"] if request.size.wall_um and request.size.wall_sd_um else [])


def power_row(request: Request, cutters: int, outcome: str) -> PowerRow:
    """Forecast of one outcome at one size."""
    return _row(request, layout_of(request, cutters, outcome))


def cutters_for(request: Request, outcome: str = "") -> int:
    """Smallest size at which the wanted ratio is shown with the wanted chance, lost cutters allowed for.

    Raises
    ------
    Refusal
        When `size.most` cutters a practice do not suffice; the smallest ratio that they show is named.
    """
    outcome = outcome or request.size.outcome
    size = request.size
    best = math.inf
    for cutters in range(FEWEST, max(size.most, FEWEST) + 1):
        if not balanced(len(request.practices), request.blocks, cutters):
            continue
        row = power_row(request, cutters, outcome)
        best = min(best, row.detectable)
        if row.power >= size.power:
            return cutters
    wall = outcome == "wall"
    wanted = f"a difference of {size.wall_um:g} um" if wall else f"a ratio of {size.ratio:g}"
    within = f"a difference of {best:.3g} um" if wall else f"a ratio of {best:.3g}"
    raise Refusal(
        f"{size.most} cutters a practice find {wanted} in under {100 * size.power:g} of 100 trials",
        where="size of the trial",
        allowed=f"{within} or more at that size",
        hint="a larger ratio, less scatter (blocks, one holder), or more cutters (size.most)",
    )


def _row(request: Request, layout: Layout) -> PowerRow:
    size, pairs = request.size, contrasts_of(request)
    wall = layout.outcome == "wall"
    truth = float(size.wall_um or math.nan) if wall else size.ratio
    margin = truth if wall else math.log(size.margin)
    at_truth = chances(layout, truth if wall else math.log(truth), margin, size.level, pairs)
    at_equal = chances(layout, 0.0, margin, size.level, pairs)
    found = precision(layout)
    smallest = detectable(found, size.power, size.level, pairs) if layout.cutters >= FEWEST else math.inf
    return PowerRow(
        outcome=layout.outcome,
        cutters=layout.cutters,
        truth=truth,
        power=at_truth.shown,
        detectable=smallest if wall or smallest > 700 else math.exp(smallest),
        alike_power=at_equal.alike + at_equal.small_but_real,
        at_truth=at_truth,
        at_equal=at_equal,
        method=_method(layout, pairs),
        exact=layout.exact,
    )


def _method(layout: Layout, pairs: int) -> str:
    scale = "differences" if layout.outcome == "wall" else "logs"
    words = f"Student t on {scale}, " + ("within blocks" if layout.within else "two samples")
    if layout.drop_out:
        words += ", averaged over lost cutters"
    if not layout.exact:
        words += ", block effect left in the scatter"
    return words + (f", {pairs} contrasts (Bonferroni)" if pairs > 1 else "")
