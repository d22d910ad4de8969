"""A check in chunks answers as the check of a small log does, in what both look at."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from wearlab.cli import check_large
from wearlab.cli.main import run

Wearlab = Callable[..., tuple[int, str, str]]
HEADER = "cutter,reading,cutting_time_min,measure,value,unit\n"
SLIPS = {3: ("value", "worn"), 6: ("unit", "mn"), 7: ("unit", "mn"), 11: ("cutting_time_min", "")}


@pytest.fixture
def wearlab(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Wearlab:
    """Run a command in an empty folder: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            run([str(one) for one in arguments])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return call


def log_of(slips: dict[int, tuple[str, str]], order: int = 1) -> str:
    """Three cutters of five looks; a slip is one cell of a file line."""
    names = HEADER.strip().split(",")
    rows = []
    for cutter in ("E1", "E2", "E3"):
        for look in range(1, 6):
            cells = dict(zip(names, (cutter, look, 5 * look, "VB", round(0.03 + 0.02 * look, 2), "mm"), strict=True))
            name, cell = slips.get(len(rows) + 2, ("unit", "mm"))
            rows.append(",".join(str(one) for one in (cells | {name: cell}).values()))
    rows = [row for turn in range(order) for row in rows[turn::order]]
    return HEADER + "\n".join(rows) + "\n"


@pytest.fixture(params=["together", "scattered"])
def both(request, wearlab, monkeypatch) -> Callable[..., tuple[tuple[int, str, str], tuple[int, str, str]]]:
    """The answer on a log as it is, and the answer on the same log checked in chunks."""

    def call(*arguments: object, slips: dict[int, tuple[str, str]] = SLIPS) -> tuple[tuple[int, str, str], ...]:
        Path("log.csv").write_text(log_of(slips, 1 if request.param == "together" else 2), encoding="utf-8")
        small = wearlab("check", "log.csv", *arguments)
        Path("small.csv").unlink(missing_ok=True)
        if Path("log.set-aside.csv").exists():
            Path("log.set-aside.csv").rename("small.csv")
        monkeypatch.setattr(check_large, "FROM_BYTES", 100)
        monkeypatch.setattr("wearlab.logbook.large.SMALL", 100)
        monkeypatch.setattr("wearlab.logbook.large.LARGE", 200)
        monkeypatch.setattr(check_large, "CHUNK_BYTES", 150)
        return small, wearlab("check", "log.csv", *arguments)

    return call


def rows_of(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(Path(name).read_text(encoding="utf-8"))))


def test_counts_exit_code_and_rows_set_aside_are_those_of_a_small_log(both) -> None:
    small, large = both()
    assert small[0] == large[0] == 1
    for out in (small[1], large[1]):
        assert "15 rows read = 11 used + 4 set aside" in out
    assert "rules of doubt" in large[1]
    assert "So too on 1 row more" in large[1]
    assert max(map(len, large[1].splitlines())) <= 80
    ours, theirs = (rows_of(name) for name in ("log.set-aside.csv", "small.csv"))
    assert sorted(ours, key=lambda row: int(row["line"])) == theirs


def test_the_answer_in_json_has_the_same_keys_and_counts(both) -> None:
    small, large = (json.loads(answer[1]) for answer in both("--json"))
    told = large.pop("in_chunks")
    assert set(small) == set(large)
    assert {name: large[name] for name in large if name != "findings"} == {
        name: small[name] for name in small if name != "findings"
    }
    assert [one for one in large["findings"] if one["severity"] == "error"] == [
        one for one in small["findings"] if one["severity"] == "error"
    ]
    assert told["errors"] == 4


def test_every_error_stands_in_the_table(both) -> None:
    both("--csv", "errors.csv", "--force")
    rows = rows_of("errors.csv")
    assert len(rows) == 4
    assert {row["code"] for row in rows} == {"not_a_number", "unknown_unit", "no_clock"}


def test_a_sound_log_leaves_no_file_and_no_error(both) -> None:
    small, large = both(slips={})
    assert small[0] == large[0] == 0
    assert not list(Path().glob("*aside*"))
    assert not [name for name in Path().iterdir() if name.name.startswith(".log")]


