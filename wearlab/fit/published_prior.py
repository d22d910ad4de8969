"""A published exponent as a prior, off by default and always beside the fit without it.

A published n helps a small trial when it is right and misleads when the shop's own n lies elsewhere, so its spread is
never taken below 0.06, about twice what is usually quoted. It passes no check and settles no verdict.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval
from wearlab.core.tables import plain
from wearlab.fit.factors import SPEED
from wearlab.fit.laws import taylor_n
from wearlab.fit.tool_life import ToolLifeFit
from wearlab.stats.prior import Posterior, with_prior

SMALLEST_SPREAD = 0.06


@dataclass(frozen=True, slots=True)
class WithPublished:
    """Taylor's n with and without a published one.

    Attributes
    ----------
    n : float
        With it.
    interval : Interval
        Credible interval with it.
    n_without : float
        The fit's own.
    prior_n, spread : float
        The published exponent and the spread that it was given.
    conflict_p : float
        How likely a gap as large as that between the two is, were both right.
    weight : float
        Share of the published exponent in the answer.
    source : str
    """

    n: float
    interval: Interval
    n_without: float
    prior_n: float
    spread: float
    conflict_p: float
    weight: float
    source: str

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready."""
        made: dict[str, Any] = plain(
            {"n": self.n, **self.interval.to_dict(), "n_without": self.n_without, "prior_n": self.prior_n,
             "spread": self.spread, "conflict_p": self.conflict_p, "weight": self.weight, "source": self.source}
        )  # fmt: skip
        return made


def with_published(
    fit: ToolLifeFit, prior_n: float, spread: float = SMALLEST_SPREAD, source: str = "", level: float = 0.95
) -> WithPublished:
    """Combine a Taylor fit of complete lives with a published exponent.

    Parameters
    ----------
    fit : ToolLifeFit
        Taylor's law, speed alone, complete lives.
    prior_n, spread : float
        Published exponent and its spread; a spread below 0.06 is raised to it.
    source : str
        Where it is printed.
    level : float

    Raises
    ------
    Refusal
        Some lives are censored, or there are factors beside speed.
    ArgumentError
        The exponent is out of bounds.
    """
    if fit.line is None:
        raise Refusal("some lives are censored: the closed form needs complete ones", where="published exponent")
    if [factor.column for factor in fit.factors] != [SPEED]:
        raise Refusal("there are factors beside speed", where="published exponent", hint="use --only to keep one group")
    ln_speed, ln_life = (np.log(fit.used[name].to_numpy(float)) for name in (SPEED, "low"))
    posterior: Posterior = with_prior(ln_speed, ln_life, prior_n, max(spread, SMALLEST_SPREAD))
    limits = posterior.interval(level)
    high = -1.0 / limits.high if limits.high < 0 else math.inf
    return WithPublished(
        n=taylor_n(posterior.slope),
        interval=Interval(-1.0 / limits.low, high, level, limits.method),
        n_without=taylor_n(float(fit.line.beta[1])),
        prior_n=prior_n,
        spread=max(spread, SMALLEST_SPREAD),
        conflict_p=posterior.conflict_p,
        weight=posterior.weight,
        source=source,
    )
