"""From words to columns: starts, units, levels, and the laws that the factors make."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.fit.factors import factor_columns, make_factor, resolve, without_unit
from wearlab.fit.laws import EXTENDED, POWER, TAYLOR, law_for, life_at, life_ratio, speed_for, taylor_c, taylor_n
from wearlab.logbook.columns import COLUMNS

SPEED = "cutting_speed_m_min"


class TestResolve:
    @pytest.mark.parametrize("column", sorted(COLUMNS))
    def test_every_column_is_found_by_its_name_and_without_its_unit(self, column: str) -> None:
        assert resolve(column, sorted(COLUMNS)) == column
        assert resolve(without_unit(column), sorted(COLUMNS)) == column

    @pytest.mark.parametrize(
        ("word", "column"),
        [
            ("axial", "axial_depth_mm"),
            ("Axial-Depth", "axial_depth_mm"),
            ("cutting_sp", SPEED),
            (" strategy ", "strategy"),
        ],
    )
    def test_starts(self, word: str, column: str) -> None:
        assert resolve(word, ["axial_depth_mm", SPEED, "strategy", "radial_width_mm"]) == column

    def test_an_ambiguous_start_names_the_candidates(self) -> None:
        with pytest.raises(ArgumentError, match="'feed' fits 2 columns; allowed: feed_per_rev_mm, feed_per_tooth_mm"):
            resolve("feed", ["feed_per_rev_mm", "feed_per_tooth_mm", "teeth"])


class TestFactor:
    FACTS = pd.DataFrame(
        {"cutter": ["E1", "E2", "E3", "E4"], "block": ["10", "2", "10", "1"], "hardness": [200, 210.0, 200, 220]}
    )

    def test_numbers_go_in_as_ln(self) -> None:
        factor = make_factor(self.FACTS, "hardness")
        assert factor.names == ("ln hardness",)
        assert factor.columns(self.FACTS["hardness"])[:, 0].tolist() == np.log([200, 210, 200, 220]).tolist()
        assert factor.levels == (200, 210, 220)

    def test_texts_go_in_as_groups_in_natural_order(self) -> None:
        factor = make_factor(self.FACTS, "block")
        assert factor.levels == ("1", "2", "10")
        assert factor.names == ("block[2]", "block[10]")
        assert factor.columns(self.FACTS["block"]).tolist() == [[0, 1], [1, 0], [0, 1], [0, 0]]

    def test_the_reference_group_has_no_column(self) -> None:
        assert make_factor(self.FACTS, "block").columns(pd.Series(["1"])).tolist() == [[0, 0]]

    def test_what_never_varied_is_refused_by_name(self) -> None:
        with pytest.raises(Refusal, match="factor teeth: teeth never varied: 4 in every cutter"):
            make_factor(self.FACTS.assign(teeth=4.0), "teeth")

    def test_columns_that_hold_nothing_are_no_factors(self) -> None:
        facts = self.FACTS.assign(coating="", runout_um=np.nan, end_reason="worn", readings=3, cutting_time_min=1.0)
        assert factor_columns(facts) == ["block", "hardness"]


class TestLaws:
    def test_which_law_the_factors_make(self) -> None:
        assert law_for((SPEED,), SPEED) is TAYLOR
        assert law_for((SPEED, "hardness"), SPEED) is EXTENDED
        assert law_for(("hardness",), SPEED) is POWER
        assert all(law.source for law in (TAYLOR, EXTENDED, POWER))

    @given(st.floats(0.05, 1.5), st.floats(10, 2000), st.floats(1, 500))
    def test_life_and_speed_are_each_others_inverse(self, n: float, c: float, life: float) -> None:
        speed = speed_for(life, n, c)
        assert life_at(speed, n, c) == pytest.approx(life, rel=1e-9)
        assert speed * life**n == pytest.approx(c, rel=1e-9)  # V T^n = C
        assert life_at(c, n, c) == pytest.approx(1.0, rel=1e-12)

    @given(st.floats(-20, -0.7), st.floats(0, 60))
    def test_constants_from_the_line(self, slope: float, intercept: float) -> None:
        n, c = taylor_n(slope), taylor_c(intercept, slope)
        for speed in (50.0, 120.0):
            assert math.log(life_at(speed, n, c)) == pytest.approx(intercept + slope * math.log(speed), abs=1e-8)

    @given(st.floats(0.2, 5), st.floats(0.05, 1.5))
    def test_a_ratio_of_speeds_and_back(self, ratio: float, n: float) -> None:
        assert life_ratio(ratio, n) * life_ratio(1 / ratio, n) == pytest.approx(1.0, rel=1e-9)

    def test_no_exponent_from_a_line_that_does_not_fall(self) -> None:
        assert math.isnan(taylor_n(0.0))
        assert math.isnan(taylor_n(0.5))

    def test_what_no_number_can_hold_is_infinite(self) -> None:
        assert life_at(1.0, 0.001, 10.0) == math.inf
        assert life_ratio(0.5, 1e-4) == math.inf
        assert taylor_c(1e4, -1e-3) == math.inf
