"""Dirty logs through all three ways: the same cells as typed give the same Trial, and the same findings at the cell."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_path
from wearlab.logbook.trial import Trial

Rows = list[dict[str, str]]
FACTS = ("cutter_material", "diameter_mm", "teeth", "work_material", "strategy", "cutting_speed_m_min",
         "feed_per_tooth_mm", "axial_depth_mm", "radial_width_mm", "spindle_rpm", "work_group",
         "feed_per_rev_mm")  # fmt: skip
LINE = ("reading", "cutting_time_min", "date", "note", "wear_form")

# What is done to the clean rows (E1 and E2, four looks, two flutes). Every row of a look or of a cutter is changed
# where a bench sheet has one cell for all of them.
DIRTY: dict[str, Callable[[Rows], None]] = {
    "clean": lambda rows: None,
    "text": lambda rows: rows[2].update(value="worn"),
    "formula": lambda rows: rows[2].update(value="=0.1+0.2"),
    "negative": lambda rows: rows[2].update(value="-0.1"),
    "um in a column of mm": lambda rows: rows[2].update(value="114"),
    "ten-fold": lambda rows: rows[4].update(value="1.64"),
    "blank value": lambda rows: rows[2].update(value=""),
    "blank words": lambda rows: rows[2].update(value="n/a"),
    "a fraction": lambda rows: _of_cutter(rows, "E1", axial_depth_mm="1/4"),
    "a fraction made a date": lambda rows: _of_cutter(rows, "E1", axial_depth_mm="4-Jan"),
    "a serial number of a date": lambda rows: _of_cutter(rows, "E1", axial_depth_mm="46026"),
    "a word of no list": lambda rows: _of_cutter(rows, "E1", strategy="slotting"),
    "revolutions as speed": lambda rows: _of_cutter(rows, "E2", cutting_speed_m_min="1857", spindle_rpm="1857"),
    "width beyond the cutter": lambda rows: _of_cutter(rows, "E2", radial_width_mm="20"),
    "time goes back": lambda rows: _of_look(rows, "E1", 3, cutting_time_min="2"),
    "no clock": lambda rows: _of_look(rows, "E1", 3, cutting_time_min=""),
    "half a reading": lambda rows: _of_look(rows, "E1", 3, reading="2.5"),
    "a date that is none": lambda rows: _of_look(rows, "E1", 3, date="04/05/2026"),
    "a misspelt form": lambda rows: _of_look(rows, "E1", 3, wear_form="chiping"),
    "each pass": lambda rows: _of_cutter(rows, "E1", cutting_time_min="5"),
    "near names": lambda rows: _rename(rows, "E2", "e-01"),
    "a name made a number": lambda rows: _rename(rows, "E2", "1.00E+05"),
    "wear falls": lambda rows: rows[6].update(value="0.1"),
    "a note that is a formula": lambda rows: _of_look(rows, "E1", 2, note="=1+1"),
}  # fmt: skip

SILENT = ("clean", "a note that is a formula")
"""What a log may hold without a word."""


def _of_cutter(rows: Rows, own: str, /, **cells: str) -> None:
    for row in rows:
        if row["cutter"] == own:
            row.update(cells)


def _of_look(rows: Rows, cutter: str, look: int, **cells: str) -> None:
    for row in rows:
        if (row["cutter"], row["reading"]) == (cutter, str(look)):
            row.update(cells)


def _rename(rows: Rows, old: str, new: str) -> None:
    _of_cutter(rows, old, cutter=new)


# ------------------------------------------------------------------ the three ways, cells as typed


def flat(rows: Rows) -> bytes:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(dict.fromkeys(name for row in rows for name in row)), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def _held(rows: Rows, names: tuple[str, ...]) -> list[str]:
    return [name for name in names if any(row.get(name) for row in rows)]


def _cutters(rows: Rows) -> dict[str, Rows]:
    found: dict[str, Rows] = {}
    for row in rows:
        found.setdefault(row["cutter"], []).append(row)
    return found


def workbook(rows: Rows) -> bytes:
    facts = _held(rows, FACTS)
    readings = [name for name in dict.fromkeys(name for row in rows for name in row) if name not in FACTS]
    made = openpyxl.Workbook()
    cutters, sheet = made.active, made.create_sheet("Readings")
    cutters.title = "Cutters"
    lines = [["cutter", *facts], *([name, *(own[0].get(f, "") for f in facts)] for name, own in _cutters(rows).items())]
    _write(cutters, lines)
    _write(sheet, [readings, *([row.get(name, "") for name in readings] for row in rows)])
    return _saved(made)


def _write(sheet, lines: list[list[str]]) -> None:
    for i, cells in enumerate(lines, start=1):
        for j, text in enumerate(cells, start=1):
            if text:
                sheet.cell(i, j, text).data_type = "s"


def _saved(made) -> bytes:
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def _heading(row: dict[str, str]) -> str:
    return f"{row['measure']} {row.get('zone', '')} {row.get('flute', '')}".strip() + f" [{row['unit']}]"


def bench_pages(rows: Rows) -> dict[str, list[list[str]]]:
    pages = {}
    for name, own in _cutters(rows).items():
        headings = list(dict.fromkeys(_heading(row) for row in own))
        words = [word for word in LINE if any(row.get(word) for row in rows)]
        page = [["cutter", name], *([fact, own[0][fact]] for fact in _held(own, FACTS)), [], [*words, *headings]]
        lines: dict[tuple[str, ...], dict[str, str]] = {}
        for row in own:
            lines.setdefault(tuple(row.get(word, "") for word in words), {})[_heading(row)] = row["value"]
        page += [[*line, *(cells.get(word, "/") for word in headings)] for line, cells in lines.items()]
        pages[name] = page
    return pages


def bench_csv(rows: Rows) -> bytes:
    out = io.StringIO()
    for page in bench_pages(rows).values():
        csv.writer(out, lineterminator="\n").writerows(page)
    return out.getvalue().encode()


def bench_xlsx(rows: Rows) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, page in bench_pages(rows).items():
        _write(made.create_sheet(name), page)
    return _saved(made)


WAYS = {"book.xlsx": workbook, "bench.csv": bench_csv, "bench.xlsx": bench_xlsx}
TABLES = ("cutters", "conditions", "runs", "wear", "walls", "responses")
OF_THE_FILE = {"lines_skipped", "column_not_recorded", "sheets_not_read", "encoding", "delimiter"}


def same_tables(one: Trial, other: Trial) -> None:
    for name in TABLES:
        a, b = (getattr(trial, name).drop(columns="line", errors="ignore") for trial in (one, other))
        pd.testing.assert_frame_equal(a, b, check_exact=True, obj=name)


def judged(trial: Trial) -> Counter[tuple[str, str]]:
    """Rows by severity and code, however many findings say so; where a file's form alone is meant, nothing."""
    count: Counter[tuple[str, str]] = Counter()
    for finding in trial.findings:
        if finding.code not in OF_THE_FILE:
            count[finding.severity, finding.code] += max(finding.rows, 1)
    return count


