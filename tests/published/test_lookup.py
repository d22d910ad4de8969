"""Published rows: complete, sourced, and found by what the log says of a cutter."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
from importlib.resources import files

import pytest

from wearlab.core.errors import ArgumentError
from wearlab.core.interval import Interval
from wearlab.published.lookup import compare_with_published, exponents_for, published, topics


def ids(rows: list) -> list[str]:
    return [row.id for row in rows]


def test_every_row_has_a_source_and_says_how_it_is_known() -> None:
    rows = published()
    assert len({row.id for row in rows}) == len(rows)
    for row in rows:
        assert row.source
        assert row.how_known in ("seen", "from memory", "computed", "derived")
        assert row.confidence in ("high", "medium", "low")
        assert row.note or row.limits is not None


def test_figures_are_a_range_or_a_single_value_in_order() -> None:
    for row in published():
        assert (row.low is None) == (row.high is None)
        if row.low is not None and row.high is not None:
            assert row.low < row.high
            assert row.value is None or row.low < row.value < row.high


def test_table_file_has_no_stray_cells() -> None:
    text = files("wearlab.published").joinpath("rows.csv").read_text(encoding="utf-8")
    lengths = {len(cells) for cells in csv.reader(text.splitlines())}
    assert lengths == {15}


# Kalpakjian & Schmid table of ranges of n; Groover table 23.2; examination texts (T12 to T17, T20).
@pytest.mark.parametrize(
    ("material", "coating", "figures"),
    [
        ("HSS", None, {(0.08, 0.20), 0.125, (0.08, 0.15)}),
        ("PM-HSS", "TiN", {(0.08, 0.20), 0.125, (0.08, 0.15)}),
        ("carbide", "none", {(0.2, 0.5), 0.25, (0.20, 0.25)}),
        ("carbide", "AlCrN", {(0.4, 0.6), 0.25}),
        ("carbide", "other", {(0.4, 0.6), 0.25}),
        ("carbide", None, {(0.2, 0.5), 0.25, (0.20, 0.25), (0.4, 0.6)}),
        ("ceramic", None, {(0.5, 0.7), 0.6, (0.40, 0.55)}),
        ("cermet", None, {0.25}),
        ("CBN", None, set()),
        ("PCD", "none", set()),
        ("bronze", None, set()),
    ],
)
def test_exponents_of_a_cutter(material: str, coating: str | None, figures: set) -> None:
    found = {
        row.value if row.low is None else (row.low, row.high) for row in exponents_for(material, coating)
    }
    assert found == figures


def test_blank_coating_is_not_the_same_as_none() -> None:
    assert ids(exponents_for("carbide", "")) == ids(exponents_for("carbide"))
    assert ids(exponents_for("carbide", "")) != ids(exponents_for("carbide", "none"))


def test_constants_of_groover_table() -> None:
    # Groover, Fundamentals of Modern Manufacturing, table 23.2 (from memory): C in m/min.
    found = {(row.cutter_material, row.work_material == "steel"): row.value for row in published("constant")}
    assert found == {
        ("plain carbon tool steel", False): 70, ("plain carbon tool steel", True): 20,
        ("HSS", False): 120, ("HSS", True): 70,
        ("uncoated carbide", False): 900, ("uncoated carbide", True): 500,
        ("cermet", True): 600, ("coated carbide", True): 700, ("ceramic", True): 3000,
    }  # fmt: skip
    assert {row.unit for row in published("constant")} == {"m/min"}


def test_criteria_of_the_standards() -> None:
    milling = {row.quantity: row.value for row in published("criterion", operation="end milling")}
    assert milling == {"VB.mean": 0.3, "VB.worst": 0.5}
    turning = {
        row.quantity: row.value for row in published("criterion", operation="turning") if "VB" in row.quantity
    }
    assert turning == {"VB.mean": 0.3, "VB.worst": 0.6}


@pytest.mark.parametrize(("row", "feed"), [("S08a", 0.25), ("S08b", 0.40), ("S08c", 0.63)])
def test_crater_limits_follow_their_rule(row: str, feed: float) -> None:
    # ISO 3685: KT = 0.06 + 0.3 f, from memory; three printed decimals.
    assert published(id=row)[0].value == pytest.approx(0.06 + 0.3 * feed, abs=5.1e-4)


def test_recession_example_comes_out() -> None:
    # A land of 0.020 in at a clearance of 5 deg: diameter changes by 2 VB tan(clearance) = 0.0035 in.
    (row,) = published("geometry")
    low, high = row.limits
    assert low < 2 * 0.020 * math.tan(math.radians(5)) < high


def test_scatter_rows() -> None:
    (hss,) = published(id="T22")
    assert (hss.low, hss.value, hss.high) == (0.2, 0.3, 0.4)
    (handbook,) = published(id="H31a")
    assert handbook.limits == (0.25, 0.45)
    assert handbook.place == "p. 139"


def test_milling_exponents() -> None:
    rows = {row.quantity.split()[2]: row for row in published("milling exponent")}
    assert {name: row.value for name, row in rows.items()} == {"cutting": -4, "radial": -1}
    (n,) = published(id="E07a")
    assert n.value == -1 / rows["cutting"].value


def test_compare_positions_at_the_limits() -> None:
    rows = published(id="T15a")
    assert [compare_with_published(x, rows)[0].position for x in (0.39, 0.4, 0.5, 0.6, 0.61)] == [
        "below", "inside", "inside", "inside", "above",
    ]  # fmt: skip


def test_single_figure_allows_its_last_digit() -> None:
    rows = published(id="T14b")
    assert [compare_with_published(x, rows)[0].position for x in (0.2449, 0.245, 0.255, 0.2551)] == [
        "below", "inside", "inside", "above",
    ]  # fmt: skip
    assert published(id="T19d")[0].limits == (119.5, 120.5)


def test_tables_that_disagree_are_both_named() -> None:
    found = compare_with_published(0.5, exponents_for("carbide", "TiN"))
    assert {(c.row.id, c.position) for c in found} == {
        ("T15a", "inside"),
        ("T15b", "above"),
        ("E07a", "above"),
    }


def test_interval_may_reach_where_the_estimate_does_not() -> None:
    (row,) = published(id="T15a")
    wide = Interval(0.2, math.inf, 0.95, "t")
    narrow = Interval(0.2, 0.3, 0.95, "t")
    assert compare_with_published(0.25, [row], wide)[0].interval_reaches is True
    assert compare_with_published(0.25, [row], narrow)[0].interval_reaches is False
    assert compare_with_published(0.25, [row])[0].interval_reaches is None


def test_rows_without_a_figure_are_passed_over() -> None:
    assert compare_with_published(1.0, published("definition")) == []


def test_to_dict_is_json() -> None:
    (found,) = compare_with_published(0.3, published(id="T12a"))
    facts = json.loads(json.dumps(found.to_dict()))
    assert facts["low"] == 0.08
    assert facts["value"] is None
    assert facts["compared"] == 0.3
    assert facts["position"] == "above"
    assert facts["how_known"] == "from memory"


def test_unknown_topic_and_missing_figure() -> None:
    with pytest.raises(ArgumentError, match=r"topic 'exponents'; allowed: exponent, .*Did you mean exponent"):
        published("exponents")
    with pytest.raises(ArgumentError, match="missing figure"):
        compare_with_published(math.nan, published(id="T12a"))


def test_topics_are_those_of_the_rows() -> None:
    assert set(topics()) == {
        "exponent", "constant", "criterion", "scatter", "milling exponent", "definition", "scope", "geometry",
        "test plan",
    }  # fmt: skip


def test_lookup_needs_no_pandas() -> None:
    code = "import sys, wearlab.published.lookup as p; p.published(); assert 'pandas' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
