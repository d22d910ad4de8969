"""Readers of the stored references: generated cases, certified sets, published tables."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Case:
    """One reference case and the check against it."""

    id: str
    input: Mapping[str, Any]
    expected: Mapping[str, Any]
    rel_tol: float

    def check(self, got: Mapping[str, Any], *, without: tuple[str, ...] = ()) -> float:
        """Every expected figure within the tolerance; returns the worst relative distance."""
        missing = set(self.expected) - set(got) - set(without)
        assert not missing, f"{self.id}: no figure for {sorted(missing)}"
        worst = 0.0
        for name in set(self.expected) - set(without):
            mine, theirs = (
                np.atleast_1d(got[name]).astype(float),
                np.atleast_1d(self.expected[name]).astype(float),
            )
            assert mine.shape == theirs.shape, f"{self.id}.{name}: {mine.shape} against {theirs.shape}"
            far = float(np.max(np.abs(mine - theirs) / np.abs(theirs)))
            assert far <= self.rel_tol, f"{self.id}.{name}: {mine} against {theirs}, {far:.2e} off"
            worst = max(worst, far)
        return worst


@pytest.fixture(scope="session")
def case() -> Callable[[str], Case]:
    """A reference case by its id."""
    stored = json.loads((HERE / "reference_cases.json").read_text())["cases"]
    known = {row["id"]: Case(row["id"], row["input"], row["expected"], row["rel_tol"]) for row in stored}
    return known.__getitem__


@pytest.fixture(scope="session")
def published() -> Callable[[str], dict[str, np.ndarray]]:
    """Columns of a published table: numbers as floats, the rest as text."""

    def read(name: str) -> dict[str, np.ndarray]:
        with (HERE / "published" / f"{name}.csv").open(newline="") as file:
            rows = list(csv.DictReader(file))
        return {column: _column([row[column] for row in rows]) for column in rows[0]}

    return read


def _column(cells: list[str]) -> np.ndarray:
    try:
        return np.array(cells, dtype=float)
    except ValueError:
        return np.array(cells)


@pytest.fixture(scope="session")
def nist_rows() -> Callable[[str, int], np.ndarray]:
    """Data rows of a certified set from a 1-based line on."""

    def read(name: str, first_line: int) -> np.ndarray:
        lines = (HERE / "nist" / f"{name}.dat").read_text().splitlines()[first_line - 1 :]
        return np.array([[float(cell) for cell in line.split()] for line in lines if line.strip()])

    return read


@pytest.fixture(scope="session")
def nist_anova(
    nist_rows: Callable[[str, int], np.ndarray],
) -> Callable[[str], tuple[list[np.ndarray], dict[str, float]]]:
    """Groups of a certified one-way set, and its certified figures."""

    def read(name: str) -> tuple[list[np.ndarray], dict[str, float]]:
        text = (HERE / "nist" / f"{name}.dat").read_text()
        between = re.search(r"Between \w+\s+(\d+)\s+(\S+)\s+(\S+)\s+(\S+)", text)
        within = re.search(r"Within \w+\s+(\d+)\s+(\S+)\s+(\S+)", text)
        sd = re.search(r"Standard Deviation\s+(\S+)", text)
        assert None not in (between, within, sd), name
        rows = nist_rows(name, 61)
        groups = [rows[rows[:, 0] == level, 1] for level in np.unique(rows[:, 0])]
        certified = {
            "df_between": float(between[1]),
            "ss_between": float(between[2]),
            "f": float(between[4]),
            "df_within": float(within[1]),
            "ss_within": float(within[2]),
            "sd": float(sd[1]),
        }
        return groups, certified

    return read
