"""The shipped logs: found by name, and equal to what was published, by plain arithmetic of our own."""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import itertools
import math
from collections import defaultdict
from pathlib import Path
from types import ModuleType

import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook.columns import COLUMNS, MEASURES
from wearlab.logbook.samples import datasets_folder, sample_facts, sample_names, sample_path

# First upward crossing of VB 0.3 mm, min, cases 1 to 16; worked out beforehand with another program.
LIVES_AT_0_3_MM = (
    29.333,
    43.8,
    59.4,
    20.455,
    6.2,
    None,
    14.2,
    6.0,
    23.636,
    23.727,
    55.8,
    40.5,
    15.333,
    10.636,
    6.667,
    4.125,
)

Rows = list[dict[str, str]]


def rows_of(name: str) -> Rows:
    with sample_path(name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def cases(rows: Rows) -> dict[str, Rows]:
    groups: dict[str, Rows] = defaultdict(list)
    for row in rows:
        groups[row["cutter"]].append(row)
    return groups


def crossing(rows: Rows, limit: float) -> float | None:
    """First upward crossing on straight lines between readings; blank readings are passed over."""
    points = [(float(row["cutting_time_min"]), float(row["value"])) for row in rows if row["value"]]
    for (t0, v0), (t1, v1) in itertools.pairwise(points):
        if v0 < limit <= v1:
            return t0 + (limit - v0) * (t1 - t0) / (v1 - v0)
    return None


def measured(rows: Rows) -> list[float]:
    return [float(row["value"]) for row in rows if row["value"]]


@pytest.fixture(scope="module")
def nasa() -> Rows:
    return rows_of("nasa_milling")


@pytest.fixture(scope="module")
def converter() -> ModuleType:
    path = Path(__file__).parents[1] / "reference" / "make_nasa_milling.py"
    spec = importlib.util.spec_from_file_location("make_nasa_milling", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("case", range(1, 17))
def test_nasa_life_at_0_3_mm(nasa: Rows, case: int) -> None:
    life = crossing(cases(nasa)[f"case{case:02d}"], 0.3)
    expected = LIVES_AT_0_3_MM[case - 1]
    if expected is None:
        assert life is None
    else:
        assert life == pytest.approx(expected, abs=0.0005)


def test_nasa_criterion_never_reached(nasa: Rows) -> None:
    never = {limit: [c for c, rows in cases(nasa).items() if crossing(rows, limit) is None] for limit in (0.3, 0.6)}
    assert never[0.3] == ["case06"]
    assert sorted(never[0.6]) == ["case01", "case02", "case03", "case04", "case06", "case07"]


def test_nasa_counts_of_the_provenance_note(nasa: Rows) -> None:
    groups = cases(nasa)
    assert len(nasa) == 167
    assert len(groups) == 16
    assert sum(row["work_group"] == "K" for row in nasa) == 109
    assert sum(row["value"] == "" for row in nasa) == 21
    assert [case for case, rows in groups.items() if len(rows) == 1] == ["case06"]
    steps = [b - a for rows in groups.values() for a, b in zip(measured(rows), measured(rows)[1:], strict=False)]
    assert sum(step < 0 for step in steps) == 2
    assert sum(step == 0 for step in steps) == 5
    assert sum(value == 0 for rows in groups.values() for value in measured(rows)) == 9
    assert sum(float(rows[0]["cutting_time_min"]) == 0 for rows in groups.values()) == 5


def test_nasa_run_numbers_are_kept_with_their_gaps(nasa: Rows) -> None:
    gaps = {}
    for case, rows in cases(nasa).items():
        runs = [int(row["reading"]) for row in rows]
        assert runs == sorted(set(runs))
        gaps[case] = sorted(set(range(1, runs[-1])) - set(runs))
    assert {case: gap for case, gap in gaps.items() if gap} == {"case03": [4, 13], "case14": [7]}


def test_nasa_time_rises_and_conditions_stay_within_a_case(nasa: Rows) -> None:
    for rows in cases(nasa).values():
        times = [float(row["cutting_time_min"]) for row in rows]
        assert all(a < b for a, b in itertools.pairwise(times))
        for column in ("feed_per_rev_mm", "axial_depth_mm", "work_material", "spindle_rpm"):
            assert len({row[column] for row in rows}) == 1


def test_nasa_note_names_the_bytes_of_the_log() -> None:
    path = sample_path("nasa_milling")
    assert hashlib.sha256(path.read_bytes()).hexdigest() in path.with_suffix(".md").read_text(encoding="utf-8")


def test_nasa_conversion_of_one_row(converter: ModuleType) -> None:
    labels = ["case,run,VB,time,DOC,feed,material,cut_no", "14,8,0.6,18,0.75,0.5,2,151", "1,2,,4,1.5,0.5,1,1"]
    rows = list(csv.DictReader(converter.convert(labels).splitlines()))
    assert rows[0] == {
        "cutter": "case14",
        "cutter_material": "carbide",
        "teeth": "6",
        "work_material": "stainless steel J45",
        "work_group": "M",
        "spindle_rpm": "826",
        "feed_per_rev_mm": "0.5",
        "axial_depth_mm": "0.75",
        "reading": "8",
        "cutting_time_min": "18",
        "measure": "VB",
        "zone": "",
        "flute": "",
        "value": "0.6",
        "unit": "mm",
    }
    assert rows[1]["cutter"] == "case01"
    assert rows[1]["value"] == ""
    assert rows[1]["work_material"] == "cast iron"


def test_nasa_conversion_gives_back_the_shipped_log(converter: ModuleType, nasa: Rows) -> None:
    codes = {"cast iron": "1", "stainless steel J45": "2"}
    labels = ["case,run,VB,time,DOC,feed,material"] + [
        ",".join(
            (
                row["cutter"].removeprefix("case"),
                row["reading"],
                row["value"],
                row["cutting_time_min"],
                row["axial_depth_mm"],
                row["feed_per_rev_mm"],
                codes[row["work_material"]],
            )
        )
        for row in nasa
    ]
    assert converter.convert(labels) == sample_path("nasa_milling").read_text(encoding="utf-8")


def test_groover_lives_and_exponent() -> None:
    # Groover, Fundamentals of Modern Manufacturing, 5th ed. (answers from memory): 20.4 and 10.0 min,
    # n = 0.614, C = 637 m/min.
    slow, fast = (crossing(rows, 0.75) for rows in cases(rows_of("groover_coated")).values())
    assert slow is not None
    assert fast is not None
    assert slow == pytest.approx(20.4167, abs=1e-4)
    assert fast == pytest.approx(10.0, abs=1e-9)
    n = math.log(155 / 100) / math.log(slow / fast)
    assert n == pytest.approx(0.614, abs=0.0005)
    assert 100 * slow**n == pytest.approx(637, abs=0.5)


@pytest.mark.parametrize(
    ("name", "n", "C"),
    [("taylor_T01", 0.22337, 229.22), ("taylor_T06", 0.22371, 68.410)],
)
def test_textbook_pairs(name: str, n: float, C: float) -> None:
    # T01: Groover, printed 0.223 and 229 (from memory).
    # T06: Sharma, example 14.7, printed 0.224 and 68.4 (seen).
    (v1, t1), (v2, t2) = ((float(r["cutting_speed_m_min"]), float(r["cutting_time_min"])) for r in rows_of(name))
    exponent = math.log(v1 / v2) / math.log(t2 / t1)
    assert exponent == pytest.approx(n, abs=5e-6)
    assert v1 * t1**exponent == pytest.approx(C, abs=5e-3)


def test_textbook_single_test() -> None:
    # Sharma example 14.1: 18 m/min for 3 h, n = 0.125; 18.02 min at 24 m/min (seen; recomputed 18.020).
    (row,) = rows_of("taylor_T05")
    life = float(row["cutting_time_min"]) * (float(row["cutting_speed_m_min"]) / 24) ** (1 / 0.125)
    assert life == pytest.approx(18.02, abs=0.005)


def test_every_sample_speaks_the_columns_of_the_log() -> None:
    for name in sample_names():
        rows = rows_of(name)
        assert rows
        assert set(rows[0]) <= set(COLUMNS)
        assert {row["measure"] for row in rows} <= set(MEASURES)


def test_every_sample_has_a_provenance_note() -> None:
    notes = "\n".join(path.read_text(encoding="utf-8") for path in datasets_folder().glob("*.md"))
    for name in sample_names():
        assert sample_facts(name)["file"] in notes
        assert sample_facts(name)["invented"] in ("yes", "no")


def test_unknown_sample_names_the_nearest() -> None:
    with pytest.raises(FileProblem, match=r"no log named 'grover_coated'.*nasa_milling.*mean groover_coated"):
        sample_path("grover_coated")
    with pytest.raises(FileProblem, match="no log named 'zzz'"):
        sample_path("zzz")


def test_ending_may_be_written() -> None:
    assert sample_path("taylor_T01.csv") == sample_path("taylor_T01")
