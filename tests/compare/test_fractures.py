"""Chipped and broken cutters by group."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from wearlab.compare.fractures import fractures


def _facts(broken: dict[str, tuple[int, int]]) -> pd.DataFrame:
    rows = [{"group": group, "end_reason": "chipped" if at < hit else "worn"}
            for group, (hit, total) in broken.items() for at in range(total)]  # fmt: skip
    return pd.DataFrame(rows)


@pytest.mark.parametrize(("n", "limit"), [(5, 0.5218), (10, 0.3085), (20, 0.1684)])
def test_none_broken_still_allows_a_share(n: int, limit: float) -> None:
    """Two-sided 95 % limit of none in n: 1 - 0.025^(1/n) (Clopper and Pearson, closed form)."""
    found = fractures(_facts({"a": (0, n), "b": (0, n)}), ("a", "b"))
    assert found.groups["high"].tolist() == pytest.approx([1 - 0.025 ** (1 / n)] * 2)
    assert found.groups["high"].iloc[0] == pytest.approx(limit, abs=5e-5)
    assert math.isnan(found.p_value)


def test_fisher_by_hand() -> None:
    """3 of 4 against 0 of 4: tables as extreme have 4 x 1 x 2 / C(8, 3) = 8 / 56 of the weight."""
    found = fractures(_facts({"a": (3, 4), "b": (0, 4)}), ("a", "b"))
    assert found.p_value == pytest.approx(8 / 56)


def test_three_groups_are_described() -> None:
    found = fractures(_facts({"a": (1, 4), "b": (0, 4), "c": (2, 4)}), ("a", "b", "c"))
    assert found.groups["fractures"].tolist() == [1, 0, 2]
    assert found.to_dict()["p_value"] is None
