"""A fuzz target for the reader: `python tests/fuzz/fuzz_reader.py [FOLDER] -max_total_time=600`.

Guided by the coverage of the package (atheris, in the extra `fuzz`). Each input is a log by one of four ways in: bytes
as they are, a flat CSV, a bench sheet, the sheets of a workbook; the last three are built from the bytes, so that most
of them get past the header. Whatever comes, the reader gives a trial whose rows read are those used and those set
aside, or refuses in words; a flat log gives the same in chunks, and the same when it is written and read again.

Inputs that found a fault are kept in `corpus/`; `test_corpus.py` runs them without atheris.
"""

from __future__ import annotations

import csv
import io
import sys
import tempfile
from contextlib import nullcontext
from pathlib import Path
from unittest import mock


def words(text: str, mark: str = "|") -> list[str]:
    """Words between marks."""
    return text.split(mark)


WORDS = words(
    "cutter reading cutting_time_min measure zone flute value unit parts volume_cm3 cut_length_m teeth diameter_mm "
    "diameter_in cutting_speed_m_min cutting_speed_sfm spindle_rpm feed_per_tooth_mm axial_depth_mm radial_width_mm "
    "strategy coolant work_material hardness hardness_scale date end_reason side height_mm pin_mm part repeat trial "
    "zone_from_mm zone_to_mm passes feature_depth_mm operator note colour",
    " ",
)
CELLS = words(
    "|0|1|2|3|4|5|10|15|20|0.1|0.2|0.25|-0.1|9|12|7000|1e3|1e400|nan|inf|1,5|1.234,5|4-Jan|1/4|46026|x|NA|-|mm|um|thou|"
    "in|VB|VBmax|vb|end|wall|width|hang_up|corner|E1|E2|e-01|007|mean|worst|F1|left|right|lower|middle|upper|worn|broken|"
    "carbide|dry|flood|floood|layered|side|HB|2026-03-14|04/05/2026|2026-02-30|=1+1|@x|'=x|'-1|#3|total|Total|mm|[min]|\n|"
    '"|5"|;|\t|,|\u0663|\u00bd|\u00b5m|\u00a05|True|0x10|1_000|cutter|value'
)
LOOKS = words("0|1|2|3|4||5")
MEASURES = words("VB|VB|VB|VB|VBmax|wall|hang_up|end||x")
HEADS = words(
    "VB lower 1 [um]|VB lower 2 [mm]|VB lower 1 [mm] #2|VBmax corner [um]|wall left 2 [mm]|VB 1|VB|reading|note"
)


class Bytes:
    """Choices made one after the other from the bytes of an input; zeros when they have run out."""

    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def byte(self) -> int:
        self.at += 1
        return self.data[self.at - 1] if self.at <= len(self.data) else 0

    def of(self, words: list[str]) -> str:
        return words[self.byte() % len(words)]

    def text(self) -> str:
        length = self.byte() % 12
        self.at += length
        return self.data[self.at - length : self.at].decode("utf-8", errors="replace")

    def cell(self, usual: list[str]) -> str:
        """Mostly a usual word, now and then any, seldom anything."""
        kind = self.byte()
        return self.of(usual) if kind < 190 else self.of(CELLS) if kind < 245 else self.text()


def flat_rows(choose: Bytes) -> list[list[str]]:
    """A flat log: the columns that matter and some others, and up to forty rows."""
    header = WORDS[:8] if choose.byte() % 8 else ["cutter", "measure"]
    header = list(dict.fromkeys([*header, *(choose.of(WORDS) for _ in range(choose.byte() % 6))]))
    usual = {"cutter": ["E1", "E1", "E2", "E3"], "reading": LOOKS, "cutting_time_min": ["0", "5", "10", "15", "20"],
             "measure": MEASURES, "zone": ["lower", "corner", ""], "flute": ["1", "2", "3", "mean", ""],
             "value": ["0.1", "0.2", "0.12", "0.05", "", "0.3"], "unit": ["mm", "mm", "um", "in", ""]}  # fmt: skip
    return [header, *([choose.cell(usual.get(name, CELLS)) for name in header] for _ in range(choose.byte() % 40))]


def bench_rows(choose: Bytes) -> list[list[str]]:
    """A bench sheet: labels with values, then headings and one line a look."""
    labels = ["cutter", *(choose.of(WORDS) for _ in range(choose.byte() % 8))]
    head = [[label, choose.cell(["E1", "12", "2", "layered", "dry"])] for label in labels]
    headings = ["cutting_time_min", *(choose.cell(HEADS) for _ in range(1 + choose.byte() % 5))]
    looks = [[choose.cell(["5", "10", "15", "0.1", "0.2", ""]) for _ in headings] for _ in range(choose.byte() % 9)]
    return [*head, [""] * (choose.byte() % 3), headings, *looks]


