"""What a terminal shows: examples that run, 80 columns, a line while one waits, colour that nothing hangs on."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pandas as pd
import pytest

from wearlab.cli import screen
from wearlab.cli.main import COMMANDS, run
from wearlab.logbook.samples import sample_path
from wearlab.simulate.dirty import plant, slip_names

Wearlab = Callable[..., tuple[int, str, str]]
NASA, DEMO = sample_path("nasa_milling"), sample_path("shoulder_demo")
COSTS = ("machine_per_min=1", "change_min=5", "scrap=20", "failure=50", "edge_price=30")


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


def examples(name: str, text: str) -> Iterator[list[str]]:
    """Command lines in a help text, each as words; a line that ends in a backslash goes on."""
    joined = re.sub(r"\\\n\s*", "", text)
    for line in joined.splitlines():
        if line.strip().startswith(f"wearlab {name} "):
            yield shlex.split(line.strip().split(" > ")[0])[1:]


def set_out(folder: Path, wearlab: Wearlab, words: list[str]) -> None:
    """The files that the examples speak of, in an empty folder."""
    whole = "work_material" in " ".join(words) and "--slopes-by" not in words
    shutil.copy(NASA if whole else DEMO, folder / "trial.csv")
    if not whole and "one_life.csv" not in words:
        shutil.copy(DEMO.with_suffix(".toml"), folder / "trial.toml")
    shutil.copy(sample_path("taylor_T05"), folder / "one_life.csv")
    if "--corrected" in words:
        text = (folder / "trial.csv").read_text(encoding="utf-8")
        lines = text.splitlines()
        lines[5] = lines[5].replace(",mm", ",oops", 1)
        (folder / "trial.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        wearlab("check", "trial.csv")
        aside = folder / "trial.set-aside.csv"
        aside.write_text(aside.read_text(encoding="utf-8").replace("oops", "mm"), encoding="utf-8")
    if "--study" in words:
        rows = [f"{part},{who},{120 + 20 * part + (3 * part + 2 * who + again) % 4},um"
                for part in range(8) for who in range(3) for again in (0, 1)]  # fmt: skip
        (folder / "gauge.csv").write_text("part,operator,value,unit\n" + "\n".join(rows) + "\n", encoding="utf-8")
    if "--follow" in words:
        table = pd.read_csv(DEMO, dtype=str, keep_default_na=False)
        table[table["strategy"] == "side"].to_csv(folder / "service.csv", index=False)
        shutil.copy(DEMO.with_suffix(".toml"), folder / "service.toml")
    if words[0] == "report":  # a small log: what is shown here is that the line runs
        table = pd.read_csv(DEMO, dtype=str, keep_default_na=False)
        few = table["cutter"].isin(["E1", "E2", "E3", "E4", "E6", "E8"]) & (table["zone"] == "lower")
        table[few].to_csv(folder / "trial.csv", index=False)
    if words[0] == "plan" and "--example" not in words:
        (folder / "shoulder.toml").write_text(wearlab("plan", "--example")[1], encoding="utf-8")
        if "shoulder.plan.json" in " ".join(words):
            wearlab("plan", "shoulder.toml", "--out", "trial")


@pytest.mark.parametrize("name", list(COMMANDS))
def test_every_worked_example_of_the_help_runs(name: str, wearlab: Wearlab, tmp_path: Path) -> None:
    text = wearlab(name, "--help")[1]
    assert max(map(len, text.splitlines())) <= 80
    found = list(examples(name, text))
    assert found, "a help without a worked example"
    for at, words in enumerate(found):
        folder = tmp_path / f"example{at}"
        folder.mkdir()
        os.chdir(folder)
        set_out(folder, wearlab, words)
        code, out, err = wearlab(*words)
        assert code == 0, f"wearlab {shlex.join(words)}: {out[-300:]} {err}"
        assert "No answer" not in out, f"wearlab {shlex.join(words)}: {out}"


SCREENS = [
    *[(name, log, ()) for name in ("check", "wear", "life", "fit", "wall", "exposure", "compare")
      for log in (DEMO, NASA)],
    ("decide", NASA, ("--by", "work_material", *[word for cost in COSTS for word in ("--cost", cost)])),
    ("compare", NASA, ("--by", "work_material")),
    ("compare", NASA, ("--by", "feed_per_rev_mm", "--units", "inch")),
    ("life", DEMO, ("--units", "inch", "--flutes", "--clock", "min")),
    ("fit", NASA, ("--criterion", "VB=0.3mm", "--factors", "feed_per_rev,axial_depth,work_material", "--judge")),
]  # fmt: skip


@pytest.mark.parametrize(("name", "log", "more"), SCREENS, ids=lambda one: getattr(one, "stem", None))
def test_every_screen_keeps_to_80_columns(
    wearlab: Wearlab, tmp_path: Path, name: str, log: Path, more: tuple[str, ...]
) -> None:
    shutil.copy(log, tmp_path / "trial.csv")
    if log.with_suffix(".toml").exists():
        shutil.copy(log.with_suffix(".toml"), tmp_path / "trial.toml")
    code, out, err = wearlab(name, "trial.csv", *more)
    assert code == 0
    for line in (out + err).splitlines():
        assert len(line) <= 80, line
        assert line == line.rstrip(), "blanks at the end of a line"
    assert "\x1b" not in out + err, "no colour where nobody looks"
    assert not re.search(r"\bnan\b|\binf\b|None|\bTrue\b|\bFalse\b", out), "a word of the program's own"


@pytest.mark.parametrize("slip", slip_names()[::4])
def test_a_log_with_a_slip_is_read_at_80_columns_and_says_what_to_do(
    wearlab: Wearlab, tmp_path: Path, slip: str
) -> None:
    shutil.copy(DEMO.with_suffix(".toml"), tmp_path / "trial.toml")
    (tmp_path / "trial.csv").write_text(plant(DEMO.read_text(encoding="utf-8"), slip, rng=1).text(), encoding="utf-8")
    code, out, err = wearlab("check", "trial.csv")
    assert code in (0, 1)
    assert max(map(len, (out + err).splitlines())) <= 80
    assert "Next:" in out
    if code == 1:
        assert "--corrected trial.set-aside.csv" in out


def test_a_missing_log_is_answered_with_how_to_name_or_make_one(wearlab: Wearlab) -> None:
    for name in ("check", "life", "report", "card"):
        code, _, err = wearlab(name)
        assert code == 2
        told = " ".join(err.split())
        assert f"`wearlab {name} trial.csv`" in told
        assert "wearlab blank" in told
    code, _, err = wearlab("check", "--set-aside")
    assert code == 2
    assert "requires an argument" in err


class TestTables:
    def test_squeezed_remarks_stand_under_the_table(self, capsys: pytest.CaptureFixture[str]) -> None:
        long = "the limit was not reached before the trial ended, and nobody knows when it would have been"
        frame = pd.DataFrame({"cutter": [f"E{i}" for i in range(6)], "life": 1.5, "why": ["", long] * 3})
        screen.table(frame, [("cutter", "cutter"), ("life", "a heading that is rather long"), ("why", "remark")])
        out = capsys.readouterr().out
        assert out.count("(1)") == 4
        assert out.count("the limit was not reached") == 1
        assert max(map(len, out.splitlines())) <= 80

    def test_remarks_that_fit_stay_where_they_are(self, capsys: pytest.CaptureFixture[str]) -> None:
        frame = pd.DataFrame({"cutter": ["E1", "E2"], "why": ["", "chipped"]})
        screen.table(frame, [("cutter", "cutter"), ("why", "remark")])
        assert "(1)" not in capsys.readouterr().out

    def test_a_text_column_without_a_text_is_left_out(self, capsys: pytest.CaptureFixture[str]) -> None:
        frame = pd.DataFrame({"cutter": ["E1"], "zone": [""], "life": [float("nan")]})
        screen.table(frame, [("cutter", "cutter"), ("zone", "zone"), ("life", "life")])
        out = capsys.readouterr().out
        assert "zone" not in out
        assert "life" in out, "a number that is missing is said"


def on_a_terminal(code: str, setting: dict[str, str] | None = None, seconds: float = 60.0) -> str:
    """What a program writes on a terminal of its own."""
    pty = pytest.importorskip("pty", reason="no terminals on this system")
    parent, child = pty.openpty()
    done = subprocess.Popen(
        [sys.executable, "-c", code], stdin=child, stdout=child, stderr=child, env=os.environ | (setting or {})
    )
    os.close(child)
    parts, until = [], time.monotonic() + seconds
    try:
        while time.monotonic() < until:
            part = os.read(parent, 65536)
            if not part:
                break
            parts.append(part)
    except OSError:  # the other side has gone
        pass
    finally:
        done.wait(timeout=30)
        os.close(parent)
    return b"".join(parts).decode("utf-8", errors="replace")


SLOW = """
import sys, time
from wearlab.cli import waiting
with waiting.waiting("wearlab is working"):
    time.sleep(1.3)
    waiting.step("Drawing the report")
    time.sleep(0.7)
    print("the answer")
    time.sleep(0.8)
