"""What the README tells a stranger to type: the Python runs, the trial files are understood, commands are answered."""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from pathlib import Path

import pytest

import wearlab
from wearlab.cli.main import COMMANDS, run
from wearlab.logbook.settings import settings_from

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_the_python_runs() -> None:
    found = blocks("python")
    assert found
    for block in found:
        names: dict[str, object] = {}
        exec(compile(block, "README.md", "exec"), names)
        assert isinstance(names["trial"], wearlab.Trial)


def test_the_trial_files_are_understood() -> None:
    found = blocks("toml")
    assert len(found) >= 2
    for block in found:
        settings = settings_from(tomllib.loads(block), Path("README.toml"))
        assert settings.given


def test_the_commands_of_the_shop_manager_are_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copy(wearlab.sample_path("shoulder_demo"), "mine.csv")
    shutil.copy(wearlab.sample_path("shoulder_demo").with_suffix(".toml"), "mine.toml")
    lines = [shlex.split(line, comments=True) for block in blocks("sh") for line in block.splitlines()]
    typed = [line for line in lines if line[:1] == ["wearlab"] and "mine.csv" in line]
    assert {line[1] for line in typed} == {"decide", "card"}
    for line in typed:
        with pytest.raises(SystemExit) as stop:
            run(line[1:])
        out = capsys.readouterr().out
        assert not stop.value.code
        assert "No answer" not in out


def test_every_command_and_no_other_is_named() -> None:
    named = set(re.findall(r"(?:^|[`.]|bin/)wearlab ([a-z]+)\b", README, re.MULTILINE))
    assert named == set(COMMANDS)


def test_the_smallest_log_is_read(tmp_path: Path) -> None:
    block = re.search(r"^cutter,cutting_speed_m_min,.*?(?=^```)", README, re.MULTILINE | re.DOTALL)
    assert block is not None
    (tmp_path / "small.csv").write_text(block[0], encoding="utf-8")
    assert wearlab.read_log(tmp_path / "small.csv").counts.rows_used == 2


def test_the_one_line_commands_stand_under_their_marks() -> None:
    """`.ci/run` takes them from here."""
    for mark, end in (("demo-command", "wearlab demo"), ("test-command", "pytest -q -n 2")):
        after = README.split(f"<!-- {mark} -->\n```sh\n")[1].split("\n```")[0]
        assert "\n" not in after
        assert after.endswith(end)
