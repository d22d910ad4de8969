"""Planned looks at the verdict before the end: their limits, and what they are expected to save."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.plan.order import shared_blocks
from wearlab.plan.request import Request
from wearlab.plan.sizes import FEWEST, contrasts_of, layout_of
from wearlab.plan.spending import NEVER, Boundaries, boundaries, crossing_chances


@dataclass(frozen=True, slots=True)
class Interim:
    """Limits of the planned looks.

    Attributes
    ----------
    boundaries : Boundaries
        Of one contrast; the error is shared among the contrasts first.
    at_truth, at_equal : tuple of float
        Chance that each look is the first to call a difference, at the ratio that must not be missed and when there is
        none (simulated).
    give_up_below : float
        Chance of ever showing that ratio, below which carrying on is not worth it; giving up costs no false alarm.
    """

    boundaries: Boundaries
    at_truth: tuple[float, ...]
    at_equal: tuple[float, ...]
    give_up_below: float

    @property
    def power(self) -> float:
        """Chance that any look shows the ratio."""
        return sum(self.at_truth)

    @property
    def expected_blocks(self) -> float:
        """Blocks (cutters a practice) that are expected to be run at that ratio."""
        pairs = [one.pairs for one in self.boundaries.looks]
        return (
            sum(chance * n for chance, n in zip(self.at_truth, pairs, strict=True))
            + (1 - self.power) * pairs[-1]
        )

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        return self.boundaries.to_dict() | {
            "at_truth": list(self.at_truth),
            "at_equal": list(self.at_equal),
            "power": self.power,
            "expected_blocks": self.expected_blocks,
            "give_up_below": self.give_up_below,
        }


def plan_interim(request: Request, cutters: int) -> Interim | None:
    """Limits of the looks that a request asks for; None when it asks for none.

    Raises
    ------
    ArgumentError
        A look comes before a verdict may be given, or after the end.
    Refusal
        Blocks are incomplete: not every look would compare like with like.
    """
    wanted = request.interim
    if not wanted.at_blocks or len(request.practices) < 2:
        return None
    if min(wanted.at_blocks) < FEWEST or max(wanted.at_blocks) > cutters:
        raise ArgumentError(
            f"looks at the verdict after {list(wanted.at_blocks)} blocks",
            where="[interim]",
            allowed=f"from {FEWEST} (no verdict is given below three cutters a side) to {cutters}",
        )
    shared = shared_blocks(len(request.practices), request.blocks, cutters)
    if 0 < shared < cutters or (shared == 0 and request.blocks.use):
        raise Refusal(
            "interim looks with incomplete blocks: not every look would compare like with like",
            where="[interim]",
            hint="let a block hold one run of every practice, or look at the end only",
        )
    alpha = (1.0 - request.size.level) / contrasts_of(request)
    layout = layout_of(request, cutters, request.size.outcome)
    paired_from = layout.fewest_pairs if shared else NEVER
    found = boundaries(
        wanted.at_blocks, cutters, alpha=alpha, spending=wanted.spending, paired_from=paired_from
    )
    rho = layout.correlation if shared else 0.0
    at_truth, at_equal = (
        tuple(crossing_chances(found, drift, rho))
        for drift in (math.log(request.size.ratio) / layout.sigma, 0.0)
    )
    return Interim(found, at_truth, at_equal, wanted.give_up_below)
