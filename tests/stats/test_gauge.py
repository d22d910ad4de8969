from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.gauge import average_and_range, crossed_study
from wearlab.stats.gauge_reml import reml_study


def _layout(parts, operators, repeats):
    return np.repeat(np.arange(parts), operators * repeats), np.tile(
        np.repeat(np.arange(operators), repeats), parts
    )


def _draw(rng, parts, operators, repeats, sd_operator, sd_error, sd_part=0.07):
    part, operator = _layout(parts, operators, repeats)
    return (
        sd_part * rng.standard_normal(parts)[part]
        + sd_operator * rng.standard_normal(operators)[operator]
        + sd_error * rng.standard_normal(len(part))
    )


def test_against_statsmodels():
    from statsmodels.regression.linear_model import OLS

    part, operator = _layout(5, 3, 2)
    y = _draw(np.random.default_rng(1), 5, 3, 2, 0.01, 0.01)
    study = crossed_study(part, operator, y)
    dummies = [
        (part[:, None] == np.arange(1, 5)).astype(float),
        (operator[:, None] == np.arange(1, 3)).astype(float),
    ]
    X = np.column_stack([np.ones(30), *dummies])
    additive = OLS(y, X).fit().ssr
    assert study.ss_interaction + study.ss_error == pytest.approx(additive, rel=1e-10)
    assert study.ss_part == pytest.approx(OLS(y, X[:, [0, 5, 6]]).fit().ssr - additive, rel=1e-10)
    assert study.ss_operator == pytest.approx(OLS(y, X[:, :5]).fit().ssr - additive, rel=1e-10)


def test_a_common_offset_costs_no_digits():
    part, operator = _layout(5, 2, 2)
    y = np.round(_draw(np.random.default_rng(2), 5, 2, 2, 0.01, 0.01) * 2**20) / 2**20
    near, far = crossed_study(part, operator, y), crossed_study(part, operator, y + 2**20)
    assert far.mean_squares == pytest.approx(near.mean_squares, rel=1e-9)


def test_the_intervals_cover():
    """2,000 studies, 10 x 3 x 2: chi-square exact; MLS of the gauge 0.94 to 0.97 in simulations elsewhere."""
    rng = np.random.default_rng(3)
    part, operator = _layout(10, 3, 2)
    hits = np.zeros(3)
    for _ in range(2000):
        study = crossed_study(part, operator, _draw(rng, 10, 3, 2, 0.01, 0.01))
        hits += [
            study.repeatability_interval().contains(0.01),
            study.gauge_interval().contains(2e-4),
            study.operator_interval().contains(1e-4),
        ]
    rates = hits / 2000
    assert rates[0] == pytest.approx(0.95, abs=0.02)
    assert 0.93 < rates[1] < 0.98
    assert 0.93 < rates[2] < 0.98


def test_two_operators_say_next_to_nothing_about_operators():
    part, operator = _layout(10, 2, 2)
    study = crossed_study(part, operator, _draw(np.random.default_rng(4), 10, 2, 2, 0.01, 0.01))
    assert math.sqrt(study.operator_interval().high / max(study.components().operator, 1e-6)) > 5


def test_one_operator_measures_repeats_only():
    part, operator = _layout(6, 1, 3)
    study = crossed_study(part, operator, _draw(np.random.default_rng(5), 6, 1, 3, 0.0, 0.01))
    components = study.components()
    assert (components.operator, components.interaction) == (0.0, 0.0)
    assert study.gauge_interval().high == pytest.approx(study.repeatability_interval().high ** 2)
    assert study.operator_interval().unbounded == "high"
    assert study.interaction.why_missing is not None
    assert average_and_range(part, operator, np.arange(18.0)).appraiser == 0.0


def test_range_constants():
    """Printed tables (from memory): 1 / d2 for 2, 3 repeats; 1 / d2* for 2, 3 and 10."""
    from wearlab.stats.gauge import _many_ranges, _single_range

    assert [_many_ranges(2), _many_ranges(3)] == [0.8862, 0.5908]
    assert [_single_range(2), _single_range(3), _single_range(10)] == [0.7071, 0.5231, 0.3146]


def test_incomplete_studies_are_refused_or_go_to_reml():
    part, operator = _layout(4, 2, 2)
    y = _draw(np.random.default_rng(6), 4, 2, 2, 0.01, 0.01)
    with pytest.raises(Refusal, match="between 1 and 2 readings of a part by an operator"):
        crossed_study(part[1:], operator[1:], y[1:])
    with pytest.raises(Refusal, match="one part only"):
        crossed_study([1, 1, 1, 1], [1, 1, 2, 2], y[:4])
    assert reml_study(part[1:], operator[1:], y[1:]).n == 15


def test_reml_of_an_incomplete_study_against_lme4(case_rows):
    """R lme4 1.1-31 on the reference study with every seventh reading from the fourth on missing."""
    part, operator, y = case_rows
    keep = np.arange(60) % 7 != 3
    found = reml_study(part[keep], operator[keep], y[keep])
    parts = found.components
    assert [parts.part, parts.operator, parts.interaction, parts.repeatability] == pytest.approx(
        [4.52562724e-03, 1.76035654e-05, 5.39125120e-05, 5.99570702e-05], rel=1e-5
    )
    assert (found.loglik, found.mean) == pytest.approx((133.2992265, 0.220200939), rel=1e-8)


@pytest.fixture
def case_rows():
    import json
    from pathlib import Path

    stored = json.loads((Path(__file__).parents[1] / "reference/reference_cases.json").read_text())
    given = next(one["input"] for one in stored["cases"] if one["id"] == "gauge")
    return tuple(np.array(given[name]) for name in ("part", "oper", "y"))


def test_reml_keeps_a_negative_component_at_zero(stored):
    rows = stored("published/aiag_gauge")
    found = reml_study(rows["part"], rows["appraiser"], rows["value"]).components
    pooled = crossed_study(rows["part"], rows["appraiser"], rows["value"]).components(pooled=True)
    assert found.interaction == 0.0
    assert [found.repeatability, found.operator, found.part] == pytest.approx(
        [pooled.repeatability, pooled.operator, pooled.part], rel=1e-7
    )


def test_reml_does_not_mind_the_unit(case_rows):
    part, operator, y = case_rows
    one, other = reml_study(part, operator, y), reml_study(part, operator, 1e6 * y)
    assert other.components.gauge == pytest.approx(1e12 * one.components.gauge, rel=1e-7)


def test_reml_faults():
    with pytest.raises(Refusal, match="no part was read twice"):
        reml_study([1, 1, 2, 2], [1, 2, 1, 2], [1.0, 2.0, 3.0, 4.0])
    with pytest.raises(Refusal, match="all readings are equal"):
        reml_study([1, 1, 2, 2], [1, 1, 1, 1], [1.0] * 4)
    with pytest.raises(ArgumentError, match="2 readings, 1 operators"):
        reml_study([1, 1], [1], [1.0, 2.0])
