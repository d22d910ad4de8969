"""Looking early: limits against published ones, false alarms in simulation."""

from __future__ import annotations

import math

import numpy as np
import pytest

from wearlab.core.errors import ArgumentError
from wearlab.plan.spending import NEVER, SPENDING, boundaries, crossing_chances, normal_limits, t_paths

FIVE = [0.2, 0.4, 0.6, 0.8, 1.0]


class TestKnownScatter:
    def test_obrien_fleming_kind_of_five_looks(self) -> None:
        """Lan and DeMets with the spending function of O'Brien and Fleming's kind, two-sided 5 %, five even looks:
        4.8769, 3.3569, 2.6803, 2.2898, 2.0310 (as commonly printed; from memory)."""
        expected = [4.8769, 3.3570, 2.6803, 2.2898, 2.0310]
        assert normal_limits(FIVE) == pytest.approx(expected, abs=1.2e-4)

    def test_pocock_kind_stays_near_pococks_own_constant(self) -> None:
        """C. Jennison and B. W. Turnbull (2000), table 2.1, from memory: 2.413 for five looks at one constant limit."""
        found = normal_limits(FIVE, spending="pocock")
        assert found == pytest.approx([2.413] * 5, abs=0.03)

    def test_one_look_is_no_looking_early(self) -> None:
        for spending in SPENDING:
            assert normal_limits([1.0], spending=spending) == pytest.approx([1.959964], abs=1e-5)

    def test_all_is_spent_at_the_end_and_never_more(self) -> None:
        for function in SPENDING.values():
            spent = function(np.array([0.1, 0.5, 1.0]), 0.05)
            assert (np.diff(spent) > 0).all()
            assert spent[-1] == pytest.approx(0.05, abs=1e-12)

    def test_limits_spend_what_they_should_in_simulation(self) -> None:
        """400,000 paths of a Brownian motion at uneven looks."""
        shares = [0.3, 0.5, 0.9, 1.0]
        limits = normal_limits(shares)
        steps = np.random.default_rng(1).standard_normal((400_000, 4)) * np.sqrt(np.diff([0, *shares]))
        z = np.abs(np.cumsum(steps, axis=1)) / np.sqrt(shares)
        crossed = np.maximum.accumulate(z >= limits, axis=1).mean(axis=0)
        spent = SPENDING["obrien_fleming"](np.array(shares), 0.05)
        assert crossed == pytest.approx(spent, abs=4 * math.sqrt(0.05 * 0.95 / 400_000))


class TestStudentsT:
    @pytest.mark.parametrize("spending", list(SPENDING))
    @pytest.mark.parametrize("at", [[3, 4, 5], [2, 4, 6, 8]])
    @pytest.mark.parametrize("paired_from", [2, NEVER])
    def test_false_alarms_are_at_most_five_per_cent(
        self, spending: str, at: list[int], paired_from: int
    ) -> None:
        """Up to five looks, 200,000 fresh paths: not above 5 % by more than 2 standard errors of the simulation; more
        layouts in tests/bench/bench_looking_early.py."""
        found = boundaries(
            at, at[-1] + (at[-1] - at[-2] if len(at) > 1 else 2), spending=spending, paired_from=paired_from
        )
        alarms = sum(crossing_chances(found, 0.0, runs=200_000, rng=77))
        assert 0.045 < alarms < 0.05 + 2 * math.sqrt(0.05 * 0.95 / 200_000)

    @pytest.mark.parametrize("correlation", [0.0, 0.4])
    def test_also_when_the_analysis_changes_on_the_way(self, correlation: float) -> None:
        """Lives: two samples below five blocks, within blocks from then on."""
        found = boundaries([3, 4, 5], 6, paired_from=5)
        assert sum(crossing_chances(found, 0.0, correlation, runs=200_000, rng=78)) < 0.051

    def test_the_plain_exchange_of_z_for_t_would_not_do(self) -> None:
        """Why the limits are set on paths of t: with z exchanged for t by its p, six blocks give over 5.4 %."""
        from scipy.special import ndtr, stdtrit

        pairs = [3, 4, 5, 6]
        limits = [
            stdtrit(n - 1, ndtr(z)) for n, z in zip(pairs, normal_limits([n / 6 for n in pairs]), strict=True)
        ]
        paths = np.abs(t_paths(pairs, rng=79))
        assert (paths >= limits).any(axis=1).mean() > 0.054

    def test_a_fixed_seed_gives_the_same_limits_always(self) -> None:
        assert boundaries([3], 6) == boundaries([3], 6)
        assert [one.pairs for one in boundaries([3, 6], 6).looks] == [3, 6]

    def test_paths_against_raw_data(self) -> None:
        """Distribution of t at the second look, from raw values in place of sums of squares."""
        rng, n, rho, drift = np.random.default_rng(3), 5, 0.4, 0.8
        block, one, two = rng.standard_normal((3, 200_000, n))
        a, b = (math.sqrt(rho) * block + math.sqrt(1 - rho) * own for own in (one, two))
        gap = a - b + drift
        paired = gap.mean(axis=1) / (gap.std(axis=1, ddof=1) / math.sqrt(n))
        pooled = np.sqrt((a.var(axis=1, ddof=1) + b.var(axis=1, ddof=1)) / n)
        apart = gap.mean(axis=1) / pooled
        for paired_from, raw in ((2, paired), (NEVER, apart)):
            made = t_paths([3, 5], paired_from, drift=drift, correlation=rho, runs=200_000, rng=4)[:, 1]
            quantiles = [0.05, 0.25, 0.5, 0.75, 0.95]
            assert np.quantile(made, quantiles) == pytest.approx(np.quantile(raw, quantiles), abs=0.05)

    def test_power_is_hardly_lost(self) -> None:
        """Blocks of 6 with looks after 3 and 4 against one look at the end."""
        drift = math.log(2) / 0.34
        with_looks = sum(crossing_chances(boundaries([3, 4], 6), drift, 0.3))
        one_look = sum(crossing_chances(boundaries([], 6), drift, 0.3))
        assert one_look - 0.06 < with_looks < one_look

    @pytest.mark.parametrize("at", [[1, 3], [4, 4], [7]])
    def test_looks_that_cannot_be(self, at: list[int]) -> None:
        with pytest.raises(ArgumentError, match="rising numbers from 2"):
            boundaries(at, 6)

    def test_unknown_spending(self) -> None:
        with pytest.raises(ArgumentError, match=r"(?i)spending 'pocok'.*did you mean pocock"):
            normal_limits(FIVE, spending="pocok")
