"""Contrasts of one outcome: each pair compared, the family held, each judged, and what was fair about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.contrast import Contrast, judge
from wearlab.compare.fair import Fairness, fairness, shares_blocks
from wearlab.compare.family import Family, Raw, Share, adjusted, shares
from wearlab.compare.groups import common_ground
from wearlab.compare.life_ratio import Ratio
from wearlab.compare.outcomes import Outcome
from wearlab.compare.predicted import PredictedBand, predict_ratio
from wearlab.compare.together import Together
from wearlab.core.errors import Refusal
from wearlab.core.interval import Interval, exp_or_inf
from wearlab.stats.detectable import cutters_needed, smallest_shift
from wearlab.stats.equivalence import Margin
from wearlab.stats.several_groups import FEW


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked of every pair.

    Attributes
    ----------
    by : str
        Column that made the groups.
    adjust : tuple of str
        Factors that enter beside the group.
    margin, level : float
    limits : dict of str to (float, float)
        Zones in mm, for the predicted band.
    standard : bool
        Whether all pairs share their second group.
    rng : int
        Seed of permutation tests that cannot be counted out.
    """

    by: str
    adjust: tuple[str, ...]
    margin: float
    level: float
    limits: dict[str, tuple[float, float]]
    standard: bool = False
    rng: int = 0


@dataclass(frozen=True, slots=True)
class _Pair:
    """One pair before the family is looked at."""

    a: str
    b: str
    table: pd.DataFrame
    notes: tuple[str, ...]
    just: Fairness
    block: str
    found: Ratio


def contrasts_of(
    outcome: Outcome, pairs: Sequence[tuple[str, str]], asked: Question
) -> tuple[list[Contrast], Family, dict[tuple[str, str], Fairness]]:
    """Contrasts of one outcome in the order of the pairs, their family, and what was fair about each.

    Parameters
    ----------
    outcome : Outcome
    pairs : sequence of (str, str)
        A ratio is the first over the second.
    asked : Question
    """
    made = [_prepare(outcome, a, b, asked) for a, b in pairs]
    made, family, loadings = _family(outcome, made, asked)
    raw = [Raw(one.found.p_model, one.found.df) for one in made]
    each = shares(raw, family.method, asked.level, family.groups, loadings)
    contrasts = [
        _record(outcome, one, share, family, loadings, asked) for one, share in zip(made, each, strict=True)
    ]
    return contrasts, family, {(one.a, one.b): one.just for one in made}


def _prepare(outcome: Outcome, a: str, b: str, asked: Question) -> _Pair:
    table, notes = common_ground(outcome.table, (a, b), asked.by, asked.adjust)
    just = fairness(table, a, b, asked.by)
    n_a, n_b = (int((table["group"] == name).sum()) for name in (a, b))
    block = shares_blocks(table) if min(n_a, n_b) else ""
    alpha = 1.0 - asked.level
    if min(n_a, n_b) == 0:
        found = _nothing(n_a, n_b, f"no cutter of {a if n_a == 0 else b} has this outcome")
    elif min(n_a, n_b) == 1:
        found = _described(table, outcome.column, a)
    else:
        try:
            found = outcome.ratio(table, a, b, 1.0 - alpha, 1.0 - 2.0 * alpha, block, asked.adjust, asked.rng)
        except Refusal as refusal:  # of this pair alone: the other pairs still have their answer
            found = _nothing(n_a, n_b, refusal.message())
    return _Pair(a, b, table, (*notes, *just.doubts), just, block, found)


def _family(
    outcome: Outcome, made: list[_Pair], asked: Question
) -> tuple[list[_Pair], Family, tuple[float, ...]]:
    """The method that the design calls for; with one scatter for all groups the pairs are judged by that fit."""
    made = _lent(outcome, made, asked)
    tested = [one for one in made if _tested(one)]
    names = tuple(dict.fromkeys(name for one in tested for name in (one.a, one.b)))
    sizes = {name: max(int((one.table["group"] == name).sum()) for one in tested) for name in names}
    blocks = {one.block for one in tested}
    table = outcome.table[outcome.table["group"].isin(names)].reset_index(drop=True)
    # One fit of all groups needs one ground: no cutter left out of any pair, and the same blocks.
    shared = all(len(one.table) == sizes[one.a] + sizes[one.b] for one in tested) and len(table) == sum(sizes.values())
    beside = bool(asked.adjust) or "block" in blocks
    method = "one"
    if len(tested) > 1:
        few = bool(max(sizes.values()) <= FEW)
        fit = None
        if shared and len(blocks) == 1 and (few or beside):
            fit = _together(outcome, table, names, next(iter(blocks)), asked.adjust)
        joined = None if fit is None else [_in_one_fit(one, fit, asked.level) if one in tested else one for one in made]
        # One pair that keeps its own fit was not judged by the one scatter: then no pair is, unless Holm takes both.
        kept = joined is not None and any(new is one for new, one in zip(joined, made, strict=True) if one in tested)
        if joined is None or (kept and not beside):
            fit = None
        else:
            made = joined
        method = _method(beside, fit is not None, shared, asked.standard, len(tested) == math.comb(len(names), 2))
    loadings: tuple[float, ...] = ()
    if method == "dunnett":
        loadings = tuple(math.sqrt(sizes[one.a] / (sizes[one.a] + sizes[one.b])) for one in tested)
    return made, Family(outcome.name, outcome.zone, method, len(tested), len(names)), loadings


