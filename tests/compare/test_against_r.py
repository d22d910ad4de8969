"""Several practices, blocks, a covariate and exact tests through `compare`, against R (emmeans, multcomp, coin).

Data and figures lie in `r/`, made by `make_several.R` (R 4.2.2; versions stand beside each figure).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from wearlab.compare.compare import Comparison, compare
from wearlab.logbook.criterion import END, parse_criterion
from wearlab.logbook.trial import Trial
from wearlab.stats.lives import Lives
from wearlab.stats.log_rank import log_rank
from wearlab.stats.several_blocked import adjusted_contrasts
from wearlab.stats.several_groups import against_standard, all_pairs

HERE = Path(__file__).parent / "r"
DATA = pd.read_csv(HERE / "several_data.csv", dtype={"block": str})
WANT = pd.read_csv(HERE / "several_expected.csv")
NEVER = parse_criterion("VB=9mm")
Make = Callable[..., Trial]


def want(case: str, what: str, a: str = "a", b: str = "b") -> float:
    rows = WANT[(WANT["case"] == case) & (WANT["what"] == what)]
    return float(rows[(rows["a"] == a) & (rows["b"] == b)]["value"].iloc[0])


def of(case: str, slopes: Make, *facts: str) -> Trial:
    own = DATA[DATA["case"] == case]
    cells = {name: {g: part[name].tolist() for g, part in own.groupby("group")} for name in facts}
    if "hardness" in facts:
        cells["hardness_scale"] = dict.fromkeys(cells["hardness"], "HB")
    return slopes({str(g): part["rate"].tolist() for g, part in own.groupby("group")}, **cells)


def _as_emmeans(case: str, made: Comparison) -> None:
    found = [one for one in made.contrasts if one.outcome == "rate"]
    assert [(one.a, one.b) for one in found] == [("a", "b"), ("a", "c"), ("b", "c")]
    p = [want(case, "p.value", one.a, one.b) for one in found]
    for one, theirs in zip(found, p, strict=True):
        gap, se, df = (want(case, what, one.a, one.b) for what in ("estimate", "SE", "df"))
        assert math.log(one.estimate) == pytest.approx(gap, rel=1e-5)
        assert one.p_value == pytest.approx(theirs, rel=1e-4)
        assert one.p_method.endswith("Holm")
        # Holm's step of this contrast is where its interval is drawn: it leaves out 1 as the p says.
        step = 3 - sum(other < 0.05 for other in p) if theirs >= 0.05 else 3 - sorted(p).index(theirs)
        half = stats.t.ppf(1 - 0.025 / step, df) * se
        limits = math.log(one.interval.low), math.log(one.interval.high)
        assert limits == pytest.approx((gap - half, gap + half), rel=1e-4)
        assert one.interval.contains(1.0) == (one.p_value >= 0.05)


@pytest.mark.parametrize("case", ["blocks", "gaps"])
def test_three_practices_within_blocks(slopes: Make, case: str) -> None:
    """One least-squares fit of all practices with blocks, complete and with gaps (emmeans, Holm)."""
    _as_emmeans(case, compare(of(case, slopes, "block"), NEVER))


def test_three_practices_beside_hardness(slopes: Make) -> None:
    """Unequal numbers, adjusted for the hardness of the bar (emmeans, Holm)."""
    made = compare(of("hardness", slopes, "hardness"), NEVER, adjust=["hardness"])
    _as_emmeans("hardness", made)
    assert all("adjusted for hardness" in one.method for one in made.contrasts if one.outcome == "rate")


@pytest.mark.parametrize(("standard", "case"), [("", "Tukey"), ("a", "Dunnett")])
def test_few_cutters_of_unequal_numbers(slopes: Make, standard: str, case: str) -> None:
    """Dunnett as multcomp. Of unequal numbers Tukey's p (after Kramer) is a trifle above multcomp's joint one."""
    made = compare(of("few", slopes), NEVER, standard=standard)
    for one in [one for one in made.contrasts if one.outcome == "rate"]:
        pair, sign = ((one.b, one.a), -1) if case == "Tukey" else ((one.a, one.b), 1)
        assert math.log(one.estimate) == pytest.approx(sign * want(case, "estimate", *pair), rel=1e-5)
        theirs = want(case, "p.value", *pair)
        if case == "Dunnett":
            assert one.p_value == pytest.approx(theirs, abs=2e-5)
        else:
            assert 0 <= one.p_value - theirs < 5e-4
            rates = [DATA[(DATA["case"] == "few") & (DATA["group"] == g)]["rate"] for g in "abc"]
            at = "abc".index(one.a), "abc".index(one.b)
            assert one.p_value == pytest.approx(stats.tukey_hsd(*map(np.log, rates)).pvalue[at], rel=1e-5)


def test_exact_p_of_rates(slopes: Make) -> None:
    """Coin without blocks; all 32 flips of five pairs with them."""
    own = DATA[(DATA["case"] == "blocks") & DATA["group"].isin(["a", "b"])]
    rates = {str(g): part["rate"].tolist() for g, part in own.groupby("group")}
    blocks = {str(g): part["block"].tolist() for g, part in own.groupby("group")}
    for facts, name in (({}, "free"), ({"block": blocks}, "within")):
        (one,) = [one for one in compare(slopes(rates, **facts), NEVER).contrasts if one.outcome == "rate"]
        assert one.p_exact == pytest.approx(want("exact", name), rel=1e-9)


def test_exact_p_of_lives_with_some_still_good(ends: Make) -> None:
    """Coin's exact test of the scores of survreg's fit without groups; the ratio by survreg, log-rank by survdiff."""
    own = DATA[DATA["case"] == "lives"]
    lives: dict[str, list[float | tuple[float, str]]] = {"a": [], "b": []}
    for row in own.itertuples():
        lives[row.group].append(row.life if row.ended else (row.life, "withdrawn"))
    (one,) = compare(ends(lives), END).contrasts
    assert one.p_value == one.p_exact == pytest.approx(want("lives", "exact"), rel=1e-9)
    assert math.log(one.estimate) == pytest.approx(want("lives", "estimate"), rel=1e-6)
    sides = [Lives.right_censored(part["life"], part["ended"]) for _, part in own.groupby("group")]
    assert log_rank(*sides).chi_square == pytest.approx(want("lives", "log_rank"), rel=1e-8)
    assert np.isfinite(one.interval.low)


def test_the_statistics_room_gives_the_same_families(slopes: Make) -> None:
    """Tukey, Dunnett and the adjusted fit of `wearlab.stats`, on the logs of the same rates."""
    few = DATA[DATA["case"] == "few"]
    groups = {str(g): np.log(part["rate"].to_numpy()) for g, part in few.groupby("group")}
    for standard, family in (("", all_pairs(groups)), ("a", against_standard(groups, "a"))):
        made = [one for one in compare(of("few", slopes), NEVER, standard=standard).contrasts if one.outcome == "rate"]
        for one, other in zip(made, family.contrasts, strict=True):
            limits = other.interval().exp()
            assert (one.a, one.b) == (other.a, other.b)
            assert one.p_value == pytest.approx(other.p_value, rel=1e-5)
            assert (one.interval.low, one.interval.high) == pytest.approx((limits.low, limits.high), rel=1e-5)
    gaps = DATA[DATA["case"] == "gaps"]
    joint = adjusted_contrasts(np.log(gaps["rate"]), gaps["group"].tolist(), gaps["block"].tolist())
    made = [one for one in compare(of("gaps", slopes, "block"), NEVER).contrasts if one.outcome == "rate"]
    assert [one.p_value for one in made] == pytest.approx([one.p_value for one in joint.contrasts], rel=1e-4)