def test_another_file_is_not_replaced_unasked(both) -> None:
    Path("kept.csv").write_text("mine", encoding="utf-8")
    _, (code, _, err) = both("--set-aside", "kept.csv")
    assert code == 2
    assert "a file stands there already" in err
    assert Path("kept.csv").read_text(encoding="utf-8") == "mine"
    assert both("--set-aside", "kept.csv", "--force")[1][0] == 1
    assert Path("kept.csv").read_text(encoding="utf-8").startswith("file,line,cutter")


def test_how_far_it_is_shows_while_it_runs(both, monkeypatch) -> None:
    told: list[str] = []
    monkeypatch.setattr(check_large, "step", told.append)
    both()
    assert told[-1] == "checking log.csv: 100 % done"
    assert len(told) > 2


def aside_under(hash_seed: int, log: Path) -> str:
    """Rows set aside from a scattered log, written by a Python of its own."""
    program = (
        "import sys; from wearlab.logbook.large import check_log\n"
        "sys.stdout.reconfigure(newline='')\n"
        "import io; out = io.StringIO(newline='')\n"
        f"assert check_log({str(log)!r}, set_aside=out, chunk_bytes=300).scattered\n"
        "print(out.getvalue())"
    )
    setting = os.environ | {"PYTHONHASHSEED": str(hash_seed)}
    return subprocess.run(
        [sys.executable, "-c", program], env=setting, capture_output=True, text=True, timeout=120, check=True
    ).stdout


def test_a_scattered_log_is_set_aside_in_the_same_order_by_every_python(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = [f"E{cutter},{look},{5 * look},VB,worn,mm" for look in range(1, 4) for cutter in range(12)]
    log.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    first = aside_under(1, log)
    assert first.count("worn") >= len(rows)
    assert first == aside_under(2, log)


def test_its_own_file_is_known_again(both, wearlab) -> None:
    both()
    _, _, err = wearlab("check", "log.csv")
    assert "Unchanged: log.set-aside.csv (4 rows set aside" in err


def test_a_log_that_was_read_as_a_whole_says_so(wearlab, monkeypatch) -> None:
    monkeypatch.setattr(check_large, "FROM_BYTES", 100)
    monkeypatch.setattr(check_large, "CHUNK_BYTES", 150)
    Path("log.csv").write_text("# a shop's remark\n" + log_of(SLIPS), encoding="utf-8")
    code, out, _ = wearlab("check", "log.csv")
    text = " ".join(out.split())
    assert code == 1
    assert "in chunks" not in text
    assert "The log is large; it was read as a whole (not regular: " in text
    assert max(map(len, out.splitlines())) <= 80
    told = json.loads(wearlab("check", "log.csv", "--json", "--force")[1])
    assert "in_chunks" not in told
    assert told["as_a_whole"]["errors"] == 4
    assert "read as a whole" in told["as_a_whole"]["left_out"]


def test_a_plan_that_would_not_be_looked_at_is_refused(wearlab, monkeypatch) -> None:
    monkeypatch.setattr(check_large, "FROM_BYTES", 100)
    Path("log.csv").write_text(log_of({}), encoding="utf-8")
    code, out, err = wearlab("check", "log.csv", "--plan", "log.plan.json")
    assert (code, out) == (2, "")
    assert "--plan: log.csv is too large to be held against a plan" in " ".join(err.split())


@pytest.mark.skipif(os.name == "nt", reason="no umask on this system")
@pytest.mark.parametrize(("mask", "mode"), [(0o077, 0o600), (0o022, 0o644), (0o002, 0o664)])
def test_files_have_the_mode_that_the_umask_gives(both, mask: int, mode: int) -> None:
    before = os.umask(mask)
    try:
        both("--csv", "errors.csv", "--force")
    finally:
        os.umask(before)
    for name in ("small.csv", "log.set-aside.csv", "errors.csv"):
        assert Path(name).stat().st_mode & 0o777 == mode, name
