"""`wearlab decide`: screen, JSON, refusals, follow-up."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from wearlab.cli.main import run
from wearlab.logbook.samples import sample_path

Wearlab = Callable[..., tuple[int, str, str]]
DEMO = str(sample_path("shoulder_demo"))
FAST = ("--draws", 300)
STATISTICS = (
    "interval of confidence", "confidence", "probability", "posterior", "p-value", "significan", "median",
    "standard deviation", "lognormal", "weibull", "percentile", "null", "credible",
)  # fmt: skip


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


@cache
def screen_of(*arguments: object) -> str:
    """What `decide` prints on the invented trial; each screen made once."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), pytest.raises(SystemExit) as stop:
        run(["decide", DEMO, *map(str, FAST), *map(str, arguments)])
    assert not stop.value.code
    return out.getvalue()


class TestScreen:
    def test_the_first_screen_answers_and_uses_no_statistics_word(self) -> None:
        out = screen_of()
        top = "\n".join(out.splitlines()[:14])
        assert "Run side:" in top
        assert "Change the cutter every" in top
        assert "Stop testing." in top
        for word in STATISTICS:
            assert word not in out.lower()
        assert max(map(len, out.splitlines())) <= 80

    def test_no_chance_above_99_of_100(self) -> None:
        out = screen_of("--draws", 4000)
        assert "99 of 100" in out
        assert "100 of 100" not in out

    def test_speeds_that_were_not_tested_say_so(self) -> None:
        out = screen_of()
        text = " ".join(out.split())
        assert "(not tested: 70 m/min only was)" in text
        assert "(not tested: 55 m/min to 105 m/min was)" in text

    def test_a_limit_of_the_maker(self) -> None:
        out = screen_of("--speed-limit", 60)
        assert "above the limit of 60 m/min" in " ".join(out.split())

    def test_inches_convert_what_is_printed(self) -> None:
        out = screen_of("--units", "inch", "--look-every", 10)
        assert "sfm" in out
        assert "a in³" in out
        assert "thou" in out
        assert "m/min" not in out

    def test_fractures_and_assumptions_are_said(self) -> None:
        out = screen_of()
        text = " ".join(out.split())
        assert "side: 1 of 6 cutters chipped or broke" in text
        assert "thrown away" in text
        assert "left out" in text


class TestJson:
    def test_keys_of_the_contract(self) -> None:
        out = screen_of("--json", "--look-every", 10)
        facts = json.loads(out)
        assert facts["schema"] == "wearlab.decide/1"
        keys = {"group", "cost_per_cm3", "cost_per_part", "low", "high", "chance_best", "expected_loss",
                "change_interval"}  # fmt: skip
        assert keys <= set(facts["practices"][0])
        assert {"more", "worth", "cost", "pays"} <= set(facts["worth_of_more"][0])
        assert facts["choice"] == "side"
        assert facts["conditions"][1]["rule"]["change_at"] < 0.2
        assert "follow" not in facts

    def test_a_refusal_is_an_answer(self, wearlab: Wearlab) -> None:
        nasa = str(sample_path("nasa_milling"))
        code, out, _ = wearlab("decide", nasa, "--criterion", "VB=0.3mm", "--by", "work_material", "--json")
        assert code == 0
        facts = json.loads(out)
        assert "machine_per_min" in facts["refusal"]["found"]
        assert facts["practices"] == []

    def test_csv_is_one_row_a_practice(self, wearlab: Wearlab, tmp_path: Path) -> None:
        wearlab("decide", DEMO, *FAST, "--csv", "table.csv")
        rows = (tmp_path / "table.csv").read_text(encoding="utf-8").splitlines()
        assert len(rows) == 3
        assert "chance_best" in rows[0]