def _tested(one: _Pair) -> bool:
    return Raw(one.found.p_model, one.found.df).tested


def _lent(outcome: Outcome, made: list[_Pair], asked: Question) -> list[_Pair]:
    """Incomplete blocks: a pair that shares too few of them to stand by itself is judged by the fit of all groups."""
    able = [one for one in made if min(one.found.n_a, one.found.n_b) >= 2 and one.block]
    if len(able) < 2 or all(_tested(one) for one in able):
        return made
    names = tuple(dict.fromkeys(name for one in able for name in (one.a, one.b)))
    table = outcome.table[outcome.table["group"].isin(names)].reset_index(drop=True)
    if any(len(one.table) != int(table["group"].isin([one.a, one.b]).sum()) for one in able):
        return made
    fit = _together(outcome, table, names, able[0].block, asked.adjust)
    return made if fit is None else [_in_one_fit(one, fit, asked.level) if one in able else one for one in made]


def _method(beside: bool, one_fit: bool, shared: bool, standard: bool, every_pair: bool) -> str:
    if beside or not shared:
        return "holm"
    if one_fit:
        return "dunnett" if standard else "tukey"
    return "games_howell" if every_pair and not standard else "holm"


def _together(
    outcome: Outcome, table: pd.DataFrame, names: tuple[str, ...], block: str, adjust: tuple[str, ...]
) -> Together | None:
    try:
        return outcome.together(table, names, block, adjust)
    except Refusal:  # a group without a failure, factors that one fit cannot tell apart: each pair by itself then
        return None


def _in_one_fit(one: _Pair, fit: Together, level: float) -> _Pair:
    try:
        found = fit.ratio(one.a, one.b, level, 2 * level - 1, one.found)
    except Refusal:
        return one
    return replace(one, found=found) if found.scale == one.found.scale or not _tested(one) else one


def _nothing(n_a: int, n_b: int, why: str) -> Ratio:
    """A contrast of which nothing can be said, and why."""
    nan, unknown = math.nan, Interval(-math.inf, math.inf, 0.95, "none")
    return Ratio(n_a, n_b, nan, unknown, unknown, nan, nan, nan, nan, "none", why_missing=why)


def _described(table: pd.DataFrame, column: str, a: str) -> Ratio:
    """One cutter on a side: a ratio of geometric means (of walls a difference of means) and nothing more."""
    in_a = (table["group"] == a).to_numpy()
    why = "one cutter on a side: its scatter is not known"
    found = replace(_nothing(int(in_a.sum()), int((~in_a).sum()), why), method="description only")
    if column == "life" and not (table["status"] == "exact").all():
        return found
    values = table[column].to_numpy(float)
    if column == "value" or (values <= 0).any():
        return replace(found, log_ratio=float(values[in_a].mean() - values[~in_a].mean()), scale="difference")
    return replace(found, log_ratio=float(np.log(values[in_a]).mean() - np.log(values[~in_a]).mean()))


def _record(
    outcome: Outcome, one: _Pair, share: Share, family: Family, loadings: tuple[float, ...], asked: Question
) -> Contrast:
    found = one.found
    ratio = found.scale == "ratio"
    interval, inner = _limits(found, share, asked.level)
    refused = "; ".join(one.just.confounded)
    refused = f"{refused}: they cannot be told apart" if refused else ""
    margin = asked.margin if ratio else outcome.margin
    verdict, why = (
        (None, found.why_missing)
        if found.why_missing and not refused
        else judge(interval, inner, _band(ratio, margin), found.n_a, found.n_b, refused)
    )
    if found.unjudged and not why:
        verdict, why = None, found.unjudged
    if not ratio and not why and outcome.name == "rate":
        verdict, why = None, "rates that are not above 0 have no ratio: no margin to judge the difference by"
    exact = family.method == "one" and _speaks(one, asked.level)
    contrast = Contrast(
        a=one.a,
        b=one.b,
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
        p_value=found.p_exact if exact else share.p_value,
        p_method="exact permutation" if exact else _p_words(family),
        smallest_p=found.smallest_p,
        method=found.method,
        sigma=found.sigma,
        smallest_detectable=math.nan,
        cutters_to_settle=None,
        equivalence=_equivalence(found, inner, margin, family, loadings),
        verdict=verdict,
        why_missing=why,
        exploratory=outcome.exploratory,
        notes=(*one.notes, found.note) if found.note else one.notes,
        p_exact=found.p_exact,
        family=family,
    )
    contrast = replace(contrast, **_could_show(found, margin, 1.0 - share.alpha, asked.level))
    return replace(contrast, predicted=_predicted(contrast, one.table, asked.limits))


