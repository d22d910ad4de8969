"""Whatever a small, odd or broken trial holds: an answer or a named reason, no warning, no senseless interval."""

from __future__ import annotations

import json
import math
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.compare import compare
from wearlab.core.errors import WearlabError
from wearlab.core.interval import Interval
from wearlab.fit.parameters import parameters
from wearlab.fit.predict import predict_life
from wearlab.fit.tool_life import fit_tool_life
from wearlab.life.lives import tool_lives
from wearlab.logbook.columns import END_REASONS
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial

CLOCK = "cutting_time_min"


def odd_rows(seed: int) -> pd.DataFrame:
    """One to three groups of one to five cutters: looks at the same minute, no wear, falling wear, lives all alike,
    other units of the clock, missing readings, every end."""
    rng = np.random.default_rng(seed)
    unit, alike, blocked = rng.choice([1e-6, 1, 1, 1e6]), rng.random() < 0.2, rng.random() < 0.5
    rows: list[dict[str, Any]] = []
    for group in "abc"[: rng.integers(1, 4)]:
        for _ in range(rng.integers(1, 6)):
            looks = int(rng.integers(1, 6))
            times = np.cumsum(rng.choice([0, 1, 2, 5, 5, 5], looks)).astype(float)
            slope = 0.05 if alike else rng.choice([0, -0.01, 0.02, 0.05, 0.05 * np.exp(rng.normal(0, 0.3))])
            lands = np.clip(np.round(slope * times + rng.choice([0, 0, 0.02]) * rng.normal(size=looks), 3), 0, None)
            cutter = f"{group}{len(rows)}"
            facts = {
                "cutter": cutter, "strategy": group, "cutting_speed_m_min": float(rng.choice([70, 70, 90, 110])),
                "block": str(rng.integers(1, 4)) if blocked else "", "run_order": float(len(rows)), "diameter_mm": 12.0,
                "teeth": 4.0, "spindle_rpm": np.nan, "feed_per_tooth_mm": 0.05, "axial_depth_mm": 3.0,
                "radial_width_mm": 12.0, "zone": "lower", "flute": "1", "volume_cm3": np.nan, "parts": np.nan,
                "cut_length_m": np.nan, "zone_from_mm": np.nan, "zone_to_mm": np.nan,
            }  # fmt: skip
            for at in range(looks):
                value = np.nan if rng.random() < 0.05 else lands[at]
                rows.append(facts | {"reading": at + 1, CLOCK: times[at] * unit, "measure": "VB", "value": value})
            reason = str(rng.choice(END_REASONS))
            rows.append(facts | {"reading": looks, CLOCK: times[-1] * unit, "measure": "end", "end_reason": reason})
    return pd.DataFrame(rows).fillna({"end_reason": ""})


def sensible(name: str, estimate: float, interval: Interval, why: str) -> None:
    assert not math.isnan(interval.low), name
    assert not math.isnan(interval.high), name
    assert interval.low < interval.high, f"{name}: no width in {interval}"
    if math.isfinite(estimate):
        slack = 1e-9 * abs(estimate)
        assert interval.low - slack <= estimate <= interval.high + slack, f"{name}: {estimate} outside {interval}"
    elif not why:
        raise AssertionError(f"{name}: neither a figure nor a reason")
    if interval.unbounded == "both":
        assert why, f"{name}: unbounded without a reason"


def judge_fit(lives: pd.DataFrame, facts: pd.DataFrame, **more: Any) -> str:
    try:
        fit = fit_tool_life(lives, facts, **more)
    except WearlabError:
        return "refused"
    for one in parameters(fit):
        sensible(one.name, one.estimate, one.interval, one.why_missing)
        json.dumps(one.to_dict(), allow_nan=False)
    answer = predict_life(fit, {})
    sensible("life at the centre", answer.life, answer.interval, answer.why_missing)
    return "fitted"


def judge_comparison(trial: Trial, criterion: Any, **more: Any) -> str:
    try:
        found = compare(trial, criterion, CLOCK, **more)
    except WearlabError:
        return "refused"
    for contrast in found.contrasts:
        sensible("contrast", contrast.estimate, contrast.interval, contrast.why_missing)
        assert (contrast.verdict is None) == bool(contrast.why_missing)
        assert math.isnan(contrast.p_value) or 0 <= contrast.p_value <= 1
    json.dumps(found.to_dict(), allow_nan=False)
    return "compared"


@pytest.mark.parametrize("seed", [*range(10), 19, 24, 45, 53, 55])
def test_odd_trials(trial_from_rows: Callable[..., Trial], seed: int) -> None:
    trial = trial_from_rows(odd_rows(seed), standard="")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for criterion in (parse_criterion("VB=0.1mm"), END):
            try:
                lives = tool_lives(trial, [criterion], [CLOCK]).to_frame()
            except WearlabError:
                continue
            for more in ({}, {"factors": ["strategy"]}, {"held_n": 0.25}):
                judge_fit(lives, trial.facts(), **more)
            for more in ({}, {"adjust": ["cutting_speed"]}):
                judge_comparison(trial, criterion, **more)


def test_odd_trials_are_odd_in_many_ways(trial_from_rows: Callable[..., Trial]) -> None:
    """The trials above reach every way out: else they would prove little."""
    outcomes = set()
    for seed in (*range(10), 19, 24, 45, 53, 55):
        trial = trial_from_rows(odd_rows(seed), standard="")
        lives = tool_lives(trial, [END], [CLOCK]).to_frame()
        outcomes |= {judge_fit(lives, trial.facts()), judge_comparison(trial, END)}
        outcomes |= set(tool_lives(trial, [parse_criterion("VB=0.1mm")], [CLOCK]).to_frame()["status"])
    assert outcomes >= {"fitted", "refused", "compared", "exact", "left", "right", "none"}
