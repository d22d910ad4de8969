"""The command line: exit codes, messages, files."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from wearlab.cli.main import COMMANDS, run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str, str]]
HEADER = "cutter,cutting_speed_m_min,cutting_time_min,measure,value,unit\n"
SOUND = HEADER + "E1,60,10,VB,0.1,mm\nE1,60,20,VB,0.2,mm\nE1,60,30,VB,0.31,mm\n"


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


def test_no_arguments_tells_a_newcomer_what_to_do(wearlab: Wearlab) -> None:
    code, out, _ = wearlab()
    assert code == 0
    assert "wearlab demo" in out
    assert "wearlab check" in out


def test_help_lists_every_command_within_80_columns(wearlab: Wearlab) -> None:
    code, out, _ = wearlab("--help")
    assert code == 0
    for name in COMMANDS:
        assert f"\n  {name} " in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize("name", list(COMMANDS))
def test_each_help_has_a_worked_example(wearlab: Wearlab, name: str) -> None:
    code, out, _ = wearlab(name, "--help")
    assert code == 0
    assert "Example" in out
    assert f"wearlab {name}" in out


def test_mistyped_command_gets_a_suggestion(wearlab: Wearlab) -> None:
    code, _, err = wearlab("comapre")
    assert code == 2
    assert "Did you mean compare?" in err


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["life", "{log}", "--criterion", "VB=0.3"], "a limit without a unit"),
        (["life", "{log}", "--criterion", "VX=0.3mm"], "measure 'VX'"),
        (["life", "{log}", "--criterion", "rubbish"], "is no criterion"),
        (["life", "{log}", "--clock", "hours"], "clock 'hours'"),
        (["life", "{log}", "--clock", "parts"], "does not hold the clock 'parts'"),
        (["fit", "{log}", "--factors", "cuting_speed"], "no column 'cuting_speed'"),
        (["fit", "{log}", "--hold", "n=abc"], "--hold"),
        (["compare", "{log}", "--only", "strategy"], "--only"),
        (["check", "missing.csv"], "no such file"),
        (["check", "{folder}"], "a folder without a log"),
    ],
)
def test_bad_arguments_exit_2_and_say_what_is_allowed(
    wearlab: Wearlab, tmp_path: Path, arguments: list[str], message: str
) -> None:
    log = tmp_path / "log.csv"
    log.write_text(SOUND)
    (tmp_path / "empty").mkdir()
    code, out, err = wearlab(*[one.format(log=log, folder=tmp_path / "empty") for one in arguments])
    assert code == 2
    assert message in " ".join(err.split())
    assert out == ""


def test_refusal_is_an_answer(wearlab: Wearlab) -> None:
    code, out, _ = wearlab("fit", sample_path("nasa_milling"), "--criterion", "VB=0.3mm")
    assert code == 0
    text = " ".join(out.split())
    assert "No answer: Taylor exponent: speed never varied: 826 rev/min in every cutter" in text


def test_errors_in_the_log_exit_1_and_rows_go_aside(wearlab: Wearlab, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(SOUND + "E1,60,40,VB,oops,mm\n")
    code, out, err = wearlab("check", log)
    assert code == 1
    assert "4 rows read = 3 used + 1 set aside" in out
    aside = (tmp_path / "log.set-aside.csv").read_text()
    assert "oops" in aside
    assert "not_a_number" in aside
    assert "log.set-aside.csv" in err
    assert wearlab("check", log)[0] == 1, "a second look is no failure"


def test_a_corrected_file_is_handed_back(wearlab: Wearlab, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(SOUND + "E1,60,40,VB,oops,mm\n")
    wearlab("check", log)
    aside = tmp_path / "log.set-aside.csv"
    fixed = tmp_path / "fixed.csv"
    fixed.write_text(aside.read_text().replace(",oops,", ",0.42,", 1))
    code, out, _ = wearlab("check", log, "--corrected", fixed, "--initials", "A.B.")
    assert code == 0
    assert "4 rows read = 4 used + 0 set aside; 1 correction applied" in " ".join(out.split())
    assert "4 rows read, 4 used" in wearlab("life", log, "--criterion", "VB=0.4mm")[1]
    assert "oops" in log.read_text(), "the log stays as it was typed"
    code, _, err = wearlab("check", log, "--corrected", aside)
    assert code == 2
    assert "was not set aside" in " ".join(err.split()) or "nothing in it was changed" in " ".join(err.split())


def test_a_log_is_held_against_its_plan(wearlab: Wearlab, tmp_path: Path) -> None:
    code, example, _ = wearlab("plan", "--example")
    assert code == 0
    (tmp_path / "mine.toml").write_text(example)
    assert wearlab("plan", "mine.toml", "--out", "trial")[0] == 0
    logs = [path for path in (tmp_path / "trial").glob("*.csv") if "study" not in path.name]
    log = next(path for path in logs if path.with_suffix(".plan.json").exists())
    code, out, _ = wearlab("check", log)
    assert "Against the plan" in out
    assert json.loads(wearlab("check", log, "--json")[1])["against_plan"]["not_run"]


def test_strict_turns_warnings_into_exit_1(wearlab: Wearlab) -> None:
    assert wearlab("check", sample_path("nasa_milling"))[0] == 0
    assert wearlab("check", sample_path("nasa_milling"), "--strict")[0] == 1


def test_nothing_is_written_over_without_force(wearlab: Wearlab, tmp_path: Path) -> None:
    there = tmp_path / "lives.csv"
    there.write_text("mine")
    log = sample_path("groover_coated")
    code, _, err = wearlab("life", log, "--criterion", "VB=0.75mm", "--csv", there)
    assert code == 2
    assert "--force" in err
    assert there.read_text() == "mine"
    assert wearlab("life", log, "--criterion", "VB=0.75mm", "--csv", there, "--force")[0] == 0
    assert there.read_text().startswith("cutter,criterion")


def test_published_taylor_examples_by_command(wearlab: Wearlab) -> None:
    """T01: Groover, Fundamentals of Modern Manufacturing, example on tool life (from memory): n 0.223, C 229.
    T06: P. C. Sharma, A Textbook of Production Engineering, Exa 14.7 (seen in an open companion): 0.224, 68.4, 27.37.
    """
    for name, expected in (("taylor_T01", {"n": (0.223, 5e-4), "C": (229, 0.5)}),
                           ("taylor_T06", {"n": (0.224, 5e-4), "C": (68.4, 0.05), "v60": (27.37, 0.01)})):  # fmt: skip
        made = json.loads(wearlab("fit", sample_path(name), "--json")[1])
        found = {one["name"]: one for one in made["parameters"]}
        for constant, (value, tolerance) in expected.items():
            assert found[constant]["estimate"] == pytest.approx(value, abs=tolerance)
            assert found[constant]["low"] is None
            assert "nothing is left to judge the scatter by" in found[constant]["why_missing"]


def test_life_at_a_speed_with_a_held_exponent(wearlab: Wearlab) -> None:
    """T05: P. C. Sharma, A Textbook of Production Engineering, Exa 14.1 (seen in an open companion): 18 min."""
    log = sample_path("taylor_T05")
    refused = wearlab("fit", log, "--hold", "n=0.125", "--at", "cutting_speed=24")
    assert refused[0] == 0
    assert "No answer" in refused[1]
    made = json.loads(wearlab("fit", log, "--hold", "n=0.125", "--at", "cutting_speed=24", "--beyond", "--json")[1])
    answer = made["predictions"][0]
    assert answer["life"] == pytest.approx(18.02, abs=0.005)
    assert answer["tested"] is False
    assert answer["brand"].startswith("not tested")


def test_wear_curve_to_taylor_by_command(wearlab: Wearlab) -> None:
    """T03: Groover, 5th ed., problem in ch. 22: lives 20.4 and 10.0 min at 0.75 mm, n 0.614, C 637 (from memory)."""
    log = sample_path("groover_coated")
    lives = json.loads(wearlab("life", log, "--criterion", "VB=0.75mm", "--clock", "min", "--json")[1])["lives"]
    assert [one["life"] for one in lives] == pytest.approx([20.417, 10.0], abs=0.001)
    assert [(one["bracket_low"], one["bracket_high"]) for one in lives] == [(20, 25), (9, 11)]
    made = json.loads(wearlab("fit", log, "--criterion", "VB=0.75mm", "--json")[1])
    found = {one["name"]: one["estimate"] for one in made["parameters"]}
    assert found["n"] == pytest.approx(0.614, abs=5e-4)
    assert found["C"] == pytest.approx(637.29, abs=0.01)


def test_help_starts_without_heavy_libraries() -> None:
    code = (
        "import sys\nfrom wearlab.cli.main import run\n"
        "try:\n    run(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'pandas', 'numpy', 'scipy', 'matplotlib', 'statsmodels', 'sklearn', 'seaborn', 'pandera'}\n"
        "sys.exit(len(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0


def test_a_closed_pipe_is_no_failure() -> None:
    log = sample_path("shoulder_demo")
    command = f"set -o pipefail; {sys.executable} -m wearlab life {log} --clock min | head -n 1"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert "Traceback" not in done.stderr
    assert "BrokenPipe" not in done.stderr


def test_what_to_type_next_can_be_typed_where_the_name_has_a_space(wearlab: Wearlab, tmp_path: Path) -> None:
    (tmp_path / "my trial.csv").write_text(SOUND + "E1,60,40,VB,worn,mm\n", encoding="utf-8")
    _, out, _ = wearlab("check", "my trial.csv")
    lines = [line.strip() for line in out.splitlines()]
    assert "wearlab life 'my trial.csv'" in lines
    assert "wearlab report 'my trial.csv'" in lines
    assert "wearlab check 'my trial.csv' --corrected 'my trial.set-aside.csv' --initials A.B." in lines


def test_the_help_says_which_commands_write_json_and_csv(wearlab: Wearlab) -> None:
    _, out, _ = wearlab("--help")
    assert "all but `blank` take --json and --csv FILE" in " ".join(out.split())
    for name in COMMANDS:
        _, text, _ = wearlab(name, "--help")
        assert ("--json" in text and "--csv FILE" in text) == (name != "blank"), name
        assert "Example" in text, name


@pytest.mark.parametrize("command", ["wear", "life", "fit", "wall", "compare", "decide", "report", "card", "exposure"])
@pytest.mark.parametrize(("typed", "shown"), [("0.5", "0.5"), ("0", "0"), ("0.2", "0.2"), ("1", "1"), ("nan", "nan")])
def test_a_level_that_cannot_be_is_named_as_typed(wearlab: Wearlab, command: str, typed: str, shown: str) -> None:
    code, out, err = wearlab(command, "log.csv", "--level", typed)
    assert (code, out) == (2, "")
    assert f"--level: confidence level {shown}; allowed: above 0.5 and below 1" in " ".join(err.split())


def test_a_level_in_per_cent_gets_its_fraction(wearlab: Wearlab) -> None:
    _, _, err = wearlab("compare", "log.csv", "--level", "95")
    assert "0.95 for 95 %" in " ".join(err.split())