def _limits(found: Ratio, share: Share, level: float) -> tuple[Interval, Interval]:
    if found.why_missing or found.at is None:
        unknown = Interval(-math.inf, math.inf, level, "none")
        return unknown, unknown
    both = found.at(1.0 - share.alpha), found.at(1.0 - share.inner)
    interval, inner = (one.exp() for one in both) if found.scale == "ratio" else both
    return replace(interval, level=level), inner


def _band(ratio: bool, margin: float | None) -> Margin | None:
    if margin is None:
        return None
    return Margin.ratio(margin) if ratio else Margin.difference(margin)


def _speaks(one: _Pair, level: float) -> bool:
    """Whether the exact p is the one to quote: it can reach the level, and the sides are of one size.

    Shuffling takes both sides to scatter alike; where they do not and differ in number it alarms in up to 20 of 100.
    """
    found = one.found
    reaches = math.isfinite(found.smallest_p) and found.smallest_p <= 1.0 - level + 1e-12
    return reaches and (found.n_a == found.n_b or bool(one.block) or not math.isfinite(found.p_model))


def _p_words(family: Family) -> str:
    return {
        "one": "of the interval's method",
        "tukey": "of the interval's method, Tukey",
        "dunnett": "of the interval's method, Dunnett",
        "games_howell": "of the interval's method, Games-Howell",
        "holm": "of the interval's method, Holm",
    }[family.method]


def _could_show(found: Ratio, margin: float | None, level: float, base: float) -> dict[str, Any]:
    """What a trial like this one would show, and how many cutters would settle a difference of the margin."""
    if not (math.isfinite(found.sigma) and found.sigma > 0 and min(found.n_a, found.n_b) > 1):
        return {}
    ratio = found.scale == "ratio"
    shift = smallest_shift(found.se, found.df, level)
    made: dict[str, Any] = {"smallest_detectable": exp_or_inf(shift) if ratio else shift}
    if margin is None:
        return made
    size = margin if ratio else math.exp(margin)
    low, high = (_to_settle(sigma, size, level) for sigma in _scatter_limits(found.sigma, found.df, base))
    return made | {"cutters_to_settle": _to_settle(found.sigma, size, level), "settle_low": low, "settle_high": high}


def _scatter_limits(sigma: float, df: float, level: float) -> tuple[float, float]:
    """Interval of a scatter that was estimated with so many degrees of freedom (chi-square)."""
    from scipy.special import chdtri

    if not df > 0 or math.isinf(df):
        return sigma, sigma
    tails = ((1 - level) / 2, (1 + level) / 2)
    low, high = (sigma * math.sqrt(df / float(chdtri(df, tail))) for tail in tails)
    return low, high


def _to_settle(sigma: float, margin: float, level: float) -> int | None:
    try:
        return cutters_needed(sigma, margin, level)
    except Refusal:
        return None


def _equivalence(
    found: Ratio, inner: Interval, margin: float | None, family: Family, loadings: tuple[float, ...]
) -> dict[str, Any]:
    if found.why_missing or margin is None or found.at is None:
        return {"margin": margin, "low": None, "high": None, "level": inner.level, "alike": None, "p_value": None}
    band = _band(found.scale == "ratio", margin)
    assert band is not None
    return {
        "margin": margin,
        "low": inner.low,
        "high": inner.high,
        "level": inner.level,
        "alike": inner.inside(band.low, band.high),
        "p_value": _p_of_a_difference_that_matters(found, margin, family, loadings),
    }


def _p_of_a_difference_that_matters(
    found: Ratio, margin: float, family: Family, loadings: tuple[float, ...]
) -> float | None:
    """The larger p of the two one-sided tests, allowing for the family; None where a side has no limit."""
    if found.p_at is None or found.bound_only or not math.isfinite(found.log_ratio):
        return None
    edge = math.log(margin) if found.scale == "ratio" else margin
    worst = 0.0
    for end, beyond in ((edge, found.log_ratio >= edge), (-edge, found.log_ratio <= -edge)):
        try:
            two_sided = found.p_at(end)
        except Refusal:
            return None
        two_sided = adjusted(two_sided, found.df, family.method, family.groups, family.contrasts, loadings)
        worst = max(worst, 1.0 - two_sided / 2 if beyond else two_sided / 2)
    return worst


def _predicted(contrast: Contrast, table: pd.DataFrame, limits: dict[str, tuple[float, float]]) -> PredictedBand | None:
    """The band that edge exposure predicts, and where the measured ratio lies against it; none for walls."""
    zone, clock = contrast.zone, contrast.clock
    outcome = "rate" if contrast.outcome == "rate" else "life"
    if contrast.outcome.startswith("wall"):
        return None
    band = predict_ratio(table, contrast.a, contrast.b, zone, limits, clock, outcome)
    if contrast.scale != "ratio":
        return band
    return replace(band, position=band.beside(contrast.estimate, contrast.interval))
