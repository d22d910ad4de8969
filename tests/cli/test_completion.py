"""The Tab key: what is offered, in the shell itself where there is one."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from wearlab.cli.completion import SHELLS, script
from wearlab.cli.main import COMMANDS, app
from wearlab.logbook.samples import sample_path

DEMO = str(sample_path("shoulder_demo"))


def offered(*words: str) -> list[str]:
    """What stands behind the words typed so far, the last of them unfinished."""
    complete = ShellComplete(app, {}, "wearlab", "_WEARLAB_COMPLETE")
    return [one.value for one in complete.get_completions(list(words[:-1]), words[-1])]


def test_commands_in_the_order_of_the_job() -> None:
    assert offered("") == list(COMMANDS)
    assert offered("co") == ["compare"]


def test_options_of_a_command() -> None:
    assert offered("life", DEMO, "--cl") == ["--clock"]
    assert offered("compare", DEMO, "--units", "") == ["metric", "inch"]


def test_words_that_stand_in_the_log() -> None:
    assert offered("compare", DEMO, "--standard", "") == ["layered", "side"]
    assert offered("compare", DEMO, "--by", "cutter_material", "--standard", "") == ["carbide"]
    assert "strategy" in offered("compare", DEMO, "--by", "str")
    assert offered("compare", DEMO, "--by", "ramp_angle") == [], "a column that this log does not hold"
    assert offered("fit", DEMO, "--factors", "strategy,cutting_sp") == ["strategy,cutting_speed_m_min"]
    assert offered("life", DEMO, "--clock", "p") == ["parts"]


def test_criteria_of_the_trial_file_and_the_usual_ones_without(tmp_path: Path) -> None:
    assert "roughing" in offered("life", DEMO, "--criterion", "")
    assert offered("life", str(tmp_path / "none.csv"), "--criterion", "VB") == ["VB.mean=0.3mm", "VB.worst=0.5mm"]


def test_a_log_that_cannot_be_read_offers_every_column(tmp_path: Path) -> None:
    assert offered("compare", str(tmp_path / "none.csv"), "--by", "ramp") == ["ramp_angle_deg"]
    assert offered("compare", str(tmp_path / "none.csv"), "--standard", "") == []
    odd = tmp_path / "odd.csv"
    odd.write_bytes(b"\x00\xff\xfe,\"\n\x00")
    assert offered("compare", str(odd), "--by", "ramp") == ["ramp_angle_deg"]


@pytest.mark.parametrize("shell", list(SHELLS))
def test_the_script_is_printed_with_the_line_that_turns_it_on(shell: str) -> None:
    text = script(shell)
    assert text.startswith(f"# {SHELLS[shell]}\n")
    assert "_WEARLAB_COMPLETE" in text


def program_in(folder: Path) -> None:
    """A `wearlab` for the shell to find."""
    program = folder / "wearlab"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "from wearlab.cli.main import run; run()" "$@"\n')
    program.chmod(0o755)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash on this machine")
def test_bash_completes_a_command(tmp_path: Path) -> None:
    """In bash itself: the script is read, the Tab key is pressed after `wearlab com` and after `--standard `."""
    program_in(tmp_path)
    press = (
        'eval "$(wearlab --completion bash)"\n'
        "for line in 'wearlab com' \"wearlab compare $DEMO --standard s\"; do\n"
        '  COMP_WORDS=($line); COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); COMPREPLY=()\n'
        '  _wearlab_completion wearlab; echo "${COMPREPLY[@]}"\n'
        "done\n"
        "complete -p wearlab\n"
    )
    setting = os.environ | {"PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}", "DEMO": DEMO}
    done = subprocess.run(
        ["bash", "--norc", "-c", press], env=setting, capture_output=True, text=True, timeout=120, check=False
    )
    told = ["compare", "side", "complete -o nosort -F _wearlab_completion wearlab"]
    assert done.stdout.splitlines() == told, done.stderr


CELLS = ("high feed", "$(touch made)", "`touch made`", "a*", "[ab]1", "it's", "x;touch made", "a\x07b", "a\nplain,b",
         "größer", "+(a)1", "~", "slow-2.5%")  # fmt: skip
SAFE = ["high feed", "größer", "slow-2.5%"]


def odd_log(folder: Path) -> Path:
    """A log whose groups have names that a shell would take for something else."""
    log = folder / "odd.csv"
    with log.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["cutter", "strategy"], *(["E1", cell] for cell in CELLS)])
    return log


def test_words_that_a_shell_would_take_otherwise_are_not_offered(tmp_path: Path) -> None:
    log = str(odd_log(tmp_path))
    assert offered("compare", log, "--standard", "") == SAFE, "zsh and fish quote for themselves"
    assert offered("compare", log, "--standard", "$") == []
    assert offered("fit", log, "--factors", "$(touch made),cutting_sp") == []
    assert offered("fit", log, "--factors", "strategy,strat") == ["strategy,strategy"]


def test_an_open_quote_is_not_quoted_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    log = str(odd_log(tmp_path))
    monkeypatch.setenv("_WEARLAB_COMPLETE", "bash_complete")
    monkeypatch.setenv("COMP_CWORD", "4")
    for typed, told in (("h", "'high feed'"), ("'h", "high feed"), ('"h', "high feed")):
        monkeypatch.setenv("COMP_WORDS", f"wearlab\ncompare\n{log}\n--standard\n{typed}")
        assert offered("compare", log, "--standard", "h") == [told]


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash on this machine")
def test_bash_gets_one_safe_word_for_each_cell(tmp_path: Path) -> None:
    """In bash itself, in a folder with files that patterns would find; each word is then read as bash reads a line."""
    program_in(tmp_path)
    odd_log(tmp_path)
    for name in ("a1", "a2", "b1"):
        (tmp_path / name).touch()
    press = (
        'eval "$(wearlab --completion bash)"; shopt -s extglob\n'
        "COMP_WORDS=(wearlab compare odd.csv --standard ''); COMP_CWORD=4; COMPREPLY=()\n"
        "_wearlab_completion wearlab\n"
        'for word in "${COMPREPLY[@]}"; do eval "set -- $word"; echo "$#|$1"; done\n'
    )
    setting = os.environ | {"PATH": f"{tmp_path}{os.pathsep}{os.environ['PATH']}", "PYTHONUTF8": "1"}
    done = subprocess.run(
        ["bash", "--norc", "-c", press], cwd=tmp_path, env=setting, capture_output=True, encoding="utf-8", timeout=120,
        check=False,
    )  # fmt: skip
    assert done.stdout.splitlines() == [f"1|{word}" for word in SAFE], done.stderr
    assert not (tmp_path / "made").exists()
