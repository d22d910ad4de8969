"""The dictionary hangs together, and everything generated from it says the same."""

from __future__ import annotations

import re

import pandas as pd
import pandera.pandas as pa
import pytest

from wearlab.logbook.columns import (
    ALSO,
    BARE_WORDS,
    CLOCK_NAMES,
    CLOCKS,
    COLUMNS,
    END_REASONS,
    MEASURES,
    STRATEGIES,
    ZONES,
    with_scope,
)  # fmt: skip
from wearlab.logbook.schema import log_schema
from wearlab.logbook.table import header_key

NUMBERS = [column for column in COLUMNS.values() if column.numeric]


@pytest.mark.parametrize("name", COLUMNS)
def test_every_column_explains_itself(name):
    column = COLUMNS[name]
    assert re.fullmatch(r"[a-z][a-z0-9_]*", name)
    assert column.meaning
    assert not column.meaning.endswith(".")
    assert column.allowed()
    assert header_key(name) == name
    assert (column.need == "expected") == bool(column.lost)
    if column.kind == "choice":
        assert len(set(column.choices)) == len(column.choices) > 1
        assert all(choice in column.allowed() for choice in column.choices)
    else:
        assert not column.choices
    if column.numeric:
        assert column.low is not None
        assert column.high is not None
        assert column.low < column.high


def test_a_unit_in_a_name_is_the_unit_of_the_column():
    endings = {
        "_mm": "mm",
        "_um": "um",
        "_deg": "deg",
        "_m_min": "m/min",
        "_mm_min": "mm/min",
        "_cm3": "cm3",
        "_rpm": "rev/min",
    }
    for column in NUMBERS:
        for ending, unit in endings.items():
            if column.name.endswith(ending) and not (ending == "_mm" and column.name.endswith("_mm_min")):
                assert column.unit == unit, column.name


def test_factors_of_other_units_are_exact():
    # Inch, foot: the international yard and pound agreement of 1959 (25.4 mm, 0.3048 m exactly).
    exact = {"_in": 25.4, "_in_min": 25.4, "_sfm": 0.3048, "_thou": 25.4, "_s": 1 / 60, "_in3": 2.54**3}
    for name, (standard, factor) in ALSO.items():
        assert name not in COLUMNS
        ending = max((e for e in exact if name.endswith(e)), key=len)
        expected = 0.0254 if name == "cut_length_in" else exact[ending]
        assert factor == pytest.approx(expected, rel=1e-15), (name, standard)


def test_bare_words_are_no_columns_and_name_ones_that_are():
    for word, question in BARE_WORDS.items():
        assert word not in COLUMNS
        assert word not in ALSO
        assert "?" in question
        named = [token for token in re.findall(r"[a-z_0-9]+", question) if "_" in token]
        assert named or {"measure", "value", "unit"} <= set(re.findall(r"[a-z]+", question))
        for token in named:
            assert token in COLUMNS or token in ALSO


def test_clocks_strategies_and_measures():
    assert set(CLOCK_NAMES.values()) == set(CLOCKS)
    assert all(COLUMNS[clock].family == "clock" for clock in CLOCKS)
    assert COLUMNS["strategy"].choices == STRATEGIES
    assert COLUMNS["end_reason"].choices == END_REASONS
    assert COLUMNS["zone"].choices == ZONES
    for measure in MEASURES.values():
        assert measure.meaning
        assert set(measure.needs) <= set(COLUMNS)
        assert (measure.direction == "") == (measure.name == "end")


def test_every_scope_is_filled():
    assert sum(len(with_scope(scope)) for scope in ("trial", "cutter", "condition", "run", "reading")) == len(COLUMNS)


@pytest.mark.parametrize("column", NUMBERS, ids=lambda column: column.name)
def test_the_schema_keeps_the_limits_of_the_dictionary(column):
    schema = log_schema([column.name])
    inside = (
        (column.low + column.high) // 2
        if column.low < (column.low + column.high) // 2
        else (column.low + column.high) / 2
    )
    schema.validate(pd.DataFrame({column.name: [float(inside), float(column.high), float("nan")]}))
    low_ok = [float(column.low)]
    if column.above:
        with pytest.raises(pa.errors.SchemaError, match="out_of_range"):
            schema.validate(pd.DataFrame({column.name: low_ok}))
    else:
        schema.validate(pd.DataFrame({column.name: low_ok}))
    for outside in (column.low - 1.0, column.high + 1.0):
        with pytest.raises(pa.errors.SchemaError, match="out_of_range"):
            schema.validate(pd.DataFrame({column.name: [outside]}))


def test_the_schema_carries_the_dictionary():
    schema = log_schema()
    assert list(schema.columns) == list(COLUMNS)
    for name, made in schema.columns.items():
        assert made.title == COLUMNS[name].meaning
        assert made.description == COLUMNS[name].allowed()
        assert made.metadata == {"unit": COLUMNS[name].unit, "need": COLUMNS[name].need, "scope": COLUMNS[name].scope}
        assert not made.required
    assert log_schema(["cutter"]).columns["cutter"].required
