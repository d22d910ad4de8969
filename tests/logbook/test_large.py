"""The fast engine says what the plain schemas say, and the fast reader reads what the careful one reads."""

from __future__ import annotations

import csv
import importlib.util
import io
import random
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

from wearlab.core.errors import FileProblem
from wearlab.logbook import bulk, large
from wearlab.logbook.bulk import Irregular, bulk_sheet
from wearlab.logbook.check import typed_draft
from wearlab.logbook.draft import Draft
from wearlab.logbook.files import Source, read_source
from wearlab.logbook.large import check_log
from wearlab.logbook.order import longest_rising
from wearlab.logbook.plain import _longest, constants, plain_failures, plain_frame, row_schema
from wearlab.logbook.quarantine import quarantine_text
from wearlab.logbook.read import read_log
from wearlab.logbook.samples import sample_names, sample_path
from wearlab.logbook.settings import TrialSettings
from wearlab.logbook.sheet import Sheet
from wearlab.logbook.table import split_table

SETTINGS = TrialSettings()


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    path = Path(__file__).parents[1] / "bench" / "bench_read.py"
    spec = importlib.util.spec_from_file_location("bench_read", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_read"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def spoilt(bench, tmp_path) -> Path:
    path = tmp_path / "log.csv"
    bench.make_log(3200, 0.08, seed=4).to_csv(path, index=False)
    return path


def found(checked) -> set[tuple[int, str]]:
    table = checked.blamed()
    return set(zip(table["line"].tolist(), table["code"].tolist(), strict=True))


# ------------------------------------------------------------------ against the plain schemas


@pytest.mark.parametrize("chunk", [None, 60_000])
def test_every_row_and_rule_of_the_plain_schemas(spoilt, chunk):
    plain = plain_failures(plain_frame(spoilt))
    assert found(check_log(spoilt, SETTINGS, chunk_bytes=chunk)) == plain
    assert len({code for _, code in plain}) == 15


def many_faults(seed: int, rows: int = 160) -> pd.DataFrame:
    """Rows with any number of faults each, of lands, walls, pins and ends; every row has a reading number."""
    rng = np.random.default_rng(seed)
    pick = lambda words, p: rng.choice(words, size=rows, p=p)  # noqa: E731
    look = np.tile(np.arange(1, 5), rows // 4)
    minutes = np.where(rng.random(rows) < 0.03, 3.0, 5.0 * look)
    values = pick(["0.1", "0.2", "-0.1", "", "9", "2e6", "x", "NA"], [0.4, 0.25, 0.1, 0.06, 0.06, 0.04, 0.04, 0.05])
    return pd.DataFrame(
        {
            "cutter": np.where(rng.random(rows) < 0.02, "", np.char.add("E", (np.arange(rows) // 20).astype(str))),
            "teeth": pick(["2", "", "99"], [0.95, 0.03, 0.02]),
            "diameter_mm": pick(["12", "10", "0", "wide"], [0.92, 0.04, 0.02, 0.02]),
            "coolant": pick(["dry", "", "floood"], [0.9, 0.07, 0.03]),
            "reading": look,
            "cutting_time_min": np.where(
                rng.random(rows) < 0.05, pick(["", "NA", "-"], [0.4, 0.3, 0.3]), minutes.astype(str)
            ),
            "measure": pick(["VB", "wall", "hang_up", "end", "VD", ""], [0.6, 0.15, 0.1, 0.08, 0.04, 0.03]),
            "zone": pick(["lower", "corner", ""], [0.5, 0.4, 0.1]),
            "flute": pick(["1", "2", "3", "mean", "x"], [0.4, 0.4, 0.1, 0.06, 0.04]),
            "height_mm": pick(["2", "5", ""], [0.45, 0.45, 0.1]),
            "side": pick(["left", "right", ""], [0.45, 0.45, 0.1]),
            "pin_mm": pick(["6", ""], [0.9, 0.1]),
            "value": values,
            "unit": pick(["mm", "um", "", "furlong"], [0.85, 0.08, 0.04, 0.03]),
            "date": pick(["2026-03-14", "", "14.3.2026", "2026-02-30"], [0.9, 0.06, 0.02, 0.02]),
            "end_reason": pick(["", "worn", "broken", "n/a"], [0.91, 0.05, 0.01, 0.03]),
        }
    )


@pytest.mark.parametrize("seed", range(8))
def test_rows_with_many_faults(seed, tmp_path):
    path = tmp_path / "log.csv"
    many_faults(seed).to_csv(path, index=False)
    frame = plain_frame(path)
    plain, ours = plain_failures(frame), found(check_log(path, SETTINGS))
    assert len(plain) > 40
    # A clock that goes back twice and more is named by its cause: it counts each pass. The plain rule knows one name.
    named = {(line, "time_goes_back" if code == "clock_counts_each_pass" else code) for line, code in ours}
    causes = {line for line, code in ours if code == "clock_counts_each_pass"}
    assert {one for one in named if one[0] not in causes} == {one for one in plain if one[0] not in causes}


def test_the_minority_value_is_the_same(spoilt):
    plain, checked = plain_frame(spoilt), read_log(spoilt, SETTINGS)
    rows = plain.drop(index=list({line for line, _ in plain_failures(plain)}))
    rows = rows[~rows.index.isin(checked.quarantine["line"])]
    theirs = {(int(line), name) for name, odd in constants(rows).items() for line in rows.index[odd]}
    ours = {(line, f.column) for f in checked.findings if f.code == "varies_within_cutter" for line in f.lines}
    assert ours == theirs


def test_longest_runs_are_the_same_by_the_plain_recursion():
    rng = np.random.default_rng(8)
    for _ in range(300):
        values = rng.integers(0, 6, size=rng.integers(1, 8)).astype(float)
        kept = np.flatnonzero(longest_rising(values)).tolist()
        plain = _longest(values)
        assert len(kept) == len(plain)
        assert values[kept[-1]] == values[plain[-1]]


def test_every_rule_says_what_it_makes_of_missing_cells():
    schema = row_schema(["cutter", "teeth", "flute", "measure", "value", "unit", "parts", "height_mm", "end_reason"])
    assert all(check.description for check in schema.checks)
    assert len(schema.checks) > 10


# ------------------------------------------------------------------ against the careful reader


@pytest.fixture(params=["pyarrow", "pandas"])
def reader(request, monkeypatch):
    if request.param == "pandas":
        monkeypatch.setattr(bulk, "_arrow", lambda: None)
    elif bulk._arrow() is None:
        pytest.skip("pyarrow is not installed")
    return request.param


def test_the_fast_reader_reads_what_the_careful_one_reads(spoilt, reader):
    fast = bulk_sheet(spoilt.read_bytes(), spoilt.name, {})
    careful = split_table(read_source(spoilt)[1], {}, str(spoilt), spoilt.name)
    assert fast.header == careful.header
    assert fast.lines.tolist() == careful.lines.tolist()
    for row in range(0, fast.rows, 7):
        assert fast.typed_row(row) == careful.typed_row(row)


@pytest.mark.parametrize("chunk", [None, 40_000])
def test_both_readers_find_the_same(spoilt, chunk, reader):
    trial = read_log(spoilt, SETTINGS)
    checked = check_log(spoilt, SETTINGS, chunk_bytes=chunk or 10**9)
    assert checked.counts.rows_set_aside == trial.counts.rows_set_aside
    theirs = {(f.line, f.code) for f in trial.findings if f.severity == "error"}
    assert found(checked) == theirs
    told = [f for f in checked.findings if f.severity == "error"]
    by_place = {(f.line, f.code): f for f in trial.findings}
    for finding in told:
        same = by_place[(finding.line, finding.code)]
        assert (finding.allowed, finding.column, finding.cutter) == (same.allowed, same.column, same.cutter)
        if finding.code != "land_too_wide":
            assert finding.text() == same.text()


HEAD = b"cutter,cutting_time_min,measure,value,unit\n"


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (b'E1,5,VB,.1,"m\nm"\nE1,6,VB,.2,mm\n', "a cell of two lines"),
        (b"E1,5,VB,.1,mm\n# a remark,,,,\n", "a comment"),
        (b"E1,5,VB,.1,mm\nTotal,5,,,\n", "a total"),
        (b"E1,5,VB,.1,mm\n" + HEAD, "a header again"),
        (b"E1,5,VB,inf,mm\n", "infinite"),
        (b"E1,5,VB,1e400,mm\n", "infinite"),
    ],
)
def test_irregular_lines_are_left_to_the_careful_reader(body, why, reader, tmp_path):
    with pytest.raises(Irregular):
        bulk_sheet(HEAD + body, "log.csv", {})
    path = tmp_path / "log.csv"
    path.write_bytes(HEAD + body)
    counts = check_log(path, SETTINGS).counts
    assert counts == read_log(path, SETTINGS).counts


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"Title\n" + HEAD, "a title"), (b"cutter,cutter,measure\nE1,E1,VB\n", "a word twice"), (b"", "nothing"),
        (b"\xff\xfecutter", "no UTF-8"), (b"colour,shape\nred,round\n", "no log"),
        (HEAD.replace(b",unit", b","), "a blank word"),
    ],
)  # fmt: skip
def test_a_header_that_is_not_plain(data, why):
    with pytest.raises(Irregular):
        bulk_sheet(data, "log.csv", {})


