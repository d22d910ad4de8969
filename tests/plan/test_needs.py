"""What each question takes: against statsmodels' power of the t test, and walls as the outcome that decides."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from statsmodels.stats.power import TTestIndPower, TTestPower

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.logbook.trial import Trial
from wearlab.plan.against import against_plan
from wearlab.plan.example import EXAMPLE
from wearlab.plan.needs import MOST, Need, needs_of
from wearlab.plan.plan import Plan, make_plan
from wearlab.plan.request import Request
from wearlab.plan.request_file import request_of
from wearlab.plan.scatter import sigma_of_cv
from wearlab.plan.sizes import cutters_for, power_row

WALL = {"outcome": "wall", "wall_um": 10.0, "wall_sd_um": 6.0}


def by_question(found: tuple[Need, ...]) -> dict[tuple[str, str], Need]:
    return {(one.question, one.outcome): one for one in found}


@pytest.mark.parametrize("ratio", [1.3, 1.5, 2.0])
def test_two_samples_against_statsmodels(request_with: Callable[..., Request], ratio: float) -> None:
    """statsmodels.stats.power.TTestIndPower, the same question in standardised form."""
    asked = request_with(scatter={"correlation": 0.0, "drop_out": 0.0}, blocks={"use": False}, size={"ratio": ratio})
    found = by_question(needs_of(asked, 6))[("different", "life")]
    effect = math.log(ratio) / sigma_of_cv(0.35)
    size = TTestIndPower().solve_power(effect, power=0.8, alpha=0.05)
    assert found.cutters == math.ceil(size)
    assert found.chance == pytest.approx(TTestIndPower().power(effect, 6, 0.05), abs=1e-4)


def test_walls_within_blocks_against_statsmodels(request_with: Callable[..., Request]) -> None:
    """Pairs of one block: TTestPower; a difference scatters sqrt(2 (1 - rho)) times as much as one cutter."""
    asked = request_with(scatter={"correlation": 0.3, "drop_out": 0.0}, size=WALL)
    found = by_question(needs_of(asked, 6))[("different", "wall")]
    effect = 10.0 / (6.0 * math.sqrt(2 * 0.7))
    assert found.cutters == math.ceil(TTestPower().solve_power(effect, power=0.8, alpha=0.05))
    assert found.chance == pytest.approx(TTestPower().power(effect, 6, 0.05), abs=1e-4)


def test_the_size_found_is_the_smallest(request_with: Callable[..., Request]) -> None:
    asked = request_with(size=WALL)
    for one in needs_of(asked, 6):
        assert one.cutters is not None
        chances = [
            (lambda row: row.power if one.question == "different" else row.alike_power)(
                power_row(asked, cutters, one.outcome)
            )
            for cutters in (one.cutters - 1, one.cutters)
        ]
        assert chances[0] < 0.8 <= chances[1]


def test_incomplete_blocks_are_walked_through_quickly(request_with: Callable[..., Request]) -> None:
    """Three practices, two a block: the chance falls where the analysis goes within blocks; the first size counts."""
    third = request_with().practices[1].__class__("deep", "layered", {"layers": 2}, 35.0)
    asked = request_with(practices=(*request_with().practices, third), blocks={"holds": 2})
    found = by_question(needs_of(asked, 8))
    assert found[("different", "life")].cutters == cutters_for(asked, "life")
    plan = make_plan(asked)
    assert any("room for 2 of 3 practices" in doubt for doubt in plan.doubts)


def test_beyond_reach_is_none(request_with: Callable[..., Request]) -> None:
    asked = request_with(size={"margin": 1.01, "cutters": 6})
    assert by_question(needs_of(asked, 6))[("alike", "life")].cutters is None
    assert MOST == 200


class TestWallsDecide:
    def test_the_size_follows_the_walls(self, request_with: Callable[..., Request]) -> None:
        asked = request_with(size=WALL)
        plan = make_plan(asked)
        assert plan.cutters == by_question(plan.needs())[("different", "wall")].cutters
        row = plan.forecast()
        assert row is not None
        assert (row.outcome, row.truth) == ("wall", 10.0)

    def test_what_is_missing_is_asked_for(self) -> None:
        for text, words in (
            ('outcome = "wall"', "no size.wall_um"),
            ('outcome = "wall"\nwall_um = 10', "no size.wall_sd_um"),
            ('outcome = "wall"\nwall_um = -1\nwall_sd_um = 6', "size.wall_um = -1"),
        ):
            with pytest.raises(ArgumentError, match=words):
                request_of(tomllib.loads(EXAMPLE.replace('outcome = "life"', text)))
        early = EXAMPLE.replace('outcome = "life"', 'outcome = "wall"\nwall_um = 10\nwall_sd_um = 6')
        with pytest.raises(ArgumentError, match="interim looks where walls decide"):
            request_of(tomllib.loads(early.replace("at_blocks = []", "at_blocks = [4]")))

    def test_out_of_reach_is_said_in_um(self, request_with: Callable[..., Request]) -> None:
        with pytest.raises(Refusal, match=r"a difference of 1 um.*a difference of .* um or more"):
            make_plan(request_with(size=WALL | {"wall_um": 1.0, "most": 5}))

    def test_what_is_left_counts_cutters_with_walls(
        self, request_with: Callable[..., Request], trial_of_walls: Callable[[Plan, set[str]], Trial]
    ) -> None:
        plan = make_plan(request_with(size=WALL | {"cutters": 5}, walls={"heights_mm": (4.5,)}))
        every = {run.cutter for run in plan.runs}
        whole = against_plan(plan, trial_of_walls(plan, every)).costs[0]
        assert (whole.outcome, whole.left_a, whole.left_b) == ("wall", 5, 5)
        assert whole.power == pytest.approx(whole.planned_power)
        assert whole.detectable == pytest.approx(power_row(plan.request, 5, "wall").detectable, rel=1e-6)
        fewer = against_plan(plan, trial_of_walls(plan, every - {"E1"})).costs[0]
        assert fewer.left_a + fewer.left_b == 9
        assert fewer.power < whole.power


@pytest.fixture
def trial_of_walls(tmp_path_factory: pytest.TempPathFactory) -> Callable[[Plan, set[str]], Trial]:
    """The blank log of a plan with one width a cutter, of the cutters that are named (invented)."""
    from wearlab.logbook.read import read_log
    from wearlab.plan.blank_log import blank_rows

    def make(plan: Plan, cutters: set[str]) -> Trial:
        rng = np.random.default_rng(4)
        rows = blank_rows(plan)
        rows = rows[(rows["measure"] == "width") & (rows["reading"] == "1") & rows["cutter"].isin(cutters)].copy()
        rows["value"] = [f"{12 + 0.01 * rng.standard_normal():.3f}" for _ in range(len(rows))]
        rows["parts"], rows["cutting_time_min"] = "4", "3.4"
        path = tmp_path_factory.mktemp("walls") / "shoulder.csv"
        pd.DataFrame(rows).to_csv(path, index=False)
        return read_log(path)

    return make
