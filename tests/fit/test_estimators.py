"""Tool-life laws as scikit-learn estimators."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from sklearn.model_selection import GroupKFold, cross_val_score
from sklearn.utils.estimator_checks import parametrize_with_checks

from wearlab.core.errors import ArgumentError
from wearlab.fit.estimators import ToolLifeRegressor, tool_life_pipeline
from wearlab.stats.censored import fit_lives
from wearlab.stats.lives import Lives

SPEED = np.array([110.0] * 3 + [140.0] * 3 + [180.0] * 3)
LIFE = np.array([58.2, 71.5, 64.9, 27.4, 22.1, 31.0, 8.9, 11.6, 10.2])


@parametrize_with_checks([ToolLifeRegressor(), ToolLifeRegressor("weibull")])
def test_common_checks_of_scikit_learn(estimator: Any, check: Any) -> None:
    check(estimator)


def test_complete_lives_give_the_reference_line() -> None:
    """R lm on ln T and ln V, checked with statsmodels: slope -3.75494972982152, n 0.266315, C 334.356."""
    model = tool_life_pipeline().fit(SPEED[:, None], np.log(LIFE))
    slope, intercept = model[-1].coef_[0], model[-1].intercept_
    assert slope == pytest.approx(-3.75494972982152, rel=1e-10)
    assert np.exp(-intercept / slope) == pytest.approx(334.356347602784, rel=1e-10)
    assert model[-1].scale_ == pytest.approx(0.128466713122693, rel=1e-10)


@pytest.mark.parametrize("distribution", ["lognormal", "weibull", "loglogistic"])
def test_censored_lives_give_the_life_regression(distribution: str) -> None:
    high = LIFE.copy()
    high[:2] = np.inf
    y = np.column_stack([np.log(LIFE), np.log(high)])
    model = tool_life_pipeline(distribution).fit(SPEED[:, None], y)
    X = np.column_stack([np.ones(9), np.log(SPEED)])
    fit = fit_lives(X, Lives(LIFE, high), distribution)
    assert model[-1].coef_[0] == pytest.approx(fit.beta[1], rel=1e-8)
    assert np.exp(model.predict([[150.0]]))[0] == pytest.approx(fit.median([1.0, np.log(150.0)]), rel=1e-8)
    assert 9 * model.score(SPEED[:, None], y) == pytest.approx(_loglik_of_logs(fit), rel=1e-8)


def _loglik_of_logs(fit: Any) -> float:
    """The density of ln T is that of T times T."""
    exact = fit.lives.exact
    return float(fit.loglik + np.log(fit.lives.lower[exact]).sum())


def test_cross_validation_by_block() -> None:
    blocks = np.tile([0, 1, 2], 3)
    scores = cross_val_score(tool_life_pipeline(), SPEED[:, None], np.log(LIFE), groups=blocks, cv=GroupKFold(3))
    assert scores.shape == (3,)
    assert (scores > 0.9).all()


def test_bounds_the_wrong_way_round_are_named() -> None:
    y = np.column_stack([np.log(LIFE), np.log(LIFE)])
    y[3] = [2.0, 1.0]
    with pytest.raises(ArgumentError, match="low up to high"):
        ToolLifeRegressor().fit(np.log(SPEED)[:, None], y)