@pytest.mark.parametrize("body", [b"E1,5,VB,.1,mm\n\nE1,6,VB,.2,mm\n", b"E1,5,VB,.1,mm\n,,,,\nE1,6,VB,.2,mm\n"])
def test_blank_lines_are_skipped_and_lines_still_right(body, reader, tmp_path):
    sheet = bulk_sheet(HEAD + body, "log.csv", {})
    assert sheet.lines.tolist() == [2, 4]
    assert sheet.skipped["blank"] == [3]
    assert sheet.typed_row(1) == ["E1", "6", "VB", ".2", "mm"]


def test_units_marks_quotes_and_line_ends(reader):
    units = (
        b"\xef\xbb\xbf" + HEAD.replace(b"\n", b"\r\n") + b",min,,,\r\n" + b'"E 1", 5 ,VB,+.5,"mm"\r\n007,NA,VB,5.,um'
    )
    sheet = bulk_sheet(units, "log.csv", {})
    assert sheet.lines.tolist() == [3, 4]
    assert sheet.skipped["units"] == [2]
    draft = typed_of(sheet, SETTINGS)
    assert draft.number("value").tolist() == [0.5, 5.0]
    assert draft.number("cutting_time_min").tolist()[0] == 5.0
    assert draft.word("cutter").texts().tolist() == ["E 1", "007"]


