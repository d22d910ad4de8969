"""Readers of the stored figures of other programs, shared by the tests of this room."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="session")
def stored() -> Callable[[str], dict[str, np.ndarray]]:
    """Columns of a stored table: numbers as floats, the rest as text."""

    def read(name: str) -> dict[str, np.ndarray]:
        with (REFERENCE / f"{name}.csv").open(newline="") as file:
            rows = list(csv.DictReader(file))
        columns = {}
        for column in rows[0]:
            cells = [row[column] for row in rows]
            try:
                columns[column] = np.array(cells, dtype=float)
            except ValueError:
                columns[column] = np.array(cells)
        return columns

    return read
