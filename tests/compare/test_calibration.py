"""The whole path on 200 simulated trials: intervals cover the truth as often as they say.

Each trial is the demonstration trial with another seed: rows -> Trial -> lives and rates -> fit and ratios. To keep
the test short all trials are read down to lives and rates at one go, and the ratios are asked for without what stands
around them (fairness, predicted bands). That the reader and `compare` say the same is checked on the first seeds.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from wearlab.compare.compare import compare
from wearlab.compare.fair import shares_blocks
from wearlab.compare.life_ratio import life_ratio
from wearlab.compare.rate_ratio import rate_ratio
from wearlab.core.interval import Interval
from wearlab.fit.parameters import parameters
from wearlab.fit.tool_life import fit_tool_life
from wearlab.life.lives import tool_lives
from wearlab.logbook.criterion import parse_criterion
from wearlab.logbook.trial import Trial
from wearlab.simulate.shoulder import shoulder_spec
from wearlab.simulate.trial import simulate_trial
from wearlab.wear.curves import wear_curves
from wearlab.wear.rate import wear_rates

SEEDS = range(1, 201)
"""Fixed before any of them was looked at; the shipped trial has another seed."""
CHECKED = (1, 2)
CRITERION = parse_criterion("lower:VB.mean=0.2mm")
CLOCK = "cutting_time_min"
Answer = tuple[float, Interval]
FromRows = Callable[..., Trial]


def simulated_rows(seed: int) -> pd.DataFrame:
    """Lower-zone readings and ends of one trial, each cutter named by its trial."""
    rows = simulate_trial(shoulder_spec(), seed).rows
    rows = rows[((rows["measure"] == "VB") & (rows["zone"] == "lower")) | (rows["measure"] == "end")]
    return rows.assign(seed=seed, cutter=f"T{seed} " + rows["cutter"])


def answers(lives: pd.DataFrame, rates: pd.DataFrame, facts: pd.DataFrame) -> dict[str, Answer]:
    """What one trial says of n and of the two ratios, side to layered at the speed that both ran at."""
    n = next(one for one in parameters(fit_tool_life(lives, facts)) if one.name == "n")
    made = {"n": (n.estimate, n.interval)}
    shared = facts[facts["cutting_speed_m_min"] == 70.0].assign(group=facts["strategy"])
    for name, ratio, values in (("life", life_ratio, lives), ("rate", rate_ratio, rates)):
        table = shared.merge(values.drop(columns="clock"), on="cutter")
        found = ratio(table, "side", "layered", 0.95, 0.90, shares_blocks(table), ())
        assert found.why_missing == ""
        made[name] = float(np.exp(found.log_ratio)), found.interval.exp()
    return made


def all_answers(trial: Trial, seeds: range | tuple[int, ...]) -> dict[int, dict[str, Answer]]:
    lives = tool_lives(trial, [CRITERION], [CLOCK]).to_frame()
    rates = wear_rates(wear_curves(trial), CLOCK, CRITERION.limit).to_frame()
    facts = trial.facts()

    def own(table: pd.DataFrame, seed: int) -> pd.DataFrame:
        return table[table["cutter"].str.startswith(f"T{seed} ")].reset_index(drop=True)

    return {seed: answers(own(lives, seed), own(rates, seed), own(facts, seed)) for seed in seeds}


@pytest.fixture(scope="module")
def study(trial_from_rows: FromRows) -> pd.DataFrame:
    truth = simulate_trial(shoulder_spec(), SEEDS[0]).truth
    true = {"n": truth["n"], "life": truth["life_ratio"]["lower"], "rate": 1 / truth["rate_ratio"]["lower"]}
    assert (true["n"], true["life"]) == pytest.approx((0.25, 2.75))
    trial = trial_from_rows(pd.concat([simulated_rows(seed) for seed in SEEDS], ignore_index=True))
    rows = [
        (seed, name, true[name], estimate, interval.contains(true[name]))
        for seed, made in all_answers(trial, SEEDS).items()
        for name, (estimate, interval) in made.items()
    ]
    return pd.DataFrame(rows, columns=["seed", "quantity", "truth", "estimate", "covers"])


@pytest.mark.parametrize("seed", CHECKED)
def test_the_reader_and_compare_give_the_same_answers(
    trial_of: Callable[..., Trial], trial_from_rows: FromRows, seed: int
) -> None:
    rows = simulated_rows(seed)
    short = all_answers(trial_from_rows(rows), (seed,))[seed]
    cells = rows.drop(columns="seed").map(lambda cell: "" if cell != cell else cell)
    trial = trial_of(cells.to_dict("records"), '[trial]\nstandard = "layered"\n')
    lives = tool_lives(trial, [CRITERION], [CLOCK])
    n = next(one for one in parameters(fit_tool_life(lives.to_frame(), trial.facts())) if one.name == "n")
    long = {"n": (n.estimate, n.interval)}
    for contrast in compare(trial, CRITERION, CLOCK).contrasts:
        assert (contrast.a, contrast.b, contrast.n_a, contrast.n_b) == ("side", "layered", 6, 6)
        long[contrast.outcome] = contrast.estimate, contrast.interval
    assert set(long) == set(short)
    for name, (estimate, interval) in short.items():
        assert estimate == pytest.approx(long[name][0], rel=1e-9)
        assert (interval.low, interval.high) == pytest.approx((long[name][1].low, long[name][1].high), rel=1e-7)


@pytest.mark.parametrize("quantity", ["n", "life", "rate"])
def test_95_per_cent_intervals_cover_the_truth_at_their_rate(study: pd.DataFrame, quantity: str) -> None:
    """Of 200 trials: a true 95 % falls outside 0.91 to 0.985 in about one study of a hundred (binomial)."""
    own = study[study["quantity"] == quantity]
    assert len(own) == len(SEEDS)
    assert 0.91 <= own["covers"].mean() <= 0.985


@pytest.mark.parametrize("quantity", ["n", "life", "rate"])
def test_estimates_scatter_about_the_truth(study: pd.DataFrame, quantity: str) -> None:
    own = study[study["quantity"] == quantity]
    gap = np.log(own["estimate"] / own["truth"])
    assert abs(gap.mean()) < 4 * gap.std() / np.sqrt(len(gap)) + 0.01
