"""One contrast: its ratio, its interval, its verdict, and what was fair about it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.contrast import Contrast, judge
from wearlab.compare.fair import Fairness, fairness, shares_blocks
from wearlab.compare.groups import common_ground
from wearlab.compare.life_ratio import Ratio
from wearlab.compare.outcomes import Outcome
from wearlab.compare.predicted import PredictedBand, predict_ratio
from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, exp_or_inf
from wearlab.stats.detectable import cutters_needed, smallest_shift


def contrast_of(
    outcome: Outcome,
    a: str,
    b: str,
    by: str,
    adjust: tuple[str, ...],
    margin: float,
    level: float,
    pairs: int,
    limits: dict[str, tuple[float, float]],
    rng: int = 0,
) -> tuple[Contrast, Fairness]:
    """One contrast, judged, and what was fair about it.

    Parameters
    ----------
    outcome : Outcome
    a, b : str
        Groups.
    by : str
        Column that made them.
    adjust : tuple of str
        Factors that enter beside the group.
    margin, level : float
    pairs : int
        Contrasts made of this outcome: the intervals are widened for that many (Bonferroni).
    limits : dict of str to (float, float)
        Zones in mm, for the predicted band.
    rng : int
        Seed of permutation tests that cannot be counted out.
    """
    table, notes = common_ground(outcome.table, (a, b), by, adjust)
    just = fairness(table, a, b, by)
    n_a, n_b = (int((table["group"] == name).sum()) for name in (a, b))
    refused = "; ".join(just.confounded)
    if refused:
        refused = f"{refused}: they cannot be told apart"
    alpha = (1.0 - level) / pairs
    block = shares_blocks(table) if min(n_a, n_b) else ""
    if min(n_a, n_b) == 0:
        found = _nothing(n_a, n_b, f"no cutter of {a if n_a == 0 else b} has this outcome")
    elif min(n_a, n_b) == 1:
        found = _described(table, outcome.name, a)
    else:
        try:
            found = outcome.ratio(table, a, b, 1.0 - alpha, 1.0 - 2.0 * alpha, block, adjust, rng)
        except Refusal as refusal:  # of this pair alone: the other pairs still have their answer
            found = _nothing(n_a, n_b, refusal.message())
    contrast = _record(outcome, a, b, found, notes + list(just.doubts), margin, level, refused, pairs)
    return replace(contrast, predicted=_band(contrast, table, limits)), just


def _band(contrast: Contrast, table: pd.DataFrame, limits: dict[str, tuple[float, float]]) -> PredictedBand:
    """The band that edge exposure predicts, and where the measured ratio lies against it."""
    zone, clock, outcome = contrast.zone, contrast.clock, contrast.outcome
    band = predict_ratio(table, contrast.a, contrast.b, zone, limits, clock, outcome)
    if contrast.scale != "ratio":
        return band
    return replace(band, position=band.beside(contrast.estimate, contrast.interval))


def _nothing(n_a: int, n_b: int, why: str) -> Ratio:
    """A contrast of which nothing can be said, and why."""
    nan, unknown = math.nan, Interval(-math.inf, math.inf, 0.95, "none")
    return Ratio(n_a, n_b, nan, unknown, unknown, nan, nan, nan, nan, "none", why_missing=why)


def _described(table: pd.DataFrame, outcome: str, a: str) -> Ratio:
    """One cutter on a side: a ratio of geometric means and nothing more."""
    in_a = (table["group"] == a).to_numpy()
    why = "one cutter on a side: its scatter is not known"
    found = replace(_nothing(int(in_a.sum()), int((~in_a).sum()), why), method="description only")
    if outcome == "life" and not (table["status"] == "exact").all():
        return found
    values = table["life" if outcome == "life" else "rate"].to_numpy(float)
    if (values <= 0).any():
        return replace(found, log_ratio=float(values[in_a].mean() - values[~in_a].mean()), scale="difference")
    return replace(found, log_ratio=float(np.log(values[in_a]).mean() - np.log(values[~in_a]).mean()))


def _record(
    outcome: Outcome,
    a: str,
    b: str,
    found: Ratio,
    notes: list[str],
    margin: float,
    level: float,
    refused: str,
    pairs: int,
) -> Contrast:
    ratio = found.scale == "ratio"
    interval, inner = (found.interval.exp(), found.inner.exp()) if ratio else (found.interval, found.inner)
    if found.why_missing:
        interval = inner = Interval(-math.inf, math.inf, level, "none")
    interval = replace(interval, level=level)
    if pairs > 1:
        notes = [*notes, f"interval widened for {pairs} contrasts (Bonferroni), p by Holm"]
    verdict, why = (
        (None, found.why_missing)
        if found.why_missing and not refused
        else judge(interval, inner, margin, found.n_a, found.n_b, refused)
    )
    if not ratio and not why:
        verdict, why = None, "rates that are not above 0 have no ratio: no margin to judge the difference by"
    alpha = (1.0 - level) / pairs  # what is left for one contrast where several are made
    reaches = math.isfinite(found.smallest_p) and found.smallest_p <= alpha
    detectable = cutters = None
    if ratio and math.isfinite(found.sigma) and found.sigma > 0 and min(found.n_a, found.n_b) > 1:
        detectable = exp_or_inf(smallest_shift(found.se, found.df, 1.0 - alpha))
        cutters = _to_settle(found.sigma, margin, 1.0 - alpha)
    return Contrast(
        a=a,
        b=b,
        outcome=outcome.name,
        criterion=outcome.criterion,
        zone=outcome.zone,
        clock=outcome.clock,
        scale=found.scale,
        n_a=found.n_a,
        n_b=found.n_b,
        estimate=exp_or_inf(found.log_ratio) if ratio and math.isfinite(found.log_ratio) else found.log_ratio,
        interval=interval,
        inner=inner,
        p_value=found.p_exact if reaches else found.p_model,
        p_method="exact permutation" if reaches else "of the interval's method",
        smallest_p=found.smallest_p,
        method=found.method,
        sigma=found.sigma,
        smallest_detectable=math.nan if detectable is None else detectable,
        cutters_to_settle=cutters,
        equivalence=_equivalence(inner, margin, ratio and not found.why_missing),
        verdict=verdict,
        why_missing=why,
        exploratory=outcome.exploratory,
        notes=tuple([*notes, found.note] if found.note else notes),
    )


def _to_settle(sigma: float, margin: float, level: float) -> int | None:
    try:
        return cutters_needed(sigma, margin, level)
    except Refusal:
        return None


def _equivalence(inner: Interval, margin: float, judged: bool) -> dict[str, Any]:
    if not judged:
        return {"margin": margin, "low": None, "high": None, "level": inner.level, "alike": None}
    return {
        "margin": margin,
        "low": inner.low,
        "high": inner.high,
        "level": inner.level,
        "alike": inner.inside(1.0 / margin, margin),
    }


def holm(contrasts: tuple[Contrast, ...], pairs: int) -> tuple[Contrast, ...]:
    """Holm's correction of p within each outcome and zone."""
    if pairs < 2:
        return contrasts
    from statsmodels.stats.multitest import multipletests

    done = list(contrasts)
    for key in dict.fromkeys((c.outcome, c.zone) for c in contrasts):
        at = [i for i, c in enumerate(contrasts) if (c.outcome, c.zone) == key and math.isfinite(c.p_value)]
        if at:
            adjusted = multipletests([contrasts[i].p_value for i in at], method="holm")[1]
            for i, p in zip(at, adjusted, strict=True):
                done[i] = replace(contrasts[i], p_value=float(p), p_method=f"{contrasts[i].p_method}, Holm")
    return tuple(done)
