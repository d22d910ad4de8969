"""Reader of the small CSV files of material and gauge values that stand beside the code, each row with its
source.
"""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path


@lru_cache(maxsize=8)
def table_rows(file: str) -> tuple[dict[str, str], ...]:
    """Rows of a CSV file of this room, read when first asked for.

    >>> table_rows("pin_classes.csv")[0]["class"]
    'XXX'
    """
    with Path(__file__).with_name(file).open(encoding="utf-8", newline="") as stream:
        return tuple(csv.DictReader(stream))
