"""Trials for the tests of every room: the samples, and logs written row by row."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.trial import Trial


@pytest.fixture(scope="session")
def sample() -> Callable[[str], Trial]:
    """A sample log by its name, read once in the whole session."""
    read: dict[str, Trial] = {}

    def get(name: str) -> Trial:
        if name not in read:
            read[name] = read_log(sample_path(name))
        return read[name]

    return get


@pytest.fixture
def trial_of(tmp_path: Path) -> Callable[..., Trial]:
    """A trial from rows of a log, read and checked as a shop's file would be.

    `toml` is the text of the trial file beside it; `aside` is how many rows are set aside, none unless it says so.
    """

    def make(rows: Iterable[Mapping[str, Any]], toml: str = "", aside: int = 0) -> Trial:
        rows = list(rows)
        names = list(dict.fromkeys(name for row in rows for name in row))
        text = io.StringIO()
        writer = csv.DictWriter(text, names, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        path = tmp_path / "log.csv"
        path.write_text(text.getvalue(), encoding="utf-8")
        if toml:
            path.with_suffix(".toml").write_text(toml, encoding="utf-8")
        trial = read_log(path)
        assert trial.counts.rows_set_aside == aside, [f for f in trial.findings if f.severity == "error"]
        return trial

    return make


@pytest.fixture(scope="session")
def reference_case() -> Callable[[str], dict[str, Any]]:
    """A case of the stored figures of other programs (R, scipy, statsmodels, lifelines), by its id."""
    path = Path(__file__).parent / "reference" / "reference_cases.json"
    cases = {row["id"]: row for row in json.loads(path.read_text(encoding="utf-8"))["cases"]}
    return cases.__getitem__