"""


def test_after_a_second_a_terminal_says_what_is_being_done_and_clears_it() -> None:
    seen = on_a_terminal(SLOW)
    assert "wearlab is working, 1 s" in seen
    assert "Drawing the report, 2 s" in seen
    before, _, after = seen.partition("the answer")
    assert before.endswith("\r" + " " * len("Drawing the report, 2 s") + "\r"), "the line is gone before the answer"
    assert "Drawing" not in after, "and does not come back"


def test_nothing_is_said_where_nobody_looks() -> None:
    done = subprocess.run([sys.executable, "-c", SLOW], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout == "the answer\n"
    assert done.stderr == ""


def test_colour_is_on_a_terminal_alone_and_can_be_turned_off() -> None:
    code = f"from wearlab.cli.main import run; run(['check', {str(sample_path('groover_coated'))!r}])"
    waited = re.compile(r"\r[^\r\n]*(?=\r[^\n])|\r(?=[^\r\n])")
    coloured, plain = (waited.sub("", on_a_terminal(code, one)) for one in ({}, {"NO_COLOR": "1"}))
    marks = re.compile(r"\x1b\[[0-9;]*m")
    assert marks.search(coloured)
    assert not marks.search(plain)
    assert marks.sub("", coloured) == plain, "nothing is said by colour alone"


class TestOwnWords:
    """A log in a shop's own header words, not yet mapped."""

    ROWS = "W1;side;60;10;0,10;mm\nW1;side;60;20;0,17;mm\nW1;side;60;30;0,26;mm\n"

    def test_a_header_without_a_known_word_is_shown_with_how_to_map_it(self, wearlab: Wearlab, tmp_path: Path) -> None:
        """`side` is a column, and a practice as well: a row of readings is no header."""
        (tmp_path / "mill.csv").write_text("Werkzeug;Weg;v;Zeit;Land;Einheit\n" + self.ROWS)
        code, _, err = wearlab("check", "mill.csv")
        assert code == 2
        told = " ".join(err.split())
        assert "Werkzeug, Weg, v, Zeit, Land, Einheit" in told
        assert "mill.toml" in told
        assert '"Werkzeug" = "cutter"' in told

    def test_lines_to_copy_make_it_a_log(self, wearlab: Wearlab, tmp_path: Path) -> None:
        (tmp_path / "mill.csv").write_text("Werkzeug;strategy;v;Zeit;Land;Einheit\n" + self.ROWS)
        code, out, _ = wearlab("check", "mill.csv")
        assert code == 1
        assert "Wanted: cutter, cutting_time_min, measure, unit, value" in " ".join(out.split())
        lines = out[out.index("  [columns]") :].splitlines()
        meant = {"Werkzeug": "cutter", "v": "cutting_speed_m_min", "Zeit": "cutting_time_min", "Land": "value",
                 "Einheit": "unit"}  # fmt: skip
        filled = [line.replace('""', f'"{meant[line.split(chr(34))[1]]}"') if "=" in line else line for line in lines]
        (tmp_path / "mill.toml").write_text("\n".join(line.strip() for line in filled))
        log = (tmp_path / "mill.csv").read_text()
        header, *rows = log.splitlines()
        (tmp_path / "mill.csv").write_text("\n".join([header + ";measure", *(row + ";VB" for row in rows)]))
        code, out, _ = wearlab("check", "mill.csv")
        assert code == 0
        assert "3 rows read = 3 used + 0 set aside" in out
