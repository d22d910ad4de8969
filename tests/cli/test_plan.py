"""`wearlab plan`: screens, JSON, files, exit codes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from wearlab.cli.main import run
from wearlab.plan.example import EXAMPLE

Plan = Callable[..., tuple[int, str, str]]
SMALL = EXAMPLE.replace("# cutters = 6", "cutters = 3")


@pytest.fixture
def plan(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Plan:
    """Run `wearlab plan` in an empty folder with a plan file of three cutters a practice."""
    monkeypatch.chdir(tmp_path)
    Path("small.toml").write_text(SMALL, encoding="utf-8")

    def call(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as stop:
            run(["plan", *map(str, arguments)])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return int(stop.value.code or 0), out, err

    return call


def test_the_example_is_a_plan_file(plan: Plan) -> None:
    code, out, _ = plan("--example")
    assert (code, out) == (0, EXAMPLE)


def test_screen_within_80_columns(plan: Plan) -> None:
    code, out, _ = plan("small.toml")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    for words in (
        "matched by speed and feed per tooth",
        "not equal: mean chip",
        "How many cutters",
        "When to look",
        "drawn by lot",
    ):
        assert words in out
    assert "Nothing was written" in out
    assert list(Path().iterdir()) == [Path("small.toml")]


def test_json_holds_the_published_keys(plan: Plan) -> None:
    code, out, _ = plan("small.toml", "--json")
    found = json.loads(out)
    assert code == 0
    assert found["schema"] == "wearlab.plan/1"
    assert {"runs", "matched", "unmatched", "power", "seed"} <= set(found)
    assert len(found["runs"]) == 6
    assert {"order", "cutter", "strategy", "block", "spindle_rpm", "looks_parts"} <= set(found["runs"][0])
    assert found["power"][0]["outcome"] == "life"
    assert 0 < found["power"][0]["power"] < 1


def test_files_are_written_whole_and_again_the_same(plan: Plan) -> None:
    code, _, err = plan("small.toml", "--out", "trial")
    assert code == 0
    names = sorted(path.name for path in Path("trial").iterdir())
    assert names == [
        "shoulder.bench-sheets.html",
        "shoulder.csv",
        "shoulder.plan.json",
        "shoulder.run-sheet.html",
        "shoulder.study-sheets.html",
        "shoulder.study.csv",
        "shoulder.toml",
        "shoulder.xlsx",
    ]
    assert err.count("Wrote") == 8
    before = {path.name: path.read_bytes() for path in Path("trial").iterdir()}
    code, _, err = plan("trial/shoulder.plan.json", "--out", "trial")
    assert (code, err.count("Unchanged")) == (0, 8)
    assert {path.name: path.read_bytes() for path in Path("trial").iterdir()} == before


def test_nothing_is_written_when_one_file_stands_in_the_way(plan: Plan) -> None:
    Path("trial").mkdir()
    Path("trial/shoulder.study-sheets.html").write_text("mine", encoding="utf-8")
    code, _, err = plan("small.toml", "--out", "trial")
    assert code == 2
    assert "--force" in err
    assert [path.name for path in Path("trial").iterdir()] == ["shoulder.study-sheets.html"]
    assert plan("small.toml", "--out", "trial", "--force")[0] == 0


def test_not_even_force_writes_over_readings(plan: Plan) -> None:
    Path("trial").mkdir()
    log = Path("trial/shoulder.csv")
    log.write_text("cutter,value\nE1,0.12\n", encoding="utf-8")
    code, _, err = plan("small.toml", "--out", "trial", "--force")
    assert code == 2
    assert "holds readings already" in err
    assert log.read_text(encoding="utf-8") == "cutter,value\nE1,0.12\n"


def test_another_seed_draws_another_order(plan: Plan) -> None:
    orders = {
        seed: [one["strategy"] for one in json.loads(plan("small.toml", "--json", "--seed", seed)[1])["runs"]]
        for seed in range(1, 5)
    }
    assert len({tuple(order) for order in orders.values()}) > 1
    plan("small.toml", "--out", "t")
    code, _, err = plan("t/shoulder.plan.json", "--seed", 4)
    assert code == 2
    assert "not drawn again" in err


def test_an_impossible_practice_is_an_answer(plan: Plan) -> None:
    Path("closed.toml").write_text(SMALL.replace('sides = "one"', 'sides = "closed"'), encoding="utf-8")
    code, out, _ = plan("closed.toml")
    assert code == 0
    assert "No answer" in out
    assert "no room for side passes" in " ".join(out.split())
    found = json.loads(plan("closed.toml", "--json")[1])
    assert "side passes" in found["refusal"]["found"]
    assert found["runs"] == []


def test_bad_files_and_arguments_leave_with_2(plan: Plan) -> None:
    assert plan()[0] == 2
    assert plan("none.toml")[0] == 2
    Path("bad.toml").write_text(SMALL.replace("layers = 3", "layer = 3"), encoding="utf-8")
    code, _, err = plan("bad.toml")
    assert code == 2
    assert "Did you mean layers?" in " ".join(err.split())


def test_pilot_log(plan: Plan) -> None:
    from wearlab.logbook.samples import sample_path

    code, out, _ = plan("small.toml", "--pilot", sample_path("shoulder_demo"))
    assert code == 0
    assert "(pilot log:" in out


def test_plan_against_log_and_study(plan: Plan) -> None:
    plan("small.toml", "--out", "trial")
    lines = Path("trial/shoulder.csv").read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    import csv
    import io

    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))[:8]
    for row in rows:
        row |= {"parts": "30", "cutting_time_min": "25.6", "value": "90"}
    out_text = io.StringIO()
    writer = csv.DictWriter(out_text, head, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    Path("trial/shoulder.csv").write_text(out_text.getvalue(), encoding="utf-8")
    code, out, _ = plan("trial/shoulder.plan.json", "--against", "trial/shoulder.csv")
    assert code == 0
    assert "5 planned cutters not in the log" in " ".join(out.split())
    found = json.loads(plan("trial/shoulder.plan.json", "--against", "trial/shoulder.csv", "--json")[1])
    assert {"findings", "costs", "run", "not_run", "plan", "seed", "runs", "changes"} == set(found["against"])
    study = Path("trial/shoulder.study.csv").read_text(encoding="utf-8").splitlines()
    filled = [study[0]] + [
        line.replace(",,um", f",{20 * int(line.split(',')[1][1:]) + (i * 7) % 9},um")
        for i, line in enumerate(study[1:])
    ]
    Path("study.csv").write_text("\n".join(filled), encoding="utf-8")
    code, out, _ = plan("trial/shoulder.plan.json", "--study", "study.csv")
    assert code == 0
    assert "The gauge and this trial" in out
    assert "min of life" in " ".join(out.split())


def test_a_look_is_written_down_or_not_made(plan: Plan) -> None:
    """Before its time nothing is shown and nothing noted; at its time it is shown and noted, once."""
    import importlib.util
    import sys

    import numpy as np

    from wearlab.plan.plan import read_plan

    spec = importlib.util.spec_from_file_location(
        "round_trip_plan", Path(__file__).parents[1] / "bench" / "round_trip_plan.py"
    )
    assert spec is not None
    assert spec.loader is not None
    shop = importlib.util.module_from_spec(spec)
    sys.modules["round_trip_plan"] = shop
    spec.loader.exec_module(shop)
    Path("early.toml").write_text(EXAMPLE.replace("at_blocks = []", "at_blocks = [3]"), encoding="utf-8")
    plan("early.toml", "--out", "trial")
    log, ledger = Path("trial/shoulder.csv"), Path("trial/shoulder.looks.csv")
    rows = shop.fill(
        read_plan("trial/shoulder.plan.json"), shop.Shop(2.0, drop_out=0.0), np.random.default_rng(3)
    )
    rows[rows["block"].isin(["1", "2"])].to_csv(log, index=False)
    code, out, _ = plan("trial/shoulder.plan.json", "--look", log)
    assert code == 0
    assert "the first look is after 3" in " ".join(out.split())
    assert not ledger.exists()
    rows[rows["block"].isin(["1", "2", "3"])].to_csv(log, index=False)
    for _ in range(2):
        code, out, _ = plan("trial/shoulder.plan.json", "--look", log)
        assert code == 0
        assert "Look 1, after 3 blocks" in out
        assert len(ledger.read_text(encoding="utf-8").splitlines()) == 2
    found = json.loads(plan("trial/shoulder.plan.json", "--look", log, "--json")[1])["standing"]
    assert found["look"]["pairs"] == 3
    assert found["written_to"] == "shoulder.looks.csv"
