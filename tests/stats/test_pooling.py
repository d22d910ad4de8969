from __future__ import annotations

import pytest

from wearlab.core.errors import ArgumentError, Refusal
from wearlab.stats.pooling import pool


class TestPooling:
    def test_against_metafor(self):
        """R metafor 3.8-1, rma(method="PM", test="knha"), blup()."""
        together = pool([-4.21, -3.52, -4.88, -2.1, -6.4], [0.16, 0.22, 0.3, 0.12, 0.25], "paule-mandel")
        limits = together.interval()
        found = [together.between, together.mean, together.se_t, limits.low, limits.high, together.q]
        assert found == pytest.approx(
            [2.35087865384, -4.19588890939, 0.715441534321, -6.18227305541, -2.20950476337, 56.3706550720],
            rel=1e-9,
        )
        assert together.heterogeneity_p == pytest.approx(1.67661115787e-11, rel=1e-8)
        assert together.shrunken.tolist() == pytest.approx(
            [-4.209100803, -3.577838420, -4.802579132, -2.201788353, -6.188137839], rel=1e-9
        )

    def test_alike_groups_are_not_spread_out(self):
        for method in ("paule-mandel", "dersimonian-laird"):
            together = pool([1.0, 1.01, 0.99], [0.1, 0.1, 0.1], method)
            assert together.between == 0.0
            assert together.shrunken == pytest.approx([1.0, 1.0, 1.0])

    def test_faults_are_named(self):
        with pytest.raises(ArgumentError, match="a variance of 0"):
            pool([1.0, 2.0], [0.0, 1.0])
        with pytest.raises(ArgumentError, match="allowed: dersimonian-laird, paule-mandel"):
            pool([1.0, 2.0], [1.0, 1.0], "reml")
        with pytest.raises(Refusal, match="1 groups"):
            pool([1.0], [1.0])