def typed_of(sheet: Sheet, settings: TrialSettings) -> Draft:
    return typed_draft(sheet, settings, Source("log.csv", "", 0, "UTF-8"))


def test_shop_words_and_inches(reader):
    sheet = bulk_sheet(
        b"tool;cutting_time_min;axial_depth_in;measure;value;unit\nE1;5;0.1;VB;0.1;mm\n", "x", {"tool": "cutter"}
    )
    draft = typed_of(sheet, TrialSettings(columns={"tool": "cutter"}))
    assert draft.number("axial_depth_mm").tolist() == [0.1 * 25.4]
    assert draft.word("cutter").texts().tolist() == ["E1"]


# ------------------------------------------------------------------ in chunks


@pytest.mark.parametrize("chunk", [400, 5_000, 33_333, 10**9])
def test_the_size_of_a_chunk_does_not_matter(chunk, spoilt):
    whole, parts = check_log(spoilt, SETTINGS), check_log(spoilt, SETTINGS, chunk_bytes=chunk)
    pd.testing.assert_frame_equal(whole.blamed(), parts.blamed())
    assert whole.counts == parts.counts
    assert not parts.scattered or chunk == 400
    notes = {(f.code, f.rows) for f in whole.findings if f.severity == "note" and f.rows}
    assert notes <= {(f.code, f.rows) for f in parts.findings if f.severity == "note"} | {("one_reading_only", 0)}


