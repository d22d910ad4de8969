"""Chance of being best, expected loss, worth of information: against integrals, simulation and listing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from wearlab.core.errors import ArgumentError
from wearlab.decide.best import (
    MoreCutters,
    chance_of_best,
    perfect_information,
    settled,
    worth_of_more_cutters,
    worth_of_pairs,
)
from wearlab.stats.value_of_information import worth_of_more


class TestOurExample:
    """Difference -0.12 of ln cost, believed to 0.20; 2000 a year; a pair of cutters scatters by 0.424."""

    def test_chance_of_being_wrong(self) -> None:
        draws = np.random.default_rng(1).normal(-0.12, 0.20, 400_000)
        made = chance_of_best({"a": draws, "b": np.zeros_like(draws)})
        assert 1 - made.chance == pytest.approx(0.27, abs=0.005)

    def test_perfect_knowledge(self) -> None:
        assert perfect_information(-0.12, 0.20, 2000) == pytest.approx(67, abs=0.5)

    @pytest.mark.parametrize(("pairs", "worth"), [(2, 16), (4, 29), (8, 42), (16, 52)])
    def test_more_pairs(self, pairs: int, worth: float) -> None:
        assert worth_of_pairs(-0.12, 0.20, 0.424, pairs, 2000) == pytest.approx(worth, abs=0.5)

    def test_at_28_a_cutter_none_pays(self) -> None:
        assert all(worth_of_pairs(-0.12, 0.20, 0.424, m, 2000) < 2 * m * 28 for m in range(1, 60))


@pytest.mark.parametrize(("difference", "sd"), [(-0.12, 0.2), (0.0, 0.3), (1.0, 0.2), (0.05, 2.0)])
def test_perfect_information_is_the_integral_of_the_loss(difference: float, sd: float) -> None:
    """The loss of keeping the better-looking one is what the other turns out to be cheaper by."""
    expected, _ = quad(lambda x: max(-x, 0.0) * norm.pdf(x, abs(difference), sd), -30 * sd, 0, epsabs=1e-14)
    assert perfect_information(difference, sd) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(("n", "more"), [(3, 1), (3, 2), (3, 5), (5, 10)])
def test_two_independent_formulas_agree(n: int, more: int) -> None:
    """The other one starts from n observations a side; here s = sigma sqrt(2/n), a pair scatters by sigma sqrt 2."""
    sigma, difference = 0.15, 0.05
    other = worth_of_more(difference, sigma, n, more)
    ours = worth_of_pairs(difference, sigma * math.sqrt(2 / n), sigma * math.sqrt(2), more)
    assert ours == pytest.approx(other.expected, rel=1e-9)
    assert perfect_information(difference, sigma * math.sqrt(2 / n)) == pytest.approx(other.certainty, rel=1e-9)


def test_more_pairs_by_playing_it_through() -> None:
    """A true difference from what is believed, m pairs cut, the better-looking choice taken: what was saved."""
    rng = np.random.default_rng(9)
    difference, sd, scatter, pairs, size = -0.12, 0.20, 0.424, 4, 2_000_000
    truth = rng.normal(difference, sd, size)
    seen = truth + rng.normal(0, scatter / math.sqrt(pairs), size)
    weight = sd**2 / (sd**2 + scatter**2 / pairs)
    believed = difference + weight * (seen - difference)
    saved = np.where(believed > 0, -truth, 0.0)  # Switching pays the difference, which is negative when it helps.
    found = worth_of_pairs(difference, sd, scatter, pairs)
    assert -saved.mean() == pytest.approx(found, abs=4 * saved.std() / math.sqrt(size))


def two_costs(size: int = 200_000) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(4)
    return {"a": 10 + rng.normal(0, 0.5, size), "b": 10.3 + rng.normal(0, 0.7, size)}


class TestWorthOfMore:
    def test_two_choices_by_the_formula_of_pairs(self) -> None:
        made = chance_of_best(two_costs())
        # Equal odds of scatter to what is believed: then m cutters of each move the difference as m pairs do.
        found = worth_of_more_cutters(made, [1.0, 1.4], [2, 8], spend=100.0)
        sd, scatter = math.hypot(0.5, 0.7), math.hypot(1.0, 1.4)
        for one in found:
            assert one.worth == pytest.approx(worth_of_pairs(-0.3, sd, scatter, one.more, 100.0), rel=0.02)

    def test_simulation_for_more_choices_agrees_with_the_closed_form(self) -> None:
        costs = two_costs()
        closed = worth_of_more_cutters(chance_of_best(costs), [1.0, 1.4], [2, 8])
        far = {**costs, "c": np.full_like(costs["a"], 40.0)}
        simulated = worth_of_more_cutters(chance_of_best(far), [1.0, 1.4, 1.0], [2, 8], rng=5)
        for a, b in zip(closed, simulated, strict=True):
            assert b.worth == pytest.approx(a.worth, rel=0.05)

    def test_more_is_worth_more_and_never_above_certainty(self) -> None:
        made = chance_of_best(two_costs())
        found = worth_of_more_cutters(made, [1.0, 1.4], [1, 2, 4, 8, 1000])
        worths = [one.worth for one in found]
        assert worths == sorted(worths)
        assert worths[-1] == pytest.approx(made.perfect_information, rel=0.02)
        assert worths[-1] <= made.perfect_information

    def test_skewed_draws_keep_below_certainty_too(self) -> None:
        rng = np.random.default_rng(14)
        costs = {"a": np.exp(rng.normal(0, 0.4, 4000)), "b": np.exp(rng.normal(0.02, 0.4, 4000))}
        made = chance_of_best(costs)
        assert worth_of_more_cutters(made, [0.5, 0.5], [10_000])[0].worth <= made.perfect_information

    def test_the_cost_of_cutters_decides_whether_they_pay(self) -> None:
        made = chance_of_best(two_costs())
        cheap = worth_of_more_cutters(made, [1.0, 1.4], [4], spend=1000.0, prices=[1.0, 1.0])[0]
        dear = worth_of_more_cutters(made, [1.0, 1.4], [4], spend=1000.0, prices=[1e4, 1e4])[0]
        assert (cheap.pays, dear.pays) == (True, False)
        assert cheap.cost == 8.0
        assert worth_of_more_cutters(made, [1.0, 1.4], [4])[0].pays is None

    def test_bad_arguments(self) -> None:
        made = chance_of_best(two_costs(100))
        with pytest.raises(ArgumentError, match="figures of scatter"):
            worth_of_more_cutters(made, [1.0], [1])
        with pytest.raises(ArgumentError, match="at least 1"):
            worth_of_more_cutters(made, [1.0, 1.0], [0])


class TestChances:
    def test_equal_draws_share_the_chance_evenly(self) -> None:
        made = chance_of_best({"a": [1.0, 2.0], "b": [1.0, 2.0], "c": [1.0, 2.0]})
        assert made.chances.tolist() == pytest.approx([1 / 3, 1 / 3, 1 / 3])
        assert made.losses.tolist() == [0.0, 0.0, 0.0]

    @given(st.lists(st.tuples(st.floats(1, 100), st.floats(1, 100), st.floats(1, 100)), min_size=1, max_size=40))
    def test_by_listing(self, worlds: list[tuple[float, float, float]]) -> None:
        made = chance_of_best({name: [w[i] for w in worlds] for i, name in enumerate("abc")})
        for i in range(3):
            wins = sum(1 / w.count(min(w)) for w in worlds if w[i] == min(w))
            assert made.chances[i] == pytest.approx(wins / len(worlds))
            assert made.losses[i] == pytest.approx(sum(w[i] - min(w) for w in worlds) / len(worlds))
        assert made.chances.sum() == pytest.approx(1.0)

    def test_the_choice_has_the_least_mean_cost(self) -> None:
        made = chance_of_best({"often": [1.0, 1.0, 9.0], "safe": [2.0, 2.0, 2.0]})
        assert made.choice == "safe"
        assert made.chances[0] > made.chances[1]

    def test_a_unit_of_money_moves_no_chance(self) -> None:
        costs = two_costs(1000)
        a, b = chance_of_best(costs), chance_of_best({name: 100 * draws for name, draws in costs.items()})
        assert np.array_equal(a.chances, b.chances)
        assert b.losses == pytest.approx(100 * a.losses)

    def test_bad_arguments(self) -> None:
        with pytest.raises(ArgumentError, match="two or more"):
            chance_of_best({"a": [1.0]})
        with pytest.raises(ArgumentError, match="different lengths"):
            chance_of_best({"a": [1.0], "b": [1.0, 2.0]})
        with pytest.raises(ArgumentError, match="no finite number"):
            chance_of_best({"a": [1.0, math.nan], "b": [1.0, 2.0]})


def more(pays: bool | None) -> list[MoreCutters]:
    return [MoreCutters(2, 1.0, 2.0, pays)]


@pytest.mark.parametrize(
    ("shift", "pays", "expected"),
    [
        (3.0, False, "settled"),
        (0.02, False, "hardly_matters"),
        (0.3, True, "test_more"),
        (0.3, False, "stop_testing"),
        (0.3, None, "not_weighed"),
    ],
)
def test_what_is_said_about_testing_on(shift: float, pays: bool | None, expected: str) -> None:
    rng = np.random.default_rng(8)
    spread = 0.01 if expected == "hardly_matters" else 1.0
    made = chance_of_best(
        {"a": 10 + spread * rng.standard_normal(5000), "b": 10 + spread * (shift + rng.standard_normal(5000))}
        if expected == "hardly_matters"
        else {"a": 10 + rng.standard_normal(5000), "b": 10 + shift + rng.standard_normal(5000)}
    )
    assert settled(made, more(pays)) == expected
