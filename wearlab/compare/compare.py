"""Compare groups of cutters: every pair, or everything with a standard."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from wearlab.compare.contrast import Contrast, judge
from wearlab.compare.fair import Fairness, fairness, shares_blocks
from wearlab.compare.groups import Grouping, common_ground, make_groups, only
from wearlab.compare.life_ratio import Ratio, life_ratio
from wearlab.compare.rate_ratio import rate_ratio
from wearlab.core.errors import ArgumentError, Refusal
from wearlab.core.interval import Interval, check_level
from wearlab.core.tables import nearest, plain
from wearlab.fit.factors import factor_columns, resolve
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import Criterion
from wearlab.logbook.trial import Trial
from wearlab.stats.detectable import cutters_needed, smallest_ratio
from wearlab.wear.curves import wear_curves
from wearlab.wear.rate import wear_rates

OUTCOMES = ("life", "rate")


@dataclass(frozen=True, repr=False)
class Comparison:
    """Contrasts of a trial at one criterion on one clock.

    Attributes
    ----------
    by : str
        Column that makes the groups.
    groups : pandas.DataFrame
        One row a group and outcome, at the conditions that every group met: `group`, `outcome`, `zone`, `cutters`,
        `estimate` (geometric mean; of lives the median of a lognormal fit), `censored`.
    values : pandas.DataFrame
        One row a cutter and outcome: what was compared.
    contrasts : tuple of Contrast
    fair : dict of (str, str) to Fairness
    left_out : tuple of (str, str)
        Cutters left out, and why.
    margin : float
        Smallest ratio worth acting on.
    """

    by: str
    criterion: str
    clock: str
    margin: float
    level: float
    groups: pd.DataFrame
    values: pd.DataFrame
    contrasts: tuple[Contrast, ...]
    fair: dict[tuple[str, str], Fairness]
    left_out: tuple[tuple[str, str], ...]

    def to_frame(self) -> pd.DataFrame:
        """One row a contrast."""
        rows = []
        for contrast in self.contrasts:
            row = contrast.to_dict()
            row |= {"low": contrast.interval.low, "high": contrast.interval.high}
            row.pop("equivalence")
            row["notes"] = "; ".join(contrast.notes)
            rows.append(row)
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """JSON-ready, in the published keys."""
        return plain(
            {
                "by": self.by,
                "criterion": self.criterion,
                "clock": self.clock,
                "margin": self.margin,
                "groups": self.groups.to_dict("records"),
                "contrasts": [contrast.to_dict() for contrast in self.contrasts],
                "fair": [{"a": a, "b": b} | one.to_dict() for (a, b), one in self.fair.items()],
                "left_out": [{"cutter": cutter, "why": why} for cutter, why in self.left_out],
            }
        )

    def __repr__(self) -> str:
        return f"<Comparison by {self.by}: {len(self.contrasts)} contrasts at {self.criterion} on {self.clock}>"


def compare(
    trial: Trial,
    criterion: Criterion,
    clock: str = "cutting_time_min",
    *,
    by: str = "strategy",
    standard: str = "",
    choose: Sequence[str] = (),
    adjust: Sequence[str] = (),
    outcomes: Sequence[str] = (),
    margin: float | None = None,
    level: float | None = None,
) -> Comparison:
    """Compare groups of cutters in tool life and in wear rate.

    Parameters
    ----------
    trial : Trial
    criterion : Criterion
    clock : str
        Column name of the clock.
    by : str
        Column that makes the groups.
    standard : str
        Group with which all others are compared; every pair when empty.
    choose : sequence of str
        `column=value` texts that cutters must meet.
    adjust : sequence of str
        Factors that enter beside the group (numbers as ln).
    outcomes : sequence of str
        life, rate or both; both where the log allows when left out.
    margin, level : float, optional
        Smallest ratio worth acting on and confidence level; the trial file's when left out.

    Raises
    ------
    Refusal
        Fewer than two groups, or no outcome can be had.
    ArgumentError
        A word names no column, group or outcome.

    Examples
    --------
    >>> from wearlab.logbook.read import read_log
    >>> from wearlab.logbook.samples import sample_path
    >>> from wearlab.logbook.criterion import parse_criterion
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> found = compare(trial, parse_criterion("VB=0.3mm"), by="work_material", outcomes=["life"])
    >>> found.contrasts[0].a, found.contrasts[0].verdict
    ('cast iron', 'different')
    """
    margin = trial.settings.margin if margin is None else margin
    level = check_level(trial.settings.level if level is None else level)
    if not margin > 1:
        raise ArgumentError(f"margin {margin:g}", where="--margin", allowed="a ratio above 1, such as 1.25")
    grouping = make_groups(only(trial.facts(), choose), by)
    columns = tuple(resolve(word, factor_columns(grouping.facts)) for word in adjust)
    tables = _outcome_tables(trial, grouping, criterion, clock, outcomes)
    pairs = _pairs(grouping.names, standard or trial.settings.standard, strict=bool(standard))
    contrasts: list[Contrast] = []
    fair: dict[tuple[str, str], Fairness] = {}
    for a, b in pairs:
        for one in tables:
            contrast, just = _contrast(one, a, b, grouping.by, columns, margin, level, len(pairs))
            contrasts.append(contrast)
            fair.setdefault((a, b), just)
    left_out = grouping.left_out + tuple(pair for one in tables for pair in one.left_out)
    return Comparison(
        grouping.by,
        criterion.text,
        clock,
        margin,
        level,
        pd.concat([_group_rows(one, grouping, columns) for one in tables], ignore_index=True),
        pd.concat([one.table for one in tables], ignore_index=True),
        _holm(tuple(contrasts), len(pairs)),
        fair,
        tuple(dict.fromkeys(left_out)),
    )


@dataclass(frozen=True, slots=True)
class _Outcome:
    """One outcome in one zone: one row a cutter."""

    name: str
    criterion: str
    zone: str
    clock: str
    table: pd.DataFrame
    left_out: tuple[tuple[str, str], ...]
    exploratory: bool
    ratio: Callable[..., Ratio]


def _pairs(names: tuple[str, ...], standard: str, strict: bool) -> list[tuple[str, str]]:
    if standard and standard not in names:
        if strict:
            raise ArgumentError(
                f"no group {standard!r}", where="--standard", allowed=", ".join(names), hint=nearest(standard, names)
            )
        standard = ""
    if standard:
        return [(name, standard) for name in names if name != standard]
    return list(combinations(names, 2))


def _outcome_tables(
    trial: Trial, grouping: Grouping, criterion: Criterion, clock: str, outcomes: Sequence[str]
) -> list[_Outcome]:
    for word in outcomes:
        if word not in OUTCOMES:
            raise ArgumentError(
                f"outcome {word!r}", where="--outcome", allowed=", ".join(OUTCOMES), hint=nearest(word, OUTCOMES)
            )
    wanted = outcomes or OUTCOMES
    made: list[_Outcome] = []
    if "life" in wanted:
        made.append(_lives(trial, grouping, criterion, clock))
    if "rate" in wanted and criterion.measure in ("VB", "VBmax"):
        made += _rates(trial, grouping, criterion, clock)
    made = [one for one in made if one.table["group"].nunique() > 1]
    if not made:
        raise Refusal(
            "fewer than two groups hold a life or a rate",
            where=f"criterion {criterion.text}",
            hint="look at the statuses with `wearlab life`",
        )
    return made


def _lives(trial: Trial, grouping: Grouping, criterion: Criterion, clock: str) -> _Outcome:
    lives = tool_lives(trial, [criterion], [clock]).to_frame()
    table = grouping.facts.merge(lives.drop(columns=["clock"]), on="cutter", how="inner")
    known = table["status"] != "none"
    left = tuple((str(r.cutter), str(r.why_missing)) for r in table[~known].itertuples())
    table = table[known].reset_index(drop=True).assign(outcome="life")
    return _Outcome("life", criterion.text, criterion.zone, clock, table, left, False, life_ratio)


def _rates(trial: Trial, grouping: Grouping, criterion: Criterion, clock: str) -> list[_Outcome]:
    curves = wear_curves(trial)
    rates = wear_rates(curves, clock, criterion.limit, trial.settings.break_in).to_frame()
    if rates.empty:
        return []
    rates = rates[(rates["measure"] == criterion.measure) & (rates["clock"] == clock)]
    zones = [criterion.zone] if criterion.zone else list(dict.fromkeys(rates["zone"]))
    made = []
    for zone in zones:
        table = grouping.facts.merge(rates[rates["zone"] == zone].drop(columns=["clock"]), on="cutter", how="inner")
        known = table["rate"].notna()
        left = tuple((str(r.cutter), f"rate: {r.why_missing}") for r in table[~known].itertuples())
        table = table[known].reset_index(drop=True).assign(outcome="rate")
        exploratory = not criterion.zone and len(zones) > 1
        made.append(_Outcome("rate", criterion.text, zone, clock, table, left, exploratory, rate_ratio))
    return made


def _contrast(
    outcome: _Outcome, a: str, b: str, by: str, adjust: tuple[str, ...], margin: float, level: float, pairs: int
) -> tuple[Contrast, Fairness]:
    table, notes = common_ground(outcome.table, (a, b), by, adjust)
    just = fairness(table, a, b, by)
    n_a, n_b = (int((table["group"] == name).sum()) for name in (a, b))
    refused = "; ".join(just.confounded)
    if refused:
        refused = f"{refused}: they cannot be told apart"
    alpha = (1.0 - level) / pairs
    block = shares_blocks(table) if min(n_a, n_b) else ""
    if min(n_a, n_b) == 0:
        unknown = Interval(-math.inf, math.inf, level, "none")
        found = Ratio(
            n_a,
            n_b,
            math.nan,
            unknown,
            unknown,
            math.nan,
            math.nan,
            math.nan,
            math.nan,
            "none",
            why_missing=f"no cutter of {a if n_a == 0 else b} has this outcome",
        )
    elif min(n_a, n_b) == 1:
        found = _described(table, outcome.name, a, level)
    else:
        found = outcome.ratio(table, a, b, 1.0 - alpha, 1.0 - 2.0 * alpha, block, adjust)
    return _record(outcome, a, b, found, notes + list(just.doubts), margin, level, refused, pairs), just


def _described(table: pd.DataFrame, outcome: str, a: str, level: float) -> Ratio:
    """One cutter on a side: a ratio of geometric means and nothing more."""
    values = np.log(np.abs((table["low"] if outcome == "life" else table["rate"]).to_numpy(float)))
    in_a = (table["group"] == a).to_numpy()
    unknown = Interval(-math.inf, math.inf, level, "none")
    known = outcome != "life" or bool((table["status"] == "exact").all())
    estimate = float(values[in_a].mean() - values[~in_a].mean()) if known else math.nan
    return Ratio(
        int(in_a.sum()),
        int((~in_a).sum()),
        estimate,
        unknown,
        unknown,
        math.nan,
        math.nan,
        math.nan,
        math.nan,
        "description only",
        why_missing="one cutter on a side: its scatter is not known",
    )


def _record(
    outcome: _Outcome,
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
    reaches = math.isfinite(found.smallest_p) and found.smallest_p <= 1.0 - level
    detectable = cutters = None
    if ratio and math.isfinite(found.sigma) and found.sigma > 0 and min(found.n_a, found.n_b) > 1:
        detectable, cutters = (
            smallest_ratio(found.sigma, found.n_a, found.n_b, level),
            _to_settle(found.sigma, margin, level),
        )
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
        estimate=math.exp(found.log_ratio) if ratio and math.isfinite(found.log_ratio) else found.log_ratio,
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
        notes=tuple(notes),
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


def _holm(contrasts: tuple[Contrast, ...], pairs: int) -> tuple[Contrast, ...]:
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


def _group_rows(outcome: _Outcome, grouping: Grouping, adjust: tuple[str, ...]) -> pd.DataFrame:
    """Typical values at the conditions that every group met, so that they can be set side by side."""
    rows = []
    table, _ = common_ground(outcome.table, grouping.names, grouping.by, adjust)
    for name in grouping.names:
        own = table[table["group"] == name]
        censored = int((own["status"] != "exact").sum()) if outcome.name == "life" else 0
        rows.append(
            {
                "group": name,
                "outcome": outcome.name,
                "criterion": outcome.criterion,
                "zone": outcome.zone,
                "clock": outcome.clock,
                "cutters": len(own),
                "censored": censored,
                "estimate": _typical(own, outcome.name),
            }
        )
    return pd.DataFrame(rows)


def _typical(own: pd.DataFrame, outcome: str) -> float:
    """Geometric mean of a group; of lives with some still good the median of a lognormal fit."""
    if own.empty:
        return math.nan
    if outcome == "rate":
        rates = own["rate"].to_numpy(float)
        return float(np.exp(np.log(rates).mean())) if (rates > 0).all() else float(rates.mean())
    if (own["status"] == "exact").all():
        return float(np.exp(np.log(own["life"].to_numpy(float)).mean()))
    from wearlab.stats.censored import fit_lives
    from wearlab.stats.lives import Lives

    try:
        return fit_lives(np.ones((len(own), 1)), Lives(own["low"], own["high"])).median([1.0])
    except Refusal:
        return math.nan