def csv_of(rows: list[list[str]], choose: Bytes) -> bytes:
    """Rows as a file: any delimiter, line end and mark."""
    out = io.StringIO()
    delimiter, end = choose.of([",", ",", ";", "\t"]), choose.of(["\n", "\r\n"])
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(rows)
    return choose.of(["", "", "\ufeff"]).encode() + out.getvalue().encode("utf-8", errors="replace")


def input_of(data: bytes) -> tuple[str, bytes, list[tuple[str, list[list[str]]]]]:
    """Way in, content of the file, and sheets of a workbook."""
    choose = Bytes(data)
    way = ("bytes", "flat", "flat", "bench", "book")[choose.byte() % 5]
    if way == "bytes":
        return way, data[1:], []
    if way == "flat":
        rows = flat_rows(choose)
        return way, csv_of(rows, choose), []
    if way == "bench":
        rows = bench_rows(choose)
        return way, csv_of(rows, choose), []
    names = ["cutters", "readings", "trial", "Sheet1", "E1"]
    sheets = {choose.of(names): choose.of([flat_rows, bench_rows])(choose) for _ in range(1 + choose.byte() % 3)}  # type: ignore[operator,list-item]
    return way, b"PK\x03\x04", list(sheets.items())


# ------------------------------------------------------------------ what must hold


def judge(data: bytes, folder: Path) -> None:
    """Read one input; raises when anything but a trial or a refusal in words comes of it."""
    from wearlab.core.errors import WearlabError
    from wearlab.logbook.read import read_log
    from wearlab.logbook.workbook import Page

    way, content, sheets = input_of(data)
    path = folder / "log.csv"
    path.write_bytes(content)
    pages = [Page(name, list(enumerate(rows, start=1))) for name, rows in sheets]
    refused = ""
    with mock.patch("wearlab.logbook.read.read_pages", return_value=pages) if way == "book" else nullcontext():
        try:
            trial = read_log(path)
        except WearlabError as refusal:
            refused = str(refusal)
            if len(refused) < 10:
                raise
    if refused:
        if way != "book":
            _refused_in_chunks_too(path)
        return
    _nothing_lost(trial)
    if way != "book":
        _same_in_chunks(path, trial)
    _same_when_written(trial, folder)


def _nothing_lost(trial) -> None:  # type: ignore[no-untyped-def]
    counts = trial.counts
    assert counts.rows_read == counts.rows_used + counts.rows_set_aside
    assert len(trial.quarantine) == counts.rows_set_aside
    assert len(trial.wear) + len(trial.walls) + len(trial.responses) <= counts.rows_used
    assert all(finding.text() and finding.file for finding in trial.findings)


def _refused_in_chunks_too(path: Path) -> None:
    from wearlab.core.errors import WearlabError
    from wearlab.logbook.large import check_log

    try:
        check_log(path, chunk_bytes=400)
    except WearlabError:
        return
    raise AssertionError("refused as a whole and not in chunks")


def _same_in_chunks(path: Path, trial) -> None:  # type: ignore[no-untyped-def]
    from wearlab.logbook.large import check_log

    whole, parts = check_log(path), check_log(path, chunk_bytes=400)
    assert whole.counts == parts.counts, (whole.counts, parts.counts)
    assert whole.blamed().equals(parts.blamed())
    assert whole.counts.rows_read == trial.counts.rows_read


def _same_when_written(trial, folder: Path) -> None:  # type: ignore[no-untyped-def]
    from wearlab.logbook.read import read_log
    from wearlab.logbook.write import log_csv

    if not trial.counts.rows_used:
        return
    path = folder / "again.csv"
    path.write_text(log_csv(trial), encoding="utf-8", newline="")
    again = read_log(path, trial.settings)
    for name in ("wear", "walls", "responses"):
        ours, theirs = (
            getattr(one, name).drop(columns=["line", "file"], errors="ignore").reset_index(drop=True)
            for one in (trial, again)
        )
        assert len(ours) == len(theirs), (name, [f.text() for f in again.findings])


def main() -> None:
    """Run atheris on the target."""
    import atheris

    with atheris.instrument_imports(include=["wearlab"]):
        import wearlab.logbook.large
        import wearlab.logbook.read
        import wearlab.logbook.write  # noqa: F401
    folder = Path(tempfile.mkdtemp(prefix="wearlab-fuzz-"))
    atheris.Setup(sys.argv, lambda data: judge(data, folder))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
