"""What may be said of a fit; the next cutter; exponents by group; a published exponent beside the fit."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import Refusal
from wearlab.fit.by_group import fit_by_group
from wearlab.fit.judgement import judge_fit
from wearlab.fit.next_cutter import next_cutter
from wearlab.fit.parameters import parameters
from wearlab.fit.published_prior import with_published
from wearlab.fit.tool_life import ToolLifeFit, fit_tool_life
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives

SPEED = [110.0] * 3 + [140.0] * 3 + [180.0] * 3
LIFE = [58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2]


def _tables(
    speed: list[float], life: list[float], censored: tuple[int, ...] = (), **more: Any
) -> tuple[pd.DataFrame, pd.DataFrame]:
    cutters = [f"E{at + 1}" for at in range(len(life))]
    status = ["right" if at in censored else "exact" for at in range(len(life))]
    lives = pd.DataFrame(
        {
            "cutter": cutters, "criterion": "end", "zone": "", "clock": "cutting_time_min",
            "life": [math.nan if at in censored else one for at, one in enumerate(life)], "low": life,
            "high": [math.inf if at in censored else one for at, one in enumerate(life)], "status": status,
            "cause": "worn", "why_missing": "",
        }
    )  # fmt: skip
    return lives, pd.DataFrame({"cutter": cutters, "cutting_speed_m_min": speed, "spindle_rpm": math.nan} | more)


def _fit(censored: tuple[int, ...] = (), **more: Any) -> ToolLifeFit:
    return fit_tool_life(*_tables(SPEED, LIFE, censored), **more)


def test_lack_of_fit_as_in_r() -> None:
    """R 4.2.2 anova(lm, lm factor), checked with statsmodels: F 0.0289832471906544, p 0.87041322819577."""
    found = judge_fit(_fit())
    assert found.replicates is not None
    assert found.replicates.f == pytest.approx(0.0289832471906544, rel=1e-8)
    assert found.replicates.p_value == pytest.approx(0.87041322819577, rel=1e-8)


def test_the_other_way_round_differs_by_r_squared() -> None:
    """R: n 0.266315 by ln T on ln V, 0.260450 by ln V on ln T."""
    fit = _fit()
    found = judge_fit(fit)
    assert fit.line is not None
    assert found.n_other_way == pytest.approx(0.260450099233698, rel=1e-9)
    assert found.n_other_way == pytest.approx(fit.line.r_squared * 0.266315149856223, rel=1e-9)


def test_points_name_the_cutter_that_carries_the_answer() -> None:
    life = [*LIFE[:8], 30.0]
    points = judge_fit(fit_tool_life(*_tables(SPEED, life))).points
    moved = (points["n_without"] - -1 / fit_tool_life(*_tables(SPEED, life)).beta[1]).abs()
    assert points.loc[moved.idxmax(), "cutter"] == "E9"
    alone = fit_tool_life(*_tables(SPEED[:8], life[:8]))
    assert points["n_without"].iloc[8] == pytest.approx(-1 / alone.beta[1], rel=1e-12)
    assert points["leverage"].sum() == pytest.approx(2.0)


def test_other_laws_stand_beside() -> None:
    """Weibull slope of complete lives checked in tests/stats against R; here it must be the same fit."""
    table = judge_fit(_fit()).other_laws.set_index("distribution")
    weibull = _fit(distribution="weibull")
    assert table.loc["weibull", "n"] == pytest.approx(-1 / weibull.beta[1], rel=1e-9)
    assert (table["low"] < table["n"]).all()
    assert (table["n"] < table["high"]).all()


def test_the_speed_for_an_hour_under_each_law() -> None:
    """That of the fit's own law is the one among its constants; Weibull's is where its median life is 60 (derived)."""
    fit = _fit()
    table = judge_fit(fit).other_laws.set_index("distribution")
    own = next(one for one in parameters(fit) if one.name == "v60")
    assert table.at["lognormal", "v60"] == pytest.approx(own.estimate, rel=1e-9)
    limits = (table.at["lognormal", "v60_low"], table.at["lognormal", "v60_high"])
    assert limits == pytest.approx((own.interval.low, own.interval.high), rel=1e-8)
    weibull = fit_lives(fit.X, Lives(fit.used["low"], fit.used["high"]), "weibull")
    x = [1.0, math.log(table.at["weibull", "v60"])]
    assert math.exp(weibull.estimate(x)) * math.log(2) ** weibull.sigma == pytest.approx(60.0, rel=1e-9)
    assert table.at["weibull", "v60_low"] < table.at["weibull", "v60"] < table.at["weibull", "v60_high"]


def test_a_bend_is_looked_for_and_sized() -> None:
    x = np.log(np.array(SPEED) / 140)
    bent = np.exp(3.3 - 4 * x - 8 * x**2 + np.array([0.05, -0.05, 0.0] * 3))
    found = judge_fit(fit_tool_life(*_tables(SPEED, bent.tolist()))).bend
    assert found is not None
    assert found.curvature == pytest.approx(-8, abs=1.5)
    assert found.p_value < 0.01
    assert 0 < found.detectable < 8


def test_censored_lives_have_no_residual_and_say_so() -> None:
    found = judge_fit(_fit(censored=(0, 1)))
    assert found.points["residual"].isna().tolist() == [True, True] + [False] * 7
    assert found.replicates is None
    assert "censored" in found.why_missing
    assert found.points["n_without"].notna().all()
    assert found.to_dict()["lack_of_fit"] is None


def test_settings_that_moved_together_are_refused_by_name() -> None:
    feed = [0.001 * v * (1.001 if at % 2 else 1.0) for at, v in enumerate(SPEED)]
    lives, facts = _tables(SPEED, LIFE, feed_per_tooth_mm=feed)
    with pytest.raises(Refusal, match="ln cutting_speed_m_min and ln feed_per_tooth_mm moved together"):
        fit_tool_life(lives, facts, ["cutting_speed", "feed_per_tooth"])


def test_next_cutter_as_predicted_by_r() -> None:
    """R predict(lm, interval = "prediction") at 150 m/min: 20.2846 (14.7016, 27.9878)."""
    found = next_cutter(_fit(), {"cutting_speed_m_min": 150.0})
    assert found.median == pytest.approx(20.284614894907, rel=1e-9)
    assert found.interval.low == pytest.approx(14.7015810707406, rel=1e-7)
    assert found.interval.high == pytest.approx(27.987846984267, rel=1e-7)
    assert found.bound is not None
    assert found.other is not None
    assert found.bound.bound < found.other.bound < found.median
    assert {found.bound.distribution, found.other.distribution} == {"lognormal", "weibull"}


def test_next_cutter_is_the_same_for_the_same_seed() -> None:
    fit = _fit(censored=(0,))
    one, two, other = (next_cutter(fit, {"cutting_speed_m_min": 150.0}, rng=seed) for seed in (1, 1, 2))
    assert one == two
    assert one.interval != other.interval
    assert one.interval.low == pytest.approx(other.interval.low, rel=0.05)


def test_two_lives_give_no_prediction_and_the_reason() -> None:
    fit = fit_tool_life(*_tables([160.0, 100.0], [5.0, 41.0]))
    found = next_cutter(fit, {"cutting_speed_m_min": 120.0})
    assert found.bound is None
    assert "nothing is left to judge the scatter by" in found.why_missing


def test_exponents_by_group_pool_the_scatter() -> None:
    """The same model as lm(ln T ~ group * ln V): each slope is the group's own line, sigma is over all of them."""
    life = LIFE + [2 * one**1.1 for one in LIFE]
    lives, facts = _tables(SPEED * 2, life, coating=["a"] * 9 + ["b"] * 9)
    found = fit_by_group(lives.merge(facts, on="cutter"), "coating")
    own = [fit_tool_life(*_tables(SPEED, part)) for part in (LIFE, life[9:])]
    for group, fit in zip(found.groups, own, strict=True):
        assert group.n == pytest.approx(-1 / fit.beta[1], rel=1e-10)
    rss = sum(fit.line.rss for fit in own if fit.line)
    assert found.sigma == pytest.approx(math.sqrt(rss / 14), rel=1e-10)
    assert found.p_common == pytest.approx(_equal_slopes(SPEED, life), rel=1e-9)


