"""The rules of a log once more, as plain pandera schemas: to read, to extend, and to hold the fast engine against.

`row_schema` looks at cells and rows, each alone; `cutter_rules` look, one after the other, at what the rules before
have left, cutter by cutter. What a rule makes of missing cells stands in its description: a blank number is NaN and
breaks no limit, a blank text is empty and is no word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from wearlab.core.units import TO_MM
from wearlab.logbook.cells import BLANK_WORDS
from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES, with_scope
from wearlab.logbook.row_rules import IDENTITY, WIDEST_LAND_MM
from wearlab.logbook.schema import log_schema

if TYPE_CHECKING:
    import pandera.pandas as pa

NO_NUMBER = "__no_number"
"""Ending of the companion columns that say where a cell of numbers holds something else."""


def plain_frame(path: str | Path) -> pd.DataFrame:
    """A flat CSV with standard header words and units, typed: numbers as float, text as it stands, rows by file line.

    For each column of numbers that holds anything else there is a companion column that says in which rows.
    """
    numbers = [name for name in pd.read_csv(path, nrows=0).columns if name in COLUMNS and COLUMNS[name].numeric]
    blank = sorted({form for word in BLANK_WORDS for form in (word, word.upper(), word.capitalize(), "NaN")})
    frame = pd.read_csv(path, keep_default_na=False, na_values=dict.fromkeys(numbers, blank), low_memory=False)
    frame.index = pd.RangeIndex(2, len(frame) + 2)
    for name in frame.columns:
        if name not in numbers:
            texts = frame[name].astype(str)
            frame[name] = texts.where(~texts.str.lower().isin(BLANK_WORDS), "").astype(object)
        elif frame[name].dtype.kind not in "if":
            typed = pd.to_numeric(frame[name], errors="coerce")
            frame[f"{name}{NO_NUMBER}"] = frame[name].notna() & typed.isna()
            frame[name] = typed
    frame = frame.astype(dict.fromkeys(numbers, float))
    return frame[~_not_filled_in(path)]


def _not_filled_in(path: str | Path) -> np.ndarray:
    """Printed rows that nobody has filled in: a measure and no clock, no value, no end, not even NA."""
    asked = ["measure", *CLOCKS, "value", "end_reason"]
    typed = pd.read_csv(path, usecols=lambda name: name in asked, dtype=str, keep_default_na=False)
    empty = {name: (typed[name].str.strip() == "").to_numpy(dtype=bool) for name in typed.columns}
    measured = ~empty.pop("measure")
    return np.asarray(np.logical_and.reduce([measured, *empty.values()]))


# ------------------------------------------------------------------ cells and rows


def row_schema(names: Sequence[str]) -> pa.DataFrameSchema:
    """Rules of cells and rows, for a typed log with these columns.

    Examples
    --------
    >>> schema = row_schema(["cutter", "measure", "value", "unit", "parts"])
    >>> [check.error for check in schema.checks][:4]
    ['no_clock', 'unit_missing', 'unknown_unit', 'negative_wear']
    """
    import pandera.pandas as pa

    schema = log_schema([name for name in names if name in COLUMNS])
    more = {name: pa.Column(checks=checks, required=False) for name, checks in _word_checks(pa, names).items()}
    for name, column in more.items():
        schema.columns[name].checks = [*schema.columns[name].checks, *column.checks]
    companions = {name: pa.Column(bool, pa.Check(lambda told: ~told, error="not_a_number")) for name in names
                  if name.endswith(NO_NUMBER)}  # fmt: skip
    return pa.DataFrameSchema(
        {**schema.columns, **companions},
        checks=[pa.Check(test, error=code, description=words) for code, words, test in _row_rules(names)],
        name="rows of a log",
        strict=False,
    )


def _word_checks(pa: Any, names: Sequence[str]) -> dict[str, list[Any]]:
    """Closed choices, measures and flutes; a blank cell is no word and breaks none of them."""
    checks: dict[str, list[Any]] = {}
    for name in names:
        column = COLUMNS.get(name)
        if column is not None and column.choices and not column.open_choice:
            checks[name] = [pa.Check.isin([*column.choices, ""], error="unknown_word")]
    checks["measure"] = [pa.Check.isin([*MEASURES, ""], error="unknown_measure")]
    if "flute" in names:
        checks["flute"] = [pa.Check.str_matches(r"^(|mean|worst|[1-9][0-9]?)$", error="unknown_flute")]
    return checks


Rule = tuple[str, str, Callable[[pd.DataFrame], pd.Series]]
"""Code, what it makes of missing cells, and whether a row keeps the rule."""


def _row_rules(names: Sequence[str]) -> list[Rule]:
    clocks = [name for name in CLOCKS if name in names]
    too_wide = "as negative_wear; a value beyond the limits of its column is blamed for that alone"
    asked = "asked where a value stands and the measure is known and not end"
    rules: list[Rule] = [
        ("no_clock", "all clocks blank breaks it", lambda rows: rows[clocks].notna().any(axis=1)),
        ("unit_missing", asked, lambda rows: ~(_measured(rows) & (rows["unit"] == ""))),
        ("unknown_unit", f"{asked}; a blank unit is not unknown", _unit_known),
        ("negative_wear", "a blank value, measure or unit keeps it", lambda rows: ~_negative(rows, "wear")),
        ("negative_wall", "as negative_wear", lambda rows: ~_negative(rows, "walls")),
        ("land_too_wide", too_wide, _land_fits),
    ]
    if "flute" in names and "teeth" in names:
        rules.append(("flute_beyond_teeth", "a flute that is no number, or blank teeth, keeps it", _flute_fits))
    return [*rules, *(_need(measure.name, need) for measure in MEASURES.values() for need in measure.needs)]


def _need(measure: str, need: str) -> Rule:
    def kept(rows: pd.DataFrame) -> pd.Series:
        return ~((rows["measure"] == measure) & _blank(rows, need))

    return "fact_missing", f"a blank {need} in a row with measure {measure} breaks it", kept


def _unit_known(rows: pd.DataFrame) -> pd.Series:
    return ~(_measured(rows) & (rows["unit"] != "") & ~rows["unit"].isin(list(TO_MM)))


def _measured(rows: pd.DataFrame) -> pd.Series:
    return rows["value"].notna() & rows["measure"].isin(set(MEASURES) - {"end"})


def _blank(rows: pd.DataFrame, name: str) -> pd.Series:
    if name not in rows:
        return pd.Series(True, index=rows.index)
    return rows[name].isna() | (rows[name] == "")


def _value_mm(rows: pd.DataFrame) -> pd.Series:
    return rows["value"] * rows["unit"].map(TO_MM)


def _negative(rows: pd.DataFrame, table: str) -> pd.Series:
    words = [name for name, measure in MEASURES.items() if measure.table == table and measure.low is not None]
    return rows["measure"].isin(words) & (_value_mm(rows) < 0.0)


def _land_fits(rows: pd.DataFrame) -> pd.Series:
    inside = rows["value"] <= COLUMNS["value"].high
    return ~(rows["measure"].isin(["VB", "VBmax"]) & inside & (_value_mm(rows) > WIDEST_LAND_MM))


def _flute_fits(rows: pd.DataFrame) -> pd.Series:
    number = pd.to_numeric(rows["flute"].where(rows["flute"].str.fullmatch(r"[1-9][0-9]?")), errors="coerce")
    return ~(number > rows["teeth"])


# ------------------------------------------------------------------ cutters


def cutter_schema(code: str, test: Callable[[pd.DataFrame], pd.Series]) -> pa.DataFrameSchema:
    """One rule that needs all rows of a cutter, as a schema of its own: the next one sees only what this one leaves."""
    import pandera.pandas as pa

    return pa.DataFrameSchema(checks=pa.Check(test, error=code), strict=False)


def cutter_rules(names: Sequence[str]) -> list[tuple[str, Callable[[pd.DataFrame], pd.Series]]]:
    """Rules of a cutter in their order; each is applied to the rows that all before it have left.

    A reading without a clock is passed over by the rules of that clock; all rows need a reading number here.
    """
    rules: list[tuple[str, Callable[[pd.DataFrame], pd.Series]]] = [
        ("duplicate_reading", lambda rows: ~(_same_value(rows) & rows.duplicated(_identity(rows)))),
        ("conflicting_readings", lambda rows: ~(_twice(rows) & ~_same_value(rows))),
    ]
    for clock in (name for name in CLOCKS if name in names):
        rules += [
            _clock_rule("clock_differs_within_reading", _agrees, clock),
            _clock_rule("time_goes_back", _rises, clock),
        ]
    if "end_reason" in names:
        rules.append(("two_end_reasons", _one_end))
    return rules


def _clock_rule(
    code: str, test: Callable[[pd.DataFrame, str], pd.Series], clock: str
) -> tuple[str, Callable[[pd.DataFrame], pd.Series]]:
    return code, lambda rows: test(rows, clock)


def _identity(rows: pd.DataFrame) -> list[str]:
    return [name for name in IDENTITY if name in rows]


def _twice(rows: pd.DataFrame) -> pd.Series:
    readings = rows[rows["measure"] != "end"]
    return readings.duplicated(_identity(rows), keep=False).reindex(rows.index, fill_value=False)


def _same_value(rows: pd.DataFrame) -> pd.Series:
    """Rows that stand twice, with the same value or all of them blank."""
    twice = rows[_twice(rows)]
    value = _value_mm(twice)
    keys = [twice[name] for name in _identity(rows)]
    blank = value.isna().groupby(keys, dropna=False)
    same = value.groupby(keys, dropna=False).transform("nunique").eq(1) & ~blank.transform("any")
    return (same | blank.transform("all")).reindex(rows.index, fill_value=False)


def _usual(rows: pd.DataFrame, keys: list[str], name: str) -> pd.Series:
    """The value that most rows of each group have; the least of several that are alike."""
    groups = rows.groupby(keys)[name]
    usual = groups.transform("first")
    odd = groups.transform("nunique") > 1
    if odd.any():
        usual[odd] = rows[odd].groupby(keys)[name].transform(lambda cells: cells.mode().iloc[0])
    return usual


def _agrees(rows: pd.DataFrame, clock: str) -> pd.Series:
    """Rows that state the clock that most rows of their look state."""
    known = rows[rows[clock].notna()]
    return (_usual(known, ["cutter", "reading"], clock) == known[clock]).reindex(rows.index, fill_value=True)


def _rises(rows: pd.DataFrame, clock: str) -> pd.Series:
    """Looks of a longest run that never falls; of several alike the one whose last clock is least."""
    kept = pd.Series(True, index=rows.index)
    looks = rows[rows[clock].notna()].groupby(["cutter", "reading"])[clock].first()
    back = looks.groupby(level="cutter").diff() < 0
    for cutter in back[back].index.get_level_values("cutter").unique():
        own = looks.loc[cutter]
        fine = own.index[_longest(own.to_numpy())]
        kept[(rows["cutter"] == cutter) & rows[clock].notna() & ~rows["reading"].isin(fine)] = False
    return kept


def _longest(values: np.ndarray) -> list[int]:
    """Positions of a longest run that never falls, by the plain recursion."""
    best: list[list[int]] = []
    for i in range(len(values)):
        best.append([*_better([run for j, run in enumerate(best) if values[j] <= values[i]], values), i])
    return _better(best, values)


def _better(runs: list[list[int]], values: np.ndarray) -> list[int]:
    """The longest run; of several the one that ends lowest, and of those the one that ends last."""
    return min(runs, key=lambda run: (-len(run), values[run[-1]], -run[-1]), default=[])


def _one_end(rows: pd.DataFrame) -> pd.Series:
    filled = rows[rows["end_reason"] != ""]
    different = filled.groupby("cutter")["end_reason"].transform("nunique")
    return (different <= 1).reindex(rows.index, fill_value=True)


def constants(rows: pd.DataFrame) -> dict[str, pd.Series]:
    """For each column of a cutter, its run or its condition: rows that hold another value than most of the cutter's."""
    odd = {}
    for column in with_scope("cutter", "run", "condition"):
        if column.name == "cutter" or column.name not in rows:
            continue
        filled = rows[column.name].notna() & (rows[column.name] != "")
        known = rows[filled]
        odd[column.name] = (_usual(known, ["cutter"], column.name) != known[column.name]).reindex(
            rows.index, fill_value=False
        )
    return odd


# ------------------------------------------------------------------ applying them


def plain_failures(frame: pd.DataFrame) -> set[tuple[int, str]]:
    """All failures of a typed log, by file line and rule.

    Parameters
    ----------
    frame : pandas.DataFrame
        As `plain_frame` gives it.
    """
    failures = _failures(row_schema(list(frame.columns)), frame)
    rows = frame.drop(index=list({line for line, _ in failures}))
    for code, test in cutter_rules(list(frame.columns)):
        found = _failures(cutter_schema(code, test), rows)
        failures |= found
        rows = rows.drop(index=list({line for line, _ in found}))
    return failures


def _failures(schema: pa.DataFrameSchema, frame: pd.DataFrame) -> set[tuple[int, str]]:
    import pandera.pandas as pa

    try:
        schema.validate(frame, lazy=True)
    except pa.errors.SchemaErrors as errors:
        cases = errors.failure_cases[["index", "check"]].drop_duplicates()
        return {(int(line), str(code)) for line, code in cases.itertuples(index=False, name=None)}
    return set()
