"""Weighing of draws by what is believed beforehand, against direct integration."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm, t

from wearlab.core.errors import ArgumentError
from wearlab.decide.between import (
    CUTTERS,
    CUTTERS_WIDTH,
    TAIL,
    TYPICAL,
    WIDTH,
    log_density,
    log_scatter_density,
    weigh,
)


@pytest.mark.parametrize("practices", [2, 3, 5])
def test_the_density_is_the_integral_over_the_scatter(practices: int) -> None:
    def density(squares: float) -> float:
        def term(tau: float) -> float:
            prior = t.pdf(math.log(tau / TYPICAL) / WIDTH, TAIL) / tau
            return tau ** (1 - practices) * math.exp(-squares / (2 * tau**2)) * prior

        parts = [TYPICAL * math.exp(WIDTH * place) for place in (-10, -5, -3, -2, -1, 0, 1, 2, 3, 5, 10)]
        return sum(quad(term, a, b, epsabs=0, epsrel=1e-10)[0] for a, b in pairwise(parts))

    places = np.array([0.002, 0.02, 0.2, 1.0, 4.0])
    exact = np.log([density(s) for s in places])
    found = log_density(places, practices)
    assert np.diff(found) == pytest.approx(np.diff(exact), abs=0.01)


def test_two_practices_of_known_scatter_have_the_posterior_on_a_grid() -> None:
    """Difference d observed with error s: the posterior by draws against the product of likelihood and prior."""
    observed, error = 0.35, 0.25
    rng = np.random.default_rng(4)
    # Levels whose difference has the flat-prior posterior N(0.35, 0.25).
    draws = observed + error * rng.standard_normal(400_000)
    beta = np.column_stack([draws / 2, -draws / 2])
    kept = weigh(beta, np.ones(len(beta)), 5)
    grid = np.linspace(-2, 3, 20_001)
    weight = norm.pdf(grid, observed, error) * np.exp(log_density(grid**2 / 2, 2))
    mean = float((grid * weight).sum() / weight.sum())
    above = float(weight[grid > 0].sum() / weight.sum())
    found = beta[kept, 0] - beta[kept, 1]
    assert found.mean() == pytest.approx(mean, abs=0.005)
    assert (found > 0).mean() == pytest.approx(above, abs=0.005)
    assert above < norm.cdf(observed / error)


def test_a_threefold_difference_is_pulled_in_by_a_tenth() -> None:
    """What is believed beforehand costs a difference of ln 3, known to 0.2, a tenth of itself, as on a grid."""
    rng = np.random.default_rng(6)
    draws = math.log(3.0) + 0.2 * rng.standard_normal(200_000)
    beta = np.column_stack([draws / 2, -draws / 2])
    kept = weigh(beta, np.ones(len(beta)), 7)
    grid = np.linspace(-0.5, 2.5, 20_001)
    weight = norm.pdf(grid, math.log(3.0), 0.2) * np.exp(log_density(grid**2 / 2, 2))
    exact = float((grid * weight).sum() / weight.sum())
    assert exact == pytest.approx(0.976, abs=0.005)
    assert (beta[kept, 0] - beta[kept, 1]).mean() == pytest.approx(exact, abs=0.005)


def test_equal_weights_keep_every_draw_once() -> None:
    beta = np.zeros((50, 3))
    assert weigh(beta, np.ones(50), 1).tolist() == list(range(50))


def test_mirrored_practices_stay_mirrored() -> None:
    beta = np.random.default_rng(8).standard_normal((20_000, 2))
    beta = np.vstack([beta, beta[:, ::-1]])
    kept = weigh(beta, np.ones(len(beta)), 9)
    assert (beta[kept, 0] > beta[kept, 1]).mean() == pytest.approx(0.5, abs=0.005)


def test_a_scatter_that_few_cutters_show_is_drawn_towards_the_common_one() -> None:
    """Four degrees of freedom that show 0.1: draws against the product of likelihood and prior on a grid."""
    shown, df = 0.1, 4
    rng = np.random.default_rng(10)
    sigma = shown * np.sqrt(df / rng.chisquare(df, 200_000))
    # Practices so far from one another in every draw that they weigh all draws alike.
    beta = np.tile([0.0, 0.5], (len(sigma), 1))
    kept = weigh(beta, sigma, 11)
    grid = np.linspace(math.log(0.01), math.log(10.0), 20_001)
    likelihood = -df * grid - df * shown**2 / (2 * np.exp(2 * grid))
    weight = np.exp(likelihood) * norm.pdf(grid, math.log(CUTTERS), CUTTERS_WIDTH)
    assert np.log(sigma[kept]).mean() == pytest.approx(float((grid * weight).sum() / weight.sum()), abs=0.005)
    assert np.log(sigma[kept]).mean() > np.log(sigma).mean()


def test_the_scatter_density_is_the_lognormal() -> None:
    at = np.array([0.05, 0.3, 1.5])
    exact = norm.logpdf(np.log(at), math.log(CUTTERS), CUTTERS_WIDTH)
    assert np.diff(log_scatter_density(at)) == pytest.approx(np.diff(exact))


def test_bad_arguments() -> None:
    with pytest.raises(ArgumentError, match="two or more"):
        log_density(np.array([0.1]), 1)
