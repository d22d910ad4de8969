"""Forms that `wearlab blank` writes, filled in as a bench fills them: each gives the same Trial to the last digit."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from wearlab.cli.main import run
from wearlab.logbook.bench import parse_heading
from wearlab.logbook.columns import COLUMNS
from wearlab.logbook.read import read_log
from wearlab.logbook.template import USUAL
from wearlab.logbook.trial import Trial

TOML = """\
[[response]]
name = "spindle_load"
unit = "%"

[zones]
corner = [0, 0.4]
lower = [0.4, 3]
"""
FACTS = {
    "cutter_material": "carbide", "diameter_mm": 12, "teeth": 2, "overhang_mm": 38.5, "relief_deg": 10,
    "runout_um": 6, "work_material": "42CrMo4", "bar": "007", "machine": "M2", "block": "1", "run_order": 2,
    "strategy": "layered", "axial_depth_mm": 3, "radial_width_mm": 12, "coolant": "flood", "direction": "climb",
    "feed_per_tooth_mm": 0.05,
}  # fmt: skip
LOOKS = {  # reading: parts, minutes, lands in um by zone and flute (None = looked at, not measured), width, load
    "E1": {0: (0, 0, None, 12.012, 21), 1: (4, 5.25, 1.0, 12.004, 21.5), 2: (8, 10.5, 1.62, 11.99, 23)},
    "é2": {0: (0, 0, None, 12.009, 20), 1: (4, 5.25, 1.1, 12.002, 22.5), 2: (9, 11.75, 1.9, 11.981, 26.25)},
}
ENDS = {"E1": "worn", "é2": "chipped"}
LANDS = {("corner", "1"): 55.5, ("corner", "2"): 48.0, ("lower", "1"): 41.0, ("lower", "2"): 43.2}


def land(zone: str, flute: str, factor: float | None) -> float | None:
    return None if factor is None else round(LANDS[zone, flute] * factor, 1)


def readings() -> Iterator[dict[str, object]]:
    """Every reading as a flat row; what a bench sheet says in its headings stands in columns here."""
    limits = {"corner": (0, 0.4), "lower": (0.4, 3)}
    for cutter, looks in LOOKS.items():
        for look, (parts, minutes, factor, width, load) in looks.items():
            common = {"cutter": cutter, "reading": look, "parts": parts, "cutting_time_min": minutes, "operator": "ab"}
            for zone, flute in LANDS:
                yield {**common, "measure": "VB", "zone": zone, "flute": flute, "value": land(zone, flute, factor),
                       "unit": "um", "zone_from_mm": limits[zone][0], "zone_to_mm": limits[zone][1]}  # fmt: skip
            yield {**common, "measure": "width", "height_mm": 2, "value": width, "unit": "mm"}
            yield {**common, "measure": "spindle_load", "value": load, "unit": "%"}
        yield {**common, "measure": "end", "end_reason": ENDS[cutter]}


def _run(*arguments: object) -> int:
    with pytest.raises(SystemExit) as stop:
        run([str(one) for one in arguments])
    return int(stop.value.code or 0)


def flat_csv(path: Path) -> None:
    assert _run("blank", path) == 0
    header = [*path.read_text(encoding="utf-8").strip().split(","), "zone_from_mm", "zone_to_mm"]
    out = io.StringIO()
    writer = csv.DictWriter(out, header, lineterminator="\n")
    writer.writeheader()
    for row in readings():
        writer.writerow(dict.fromkeys(header, "") | FACTS | row)
    path.write_text(out.getvalue(), encoding="utf-8")


def workbook(path: Path) -> None:
    assert _run("blank", path) == 0
    book = openpyxl.load_workbook(path)
    cutters, sheet = book["Cutters"], book["Readings"]
    for name in ("zone_from_mm", "zone_to_mm"):  # a column that the form lacks is written beside the others
        sheet.cell(1, sheet.max_column + 1, name)
    _fill_table(cutters, [{"cutter": name, **FACTS} for name in LOOKS])
    _fill_table(sheet, list(readings()))
    book.save(path)


def _fill_table(sheet, rows: list[dict[str, object]]) -> None:
    at = {cell.value: cell.column for cell in sheet[1]}
    for line, row in enumerate(rows, start=2):
        for name, value in row.items():
            sheet.cell(line, at[name], value)


def bench(path: Path) -> None:
    more = ["--also", "width 2 [mm]", "--also", "spindle_load [%]"]
    names = [word for cutter in LOOKS for word in ("--cutter", cutter)]
    assert _run("blank", "--bench", path, *names, "--flutes", 2, "--looks", 4, *more) == 0
    if path.suffix == ".xlsx":
        book = openpyxl.load_workbook(path)
        for sheet in book:
            _fill_page(
                [[cell.value for cell in row] for row in sheet.iter_rows()],
                lambda i, j, value, sheet=sheet: sheet.cell(i + 1, j + 1, value),
            )
        book.save(path)
        return
    rows: list[list[object]] = [list(row) for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8")))]
    starts = [i for i, row in enumerate(rows) if row[:1] == ["cutter"]]
    for begin, end in zip(starts, [*starts[1:], len(rows)], strict=True):
        page = rows[begin:end]

        def put(i: int, j: int, value: object, page: list[list[object]] = page) -> None:
            page[i].extend([""] * (j + 1 - len(page[i])))
            page[i][j] = value

        _fill_page(page, put)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    path.write_text(out.getvalue(), encoding="utf-8")


def _fill_page(rows: list[list[object]], put: Callable[[int, int, object], object]) -> None:
    """Write into the cells beside the labels, and under the headings."""
    head = next(i for i, row in enumerate(rows) if row[:1] == ["reading"])
    cutter = ""
    for i, row in enumerate(rows[:head]):
        for j, word in enumerate(row):
            if word == "cutter":
                cutter = str(row[j + 1])
            elif word in FACTS:
                put(i, j + 1, FACTS[str(word)])
    words = [str(word or "") for word in rows[head]]
    for i, (parts, minutes, factor, width, load) in enumerate(LOOKS[cutter].values(), start=head + 1):
        for j, word in enumerate(words):
            heading = parse_heading(word, ["spindle_load"])
            cell: object = {"parts": parts, "cutting_time_min": minutes, "operator": "ab"}.get(word)
            if heading is not None and heading.measure == "VB":
                cell = land(heading.facts["zone"], heading.facts["flute"], factor)
            elif heading is not None:
                cell = {"width": width, "spindle_load": load}[heading.measure]
            if word == "end_reason" and i == head + len(LOOKS[cutter]):
                cell = ENDS[cutter]
            if cell is not None:
                put(i, j, cell)


FORMS = {"flat.csv": flat_csv, "book.xlsx": workbook, "bench.csv": bench, "bench.xlsx": bench}


@pytest.fixture
def filled(tmp_path: Path) -> dict[str, Trial]:
    trials = {}
    for name, fill in FORMS.items():
        folder = tmp_path / name.replace(".", "_")
        folder.mkdir()
        (folder / "trial.toml").write_text(TOML, encoding="utf-8")
        fill(folder / f"march{Path(name).suffix}")
        trials[name] = read_log(folder / f"march{Path(name).suffix}")
    return trials


def test_every_form_filled_in_gives_the_same_trial(filled: dict[str, Trial]) -> None:
    first = filled["flat.csv"]
    assert first.counts.rows_set_aside == 0
    assert len(first.wear) == 24
    assert len(first.walls) == 6
    assert len(first.responses) == 6
    assert first.runs["end_reason"].tolist() == ["worn", "chipped"]
    assert first.runs["bar"].tolist() == ["007", "007"]
    for name, trial in filled.items():
        assert not [one.text() for one in trial.findings if one.severity == "error"], name
        assert trial.name == "march"
        for table in ("cutters", "conditions", "runs", "wear", "walls", "responses"):
            ours, theirs = (getattr(one, table).drop(columns="line", errors="ignore") for one in (first, trial))
            pd.testing.assert_frame_equal(ours, theirs, check_exact=True, obj=f"{name}: {table}")


def test_a_blank_workbook_lists_the_words_of_the_dictionary(tmp_path: Path) -> None:
    (tmp_path / "trial.toml").write_text(TOML, encoding="utf-8")
    assert _run("blank", tmp_path / "march.xlsx") == 0
    book = openpyxl.load_workbook(tmp_path / "march.xlsx")
    assert book.sheetnames == ["Trial", "Cutters", "Readings", "Columns"]
    for sheet in (book["Cutters"], book["Readings"]):
        rules = {str(rule.sqref).split(":")[0]: rule.formula1 for rule in sheet.data_validations.dataValidation}
        for cell in sheet[1]:
            column = COLUMNS[cell.value]
            assert column.meaning in cell.comment.text
            assert column.allowed() in cell.comment.text
            if column.choices:
                assert rules[f"{cell.column_letter}2"] == f'"{",".join(column.choices)}"'
    measures = next(cell for cell in book["Readings"][1] if cell.value == "measure")
    rules = {str(rule.sqref).split(":")[0]: rule.formula1 for rule in book["Readings"].data_validations.dataValidation}
    assert rules[f"{measures.column_letter}2"].endswith(',end,spindle_load"')


def test_a_blank_bench_workbook_has_lists_and_comments(tmp_path: Path) -> None:
    assert _run("blank", "--bench", tmp_path / "s.xlsx", "--cutter", "E1") == 0
    sheet = openpyxl.load_workbook(tmp_path / "s.xlsx")["E1"]
    rules = {str(rule.sqref).split(":")[0]: rule.formula1 for rule in sheet.data_validations.dataValidation}
    labels = {cell.value: cell for row in sheet.iter_rows() for cell in row if cell.value in COLUMNS}
    assert len(labels) >= 24
    for name, cell in labels.items():
        assert COLUMNS[name].meaning in cell.comment.text
    strategy, reason = labels["strategy"], labels["end_reason"]
    assert rules[strategy.offset(0, 1).coordinate].startswith('"layered,side,')
    assert rules[reason.offset(1, 0).coordinate].startswith('"worn,size,')


def test_a_page_for_the_pencil(tmp_path: Path) -> None:
    path = tmp_path / "sheets.html"
    assert _run("blank", path, "--cutter", "<E1>", "--flutes", 6, "--also", "hang_up 12.5 [mm]") == 0
    page = path.read_text(encoding="utf-8")
    assert "Cutter &lt;E1&gt;" in page
    assert "<script" not in page
    assert "http" not in page
    assert page.count('<section class="page">') == 2  # 24 lands and a pin have no room on one line of a page
    assert page.count("flute 6") == 4
    assert "pin 12.5" in page
    for word in ("diameter, mm", "work material", "zone lower, mm from", "end<", "reading"):
        assert word.rstrip("<") in page
    assert page.count('<th rowspan="2">reading</th>') == 2


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("x.txt",), "a file that ends in '.txt'; allowed: .csv, .xlsx or .html"),
        (("trial",), "trial, a file without an ending"),
        (("t.csv", "--flutes", "3"), "--flutes; allowed: these options with --bench"),
        (("t.csv", "--paper", "A4"), "--paper; allowed: with a file .html"),
        (("--bench", "t.csv", "--also", "widht 2"), "heading 'widht 2'"),
        (("--bench", "t.csv", "--unit", "furlong"), "unit 'furlong'"),
        (("--bench", "t.csv", "--flutes", "0"), "flutes = 0; allowed: 1 to 200"),
        (("t.html", "--paper", "A3"), "paper 'A3'; allowed: A4, letter"),
    ],
)
def test_what_cannot_be_made_is_said(
    arguments: tuple[str, ...], words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert _run("blank", *arguments) == 2
    assert words in " ".join(capsys.readouterr().err.split())
    assert not list(tmp_path.iterdir())


def test_the_forms_hold_the_usual_columns(tmp_path: Path) -> None:
    assert _run("blank", tmp_path / "t.xlsx") == 0
    book = openpyxl.load_workbook(tmp_path / "t.xlsx")
    held = {cell.value for title in ("Cutters", "Readings") for cell in book[title][1]}
    assert held == set(USUAL)