def test_scattered_cutters_are_brought_together(spoilt, tmp_path):
    head, *lines = spoilt.read_text(encoding="utf-8").splitlines()
    mixed = tmp_path / "mixed.csv"
    dealt = [*lines[0::3], *lines[1::3], *lines[2::3]]
    mixed.write_text("\n".join([head, *dealt]) + "\n", encoding="utf-8")
    whole, parts = check_log(mixed, SETTINGS), check_log(mixed, SETTINGS, chunk_bytes=30_000)
    assert parts.scattered
    assert not whole.scattered
    pd.testing.assert_frame_equal(whole.blamed(), parts.blamed())
    assert whole.counts == parts.counts


def test_large_irregular_files_are_refused(spoilt, monkeypatch):
    monkeypatch.setattr(large, "LARGE", 1000)
    spoilt.write_text("Title\n" + spoilt.read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(FileProblem, match=r"its lines are not regular .* cannot be checked in chunks"):
        check_log(spoilt, SETTINGS, chunk_bytes=10_000)


def test_what_cannot_be_read(tmp_path):
    with pytest.raises(FileProblem, match="no such file"):
        check_log(tmp_path / "none.csv", SETTINGS)
    with pytest.raises(FileProblem, match="a folder"):
        check_log(tmp_path, SETTINGS)


def test_the_digest_is_worked_out_when_asked_for(spoilt):
    import hashlib

    assert check_log(spoilt, SETTINGS).digest() == hashlib.sha256(spoilt.read_bytes()).hexdigest()


def test_the_first_errors_of_a_large_log_are_told(spoilt, monkeypatch):
    monkeypatch.setattr(large, "TOLD", 5)
    checked = check_log(spoilt, SETTINGS, chunk_bytes=30_000)
    errors = [f for f in checked.findings if f.severity == "error"]
    assert len(errors) == 5
    assert all(f.text() for f in errors)
    assert len(checked.blamed()) > 200


@pytest.mark.parametrize("chunk", [300, 2_000, 10**9])
def test_blank_lines_do_not_shift_what_comes_after(chunk, spoilt, tmp_path, reader):
    head, *lines = spoilt.read_text(encoding="utf-8").splitlines()
    gaps = [line for at, row in enumerate(lines[:400]) for line in ([row, "", ""] if at % 7 == 3 else [row])]
    path = tmp_path / "gaps.csv"
    path.write_text("\n".join([head, *gaps]) + "\n", encoding="utf-8")
    whole, parts = check_log(path, SETTINGS), check_log(path, SETTINGS, chunk_bytes=chunk)
    pd.testing.assert_frame_equal(whole.blamed(), parts.blamed())
    assert whole.counts == parts.counts
    assert parts.counts.lines_skipped["blank"] == len(gaps) - 400
    mixed = tmp_path / "mixed.csv"
    mixed.write_text("\n".join([head, *gaps[0::2], *gaps[1::2]]) + "\n", encoding="utf-8")
    whole, parts = check_log(mixed, SETTINGS), check_log(mixed, SETTINGS, chunk_bytes=chunk)
    pd.testing.assert_frame_equal(whole.blamed(), parts.blamed())
    assert whole.counts == parts.counts


@pytest.mark.parametrize("scattered", [False, True])
def test_rows_set_aside_are_written_in_the_form_that_can_be_handed_back(scattered, spoilt, tmp_path):
    if scattered:
        head, *lines = spoilt.read_text(encoding="utf-8").splitlines()
        spoilt.write_text("\n".join([head, *lines[0::2], *lines[1::2]]) + "\n", encoding="utf-8")
    out, done = io.StringIO(), []
    parts = check_log(spoilt, SETTINGS, chunk_bytes=30_000, set_aside=out, progress=done.append)
    trial = read_log(spoilt, SETTINGS)
    ours, theirs = (pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False, index_col="line")
                    for text in (out.getvalue(), quarantine_text(trial)))  # fmt: skip
    assert len(ours) == parts.counts.rows_set_aside > 200
    pd.testing.assert_frame_equal(ours.drop(columns="what").sort_index(), theirs.drop(columns="what").sort_index())
    assert (ours["what"] != "").all()
    assert done == sorted(done)
    assert done[-1] == 1.0


