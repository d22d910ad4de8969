"""Whatever stands in the cells: a Trial with findings or a clear refusal, and no row is lost."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wearlab.core.errors import WearlabError
from wearlab.logbook.columns import ALSO, BARE_WORDS, CLOCKS, COLUMNS, MEASURES
from wearlab.logbook.read import read_log
from wearlab.logbook.trial import Trial
from wearlab.logbook.write import log_csv

PLAIN = st.sampled_from(
    [
        "",
        "0",
        "1",
        "2",
        "3",
        "4",
        "0.1",
        "0.25",
        "-1",
        "12",
        "1e3",
        "1e400",
        "nan",
        "inf",
        "1,5",
        "1,250",
        "4-Jan",
        "1/4",
        "mm",
        "um",
        "thou",
        "in",
        "VB",
        "VBmax",
        "vb",
        "end",
        "wall",
        "width",
        "hang_up",
        "E1",
        "E2",
        "e-01",
        "007",
        "mean",
        "worst",
        "left",
        "worn",
        "broken",
        "carbide",
        "2026-03-14",
        "04/05/2026",
        "=1+1",
        "@x",
        "-",
        "#3",
        "total",
        "µm",
        "layered",
        "True",
        "NULL",
        "0x10",
        "1_000",
        "٣",
        "½",
        "1.234,5",
        "46026",
        "'=x",
        "1E+05",
    ]
)
CELLS = st.one_of(PLAIN, PLAIN, PLAIN, st.text(max_size=12))
WORDS = st.sampled_from([*COLUMNS, *ALSO, *BARE_WORDS, "colour", "diametre_mm"])
CORE = ["cutter", "reading", "cutting_time_min", "measure", "zone", "flute", "value", "unit"]


@st.composite
def tables(draw: st.DrawFn) -> str:
    header = CORE + draw(st.lists(WORDS, max_size=6, unique=True).map(lambda w: [x for x in w if x not in CORE]))
    cells = st.lists(CELLS, min_size=len(header), max_size=len(header))
    rows = draw(st.lists(cells, max_size=12))
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([header, *rows])
    return out.getvalue()


likely = st.fixed_dictionaries(
    {
        "cutter": st.sampled_from(["E1", "E2", "E3"]),
        "reading": st.sampled_from(["0", "1", "2", "3", "4", ""]),
        "cutting_time_min": st.sampled_from(["0", "5", "10", "15", "20", ""]),
        "parts": st.sampled_from(["", "3", "4.5", "9"]),
        "measure": st.sampled_from([*MEASURES]),
        "zone": st.sampled_from(["", "lower", "corner"]),
        "flute": st.sampled_from(["", "1", "2", "3", "mean"]),
        "value": st.sampled_from(["", "0", "0.1", "0.2", "-0.1", "3"]),
        "unit": st.sampled_from(["mm", "um", ""]),
        "height_mm": st.sampled_from(["", "2"]),
        "side": st.sampled_from(["", "left"]),
        "pin_mm": st.sampled_from(["", "6"]),
        "teeth": st.sampled_from(["2", "2", "3"]),
        "end_reason": st.sampled_from(["", "", "worn", "broken"]),
    }
)


def assert_message(text: str) -> None:
    assert len(text) > 10


def readable(path: Path) -> None:
    """The rules of every log: nothing lost, findings well formed."""
    try:
        trial = read_log(path)
    except WearlabError as error:
        problem = str(error)
        assert_message(problem)
        return
    counts = trial.counts
    assert counts.rows_read == counts.rows_used + counts.rows_set_aside
    assert len(trial.quarantine) == counts.rows_set_aside
    used = len(trial.wear) + len(trial.walls) + len(trial.responses)
    assert used <= counts.rows_used
    blamed = {line for finding in trial.findings if finding.severity == "error" for line in finding.lines}
    assert set(trial.quarantine["line"]) <= blamed or any(f.code == "missing_column" for f in trial.findings)
    for finding in trial.findings:
        assert finding.text()
        assert finding.file == path.name
    assert list(trial.runs["cutter"]) == list(trial.cutters["cutter"])
    assert set(trial.clocks()) <= set(CLOCKS)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(text=tables())
def test_any_cells_under_the_right_columns(tmp_path: Path, text: str) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8", newline="")
    readable(path)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(rows=st.lists(likely, min_size=1, max_size=14))
def test_likely_cells(tmp_path: Path, rows: list[dict[str, str]]) -> None:
    path = tmp_path / "log.csv"
    lines = [",".join(rows[0])] + [",".join(row.values()) for row in rows]
    path.write_text("\n".join(lines), encoding="utf-8")
    readable(path)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=400))
def test_any_bytes(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(data)
    readable(path)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.permutations(range(16)))
def test_rows_with_reading_numbers_may_stand_in_any_order(tmp_path: Path, log, order: list[int]) -> None:
    rows = log.spoil(5, value="").spoil(12, value="x").rows
    tables = []
    for name, sequence in (("a.csv", range(16)), ("b.csv", order)):
        path = tmp_path / name
        path.write_text(type(log)([rows[i] for i in sequence]).text(), encoding="utf-8")
        trial = read_log(path)
        keys = ["cutter", "inspection", "zone", "flute"]
        tables.append(
            (trial.wear.drop(columns="line").sort_values(keys).reset_index(drop=True), trial.runs, trial.conditions)
        )
    for one, other in zip(*tables, strict=True):
        assert one.equals(other)


@pytest.mark.parametrize("column", ["reading", "value", "cutter", "teeth", "date"])
def test_one_long_column_of_blanks(column: str, log, read) -> None:
    trial = read(log.everywhere(**{column: ""}))
    assert trial.counts.rows_read == 16


KEPT = ("cutters", "conditions", "runs", "wear", "walls", "responses")


def tables_of(trial: Trial) -> dict[str, pd.DataFrame]:
    """The tables of a trial without where its rows stand in the file, in an order that does not hang on it."""
    tables = {}
    for name in KEPT:
        table = getattr(trial, name).drop(columns=["line", "file"], errors="ignore")
        tables[name] = table.sort_values([str(word) for word in table.columns], ignore_index=True)
    return tables


def same(one: dict[str, pd.DataFrame], other: dict[str, pd.DataFrame]) -> None:
    for name in KEPT:
        pd.testing.assert_frame_equal(one[name], other[name], check_exact=True, obj=name)


def write(path: Path, rows: list[dict[str, str]]) -> Path:
    lines = [",".join(rows[0]), *(",".join(row[name] for name in rows[0]) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(rows=st.lists(likely, min_size=1, max_size=14))
def test_written_and_read_again_it_is_the_same_trial(tmp_path: Path, rows: list[dict[str, str]]) -> None:
    trial = read_log(write(tmp_path / "log.csv", rows))
    if not trial.counts.rows_used:
        return
    path = tmp_path / "again.csv"
    path.write_text(log_csv(trial), encoding="utf-8", newline="")
    again = read_log(path)
    same(tables_of(trial), tables_of(again))
    assert again.counts.rows_set_aside == 0
    path.write_text(log_csv(again), encoding="utf-8", newline="")
    assert log_csv(read_log(path)) == log_csv(again)


numbered = likely.map(lambda row: row | {"reading": row["reading"] or "5"})


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(rows=st.lists(numbered, min_size=2, max_size=14), dice=st.randoms(use_true_random=False))
def test_shuffled_rows_are_the_same_trial(tmp_path: Path, rows: list[dict[str, str]], dice: random.Random) -> None:
    shuffled = dice.sample(rows, len(rows))
    one, other = (read_log(write(tmp_path / "log.csv", order)) for order in (rows, shuffled))
    same(tables_of(one), tables_of(other))
    assert one.counts == other.counts
    told = [sorted((f.severity, f.code, f.cutter, f.column, f.rows) for f in trial.findings) for trial in (one, other)]
    assert told[0] == told[1]