def read(data: bytes, name: str, folder: Path) -> Trial:
    path = folder / name
    path.write_bytes(data)
    trial = read_log(path)
    assert trial.counts.rows_read == trial.counts.rows_used + trial.counts.rows_set_aside
    assert len(trial.quarantine) == trial.counts.rows_set_aside
    return trial


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("dirt", DIRTY)
def test_dirt_gives_the_same_trial_through_every_way(dirt: str, way: str, log, tmp_path: Path) -> None:
    rows = log.copy().rows
    DIRTY[dirt](rows)
    first, other = read(flat(rows), "log.csv", tmp_path), read(WAYS[way](rows), f"log{Path(way).suffix}", tmp_path)
    assert other.counts.rows_read == first.counts.rows_read
    assert other.counts.rows_set_aside == first.counts.rows_set_aside
    same_tables(first, other)
    assert judged(first) == judged(other)


@pytest.mark.parametrize("dirt", [dirt for dirt in DIRTY if dirt not in SILENT])
def test_dirt_is_said(dirt: str, log, tmp_path: Path) -> None:
    rows = log.copy().rows
    clean = judged(read(flat(rows), "clean.csv", tmp_path))
    DIRTY[dirt](rows)
    assert judged(read(flat(rows), "log.csv", tmp_path)) - clean


@pytest.mark.parametrize("way", WAYS)
def test_the_nasa_table_as_typed_through_every_way(way: str, tmp_path: Path) -> None:
    with sample_path("nasa_milling").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    first = read_log(sample_path("nasa_milling"))
    other = read(WAYS[way](rows), f"nasa_milling{Path(way).suffix}", tmp_path)
    same_tables(first, other)
    assert judged(first) == judged(other)
    assert other.counts.rows_used == 167