@pytest.mark.parametrize("chunk", [None, 10_000])
def test_corrections_are_applied_and_counted(chunk, spoilt, tmp_path):
    trial = read_log(spoilt, SETTINGS)
    line = next(f.line for f in trial.findings if f.code == "unknown_measure")
    text = (
        f"line,column,old,new,reason\n{line},measure,VBB,VB,slip\n2,unit,mm,mm,none\n999999,unit,mm,um,no such line\n"
    )
    spoilt.with_name("log.corrections.csv").write_text(text, encoding="utf-8")
    checked, read = check_log(spoilt, SETTINGS, chunk_bytes=chunk), read_log(spoilt, SETTINGS)
    assert checked.counts == read.counts
    assert checked.counts.corrections == 2
    assert (line, "unknown_measure") not in found(checked)
    assert [f.text() for f in checked.findings if f.code == "correction_not_applied"] == [
        f.text() for f in read.findings if f.code == "correction_not_applied"
    ]
    assert check_log(spoilt, SETTINGS, corrections=()).counts.corrections == 0


def test_causes_count_every_row(spoilt):
    whole, parts = check_log(spoilt, SETTINGS), check_log(spoilt, SETTINGS, chunk_bytes=30_000)
    table = whole.blamed()
    assert whole.errors == parts.errors == len(table)
    for checked in (whole, parts):
        errors = [cause for cause in checked.causes if cause.first.severity == "error"]
        told = {(cause.first.code, cause.first.column): (cause.rows, cause.first.line) for cause in errors}
        groups = table.groupby(["code", "column"])["line"]
        assert told == {kind: (len(lines), lines.min()) for kind, lines in groups}


# ------------------------------------------------------------------ any file at all

NUMBERS = ["0.1", "0.25", "12", "-1", "1e3", "", ".5", "5.", "+5", "-0", "007"]
ODD = [
    "1e400", "nan", "NA", "inf", "1,5", "1,250", "4-Jan", "1/4", "x", "=1", "-", "--", "n/a", "0x10", "1_000", "\u0663",
    "1.234,5", "1.234.567", "1 234", "'-1", "1e", "1e+", ".", "+", " 5 ", "\t5", "True", "Infinity", "nA", "1.2.3",
    "9" * 30, "1" + "0" * 320, "total", "#x", "mean", "1\n2", '"', '5"', 'a"b', "\r", "\x0b5", "\u00a05", "1e-400",
    "9007199254740993",
]  # fmt: skip
WORDS = {
    "cutter": ["E1", "", "#3", "total", "007", "NA", "'=E1", "=E1", "cutter", "Sum of"],
    "measure": ["vb", "end", "wall", "measure", "", "VBmax", "mm", "zz"], "zone": ["", "corner", "Lower", "mid"],
    "flute": ["2", "", "mean", "F1", "01", "worst", "x"], "unit": ["um", "", "in", "furlong", "NA"],
    "coolant": ["", "Dry", "floood", "-"], "end_reason": ["worn", "broken"], "date": ["", "14.3.2026", "2026-02-30"],
    "operator": ["", "B, C", "x\ny", 'say "hi"', " q "],
}  # fmt: skip
USUAL = {"measure": "VB", "zone": "lower", "flute": "1", "unit": "mm", "coolant": "dry", "end_reason": "",
         "date": "2026-03-14", "operator": "A.B.", "teeth": "2"}  # fmt: skip
