"""One file -> one checked Trial."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from wearlab.core.tables import natural_key
from wearlab.logbook.cells import type_cells
from wearlab.logbook.columns import CLOCKS, COLUMNS, MEASURES, with_scope
from wearlab.logbook.cutter_rules import check_cutters
from wearlab.logbook.derive import check_given_twice, derive_clocks, derive_conditions
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import Source, read_source
from wearlab.logbook.findings import number_of, sorted_findings
from wearlab.logbook.header import map_header
from wearlab.logbook.row_rules import check_rows
from wearlab.logbook.schema import check_schema
from wearlab.logbook.settings import TrialSettings, settings_beside
from wearlab.logbook.table import RawTable, split_table
from wearlab.logbook.trial import Counts, Trial

_READING = ["line", "cutter", "inspection", *CLOCKS, "measure", "zone", "zone_from_mm", "zone_to_mm", "flute", "repeat",
            "value_mm", "value", "unit", "wear_form", "instrument", "operator", "date", "note"]  # fmt: skip
_WALL = ["line", "cutter", "inspection", *CLOCKS, "measure", "side", "height_mm", "pin_mm", "pin_class",
         "pin_chamfer_mm", "part", "repeat", "value_mm", "value", "unit", "instrument", "operator", "date", "note"]  # fmt: skip


def read_log(path: str | Path, settings: TrialSettings | None = None) -> Trial:
    """Read and check one log.

    Parameters
    ----------
    path : str or pathlib.Path
        A flat CSV in the columns of the dictionary.
    settings : TrialSettings, optional
        In place of the trial file beside the log.

    Raises
    ------
    FileProblem
        The file cannot be read at all. Everything smaller is a finding of the trial.

    Examples
    --------
    >>> from wearlab.logbook.samples import sample_path
    >>> trial = read_log(sample_path("nasa_milling"))
    >>> trial.counts.rows_read, trial.counts.rows_set_aside
    (167, 0)
    """
    path = Path(path)
    source, text = read_source(path)
    settings = settings_beside(path) if settings is None else settings
    raw = split_table(text, settings.columns, str(path))
    source = Source(source.name, source.sha256, source.size, source.encoding, raw.delimiter)
    draft = _draft(source.name, raw)
    _say_how_read(draft, raw, source)
    mapped = map_header(draft, settings.columns)
    usable = not any(finding.code == "missing_column" for finding in draft.findings)
    type_cells(draft, mapped)
    if not usable:
        for line in draft.typed.index:
            draft.bad.setdefault(int(line), []).append("missing_column")
    elif len(draft.data):
        check_schema(draft)
        check_rows(draft, settings)
        check_cutters(draft)
    return _trial(path.stem, draft, raw, source, settings)


def _draft(file: str, raw: RawTable) -> Draft:
    """Cells by file line; a header word that stands twice is told apart by its number."""
    seen: dict[str, int] = {}
    header = []
    for word in raw.header:
        seen[word] = seen.get(word, 0) + 1
        header.append(word if seen[word] == 1 else f"{word}#{seen[word]}")
    typed = pd.DataFrame(raw.rows, columns=pd.Index(header, dtype=object), index=pd.Index(raw.lines, dtype=int), dtype=object)
    draft = Draft(file, header, raw.header_line, typed, pd.DataFrame(index=typed.index))
    for line, cells in raw.crowded.items():
        draft.error(line, "too_many_cells", f"{cells} cells under {number_of(len(header), 'column name')}", cutter="",
                    allowed=f"up to {number_of(len(header), 'cell')}",
                    hint="A decimal comma, or a comma in a note? Put the cell in quotes")  # fmt: skip
    for line in raw.unclosed:
        draft.error(line, "quote_never_closes", "a quote opens on this line and never closes", cutter="",
                    hint="Take the quote out, or close it; the lines after it were read as rows of their own")  # fmt: skip
    return draft


def _say_how_read(draft: Draft, raw: RawTable, source: Source) -> None:
    if source.encoding != "UTF-8":
        draft.note("encoding", f"read as {source.encoding}")
    if raw.delimiter != "comma":
        draft.note("delimiter", f"cells are divided by {raw.delimiter}")
    for kind, lines in raw.skipped_lines.items():
        draft.note("lines_skipped", f"{number_of(len(lines), kind + ' line')} skipped", lines)
    if not raw.rows:
        draft.header_error("no_rows", "a header and no row under it", allowed="one row a reading",
                           hint="Is this the right file, and was it saved?")  # fmt: skip


def _trial(name: str, draft: Draft, raw: RawTable, source: Source, settings: TrialSettings) -> Trial:
    facts = _facts(draft)
    check_given_twice(draft, facts)
    facts = derive_conditions(_facts(draft))
    rows, derived = derive_clocks(_padded(draft.good()), facts)
    for clock in derived:
        draft.note("clock_derived", f"{clock} was computed from another clock, the feed and the engagement", column=clock)
    runs, cutters, conditions = _split_facts(facts, rows)
    where = rows["measure"].map({word: measure.table for word, measure in MEASURES.items()}).fillna("responses")
    named = draft.data["trial"][draft.data["trial"] != ""].unique() if "trial" in draft.data else []
    if len(named) > 1:
        draft.warn("two_trials", f"the log names {len(named)} trials: {', '.join(map(str, named[:4]))}", column="trial",
                   hint="They were read as one; use --only trial=NAME to keep them apart")  # fmt: skip
    aside = len(draft.bad)
    return Trial(
        name=str(named[0]) if len(named) else name,
        sources=(source,),
        settings=settings,
        counts=Counts(len(draft.typed), len(draft.typed) - aside, aside, dict(raw.skipped)),
        cutters=cutters,
        conditions=conditions,
        runs=runs,
        wear=rows.loc[where == "wear", _READING].reset_index(drop=True),
        walls=rows.loc[where == "walls", _WALL].reset_index(drop=True),
        responses=rows.loc[where == "responses", _READING].reset_index(drop=True),
        findings=sorted_findings(draft.findings),
        quarantine=_quarantine(draft),
    )


def _padded(rows: pd.DataFrame) -> pd.DataFrame:
    """Every column that the tables of a trial hold, in order of cutters and of looks."""
    table = rows.assign(line=rows.index)
    for name in {*_READING, *_WALL, "end_reason"}:
        if name not in table:
            numeric = name in ("value_mm", "inspection") or (name in COLUMNS and COLUMNS[name].numeric)
            table[name] = np.nan if numeric else pd.Series("", index=table.index, dtype=object)
    order = sorted(
        range(len(table)), key=lambda i: (natural_key(table["cutter"].iloc[i]), table["inspection"].iloc[i], table["line"].iloc[i])
    )  # fmt: skip
    return table.iloc[order].astype({"inspection": int}) if len(table) else table


def _facts(draft: Draft) -> pd.DataFrame:
    """One row a cutter: its usual value of everything that does not belong to a single reading."""
    rows = draft.good()
    names = [column.name for column in with_scope("cutter", "run", "condition") if column.name in rows.columns]
    if "cutter" not in names:
        return pd.DataFrame({"cutter": pd.Series(dtype=object)})
    table = []
    for cutter in sorted(rows["cutter"].unique(), key=natural_key):
        own = rows[rows["cutter"] == cutter]
        table.append({"cutter": cutter} | {name: _usual(own[name]) for name in names if name != "cutter"})
    return pd.DataFrame(table, columns=names)


def _usual(cells: pd.Series) -> object:
    filled = cells[cells.notna() & (cells != "")]
    if filled.empty:
        return np.nan if cells.dtype.kind == "f" else ""
    first = filled.iloc[0]
    return first if filled.nunique() == 1 else filled.mode().iloc[0]


def _split_facts(facts: pd.DataFrame, rows: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Facts of cutters -> runs, cutters, conditions."""
    of_condition = [c.name for c in with_scope("condition") if c.name in facts] + ["removal_rate_cm3_min"]
    of_run = [c.name for c in with_scope("run") if c.name in facts]
    of_cutter = [c.name for c in with_scope("cutter") if c.name in facts]
    conditions = facts[of_condition].drop_duplicates().reset_index(drop=True)
    conditions.insert(0, "condition", [f"C{i + 1}" for i in range(len(conditions))])
    keyed = facts.merge(conditions, on=of_condition, how="left") if len(facts) else facts.assign(condition="")
    runs = keyed[["cutter", "condition", *of_run]].copy()
    last = rows.groupby("cutter")[list(CLOCKS)].max()
    ends = rows[rows["end_reason"] != ""].groupby("cutter")["end_reason"].first()
    reason = ends.to_dict()
    runs["end_reason"] = pd.Series([reason.get(cutter, "") for cutter in runs["cutter"]], index=runs.index, dtype=object)
    looks = rows[rows["measure"] != "end"].groupby("cutter")["inspection"].nunique()
    runs["readings"] = [int(looks.get(cutter, 0)) for cutter in runs["cutter"]]
    for clock in CLOCKS:
        runs[clock] = runs["cutter"].map(last[clock]).astype(float)
    return runs.reset_index(drop=True), facts[of_cutter].reset_index(drop=True), conditions


def _quarantine(draft: Draft) -> pd.DataFrame:
    """Rows set aside, as typed, so that they can be corrected and read back."""
    lines = sorted(draft.bad)
    table = draft.typed.loc[lines].copy()
    table.insert(0, "line", lines)
    table["why"] = ["; ".join(dict.fromkeys(draft.bad[line])) for line in lines]
    return table.reset_index(drop=True)