class TestCosts:
    def test_missing_costs_are_asked_for_on_the_screen(self, wearlab: Wearlab) -> None:
        nasa = sample_path("nasa_milling")
        code, out, _ = wearlab("decide", nasa, "--criterion", "VB=0.3mm", "--by", "work_material")
        assert code == 0
        text = " ".join(out.split())
        assert "No answer: costs: not stated: machine_per_min" in text
        assert "change_min" in text
        assert "failure" in text

    def test_a_cost_beside_the_file_counts(self, wearlab: Wearlab) -> None:
        _, plain, _ = wearlab("decide", DEMO, *FAST, "--json")
        _, dear, _ = wearlab("decide", DEMO, *FAST, "--json", "--cost", "machine_per_min=2.4")
        money = [json.loads(text)["practices"][0]["items"]["machine"] for text in (plain, dear)]
        assert money[1] == pytest.approx(2 * money[0])

    @pytest.mark.parametrize(("word", "message"), [("failure", "NAME=VALUE"), ("failur=1", "Did you mean failure?")])
    def test_a_bad_cost_exits_2(self, wearlab: Wearlab, word: str, message: str) -> None:
        code, _, err = wearlab("decide", DEMO, *FAST, "--cost", word)
        assert code == 2
        assert message in " ".join(err.split())


SERVICE = "cutter,strategy,parts,measure,value,unit,end_reason\n"


def service(tmp_path: Path, ends: list[tuple[int, str]]) -> Path:
    path = tmp_path / "service.csv"
    rows = []
    for i, (parts, why) in enumerate(ends):
        rows.append(f"M{i},side,{parts}," + (f"end,,,{why}" if why else "VB,,mm,"))
    path.write_text(SERVICE + "\n".join(rows) + "\n", encoding="utf-8")
    return path


class TestFollow:
    def test_a_good_record_holds(self, wearlab: Wearlab, tmp_path: Path) -> None:
        path = service(tmp_path, [(80, "budget")] * 10 + [(60, "")])
        code, out, _ = wearlab("decide", DEMO, *FAST, "--follow", path, "--interval", 80)
        text = " ".join(out.split())
        assert code == 0
        assert "does the interval of 80 parts still hold?" in text
        assert "0 of 10 changed cutters failed before their 80 parts" in text
        assert "No alarm" in text
        assert "falsely in" in text
        assert "Cutter M10, in the spindle with 60 parts done" in text
        assert "The interval still holds." in text

    def test_a_bad_record_is_heard(self, wearlab: Wearlab, tmp_path: Path) -> None:
        path = service(tmp_path, [(80, "budget")] * 4 + [(40, "worn"), (35, "broken"), (52, "size"), (44, "worn")])
        _, out, _ = wearlab("decide", DEMO, *FAST, "--follow", path, "--interval", 80)
        assert "Alarm:" in out
        assert "in doubt" in out
        _, out, _ = wearlab("decide", DEMO, *FAST, "--follow", path, "--interval", 80, "--json")
        facts = json.loads(out)["follow"]
        assert facts["alarm"] is True
        assert facts["early"] == 4
        assert 0 < facts["false_alarm"] <= 0.05

    def test_a_tally_of_changes_is_enough(self, wearlab: Wearlab, tmp_path: Path) -> None:
        path = tmp_path / "tally.csv"
        path.write_text("Cutter,Parts,end_reason\nM1,80,planned\nM2,80,Changed\nM3,41,worn\nM4,30,\n", encoding="utf-8")
        code, out, _ = wearlab("decide", DEMO, *FAST, "--follow", path, "--interval", 80)
        text = " ".join(out.split())
        assert code == 0
        assert "tally.csv: 4 rows read, 4 used, 0 set aside." in text
        assert "1 of 3 changed cutters failed before their 80 parts" in text
        assert "Cutter M4, in the spindle with 30 parts done" in text

    def test_rows_that_cannot_be_read_are_named(self, wearlab: Wearlab, tmp_path: Path) -> None:
        path = tmp_path / "tally.csv"
        path.write_text("cutter,parts,end_reason\nM1,80,tired\n", encoding="utf-8")
        _, out, _ = wearlab("decide", DEMO, *FAST, "--follow", path, "--interval", 80)
        assert "No answer: tally.csv" in out
        assert "1 of 1 rows were set aside" in " ".join(out.split())
        assert "tired" in out

    def test_a_bad_reading_exits_2(self, wearlab: Wearlab, tmp_path: Path) -> None:
        path = service(tmp_path, [(80, "budget")])
        code, _, err = wearlab("decide", DEMO, *FAST, "--follow", path, "--reading", "hang_up@x")
        assert code == 2
        assert "--reading" in err