OTHERS = ["zone", "flute", "coolant", "end_reason", "operator", "date", "teeth", "diameter_mm", "parts",
          "axial_depth_in", "hardness"]  # fmt: skip


def any_file(seed: int) -> bytes:
    """A log as shops keep it and as nobody should: most of it plain, some cells and lines very odd."""
    dice = random.Random(seed)
    spoil = dice.choice([0, 0.003, 0.01, 0.05, 0.3])
    columns = ["cutter", *(name for name in ("reading", "cutting_time_min", "measure", "value", "unit")
                           if dice.random() < 0.97), *dice.sample(OTHERS, dice.randint(0, 6))]  # fmt: skip
    if dice.random() < 0.3:
        dice.shuffle(columns)
    rows = [[any_cell(dice, name, row, spoil) for name in columns] for row in range(dice.choice([4, 12, 60, 110]))]
    for chance, line in (
        (0.05, [dice.choice(["mm", "min", "", "[mm]"]) for _ in columns]), (0.03, list(columns)),
        (0.03, ["# note"]), (0.03, ["", "Total", "5", *[""] * (len(columns) - 3)]), (0.2, [""] * len(columns)),
        (0.05, []), (0.02, ["E1"]), (0.02, [*["x"] * len(columns), "y"]),
    ):  # fmt: skip
        if dice.random() < chance:
            rows.insert(dice.randint(0, len(rows)), line)
    if dice.random() < 0.05:
        dice.shuffle(rows)
    out = io.StringIO()
    quoting = dice.choice([csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
    end, delimiter = dice.choice(["\n", "\n", "\r\n"]), dice.choice([",", ",", ";", "\t"])
    csv.writer(out, delimiter=delimiter, lineterminator=end, quoting=quoting).writerows([columns, *rows])
    text = out.getvalue() if dice.random() < 0.8 else out.getvalue().rstrip()
    mark = b"\xef\xbb\xbf" if dice.random() < 0.1 else b""
    return mark + text.encode("utf-8") + (b"\xff" if dice.random() < 0.02 else b"")


def any_cell(dice: random.Random, name: str, row: int, spoil: float) -> str:
    usual = {
        "reading": str(row // 3 + 1),
        "cutting_time_min": str(5 * (row // 3 + 1)),
        "cutter": f"E{row // 7}",
    } | USUAL
    if name in WORDS:
        return dice.choice([*WORDS[name], dice.choice(ODD)]) if dice.random() < max(spoil, 0.02) else usual[name]
    if dice.random() < spoil:
        return dice.choice(ODD)
    return usual.get(name) or (dice.choice(NUMBERS) if dice.random() < 0.2 else f"0.{dice.randint(1, 99)}")


@pytest.mark.parametrize("seed", range(0, 60, 20))
def test_any_file_is_read_and_checked_as_the_careful_reader_does(seed, reader, tmp_path):
    path, fast = tmp_path / "log.csv", 0
    for one in range(seed, seed + 20):
        data = any_file(one)
        path.write_bytes(data)
        fast += same_sheet(data, path)
        whole = check_log(path, SETTINGS)
        for chunk in (300, 1500, 10**9):
            parts = check_log(path, SETTINGS, chunk_bytes=chunk)
            assert parts.counts == whole.counts, one
            pd.testing.assert_frame_equal(parts.blamed(), whole.blamed())
    assert fast > 2  # else nothing was compared


def same_sheet(data: bytes, path: Path) -> bool:
    """Whether the fast reader takes a file; if so it is held against the careful one, cell by cell."""
    try:
        fast = bulk_sheet(data, path.name, {})
    except Irregular:
        return False
    careful = split_table(read_source(path)[1], {}, str(path), path.name)
    assert fast.header == careful.header
    assert fast.lines.tolist() == careful.lines.tolist()
    assert fast.lines_skipped() == careful.lines_skipped()
    assert [fast.typed_row(row) for row in range(fast.rows)] == [careful.typed_row(row) for row in range(careful.rows)]
    ours, theirs = typed_of(fast, SETTINGS), typed_of(careful, SETTINGS)
    for name, values in theirs.numbers.items():
        np.testing.assert_array_equal(ours.numbers[name], values)
    for name, words in theirs.words.items():
        assert ours.words[name].texts().tolist() == words.texts().tolist()
    return True


@pytest.mark.parametrize("sample", sample_names())
def test_samples_are_checked_as_they_are_read(sample, reader):
    path = sample_path(sample)
    trial = read_log(path)
    for chunk in (None, 3_000):
        checked = check_log(path, chunk_bytes=chunk)
        assert (checked.counts.rows_read, checked.counts.lines_skipped) == (
            trial.counts.rows_read, trial.counts.lines_skipped
        )  # fmt: skip
        assert checked.counts.rows_set_aside == trial.counts.rows_set_aside
        assert found(checked) == {(f.line, f.code) for f in trial.findings if f.severity == "error" and f.line}


@pytest.mark.parametrize("chunk", [400, 1 << 20])
def test_notes_about_cutters_of_later_chunks_are_kept(chunk, tmp_path):
    """Reading numbers that skip, that lack, rows zone by zone and single readings, each in the last cutters alone."""
    rows = [f"E{cutter},{look},{5 * look},VB,,{0.05 * look:.2f},mm" for cutter in range(1, 9) for look in range(1, 5)]
    for cutter in ("S1", "S2"):
        rows += [f"{cutter},{look},{5 * look},VB,,{0.05 * look:.2f},mm" for look in (1, 2, 4)]
    rows += [f"L1,{'' if look == 2 else look},{5 * look},VB,,{0.05 * look:.2f},mm" for look in (1, 2, 3)]
    rows += [f"Z1,,{5 * look},VB,{zone},{0.05 * look:.2f},mm" for zone in ("lower", "upper") for look in (1, 2, 3)]
    rows += ["O1,1,5,VB,,0.05,mm"]
    path = tmp_path / "log.csv"
    path.write_text("cutter,reading,cutting_time_min,measure,zone,value,unit\n" + "\n".join(rows) + "\n")
    kept = {"reading_numbers_skip", "reading_numbers_lack", "ordered_by_clock", "one_reading_only"}
    assert {one.code for one in read_log(path).findings} >= kept
    checked = check_log(path, chunk_bytes=chunk)
    assert checked.in_chunks
    assert {one.code for one in checked.findings} >= kept
    assert {one.first.code for one in checked.causes} >= kept


def test_a_note_of_one_chunk_says_that_other_cutters_have_it_too(tmp_path):
    rows = [f"S{cutter},{look},{5 * look},VB,0.1,mm" for cutter in range(1, 41) for look in (1, 2, 4)]
    path = tmp_path / "log.csv"
    path.write_text("cutter,reading,cutting_time_min,measure,value,unit\n" + "\n".join(rows) + "\n")
    (note,) = [one for one in check_log(path, chunk_bytes=400).causes if one.first.code == "reading_numbers_skip"]
    assert note.text().count("so too other cutters") == 1


def test_which_way_a_log_was_checked(spoilt, tmp_path):
    assert check_log(spoilt, chunk_bytes=1 << 20).in_chunks
    assert not check_log(spoilt).in_chunks
    odd = tmp_path / "odd.csv"
    odd.write_text("# a remark\n" + spoilt.read_text(encoding="utf-8"), encoding="utf-8")
    whole = check_log(odd, chunk_bytes=1 << 20)
    assert not whole.in_chunks
    assert whole.why_whole
