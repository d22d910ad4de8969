"""A folder of logs on the command line: one log, corrected and read back, in any order."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wearlab.cli.main import run

HEADER = "cutter,cutting_speed_m_min,reading,cutting_time_min,measure,flute,value,unit\n"


def rows(cutter: str, speed: int, factor: float) -> list[str]:
    return [
        f"{cutter},{speed},{look},{5 * look},VB,{flute},{(0.03 + 0.05 * look) * factor:.3f},mm"
        for look in (1, 2, 3)
        for flute in (1, 2)
    ]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    made = tmp_path / "march"
    made.mkdir()
    first, second = rows("E1", 60, 1.0), rows("E2", 60, 1.1)
    (made / "a.csv").write_text(HEADER + "\n".join(first) + "\n", encoding="utf-8")
    again = [second[0].replace("mm", "furlong"), *second[1:], first[3]]
    (made / "b.csv").write_text(HEADER + "\n".join(again) + "\n", encoding="utf-8")
    return made


def wearlab(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    with pytest.raises(SystemExit) as stop:
        run(list(arguments))
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return int(stop.value.code or 0), " ".join(out.split()), " ".join(err.split())


def test_a_folder_is_checked_corrected_and_read_back(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = wearlab(capsys, "check", "march")
    assert code == 1
    assert "Log march (2 files)" in out
    assert "13 rows read = 11 used + 2 set aside." in out
    assert "- b.csv, line 2, cutter E2, unit: unit 'furlong' is not known" in out
    assert "- b.csv, line 8, cutter E1, value: the same reading on lines 5 of a.csv and 8" in out
    assert "Wrote march.set-aside.csv (2 rows set aside" in err
    aside = folder.parent / "march.set-aside.csv"
    aside.write_text(aside.read_text(encoding="utf-8").replace("0.088,furlong", "0.088,mm"), encoding="utf-8")
    code, out, _ = wearlab(capsys, "check", "march", "--corrected", "march.set-aside.csv", "--initials", "A.B.")
    assert "13 rows read = 12 used + 1 set aside; 1 correction applied." in out
    corrections = (folder / "corrections.csv").read_text(encoding="utf-8").splitlines()
    assert corrections[0].startswith("file,line,column,old,new,reason")
    assert corrections[1].startswith("b.csv,2,unit,furlong,mm,")
    assert wearlab(capsys, "check", "march")[0] == 1, "the row that stands twice is still one too many"
    code, out, _ = wearlab(capsys, "check", "march", "--json")
    answer = json.loads(out)
    assert [one["name"] for one in answer["files"]] == ["a.csv", "b.csv"]
    assert answer["corrections"] == 1


def test_other_commands_take_the_folder(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in (["life"], ["wear"], ["report", "--force"]):
        code, out, _ = wearlab(capsys, *command, "march")
        assert code == 1  # the log has errors
        assert out
    assert (folder.parent / "march.html").is_file()
    assert wearlab(capsys, "life", "march", "--json")[1] == wearlab(capsys, "life", "./march/", "--json")[1]


def test_names_of_files_made_from_the_folder_one_stands_in(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    wearlab(capsys, "check", ".")
    assert (folder / "march.set-aside.csv").is_file()
    assert "13 rows read" in wearlab(capsys, "check", ".")[1], "what the program wrote is no log"


def test_warnings_count_with_strict_alone(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sound = HEADER + "\n".join([*rows("E1", 60, 1.0), *rows("e-1", 60, 1.0)]) + "\n"
    (folder.parent / "near.csv").write_text(sound, encoding="utf-8")
    assert wearlab(capsys, "check", "near.csv")[0] == 0
    assert wearlab(capsys, "check", "near.csv", "--strict")[0] == 1


def test_findings_as_csv_hold_every_finding(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wearlab(capsys, "check", "march", "--csv", "found.csv")
    lines = (folder.parent / "found.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("severity,code,file,line,cutter,column,found,allowed,hint")
    assert [line.split(",")[1] for line in lines if line.startswith("error")] == ["unknown_unit", "duplicate_reading"]