def _equal_slopes(speed: list[float], life: list[float]) -> float:
    """F test of one slope against two by statsmodels, an independent route."""
    from statsmodels.regression.linear_model import OLS

    x, y, g = np.log(speed * 2), np.log(life), np.repeat([0.0, 1.0], 9)
    full = OLS(y, np.column_stack([np.ones(18), g, x, g * x])).fit()
    return float(full.compare_f_test(OLS(y, np.column_stack([np.ones(18), g, x])).fit())[1])


def test_a_group_at_one_speed_has_no_exponent() -> None:
    lives, facts = _tables([*SPEED, 140.0, 140.0], [*LIFE, 50.0, 60.0], (9,), coating=["a"] * 9 + ["b"] * 2)
    found = fit_by_group(lives.merge(facts, on="cutter"), "coating")
    assert found.groups[1].why_missing == "one speed only"
    assert math.isnan(found.p_common)
    one_speed = lives.merge(facts, on="cutter").assign(cutting_speed_m_min=140.0)
    with pytest.raises(Refusal, match="no coating was run at two speeds"):
        fit_by_group(one_speed, "coating")


def test_published_exponent_beside_the_fit() -> None:
    """Closed form, checked against weighted pseudo-data in R: n 0.263612 (0.228575, 0.311337) at 0.25 +- 0.06."""
    found = with_published(_fit(), 0.25)
    assert found.n == pytest.approx(0.263612407832174, rel=1e-8)
    assert found.interval.low == pytest.approx(0.228574600141962, rel=1e-8)
    assert found.interval.high == pytest.approx(0.311336671179569, rel=1e-8)
    assert found.n_without == pytest.approx(0.266315149856223, rel=1e-9)
    assert with_published(_fit(), 0.25, spread=0.01) == with_published(_fit(), 0.25, spread=0.06)
    with pytest.raises(Refusal, match="censored"):
        with_published(_fit(censored=(0,)), 0.25)
